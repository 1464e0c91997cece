-- SPDX-License-Identifier: MIT
-- The nursery itself: its season, its revisions, its settings.

-- name: make
INSERT INTO nursery (id, season, ship_day, currency, timezone, made_at) VALUES (1, ?1, ?2, ?3, ?4, ?5);

-- name: read
SELECT season, ship_day, currency, timezone, made_at FROM nursery WHERE id = 1;

-- name: revision
SELECT stock_revision, trade_revision FROM nursery WHERE id = 1;

-- name: move_ship
UPDATE nursery SET ship_day = ?1, stock_revision = stock_revision + 1, trade_revision = trade_revision + 1 WHERE id = 1;

-- name: touch
UPDATE nursery SET stock_revision = stock_revision + ?1, trade_revision = trade_revision + ?2 WHERE id = 1;

-- name: setting
SELECT value FROM setting WHERE name = ?1;

-- name: set
INSERT INTO setting (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET value = excluded.value;
