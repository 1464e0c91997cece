-- SPDX-License-Identifier: MIT

-- name: lot
SELECT l.code, v.code, v.name, l.row, l.dug_on, l.held, l.id FROM lot l JOIN variety v ON v.id = l.variety_id WHERE l.code = ?1;

-- name: order
SELECT id, state FROM orders WHERE number = ?1;

-- name: of_lot
SELECT l.code, v.code, l.row, l.dug_on, o.number, n.line, o.customer, o.email, o.postcode, o.country, w.week, COALESCE(p.in_slot, p.slot), p.state,
       p.shipped_on, k.taken, CASE WHEN o.replaces IS NULL THEN 'picked' ELSE 'claim' END,
       (SELECT t.state FROM notice t WHERE t.order_id = o.id AND t.line_id = n.id AND t.kind = 'recall'
          AND t.fact LIKE 'recall:line' || n.id || ':lot' || l.id || ':%' ORDER BY t.id DESC LIMIT 1)
FROM pick k JOIN lot l ON l.id = k.lot_id JOIN variety v ON v.id = k.variety_id JOIN line n ON n.id = k.line_id
JOIN orders o ON o.id = n.order_id JOIN parcel p ON p.id = k.parcel_id JOIN wave w ON w.id = k.wave_id
WHERE l.code = ?1 AND k.taken > 0
UNION ALL
SELECT l.code, v.code, l.row, l.dug_on, o.number, n.line, o.customer, o.email, o.postcode, o.country, NULL, NULL, 'replaced',
       CAST(c.at / 86400000 AS INTEGER), c.quantity, 'claim',
       (SELECT t.state FROM notice t WHERE t.order_id = o.id AND t.line_id = n.id AND t.kind = 'recall'
          AND t.fact LIKE 'recall:line' || n.id || ':lot' || l.id || ':%' ORDER BY t.id DESC LIMIT 1)
FROM claim c JOIN lot l ON l.id = c.lot_id JOIN variety v ON v.id = l.variety_id JOIN line n ON n.id = c.line_id
JOIN orders o ON o.id = c.order_id
WHERE l.code = ?1 AND c.answer = 'replace' AND c.replacement_id IS NULL
ORDER BY 5, 6;

-- name: of_order
SELECT l.code, v.code, l.row, l.dug_on, o.number, n.line, o.customer, o.email, o.postcode, o.country, w.week, COALESCE(p.in_slot, p.slot), p.state,
       p.shipped_on, k.taken, CASE WHEN o.replaces IS NULL THEN 'picked' ELSE 'claim' END,
       (SELECT t.state FROM notice t WHERE t.order_id = o.id AND t.line_id = n.id AND t.kind = 'recall'
          AND t.fact LIKE 'recall:line' || n.id || ':lot' || l.id || ':%' ORDER BY t.id DESC LIMIT 1)
FROM pick k JOIN lot l ON l.id = k.lot_id JOIN variety v ON v.id = k.variety_id JOIN line n ON n.id = k.line_id
JOIN orders o ON o.id = n.order_id JOIN parcel p ON p.id = k.parcel_id JOIN wave w ON w.id = k.wave_id
WHERE (o.number = ?1 OR o.replaces = (SELECT r.id FROM orders r WHERE r.number = ?1)) AND k.taken > 0
UNION ALL
SELECT l.code, v.code, l.row, l.dug_on, o.number, n.line, o.customer, o.email, o.postcode, o.country, NULL, NULL, 'replaced',
       CAST(c.at / 86400000 AS INTEGER), c.quantity, 'claim',
       (SELECT t.state FROM notice t WHERE t.order_id = o.id AND t.line_id = n.id AND t.kind = 'recall'
          AND t.fact LIKE 'recall:line' || n.id || ':lot' || l.id || ':%' ORDER BY t.id DESC LIMIT 1)
FROM claim c JOIN lot l ON l.id = c.lot_id JOIN variety v ON v.id = l.variety_id JOIN line n ON n.id = c.line_id
JOIN orders o ON o.id = c.order_id
WHERE o.number = ?1 AND c.answer = 'replace' AND c.replacement_id IS NULL
ORDER BY 6, 1;

-- name: balance
SELECT v.code, v.name,
       SUM(CASE WHEN m.reason = 'dug' THEN m.clumps ELSE 0 END),
       SUM(CASE WHEN m.reason = 'found' THEN m.clumps ELSE 0 END),
       -SUM(CASE WHEN m.reason = 'divided' THEN m.clumps ELSE 0 END),
       -SUM(CASE WHEN m.reason = 'rotten' THEN m.clumps ELSE 0 END),
       -SUM(CASE WHEN m.reason IN ('discarded', 'missing') THEN m.clumps ELSE 0 END),
       SUM(CASE WHEN m.reason = 'moved' THEN m.clumps ELSE 0 END),
       SUM(m.clumps),
       SUM(CASE WHEN m.reason = 'made' THEN m.divisions ELSE 0 END),
       SUM(CASE WHEN m.reason = 'found' THEN m.divisions ELSE 0 END),
       -SUM(CASE WHEN m.reason = 'rotten' THEN m.divisions ELSE 0 END),
       -SUM(CASE WHEN m.reason = 'shrivelled' THEN m.divisions ELSE 0 END),
       -SUM(CASE WHEN m.reason IN ('discarded', 'missing') THEN m.divisions ELSE 0 END),
       -SUM(CASE WHEN m.reason = 'planted' THEN m.divisions ELSE 0 END),
       -SUM(CASE WHEN m.reason IN ('picked', 'returned') THEN m.divisions ELSE 0 END),
       SUM(CASE WHEN m.reason = 'moved' THEN m.divisions ELSE 0 END),
       SUM(m.divisions),
       (SELECT COALESCE(SUM(k.taken), 0) FROM pick k JOIN parcel p ON p.id = k.parcel_id
        WHERE k.variety_id = v.id AND p.state = 'shipped')
FROM variety v JOIN lot l ON l.variety_id = v.id JOIN movement m ON m.lot_id = l.id
GROUP BY v.id ORDER BY v.code;

-- name: held
SELECT held FROM lot WHERE code = ?1;

-- name: hold
UPDATE lot SET held = ?2 WHERE code = ?1 AND (?3 OR held IS NULL);
