-- SPDX-License-Identifier: MIT
-- How other people's spreadsheets were fitted, and the codes that are known then.

-- name: varieties
SELECT code, COALESCE(price, -1) AS figure, name FROM variety;

-- name: lots like varieties
SELECT code, 0 AS figure, NULL AS name FROM lot;

-- name: places like varieties
SELECT code, walk_order AS figure, NULL AS name FROM place;

-- name: list
SELECT name, kind, at, actor, json_array_length(fit, '$.columns') AS columns FROM fit ORDER BY name;

-- name: read
SELECT name, fit FROM fit WHERE name = ?1 OR shape = ?2;

-- A name is one fit's: who takes it for another header has the older one forgotten.
-- name: keep
INSERT OR REPLACE INTO fit (shape, name, kind, fit, at, actor) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- name: rename
UPDATE fit SET name = ?2 WHERE name = ?1;

-- name: forget
DELETE FROM fit WHERE name = ?1;
