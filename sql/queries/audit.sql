-- SPDX-License-Identifier: MIT

-- name: last
SELECT hash FROM audit ORDER BY id DESC LIMIT 1;

-- name: add
INSERT INTO audit (at, actor, action, subject, before, after, hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7);

-- name: all
SELECT id, at, actor, action, subject, before, after, hash FROM audit ORDER BY id;
