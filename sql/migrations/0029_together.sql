-- SPDX-License-Identifier: MIT
-- Two orders of one buyer. Either one is put into the other: its lines stand there, and each keeps the number that it came
-- with, by which its file or shop still knows it.
ALTER TABLE orders ADD COLUMN merged_into INTEGER REFERENCES orders (id);
ALTER TABLE line ADD COLUMN from_order INTEGER REFERENCES orders (id);
ALTER TABLE line ADD COLUMN from_line INTEGER;
CREATE INDEX line_by_origin ON line (from_order, from_line) WHERE from_order IS NOT NULL;
CREATE INDEX orders_by_merged ON orders (merged_into) WHERE merged_into IS NOT NULL;

-- Or they travel together: whatever of them is in one wave lies in one slot and leaves in one box.
ALTER TABLE orders ADD COLUMN with_order INTEGER REFERENCES orders (id);
CREATE INDEX orders_by_with ON orders (with_order) WHERE with_order IS NOT NULL;
-- The slot in which a parcel lies when it is not its own. It is kept here, so that a parcel stays where it is
-- when the one that it joined is taken off the list.
ALTER TABLE parcel ADD COLUMN in_slot INTEGER;
CREATE INDEX parcel_by_lying ON parcel (wave_id, COALESCE(in_slot, slot));

-- By which a buyer's other orders are found.
CREATE INDEX orders_by_email ON orders (lower(trim(email)));
CREATE INDEX orders_by_customer ON orders (lower(trim(customer)));
