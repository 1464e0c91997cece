-- SPDX-License-Identifier: MIT
-- Waves, stops, parcels and picks.

-- Promised divisions of open orders that are neither pulled nor on an open pick list, in order of service. ?1 week
-- (orders without one come too) or null for all weeks; ?2 one order, whatever its week, or null.
-- name: wanted
SELECT o.id, o.number, o.customer, o.country, o.region,
       (SELECT z.zone FROM order_zone z WHERE z.order_id = o.id) AS zone, o.ship_week, o.pinned, o.ship_complete,
       CASE WHEN o.ship_complete THEN (SELECT SUM(l2.quantity) FROM line l2 WHERE l2.order_id = o.id)
            - COALESCE((SELECT SUM(a2.quantity) FROM line l2 JOIN allocation a2 ON a2.line_id = l2.id
                        WHERE l2.order_id = o.id), 0) ELSE 0 END AS missing,
       l.id AS line_id, l.line, l.all_or_none, a.variety_id, v.code,
       a.quantity - COALESCE((SELECT SUM(CASE WHEN k.state = 'open' THEN k.quantity ELSE k.taken END) FROM pick k
                              WHERE k.line_id = a.line_id AND k.variety_id = a.variety_id), 0) AS waits
       , EXISTS (SELECT 1 FROM blocked_order b WHERE b.order_id = o.id) AS blocked,
       EXISTS (SELECT 1 FROM unpaid_order u WHERE u.order_id = o.id) AS unpaid,
       CASE WHEN o.replaces IS NOT NULL THEN (SELECT c.lot_id FROM claim c WHERE c.replacement_id = o.id AND c.replacement_line = l.line) END AS lot
FROM orders o -- first, whatever the planner thinks: a week has few orders, the season has all promises
CROSS JOIN line l ON l.order_id = o.id
CROSS JOIN allocation a ON a.line_id = l.id
CROSS JOIN variety v ON v.id = a.variety_id
WHERE o.state = 'open'
  AND CASE WHEN ?2 IS NOT NULL THEN o.id = ?2 ELSE ?1 IS NULL OR o.ship_week = ?1 OR o.ship_week IS NULL END
  AND waits > 0
ORDER BY CASE o.tier WHEN 'wholesale' THEN 0 WHEN 'retail' THEN 1 WHEN '' THEN 1 ELSE 2 END, o.received_at, o.number,
         l.line, a.kind <> 'own', v.code;

-- Divisions that may leave, less those on open pick lists, with the day on which the lot's divisions were last known
-- sound: the last check of divisions, else the first cutting, else the first stock-take, else the digging; and whether a
-- packer missed some of it there and nobody has counted there (on a later day) or put any there since.
-- name: stock
SELECT b.lot_id, l.code AS lot, l.variety_id, b.place_id, p.code AS place, p.walk_order, b.divisions - COALESCE(q.pulling, 0) AS quantity,
       COALESCE((SELECT MAX(c.day) FROM storage_check c WHERE c.lot_id = l.id AND c.stage = 'division' AND c.reversed = 0),
                (SELECT MIN(d.day) FROM dividing d WHERE d.lot_id = l.id AND d.reversed = 0),
                (SELECT MIN(t.day) FROM stock_take t WHERE t.lot_id = l.id AND t.reversed = 0), l.dug_on) AS sound,
       m.at IS NOT NULL
       AND NOT EXISTS (SELECT 1 FROM movement x WHERE x.lot_id = b.lot_id AND x.place_id = b.place_id AND x.divisions > 0
                       AND x.at > m.at)
       AND NOT EXISTS (SELECT 1 FROM stock_take t WHERE t.lot_id = b.lot_id AND t.stage = 'division' AND t.reversed = 0
                       AND (t.place_id IS NULL OR t.place_id = b.place_id) AND t.day * 86400000 > m.at) AS missed
FROM balance b
JOIN lot l ON l.id = b.lot_id
JOIN place p ON p.id = b.place_id
LEFT JOIN (SELECT k.lot_id, s.place_id, SUM(k.quantity) AS pulling FROM pick k JOIN stop s ON s.id = k.stop_id
           WHERE k.state = 'open' GROUP BY k.lot_id, s.place_id) q ON q.lot_id = b.lot_id AND q.place_id = b.place_id
