-- SPDX-License-Identifier: MIT
-- What must always hold. Every query returns no row, or rows (one text column) that say what is broken.

-- name: balances
SELECT 'lot ' || l.code || ' at place ' || p.code || ': the balance is not the sum of its movements'
FROM (SELECT lot_id, place_id, SUM(clumps) AS c, SUM(divisions) AS d FROM movement GROUP BY lot_id, place_id) m
JOIN lot l ON l.id = m.lot_id JOIN place p ON p.id = m.place_id
LEFT JOIN balance b ON b.lot_id = m.lot_id AND b.place_id = m.place_id
WHERE b.lot_id IS NULL OR b.clumps <> m.c OR b.divisions <> m.d;

-- name: balances_without_movements
SELECT 'lot ' || l.code || ' has a balance without movements'
FROM balance b JOIN lot l ON l.id = b.lot_id
WHERE NOT EXISTS (SELECT 1 FROM movement m WHERE m.lot_id = b.lot_id AND m.place_id = b.place_id);

-- name: stock_by_day
SELECT 'lot ' || l.code || ': less than nothing on hand at the end of day ' || s.day
FROM (SELECT lot_id, day, SUM(SUM(clumps)) OVER w AS c, SUM(SUM(divisions)) OVER w AS d
      FROM movement GROUP BY lot_id, day WINDOW w AS (PARTITION BY lot_id ORDER BY day)) s
JOIN lot l ON l.id = s.lot_id
WHERE s.c < 0 OR s.d < 0;

-- name: clumps_dug
SELECT 'lot ' || l.code || ': clumps dug and found are not those on hand, divided, rotten, discarded and missing'
FROM lot l
LEFT JOIN (SELECT lot_id, SUM(clumps) AS parted FROM (SELECT lot_id, clumps FROM lot_split WHERE reversed = 0
           UNION ALL SELECT from_id, -clumps FROM lot_split WHERE reversed = 0) GROUP BY lot_id) s ON s.lot_id = l.id
LEFT JOIN (SELECT lot_id, SUM(clumps) AS now FROM balance GROUP BY lot_id) b ON b.lot_id = l.id
LEFT JOIN (SELECT lot_id,
    SUM(CASE WHEN reason IN ('dug', 'found') THEN clumps ELSE 0 END) AS came,
    SUM(CASE WHEN reason IN ('divided', 'rotten', 'discarded', 'missing') THEN -clumps ELSE 0 END) AS went
    FROM movement GROUP BY lot_id) m ON m.lot_id = l.id
WHERE COALESCE(m.came, 0) + COALESCE(s.parted, 0) <> COALESCE(b.now, 0) + COALESCE(m.went, 0);

-- name: divisions_made
SELECT 'lot ' || l.code || ': divisions made and found are not those on hand, picked, rotten, shrivelled, planted, discarded and missing'
FROM lot l
LEFT JOIN (SELECT lot_id, SUM(divisions) AS parted FROM (SELECT lot_id, divisions FROM lot_split WHERE reversed = 0
           UNION ALL SELECT from_id, -divisions FROM lot_split WHERE reversed = 0) GROUP BY lot_id) s ON s.lot_id = l.id
LEFT JOIN (SELECT lot_id, SUM(divisions) AS now FROM balance GROUP BY lot_id) b ON b.lot_id = l.id
LEFT JOIN (SELECT lot_id,
    SUM(CASE WHEN reason IN ('made', 'found', 'returned') THEN divisions ELSE 0 END) AS came,
    SUM(CASE WHEN reason IN ('picked', 'rotten', 'shrivelled', 'planted', 'discarded', 'missing') THEN -divisions ELSE 0 END) AS went
    FROM movement GROUP BY lot_id) m ON m.lot_id = l.id
WHERE COALESCE(m.came, 0) + COALESCE(s.parted, 0) <> COALESCE(b.now, 0) + COALESCE(m.went, 0);

