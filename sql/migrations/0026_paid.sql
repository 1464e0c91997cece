-- SPDX-License-Identifier: MIT
-- Whether the buyer has paid: yes, no, or (null) nobody said. Nothing is owed back of what was not paid.
ALTER TABLE orders ADD COLUMN paid INTEGER CHECK (paid IN (0, 1));

-- Orders that are kept back until they are paid, by the setting hold_unpaid.
CREATE VIEW unpaid_order AS
SELECT o.id AS order_id FROM orders o
WHERE o.paid = 0 AND CASE (SELECT s.value FROM setting s WHERE s.name = 'hold_unpaid')
                     WHEN 'all' THEN 1 WHEN 'retail' THEN o.tier <> 'wholesale' ELSE 0 END;

-- What a whole parcel's claim replaces leaves in one order, a line for each claim.
ALTER TABLE claim ADD COLUMN replacement_line INTEGER NOT NULL DEFAULT 1;
