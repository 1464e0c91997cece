-- SPDX-License-Identifier: MIT
-- Countries by their alpha-2 code of ISO 3166-1, however they were written; what is no country stays as it was written. Of two
-- rules for the same place the stricter stays.
UPDATE orders SET country = COALESCE(country_code(country), NULLIF(TRIM(country), '')) WHERE country IS NOT NULL;

CREATE TABLE destination_was AS
SELECT COALESCE(country_code(country), country) AS country, TRIM(region) AS region, rule, note,
       CASE rule WHEN 'block' THEN 0 WHEN 'warn' THEN 1 ELSE 2 END AS strict FROM destination;
DELETE FROM destination;
INSERT INTO destination (country, region, rule, note)
SELECT country, region, rule, note FROM (
    SELECT *, ROW_NUMBER() OVER (PARTITION BY country, region ORDER BY strict, note) AS n FROM destination_was) WHERE n = 1;
DROP TABLE destination_was;

-- The owner's leave to send one order where nothing may be sent, for the place that it was given for.
CREATE TABLE destination_overruled (
    order_id INTEGER PRIMARY KEY REFERENCES orders (id),
    country TEXT NOT NULL,
    region TEXT NOT NULL,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL CHECK (length(why) > 0)
) STRICT;

-- What the table says of an order's place, the region's rule before the country's. A country that is none cannot be held
-- against the table, so it is blocked as long as the table blocks any.
CREATE VIEW order_destination AS
SELECT o.id AS order_id, o.country, COALESCE(o.region, '') AS region,
       COALESCE(d.rule, CASE WHEN o.country NOT GLOB '[A-Z][A-Z]' AND EXISTS (SELECT 1 FROM destination WHERE rule = 'block')
                             THEN 'block' ELSE 'allow' END) AS rule,
       COALESCE(d.note, CASE WHEN d.rule IS NULL AND o.country NOT GLOB '[A-Z][A-Z]' THEN 'no country of ISO 3166-1' END) AS note,
       EXISTS (SELECT 1 FROM destination_overruled x WHERE x.order_id = o.id AND x.country = o.country
               AND x.region = COALESCE(o.region, '')) AS overruled
FROM orders o
LEFT JOIN destination d ON d.country = o.country AND d.region = COALESCE(
    (SELECT r.region FROM destination r WHERE r.country = o.country AND r.region <> ''
       AND r.region = TRIM(o.region) COLLATE NOCASE ORDER BY r.rule <> 'block', r.rule <> 'warn' LIMIT 1), '');

-- Orders that get neither a share nor a week. The first condition is quick, and lets nearly all orders by.
CREATE VIEW blocked_order AS
SELECT p.order_id, p.country, p.region, p.note
FROM orders o JOIN order_destination p ON p.order_id = o.id
WHERE o.country IS NOT NULL
  AND (o.country IN (SELECT country FROM destination WHERE rule = 'block') OR o.country NOT GLOB '[A-Z][A-Z]')
  AND p.rule = 'block' AND NOT p.overruled;

-- Leave to send one order in spite of one frost hold. A hold that is set later binds the order again.
CREATE TABLE frost_overruled (
    hold_id INTEGER NOT NULL REFERENCES frost_hold (id) ON DELETE CASCADE,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL CHECK (length(why) > 0),
    PRIMARY KEY (hold_id, order_id)
) STRICT, WITHOUT ROWID;

-- The office moved an order into a held week and was told so: that was such a leave, which had no place of its own.
INSERT INTO frost_overruled (hold_id, order_id, at, actor, why)
SELECT h.id, o.id, MAX(e.at), e.actor, COALESCE(NULLIF(e.note, ''), 'moved into a held week')
FROM orders o JOIN order_event e ON e.order_id = o.id AND e.kind = 'moved'
JOIN frost_hold h ON h.order_id = o.id OR h.zone = o.zone
WHERE o.pinned = 1 AND h.at <= e.at AND o.ship_week BETWEEN h.first_week AND h.last_week GROUP BY h.id, o.id;

-- Which holds bind which orders, in their weeks.
CREATE VIEW frost_bound AS
SELECT o.id AS order_id, h.id AS hold_id, h.first_week, h.last_week,
       'frost hold' || COALESCE(': ' || NULLIF(h.why, ''), '') AS reason
FROM frost_hold h JOIN orders o ON h.order_id = o.id OR h.zone = o.zone COLLATE NOCASE
WHERE NOT EXISTS (SELECT 1 FROM frost_overruled x WHERE x.hold_id = h.id AND x.order_id = o.id);
