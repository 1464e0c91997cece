-- SPDX-License-Identifier: MIT
-- Removing a buyer's data from the orders; what was grown, sold and shipped stays.

-- Orders, and who was taken along from seasons before (known: without an order). person tells persons apart: the e-mail address, else
-- that of an order, or of a known buyer, of the same name and postcode, else the postcode.
-- name: find
WITH each AS (
    SELECT 0 AS known, o.id, o.number, o.state, o.customer, o.email, o.postcode, o.replaces FROM orders o
    UNION ALL SELECT 1, b.id, NULL, NULL, b.customer, b.email, b.postcode, NULL FROM known_buyer b
)
SELECT o.id, o.number, o.state, o.customer, o.email, o.postcode,
       (SELECT COUNT(*) FROM order_event e WHERE o.known = 0 AND e.order_id = o.id AND e.note IS NOT NULL) AS notes,
       (SELECT COUNT(*) FROM notice x WHERE o.known = 0 AND x.order_id = o.id) AS notices,
       (SELECT COUNT(*) FROM claim c WHERE o.known = 0 AND c.order_id = o.id) AS claims,
       COALESCE(lower(o.email),
                (SELECT lower(s.email) FROM each s
                 WHERE s.email IS NOT NULL AND lower(s.customer) = lower(o.customer)
                   AND replace(lower(s.postcode), ' ', '') = replace(lower(o.postcode), ' ', '')
                 ORDER BY s.known, s.id LIMIT 1),
                replace(lower(o.postcode), ' ', '')) AS person, o.known
FROM each o
WHERE CASE WHEN ?2 IS NULL THEN lower(o.email) = lower(?1) OR lower(o.customer) = lower(?1) OR o.number = ?1
                OR o.replaces = (SELECT r.id FROM orders r WHERE r.number = ?1)
           ELSE lower(o.customer) = lower(?1) AND replace(lower(o.postcode), ' ', '') = replace(lower(?2), ' ', '') END
ORDER BY o.known, o.number, o.id;

-- The orders of all whose last order, shipping and claim are before an instant (?1) and day (?2) and who have nothing open, and the
-- known buyers who ordered last before it. Persons are told apart as above; without an e-mail address by name and postcode.
-- name: out_of_date like find
WITH each AS MATERIALIZED (
    SELECT 0 AS known, o.id, o.number, o.state, o.customer, o.email, o.postcode FROM orders o
    WHERE COALESCE(o.customer, o.email, o.postcode, o.name2, o.phone, o.street, o.town) IS NOT NULL
    UNION ALL SELECT 1, b.id, NULL, NULL, b.customer, b.email, b.postcode FROM known_buyer b
), mail AS MATERIALIZED (
    SELECT lower(customer) AS customer, replace(lower(postcode), ' ', '') AS postcode, MIN(lower(email)) AS email
    FROM each WHERE email IS NOT NULL AND customer IS NOT NULL AND postcode IS NOT NULL GROUP BY 1, 2
), whose AS MATERIALIZED (
    SELECT o.known, o.id, COALESCE(lower(o.email), m.email,
                          COALESCE(lower(o.customer), '') || char(10) || COALESCE(replace(lower(o.postcode), ' ', ''), '')) AS person
    FROM each o LEFT JOIN mail m ON m.customer = lower(o.customer) AND m.postcode = replace(lower(o.postcode), ' ', '')
), staying AS MATERIALIZED (
    SELECT w.person FROM whose w JOIN orders o ON o.id = w.id
    WHERE w.known = 0 AND (o.state = 'open' OR o.received_at >= ?1
       OR o.id IN (SELECT order_id FROM parcel WHERE shipped_on >= ?2)
       OR o.id IN (SELECT order_id FROM claim WHERE answer = 'open' OR at >= ?1)
       OR o.id IN (SELECT order_id FROM notice WHERE state = 'due'))
    UNION ALL SELECT w.person FROM whose w JOIN known_buyer b ON b.id = w.id WHERE w.known = 1 AND b.last_on >= ?2
)
SELECT o.id, o.number, o.state, o.customer, o.email, o.postcode,
       (SELECT COUNT(*) FROM order_event e WHERE o.known = 0 AND e.order_id = o.id AND e.note IS NOT NULL) AS notes,
       (SELECT COUNT(*) FROM notice x WHERE o.known = 0 AND x.order_id = o.id) AS notices,
       (SELECT COUNT(*) FROM claim c WHERE o.known = 0 AND c.order_id = o.id) AS claims,
       w.person, o.known
FROM whose w JOIN each o ON o.known = w.known AND o.id = w.id WHERE w.person NOT IN (SELECT person FROM staying)
ORDER BY o.known, o.number, o.id;

-- The zone that the postcode told stays: what is promised and held by it is not changed by forgetting who it is for.
-- name: blank
UPDATE orders SET zone = (SELECT z.zone FROM order_zone z WHERE z.order_id = orders.id), customer = NULL, name2 = NULL,
    email = NULL, phone = NULL, street = NULL, town = NULL, postcode = NULL, version = version + 1 WHERE id = ?1;

