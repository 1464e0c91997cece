-- SPDX-License-Identifier: MIT
-- A variety that the office does not want a line to get in place of what it asked, though the buyer would allow it.
CREATE TABLE forbidden (
    line_id INTEGER NOT NULL REFERENCES line (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL CHECK (length(why) > 0),
    PRIMARY KEY (line_id, variety_id)
) STRICT, WITHOUT ROWID;
