-- SPDX-License-Identifier: MIT
-- Recovery codes with the columns of their key first. SQLite 3.40.1 (Debian 12) checks a table WITHOUT ROWID whose key is not
-- its first columns by reading the wrong ones, and calls a sound row damaged.
CREATE TABLE recovery_by_key (
    person_id INTEGER NOT NULL REFERENCES factor (person_id),
    digest TEXT NOT NULL,
    salt TEXT NOT NULL,
    PRIMARY KEY (person_id, digest)
) STRICT, WITHOUT ROWID;
INSERT INTO recovery_by_key (person_id, digest, salt) SELECT person_id, digest, salt FROM recovery;
DROP TABLE recovery;
ALTER TABLE recovery_by_key RENAME TO recovery;
