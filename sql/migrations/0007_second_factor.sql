-- SPDX-License-Identifier: MIT
-- A person's second factor: the secret that their telephone shares, which codes need (so it cannot be a digest), and the
-- codes for the day when the telephone is lost, as salted digests. A used one is deleted.
CREATE TABLE factor (
    person_id INTEGER PRIMARY KEY REFERENCES person (id),
    secret TEXT NOT NULL CHECK (length(secret) = 40), -- 20 bytes in hexadecimal
    made_at INTEGER NOT NULL,
    on_at INTEGER,                                    -- NULL: begun, no code was typed yet
    last_step INTEGER NOT NULL DEFAULT 0              -- step of the last code that was taken: no code twice
) STRICT;

CREATE TABLE recovery (
    person_id INTEGER NOT NULL REFERENCES factor (person_id),
    salt TEXT NOT NULL,
    digest TEXT NOT NULL,
    PRIMARY KEY (person_id, digest)
) STRICT, WITHOUT ROWID;
