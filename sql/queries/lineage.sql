-- SPDX-License-Identifier: MIT
-- What a lot or a planting came from, and what came of it, within one file; who follows it from file to file is core/desk/stock/lineage.

-- Lots by their code, of a row (those whose planting nobody wrote down), dug of a planting, of a variety (the same), of an order's picks,
-- by number, and split off a lot.
-- name: lots
SELECT l.id, l.code, v.code AS variety, v.name, COALESCE(l.row, '') AS row, l.dug_on AS day, l.clumps + COALESCE(s.clumps, 0) AS quantity,
       COALESCE((SELECT SUM(k.taken) FROM pick k WHERE k.lot_id = l.id), 0)
           + COALESCE((SELECT SUM(c.quantity) FROM claim c WHERE c.lot_id = l.id AND c.answer = 'replace' AND c.replacement_id IS NULL), 0)
           AS sent,
       COALESCE(l.planting_id, 0) AS planting, '' AS lot, 0 AS of_season, COALESCE(l.held, '') AS held,
       COALESCE((SELECT w.code FROM relabelling r JOIN variety w ON w.id = r.was WHERE r.lot_id = l.id ORDER BY r.id LIMIT 1), '') AS was,
       COALESCE(s.from_id, 0) AS split_of
FROM lot l JOIN variety v ON v.id = l.variety_id LEFT JOIN lot_split s ON s.lot_id = l.id AND s.reversed = 0
WHERE l.code = ?1 OR (l.row = ?2 AND l.planting_id IS NULL) OR l.planting_id = ?3
   OR (l.planting_id IS NULL AND s.id IS NULL AND l.variety_id = (SELECT c.variety_id FROM variety_code c WHERE c.code = ?4))
   OR l.id IN (SELECT k.lot_id FROM pick k JOIN line n ON n.id = k.line_id JOIN orders o ON o.id = n.order_id
               WHERE k.taken > 0 AND (o.number = ?5 OR o.replaces = (SELECT r.id FROM orders r WHERE r.number = ?5)))
   OR l.id = ?6 OR s.from_id = ?7
ORDER BY l.code;

-- Plantings by number, of a row, of a lot of season ?4 (a lot without its season is of the season before, which ?5 says), of a
-- variety without a lot, and what was planted out of this file's own lot for the season after.
-- name: plantings like lots
SELECT p.id, '' AS code, v.code AS variety, v.name, COALESCE(p.row, '') AS row, p.planted_on AS day, p.plants AS quantity, 0 AS sent,
       0 AS planting, COALESCE(p.lot, '') AS lot, COALESCE(p.of_season, CASE WHEN p.entry_id IS NULL THEN 0 ELSE -1 END) AS of_season,
       '' AS held, '' AS was, 0 AS split_of
FROM planting p JOIN variety v ON v.id = p.variety_id
WHERE p.id = ?1 OR p.row = ?2
   OR (p.lot = ?3 AND p.entry_id IS NULL AND (p.of_season = ?4 OR (p.of_season IS NULL AND ?5)))
   OR (p.lot IS NULL AND p.entry_id IS NULL AND p.variety_id = (SELECT c.variety_id FROM variety_code c WHERE c.code = ?6))
   OR (p.lot = ?7 AND p.entry_id IS NOT NULL)
ORDER BY p.planted_on, p.id;

-- Planted out of a lot without a row, as the ledger has it.
-- name: planted like lots
SELECT 0 AS id, '' AS code, v.code AS variety, v.name, '' AS row, m.day, -SUM(m.divisions) AS quantity, 0 AS sent, 0 AS planting,
       l.code AS lot, -1 AS of_season, '' AS held, '' AS was, 0 AS split_of
FROM movement m JOIN lot l ON l.id = m.lot_id JOIN variety v ON v.id = l.variety_id
WHERE l.code = ?1 AND m.reason = 'planted'
  AND NOT (m.cause = 'entry' AND EXISTS (SELECT 1 FROM planting p WHERE p.entry_id = m.cause_id))
GROUP BY m.day HAVING SUM(m.divisions) < 0 ORDER BY m.day;

-- All codes of a variety, the present one first.
-- name: codes
SELECT c.code FROM variety_code c JOIN variety v ON v.id = c.variety_id
WHERE c.variety_id = (SELECT x.variety_id FROM variety_code x WHERE x.code = ?1) ORDER BY c.code <> v.code, c.code;
