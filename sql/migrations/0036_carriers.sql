-- SPDX-License-Identifier: MIT
-- By whom parcels go to a destination; where none is said, by the carrier of the setting.
ALTER TABLE destination ADD COLUMN carrier TEXT;

CREATE VIEW order_carrier AS
SELECT o.id AS order_id, COALESCE(
    (SELECT d.carrier FROM destination d WHERE d.country = o.country AND d.carrier IS NOT NULL
       AND (d.region = '' OR d.region = TRIM(o.region) COLLATE NOCASE) ORDER BY d.region = '' LIMIT 1),
    (SELECT NULLIF(s.value, '') FROM setting s WHERE s.name = 'carrier')) AS carrier
FROM orders o;

-- Files of holds and of what carriers gave back: what each brought, so that it can be taken back whole.
CREATE TABLE brought (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    undone_at INTEGER,
    undone_by TEXT,
    why TEXT,
    CHECK ((undone_at IS NULL) = (undone_by IS NULL))
) STRICT;

-- A parcel that such a file says has left. sent: the file sent it; otherwise it had left, and so before the file came. said: how it left by
-- the file, in words.
CREATE TABLE brought_parcel (
    brought_id INTEGER NOT NULL REFERENCES brought (id),
    parcel_id INTEGER NOT NULL REFERENCES parcel (id),
    sent INTEGER NOT NULL CHECK (sent IN (0, 1)),
    carrier TEXT,
    tracking TEXT,
    more TEXT,
    shipped_on INTEGER,
    said TEXT NOT NULL,
    PRIMARY KEY (brought_id, parcel_id)
) STRICT, WITHOUT ROWID;

-- A hold may be of a carrier, too, everywhere or in a place; and it may come with a file. Its zone is then ''.
ALTER TABLE frost_hold ADD COLUMN carrier TEXT NOT NULL DEFAULT '';
ALTER TABLE frost_hold ADD COLUMN brought_id INTEGER REFERENCES brought (id);

-- Which orders lie where a hold of a place or carrier is, by whomever they go. As in 0032.
DROP VIEW frost_bound;
DROP VIEW held_place;
CREATE VIEW held_ground AS
SELECT h.id AS hold_id, o.id AS order_id
FROM frost_hold h JOIN orders o ON (h.country = '' OR o.country = h.country)
 AND (h.region = '' OR TRIM(COALESCE(o.region, '')) = h.region COLLATE NOCASE)
 AND (h.postcode_from = '' OR (length(replace(replace(COALESCE(o.postcode, ''), ' ', ''), '-', '')) >= length(h.postcode_from)
      AND substr(upper(replace(replace(o.postcode, ' ', ''), '-', '')), 1, length(h.postcode_from)) BETWEEN h.postcode_from AND h.postcode_to))
WHERE h.country <> '' OR h.postcode_from <> '' OR h.carrier <> '';

-- And which it binds: a carrier's only what goes with that carrier.
CREATE VIEW held_place AS
SELECT g.hold_id, g.order_id FROM held_ground g JOIN frost_hold h ON h.id = g.hold_id
WHERE h.carrier = '' OR h.carrier = (SELECT c.carrier FROM order_carrier c WHERE c.order_id = g.order_id) COLLATE NOCASE;

CREATE VIEW frost_bound AS
SELECT o.id AS order_id, h.id AS hold_id, h.first_week, h.last_week,
       IIF(h.country <> '' OR h.postcode_from <> '' OR h.carrier <> '', 'hold', 'frost hold') || COALESCE(': ' || NULLIF(h.why, ''), '') AS reason
FROM frost_hold h JOIN orders o ON h.order_id = o.id
     OR h.zone = (SELECT z.zone FROM order_zone z WHERE z.order_id = o.id) COLLATE NOCASE
     OR (h.zone = '' AND EXISTS (SELECT 1 FROM held_place p WHERE p.hold_id = h.id AND p.order_id = o.id))
WHERE NOT EXISTS (SELECT 1 FROM frost_overruled x WHERE x.hold_id = h.id AND x.order_id = o.id);
