-- SPDX-License-Identifier: MIT
-- Where a parcel goes, as a carrier asks for it. Forgetting a person blanks these, too.
ALTER TABLE orders ADD COLUMN name2 TEXT;
ALTER TABLE orders ADD COLUMN phone TEXT;
ALTER TABLE orders ADD COLUMN street TEXT;
ALTER TABLE orders ADD COLUMN town TEXT;

-- The nursery's own table: which postcodes of a country lie in which zone. A postcode lies in a range when its first letters
-- and digits, as many as the range has, lie from postcode_from to postcode_to; both empty: the whole country.
CREATE TABLE zone_range (
    country TEXT NOT NULL,
    postcode_from TEXT NOT NULL DEFAULT '',
    postcode_to TEXT NOT NULL DEFAULT '' CHECK (length(postcode_to) = length(postcode_from) AND postcode_to >= postcode_from),
    zone TEXT NOT NULL,
    PRIMARY KEY (country, postcode_from)
) STRICT, WITHOUT ROWID;

-- An order's zone: its own, else by its postcode, the narrowest range first. A range that is added later holds for what is on
-- record, too.
CREATE VIEW order_zone AS
SELECT o.id AS order_id, COALESCE(NULLIF(o.zone, ''),
    (SELECT r.zone FROM zone_range r WHERE r.country = o.country AND length(o.code) >= length(r.postcode_from)
       AND substr(o.code, 1, length(r.postcode_from)) BETWEEN r.postcode_from AND r.postcode_to
     ORDER BY length(r.postcode_from) DESC, r.postcode_from DESC LIMIT 1)) AS zone
FROM (SELECT id, zone, country, upper(replace(replace(COALESCE(postcode, ''), ' ', ''), '-', '')) AS code FROM orders) o;

-- As in 0013, by the order's zone however it is known.
DROP VIEW frost_bound;
CREATE VIEW frost_bound AS
SELECT o.id AS order_id, h.id AS hold_id, h.first_week, h.last_week,
       'frost hold' || COALESCE(': ' || NULLIF(h.why, ''), '') AS reason
FROM frost_hold h JOIN orders o ON h.order_id = o.id
     OR h.zone = (SELECT z.zone FROM order_zone z WHERE z.order_id = o.id) COLLATE NOCASE
WHERE NOT EXISTS (SELECT 1 FROM frost_overruled x WHERE x.hold_id = h.id AND x.order_id = o.id);
