-- SPDX-License-Identifier: MIT
-- Answers given under an idempotency key.

-- name: find
SELECT request, status, body FROM answered WHERE key = ?1;

-- name: keep
INSERT INTO answered (key, request, status, body, at) VALUES (?1, ?2, ?3, ?4, ?5);

-- name: forget
DELETE FROM answered WHERE at < ?1;