LEFT JOIN (SELECT k.lot_id, s.place_id, MAX(k.answered_at) AS at FROM pick k JOIN stop s ON s.id = k.stop_id
           WHERE k.short_reason = 'missing' GROUP BY k.lot_id, s.place_id) m ON m.lot_id = b.lot_id AND m.place_id = b.place_id
WHERE b.divisions > COALESCE(q.pulling, 0) AND l.held IS NULL
ORDER BY l.variety_id, b.lot_id, b.place_id;

-- name: add
INSERT INTO wave (week, at, actor) VALUES (?1, ?2, ?3);

-- name: add_stop
INSERT INTO stop (wave_id, stop, place_id) VALUES (?1, ?2, ?3);

-- name: add_parcel
INSERT INTO parcel (wave_id, order_id, slot) VALUES (?1, ?2, ?3);

-- name: add_pick
INSERT INTO pick (wave_id, stop_id, parcel_id, line_id, variety_id, lot_id, quantity, slot)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- The wave that a week's packers work on: an open one before a closed one, the newest first.
-- name: of_week
SELECT id, state FROM wave WHERE week = ?1 AND state <> 'dropped' ORDER BY state <> 'open', id DESC LIMIT 1;

-- name: one
SELECT week, state, at, actor FROM wave WHERE id = ?1;

-- name: list
SELECT w.id, w.week, w.state, w.at, w.actor,
       (SELECT COUNT(*) FROM stop s WHERE s.wave_id = w.id),
       (SELECT COUNT(*) FROM parcel p WHERE p.wave_id = w.id),
       (SELECT COUNT(*) FROM parcel p WHERE p.wave_id = w.id AND p.state = 'packed'),
       (SELECT COUNT(*) FROM parcel p WHERE p.wave_id = w.id AND p.state = 'shipped'),
       (SELECT COUNT(*) FROM pick k WHERE k.wave_id = w.id),
       (SELECT COUNT(*) FROM pick k WHERE k.wave_id = w.id AND k.state = 'open'),
       (SELECT COALESCE(SUM(k.quantity), 0) FROM pick k WHERE k.wave_id = w.id),
       (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.wave_id = w.id),
       -- Forgotten: its week is over, something is in it or to go in it, no hold keeps it, and it has not left.
       CASE WHEN w.week < ?3 THEN (SELECT COUNT(*) FROM parcel p WHERE p.wave_id = w.id AND p.state <> 'shipped'
           AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = p.id AND (k.state = 'open' OR k.taken > 0))
           AND NOT EXISTS (SELECT 1 FROM frost_bound f WHERE f.order_id = p.order_id AND ?3 BETWEEN f.first_week AND f.last_week))
           ELSE 0 END
FROM wave w WHERE w.state <> 'dropped' AND (?1 IS NULL OR w.week = ?1) ORDER BY w.id;

-- name: rows
SELECT s.stop, s.id AS stop_id, p.code AS place, p.room, s.taken_by, k.id, l.code AS lot, v.code AS variety, v.name, k.quantity, o.number, n.line, COALESCE(k.slot, c.in_slot, c.slot) AS slot,
       k.state, k.taken, k.short_reason, l.held, k.answered_by, k.answered_at, v.form, v.size, v.colour, c.id AS parcel,
       (SELECT f.reason FROM frost_bound f WHERE f.order_id = c.order_id AND c.state <> 'shipped'
        AND MAX(w.week, ?3) BETWEEN f.first_week AND f.last_week LIMIT 1) AS frost
FROM pick k
JOIN wave w ON w.id = k.wave_id
JOIN stop s ON s.id = k.stop_id
JOIN place p ON p.id = s.place_id
JOIN lot l ON l.id = k.lot_id
JOIN variety v ON v.id = k.variety_id
JOIN line n ON n.id = k.line_id
JOIN parcel c ON c.id = k.parcel_id
JOIN orders o ON o.id = c.order_id
WHERE k.wave_id = ?1
ORDER BY s.stop, v.code, l.code, COALESCE(k.slot, c.in_slot, c.slot), n.line, k.id;

