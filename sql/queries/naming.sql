-- SPDX-License-Identifier: MIT
-- Wrong names put right: a variety's code, a lot's variety.

-- name: variety
SELECT v.id, v.code, v.name FROM variety_code c JOIN variety v ON v.id = c.variety_id WHERE c.code = ?1;

-- What bears the code: its own, and wishes that name it as a substitute.
-- name: reach
SELECT (SELECT COUNT(*) FROM lot WHERE variety_id = ?1) AS lots,
       (SELECT COUNT(*) FROM line WHERE variety_id = ?1) AS lines,
       (SELECT COUNT(*) FROM line WHERE instr(' ' || named || ' ', ' ' || ?2 || ' ') > 0) AS wishes,
       (SELECT COUNT(*) FROM history WHERE variety_id = ?1) AS history,
       (SELECT COUNT(*) FROM pick k JOIN wave w ON w.id = k.wave_id WHERE k.variety_id = ?1 AND k.state = 'open') AS picks,
       (SELECT COALESCE(SUM(a.quantity), 0) FROM allocation a WHERE a.variety_id = ?1)
       - (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.variety_id = ?1) AS firm,
       (SELECT COUNT(DISTINCT k.parcel_id) FROM pick k WHERE k.variety_id = ?1 AND k.taken > 0) AS parcels,
       (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.variety_id = ?1) AS taken,
       (SELECT COUNT(*) FROM notice n JOIN line l ON l.id = n.line_id WHERE l.variety_id = ?1 AND n.state = 'due') AS notices,
       (SELECT COUNT(*) FROM (SELECT season FROM history WHERE variety_id = ?1 UNION SELECT season FROM past_check WHERE variety_id = ?1
        UNION SELECT season FROM past_sale WHERE variety_id = ?1 UNION SELECT season FROM past_planting WHERE variety_id = ?1)) AS seasons,
       (SELECT COUNT(*) FROM planting WHERE variety_id = ?1) AS plantings;

-- name: rename
UPDATE variety SET code = ?2, version = version + 1 WHERE id = ?1;

-- The code that is taken again is no former one any more.
-- name: unformer
DELETE FROM former_code WHERE code = ?1;

-- name: former
INSERT INTO former_code (code, variety_id, at, actor, why) VALUES (?1, ?2, ?3, ?4, ?5);

-- name: formers
SELECT f.code, v.code AS variety, f.at, f.actor, f.why FROM former_code f JOIN variety v ON v.id = f.variety_id ORDER BY f.code;

-- name: lot
SELECT l.id, l.variety_id, l.dug_on, v.code AS variety, v.name AS name,
       (SELECT COALESCE(SUM(clumps), 0) FROM movement WHERE lot_id = l.id) AS clumps,
       (SELECT COALESCE(SUM(divisions), 0) FROM movement WHERE lot_id = l.id) AS divisions,
       (SELECT COUNT(*) FROM dividing WHERE lot_id = l.id AND reversed = 0) AS sessions,
       (SELECT COUNT(*) FROM storage_check WHERE lot_id = l.id AND reversed = 0) AS checks,
       (SELECT COUNT(*) FROM pick WHERE lot_id = l.id AND state = 'open') AS picks,
       (SELECT COALESCE(SUM(taken), 0) FROM pick WHERE lot_id = l.id) AS taken,
       (SELECT COUNT(DISTINCT parcel_id) FROM pick WHERE lot_id = l.id AND taken > 0) AS parcels
FROM lot l JOIN variety v ON v.id = l.variety_id WHERE l.code = ?1;

-- What is on hand of a variety, and what of it is promised firm and has not been taken yet.
-- name: promised
SELECT (SELECT COALESCE(SUM(m.clumps), 0) FROM movement m JOIN lot l ON l.id = m.lot_id WHERE l.variety_id = ?1) AS clumps,
       (SELECT COALESCE(SUM(m.divisions), 0) FROM movement m JOIN lot l ON l.id = m.lot_id WHERE l.variety_id = ?1) AS divisions,
       (SELECT COALESCE(SUM(a.quantity), 0) FROM allocation a WHERE a.variety_id = ?1)
       - (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.variety_id = ?1) AS firm,
       (SELECT COUNT(*) FROM notice n JOIN line l ON l.id = n.line_id WHERE l.variety_id = ?1 AND n.state = 'due') AS notices;

-- name: relabel
UPDATE lot SET variety_id = ?2 WHERE id = ?1;

-- name: relabelled
INSERT INTO relabelling (lot_id, was, became, at, actor, why) VALUES (?1, ?2, ?3, ?4, ?5, ?6);