-- name: lots_dug
SELECT 'lot ' || l.code || ': ' || l.clumps || ' clumps on its tag, but the ledger has ' || COALESCE(m.dug, 0)
FROM lot l
LEFT JOIN (SELECT lot_id, SUM(clumps) AS dug FROM movement WHERE reason = 'dug' GROUP BY lot_id) m ON m.lot_id = l.id
WHERE COALESCE(m.dug, 0) <> l.clumps;

-- name: moves_cancel
SELECT 'move ' || cause_id || ' does not put down what it took up'
FROM movement WHERE reason = 'moved' GROUP BY cause_id HAVING SUM(clumps) <> 0 OR SUM(divisions) <> 0;

-- Between two lots only as a part that was split off, whole, on its day.
-- name: splits_in_ledger
SELECT 'lot ' || l.code || ': the part that was split off is not what the ledger moved'
FROM lot_split s JOIN lot l ON l.id = s.lot_id
LEFT JOIN (SELECT cause_id, lot_id, SUM(clumps) AS c, SUM(divisions) AS d FROM movement WHERE cause = 'move' GROUP BY cause_id, lot_id) m
    ON m.cause_id = s.move_id AND m.lot_id = s.lot_id
WHERE COALESCE(m.c, 0) <> CASE s.reversed WHEN 0 THEN s.clumps ELSE 0 END
   OR COALESCE(m.d, 0) <> CASE s.reversed WHEN 0 THEN s.divisions ELSE 0 END;

-- name: reversals
SELECT 'movement ' || r.id || ' does not undo movement ' || m.id
FROM movement r JOIN movement m ON m.id = r.reverses
WHERE r.clumps <> -m.clumps OR r.divisions <> -m.divisions OR r.lot_id <> m.lot_id OR r.place_id <> m.place_id
   OR r.reason <> m.reason OR r.day <> m.day;

-- name: sold
SELECT 'variety ' || v.code || ': sold says ' || COALESCE(o.sold, 0) || ', its lines ask ' || COALESCE(l.asked, 0)
FROM variety v
LEFT JOIN offering o ON o.variety_id = v.id
LEFT JOIN (SELECT variety_id, SUM(quantity) AS asked FROM line
           WHERE variety_id IS NOT NULL AND order_id NOT IN (SELECT id FROM orders WHERE replaces IS NOT NULL)
           GROUP BY variety_id) l
    ON l.variety_id = v.id
WHERE COALESCE(o.sold, 0) <> COALESCE(l.asked, 0);

-- name: beyond
SELECT 'variety ' || v.code || ': the leave to sell beyond the offer is not what stands on record'
FROM offering o JOIN variety v ON v.id = o.variety_id
LEFT JOIN (SELECT variety_id, SUM(quantity) AS granted FROM oversell GROUP BY variety_id) g ON g.variety_id = o.variety_id
WHERE o.beyond <> COALESCE(g.granted, 0);

-- name: offered
SELECT 'variety ' || v.code || ': the offer is not what its last release says'
FROM offering o JOIN variety v ON v.id = o.variety_id
WHERE o.released = 1 AND o.offered <> (SELECT r.offered FROM release r WHERE r.variety_id = o.variety_id
                                       ORDER BY r.id DESC LIMIT 1);

-- name: promised_within_asked
SELECT 'order ' || o.number || ' line ' || l.line || ': ' || SUM(a.quantity) || ' promised, ' || l.quantity || ' asked'
FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id
GROUP BY a.line_id HAVING SUM(a.quantity) > l.quantity;

-- name: own_is_own
SELECT 'order ' || o.number || ' line ' || l.line || ': an allocation says ' || a.kind || ' of ' || v.code
FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id JOIN variety v ON v.id = a.variety_id
WHERE (a.kind = 'own') <> (l.variety_id IS NOT NULL AND a.variety_id = l.variety_id)
   OR (a.kind = 'assortment') <> (l.variety_id IS NULL);

