-- SPDX-License-Identifier: MIT
-- What a season taught lives on in the next one's file, row by row as the models take it, so that nothing learned is lost.
-- lot: the lot's code in its own season; rows of one lot share what is the lot's own. cut_from, cut_to: which part of the lot's
-- clumps a session cut, in the order of cutting. NULL in all of them: a row of a season that was typed in by sums.
ALTER TABLE history ADD COLUMN lot TEXT;
ALTER TABLE history ADD COLUMN cut_from REAL CHECK (cut_from BETWEEN 0 AND 1);
ALTER TABLE history ADD COLUMN cut_to REAL CHECK (cut_to BETWEEN 0 AND 1);
-- age: weeks since digging or cutting when what was inspected was last known sound. why: how the look came about.
ALTER TABLE past_check ADD COLUMN lot TEXT;
ALTER TABLE past_check ADD COLUMN age REAL CHECK (age >= 0);
ALTER TABLE past_check ADD COLUMN why TEXT CHECK (why IN ('dividing', 'round', 'untold', 'suspicion'));

-- Divisions looked at for shrivelling, with the drying (Pa days) since cutting at the look before and at this one.
CREATE TABLE past_shrivel (
    id INTEGER PRIMARY KEY,
    season INTEGER NOT NULL,
    lot TEXT NOT NULL,
    from_pa_days REAL NOT NULL,
    to_pa_days REAL NOT NULL,
    inspected INTEGER NOT NULL CHECK (inspected >= 0),
    shrivelled INTEGER NOT NULL CHECK (shrivelled BETWEEN 0 AND inspected),
    source_id INTEGER NOT NULL REFERENCES source (id)
) STRICT;

-- A marked crate of a past season, weighed; pa_days: the drying since its lot was dug.
CREATE TABLE past_weighing (
    id INTEGER PRIMARY KEY,
    season INTEGER NOT NULL,
    sample TEXT NOT NULL,
    lot TEXT NOT NULL,
    pa_days REAL NOT NULL,
    kg REAL NOT NULL CHECK (kg > 0),
    source_id INTEGER NOT NULL REFERENCES source (id)
) STRICT;

-- Lots of past seasons, numbered from 0; and for each season the lot '', number -1, of rows that name none, so that whoever asks
-- needs no outer join (of which a damaged NULL could not be told from an honest one).
CREATE VIEW past_lot AS
SELECT season, lot, ROW_NUMBER() OVER (ORDER BY season, lot) - 1 AS number
FROM (SELECT season, lot FROM history WHERE lot IS NOT NULL
      UNION SELECT season, lot FROM past_check WHERE lot IS NOT NULL
      UNION SELECT season, lot FROM past_shrivel
      UNION SELECT season, lot FROM past_weighing)
UNION ALL
SELECT season, '', -1 FROM (SELECT season FROM history UNION SELECT season FROM past_check);

-- What was set out for this season's digging. lot: the one it came from, of season of_season (NULL: not known).
CREATE TABLE planting (
    id INTEGER PRIMARY KEY,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    row TEXT,
    plants INTEGER NOT NULL CHECK (plants > 0),
    planted_on INTEGER NOT NULL,
    lot TEXT,
    of_season INTEGER,
    source_id INTEGER REFERENCES source (id)
) STRICT;
CREATE INDEX planting_by_variety ON planting (variety_id);

-- The files that came before this one: each was closed with the digest of what it taught.
CREATE TABLE origin (
    season INTEGER PRIMARY KEY,
    day INTEGER NOT NULL,  -- as of which it was read
    ship_day INTEGER NOT NULL,
    pa REAL,               -- mean vapour pressure deficit of its store at the end; NULL: nobody read it
    digest TEXT NOT NULL,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL
) STRICT;

-- This season was closed; NULL in reopened_at: it still is.
CREATE TABLE closing (
    id INTEGER PRIMARY KEY,
    season INTEGER NOT NULL, -- the one that was opened from it
    day INTEGER NOT NULL,
    digest TEXT NOT NULL,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    reopened_at INTEGER,
    reopened_by TEXT,
    reopened_why TEXT,
    CHECK ((reopened_at IS NULL) = (reopened_by IS NULL) AND (reopened_at IS NULL) = (reopened_why IS NULL))
) STRICT;
