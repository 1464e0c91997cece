-- SPDX-License-Identifier: MIT

-- Of a season's orders few have parcels, and few are blocked: those are found first, and not looked for at each order. What an order
-- asks and is promised is added up in C from the two lists below, each read through once.
-- name: orders
WITH pulled AS MATERIALIZED (
    SELECT p.order_id, SUM(CASE WHEN p.state = 'shipped' THEN k.taken ELSE 0 END) AS gone,
           -- In a wave: something of it is on a list or in a parcel that has not left. What waits after that may move.
           MAX(p.state <> 'shipped' AND (k.state = 'open' OR k.taken > 0)) AS in_wave
    FROM parcel p JOIN pick k ON k.parcel_id = p.id GROUP BY p.order_id
), blocked AS MATERIALIZED (
    SELECT b.order_id, 'nothing may be sent to ' || b.country || IIF(b.region <> '', ' ' || b.region, '') || COALESCE(' (' || b.note || ')', '') AS why
    FROM blocked_order b
)
SELECT o.id, o.number, o.received_at,
       CASE WHEN o.zone <> '' THEN o.zone ELSE (SELECT z.zone FROM order_zone z WHERE z.order_id = o.id) END AS zone, o.wish_week,
       o.ship_week, o.pinned, o.state, o.customer, o.country, o.region, COALESCE(p.gone, 0) AS gone, COALESCE(p.in_wave, 0) AS in_wave,
       o.version, b.why AS blocked
FROM orders o LEFT JOIN pulled p ON p.order_id = o.id LEFT JOIN blocked b ON b.order_id = o.id
WHERE o.state <> 'cancelled' ORDER BY o.id;

-- name: promised
SELECT hand_over(line_id, quantity) FROM allocation NOT INDEXED;

-- name: asked
SELECT hand_over(id, order_id, quantity) FROM line NOT INDEXED;

-- name: zones
SELECT code, first_week FROM zone ORDER BY code;

-- name: holds
SELECT h.id, h.zone, h.order_id, h.first_week, h.last_week, h.why, o.number, h.at, h.actor, h.country, h.region, h.postcode_from, h.postcode_to, h.carrier
FROM frost_hold h LEFT JOIN orders o ON o.id = h.order_id ORDER BY h.id;

-- The hold that binds an order (?1) in either of two weeks.
-- name: frost
SELECT hold_id, reason FROM frost_bound
WHERE order_id = ?1 AND (?2 BETWEEN first_week AND last_week OR ?3 BETWEEN first_week AND last_week) ORDER BY hold_id LIMIT 1;

-- Leave in spite of the holds that bind an order (?1): of those over a week (?2), or of all.
-- name: overrule_frost
INSERT INTO frost_overruled (hold_id, order_id, at, actor, why)
SELECT hold_id, order_id, ?3, ?4, ?5 FROM frost_bound
WHERE order_id = ?1 AND (?2 IS NULL OR ?2 BETWEEN first_week AND last_week);

-- name: heed_frost
DELETE FROM frost_overruled WHERE order_id = ?1;

-- name: overruled_frost
SELECT hold_id, order_id FROM frost_overruled ORDER BY hold_id, order_id;

-- Parcels that have not left and that a hold (?1; null: any) keeps, in this week (?2) or their wave's if that is later.
-- name: touched
SELECT f.hold_id, o.number, o.customer, w.id, w.week, COALESCE(c.in_slot, c.slot), c.id, c.state,
       (SELECT COALESCE(SUM(k.quantity), 0) FROM pick k WHERE k.parcel_id = c.id AND k.state = 'open'),
       (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.parcel_id = c.id),
       (SELECT COUNT(DISTINCT k.stop_id) FROM pick k WHERE k.parcel_id = c.id AND k.state = 'open'), f.reason
FROM parcel c JOIN wave w ON w.id = c.wave_id JOIN orders o ON o.id = c.order_id JOIN frost_bound f ON f.order_id = o.id
WHERE c.state <> 'shipped' AND w.state <> 'dropped' AND (?1 IS NULL OR f.hold_id = ?1)
  AND MAX(w.week, ?2) BETWEEN f.first_week AND f.last_week
ORDER BY f.hold_id, w.id, c.slot;

-- The same of each hold in figures: orders, parcels, stops with something open.
-- name: holds_touch
SELECT f.hold_id, COUNT(DISTINCT c.order_id) AS orders, COUNT(DISTINCT c.id) AS parcels, COUNT(DISTINCT k.stop_id) AS stops
FROM parcel c JOIN wave w ON w.id = c.wave_id JOIN frost_bound f ON f.order_id = c.order_id
LEFT JOIN pick k ON k.parcel_id = c.id AND k.state = 'open'
WHERE c.state <> 'shipped' AND w.state <> 'dropped' AND MAX(w.week, ?1) BETWEEN f.first_week AND f.last_week
GROUP BY f.hold_id ORDER BY f.hold_id;

-- name: set_week
UPDATE orders SET ship_week = ?2, ship_reason = ?3, pinned = ?4, version = version + 1 WHERE id = ?1;

