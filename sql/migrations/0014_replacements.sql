-- SPDX-License-Identifier: MIT
-- A replacement leaves as any order does: as an order of its own, which says what it replaces, promised from the reserve. Older
-- claims have none: theirs went out by hand, through a movement of their own.
ALTER TABLE orders ADD COLUMN replaces INTEGER REFERENCES orders (id);
CREATE INDEX orders_replacing ON orders (replaces) WHERE replaces IS NOT NULL;
ALTER TABLE claim ADD COLUMN replacement_id INTEGER REFERENCES orders (id);
ALTER TABLE claim ADD COLUMN reserve_used INTEGER NOT NULL DEFAULT 0;
CREATE INDEX claim_by_replacement ON claim (replacement_id) WHERE replacement_id IS NOT NULL;
