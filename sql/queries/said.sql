-- SPDX-License-Identifier: MIT
-- What was said at the time.

-- name: last
SELECT day, ship_day, stock_revision FROM said WHERE ?1 IS NULL OR why = ?1 ORDER BY id DESC LIMIT 1;

-- Since when the file is there.
-- name: begun
SELECT made_at FROM nursery;

-- name: add
INSERT INTO said (at, actor, why, day, ship_day, stock_revision) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- name: add_of
INSERT INTO said_of (said_id, variety_id, expected, p05, p10, p25, p50, p75, p90, p95)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10);

-- Of a shipping day, as of days before it.
-- name: rows
SELECT s.id, s.why, s.day, o.variety_id, o.expected, o.p05, o.p10, o.p25, o.p50, o.p75, o.p90, o.p95
FROM said s JOIN said_of o ON o.said_id = s.id WHERE s.ship_day = ?1 AND s.day < ?1 ORDER BY s.id, o.variety_id;
