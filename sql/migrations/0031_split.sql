-- SPDX-License-Identifier: MIT
-- A part of a lot that proved to be another variety, from a day on: it is a lot of its own since. Its clumps and divisions left
-- the one and came to the other by one move of the ledger.
CREATE TABLE lot_split (
    id INTEGER PRIMARY KEY,
    lot_id INTEGER NOT NULL UNIQUE REFERENCES lot (id), -- the new one
    from_id INTEGER NOT NULL REFERENCES lot (id),
    day INTEGER NOT NULL,
    clumps INTEGER NOT NULL CHECK (clumps >= 0),
    divisions INTEGER NOT NULL CHECK (divisions >= 0),
    move_id INTEGER NOT NULL UNIQUE, -- movement.cause_id, where the cause is a move
    reversed INTEGER NOT NULL DEFAULT 0 CHECK (reversed IN (0, 1)),
    CHECK (clumps + divisions > 0),
    CHECK (lot_id > from_id)
) STRICT;
CREATE INDEX lot_split_by_from ON lot_split (from_id);