-- name: hold_add
INSERT INTO frost_hold (zone, order_id, first_week, last_week, why, at, actor, brought_id) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- Of a place or carrier.
-- name: hold_place
INSERT INTO frost_hold (zone, country, region, postcode_from, postcode_to, carrier, first_week, last_week, why, at, actor, brought_id)
VALUES ('', ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11);

-- The row of an open order (?1), 0 where there is none; and whether the zone table has a zone (?2).
-- name: hold_names
SELECT COALESCE((SELECT id FROM orders WHERE number = ?1 AND state = 'open'), 0) AS order_id,
       EXISTS (SELECT 1 FROM zone WHERE code = ?2 COLLATE NOCASE) AS zone;

-- The hold that keeps a carrier (?2) from taking an order (?1) in a week (?3), whoever was to take it.
-- name: carrier_held
SELECT 'hold' || COALESCE(': ' || NULLIF(h.why, ''), '') AS reason FROM frost_hold h JOIN held_ground g ON g.hold_id = h.id
WHERE g.order_id = ?1 AND h.carrier <> '' AND h.carrier = TRIM(?2) COLLATE NOCASE AND ?3 BETWEEN h.first_week AND h.last_week
  AND NOT EXISTS (SELECT 1 FROM frost_overruled x WHERE x.hold_id = h.id AND x.order_id = ?1) ORDER BY h.id LIMIT 1;

-- Orders where a hold of a place is.
-- name: held_places
SELECT hold_id, order_id FROM held_place ORDER BY hold_id, order_id;

-- name: hold_lift
DELETE FROM frost_hold WHERE id = ?1;

-- name: event
INSERT INTO order_event (order_id, line_id, at, actor, kind, before, after, note) VALUES (?1, NULL, ?2, ?3, 'moved', ?4, ?5, ?6);

-- The column bears the NOCASE: on the other side SQLite forgets it where it makes one look-up of both equations.
-- name: destination
SELECT rule, note FROM destination WHERE country = ?1 AND (region = '' OR region COLLATE NOCASE = TRIM(?2))
ORDER BY region = '', rule <> 'block', rule <> 'warn' LIMIT 1;

-- Of an order (?1): overruled, a block is a warning.
-- name: order_destination
SELECT CASE WHEN d.rule = 'block' AND d.overruled THEN 'warn' ELSE d.rule END AS rule, CASE WHEN d.rule = 'block' AND d.overruled
       THEN 'nothing may be sent there' || COALESCE(' (' || d.note || ')', '') || ', but ' || x.actor || ' overruled that: ' || x.why
       ELSE d.note END AS note, d.country, d.region
FROM order_destination d LEFT JOIN destination_overruled x ON x.order_id = d.order_id WHERE d.order_id = ?1;

-- Open orders where nothing may be sent: how many, and the first.
-- name: blocked
SELECT COUNT(*) AS count, MIN(o.number) AS number, b.country FROM blocked_order b JOIN orders o ON o.id = b.order_id WHERE o.state = 'open';

-- name: overrule_destination
INSERT INTO destination_overruled (order_id, country, region, at, actor, why)
SELECT id, country, COALESCE(region, ''), ?2, ?3, ?4 FROM orders WHERE id = ?1
ON CONFLICT (order_id) DO UPDATE SET country = excluded.country, region = excluded.region, at = excluded.at,
    actor = excluded.actor, why = excluded.why;

-- name: heed_destination
DELETE FROM destination_overruled WHERE order_id = ?1;

-- What keeps an order (?1) back, as clauses.
-- name: gates
SELECT CASE WHEN d.rule = 'block' AND NOT d.overruled THEN 'nothing may be sent to ' || d.place END AS blocked,
       CASE WHEN d.rule = 'block' AND d.overruled THEN 'nothing may be sent to ' || d.place || '; overruled by ' || x.actor || ': ' || x.why END AS blocked_overruled,
       CASE WHEN d.rule = 'warn' THEN d.place END AS warning,
       (SELECT group_concat(f.reason || ' (' || (f.first_week / 100) || '-W' || substr('0' || (f.first_week % 100), -2) || ' – ' || (f.last_week / 100) || '-W' || substr('0' || (f.last_week % 100), -2) || ')', '; ') FROM frost_bound f WHERE f.order_id = d.order_id) AS frost,
       (SELECT group_concat('frost hold (' || (h.first_week / 100) || '-W' || substr('0' || (h.first_week % 100), -2) || ' – ' || (h.last_week / 100) || '-W' || substr('0' || (h.last_week % 100), -2) || ') overruled by ' || y.actor || ': ' || y.why, '; ')
        FROM frost_overruled y JOIN frost_hold h ON h.id = y.hold_id WHERE y.order_id = d.order_id) AS frost_overruled
FROM (SELECT order_id, rule, overruled, country || IIF(region <> '', ' ' || region, '') || COALESCE(' (' || note || ')', '') AS place
      FROM order_destination WHERE order_id = ?1) d
LEFT JOIN destination_overruled x ON x.order_id = d.order_id;
