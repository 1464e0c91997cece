-- SPDX-License-Identifier: MIT
-- Guarantee claims: divisions that failed at the buyer's.

-- What the line received, and what of it was claimed and not refused.
-- name: received
SELECT COALESCE((SELECT SUM(k.taken) FROM pick k JOIN parcel p ON p.id = k.parcel_id
                 WHERE k.line_id = ?1 AND p.state = 'shipped'), 0),
       COALESCE((SELECT SUM(c.quantity) FROM claim c WHERE c.line_id = ?1 AND c.answer <> 'refused'), 0);

-- name: add
INSERT INTO claim (order_id, line_id, quantity, at, actor, why, answer) VALUES (?1, ?2, ?3, ?4, ?5, ?6, 'open');

-- name: read
SELECT o.number, l.line, o.id, l.id, c.quantity, c.answer, l.unit_price
FROM claim c JOIN orders o ON o.id = c.order_id JOIN line l ON l.id = c.line_id WHERE c.id = ?1;

-- name: answer
UPDATE claim SET answer = ?2, lot_id = ?3, amount = ?4, reply = ?5, answered_at = ?6, answered_by = ?7
WHERE id = ?1 AND answer = 'open';

-- Lots of what the line received (?1), or the one named (?2), that may leave, and a place where so many (?3) lie beside what
-- is on open pick lists; the ones longest in store first.
-- name: lots
SELECT lo.id, lo.code, lo.variety_id, v.code, v.reserve, b.place_id
FROM balance b JOIN lot lo ON lo.id = b.lot_id JOIN variety v ON v.id = lo.variety_id
WHERE lo.held IS NULL AND (?2 IS NULL OR lo.code = ?2)
  AND lo.variety_id IN (SELECT k.variety_id FROM pick k JOIN parcel p ON p.id = k.parcel_id
                        WHERE k.line_id = ?1 AND k.taken > 0 AND p.state = 'shipped')
  AND b.divisions - (SELECT COALESCE(SUM(k.quantity), 0) FROM pick k JOIN stop s ON s.id = k.stop_id
                     WHERE k.lot_id = lo.id AND s.place_id = b.place_id AND k.state = 'open') >= ?3
ORDER BY lo.variety_id <> COALESCE((SELECT l.variety_id FROM line l WHERE l.id = ?1), 0), lo.dug_on, lo.code LIMIT 1;

-- Of a variety: on hand and may leave; promised in open orders and not pulled; hold-back not planted yet.
-- name: standing
SELECT (SELECT COALESCE(SUM(b.divisions), 0) FROM balance b JOIN lot lo ON lo.id = b.lot_id
        WHERE lo.variety_id = ?1 AND lo.held IS NULL),
       (SELECT COALESCE(SUM(a.quantity), 0) FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id
        WHERE a.variety_id = ?1 AND o.state = 'open')
         - (SELECT COALESCE(SUM(k.taken), 0) FROM pick k JOIN line l ON l.id = k.line_id JOIN orders o ON o.id = l.order_id
            WHERE k.variety_id = ?1 AND o.state = 'open'),
       (SELECT MAX(v.hold_back - COALESCE((SELECT divisions FROM planted WHERE variety_id = v.id), 0), 0)
        FROM variety v WHERE v.id = ?1);

-- name: use_reserve
UPDATE variety SET reserve = reserve - MIN(reserve, ?2), version = version + 1 WHERE id = ?1 AND reserve > 0;

-- ?1: an answer (open, replace, refund, refused), or null.
-- name: list
SELECT c.id, o.number, l.line, o.customer, COALESCE(v.code, ''), COALESCE(v.name, l.assortment), c.quantity, c.at, c.why,
       c.answer, lo.code, c.amount, c.reply, c.answered_at, c.answered_by
FROM claim c JOIN orders o ON o.id = c.order_id JOIN line l ON l.id = c.line_id LEFT JOIN variety v ON v.id = l.variety_id
LEFT JOIN lot lo ON lo.id = c.lot_id
WHERE ?1 IS NULL OR c.answer = ?1 ORDER BY c.answer <> 'open', c.id DESC;
