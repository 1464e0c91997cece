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

-- What was deleted or moved is still in the bytes of the file until it is written anew, and in its log until that is emptied.
-- name: anew
VACUUM;

-- name: empty_log
PRAGMA wal_checkpoint(TRUNCATE);
