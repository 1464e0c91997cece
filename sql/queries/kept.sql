-- SPDX-License-Identifier: MIT
-- What is kept for planting: the owner's own figures, and hold-backs written at once.

-- name: said
SELECT variety_id, demand_low, demand_high, growth, cost, least FROM keep_said ORDER BY variety_id;

-- name: said_of like said
SELECT v.id AS variety_id, s.demand_low, s.demand_high, s.growth, s.cost, s.least
FROM variety v LEFT JOIN keep_said s ON s.variety_id = v.id WHERE v.id = (SELECT variety_id FROM variety_code WHERE code = ?1);

-- name: say
INSERT INTO keep_said (variety_id, demand_low, demand_high, growth, cost, least) VALUES (:variety_id, :demand_low, :demand_high, :growth, :cost, :least)
ON CONFLICT (variety_id) DO UPDATE SET demand_low = excluded.demand_low, demand_high = excluded.demand_high,
    growth = excluded.growth, cost = excluded.cost, least = excluded.least;

-- name: run
INSERT INTO keep_run (at, actor) VALUES (?1, ?2);

-- name: change
INSERT INTO keep_change (run_id, variety_id, before, after) VALUES (?1, ?2, ?3, ?4);

-- name: undo
UPDATE keep_run SET undone_at = ?2, undone_by = ?3 WHERE id = ?1 AND undone_at IS NULL;

-- name: changes
SELECT v.code, c.before, c.after FROM keep_change c JOIN variety v ON v.id = c.variety_id WHERE c.run_id = ?1
ORDER BY v.code;

-- name: runs
SELECT r.id, r.at, r.actor, (SELECT COUNT(*) FROM keep_change c WHERE c.run_id = r.id), r.undone_at, r.undone_by
FROM keep_run r ORDER BY r.id DESC LIMIT 200;

-- The rows a variety's lots were dug from, the most clumps first.
-- name: rows
SELECT variety_id, row FROM lot WHERE row IS NOT NULL AND row <> '' ORDER BY variety_id, clumps DESC, id;
