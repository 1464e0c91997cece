-- SPDX-License-Identifier: MIT
-- The field: what was set out in rows, walks that count what stands, and of which planting a lot was dug.
ALTER TABLE planting ADD COLUMN spacing_cm INTEGER CHECK (spacing_cm BETWEEN 1 AND 1000);
-- Planted out of this season's lots, to be dug next season: the number of its entry in the ledger. NULL: to be dug this season.
ALTER TABLE planting ADD COLUMN entry_id INTEGER;
-- Whoever digs or walks it now, so that two do not go to one row.
ALTER TABLE planting ADD COLUMN taken_by TEXT;
-- A stretch of a row holds one variety of one lot; a second lot of it gets a stretch with a name of its own.
CREATE UNIQUE INDEX planting_in_row ON planting (row, variety_id) WHERE entry_id IS NULL AND row IS NOT NULL;
CREATE UNIQUE INDEX planting_out_to_row ON planting (row, variety_id) WHERE entry_id IS NOT NULL AND row IS NOT NULL;
CREATE INDEX planting_of_entry ON planting (entry_id) WHERE entry_id IS NOT NULL;

-- A walk: so many plants were alive, of them so many taken out (another variety, sick). None alive: the row is done with, at the
-- end of its day.
CREATE TABLE field_round (
    id INTEGER PRIMARY KEY,
    planting_id INTEGER NOT NULL REFERENCES planting (id),
    day INTEGER NOT NULL,
    alive INTEGER NOT NULL CHECK (alive >= 0),
    rogued INTEGER NOT NULL DEFAULT 0 CHECK (rogued BETWEEN 0 AND alive),
    reason TEXT,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    reversed INTEGER NOT NULL DEFAULT 0 CHECK (reversed IN (0, 1))
) STRICT;
CREATE INDEX field_round_by_planting ON field_round (planting_id, day);

ALTER TABLE lot ADD COLUMN planting_id INTEGER REFERENCES planting (id);
CREATE INDEX lot_by_planting ON lot (planting_id) WHERE planting_id IS NOT NULL;

-- Plants set out in past seasons, and the sound clumps that were dug of them.
CREATE TABLE past_planting (
    season INTEGER NOT NULL,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    plants INTEGER NOT NULL CHECK (plants > 0),
    clumps INTEGER NOT NULL CHECK (clumps BETWEEN 0 AND plants),
    PRIMARY KEY (season, variety_id)
) STRICT, WITHOUT ROWID;
