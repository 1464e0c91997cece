-- SPDX-License-Identifier: MIT
-- What the owner says of a variety's planting in the place of what is learned; NULL: what is learned stands.
CREATE TABLE keep_said (
    variety_id INTEGER PRIMARY KEY REFERENCES variety (id),
    demand_low REAL CHECK (demand_low >= 0), -- asked for in a season, 8 in 10 sure
    demand_high REAL CHECK (demand_high >= demand_low),
    growth REAL CHECK (growth BETWEEN 0 AND 100), -- divisions next spring of one planted
    cost INTEGER CHECK (cost >= 0), -- of growing one plant
    least INTEGER CHECK (least >= 0), -- keep so many at least
    CHECK ((demand_low IS NULL) = (demand_high IS NULL))
) STRICT;

-- Hold-backs written from the planting plan at once, so that they can be taken back at once.
CREATE TABLE keep_run (
    id INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    undone_at INTEGER,
    undone_by TEXT,
    CHECK ((undone_at IS NULL) = (undone_by IS NULL))
) STRICT;

CREATE TABLE keep_change (
    run_id INTEGER NOT NULL REFERENCES keep_run (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    before INTEGER NOT NULL CHECK (before >= 0),
    after INTEGER NOT NULL CHECK (after >= 0),
    PRIMARY KEY (run_id, variety_id)
) STRICT, WITHOUT ROWID;
