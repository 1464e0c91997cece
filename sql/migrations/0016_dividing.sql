-- SPDX-License-Identifier: MIT
-- The cutting room: the days that lots must keep (a list that was frozen, a move by hand, a lot that is washed), days on which the
-- bench is staffed otherwise than the settings say, and how long a session took.
CREATE TABLE dividing_day (
    lot_id INTEGER PRIMARY KEY REFERENCES lot (id),
    day INTEGER NOT NULL, -- on which it is to be cut; it is washed on the working day before
    why TEXT NOT NULL CHECK (why IN ('frozen', 'moved', 'washed')),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL
) STRICT;

CREATE TABLE crew_day (
    day INTEGER PRIMARY KEY,
    cutters INTEGER NOT NULL CHECK (cutters BETWEEN 0 AND 100),
    washers INTEGER NOT NULL CHECK (washers BETWEEN 0 AND 100),
    hours REAL NOT NULL CHECK (hours BETWEEN 0 AND 24)
) STRICT;

ALTER TABLE dividing ADD COLUMN minutes INTEGER CHECK (minutes BETWEEN 1 AND 10000);
ALTER TABLE dividing ADD COLUMN people INTEGER CHECK (people BETWEEN 1 AND 100);
