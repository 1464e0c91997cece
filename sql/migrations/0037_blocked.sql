-- SPDX-License-Identifier: MIT
-- Which orders go where nothing may be sent: as before (0013), but only orders that can be blocked are looked up among the
-- destinations. Where one region of a country is barred, they were all orders of the country.
DROP VIEW blocked_order;
CREATE VIEW blocked_order AS
SELECT p.order_id, p.country, p.region, p.note
FROM orders o JOIN order_destination p ON p.order_id = o.id
WHERE o.country IS NOT NULL
  AND (o.country IN (SELECT country FROM destination WHERE rule = 'block' AND region = '')
       OR TRIM(o.region) COLLATE NOCASE IN (SELECT region FROM destination WHERE rule = 'block' AND region <> '')
       OR o.country NOT GLOB '[A-Z][A-Z]')
  AND p.rule = 'block' AND NOT p.overruled;