-- name: parcels
SELECT c.id, o.number, COALESCE(c.in_slot, c.slot) AS slot, c.state, o.customer, o.postcode, o.country, o.region, o.email,
       COALESCE(SUM(k.quantity), 0) AS quantity, COALESCE(SUM(k.taken), 0) AS taken, COALESCE(SUM(k.state = 'open'), 0) AS open,
       c.weight_g, c.packed_at, c.packed_by, c.shipped_on, c.carrier, c.tracking, w.id AS wave, w.week, o.channel,
       (SELECT z.zone FROM order_zone z WHERE z.order_id = o.id) AS zone,
       (SELECT f.reason FROM frost_bound f WHERE f.order_id = c.order_id AND c.state <> 'shipped'
        AND MAX(w.week, ?3) BETWEEN f.first_week AND f.last_week LIMIT 1) AS frost,
       o.name2, o.phone, o.street, o.town,
       c.state <> 'shipped' AND EXISTS (SELECT 1 FROM unpaid_order u WHERE u.order_id = c.order_id) AS unpaid,
       c.state = 'packed' AND EXISTS (SELECT 1 FROM order_event e WHERE e.order_id = c.order_id AND e.kind = 'corrected'
           AND e.at > c.packed_at) AS corrected,
       -- Orders that travel together: the others in the box, whether another leads it, and what is in it in all.
       (SELECT group_concat(x.number, ', ') FROM parcel d JOIN orders x ON x.id = d.order_id
        WHERE d.wave_id = c.wave_id AND COALESCE(d.in_slot, d.slot) = COALESCE(c.in_slot, c.slot) AND d.id <> c.id
          AND EXISTS (SELECT 1 FROM pick y WHERE y.parcel_id = d.id AND (y.state = 'open' OR y.taken > 0))) AS joined,
       EXISTS (SELECT 1 FROM parcel d
        WHERE d.wave_id = c.wave_id AND COALESCE(d.in_slot, d.slot) = COALESCE(c.in_slot, c.slot) AND d.id < c.id
          AND d.state = c.state AND EXISTS (SELECT 1 FROM pick y WHERE y.parcel_id = d.id AND (y.state = 'open' OR y.taken > 0))) AS follows,
       (SELECT COALESCE(SUM(y.taken), 0) FROM parcel d JOIN pick y ON y.parcel_id = d.id
        WHERE d.wave_id = c.wave_id AND COALESCE(d.in_slot, d.slot) = COALESCE(c.in_slot, c.slot) AND d.state = c.state) AS box,
       -- Of a big order: all its slots; and the boxes beside the first.
       (SELECT CASE WHEN COUNT(*) > 1 THEN group_concat(x.slot, ', ') END
        FROM (SELECT DISTINCT COALESCE(y.slot, c.in_slot, c.slot) AS slot FROM pick y
              WHERE y.parcel_id = c.id AND (y.state = 'open' OR y.taken > 0) ORDER BY 1) x) AS slots,
       (SELECT COUNT(*) FROM box b WHERE b.parcel_id = c.id) AS further,
       (SELECT group_concat(b.tracking, ', ') FROM box b WHERE b.parcel_id = c.id) AS more,
       (SELECT group_concat(COALESCE(b.weight_g, 0), ',') FROM box b WHERE b.parcel_id = c.id) AS weights
FROM parcel c
JOIN wave w ON w.id = c.wave_id
JOIN orders o ON o.id = c.order_id
LEFT JOIN pick k ON k.parcel_id = c.id
WHERE w.state <> 'dropped' AND (?1 IS NULL OR w.id = ?1) AND (?2 IS NULL OR c.state = ?2)
GROUP BY c.id ORDER BY w.id, COALESCE(c.in_slot, c.slot), c.slot;

-- name: pick
SELECT k.wave_id, k.parcel_id, k.lot_id, s.place_id, k.quantity, k.state, k.taken, k.short_reason, k.answered_by,
       k.answered_at, c.state AS parcel_state, o.state AS order_state, o.number, n.line, l.code AS lot, l.held, v.code AS variety,
       COALESCE(a.quantity, 0) - COALESCE((SELECT SUM(CASE WHEN x.state = 'open' THEN x.quantity ELSE x.taken END)
                                           FROM pick x WHERE x.line_id = k.line_id AND x.variety_id = k.variety_id
                                             AND x.id <> k.id), 0) AS promised,
       c.order_id, (SELECT w.week FROM wave w WHERE w.id = k.wave_id) AS week, COALESCE(k.slot, c.in_slot, c.slot) AS slot
