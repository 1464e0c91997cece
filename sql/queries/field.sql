-- SPDX-License-Identifier: MIT
-- Plantings, walks and what was dug of them. Of this season only: what was planted out for the next one has an entry_id.

-- name: planting
SELECT p.id, p.variety_id, v.code, p.plants, p.planted_on, COALESCE(p.row, '') AS row FROM planting p JOIN variety v ON v.id = p.variety_id
WHERE p.id = ?1 AND p.entry_id IS NULL;

-- name: in_row like planting
SELECT p.id, p.variety_id, v.code, p.plants, p.planted_on, p.row FROM planting p JOIN variety v ON v.id = p.variety_id
WHERE p.row = ?1 AND p.entry_id IS NULL ORDER BY v.code;

-- name: rounds
SELECT id, day, alive AS a, rogued AS b FROM field_round WHERE planting_id = ?1 AND reversed = 0;

-- name: lots like rounds
SELECT id, dug_on AS day, clumps AS a, culled AS b FROM lot WHERE planting_id = ?1 AND clumps + culled > 0;

-- name: add_round
INSERT INTO field_round (planting_id, day, alive, rogued, reason, at, actor) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7);

-- name: undo_round
UPDATE field_round SET reversed = 1 WHERE id = ?1 AND reversed = 0;

-- name: round_of
SELECT planting_id FROM field_round WHERE id = ?1;

-- name: lot_of like round_of
SELECT planting_id FROM lot WHERE id = ?1;

-- The lots that were dug of a stretch before anybody wrote down that it was planted.
-- name: link_lots
UPDATE lot SET planting_id = ?1 WHERE planting_id IS NULL AND row = (SELECT row FROM planting WHERE id = ?1)
  AND variety_id = (SELECT variety_id FROM planting WHERE id = ?1) AND id NOT IN (SELECT lot_id FROM lot_split);

-- name: link_lot
UPDATE lot SET planting_id = ?2 WHERE id = ?1;

-- A lot that was never dug: nothing but its digging stands in the ledger.
-- name: untouched like round_of
SELECT NOT EXISTS (SELECT 1 FROM movement WHERE lot_id = ?1 AND cause <> 'lot')
   AND NOT EXISTS (SELECT 1 FROM storage_check WHERE lot_id = ?1 AND reversed = 0)
   AND NOT EXISTS (SELECT 1 FROM stock_take WHERE lot_id = ?1 AND reversed = 0)
   AND NOT EXISTS (SELECT 1 FROM weighing WHERE lot_id = ?1) AS planting_id;

-- Do walks, taken back or not, or lots hang on the stretch?
-- name: planting_used
SELECT 1 FROM planting p WHERE p.entry_id IS NULL AND p.row = ?1 AND p.variety_id = ?2
    AND (EXISTS (SELECT 1 FROM field_round WHERE planting_id = p.id) OR EXISTS (SELECT 1 FROM lot WHERE planting_id = p.id));

-- name: undig
UPDATE lot SET clumps = 0, culled = 0, planting_id = NULL WHERE id = ?1;

-- name: take
UPDATE planting SET taken_by = ?2 WHERE id = ?1;

-- name: move_in
UPDATE planting SET row = ?2 WHERE id = ?1 AND entry_id IS NULL;

-- name: plant_out
INSERT INTO planting (variety_id, row, plants, planted_on, lot, entry_id)
SELECT l.variety_id, ?2, ?3, ?4, l.code, ?5 FROM lot l WHERE l.id = ?1;

-- The entry was taken back.
-- name: unplant
DELETE FROM planting WHERE entry_id = ?1;

