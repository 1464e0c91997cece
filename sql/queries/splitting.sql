-- SPDX-License-Identifier: MIT
-- A part of a lot becomes a lot of its own.

-- What was entered of the lot, what open walks are to take of it, and what went out of it since a day.
-- name: reach
SELECT (SELECT COUNT(*) FROM dividing WHERE lot_id = ?1 AND reversed = 0) AS sessions,
       (SELECT COUNT(*) FROM dividing WHERE lot_id = ?1 AND reversed = 0 AND day >= ?2) AS sessions_since,
       (SELECT COALESCE(SUM(quantity), 0) FROM pick WHERE lot_id = ?1 AND state = 'open') AS open_picks,
       (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.lot_id = ?1 AND EXISTS
           (SELECT 1 FROM movement m WHERE m.cause = 'pick' AND m.cause_id = k.id AND m.reverses IS NULL AND m.day >= ?2)) AS taken,
       (SELECT COUNT(DISTINCT k.parcel_id) FROM pick k WHERE k.lot_id = ?1 AND k.taken > 0 AND EXISTS
           (SELECT 1 FROM movement m WHERE m.cause = 'pick' AND m.cause_id = k.id AND m.reverses IS NULL AND m.day >= ?2)) AS parcels;

-- name: taken_code
SELECT 1 FROM lot WHERE code = ?1;

-- The new lot: never dug, for its clumps were dug as the other's; it lies where that one lies.
-- name: lot
INSERT INTO lot (code, variety_id, dug_on, row, clumps, culled, place_id, held)
SELECT ?2, ?3, l.dug_on, l.row, 0, 0, l.place_id, l.held FROM lot l WHERE l.id = ?1;

-- What the move took is put down at the same places, as the new lot.
-- name: put
INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, divisions, reason, cause, cause_id, note)
SELECT m.at, m.day, m.actor, ?2, m.place_id, -m.clumps, -m.divisions, m.reason, m.cause, m.cause_id, m.note
FROM movement m WHERE m.cause = 'move' AND m.cause_id = ?1 ORDER BY m.id;

-- name: keep
INSERT INTO lot_split (lot_id, from_id, day, clumps, divisions, move_id) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- Is the move such a one, and was the new lot touched since?
-- name: of_move
SELECT s.id, l.code,
       EXISTS (SELECT 1 FROM movement m WHERE m.lot_id = s.lot_id AND (m.cause <> 'move' OR m.cause_id <> s.move_id) AND m.reverses IS NULL
               AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses = m.id))
       OR EXISTS (SELECT 1 FROM storage_check WHERE lot_id = s.lot_id AND reversed = 0)
       OR EXISTS (SELECT 1 FROM stock_take WHERE lot_id = s.lot_id AND reversed = 0)
       OR EXISTS (SELECT 1 FROM weighing WHERE lot_id = s.lot_id) AS touched
FROM lot_split s JOIN lot l ON l.id = s.lot_id WHERE s.move_id = ?1 AND s.reversed = 0;

-- name: undo
UPDATE lot_split SET reversed = 1 WHERE id = ?1;

-- Both ways: what was split off a lot, and what it was split off.
-- name: of_lot
SELECT s.move_id AS id, s.day, l.code AS lot, v.code AS variety, s.from_id <> ?1 AS came, s.clumps, s.divisions, s.reversed AS undone
FROM lot_split s JOIN lot l ON l.id = CASE WHEN s.from_id = ?1 THEN s.lot_id ELSE s.from_id END JOIN variety v ON v.id = l.variety_id
WHERE s.lot_id = ?1 OR s.from_id = ?1 ORDER BY s.day, s.id;
