-- SPDX-License-Identifier: MIT
-- Two codes that are one variety. ?1 the merging, ?2 the variety that is kept, ?3 the one that is gone. What a step changes is kept
-- first (merged_row), with 1 where it was of the one that is gone; the steps back put that in its place again.

-- name: begun
INSERT INTO merging (kept, gone, kept_code, gone_code, at, actor, why) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7);

-- name: side
SELECT (SELECT COALESCE(SUM(b.clumps), 0) FROM balance b JOIN lot l ON l.id = b.lot_id WHERE l.variety_id = ?1) AS clumps,
       (SELECT COALESCE(SUM(b.divisions), 0) FROM balance b JOIN lot l ON l.id = b.lot_id WHERE l.variety_id = ?1) AS divisions,
       COALESCE((SELECT o.offered FROM offering o WHERE o.variety_id = ?1), 0) AS offered,
       COALESCE((SELECT o.sold FROM offering o WHERE o.variety_id = ?1), 0) AS sold,
       v.price, v.limit_per_order, v.hold_back, v.reserve, v.retired
FROM variety v WHERE v.id = ?1;

-- name: keep_rows
INSERT INTO merged_row (merging_id, part, row)
SELECT ?1, 'history', json_array(id) FROM history WHERE variety_id = ?3
UNION ALL SELECT ?1, 'past_check', json_array(id) FROM past_check WHERE variety_id = ?3
UNION ALL SELECT ?1, 'lot', json_array(id) FROM lot WHERE variety_id = ?3
UNION ALL SELECT ?1, 'line', json_array(id) FROM line WHERE variety_id = ?3
UNION ALL SELECT ?1, 'oversell', json_array(id) FROM oversell WHERE variety_id = ?3
UNION ALL SELECT ?1, 'taken_back', json_array(id) FROM taken_back WHERE variety_id = ?3
UNION ALL SELECT ?1, 'pick', json_array(id) FROM pick WHERE variety_id = ?3
UNION ALL SELECT ?1, 'put_back', json_array(id) FROM put_back WHERE variety_id = ?3
UNION ALL SELECT ?1, 'planting', json_array(id, row) FROM planting WHERE variety_id = ?3
UNION ALL SELECT ?1, 'former_code', json_array(code, merged) FROM former_code WHERE variety_id = ?3
UNION ALL SELECT ?1, 'relabelling', json_array(id, was = ?3, became = ?3) FROM relabelling WHERE ?3 IN (was, became)
UNION ALL SELECT ?1, 'release', json_array(id, variety_id = ?3, before, offered) FROM release WHERE variety_id IN (?2, ?3)
UNION ALL SELECT ?1, 'variety', json_array(id = ?3, code, name, form, size, colour, height_cm, price, hold_back, reserve,
    limit_per_order, introduced, retired, version, own_low, own_high) FROM variety WHERE id IN (?2, ?3);

-- Rows that are added up with those of the same key.
-- name: keep_sums
INSERT INTO merged_row (merging_id, part, row)
SELECT ?1, 'past_sale', json_array(variety_id = ?3, season, sold, sold_out_on) FROM past_sale
WHERE variety_id IN (?2, ?3) AND season IN (SELECT season FROM past_sale WHERE variety_id = ?3)
UNION ALL SELECT ?1, 'past_order', json_array(variety_id = ?3, season, day, quantity) FROM past_order
WHERE variety_id IN (?2, ?3) AND (season, day) IN (SELECT season, day FROM past_order WHERE variety_id = ?3)
UNION ALL SELECT ?1, 'past_planting', json_array(variety_id = ?3, season, plants, clumps) FROM past_planting
WHERE variety_id IN (?2, ?3) AND season IN (SELECT season FROM past_planting WHERE variety_id = ?3)
UNION ALL SELECT ?1, 'offering', json_array(variety_id = ?3, released, offered, sold, beyond) FROM offering
WHERE variety_id IN (?2, ?3)
UNION ALL SELECT ?1, 'said_of', json_array(variety_id = ?3, said_id, printf('%!.17g', expected), p05, p10, p25, p50, p75, p90, p95)
FROM said_of WHERE variety_id IN (?2, ?3) AND said_id IN (SELECT said_id FROM said_of WHERE variety_id = ?3)
UNION ALL SELECT ?1, 'keep_said', json_array(variety_id = ?3, demand_low, demand_high, growth, cost, least) FROM keep_said
WHERE variety_id IN (?2, ?3)
UNION ALL SELECT ?1, 'keep_change', json_array(variety_id = ?3, run_id, before, after) FROM keep_change
WHERE variety_id IN (?2, ?3) AND run_id IN (SELECT run_id FROM keep_change WHERE variety_id = ?3);

