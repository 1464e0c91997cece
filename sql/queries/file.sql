-- SPDX-License-Identifier: MIT
-- What is asked of a file before it is known to be one of ours, and what a table of rows handed over in C looks like.
-- Used by their text, outside of an opened nursery.

-- name: kind_and_schema
SELECT (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version);

-- name: feed
CREATE TABLE x (line_id, variety_id, quantity, kind, reason, n1, n2, n3, n4);

-- Without what SQLite keeps for itself.
-- name: schema
SELECT name, type, COALESCE(sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite\_%' ESCAPE '\' ORDER BY name, type;
