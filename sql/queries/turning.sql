-- SPDX-License-Identifier: MIT
-- A season's file is closed, and a copy of it becomes the next season's.

-- name: closed
SELECT season, day, digest, at, actor, buyers FROM closing WHERE reopened_at IS NULL ORDER BY id DESC LIMIT 1;

-- name: close
INSERT INTO closing (season, day, digest, at, actor, buyers) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- name: reopen
UPDATE closing SET reopened_at = ?1, reopened_by = ?2, reopened_why = ?3 WHERE reopened_at IS NULL;

-- What the closing would leave unanswered.
-- name: open_ends
SELECT (SELECT COUNT(*) FROM claim WHERE answer = 'open') AS claims,
       (SELECT COUNT(*) FROM notice WHERE state = 'due' AND kind <> 'refund') AS notices,
       (SELECT COUNT(*) FROM notice WHERE state = 'due' AND kind = 'refund') AS refunds,
       (SELECT COUNT(*) FROM parcel WHERE state <> 'shipped') AS parcels,
       (SELECT COUNT(*) FROM orders WHERE state = 'open') AS orders;

-- name: source
INSERT INTO source (kind, name, digest, rows, actor, at) VALUES ('season', ?1, ?2, ?3, ?4, ?5);

-- name: rate
INSERT INTO history (season, variety_id, clumps, divisions, source_id, lot, cut_from, cut_to)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- name: rot
INSERT INTO past_check (season, variety_id, stage, weeks, inspected, rotten, source_id, lot, age, why)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10);

-- name: shrivel
INSERT INTO past_shrivel (season, lot, from_pa_days, to_pa_days, inspected, shrivelled, source_id)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7);

-- name: weighing
INSERT INTO past_weighing (season, sample, lot, pa_days, kg, source_id) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- name: samples
SELECT DISTINCT sample FROM weighing ORDER BY sample;

-- What was asked for, in the order in which it was: own orders only, and none that was called off.
-- name: asked
SELECT l.variety_id, o.received_at, MAX(l.first_asked, l.quantity) AS asked,
       CASE WHEN f.released THEN f.offered END AS offered_then
FROM line l JOIN orders o ON o.id = l.order_id LEFT JOIN offering f ON f.variety_id = l.variety_id
WHERE l.variety_id IS NOT NULL AND o.state <> 'cancelled' AND o.replaces IS NULL
ORDER BY l.variety_id, o.received_at, l.id;

-- name: past_sale
INSERT INTO past_sale (season, variety_id, sold, sold_out_on) VALUES (?1, ?2, ?3, ?4)
ON CONFLICT (season, variety_id) DO UPDATE SET sold = excluded.sold, sold_out_on = excluded.sold_out_on;

-- name: past_order
INSERT INTO past_order (season, variety_id, day, quantity) VALUES (?1, ?2, ?3, ?4)
ON CONFLICT (season, variety_id, day) DO UPDATE SET quantity = excluded.quantity;

-- Of plantings that were dug, or walked until nothing stood, all plants count; of one that nobody looked at again nothing is known.
-- name: past_plantings
INSERT INTO past_planting (season, variety_id, plants, clumps)
SELECT ?1, p.variety_id, SUM(p.plants), SUM(COALESCE(l.clumps, 0)) FROM planting p
LEFT JOIN (SELECT planting_id, SUM(clumps) AS clumps FROM lot WHERE planting_id IS NOT NULL GROUP BY planting_id) l
    ON l.planting_id = p.id
WHERE p.entry_id IS NULL AND (l.planting_id IS NOT NULL OR EXISTS
    (SELECT 1 FROM field_round r WHERE r.planting_id = p.id AND r.reversed = 0 AND r.alive = 0))
GROUP BY p.variety_id
ON CONFLICT (season, variety_id) DO UPDATE SET plants = excluded.plants, clumps = excluded.clumps;

-- The same sums of a season's own file, and of what a later one keeps of it.
-- name: field_own
SELECT COALESCE(SUM(p.plants), 0) AS plants, COALESCE(SUM(l.clumps), 0) AS clumps FROM planting p
LEFT JOIN (SELECT planting_id, SUM(clumps) AS clumps FROM lot WHERE planting_id IS NOT NULL GROUP BY planting_id) l
    ON l.planting_id = p.id
WHERE p.entry_id IS NULL AND (l.planting_id IS NOT NULL OR EXISTS
    (SELECT 1 FROM field_round r WHERE r.planting_id = p.id AND r.reversed = 0 AND r.alive = 0));

-- name: field_kept like field_own
SELECT COALESCE(SUM(plants), 0) AS plants, COALESCE(SUM(clumps), 0) AS clumps FROM past_planting WHERE season = ?1;

-- What was kept and planted is what stands in the rows that the next season digs: with its row, where somebody said it.
-- name: drop_plantings
DELETE FROM planting WHERE entry_id IS NULL;

-- name: plant
INSERT INTO planting (variety_id, plants, planted_on, lot, of_season)
SELECT l.variety_id, -SUM(m.divisions), m.day, l.code, ?1
FROM movement m JOIN lot l ON l.id = m.lot_id WHERE m.reason = 'planted'
  AND NOT (m.cause = 'entry' AND EXISTS (SELECT 1 FROM planting p WHERE p.entry_id = m.cause_id))