-- Promises to a line: of the one that is gone, and of the other to the same line or to one that asked for the one that is gone.
-- name: keep_promises
INSERT INTO merged_row (merging_id, part, row)
SELECT ?1, 'allocation', json_array(variety_id = ?3, line_id, quantity, kind, run_id, reason, n1, n2, n3, n4) FROM allocation
WHERE variety_id = ?3 OR (variety_id = ?2 AND (line_id IN (SELECT id FROM line WHERE variety_id = ?3)
    OR line_id IN (SELECT line_id FROM allocation WHERE variety_id = ?3)))
UNION ALL SELECT ?1, 'run_before', json_array(variety_id = ?3, line_id, quantity, kind, run_id, reason, n1, n2, n3, n4, of_run)
FROM run_before WHERE variety_id = ?3 OR (variety_id = ?2 AND (line_id IN (SELECT id FROM line WHERE variety_id = ?3)
    OR line_id IN (SELECT line_id FROM run_before WHERE variety_id = ?3)))
UNION ALL SELECT ?1, 'forbidden', json_array(variety_id = ?3, line_id, at, actor, why) FROM forbidden
WHERE variety_id = ?3 OR (variety_id = ?2 AND (line_id IN (SELECT id FROM line WHERE variety_id = ?3)
    OR line_id IN (SELECT line_id FROM forbidden WHERE variety_id = ?3)));

-- name: history
UPDATE history SET variety_id = ?2 WHERE variety_id = ?3;

-- name: past_check
UPDATE past_check SET variety_id = ?2 WHERE variety_id = ?3;

-- name: lot
UPDATE lot SET variety_id = ?2 WHERE variety_id = ?3;

-- name: line
UPDATE line SET variety_id = ?2 WHERE variety_id = ?3;

-- name: oversell
UPDATE oversell SET variety_id = ?2 WHERE variety_id = ?3;

-- name: taken_back
UPDATE taken_back SET variety_id = ?2 WHERE variety_id = ?3;

-- name: pick
UPDATE pick SET variety_id = ?2 WHERE variety_id = ?3;

-- name: put_back
UPDATE put_back SET variety_id = ?2 WHERE variety_id = ?3;

-- A row holds one stretch of a variety; the second gets a name of its own.
-- name: planting
UPDATE planting SET variety_id = ?2, row = CASE WHEN EXISTS (SELECT 1 FROM planting k WHERE k.variety_id = ?2 AND k.row = planting.row
    AND (k.entry_id IS NULL) = (planting.entry_id IS NULL)) THEN row || '-' || (SELECT gone_code FROM merging WHERE id = ?1) ELSE row END
WHERE variety_id = ?3;

-- name: former_code
UPDATE former_code SET variety_id = ?2, merged = 1 WHERE variety_id = ?3;

-- name: relabelling
UPDATE relabelling SET was = CASE WHEN was = ?3 THEN ?2 ELSE was END, became = CASE WHEN became = ?3 THEN ?2 ELSE became END
WHERE ?3 IN (was, became);

-- What was on offer of both together, release by release.
-- name: release
UPDATE release SET variety_id = ?2, before = before + other.offered, offered = release.offered + other.offered
FROM (SELECT r.id, COALESCE((SELECT json_extract(o.row, '$[3]') FROM merged_row o
        WHERE o.merging_id = ?1 AND o.part = 'release' AND json_extract(o.row, '$[1]') <> (r.variety_id = ?3)
          AND json_extract(o.row, '$[0]') < r.id ORDER BY json_extract(o.row, '$[0]') DESC LIMIT 1), 0) AS offered
      FROM release r WHERE r.variety_id IN (?2, ?3)) other
