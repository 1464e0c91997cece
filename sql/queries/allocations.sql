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

-- name: runs
SELECT id, at, actor, what, rule, supply, confidence, digest, lines, placed FROM run ORDER BY id DESC LIMIT ?1;

-- name: last_run
SELECT rule, supply, confidence FROM run WHERE what = ?1 ORDER BY id DESC LIMIT 1;

-- Of one line: what is promised, with the run that said so, and what of it is pulled or being pulled.
-- name: of_line
SELECT a.variety_id, v.code, v.name, a.quantity, a.kind, a.reason, a.n1, a.n2, a.n3, a.n4, r.at, r.rule,
       COALESCE((SELECT SUM(taken) FROM pick p WHERE p.line_id = a.line_id AND p.variety_id = a.variety_id
                 AND p.state = 'done'), 0),
       COALESCE((SELECT SUM(p.quantity) FROM pick p WHERE p.line_id = a.line_id AND p.variety_id = a.variety_id
                 AND p.state = 'open'), 0)
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
SELECT f.line_id, f.variety_id, o.number, l.line, w.code, v.code, f.at, f.actor, f.why
FROM forbidden f JOIN line l ON l.id = f.line_id JOIN orders o ON o.id = l.order_id JOIN variety v ON v.id = f.variety_id
LEFT JOIN variety w ON w.id = l.variety_id WHERE o.state = 'open' ORDER BY o.number, l.line, v.code;
