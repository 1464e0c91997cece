-- SPDX-License-Identifier: MIT
-- Guarantee claims: divisions that failed at the buyer's.

-- What the line received, and what of it was claimed and not refused.
-- name: received
SELECT COALESCE((SELECT SUM(k.taken) FROM pick k JOIN parcel p ON p.id = k.parcel_id
                 WHERE k.line_id = ?1 AND p.state = 'shipped'), 0) AS received,
       COALESCE((SELECT SUM(c.quantity) FROM claim c WHERE c.line_id = ?1 AND c.answer <> 'refused'), 0) AS claimed;

-- name: add
INSERT INTO claim (order_id, line_id, quantity, at, actor, why, answer) VALUES (?1, ?2, ?3, ?4, ?5, ?6, 'open');

-- name: read
SELECT o.number, l.line, o.id AS order_id, l.id AS line_id, c.quantity, c.answer, l.unit_price,
       c.why = 'removed' AND COALESCE(o.customer, o.email, o.phone, o.street, o.postcode) IS NULL AS forgotten
FROM claim c JOIN orders o ON o.id = c.order_id JOIN line l ON l.id = c.line_id WHERE c.id = ?1;

-- name: answer
UPDATE claim SET answer = ?2, lot_id = ?3, amount = ?4, reply = ?5, answered_at = ?6, answered_by = ?7, replacement_id = ?8,
    reserve_used = ?9, replacement_line = ?10
WHERE id = ?1 AND answer = 'open';

-- Lots of what the line received (?1), or the one named (?2), that may leave, and a place where so many (?3) lie beside what
-- is on open pick lists; the ones longest in store first.
-- name: lots
SELECT lo.id, lo.code AS lot, lo.variety_id, v.code AS variety, v.reserve, b.place_id
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
        WHERE lo.variety_id = ?1 AND lo.held IS NULL) AS divisions,
       (SELECT COALESCE(SUM(a.quantity), 0) FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id
        WHERE a.variety_id = ?1 AND o.state = 'open')
         - (SELECT COALESCE(SUM(k.taken), 0) FROM pick k JOIN line l ON l.id = k.line_id JOIN orders o ON o.id = l.order_id
            WHERE k.variety_id = ?1 AND o.state = 'open') AS promised,
       (SELECT MAX(v.hold_back - COALESCE((SELECT divisions FROM planted WHERE variety_id = v.id), 0), 0)
        FROM variety v WHERE v.id = ?1) AS kept;

-- name: use_reserve
UPDATE variety SET reserve = reserve - MIN(reserve, ?2), version = version + 1 WHERE id = ?1 AND reserve > 0;

-- The order that replaces what was claimed (?1): to the same person and place, numbered ?2, received at ?3.
-- name: add_order
INSERT INTO orders (number, received_at, channel, tier, customer, name2, email, phone, street, town, postcode, country, region, language,
                    zone, replaces)
SELECT ?2, ?3, 'claim', o.tier, o.customer, o.name2, o.email, o.phone, o.street, o.town, o.postcode, o.country, o.region, o.language, o.zone, o.id
FROM claim c JOIN orders o ON o.id = c.order_id WHERE c.id = ?1;

-- name: add_line
INSERT INTO line (order_id, line, variety_id, quantity, first_asked, unit_price) VALUES (?1, ?2, ?3, ?4, ?4, 0);

-- A replacement (order ?1, its line ?2 or null: all of it) that is cancelled: its claim is open again, and the reserve has back
-- what it gave.
-- name: give_back
UPDATE variety SET version = version + 1, reserve = reserve
    + (SELECT SUM(c.reserve_used) FROM claim c JOIN line l ON l.order_id = c.replacement_id AND l.line = c.replacement_line
       WHERE c.replacement_id = ?1 AND (?2 IS NULL OR c.replacement_line = ?2) AND l.variety_id = variety.id)
WHERE id IN (SELECT l.variety_id FROM claim c JOIN line l ON l.order_id = c.replacement_id AND l.line = c.replacement_line
             WHERE c.replacement_id = ?1 AND (?2 IS NULL OR c.replacement_line = ?2) AND c.reserve_used > 0);

-- name: open_again
UPDATE claim SET answer = 'open', lot_id = NULL, reply = NULL, answered_at = NULL, answered_by = NULL, replacement_id = NULL,
    replacement_line = 1, reserve_used = 0
WHERE replacement_id = ?1 AND (?2 IS NULL OR replacement_line = ?2);

-- What a parcel (?1) that has left brought, by line, as far as it is not claimed yet.
-- name: of_parcel
SELECT o.number, l.line, MIN(SUM(k.taken),
       (SELECT COALESCE(SUM(x.taken), 0) FROM pick x JOIN parcel d ON d.id = x.parcel_id
        WHERE x.line_id = l.id AND d.state = 'shipped')
       - (SELECT COALESCE(SUM(c.quantity), 0) FROM claim c WHERE c.line_id = l.id AND c.answer <> 'refused')) AS quantity
FROM parcel p JOIN orders o ON o.id = p.order_id JOIN pick k ON k.parcel_id = p.id JOIN line l ON l.id = k.line_id
WHERE p.id = ?1 AND p.state = 'shipped' AND k.taken > 0 GROUP BY l.id ORDER BY l.line;

-- ?1: an answer (open, replace, refund, refused), or null.
-- name: list
SELECT c.id, o.number, l.line, o.customer, COALESCE(v.code, ''), COALESCE(v.name, l.assortment), c.quantity, c.at, c.why,
       c.answer, COALESCE((SELECT group_concat(DISTINCT g.code) FROM line n JOIN pick k ON k.line_id = n.id
                           JOIN lot g ON g.id = k.lot_id WHERE n.order_id = c.replacement_id AND n.line = c.replacement_line AND k.taken > 0), lo.code),
       c.amount, c.reply, c.answered_at, c.answered_by, r.number
FROM claim c JOIN orders o ON o.id = c.order_id JOIN line l ON l.id = c.line_id LEFT JOIN variety v ON v.id = l.variety_id
LEFT JOIN lot lo ON lo.id = c.lot_id
LEFT JOIN orders r ON r.id = c.replacement_id
WHERE ?1 IS NULL OR c.answer = ?1 ORDER BY c.answer <> 'open', c.id DESC;