WHERE release.id = other.id;

-- Sold out only where both were, on the day of the later one: until then it could be had.
-- name: past_sale
INSERT INTO past_sale (season, variety_id, sold, sold_out_on) SELECT season, ?2, sold, sold_out_on FROM past_sale WHERE variety_id = ?3
ON CONFLICT (season, variety_id) DO UPDATE SET sold = sold + excluded.sold, sold_out_on = MAX(sold_out_on, excluded.sold_out_on);

-- name: past_sale_gone
DELETE FROM past_sale WHERE variety_id = ?3;

-- name: past_order
INSERT INTO past_order (season, variety_id, day, quantity) SELECT season, ?2, day, quantity FROM past_order WHERE variety_id = ?3
ON CONFLICT (season, variety_id, day) DO UPDATE SET quantity = quantity + excluded.quantity;

-- name: past_order_gone
DELETE FROM past_order WHERE variety_id = ?3;

-- name: past_planting
INSERT INTO past_planting (season, variety_id, plants, clumps) SELECT season, ?2, plants, clumps FROM past_planting WHERE variety_id = ?3
ON CONFLICT (season, variety_id) DO UPDATE SET plants = plants + excluded.plants, clumps = clumps + excluded.clumps;

-- name: past_planting_gone
DELETE FROM past_planting WHERE variety_id = ?3;

-- name: offering
INSERT INTO offering (variety_id, released, offered, sold, beyond) SELECT ?2, released, offered, sold, beyond FROM offering WHERE variety_id = ?3
ON CONFLICT (variety_id) DO UPDATE SET released = MAX(released, excluded.released), offered = offered + excluded.offered,
    sold = sold + excluded.sold, beyond = beyond + excluded.beyond;

-- name: offering_gone
DELETE FROM offering WHERE variety_id = ?3;

-- What was said of both is added, quantile by quantile: as wide as it can be, for what makes one season good makes it for both.
-- name: said_of
INSERT INTO said_of (said_id, variety_id, expected, p05, p10, p25, p50, p75, p90, p95)
SELECT said_id, ?2, expected, p05, p10, p25, p50, p75, p90, p95 FROM said_of WHERE variety_id = ?3
ON CONFLICT (said_id, variety_id) DO UPDATE SET expected = expected + excluded.expected, p05 = p05 + excluded.p05,
    p10 = p10 + excluded.p10, p25 = p25 + excluded.p25, p50 = p50 + excluded.p50, p75 = p75 + excluded.p75,
    p90 = p90 + excluded.p90, p95 = p95 + excluded.p95;

-- name: said_of_gone
DELETE FROM said_of WHERE variety_id = ?3;

-- name: keep_said
INSERT INTO keep_said (variety_id, demand_low, demand_high, growth, cost, least)
SELECT ?2, demand_low, demand_high, growth, cost, least FROM keep_said WHERE variety_id = ?3 ON CONFLICT DO NOTHING;

-- name: keep_said_gone
DELETE FROM keep_said WHERE variety_id = ?3;

-- name: keep_change
INSERT INTO keep_change (run_id, variety_id, before, after) SELECT run_id, ?2, before, after FROM keep_change WHERE variety_id = ?3
ON CONFLICT (run_id, variety_id) DO UPDATE SET before = before + excluded.before, after = after + excluded.after;

-- name: keep_change_gone
DELETE FROM keep_change WHERE variety_id = ?3;

-- name: allocation
INSERT INTO allocation (line_id, variety_id, quantity, kind, run_id, reason, n1, n2, n3, n4)
SELECT line_id, ?2, quantity, kind, run_id, reason, n1, n2, n3, n4 FROM allocation WHERE variety_id = ?3
ON CONFLICT (line_id, variety_id) DO UPDATE SET quantity = quantity + excluded.quantity;

-- name: allocation_gone
DELETE FROM allocation WHERE variety_id = ?3;

-- What stood in the other's place is what was asked for.
-- name: allocation_own
UPDATE allocation SET kind = 'own' WHERE variety_id = ?2 AND kind = 'substitute'
    AND line_id IN (SELECT id FROM line WHERE variety_id IN (?2, ?3));

