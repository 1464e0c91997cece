-- SPDX-License-Identifier: MIT
-- A hold may be of a place: a country, a region of it, a range of postcodes. Its zone is then '', which no order's is.
ALTER TABLE frost_hold ADD COLUMN country TEXT NOT NULL DEFAULT '';
ALTER TABLE frost_hold ADD COLUMN region TEXT NOT NULL DEFAULT '';
ALTER TABLE frost_hold ADD COLUMN postcode_from TEXT NOT NULL DEFAULT '';
ALTER TABLE frost_hold ADD COLUMN postcode_to TEXT NOT NULL DEFAULT '' CHECK (length(postcode_to) = length(postcode_from) AND postcode_to >= postcode_from);

-- Which orders lie where a hold of a place is. Postcodes are compared as in zone_range.
CREATE VIEW held_place AS
SELECT h.id AS hold_id, o.id AS order_id
FROM frost_hold h JOIN orders o ON (h.country = '' OR o.country = h.country)
 AND (h.region = '' OR TRIM(COALESCE(o.region, '')) = h.region COLLATE NOCASE)
 AND (h.postcode_from = '' OR (length(replace(replace(COALESCE(o.postcode, ''), ' ', ''), '-', '')) >= length(h.postcode_from)
      AND substr(upper(replace(replace(o.postcode, ' ', ''), '-', '')), 1, length(h.postcode_from)) BETWEEN h.postcode_from AND h.postcode_to))
WHERE h.country <> '' OR h.postcode_from <> '';

-- As in 0019, and by the order's place. Frost is not the only reason to hold a place.
DROP VIEW frost_bound;
CREATE VIEW frost_bound AS
SELECT o.id AS order_id, h.id AS hold_id, h.first_week, h.last_week,
       IIF(h.country <> '' OR h.postcode_from <> '', 'hold', 'frost hold') || COALESCE(': ' || NULLIF(h.why, ''), '') AS reason
FROM frost_hold h JOIN orders o ON h.order_id = o.id
     OR h.zone = (SELECT z.zone FROM order_zone z WHERE z.order_id = o.id) COLLATE NOCASE
     OR (h.zone = '' AND EXISTS (SELECT 1 FROM held_place p WHERE p.hold_id = h.id AND p.order_id = o.id))
WHERE NOT EXISTS (SELECT 1 FROM frost_overruled x WHERE x.hold_id = h.id AND x.order_id = o.id);
