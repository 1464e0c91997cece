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

-- name: picked
SELECT line_id, variety_id, SUM(taken) AS pulled FROM pick WHERE taken > 0
GROUP BY line_id, variety_id ORDER BY line_id, variety_id;

-- name: wishes
SELECT consent, named, assortment FROM line WHERE id = ?1;