-- name: run_before
INSERT INTO run_before (run_id, line_id, variety_id, quantity, kind, of_run, reason, n1, n2, n3, n4)
SELECT run_id, line_id, ?2, quantity, kind, of_run, reason, n1, n2, n3, n4 FROM run_before WHERE variety_id = ?3
ON CONFLICT (run_id, line_id, variety_id) DO UPDATE SET quantity = quantity + excluded.quantity;

-- name: run_before_gone
DELETE FROM run_before WHERE variety_id = ?3;

-- name: run_before_own
UPDATE run_before SET kind = 'own' WHERE variety_id = ?2 AND kind = 'substitute'
    AND line_id IN (SELECT id FROM line WHERE variety_id IN (?2, ?3));

-- name: forbidden
INSERT INTO forbidden (line_id, variety_id, at, actor, why) SELECT line_id, ?2, at, actor, why FROM forbidden WHERE variety_id = ?3
ON CONFLICT DO NOTHING;

-- A variety that was asked for is not forbidden in its own place.
-- name: forbidden_gone
DELETE FROM forbidden WHERE variety_id = ?3 OR (variety_id = ?2 AND line_id IN (SELECT id FROM line WHERE variety_id = ?2));

-- name: variety
UPDATE variety SET hold_back = hold_back + (SELECT g.hold_back FROM variety g WHERE g.id = ?3),
    reserve = reserve + (SELECT g.reserve FROM variety g WHERE g.id = ?3), version = version + 1 WHERE id = ?2;

-- name: variety_gone
DELETE FROM variety WHERE id = ?3;

-- name: former
INSERT INTO former_code (code, variety_id, at, actor, why, merged) VALUES (?1, ?2, ?3, ?4, ?5, 1);

-- name: stood
INSERT INTO merging_stood (merging_id, part, figure) SELECT ?1, part, figure FROM variety_stands WHERE variety_id = ?2;

-- name: of_code
SELECT m.id, m.kept, m.kept_code, EXISTS (SELECT 1 FROM variety v WHERE v.id = m.kept) AS stands
FROM merging m WHERE m.gone_code = ?1 AND m.undone_at IS NULL ORDER BY m.id DESC LIMIT 1;

-- name: touched
SELECT s.part FROM merging_stood s JOIN merging m ON m.id = s.merging_id JOIN variety_stands v ON v.variety_id = m.kept AND v.part = s.part
WHERE s.merging_id = ?1 AND v.figure <> s.figure ORDER BY s.part LIMIT 1;

-- name: rows
SELECT COALESCE(SUM(part = 'lot'), 0) AS lots, COALESCE(SUM(part = 'line'), 0) AS lines, COALESCE(SUM(part = 'planting'), 0) AS plantings,
       COALESCE(SUM(part IN ('history', 'past_check')), 0) AS past
FROM merged_row WHERE merging_id = ?1;

-- The one that was gone, under its own code again; its number may have been given away.
-- name: back_variety
INSERT INTO variety (code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced, retired,
                     version, own_low, own_high)
SELECT json_extract(row, '$[1]'), json_extract(row, '$[2]'), json_extract(row, '$[3]'), json_extract(row, '$[4]'),
       json_extract(row, '$[5]'), json_extract(row, '$[6]'), json_extract(row, '$[7]'), json_extract(row, '$[8]'),
       json_extract(row, '$[9]'), json_extract(row, '$[10]'), json_extract(row, '$[11]'), json_extract(row, '$[12]'),
       json_extract(row, '$[13]') + 1, json_extract(row, '$[14]'), json_extract(row, '$[15]')
FROM merged_row WHERE merging_id = ?1 AND part = 'variety' AND json_extract(row, '$[0]') = 1;

-- name: back_kept
UPDATE variety SET hold_back = json_extract(m.row, '$[8]'), reserve = json_extract(m.row, '$[9]'), version = version + 1
FROM merged_row m WHERE m.merging_id = ?1 AND m.part = 'variety' AND json_extract(m.row, '$[0]') = 0 AND variety.id = ?2 AND variety.id <> ?3;

