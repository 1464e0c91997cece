-- SPDX-License-Identifier: MIT
-- The second factor of people and their recovery codes.

-- name: find
SELECT secret, on_at, last_step FROM factor WHERE person_id = ?1;

-- name: begin
INSERT INTO factor (person_id, secret, made_at) VALUES (?1, ?2, ?3)
ON CONFLICT (person_id) DO UPDATE SET secret = ?2, made_at = ?3 WHERE on_at IS NULL;

-- name: turn_on
UPDATE factor SET on_at = ?2 WHERE person_id = ?1 AND on_at IS NULL;

-- name: took
UPDATE factor SET last_step = ?2 WHERE person_id = ?1 AND last_step < ?2;

-- name: drop
DELETE FROM factor WHERE person_id = ?1;

-- name: recovery_add
INSERT INTO recovery (person_id, salt, digest) VALUES (?1, ?2, ?3);

-- name: recovery_list
SELECT salt, digest FROM recovery WHERE person_id = ?1;

-- name: recovery_count
SELECT COUNT(*) AS codes FROM recovery WHERE person_id = ?1;

-- name: recovery_take
DELETE FROM recovery WHERE person_id = ?1 AND digest = ?2;

-- name: recovery_drop
DELETE FROM recovery WHERE person_id = ?1;