FROM pick k
JOIN stop s ON s.id = k.stop_id
JOIN parcel c ON c.id = k.parcel_id
JOIN orders o ON o.id = c.order_id
JOIN line n ON n.id = k.line_id
JOIN lot l ON l.id = k.lot_id
JOIN variety v ON v.id = k.variety_id
LEFT JOIN allocation a ON a.line_id = k.line_id AND a.variety_id = k.variety_id
WHERE k.id = ?1;

-- name: answer
UPDATE pick SET state = 'done', taken = ?2, short_reason = ?3, answered_at = ?4, answered_by = ?5
WHERE id = ?1 AND state = 'open';

-- name: reopen
UPDATE pick SET state = 'open', taken = 0, short_reason = NULL, answered_at = NULL, answered_by = NULL, quantity = ?2
WHERE id = ?1 AND state = 'done';

-- name: settle
UPDATE wave SET state = CASE WHEN EXISTS (SELECT 1 FROM pick k WHERE k.wave_id = wave.id AND k.state = 'open')
                             THEN 'open' ELSE 'closed' END
WHERE id = ?1 AND state <> 'dropped';

-- name: hold_lot
UPDATE lot SET held = ?2 WHERE id = ?1 AND held IS NULL;

-- name: stop
SELECT s.wave_id, s.stop, s.taken_by, s.taken_at, w.state, p.code
FROM stop s JOIN wave w ON w.id = s.wave_id JOIN place p ON p.id = s.place_id WHERE s.id = ?1;

-- name: take_stop
UPDATE stop SET taken_by = ?2, taken_at = ?3 WHERE id = ?1;

-- name: stops
SELECT s.stop, COUNT(k.id) AS picks, COALESCE(SUM(k.quantity), 0) AS quantity, COALESCE(SUM(k.state = 'open'), 0) AS open, p.code
FROM stop s JOIN place p ON p.id = s.place_id LEFT JOIN pick k ON k.stop_id = s.id
WHERE s.wave_id = ?1 GROUP BY s.id ORDER BY s.stop;

-- name: stop_at
SELECT id FROM stop WHERE wave_id = ?1 AND place_id = ?2 ORDER BY stop LIMIT 1;

-- name: last_stop
SELECT COALESCE(MAX(stop), 0) AS stop FROM stop WHERE wave_id = ?1;

-- name: answered_count
SELECT COUNT(*) AS answered FROM pick WHERE wave_id = ?1 AND state = 'done';

-- What is open of a parcel, off the list; and the parcel, if nothing else is in it.
-- name: take_off
DELETE FROM pick WHERE parcel_id = ?1 AND state = 'open';

-- name: drop_empty_parcel
DELETE FROM parcel WHERE id = ?1 AND NOT EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = parcel.id);

-- name: drop_picks
DELETE FROM pick WHERE wave_id = ?1 AND state = 'open';

-- name: drop_parcels
DELETE FROM parcel WHERE wave_id = ?1;

-- name: drop
UPDATE wave SET state = 'dropped' WHERE id = ?1;

-- name: parcel
SELECT c.wave_id, c.order_id, COALESCE(c.in_slot, c.slot) AS slot, c.state, o.number, o.state AS order_state, o.country, o.region, o.ship_complete,
       (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.parcel_id = c.id) AS taken,
       (SELECT COUNT(*) FROM pick k WHERE k.parcel_id = c.id AND k.state = 'open') AS open_picks,
       (SELECT COALESCE(SUM(n.quantity), 0) FROM line n WHERE n.order_id = c.order_id)
           - (SELECT COALESCE(SUM(k.taken), 0) FROM pick k JOIN parcel d ON d.id = k.parcel_id
              WHERE d.order_id = c.order_id) AS rest,
       (SELECT COUNT(*) FROM parcel d WHERE d.order_id = c.order_id AND d.id <> c.id AND d.state <> 'shipped'
           AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = d.id AND (k.taken > 0 OR k.state = 'open'))) AS others,
       (SELECT COUNT(*) FROM parcel d WHERE d.order_id = c.order_id AND d.id <> c.id AND d.state <> 'shipped'
           AND EXISTS (SELECT 1 FROM pick k JOIN lot l ON l.id = k.lot_id WHERE k.parcel_id = d.id
               AND (k.state = 'open' OR (k.taken > 0 AND (d.state <> 'packed' OR l.held IS NOT NULL))))) AS unready,
       (SELECT l.code || ' (' || l.held || ')' FROM pick k JOIN lot l ON l.id = k.lot_id
        WHERE k.parcel_id = c.id AND k.taken > 0 AND l.held IS NOT NULL ORDER BY l.code LIMIT 1) AS held,
       (SELECT w.week FROM wave w WHERE w.id = c.wave_id) AS week,
       EXISTS (SELECT 1 FROM unpaid_order u WHERE u.order_id = c.order_id) AS unpaid
