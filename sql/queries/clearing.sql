-- SPDX-License-Identifier: MIT
-- What of an order lies on lists and in parcels, and how it comes off them again.

-- Of an order (?1), of one line (?2) and one variety (?3) of it or null.
-- name: lying
SELECT w.id AS wave, w.week, COALESCE(k.slot, c.in_slot, c.slot) AS slot, c.id AS parcel, c.state, s.stop, p.code AS place, s.taken_by, l.code AS lot,
       v.code AS variety, v.name,
       CASE WHEN c.state = 'shipped' THEN 'left' WHEN k.state = 'open' THEN 'open' ELSE 'taken' END AS what,
       CASE WHEN k.state = 'open' THEN k.quantity ELSE k.taken END AS quantity, k.id AS pick, k.lot_id, s.place_id, k.variety_id,
       k.short_reason IS NOT NULL AS found_short
FROM parcel c
JOIN wave w ON w.id = c.wave_id
JOIN pick k ON k.parcel_id = c.id
JOIN stop s ON s.id = k.stop_id
JOIN place p ON p.id = s.place_id
JOIN lot l ON l.id = k.lot_id
JOIN variety v ON v.id = k.variety_id
WHERE c.order_id = ?1 AND (?2 IS NULL OR k.line_id = ?2) AND (?3 IS NULL OR k.variety_id = ?3)
  AND (k.state = 'open' OR k.taken > 0)
ORDER BY w.id, s.stop, c.slot, v.code, k.id;

-- What was picked, apart from what was thrown away with it.
-- name: picked
SELECT m.id, m.day FROM movement m
WHERE m.cause = 'pick' AND m.cause_id = ?1 AND m.reason = 'picked' AND m.reverses IS NULL
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses = m.id);

-- A pick that found something rotten or missing stays, with nothing taken; any other goes.
-- name: empty_pick
UPDATE pick SET taken = 0 WHERE id = ?1;

-- name: drop_pick
DELETE FROM pick WHERE id = ?1;

-- name: put_back
INSERT INTO put_back (wave_id, slot, order_id, variety_id, lot_id, place_id, quantity, because, at, actor)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10);

-- name: to_put_back
SELECT b.id, b.slot, o.number, v.code AS variety, v.name, l.code AS lot, p.code AS place, b.quantity, b.because
FROM put_back b JOIN orders o ON o.id = b.order_id JOIN variety v ON v.id = b.variety_id JOIN lot l ON l.id = b.lot_id
JOIN place p ON p.id = b.place_id
WHERE b.wave_id = ?1 AND b.done_at IS NULL ORDER BY b.slot, p.walk_order, b.id;

-- name: put_back_read
SELECT b.done_by, o.number, b.slot, b.quantity, v.code AS variety
FROM put_back b JOIN orders o ON o.id = b.order_id JOIN variety v ON v.id = b.variety_id WHERE b.id = ?1;

-- name: put_back_done
UPDATE put_back SET done_at = ?2, done_by = ?3 WHERE id = ?1 AND done_at IS NULL;

-- name: found_short
SELECT 1 FROM pick WHERE line_id = ?1 AND variety_id = ?2 AND short_reason IS NOT NULL LIMIT 1;

-- Open orders with what they ask and are not sure of; of which something was shared out, so that it is known.
-- name: rests
WITH sure AS MATERIALIZED (
    SELECT a.line_id, SUM(CASE WHEN EXISTS (SELECT 1 FROM pick s WHERE s.line_id = a.line_id AND s.variety_id = a.variety_id
                                            AND s.short_reason IS NOT NULL)
                               THEN MIN(a.quantity, COALESCE((SELECT SUM(CASE WHEN x.state = 'open' THEN x.quantity ELSE x.taken END)
                                   FROM pick x WHERE x.line_id = a.line_id AND x.variety_id = a.variety_id), 0))
                               ELSE a.quantity END) AS quantity
    FROM allocation a GROUP BY a.line_id)
SELECT o.number, o.customer, o.ship_week, COUNT(*), SUM(l.quantity - COALESCE(s.quantity, 0)),
       SUM((l.quantity - COALESCE(s.quantity, 0)) * CASE WHEN o.paid = 0 THEN 0 ELSE l.unit_price END),
       COALESCE((SELECT SUM(k.taken) FROM parcel p JOIN pick k ON k.parcel_id = p.id
                 WHERE p.order_id = o.id AND p.state = 'shipped'), 0) AS gone,
       group_concat((l.quantity - COALESCE(s.quantity, 0)) || ' of ' || COALESCE(v.code, l.assortment), ', ')
FROM orders o CROSS JOIN line l ON l.order_id = o.id LEFT JOIN sure s ON s.line_id = l.id LEFT JOIN variety v ON v.id = l.variety_id
WHERE o.state = 'open' AND o.replaces IS NULL AND l.quantity > COALESCE(s.quantity, 0)
GROUP BY o.id HAVING COUNT(s.line_id) > 0 ORDER BY gone > 0 DESC, COALESCE(o.ship_week, 999999), o.number;