-- What stands where. Standing, dead and the rest follow from the walks and from what was dug, and are worked out behind it.
-- name: list
SELECT p.id, COALESCE(p.row, '') AS row, v.code, v.name, p.plants, p.planted_on, COALESCE(p.lot, '') AS lot, p.spacing_cm,
       COALESCE(p.taken_by, '') AS taken_by,
       COALESCE((SELECT r.actor FROM field_round r WHERE r.planting_id = p.id AND r.reversed = 0 ORDER BY r.day DESC, r.id DESC LIMIT 1), '')
           AS walked_by,
       EXISTS (SELECT 1 FROM lot l WHERE l.variety_id = p.variety_id AND l.planting_id IS NULL AND l.clumps + l.culled > 0) AS loose
FROM planting p JOIN variety v ON v.id = p.variety_id WHERE p.entry_id IS NULL
ORDER BY p.row IS NULL, p.row, v.code, p.id;

-- All that happened to this season's plantings, each planting's together.
-- name: events
SELECT planting_id, id, day, 0 AS dug, alive AS a, rogued AS b FROM field_round
WHERE reversed = 0 AND planting_id IN (SELECT id FROM planting WHERE entry_id IS NULL)
UNION ALL SELECT planting_id, id, dug_on, 1, clumps, culled FROM lot WHERE planting_id IS NOT NULL AND clumps + culled > 0
ORDER BY 1, 3, 2;

-- What was dug from a day on, by whom; for tags in one go.
-- name: dug
SELECT l.id, l.code, l.row, v.code, v.name, l.dug_on, l.clumps, l.culled, NULLIF(p.code, ''),
       COALESCE((SELECT m.actor FROM movement m WHERE m.lot_id = l.id AND m.cause = 'lot' ORDER BY m.id LIMIT 1), '')
FROM lot l JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = l.place_id
WHERE l.dug_on >= ?1 AND l.clumps + l.culled > 0 ORDER BY l.dug_on DESC, l.id DESC;

-- A planting and all that happened to it, for its sheet.
-- name: rounds_of
SELECT id, day, alive, rogued, reason, actor, reversed FROM field_round WHERE planting_id = ?1 ORDER BY day, id;

-- name: code_there
SELECT 1 FROM lot WHERE code = ?1;

-- name: goes_to_row
SELECT 1 FROM planting WHERE row = ?1 AND variety_id = (SELECT variety_id FROM lot WHERE id = ?2) AND entry_id IS NOT NULL;

-- What is left of each lot at the season's end. Of a variety's hold-back, less what was planted already, each lot in turn gives what
-- it has; of one that is held nothing goes to the beds.
-- name: left
SELECT l.code, v.code, v.name, b.places, b.clumps, b.divisions, l.held, v.hold_back, COALESCE(m.planted, 0),
       MAX(0, MIN(CASE WHEN l.held IS NULL THEN b.divisions ELSE 0 END, v.hold_back - COALESCE(m.planted, 0)
           - COALESCE(SUM(CASE WHEN l.held IS NULL THEN b.divisions ELSE 0 END)
                      OVER (PARTITION BY v.id ORDER BY l.code ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING), 0)))
FROM lot l JOIN variety v ON v.id = l.variety_id
JOIN (SELECT b.lot_id, SUM(b.clumps) AS clumps, SUM(b.divisions) AS divisions, GROUP_CONCAT(NULLIF(p.code, ''), ' ') AS places
      FROM balance b JOIN place p ON p.id = b.place_id WHERE b.clumps > 0 OR b.divisions > 0 GROUP BY b.lot_id) b ON b.lot_id = l.id
LEFT JOIN (SELECT l.variety_id, -SUM(m.divisions) AS planted FROM movement m JOIN lot l ON l.id = m.lot_id
           WHERE m.reason = 'planted' GROUP BY l.variety_id) m ON m.variety_id = v.id
ORDER BY v.code, l.code;

-- What was planted out of this season's lots, and where to.
-- name: planted_out
SELECT p.row, v.code, v.name, p.plants, p.planted_on, p.lot, p.entry_id FROM planting p JOIN variety v ON v.id = p.variety_id
WHERE p.entry_id IS NOT NULL ORDER BY p.id;