FROM parcel c JOIN orders o ON o.id = c.order_id WHERE c.id = ?1;

-- name: parcel_lots
SELECT l.code AS lot, v.code AS variety, SUM(k.taken) AS taken FROM pick k JOIN lot l ON l.id = k.lot_id JOIN variety v ON v.id = k.variety_id
WHERE k.taken > 0 AND k.parcel_id IN (
    SELECT d.id FROM parcel c JOIN parcel d ON d.wave_id = c.wave_id AND d.state = c.state
        AND COALESCE(d.in_slot, d.slot) = COALESCE(c.in_slot, c.slot)
    WHERE c.id = ?1)
GROUP BY l.id ORDER BY l.code;

-- Parcels that lie in one slot with ?1 and are in its state, itself first; one in which nothing is and to which nothing comes is
-- none of them.
-- name: in_slot
SELECT d.id FROM parcel c JOIN parcel d ON d.wave_id = c.wave_id AND d.state = c.state
    AND COALESCE(d.in_slot, d.slot) = COALESCE(c.in_slot, c.slot)
WHERE c.id = ?1 AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = d.id AND (k.state = 'open' OR k.taken > 0))
ORDER BY d.id <> ?1, d.id LIMIT ?2;

-- name: pack
UPDATE parcel SET state = 'packed', weight_g = ?2, packed_at = ?3, packed_by = ?4 WHERE id = ?1;

-- name: unpack
UPDATE parcel SET state = 'open', weight_g = NULL, packed_at = NULL, packed_by = NULL WHERE id = ?1;

-- Boxes beside the first: closed with the parcel, sent under a number of their own, and no more of them than ?2.
-- name: box_packed
INSERT INTO box (parcel_id, number, weight_g) VALUES (?1, ?2, ?3);

-- name: box_sent
INSERT INTO box (parcel_id, number, tracking) VALUES (?1, ?2, ?3)
ON CONFLICT (parcel_id, number) DO UPDATE SET tracking = excluded.tracking;

-- name: boxes_off
DELETE FROM box WHERE parcel_id = ?1 AND number > ?2;

-- name: boxes_unsent
UPDATE box SET tracking = NULL WHERE parcel_id = ?1;

-- name: ship
UPDATE parcel SET state = 'shipped', shipped_on = ?2, carrier = ?3, tracking = ?4 WHERE id = ?1;

-- name: sent
SELECT o.number, c.carrier, c.tracking, c.shipped_on,
       (SELECT COUNT(*) FROM claim m WHERE m.order_id = o.id AND m.answer <> 'refused') AS claims,
       (SELECT group_concat(b.tracking, ', ') FROM box b WHERE b.parcel_id = c.id) AS more,
       (SELECT COUNT(*) FROM box b WHERE b.parcel_id = c.id) + 1 AS boxes
FROM parcel c JOIN orders o ON o.id = c.order_id WHERE c.id = ?1;

-- A parcel of another order than ?2 of which a box left under the number ?1.
-- name: sent_under like sent
SELECT o.number, c.carrier, c.tracking, c.shipped_on, 0 AS claims, NULL AS more, 1 AS boxes
FROM parcel c JOIN orders o ON o.id = c.order_id
WHERE c.state = 'shipped' AND c.order_id <> ?2
  AND (upper(replace(c.tracking, ' ', '')) = upper(replace(?1, ' ', ''))
       OR EXISTS (SELECT 1 FROM box b WHERE b.parcel_id = c.id AND upper(replace(b.tracking, ' ', '')) = upper(replace(?1, ' ', ''))))
