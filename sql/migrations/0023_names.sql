-- SPDX-License-Identifier: MIT
-- A wrong name put right. A variety's former code still finds it: in files, orders and searches.
CREATE TABLE former_code (
    code TEXT PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 32),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX former_code_by_variety ON former_code (variety_id);

-- Every code that names a variety, today's and former ones.
CREATE VIEW variety_code AS
SELECT code, id AS variety_id FROM variety UNION ALL SELECT code, variety_id FROM former_code;

-- A lot that proved to be another variety, from digging on. What had gone out before went out under the old name.
CREATE TABLE relabelling (
    id INTEGER PRIMARY KEY,
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    was INTEGER NOT NULL REFERENCES variety (id),
    became INTEGER NOT NULL REFERENCES variety (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX relabelling_by_lot ON relabelling (lot_id);
