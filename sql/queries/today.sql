-- SPDX-License-Identifier: MIT
-- What wants doing (core/desk/today/today.def): what, how many, the worst, money, a day. ?1 today, ?2 this week.

-- Fast is a hundredth of a crate's weight in a week (common practice, no source), between its last two weighings.
-- name: winter
WITH weighed AS (
    SELECT lot_id, day, kg, LAG(kg) OVER crate AS kg_before, LAG(day) OVER crate AS day_before,
           ROW_NUMBER() OVER (PARTITION BY sample ORDER BY day DESC) AS back
    FROM weighing WHERE day <= ?1 AND ?2 > 0 WINDOW crate AS (PARTITION BY sample ORDER BY day)
), fast AS (
    SELECT w.lot_id, (w.kg_before - w.kg) / w.kg_before * 7 / (w.day - w.day_before) AS a_week FROM weighed w
    WHERE w.back = 1 AND w.day > w.day_before AND EXISTS (SELECT 1 FROM balance b WHERE b.lot_id = w.lot_id AND b.clumps + b.divisions > 0)
)
SELECT 'drying', COUNT(DISTINCT f.lot_id),
       (SELECT l.code FROM fast x JOIN lot l ON l.id = x.lot_id WHERE x.a_week >= 0.01 ORDER BY x.a_week DESC, l.code LIMIT 1), NULL, NULL
FROM fast f WHERE f.a_week >= 0.01
UNION ALL
SELECT 'release', COUNT(*), NULL, NULL, MAX(at) / 86400000 FROM release;

-- name: orders
SELECT 'forgotten', COUNT(*), MIN(o.number), NULL, NULL
FROM wave w JOIN parcel p ON p.wave_id = w.id AND p.state <> 'shipped' JOIN orders o ON o.id = p.order_id
WHERE w.week < ?2 AND w.state <> 'dropped'
  AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = p.id AND (k.state = 'open' OR k.taken > 0))
  AND NOT EXISTS (SELECT 1 FROM frost_bound f WHERE f.order_id = p.order_id AND ?2 BETWEEN f.first_week AND f.last_week)
UNION ALL
SELECT 'notices_late', COUNT(*), (SELECT o.number FROM notice m JOIN orders o ON o.id = m.order_id
    WHERE m.state = 'due' AND m.due_on < ?1 ORDER BY m.due_on, m.id LIMIT 1), NULL, MIN(n.due_on)
FROM notice n WHERE n.state = 'due' AND n.due_on < ?1
UNION ALL
SELECT 'notices', COUNT(*), NULL, NULL, MIN(n.due_on) FROM notice n WHERE n.state = 'due' AND n.due_on BETWEEN ?1 AND ?1 + 6
UNION ALL
SELECT 'refunds', COUNT(*), NULL, SUM(n.amount), MIN(n.due_on) FROM notice n
WHERE n.state = 'due' AND n.kind = 'refund' AND n.due_on <= ?1 + 6
UNION ALL
SELECT 'frost', COUNT(DISTINCT p.order_id), MIN(o.number), NULL, NULL
FROM frost_bound f JOIN parcel p ON p.order_id = f.order_id AND p.state <> 'shipped' JOIN orders o ON o.id = p.order_id
JOIN wave w ON w.id = p.wave_id AND w.state <> 'dropped'
WHERE MAX(w.week, ?2) BETWEEN f.first_week AND f.last_week
UNION ALL
SELECT 'blocked', COUNT(*), MIN(o.number), NULL, NULL FROM blocked_order b JOIN orders o ON o.id = b.order_id WHERE o.state = 'open'
UNION ALL
SELECT 'unsettled', COUNT(*), MIN(o.number), NULL, NULL
FROM pick k JOIN parcel c ON c.id = k.parcel_id JOIN orders o ON o.id = c.order_id
JOIN allocation a ON a.line_id = k.line_id AND a.variety_id = k.variety_id
WHERE k.short_reason IS NOT NULL AND o.state = 'open'
  AND k.id = (SELECT MAX(y.id) FROM pick y WHERE y.line_id = k.line_id AND y.variety_id = k.variety_id
              AND y.short_reason IS NOT NULL)
  AND a.quantity > (SELECT SUM(CASE WHEN x.state = 'open' THEN x.quantity ELSE x.taken END) FROM pick x
                    WHERE x.line_id = a.line_id AND x.variety_id = a.variety_id)
UNION ALL
SELECT 'claims', COUNT(*), MIN(o.number), NULL, NULL FROM claim c JOIN orders o ON o.id = c.order_id WHERE c.answer = 'open'
UNION ALL
-- Once shares were made firm: who was taken since, or got less than was asked.
SELECT 'unpromised', COUNT(DISTINCT l.order_id), NULL, NULL, NULL
FROM line l JOIN orders o ON o.id = l.order_id AND o.state = 'open'
WHERE EXISTS (SELECT 1 FROM run r WHERE r.what = 'allocate' AND r.digest <> '' AND r.id NOT IN (SELECT run_id FROM run_undone))
  AND l.quantity > COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id), 0)
UNION ALL
SELECT 'no_week', COUNT(*), MIN(o.number), NULL, NULL FROM orders o
WHERE o.state = 'open' AND o.ship_week IS NULL AND EXISTS (SELECT 1 FROM line l WHERE l.order_id = o.id AND l.quantity > 0)
  AND NOT EXISTS (SELECT 1 FROM blocked_order b WHERE b.order_id = o.id);

