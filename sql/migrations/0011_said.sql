-- SPDX-License-Identifier: MIT
-- What the projection said at releases and at months' ends, kept as it was said: a replay knows history that was typed later.
CREATE TABLE said (
    id INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL CHECK (why = 'release' OR why = 'month'),
    day INTEGER NOT NULL,      -- as of
    ship_day INTEGER NOT NULL, -- of what day
    stock_revision INTEGER NOT NULL
) STRICT;

CREATE TABLE said_of (
    said_id INTEGER NOT NULL REFERENCES said (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    expected REAL NOT NULL,
    p05 INTEGER NOT NULL,
    p10 INTEGER NOT NULL,
    p25 INTEGER NOT NULL,
    p50 INTEGER NOT NULL,
    p75 INTEGER NOT NULL,
    p90 INTEGER NOT NULL,
    p95 INTEGER NOT NULL,
    PRIMARY KEY (said_id, variety_id)
) STRICT, WITHOUT ROWID;
