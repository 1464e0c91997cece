-- SPDX-License-Identifier: MIT
-- What buyers must be told, and what they were told.

-- Open orders that ask for something: what was promised, and what was told of it since.
-- name: orders
SELECT o.id, o.number, o.received_at, o.wish_week, o.ship_week, z.first_week,
       (SELECT COUNT(*) FROM notice n WHERE n.order_id = o.id AND n.kind = 'delay' AND n.state = 'sent') AS told,
       (SELECT json_extract(n.detail, '$.expected_day') FROM notice n
        WHERE n.order_id = o.id AND n.kind = 'delay' AND n.state = 'sent'
          AND json_extract(n.detail, '$.expected_day') IS NOT NULL ORDER BY n.done_at DESC, n.id DESC LIMIT 1) AS told_day
FROM orders o LEFT JOIN zone z ON z.code = (SELECT x.zone FROM order_zone x WHERE x.order_id = o.id)
WHERE o.state = 'open' AND EXISTS (SELECT 1 FROM line l WHERE l.order_id = o.id AND l.quantity > 0) ORDER BY o.id;

-- Lines that ask less than they once did, or were shared out but are not promised (of shipped orders: not sent) all that
-- they ask. `came` says whether more can still come: clumps not yet divided, or divisions that nobody is promised, beyond hold-back and reserve.
-- The most that a line asked is told by the order desk's events; a line that a file corrected starts anew (first_asked),
-- and its events are in words. Refunds count for a line as far as they were sent, or dropped by a person with a reason.
-- name: lines
WITH stock AS (
    SELECT l.variety_id, SUM(b.clumps) AS clumps, SUM(b.divisions) AS divisions
    FROM balance b JOIN lot l ON l.id = b.lot_id WHERE l.held IS NULL GROUP BY l.variety_id),
promised AS (
    SELECT a.variety_id, SUM(a.quantity) AS quantity FROM allocation a JOIN line l ON l.id = a.line_id
    JOIN orders o ON o.id = l.order_id WHERE o.state = 'open' GROUP BY a.variety_id),
pulled AS (
    SELECT k.variety_id, SUM(k.taken) AS taken FROM pick k JOIN line l ON l.id = k.line_id
    JOIN orders o ON o.id = l.order_id WHERE o.state = 'open' GROUP BY k.variety_id),
-- Each variety once, and below each line's own events once, instead of a search for every line.
asked AS MATERIALIZED (
    SELECT v.id, v.code, v.name,
           COALESCE(s.clumps, 0) > 0
               OR COALESCE(s.divisions, 0) - MAX(v.hold_back - COALESCE(g.divisions, 0), 0) - v.reserve
                  - COALESCE(p.quantity, 0) + COALESCE(k.taken, 0) > 0 AS came
    FROM variety v LEFT JOIN stock s ON s.variety_id = v.id LEFT JOIN promised p ON p.variety_id = v.id
    LEFT JOIN pulled k ON k.variety_id = v.id LEFT JOIN planted g ON g.variety_id = v.id),
fewer AS MATERIALIZED (
    SELECT line_id, MAX(MAX(CAST(before AS INTEGER), CAST(after AS INTEGER))) AS peak, MAX(at) AS at, MAX(id) AS last
    FROM order_event WHERE line_id IS NOT NULL AND kind IN ('changed', 'cancelled')
      AND before = CAST(CAST(before AS INTEGER) AS TEXT) GROUP BY line_id),
-- Lines that may be owed something, so that of a large season with little wrong only those are looked at closely. CROSS
-- keeps the order of the joins: all lines in one bare scan.
some AS (
    SELECT id FROM line WHERE first_asked > quantity
    UNION SELECT line_id FROM fewer
    UNION SELECT l.id FROM orders o CROSS JOIN line l ON l.order_id = o.id WHERE o.state = 'shipped'
    UNION SELECT l.id FROM (SELECT line_id, SUM(quantity) AS firm FROM allocation GROUP BY line_id) a
        CROSS JOIN line l ON l.id = a.line_id WHERE l.quantity > a.firm),
each AS (
    SELECT o.id AS order_id, o.number, o.state, o.ship_week, o.customer, o.email, l.id AS line_id, l.line, l.variety_id,
           l.assortment, l.quantity, CASE WHEN o.paid = 0 THEN 0 ELSE l.unit_price END AS unit_price, MAX(l.first_asked, l.quantity, COALESCE(f.peak, 0)) AS peak, f.at, f.last,
           (SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id) AS firm,
           CASE WHEN o.state = 'shipped' THEN (SELECT COALESCE(SUM(k.taken), 0) FROM pick k WHERE k.line_id = l.id) END AS sent
    FROM some CROSS JOIN line l ON l.id = some.id CROSS JOIN orders o ON o.id = l.order_id
    LEFT JOIN fewer f ON f.line_id = l.id)
