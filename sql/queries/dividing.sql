-- SPDX-License-Identifier: MIT

-- name: lots
SELECT l.id, COALESCE(p.code, '') AS place, COALESCE(p.room, '') AS room, COALESCE(p.walk_order, 1000000000) AS walk_order, l.held IS NOT NULL AS held,
       COALESCE(s.day, -1) AS kept_day, COALESCE(s.why, '') AS kept_why
FROM lot l
LEFT JOIN (SELECT lot_id, place_id, MAX(clumps) AS most FROM balance WHERE clumps > 0 GROUP BY lot_id) b ON b.lot_id = l.id
LEFT JOIN place p ON p.id = b.place_id
LEFT JOIN dividing_day s ON s.lot_id = l.id
WHERE b.most > 0 ORDER BY l.id;

-- name: sessions
SELECT l.variety_id, d.clumps, d.minutes, COALESCE(d.people, 1) AS people
FROM dividing d JOIN lot l ON l.id = d.lot_id
WHERE d.minutes IS NOT NULL AND d.clumps > 0 AND d.reversed = 0 ORDER BY d.id;

-- name: crew
SELECT day, cutters, washers, hours FROM crew_day ORDER BY day;

-- name: promised
SELECT a.variety_id, o.ship_week, SUM(a.quantity - COALESCE((SELECT SUM(k.taken) FROM pick k
    WHERE k.line_id = a.line_id AND k.variety_id = a.variety_id), 0)) AS q
FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id
WHERE o.state = 'open' AND o.ship_week IS NOT NULL
GROUP BY a.variety_id, o.ship_week HAVING q > 0 ORDER BY a.variety_id, o.ship_week;

-- name: released
SELECT MAX(at) AS at FROM release;

-- name: keep
INSERT INTO dividing_day (lot_id, day, why, at, actor) VALUES (?1, ?2, ?3, ?4, ?5)
ON CONFLICT (lot_id) DO UPDATE SET day = excluded.day, why = excluded.why, at = excluded.at, actor = excluded.actor;

-- name: let_go
DELETE FROM dividing_day WHERE lot_id = ?1;

-- name: lot
SELECT l.id, s.day, s.why FROM lot l LEFT JOIN dividing_day s ON s.lot_id = l.id WHERE l.code = ?1;

-- name: set_crew
INSERT INTO crew_day (day, cutters, washers, hours) VALUES (?1, ?2, ?3, ?4)
ON CONFLICT (day) DO UPDATE SET cutters = excluded.cutters, washers = excluded.washers, hours = excluded.hours;

-- Where most of a lot's clumps (stage 0) and of its divisions (1) lie.
-- name: crates
SELECT l.id, 0 AS divisions, COALESCE(p.code, '') AS place, COALESCE(p.room, '') AS room,
       COALESCE(p.walk_order, 1000000000) AS walk_order, l.held IS NOT NULL AS held
FROM lot l
JOIN (SELECT lot_id, place_id, MAX(clumps) AS most FROM balance WHERE clumps > 0 GROUP BY lot_id) b ON b.lot_id = l.id
LEFT JOIN place p ON p.id = b.place_id
UNION ALL
SELECT l.id, 1, COALESCE(p.code, ''), COALESCE(p.room, ''), COALESCE(p.walk_order, 1000000000), l.held IS NOT NULL
FROM lot l
JOIN (SELECT lot_id, place_id, MAX(divisions) AS most FROM balance WHERE divisions > 0 GROUP BY lot_id) b ON b.lot_id = l.id
LEFT JOIN place p ON p.id = b.place_id
ORDER BY 1, 2;

-- What lies where: places in walking order, a row for each lot at each, empty places once.
-- name: lying
SELECT p.id AS place_id, p.code, p.room, p.walk_order, b.lot_id, COALESCE(b.clumps, 0) AS clumps, COALESCE(b.divisions, 0) AS divisions,
       l.held IS NOT NULL AS held
FROM place p
LEFT JOIN balance b ON b.place_id = p.id AND (b.clumps > 0 OR b.divisions > 0)
LEFT JOIN lot l ON l.id = b.lot_id
WHERE p.id > 0 OR b.lot_id IS NOT NULL
ORDER BY p.walk_order, p.id, b.lot_id;