ORDER BY c.id LIMIT 1;

-- name: unship
UPDATE parcel SET state = 'packed', shipped_on = NULL, carrier = NULL, tracking = NULL WHERE id = ?1;

-- name: order_open
UPDATE orders SET state = 'open', version = version + 1 WHERE id = ?1 AND state = 'shipped';

-- name: order_shipped
UPDATE orders SET state = 'shipped', version = version + 1 WHERE id = ?1 AND state = 'open';

-- name: order_event
INSERT INTO order_event (order_id, line_id, at, actor, kind, before, after, note) VALUES (?1, NULL, ?2, ?3, ?4, NULL, ?5, ?6);

-- Promised, not pulled and on no open pick list, of lines that a packer found short. ?1: a wave, or null.
-- name: shorts
SELECT k.wave_id, o.number, n.line, o.customer, v.id AS variety_id, v.code AS variety, v.name, k.short_reason, l.code AS lot, p.code AS place, k.answered_by,
       k.answered_at, n.consent, CASE WHEN o.paid = 0 THEN 0 ELSE n.unit_price END AS unit_price, c.id AS parcel, c.state,
       a.quantity - (SELECT SUM(CASE WHEN x.state = 'open' THEN x.quantity ELSE x.taken END) FROM pick x
                     WHERE x.line_id = a.line_id AND x.variety_id = a.variety_id) AS missing
FROM pick k
JOIN stop s ON s.id = k.stop_id
JOIN place p ON p.id = s.place_id
JOIN parcel c ON c.id = k.parcel_id
JOIN orders o ON o.id = c.order_id
JOIN line n ON n.id = k.line_id
JOIN lot l ON l.id = k.lot_id
JOIN variety v ON v.id = k.variety_id
JOIN allocation a ON a.line_id = k.line_id AND a.variety_id = k.variety_id
WHERE k.short_reason IS NOT NULL AND o.state = 'open' AND (?1 IS NULL OR k.wave_id = ?1)
  AND k.id = (SELECT MAX(y.id) FROM pick y WHERE y.line_id = k.line_id AND y.variety_id = k.variety_id
              AND y.short_reason IS NOT NULL)
  AND a.quantity > (SELECT SUM(CASE WHEN x.state = 'open' THEN x.quantity ELSE x.taken END) FROM pick x
                    WHERE x.line_id = a.line_id AND x.variety_id = a.variety_id)
ORDER BY k.answered_at DESC, k.id DESC;

-- What the papers say; the last column of tags and labels is what a scanner reads. Tags: each lot at each place where it lies; of all lots, of those of a wave (?1), or of one (?2).
-- name: tags
SELECT l.code, v.code, v.name, v.form, v.size, v.colour, l.row, p.code, p.room, b.divisions, b.clumps, l.held,
       l.code || CASE WHEN p.code <> '' THEN ' ' || p.code ELSE '' END
FROM balance b JOIN lot l ON l.id = b.lot_id JOIN place p ON p.id = b.place_id JOIN variety v ON v.id = l.variety_id
WHERE (b.divisions > 0 OR b.clumps > 0)
  AND CASE WHEN ?2 IS NOT NULL THEN l.code = ?2
           ELSE ?1 IS NULL OR EXISTS (SELECT 1 FROM pick k JOIN stop s ON s.id = k.stop_id
                                      WHERE k.wave_id = ?1 AND k.lot_id = l.id AND s.place_id = b.place_id) END
ORDER BY p.walk_order, p.id, v.code, l.code;

-- name: cut_tags
SELECT l.code, v.code, v.name, v.form, v.size, v.colour, l.row, p.code, p.room, d.saleable, 0, l.held,
       l.code || CASE WHEN p.code <> '' THEN ' ' || p.code ELSE '' END, d.day
FROM dividing d JOIN lot l ON l.id = d.lot_id JOIN place p ON p.id = d.place_id JOIN variety v ON v.id = l.variety_id
WHERE d.day = ?1 AND d.saleable > 0 AND d.reversed = 0 AND (?2 IS NULL OR l.code = ?2)
ORDER BY p.walk_order, p.id, v.code, l.code, d.id;