-- name: substitutes_have_consent
SELECT 'order ' || o.number || ' line ' || l.line || ': a substitute without consent'
FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id
WHERE a.kind = 'substitute' AND l.consent = 'none'
  AND a.quantity > (SELECT COALESCE(SUM(k.taken), 0) FROM pick k JOIN parcel p ON p.id = k.parcel_id
                    WHERE k.line_id = a.line_id AND k.variety_id = a.variety_id AND p.state = 'shipped');

-- name: picks_in_ledger
SELECT 'pick ' || p.id || ': ' || p.taken || ' taken, the ledger has ' || COALESCE(m.went, 0)
FROM pick p
LEFT JOIN (SELECT cause_id, -SUM(divisions) AS went FROM movement
           WHERE cause = 'pick' AND reason = 'picked' GROUP BY cause_id) m ON m.cause_id = p.id
WHERE p.taken <> COALESCE(m.went, 0);

-- name: picks_within_promise
SELECT 'order ' || o.number || ' line ' || l.line || ': more of ' || v.code || ' picked than promised'
FROM (SELECT line_id, variety_id, SUM(taken) AS taken FROM pick GROUP BY line_id, variety_id) p
JOIN line l ON l.id = p.line_id JOIN orders o ON o.id = l.order_id JOIN variety v ON v.id = p.variety_id
LEFT JOIN allocation a ON a.line_id = p.line_id AND a.variety_id = p.variety_id
WHERE p.taken > COALESCE(a.quantity, 0);

-- name: packed_is_answered
SELECT 'parcel ' || p.id || ' is ' || p.state || ' with an open pick'
FROM parcel p WHERE p.state <> 'open'
  AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = p.id AND k.state = 'open');

-- name: claims_in_ledger
SELECT 'claim ' || c.id || ': ' || CASE c.answer WHEN 'replace' THEN c.quantity ELSE 0 END || ' replaced, the ledger has '
    || COALESCE(m.went, 0)
FROM claim c
LEFT JOIN (SELECT cause_id, -SUM(divisions) AS went, MIN(lot_id) AS lot, MAX(lot_id) AS other FROM movement
           WHERE cause = 'claim' AND reason = 'picked' GROUP BY cause_id) m ON m.cause_id = c.id
WHERE c.replacement_id IS NULL AND (CASE c.answer WHEN 'replace' THEN c.quantity ELSE 0 END <> COALESCE(m.went, 0)
   OR (c.answer = 'replace' AND (m.lot IS NOT c.lot_id OR m.other IS NOT c.lot_id)));

-- name: claims_leave_as_orders
SELECT 'claim ' || c.id || ': its replacement is not an order of what was claimed'
FROM claim c LEFT JOIN orders o ON o.id = c.replacement_id AND o.replaces = c.order_id AND o.state <> 'cancelled'
WHERE c.replacement_id IS NOT NULL AND (c.answer <> 'replace' OR o.id IS NULL
   OR c.quantity <> (SELECT COALESCE(SUM(l.quantity), 0) FROM line l WHERE l.order_id = o.id AND l.line = c.replacement_line));

-- name: claims_within_received
SELECT 'order ' || o.number || ' line ' || l.line || ': ' || SUM(c.quantity) || ' claimed, more than it received'
FROM claim c JOIN line l ON l.id = c.line_id JOIN orders o ON o.id = l.order_id
WHERE c.answer <> 'refused'
GROUP BY c.line_id HAVING SUM(c.quantity) > (SELECT COALESCE(SUM(k.taken), 0) FROM pick k JOIN parcel p ON p.id = k.parcel_id
                                             WHERE k.line_id = c.line_id AND p.state = 'shipped');

-- name: claims_refund_the_price
SELECT 'claim ' || c.id || ': the amount is not the price of what failed'
FROM claim c JOIN line l ON l.id = c.line_id
WHERE c.amount <> CASE c.answer WHEN 'refund' THEN c.quantity * l.unit_price ELSE 0 END;

