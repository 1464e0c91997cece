-- SPDX-License-Identifier: MIT

-- name: lot
SELECT l.id, l.code, v.code, v.name, l.row, l.dug_on, l.clumps, l.culled, p.code, l.held
FROM lot l JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = l.place_id WHERE l.code = ?1;

-- name: lot_of_record
SELECT l.id, l.code FROM lot l WHERE l.id = CASE ?1
    WHEN 'dividing' THEN (SELECT lot_id FROM dividing WHERE id = ?2)
    WHEN 'check' THEN (SELECT lot_id FROM storage_check WHERE id = ?2)
    WHEN 'stock_take' THEN (SELECT lot_id FROM stock_take WHERE id = ?2)
    ELSE (SELECT lot_id FROM movement WHERE cause = ?1 AND cause_id = ?2 LIMIT 1) END;

-- name: lots
SELECT l.code, v.code, v.name, l.row, l.dug_on, l.clumps, l.culled, COALESCE(b.clumps, 0), COALESCE(b.divisions, 0),
       COALESCE(b.places, ''), (SELECT MAX(c.day) FROM storage_check c WHERE c.lot_id = l.id AND c.reversed = 0), l.held
FROM lot l JOIN variety v ON v.id = l.variety_id
LEFT JOIN (SELECT b.lot_id, SUM(b.clumps) AS clumps, SUM(b.divisions) AS divisions, GROUP_CONCAT(p.code, ' ') AS places
           FROM balance b JOIN place p ON p.id = b.place_id
           WHERE b.clumps > 0 OR b.divisions > 0 GROUP BY b.lot_id) b ON b.lot_id = l.id
WHERE ?1 IS NULL OR v.id = (SELECT variety_id FROM variety_code WHERE code = ?1)
ORDER BY l.code;

-- name: balances
SELECT p.code, p.room, b.clumps, b.divisions FROM balance b JOIN place p ON p.id = b.place_id
WHERE b.lot_id = ?1 AND (b.clumps > 0 OR b.divisions > 0) ORDER BY p.walk_order, p.id;

-- name: movements_of_lot
SELECT m.id, m.at, m.day, m.actor, l.code, v.code, p.code, m.clumps, m.divisions, m.reason, m.cause, m.cause_id, m.reverses,
       m.note
FROM movement m JOIN lot l ON l.id = m.lot_id JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = m.place_id
WHERE m.lot_id = ?1 ORDER BY m.id;

-- name: movements
SELECT m.id, m.at, m.day, m.actor, l.code, v.code, p.code, m.clumps, m.divisions, m.reason, m.cause, m.cause_id, m.reverses,
       m.note
FROM movement m JOIN lot l ON l.id = m.lot_id JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = m.place_id
WHERE m.day BETWEEN ?1 AND ?2 ORDER BY m.id;

-- name: sessions
SELECT d.id, d.day, d.clumps, d.rotten, d.saleable, d.blind, p.code, d.minutes, d.people, d.reversed
FROM dividing d JOIN place p ON p.id = d.place_id WHERE d.lot_id = ?1 ORDER BY d.day, d.id;

-- name: checks
SELECT id, day, stage, inspected, rotten, shrivelled, why, reversed FROM storage_check WHERE lot_id = ?1 ORDER BY day, id;

-- name: counts
SELECT c.id, c.day, c.stage, c.before, c.count, p.code, c.reversed
FROM stock_take c LEFT JOIN place p ON p.id = c.place_id WHERE c.lot_id = ?1 ORDER BY c.day, c.id;

-- name: places
SELECT p.code, p.room, p.walk_order, COALESCE(b.lots, 0), COALESCE(b.clumps, 0), COALESCE(b.divisions, 0)
FROM place p
LEFT JOIN (SELECT place_id, COUNT(*) AS lots, SUM(clumps) AS clumps, SUM(divisions) AS divisions
           FROM balance WHERE clumps > 0 OR divisions > 0 GROUP BY place_id) b ON b.place_id = p.id
WHERE p.id > 0 OR b.lots > 0
ORDER BY p.walk_order, p.id;

-- name: rooms
SELECT DISTINCT room FROM air ORDER BY room;

-- name: air
SELECT at, temp_c, rh FROM air WHERE room = ?1 ORDER BY at;

-- name: weighings
SELECT w.sample, l.code, w.day, w.kg FROM weighing w JOIN lot l ON l.id = w.lot_id
LEFT JOIN place p ON p.id = l.place_id WHERE p.room = ?1 OR p.id = 0 ORDER BY w.sample, w.day;
