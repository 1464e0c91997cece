-- SPDX-License-Identifier: MIT
-- What stood at the end of a day (?1). Entries taken back since count as never made.

-- name: varieties
SELECT v.id, v.code, v.name, v.form, v.size, v.colour, v.price, v.hold_back, v.reserve, v.limit_per_order, v.retired,
       o.offered, o.sold, COALESCE(o.released, 0) AS released, v.height_cm, o.beyond,
       COALESCE(p.divisions, 0) AS planted, v.own_low, v.own_high
FROM variety v LEFT JOIN offering o ON o.variety_id = v.id
LEFT JOIN (SELECT l.variety_id, -SUM(m.divisions) AS divisions FROM movement m JOIN lot l ON l.id = m.lot_id
           WHERE m.reason = 'planted' AND m.day <= ?1 GROUP BY l.variety_id) p ON p.variety_id = v.id
ORDER BY v.code;

-- Whether rows of past seasons are the same as before: up to which ids, and how often one was taken off or changed (triggers of
-- migration 0022; a row that comes has the next id, so none need be counted).
-- name: past_extent
SELECT (SELECT COALESCE(MAX(id), 0) FROM history) || ' ' || (SELECT COALESCE(MAX(id), 0) FROM past_check) || ' ' ||
       (SELECT COALESCE(MAX(id), 0) FROM past_shrivel) || ' ' || (SELECT COALESCE(MAX(id), 0) FROM past_weighing) || ' ' ||
       (SELECT COUNT(*) FROM origin) || ' ' || past_changes AS extent
FROM nursery;

-- name: history
SELECT h.variety_id, h.season, h.clumps, h.divisions, p.number, h.cut_from, h.cut_to
FROM history h JOIN past_lot p ON p.season = h.season AND p.lot = COALESCE(h.lot, '')
ORDER BY h.season, h.variety_id, h.id;

-- name: past_checks
SELECT c.variety_id, c.season, c.stage, c.weeks, c.inspected, c.rotten, c.shrivelled, p.number, c.age,
       CASE c.why WHEN 'dividing' THEN 0 WHEN 'round' THEN 1 WHEN 'untold' THEN 2 WHEN 'suspicion' THEN 3 END AS why_rank
FROM past_check c JOIN past_lot p ON p.season = c.season AND p.lot = COALESCE(c.lot, '')
ORDER BY c.season, c.variety_id, c.id;

-- name: past_shrivels
SELECT s.season, p.number, s.from_pa_days, s.to_pa_days, s.inspected, s.shrivelled
FROM past_shrivel s JOIN past_lot p ON p.season = s.season AND p.lot = s.lot ORDER BY s.id;

-- name: past_weighings
SELECT w.season, DENSE_RANK() OVER (ORDER BY w.season, w.sample) - 1 AS sample_rank, p.number, w.pa_days, w.kg
FROM past_weighing w JOIN past_lot p ON p.season = w.season AND p.lot = w.lot ORDER BY w.id;

-- name: past_lots
SELECT (SELECT COUNT(*) FROM past_lot WHERE lot <> '') AS lots, (SELECT pa FROM origin WHERE pa IS NOT NULL ORDER BY season DESC LIMIT 1) AS pa;

-- name: past_plantings
SELECT season, variety_id, plants, clumps FROM past_planting ORDER BY season, variety_id;

-- What was set out to be dug this season. Where lots of the variety were dug of no planting, nobody can say what still stands of
-- those of which nothing was dug.
-- name: plantings
SELECT p.id, p.variety_id, COALESCE(p.row, '') AS row, p.plants, p.planted_on,
       EXISTS (SELECT 1 FROM lot l WHERE l.variety_id = p.variety_id AND l.planting_id IS NULL AND l.dug_on <= ?1 AND l.clumps + l.culled > 0) AS loose
FROM planting p WHERE p.entry_id IS NULL AND p.planted_on <= ?1 ORDER BY p.id;

-- name: field_events
SELECT planting_id, id, day, 0 AS dug, alive AS a, rogued AS b FROM field_round
WHERE reversed = 0 AND day <= ?1 AND planting_id IN (SELECT id FROM planting WHERE entry_id IS NULL AND planted_on <= ?1)
UNION ALL SELECT planting_id, id, dug_on, 1, clumps, culled FROM lot
WHERE planting_id IS NOT NULL AND dug_on <= ?1 AND clumps + culled > 0
ORDER BY 1, 3, 2;

-- name: lots
SELECT l.id, l.code, l.variety_id, l.dug_on, l.clumps,
       COALESCE((SELECT p.room FROM balance b JOIN place p ON p.id = b.place_id
                 WHERE b.lot_id = l.id AND b.clumps + b.divisions > 0 AND p.room <> ''
                 ORDER BY b.clumps + b.divisions DESC, b.place_id LIMIT 1),
                (SELECT p.room FROM place p WHERE p.id = l.place_id), '') AS room
FROM lot l WHERE l.dug_on <= ?1 ORDER BY l.id;

-- name: dividings
SELECT lot_id, day, id, clumps, rotten, saleable FROM dividing WHERE day <= ?1 AND reversed = 0;

-- name: checks
SELECT lot_id, day, id, stage, inspected, rotten, shrivelled, CASE why WHEN 'suspicion' THEN 1 WHEN 'round' THEN 0 END AS suspicion
FROM storage_check WHERE day <= ?1 AND reversed = 0;

-- name: entries
SELECT m.lot_id, m.day, m.id, m.clumps, m.divisions,
       CASE WHEN m.reason IN ('picked', 'planted', 'returned') THEN -m.divisions ELSE 0 END AS left_sound
FROM movement m
WHERE m.day <= ?1 AND m.cause IN ('pick', 'claim', 'entry') AND m.reverses IS NULL
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses = m.id);

-- With the ledger's number of what it moved, NULL when the count agreed.
-- name: counts
SELECT t.lot_id, t.day, t.id, t.stage, t.before, t.count, t.looked,
       (SELECT MIN(m.id) FROM movement m WHERE m.cause = 'stock_take' AND m.cause_id = t.id) AS movement_id
FROM stock_take t WHERE t.day <= ?1 AND t.reversed = 0;

-- Parts that became lots of their own: what left the one, and which one it came to.
-- name: splits
SELECT s.from_id AS lot_id, s.day, s.move_id AS id, s.clumps, s.divisions, s.lot_id AS other
FROM lot_split s WHERE s.day <= ?1 AND s.reversed = 0;

-- name: air
SELECT room, at, temp_c, rh FROM air WHERE at < ?1 ORDER BY room, at;

-- name: weighings
SELECT sample, lot_id, day, kg, DENSE_RANK() OVER (ORDER BY sample) AS sample_rank FROM weighing WHERE day <= ?1 ORDER BY sample, day;

-- name: revision
SELECT stock_revision, trade_revision, field_changes FROM nursery;
