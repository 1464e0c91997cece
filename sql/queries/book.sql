-- SPDX-License-Identifier: MIT
-- The order book read whole: bare scans in the order of row ids; what belongs together is joined in memory. Lines and
-- promises, of which there may be a million, are handed over inside the scan of the table, which is in the order of its key.

-- name: varieties
SELECT v.id, v.code, v.name, v.form, v.size, v.colour, v.price, MAX(v.hold_back - COALESCE(p.divisions, 0), 0) AS hold_back,
       v.reserve, v.limit_per_order
FROM variety v LEFT JOIN planted p ON p.variety_id = v.id ORDER BY v.code;

-- name: variety_ids
SELECT id FROM variety ORDER BY id;

-- name: on_hand
SELECT l.variety_id, SUM(b.divisions) AS divisions FROM balance b JOIN lot l ON l.id = b.lot_id
WHERE l.held IS NULL GROUP BY l.variety_id;

-- name: orders
SELECT o.id, o.number, o.received_at, o.tier, o.ship_complete, o.id IN (SELECT b.order_id FROM blocked_order b) AS blocked
FROM orders o NOT INDEXED WHERE o.state = 'open' ORDER BY o.id;

-- name: lines
SELECT hand_over(id, order_id, variety_id, line, quantity, unit_price, all_or_none) FROM line NOT INDEXED
WHERE quantity > 0;

-- name: firm
SELECT hand_over(line_id, variety_id, quantity) FROM allocation NOT INDEXED WHERE quantity > 0;

-- What there is of one variety (?1): its lines, and those that are promised some of it instead of another. Lines by their ids, which
-- the list gives in order; so one look at a table of a million rows is as many steps as the variety has lines.
-- name: orders_of
SELECT o.id, o.number, COALESCE(o.customer, '') AS customer, o.received_at, o.tier, o.ship_complete,
       EXISTS (SELECT 1 FROM blocked_order b WHERE b.order_id = o.id) AS blocked
FROM orders o WHERE o.state = 'open' AND o.id IN (
    SELECT order_id FROM line WHERE variety_id = ?1
    UNION ALL SELECT l.order_id FROM allocation a JOIN line l ON l.id = a.line_id WHERE a.variety_id = ?1 AND a.kind <> 'own')
ORDER BY o.id;

-- name: lines_of
SELECT id, order_id, COALESCE(variety_id, 0) AS variety_id, line, quantity, unit_price, all_or_none FROM line
WHERE quantity > 0 AND id IN (SELECT id FROM line WHERE variety_id = ?1
    UNION ALL SELECT line_id FROM allocation WHERE variety_id = ?1 AND kind <> 'own')
ORDER BY id;

-- name: firm_of
SELECT line_id, variety_id, quantity FROM allocation
WHERE quantity > 0 AND line_id IN (SELECT id FROM line WHERE variety_id = ?1
    UNION ALL SELECT line_id FROM allocation WHERE variety_id = ?1 AND kind <> 'own')
ORDER BY line_id, variety_id;

-- name: picked_of
SELECT line_id, variety_id, SUM(taken) AS pulled FROM pick
WHERE taken > 0 AND line_id IN (SELECT id FROM line WHERE variety_id = ?1
    UNION ALL SELECT line_id FROM allocation WHERE variety_id = ?1 AND kind <> 'own')
GROUP BY line_id, variety_id ORDER BY line_id, variety_id;

-- name: picked
SELECT line_id, variety_id, SUM(taken) AS pulled FROM pick WHERE taken > 0
GROUP BY line_id, variety_id ORDER BY line_id, variety_id;

-- name: wishes
SELECT consent, named, assortment FROM line WHERE id = ?1;
