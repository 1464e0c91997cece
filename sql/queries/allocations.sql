-- SPDX-License-Identifier: MIT
-- Firm promises: the runs that made them, what was added, and what was taken back on record.

-- name: run
INSERT INTO run (at, actor, what, rule, supply, confidence, digest, lines, placed)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9);

-- From the rows that the program holds (store/feed.c), in one statement.
-- name: promise
INSERT INTO allocation (line_id, variety_id, quantity, kind, run_id, reason, n1, n2, n3, n4)
SELECT line_id, variety_id, quantity, kind, ?1, reason, n1, n2, n3, n4 FROM promise_row WHERE TRUE
ON CONFLICT (line_id, variety_id) DO UPDATE SET quantity = quantity + excluded.quantity, run_id = excluded.run_id,
    reason = excluded.reason, n1 = excluded.n1, n2 = excluded.n2, n3 = excluded.n3, n4 = excluded.n4;

-- Lines that came after a mark, in the order in which they are served; rest: an earlier line of the order asks for something,
-- or one names no variety.
-- name: last_line
SELECT COALESCE(MAX(id), 0) AS id FROM line;

-- name: arrived
SELECT l.id, o.id AS order_id, l.line, l.variety_id, v.code, l.quantity, o.number, o.tier, o.ship_complete,
       o.ship_complete AND EXISTS (SELECT 1 FROM line m WHERE m.order_id = o.id AND m.quantity > 0
                                   AND (m.id <= ?1 OR m.variety_id IS NULL)) AS rest
FROM line l JOIN orders o ON o.id = l.order_id JOIN variety v ON v.id = l.variety_id
WHERE l.id > ?1 AND l.quantity > 0 AND o.state = 'open' AND NOT EXISTS (SELECT 1 FROM blocked_order b WHERE b.order_id = o.id)
ORDER BY CASE o.tier WHEN 'wholesale' THEN 0 WHEN 'other' THEN 2 ELSE 1 END, o.received_at, o.id, l.line;

-- name: runs
SELECT r.id, r.at, r.actor, r.what, r.rule, r.supply, r.confidence, r.digest, r.lines, r.placed, u.at AS undone_at
FROM run r LEFT JOIN run_undone u ON u.run_id = r.id WHERE r.rule <> 'claim' ORDER BY r.id DESC LIMIT ?1;

-- The last run that the office made. One without a digest was shown to nobody: late orders that were promised go by the rule of an
-- earlier, and what a claim was promised by none.
-- name: last_run
SELECT rule FROM run
WHERE what = ?1 AND digest <> '' AND id NOT IN (SELECT run_id FROM run_undone) ORDER BY id DESC LIMIT 1;

-- The last run that shared out a variety: every line that wanted some has a row of it, with 0 if it got none.
-- name: last_run_of like last_run
SELECT r.rule
FROM variety v JOIN line l ON l.variety_id = v.id JOIN allocation a ON a.line_id = l.id AND a.variety_id = v.id
JOIN run r ON r.id = a.run_id
WHERE v.id = (SELECT variety_id FROM variety_code WHERE code = ?1) AND r.what = 'allocate' AND r.digest <> '' AND r.id NOT IN (SELECT run_id FROM run_undone) ORDER BY r.id DESC LIMIT 1;

-- Undoing the last run: what it added over what it found (run_before), and what rests on that.
-- What a claim was promised stands with the claim.
-- name: run_standing
SELECT id, at, what, placed FROM run WHERE rule <> 'claim' AND id NOT IN (SELECT run_id FROM run_undone) ORDER BY id DESC LIMIT 1;

-- Lines that got something, divisions of the kind that the run counted, and the least that any promise grew.
-- name: run_added
SELECT COALESCE(SUM(a.quantity > COALESCE(b.quantity, 0)), 0) AS lines,
       COALESCE(SUM(CASE WHEN ?2 = 'allocate' OR a.kind <> 'own' THEN a.quantity - COALESCE(b.quantity, 0) END), 0) AS added,
       COALESCE(MIN(a.quantity - COALESCE(b.quantity, 0)), 0) AS least
FROM allocation a LEFT JOIN run_before b ON b.run_id = a.run_id AND b.line_id = a.line_id AND b.variety_id = a.variety_id
WHERE a.run_id = ?1;

