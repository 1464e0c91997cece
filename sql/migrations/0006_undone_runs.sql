-- SPDX-License-Identifier: MIT
-- What a run that was made firm found in place, so that it can be undone whole; and the runs that were undone.
CREATE TABLE run_before (
    run_id INTEGER NOT NULL REFERENCES run (id),
    line_id INTEGER NOT NULL REFERENCES line (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    quantity INTEGER NOT NULL,
    kind TEXT NOT NULL,
    of_run INTEGER NOT NULL REFERENCES run (id),
    reason INTEGER NOT NULL,
    n1 INTEGER NOT NULL,
    n2 INTEGER NOT NULL,
    n3 INTEGER NOT NULL,
    n4 INTEGER NOT NULL,
    PRIMARY KEY (run_id, line_id, variety_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE run_undone (
    run_id INTEGER PRIMARY KEY REFERENCES run (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL CHECK (length(why) > 0)
) STRICT;

CREATE TRIGGER run_keeps_before AFTER UPDATE OF run_id ON allocation WHEN new.run_id <> old.run_id
BEGIN
    INSERT INTO run_before (run_id, line_id, variety_id, quantity, kind, of_run, reason, n1, n2, n3, n4)
    VALUES (new.run_id, old.line_id, old.variety_id, old.quantity, old.kind, old.run_id, old.reason, old.n1, old.n2, old.n3, old.n4);
END;