GROUP BY l.id, m.day HAVING SUM(m.divisions) < 0 ORDER BY l.id, m.day;

-- name: planted
UPDATE planting SET entry_id = NULL, of_season = ?1, taken_by = NULL WHERE entry_id IS NOT NULL;

-- name: zones
SELECT code, first_week FROM zone ORDER BY code;

-- name: move_zone
UPDATE zone SET first_week = ?2 WHERE code = ?1;

-- A retired variety of which nothing past is known has nothing to say any more.
-- name: drop_retired
DELETE FROM variety WHERE retired = 1
  AND NOT EXISTS (SELECT 1 FROM history h WHERE h.variety_id = variety.id)
  AND NOT EXISTS (SELECT 1 FROM past_check c WHERE c.variety_id = variety.id)
  AND NOT EXISTS (SELECT 1 FROM past_sale s WHERE s.variety_id = variety.id)
  AND NOT EXISTS (SELECT 1 FROM past_order o WHERE o.variety_id = variety.id)
  AND NOT EXISTS (SELECT 1 FROM planting p WHERE p.variety_id = variety.id)
  AND NOT EXISTS (SELECT 1 FROM past_planting p WHERE p.variety_id = variety.id)
  AND NOT EXISTS (SELECT 1 FROM keep_said k WHERE k.variety_id = variety.id);

-- A former code that finds nothing any more.
-- name: drop_formers
DELETE FROM former_code WHERE variety_id NOT IN (SELECT id FROM variety);

-- Files of which no row is left.
-- name: drop_sources
DELETE FROM source WHERE id NOT IN (SELECT source_id FROM history UNION SELECT source_id FROM past_check
    UNION SELECT source_id FROM past_shrivel UNION SELECT source_id FROM past_weighing);

-- Buyers who ordered since a day (NULL: none) go along. First those who were taken along before: whoever did not order since, or did
-- again this season, is taken off.
-- name: buyers_drop
DELETE FROM known_buyer
WHERE ?1 IS NULL OR last_on < ?1 OR id NOT IN (SELECT b.id FROM buyer_once b WHERE b.own = 0);

-- name: buyers_take
INSERT INTO known_buyer (last_season, last_on, customer, name2, email, phone, street, town, postcode, country, region, language,
                         zone, tier, consent)
SELECT last_season, last_on, customer, name2, email, phone, street, town, postcode, country, region, language, zone, tier, consent
FROM buyer_once WHERE own = 1 AND last_on >= ?1 ORDER BY id;

-- All that may be known of each buyer of a season's own file; and of those whom a later one was handed from it or from before it.
-- name: buyers
SELECT json_array(last_season, last_on, customer, name2, email, phone, street, town, postcode, country, region, language, zone,
                  tier, consent) AS buyer
FROM buyer_once ORDER BY 1;

-- name: buyers_here like buyers
SELECT json_array(last_season, last_on, customer, name2, email, phone, street, town, postcode, country, region, language, zone,
                  tier, consent) AS buyer
FROM known_buyer WHERE last_season <= ?1 ORDER BY 1;

-- name: said
INSERT INTO past_said (season, said_on, why, varieties, expected, came, held) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7);

-- name: said_lines
SELECT season AS of_season, said_on, why, varieties AS of_varieties, expected, came, held FROM past_said ORDER BY season;

-- name: turn
UPDATE nursery SET season = ?1, ship_day = ?2, made_at = ?3, stock_revision = stock_revision + 1,
    trade_revision = trade_revision + 1 WHERE id = 1;

-- name: origin
INSERT INTO origin (season, day, ship_day, pa, digest, at, actor, told) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, 1);

-- name: origins
SELECT season, day, ship_day, digest, told FROM origin ORDER BY season;

-- name: counts
SELECT (SELECT COUNT(*) FROM variety WHERE retired = 0) AS varieties,
       (SELECT COUNT(*) FROM variety WHERE retired = 1) AS retired,
       (SELECT COUNT(*) FROM place) - 1 AS places,
       (SELECT COUNT(*) FROM zone) AS zones,
       (SELECT COUNT(*) FROM destination) AS destinations,
       (SELECT COUNT(*) FROM person) AS people,
       (SELECT COUNT(*) FROM program_key) AS keys,
       (SELECT COUNT(*) FROM setting) AS settings,
       (SELECT COUNT(*) FROM template) AS templates,
       (SELECT COUNT(*) FROM orders) AS orders,
       (SELECT COUNT(*) FROM lot) AS lots,
       (SELECT COUNT(*) FROM history WHERE season = ?1) AS rate,
       (SELECT COUNT(*) FROM past_check WHERE season = ?1) AS rot,
       (SELECT COUNT(*) FROM past_shrivel WHERE season = ?1) AS shrivel,
       (SELECT COUNT(*) FROM past_weighing WHERE season = ?1) AS weighings,
       (SELECT COUNT(*) FROM past_sale WHERE season = ?1) AS sales,
       (SELECT COALESCE(SUM(plants), 0) FROM planting) AS plants,
       (SELECT COUNT(*) FROM past_planting WHERE season = ?1) AS fields,
       (SELECT COUNT(*) FROM known_buyer) AS buyers;