SELECT e.order_id, e.number, e.state, e.ship_week, e.customer, e.email, e.line_id, e.line, v.code, v.name, e.assortment,
       e.quantity, e.unit_price, e.peak, e.firm, e.sent, v.came, e.at,
       CASE WHEN e.last IS NOT NULL THEN (SELECT x.note FROM order_event x WHERE x.id = e.last) END AS note,
       (SELECT COALESCE(SUM(n.amount), 0) FROM notice n WHERE n.line_id = e.line_id AND n.kind = 'refund'
          AND n.state = 'sent' AND n.fact LIKE 'refund:line%') AS refund_sent,
       (SELECT COALESCE(SUM(n.amount), 0) FROM notice n WHERE n.line_id = e.line_id AND n.kind = 'refund'
          AND n.state = 'dropped' AND n.fact LIKE 'refund:line%') AS refund_dropped,
       CASE WHEN e.state = 'shipped'
            THEN (SELECT MAX(c.shipped_on) FROM parcel c WHERE c.order_id = e.order_id AND c.state = 'shipped') END AS shipped_on
FROM each e LEFT JOIN asked v ON v.id = e.variety_id
WHERE e.peak > e.quantity OR e.quantity > COALESCE(e.sent, e.firm)
ORDER BY e.order_id, e.line;

-- Promised in the place of another variety.
-- name: substitutes
SELECT o.id AS order_id, o.number, o.ship_week, l.id AS line_id, l.line, w.name AS wanted, v.id AS variety_id, v.code, v.name, a.quantity
FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id
JOIN variety v ON v.id = a.variety_id JOIN variety w ON w.id = l.variety_id
WHERE a.kind = 'substitute' AND a.quantity > 0 AND o.state = 'open' ORDER BY o.id, l.line, v.code;

-- Who received of a lot that is held.
-- name: recalls
SELECT o.id AS order_id, o.number, l.id AS line_id, l.line, v.name, lo.id AS lot_id, lo.code, lo.row, lo.held, SUM(r.quantity) AS quantity
FROM (SELECT k.line_id, k.lot_id, k.taken AS quantity FROM pick k JOIN parcel p ON p.id = k.parcel_id
      WHERE p.state = 'shipped' AND k.taken > 0
      UNION ALL SELECT c.line_id, c.lot_id, c.quantity FROM claim c
      WHERE c.answer = 'replace' AND c.replacement_id IS NULL) r
JOIN lot lo ON lo.id = r.lot_id JOIN variety v ON v.id = lo.variety_id
JOIN line l ON l.id = r.line_id JOIN orders o ON o.id = l.order_id
WHERE lo.held IS NOT NULL GROUP BY l.id, lo.id ORDER BY o.id, l.line, lo.code;

-- Guarantee claims answered with money.
-- name: claims
SELECT o.id AS order_id, o.number, o.customer, o.email, l.id AS line_id, l.line, COALESCE(v.code, '') AS code, COALESCE(v.name, l.assortment) AS name, c.id AS claim_id,
       c.quantity, CASE WHEN o.paid = 0 THEN 0 ELSE c.amount END AS amount, c.at, c.why,
       COALESCE((SELECT n.state FROM notice n WHERE n.fact = 'refund:claim:' || c.id), '') AS notice
FROM claim c JOIN orders o ON o.id = c.order_id JOIN line l ON l.id = c.line_id LEFT JOIN variety v ON v.id = l.variety_id
WHERE c.answer = 'refund' ORDER BY c.id;

-- name: facts
SELECT id, fact, state FROM notice WHERE fact IS NOT NULL;

-- name: add
INSERT INTO notice (order_id, line_id, kind, made_at, due_on, detail, amount, fact) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- A letter that is being handed over at this moment is told first, and of one that may have left a person says which it is.
-- name: withdraw
DELETE FROM notice WHERE id = ?1 AND state = 'due'
    AND NOT EXISTS (SELECT 1 FROM outbox b WHERE b.notice_id = ?1 AND b.state IN ('going', 'unsure'));

-- name: done
UPDATE notice SET state = ?2, done_at = ?3, actor = ?4, evidence = ?5 WHERE id = ?1;

-- name: read
SELECT n.id, n.kind, n.state, n.due_on, n.amount, n.detail, o.number, l.line, o.customer, o.email, o.postcode, o.country,
       n.done_at, n.actor, o.language, n.made_at
FROM notice n JOIN orders o ON o.id = n.order_id LEFT JOIN line l ON l.id = n.line_id WHERE n.id = ?1;

-- ?1 state or null, ?2 due on or before or null, ?3 today.
-- name: list
SELECT n.id, o.number, l.line, n.kind, n.due_on, n.state = 'due' AND n.due_on < ?3, n.state, o.customer, o.email, n.amount,
       json_extract(n.detail, '$.sentence'), n.made_at, n.done_at, n.actor, n.evidence
FROM notice n JOIN orders o ON o.id = n.order_id LEFT JOIN line l ON l.id = n.line_id
WHERE (?1 IS NULL OR n.state = ?1) AND (?2 IS NULL OR n.due_on <= ?2) ORDER BY n.due_on, n.id;

-- name: ids
SELECT n.id FROM notice n WHERE (?1 IS NULL OR n.state = ?1) AND (?2 IS NULL OR n.due_on <= ?2) ORDER BY n.due_on, n.id;

-- name: templates
SELECT kind, language, subject, body, version FROM template ORDER BY kind, language;

-- name: template
SELECT subject, body, version FROM template WHERE kind = ?1 AND language = ?2;

-- name: template_set
UPDATE template SET subject = ?3, body = ?4, version = version + 1 WHERE kind = ?1 AND language = ?2;