-- name: known
DELETE FROM known_buyer WHERE id = ?1;

-- name: events
UPDATE order_event SET note = NULL,
    before = CASE WHEN kind IN ('corrected', 'shipped', 'parcel put right', 'parcel not left') THEN NULL ELSE before END,
    after = CASE WHEN kind IN ('corrected', 'shipped', 'parcel put right', 'parcel not left') THEN NULL ELSE after END
WHERE order_id = ?1;

-- A parcel's number leads to a person at the carrier's. While a claim of the order is open, the carrier may have to be asked.
-- name: claimed
SELECT 1 AS one FROM claim WHERE order_id = ?1 AND answer = 'open' LIMIT 1;

-- name: numbers
UPDATE parcel SET tracking = NULL WHERE order_id = ?1 AND tracking IS NOT NULL;

-- name: numbers_of_boxes
UPDATE box SET tracking = NULL WHERE parcel_id IN (SELECT p.id FROM parcel p WHERE p.order_id = ?1) AND tracking IS NOT NULL;

-- A file that brought them cannot be taken back for this parcel any more: it does not say how the parcel left.
-- name: numbers_brought
UPDATE brought_parcel SET tracking = NULL, more = NULL, said = '' WHERE parcel_id IN (SELECT p.id FROM parcel p WHERE p.order_id = ?1);

-- What a shop was told, or is yet to be.
-- name: numbers_of_hooks
UPDATE outbox SET body = json_set(body, '$.data.orders', json((
    SELECT json_group_array(json(CASE WHEN j.value ->> '$.order' = (SELECT o.number FROM orders o WHERE o.id = ?1)
                                       AND json_type(j.value, '$.parcels') = 'array'
        THEN json_set(j.value, '$.parcels', json((SELECT json_group_array(json(json_set(p.value, '$.tracking', NULL)))
                                                  FROM json_each(j.value, '$.parcels') p)))
        ELSE j.value END))
    FROM json_each(outbox.body, '$.data.orders') j)))
WHERE kind = 'hook' AND EXISTS (SELECT 1 FROM json_each(outbox.body, '$.data.orders') j
                                WHERE j.value ->> '$.order' = (SELECT o.number FROM orders o WHERE o.id = ?1));

-- That the number is gone is no news for a shop. Before it goes: what is to be told anyway is marked; after: the rest is as told.
-- name: untold
UPDATE shop_told SET said = '' WHERE kind = 'order' AND name = (SELECT o.number FROM orders o WHERE o.id = ?1)
    AND said <> (SELECT s.said FROM shop_order s WHERE s.id = ?1);

-- name: told
UPDATE shop_told SET said = (SELECT s.said FROM shop_order s WHERE s.id = ?1)
WHERE kind = 'order' AND name = (SELECT o.number FROM orders o WHERE o.id = ?1) AND said <> '';

-- name: corrected
DELETE FROM corrected WHERE order_id = ?1;

-- name: notices
UPDATE notice SET detail = CASE WHEN json_valid(detail)
    THEN json_remove(detail, '$.customer', '$.email', '$.postcode', '$.street', '$.town', '$.phone', '$.name', '$.to', '$.reason') ELSE '{}' END,
    evidence = CASE WHEN evidence IS NULL THEN NULL ELSE 'removed' END
WHERE order_id = ?1;

-- What a mail server said may name the address.
-- name: letters
UPDATE outbox SET words = CASE WHEN words IS NULL THEN NULL ELSE 'removed' END
WHERE notice_id IN (SELECT n.id FROM notice n WHERE n.order_id = ?1);

-- name: claims
UPDATE claim SET why = 'removed', reply = CASE WHEN reply IS NULL THEN NULL ELSE 'removed' END WHERE order_id = ?1;

-- name: taken_back
UPDATE taken_back SET why = 'removed' WHERE line_id IN (SELECT l.id FROM line l WHERE l.order_id = ?1);

-- name: holds
UPDATE frost_hold SET why = NULL WHERE order_id = ?1;

-- name: overruled_place
UPDATE destination_overruled SET why = 'removed' WHERE order_id = ?1;

-- name: overruled_frost
UPDATE frost_overruled SET why = 'removed' WHERE order_id = ?1;

-- name: forbidden
UPDATE forbidden SET why = 'removed' WHERE line_id IN (SELECT l.id FROM line l WHERE l.order_id = ?1);

-- name: forbidden_merged
UPDATE merged_row SET row = json_set(row, '$[4]', 'removed')
WHERE part = 'forbidden' AND json_extract(row, '$[1]') IN (SELECT l.id FROM line l WHERE l.order_id = ?1);

-- Answers kept for repeated requests may show the order's sheet.
-- name: answers
DELETE FROM answered WHERE instr(body, (SELECT json_quote(o.number) FROM orders o WHERE o.id = ?1)) > 0;