-- name: back_code
DELETE FROM former_code WHERE variety_id = ?2 AND code = (SELECT gone_code FROM merging WHERE id = ?1) AND ?3 > 0;

-- name: back_history
UPDATE history SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'history');

-- name: back_past_check
UPDATE past_check SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'past_check');

-- name: back_lot
UPDATE lot SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'lot');

-- name: back_line
UPDATE line SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'line');

-- name: back_oversell
UPDATE oversell SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'oversell');

-- name: back_taken_back
UPDATE taken_back SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'taken_back');

-- name: back_pick
UPDATE pick SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'pick');

-- name: back_put_back
UPDATE put_back SET variety_id = ?3 WHERE variety_id = ?2 AND id IN
    (SELECT json_extract(row, '$[0]') FROM merged_row WHERE merging_id = ?1 AND part = 'put_back');

-- name: back_planting
UPDATE planting SET variety_id = ?3, row = json_extract(m.row, '$[1]') FROM merged_row m
WHERE m.merging_id = ?1 AND m.part = 'planting' AND planting.id = json_extract(m.row, '$[0]') AND planting.variety_id = ?2;

-- name: back_former_code
UPDATE former_code SET variety_id = ?3, merged = json_extract(m.row, '$[1]') FROM merged_row m
WHERE m.merging_id = ?1 AND m.part = 'former_code' AND former_code.code = json_extract(m.row, '$[0]') AND former_code.variety_id = ?2;

-- name: back_relabelling
UPDATE relabelling SET was = CASE WHEN json_extract(m.row, '$[1]') THEN ?3 ELSE was END,
    became = CASE WHEN json_extract(m.row, '$[2]') THEN ?3 ELSE became END
FROM merged_row m WHERE m.merging_id = ?1 AND m.part = 'relabelling' AND relabelling.id = json_extract(m.row, '$[0]')
  AND ?2 IN (was, became);

-- name: back_release
UPDATE release SET variety_id = CASE WHEN json_extract(m.row, '$[1]') THEN ?3 ELSE ?2 END, before = json_extract(m.row, '$[2]'),
    offered = json_extract(m.row, '$[3]')
FROM merged_row m WHERE m.merging_id = ?1 AND m.part = 'release' AND release.id = json_extract(m.row, '$[0]');

-- name: back_past_sale_gone
DELETE FROM past_sale WHERE variety_id IN (?2, ?3) AND season IN
    (SELECT json_extract(row, '$[1]') FROM merged_row WHERE merging_id = ?1 AND part = 'past_sale');

-- name: back_past_sale
INSERT INTO past_sale (variety_id, season, sold, sold_out_on)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'), json_extract(row, '$[3]')
FROM merged_row WHERE merging_id = ?1 AND part = 'past_sale';

-- name: back_past_order_gone
DELETE FROM past_order WHERE variety_id IN (?2, ?3) AND (season, day) IN
    (SELECT json_extract(row, '$[1]'), json_extract(row, '$[2]') FROM merged_row WHERE merging_id = ?1 AND part = 'past_order');

-- name: back_past_order
INSERT INTO past_order (variety_id, season, day, quantity)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'), json_extract(row, '$[3]')
FROM merged_row WHERE merging_id = ?1 AND part = 'past_order';

-- name: back_past_planting_gone
DELETE FROM past_planting WHERE variety_id IN (?2, ?3) AND season IN
    (SELECT json_extract(row, '$[1]') FROM merged_row WHERE merging_id = ?1 AND part = 'past_planting');

-- name: back_past_planting
INSERT INTO past_planting (variety_id, season, plants, clumps)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'), json_extract(row, '$[3]')
FROM merged_row WHERE merging_id = ?1 AND part = 'past_planting';

-- name: back_offering_gone
DELETE FROM offering WHERE variety_id IN (?2, ?3) AND ?1 > 0;

-- name: back_offering
INSERT INTO offering (variety_id, released, offered, sold, beyond)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'),
       json_extract(row, '$[3]'), json_extract(row, '$[4]')
FROM merged_row WHERE merging_id = ?1 AND part = 'offering';

-- name: back_said_of_gone
DELETE FROM said_of WHERE variety_id IN (?2, ?3) AND said_id IN
    (SELECT json_extract(row, '$[1]') FROM merged_row WHERE merging_id = ?1 AND part = 'said_of');