-- Each line of each parcel; by slot, or (?2 walk) as the walk completes them: by the last stop of what lies in one slot.
-- name: slips
SELECT c.id, COALESCE(c.in_slot, c.slot), c.state, o.number, o.customer, o.name2, o.street, o.town, o.postcode, o.country, o.region,
       o.language, n.line, v.code, v.name, SUM(CASE WHEN k.state = 'open' THEN k.quantity ELSE k.taken END), group_concat(DISTINCT l.code),
       CASE WHEN w.id <> k.variety_id THEN w.name END, n.assortment,
       (SELECT CASE WHEN COUNT(*) > 1 THEN group_concat(x.slot, ', ') END
        FROM (SELECT DISTINCT COALESCE(y.slot, c.in_slot, c.slot) AS slot FROM pick y
              WHERE y.parcel_id = c.id AND (y.state = 'open' OR y.taken > 0) ORDER BY 1) x),
       (SELECT group_concat(x.number, ', ') FROM parcel d JOIN orders x ON x.id = d.order_id
        WHERE d.wave_id = c.wave_id AND COALESCE(d.in_slot, d.slot) = COALESCE(c.in_slot, c.slot) AND d.id <> c.id
          AND EXISTS (SELECT 1 FROM pick y WHERE y.parcel_id = d.id AND (y.state = 'open' OR y.taken > 0)))
FROM pick k
JOIN parcel c ON c.id = k.parcel_id
JOIN orders o ON o.id = c.order_id
JOIN line n ON n.id = k.line_id
JOIN lot l ON l.id = k.lot_id
JOIN variety v ON v.id = k.variety_id
LEFT JOIN variety w ON w.id = n.variety_id
WHERE k.wave_id = ?1 AND (k.state = 'open' OR k.taken > 0)
GROUP BY c.id, n.id, v.id
ORDER BY CASE WHEN ?2 = 'walk' THEN
             (SELECT MAX(z.stop) FROM parcel d JOIN pick y ON y.parcel_id = d.id JOIN stop z ON z.id = y.stop_id
              WHERE d.wave_id = c.wave_id AND COALESCE(d.in_slot, d.slot) = COALESCE(c.in_slot, c.slot)
                AND (y.state = 'open' OR y.taken > 0)) END,
         COALESCE(c.in_slot, c.slot), c.slot, n.line, v.code;

-- Each line of the order of each parcel, also those of which nothing is in it: promised and in no parcel yet, and asked and neither
-- promised nor in a parcel.
-- name: slip_rest
SELECT c.id, n.id, n.line, COALESCE(v.name, n.assortment),
       MAX(a.firm - a.held, 0), MAX(n.quantity - MAX(a.firm, a.held), 0), 0
FROM parcel c
JOIN line n ON n.order_id = c.order_id
JOIN (SELECT l.id, COALESCE((SELECT SUM(x.quantity) FROM allocation x WHERE x.line_id = l.id), 0) AS firm,
             COALESCE((SELECT SUM(CASE WHEN k.state = 'open' AND k.wave_id = ?1 THEN k.quantity ELSE k.taken END)
                       FROM pick k WHERE k.line_id = l.id), 0) AS held
      FROM line l) a ON a.id = n.id
LEFT JOIN variety v ON v.id = n.variety_id
WHERE c.wave_id = ?1 AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = c.id AND (k.state = 'open' OR k.taken > 0))
ORDER BY COALESCE(c.in_slot, c.slot), c.slot, n.line;

-- In walking order, each pick with the slot and the order that it is for.
-- name: labels
SELECT v.code, v.name, v.form, v.colour, l.code, CASE WHEN k.state = 'open' THEN k.quantity ELSE k.taken END,
       l.code || ' ' || v.code, COALESCE(k.slot, c.in_slot, c.slot), o.number
FROM pick k JOIN stop s ON s.id = k.stop_id JOIN parcel c ON c.id = k.parcel_id JOIN orders o ON o.id = c.order_id
JOIN line n ON n.id = k.line_id JOIN lot l ON l.id = k.lot_id JOIN variety v ON v.id = k.variety_id
WHERE k.wave_id = ?1 AND (k.state = 'open' OR k.taken > 0)
ORDER BY s.stop, v.code, l.code, COALESCE(k.slot, c.in_slot, c.slot), n.line, k.id;
