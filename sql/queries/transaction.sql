-- SPDX-License-Identifier: MIT
-- Prepared like all others, so that taking back works when there is no memory left to prepare with.

-- name: begin
BEGIN IMMEDIATE;

-- name: begin_read
BEGIN;

-- name: commit
COMMIT;

-- name: rollback
ROLLBACK;

-- name: savepoint
SAVEPOINT one;

-- name: release
RELEASE one;

-- name: back
ROLLBACK TO one;