-- name: notices_settled
SELECT 'notice ' || n.id || ' is ' || n.state || ' without who and when'
FROM notice n WHERE n.fact IS NOT NULL AND (n.state <> 'due') <> (n.done_at IS NOT NULL AND n.actor IS NOT NULL);

-- name: letters_told
SELECT 'letter ' || b.id || ' was sent, and its notice is ' || n.state
FROM outbox b JOIN notice n ON n.id = b.notice_id WHERE b.state = 'sent' AND n.state <> 'sent';

-- name: recovery_of_a_factor
SELECT 'person ' || r.person_id || ': ' || COUNT(*) || ' recovery codes; only a second factor that is on has any, and ten at most'
FROM recovery r LEFT JOIN factor f ON f.person_id = r.person_id
GROUP BY r.person_id HAVING COUNT(*) > 10 OR MAX(f.on_at) IS NULL;

-- A lot that proved to be another variety was dug as the one that was planted.
-- name: dug_of_its_planting
SELECT 'lot ' || l.code || ' was dug of a planting of another variety, or of next season''s'
FROM lot l JOIN planting p ON p.id = l.planting_id
WHERE p.entry_id IS NOT NULL
   OR (p.variety_id <> l.variety_id AND p.variety_id NOT IN (SELECT r.was FROM relabelling r WHERE r.lot_id = l.id));

-- Walks before it: an earlier day, or the same day; one that finds nothing alive is the last of its day, behind all digging.
-- name: alive_within_planted
SELECT 'row ' || COALESCE(p.row, '') || ': a walk finds ' || r.alive || ' plants alive, more than can be'
FROM field_round r JOIN planting p ON p.id = r.planting_id
WHERE r.reversed = 0 AND r.alive > p.plants
    - (SELECT COALESCE(SUM(b.rogued), 0) FROM field_round b WHERE b.planting_id = p.id AND b.reversed = 0
       AND (b.day < r.day OR (b.day = r.day AND ((b.alive > 0) > (r.alive > 0) OR ((b.alive > 0) = (r.alive > 0) AND b.id < r.id)))))
    - (SELECT COALESCE(SUM(d.clumps + d.culled), 0) FROM lot d WHERE d.planting_id = p.id
       AND (d.dug_on < r.day OR (d.dug_on = r.day AND r.alive = 0)));

-- name: dug_within_standing
SELECT 'lot ' || d.code || ': more was dug of row ' || COALESCE(p.row, '') || ' than stood'
FROM lot d JOIN planting p ON p.id = d.planting_id
LEFT JOIN field_round r ON r.id = (SELECT x.id FROM field_round x WHERE x.planting_id = p.id AND x.reversed = 0
    AND (x.day < d.dug_on OR (x.day = d.dug_on AND x.alive > 0)) ORDER BY x.day DESC, x.alive = 0 DESC, x.id DESC LIMIT 1)
WHERE d.clumps + d.culled > 0
  AND (SELECT SUM(e.clumps + e.culled) FROM lot e WHERE e.planting_id = p.id
       AND (e.dug_on < d.dug_on OR (e.dug_on = d.dug_on AND e.id <= d.id))
       AND (r.id IS NULL OR e.dug_on > r.day OR (e.dug_on = r.day AND r.alive > 0))) > COALESCE(r.alive - r.rogued, p.plants);

-- name: planted_out_in_ledger
SELECT 'planting ' || p.id || ': ' || p.plants || ' planted out, the ledger has ' || -COALESCE(m.went, 0)
FROM planting p
LEFT JOIN (SELECT cause_id, SUM(divisions) AS went FROM movement WHERE cause = 'entry' AND reason = 'planted' GROUP BY cause_id) m
    ON m.cause_id = p.entry_id
WHERE p.entry_id IS NOT NULL AND COALESCE(m.went, 0) <> 0 AND m.went <> -p.plants;