-- A row is to be dug from seven months before shipping on, until then (common practice, no source); one that was begun counts for a
-- week more, then what is left of it is taken for dead. What stands is what the last walk left, less what was dug since.
-- A lot waits for a look when it has stock and nobody opened it for three weeks (common practice, no source); the worst is the one
-- with most in store times days.
-- name: cellar
WITH open_stop AS (
    SELECT DISTINCT k.stop_id, w.id AS wave FROM pick k JOIN wave w ON w.id = k.wave_id
    WHERE k.state = 'open' AND w.state = 'open' AND ?2 > 0
), waits AS (
    SELECT l.code, SUM(b.clumps + b.divisions) AS pieces,
           ?1 - MAX(l.dug_on, COALESCE((SELECT MAX(c.day) FROM storage_check c WHERE c.lot_id = l.id AND c.reversed = 0), 0),
                    COALESCE((SELECT MAX(d.day) FROM dividing d WHERE d.lot_id = l.id AND d.reversed = 0), 0)) AS days
    FROM balance b JOIN lot l ON l.id = b.lot_id WHERE b.clumps + b.divisions > 0 GROUP BY l.id
), walked AS (
    SELECT planting_id, day, alive - rogued AS left, ROW_NUMBER() OVER (PARTITION BY planting_id ORDER BY day DESC, id DESC) AS back
    FROM field_round WHERE reversed = 0
), stands AS (
    SELECT p.row, COALESCE(w.left, p.plants) - COALESCE((SELECT SUM(l.clumps + l.culled) FROM lot l
               WHERE l.planting_id = p.id AND l.dug_on >= COALESCE(w.day, 0)), 0) AS plants,
           (SELECT MAX(l.dug_on) FROM lot l WHERE l.planting_id = p.id AND l.clumps + l.culled > 0) AS dug_on
    FROM planting p JOIN nursery n ON ?1 BETWEEN n.ship_day - 210 AND n.ship_day
    LEFT JOIN walked w ON w.planting_id = p.id AND w.back = 1 WHERE p.entry_id IS NULL AND p.row IS NOT NULL
)
SELECT 'walk', COUNT(*), MIN(wave), NULL, NULL FROM open_stop
UNION ALL
SELECT 'pack', COUNT(*), MIN(p.wave_id), NULL, NULL FROM parcel p JOIN wave w ON w.id = p.wave_id
WHERE p.state = 'open' AND w.state <> 'dropped'
  AND NOT EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = p.id AND k.state = 'open')
  AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = p.id AND k.taken > 0)
UNION ALL
SELECT 'send', COUNT(*), MIN(p.wave_id), NULL, NULL FROM parcel p JOIN wave w ON w.id = p.wave_id
WHERE p.state = 'packed' AND w.state <> 'dropped'
UNION ALL
SELECT 'cut', COUNT(*), MIN(l.code), NULL, MIN(d.day) FROM dividing_day d JOIN lot l ON l.id = d.lot_id AND l.held IS NULL
WHERE d.day <= ?1 AND EXISTS (SELECT 1 FROM balance b WHERE b.lot_id = l.id AND b.clumps > 0)
UNION ALL
SELECT 'wash', COUNT(*), MIN(l.code), NULL, MIN(d.day) FROM dividing_day d JOIN lot l ON l.id = d.lot_id AND l.held IS NULL
WHERE d.why <> 'washed' AND d.day = (SELECT MIN(n.day) FROM dividing_day n WHERE n.day > ?1) AND d.day <= ?1 + 4
  AND EXISTS (SELECT 1 FROM balance b WHERE b.lot_id = l.id AND b.clumps > 0)
UNION ALL
SELECT 'dig', COUNT(DISTINCT row), (SELECT s.row FROM stands s WHERE s.plants > 0 AND (s.dug_on IS NULL OR ?1 - s.dug_on <= 7)
    ORDER BY s.plants DESC, s.row LIMIT 1), NULL, NULL
FROM stands WHERE plants > 0 AND (dug_on IS NULL OR ?1 - dug_on <= 7)
UNION ALL
SELECT 'check', COUNT(*), (SELECT w.code FROM waits w WHERE w.days >= 21 ORDER BY w.pieces * w.days DESC, w.code LIMIT 1), NULL, NULL
FROM waits WHERE days >= 21;

-- How far a file has begun.
-- name: begun
SELECT 'varieties', (SELECT COUNT(*) FROM variety)
UNION ALL SELECT 'places', (SELECT COUNT(*) FROM place WHERE id > 0)
UNION ALL SELECT 'lots', (SELECT COUNT(*) FROM lot)
UNION ALL SELECT 'history', (SELECT COUNT(*) FROM history)
UNION ALL SELECT 'past_checks', (SELECT COUNT(*) FROM past_check)
UNION ALL SELECT 'zones', (SELECT COUNT(*) FROM zone)
UNION ALL SELECT 'orders', (SELECT COUNT(*) FROM orders)
UNION ALL SELECT 'stocked', (SELECT COUNT(DISTINCT l.variety_id) FROM balance b JOIN lot l ON l.id = b.lot_id
                             WHERE b.clumps + b.divisions > 0)
UNION ALL SELECT 'people', (SELECT COUNT(*) FROM person);