-- name: back_said_of
INSERT INTO said_of (variety_id, said_id, expected, p05, p10, p25, p50, p75, p90, p95)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), CAST(json_extract(row, '$[2]') AS REAL),
       json_extract(row, '$[3]'), json_extract(row, '$[4]'), json_extract(row, '$[5]'), json_extract(row, '$[6]'),
       json_extract(row, '$[7]'), json_extract(row, '$[8]'), json_extract(row, '$[9]')
FROM merged_row WHERE merging_id = ?1 AND part = 'said_of';

-- name: back_keep_said_gone
DELETE FROM keep_said WHERE variety_id IN (?2, ?3) AND ?1 > 0;

-- name: back_keep_said
INSERT INTO keep_said (variety_id, demand_low, demand_high, growth, cost, least)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'),
       json_extract(row, '$[3]'), json_extract(row, '$[4]'), json_extract(row, '$[5]')
FROM merged_row WHERE merging_id = ?1 AND part = 'keep_said';

-- name: back_keep_change_gone
DELETE FROM keep_change WHERE variety_id IN (?2, ?3) AND run_id IN
    (SELECT json_extract(row, '$[1]') FROM merged_row WHERE merging_id = ?1 AND part = 'keep_change');

-- name: back_keep_change
INSERT INTO keep_change (variety_id, run_id, before, after)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'), json_extract(row, '$[3]')
FROM merged_row WHERE merging_id = ?1 AND part = 'keep_change';

-- name: back_allocation_gone
DELETE FROM allocation WHERE variety_id IN (?2, ?3) AND line_id IN
    (SELECT json_extract(row, '$[1]') FROM merged_row WHERE merging_id = ?1 AND part = 'allocation');

-- name: back_allocation
INSERT INTO allocation (variety_id, line_id, quantity, kind, run_id, reason, n1, n2, n3, n4)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'),
       json_extract(row, '$[3]'), json_extract(row, '$[4]'), json_extract(row, '$[5]'), json_extract(row, '$[6]'),
       json_extract(row, '$[7]'), json_extract(row, '$[8]'), json_extract(row, '$[9]')
FROM merged_row WHERE merging_id = ?1 AND part = 'allocation';

-- name: back_run_before_gone
DELETE FROM run_before WHERE variety_id IN (?2, ?3) AND (run_id, line_id) IN
    (SELECT json_extract(row, '$[4]'), json_extract(row, '$[1]') FROM merged_row WHERE merging_id = ?1 AND part = 'run_before');

-- name: back_run_before
INSERT INTO run_before (variety_id, line_id, quantity, kind, run_id, reason, n1, n2, n3, n4, of_run)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'),
       json_extract(row, '$[3]'), json_extract(row, '$[4]'), json_extract(row, '$[5]'), json_extract(row, '$[6]'),
       json_extract(row, '$[7]'), json_extract(row, '$[8]'), json_extract(row, '$[9]'), json_extract(row, '$[10]')
FROM merged_row WHERE merging_id = ?1 AND part = 'run_before';

-- name: back_forbidden_gone
DELETE FROM forbidden WHERE variety_id IN (?2, ?3) AND line_id IN
    (SELECT json_extract(row, '$[1]') FROM merged_row WHERE merging_id = ?1 AND part = 'forbidden');

-- name: back_forbidden
INSERT INTO forbidden (variety_id, line_id, at, actor, why)
SELECT CASE WHEN json_extract(row, '$[0]') THEN ?3 ELSE ?2 END, json_extract(row, '$[1]'), json_extract(row, '$[2]'),
       json_extract(row, '$[3]'), json_extract(row, '$[4]')
FROM merged_row WHERE merging_id = ?1 AND part = 'forbidden';

-- name: undone
UPDATE merging SET undone_at = ?2, undone_by = ?3 WHERE id = ?1;

-- name: drop_rows
DELETE FROM merged_row WHERE merging_id = ?1;

-- name: list
SELECT gone_code, kept_code, at, actor, why, undone_at, undone_by FROM merging ORDER BY id DESC;