-- name: run_picked
SELECT o.number, l.line
FROM allocation a LEFT JOIN run_before b ON b.run_id = a.run_id AND b.line_id = a.line_id AND b.variety_id = a.variety_id
CROSS JOIN line l ON l.id = a.line_id CROSS JOIN orders o ON o.id = l.order_id
WHERE a.run_id = ?1 AND a.quantity > COALESCE(b.quantity, 0)
  AND (SELECT COALESCE(SUM(CASE p.state WHEN 'done' THEN p.taken WHEN 'open' THEN p.quantity END), 0) FROM pick p
       WHERE p.line_id = a.line_id AND p.variety_id = a.variety_id) > COALESCE(b.quantity, 0) LIMIT 1;

-- name: run_told like run_picked
SELECT o.number, l.line FROM allocation a CROSS JOIN notice n ON n.line_id = a.line_id
CROSS JOIN line l ON l.id = a.line_id CROSS JOIN orders o ON o.id = l.order_id
WHERE a.run_id = ?1 AND n.state = 'sent' AND n.done_at >= ?2 AND n.kind IN ('short', 'substitute', 'refund') LIMIT 1;

-- name: run_take_back
INSERT INTO taken_back (line_id, variety_id, quantity, at, actor, why)
SELECT a.line_id, a.variety_id, a.quantity - COALESCE(b.quantity, 0), ?2, ?3, ?4
FROM allocation a LEFT JOIN run_before b ON b.run_id = a.run_id AND b.line_id = a.line_id AND b.variety_id = a.variety_id
WHERE a.run_id = ?1 AND a.quantity > COALESCE(b.quantity, 0);

-- name: run_clear
DELETE FROM allocation WHERE run_id = ?1;

-- name: run_restore
INSERT INTO allocation (line_id, variety_id, quantity, kind, run_id, reason, n1, n2, n3, n4)
SELECT line_id, variety_id, quantity, kind, of_run, reason, n1, n2, n3, n4 FROM run_before WHERE run_id = ?1;

-- name: run_undone
INSERT INTO run_undone (run_id, at, actor, why) VALUES (?1, ?2, ?3, ?4);

-- Of one line: what is promised, with the run that said so, and what of it is pulled or being pulled.
-- name: of_line
SELECT a.variety_id, v.code, v.name, a.quantity, a.kind, a.reason, a.n1, a.n2, a.n3, a.n4, r.at, r.rule,
       COALESCE((SELECT SUM(taken) FROM pick p WHERE p.line_id = a.line_id AND p.variety_id = a.variety_id
                 AND p.state = 'done'), 0) AS picked,
       COALESCE((SELECT SUM(p.quantity) FROM pick p WHERE p.line_id = a.line_id AND p.variety_id = a.variety_id
                 AND p.state = 'open'), 0) AS pulling
FROM allocation a JOIN variety v ON v.id = a.variety_id JOIN run r ON r.id = a.run_id
WHERE a.line_id = ?1 ORDER BY a.kind <> 'own', v.code;

-- name: lessen
UPDATE allocation SET quantity = quantity - ?3 WHERE line_id = ?1 AND variety_id = ?2 AND quantity >= ?3;

-- name: taken_back
INSERT INTO taken_back (line_id, variety_id, quantity, at, actor, why) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- name: taken_back_of_line
SELECT v.code, t.quantity, t.at, t.actor, t.why FROM taken_back t JOIN variety v ON v.id = t.variety_id
WHERE t.line_id = ?1 ORDER BY t.id;

-- Substitutes that the office forbade a line.
-- name: forbid
INSERT INTO forbidden (line_id, variety_id, at, actor, why) VALUES (?1, ?2, ?3, ?4, ?5)
ON CONFLICT (line_id, variety_id) DO UPDATE SET at = excluded.at, actor = excluded.actor, why = excluded.why;

-- name: permit
DELETE FROM forbidden WHERE line_id = ?1 AND variety_id = ?2;

-- name: forbidden
SELECT f.line_id, f.variety_id, o.number, l.line, w.code AS asked, v.code AS variety, f.at, f.actor, f.why
FROM forbidden f JOIN line l ON l.id = f.line_id JOIN orders o ON o.id = l.order_id JOIN variety v ON v.id = f.variety_id
LEFT JOIN variety w ON w.id = l.variety_id WHERE o.state = 'open' ORDER BY o.number, l.line, v.code;
