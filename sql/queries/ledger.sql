-- SPDX-License-Identifier: MIT

-- name: add
INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, divisions, reason, cause, cause_id, note)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11);

-- name: balance
SELECT clumps, divisions FROM balance WHERE lot_id = ?1 AND place_id = ?2;

-- name: lot like balance
SELECT COALESCE(SUM(clumps), 0) AS clumps, COALESCE(SUM(divisions), 0) AS divisions FROM balance WHERE lot_id = ?1;

-- name: later
SELECT 1 FROM movement WHERE lot_id = ?1 AND day > ?2 LIMIT 1;

-- Where it lies, in no order: mostly one place, and then no order is needed.
-- name: spots
SELECT place_id, clumps, divisions FROM balance
WHERE lot_id = ?1 AND ((?2 > 0 AND clumps > 0) OR (?3 > 0 AND divisions > 0));

-- The lot's own place first, then along the walk.
-- name: places like spots
SELECT b.place_id, b.clumps, b.divisions FROM balance b
JOIN lot l ON l.id = b.lot_id JOIN place p ON p.id = b.place_id
WHERE b.lot_id = ?1 AND (b.clumps > 0 OR b.divisions > 0)
ORDER BY b.place_id <> l.place_id, p.walk_order, b.place_id;

-- name: after
SELECT day, clumps, divisions FROM movement WHERE lot_id = ?1 AND day > ?2 ORDER BY day DESC;

-- name: of_cause
SELECT m.id, m.day, m.lot_id, m.place_id, m.clumps, m.divisions FROM movement m
WHERE m.cause = ?1 AND m.cause_id = ?2 AND m.reverses IS NULL
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses = m.id)
ORDER BY m.clumps + m.divisions, m.id;

-- name: reverse
INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, divisions, reason, cause, cause_id, reverses, note)
SELECT ?2, ?3, ?4, lot_id, place_id, -clumps, -divisions, reason, cause, cause_id, id, ?5 FROM movement WHERE id = ?1;

-- name: names
SELECT l.code AS lot, p.code AS place FROM lot l, place p WHERE l.id = ?1 AND p.id = ?2;
