-- SPDX-License-Identifier: MIT
-- What people do in the cellar.

-- name: lot_place
SELECT place_id FROM lot WHERE id = ?1;

-- name: place_on
SELECT COALESCE((SELECT b.clumps FROM balance b WHERE b.lot_id = ?1 AND b.place_id = ?2), 0)
     - COALESCE(SUM(m.clumps), 0) AS clumps,
       COALESCE((SELECT b.divisions FROM balance b WHERE b.lot_id = ?1 AND b.place_id = ?2), 0)
     - COALESCE(SUM(m.divisions), 0) AS divisions
FROM movement m WHERE m.lot_id = ?1 AND m.place_id = ?2 AND m.day > ?3;

-- name: add_dividing
INSERT INTO dividing (lot_id, day, clumps, rotten, saleable, blind, place_id, source_id, minutes, people)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10);

-- name: time_taken
UPDATE dividing SET minutes = ?8, people = ?9
WHERE id = (SELECT MIN(id) FROM dividing WHERE lot_id = ?1 AND day = ?2 AND clumps = ?3 AND saleable = ?4 AND blind = ?5
    AND rotten = ?6 AND place_id = ?7 AND minutes IS NULL AND reversed = 0);

-- name: add_check
INSERT INTO storage_check (lot_id, day, stage, inspected, rotten, shrivelled, why, source_id)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- name: add_count
INSERT INTO stock_take (lot_id, day, stage, count, before, place_id, looked, source_id)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- name: next_movement
SELECT COALESCE(MAX(id), 0) + 1 AS id FROM movement;

-- name: undo_dividing
UPDATE dividing SET reversed = 1 WHERE id = ?1 AND reversed = 0;

-- name: undo_check
UPDATE storage_check SET reversed = 1 WHERE id = ?1 AND reversed = 0;

-- name: undo_stock_take
UPDATE stock_take SET reversed = 1 WHERE id = ?1 AND reversed = 0;

-- name: place_known
SELECT 1 FROM place WHERE code = ?1 AND id > 0;

-- name: place_rename
UPDATE place SET code = ?2 WHERE code = ?1 AND id > 0;
