-- SPDX-License-Identifier: MIT
-- What leaves by itself: letters to buyers, a test letter to oneself, and what a shop is told. Each waits here until the other side
-- has answered. To whom a letter goes and what it says is worked out when it goes, so that no buyer stands here.
CREATE TABLE outbox (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('letter', 'test', 'hook')),
    notice_id INTEGER UNIQUE REFERENCES notice (id) ON DELETE CASCADE,
    body TEXT, -- of what a shop is told: JSON
    state TEXT NOT NULL DEFAULT 'waits' CHECK (state IN ('waits', 'going', 'sent', 'refused', 'unsure')),
    tries INTEGER NOT NULL DEFAULT 0 CHECK (tries >= 0),
    next_at INTEGER NOT NULL,
    queued_at INTEGER NOT NULL,
    queued_by TEXT NOT NULL,
    done_at INTEGER,
    words TEXT, -- the other side's last, or why it did not come to any
    CHECK ((kind = 'letter') = (notice_id IS NOT NULL)),
    CHECK ((kind = 'hook') = (body IS NOT NULL))
) STRICT;
CREATE INDEX outbox_open ON outbox (id) WHERE state IN ('waits', 'going');

-- The two ways out: is it stopped by a person, which account took the test letter, until when the other side is left in peace after
-- it failed so often.
CREATE TABLE post (
    channel TEXT NOT NULL PRIMARY KEY CHECK (channel IN ('mail', 'hook')),
    stopped INTEGER NOT NULL DEFAULT 0 CHECK (stopped IN (0, 1)),
    tested TEXT,
    failures INTEGER NOT NULL DEFAULT 0 CHECK (failures >= 0),
    quiet_until INTEGER NOT NULL DEFAULT 0,
    words TEXT
) STRICT, WITHOUT ROWID;
