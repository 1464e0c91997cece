-- SPDX-License-Identifier: MIT

-- name: orders
SELECT o.id, o.number, o.received_at, o.zone, o.wish_week, o.ship_week, o.pinned, o.state, o.customer, o.country, o.region,
       COALESCE((SELECT SUM(l.quantity) FROM line l WHERE l.order_id = o.id), 0),
       -- In a wave: something of it is on a list or in a parcel that has not left. What waits after that may move.
       EXISTS (SELECT 1 FROM parcel p JOIN pick k ON k.parcel_id = p.id WHERE p.order_id = o.id AND p.state <> 'shipped'
               AND (k.state = 'open' OR k.taken > 0)),
       o.version
FROM orders o WHERE o.state <> 'cancelled' ORDER BY o.id;

-- name: zones
SELECT code, first_week FROM zone ORDER BY code;

-- name: holds
SELECT h.id, h.zone, h.order_id, h.first_week, h.last_week, h.why, o.number, h.at, h.actor
FROM frost_hold h LEFT JOIN orders o ON o.id = h.order_id ORDER BY h.id;

-- name: set_week
UPDATE orders SET ship_week = ?2, ship_reason = ?3, pinned = ?4, version = version + 1 WHERE id = ?1;

-- name: hold_add
INSERT INTO frost_hold (zone, order_id, first_week, last_week, why, at, actor) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7);

-- name: hold_lift
DELETE FROM frost_hold WHERE id = ?1;

-- name: event
INSERT INTO order_event (order_id, line_id, at, actor, kind, before, after, note) VALUES (?1, NULL, ?2, ?3, 'moved', ?4, ?5, ?6);

-- name: destination
SELECT rule, note FROM destination WHERE country = ?1 AND region IN (COALESCE(?2, ''), '') ORDER BY region DESC LIMIT 1;
