-- SPDX-License-Identifier: MIT
-- What the office puts right on an order. first is what was taken with the order, as text: a file that says it again asks for no
-- change. line 0: the order's own.
CREATE TABLE corrected (
    order_id INTEGER NOT NULL REFERENCES orders (id),
    line INTEGER NOT NULL DEFAULT 0 CHECK (line >= 0),
    field TEXT NOT NULL,
    first TEXT,
    PRIMARY KEY (order_id, line, field)
) STRICT, WITHOUT ROWID;

-- Divisions that lie in a parcel's slot and are no longer meant for it: the ledger has them at their place again, and a packer is
-- told to put them there.
CREATE TABLE put_back (
    id INTEGER PRIMARY KEY,
    wave_id INTEGER NOT NULL REFERENCES wave (id),
    slot INTEGER NOT NULL,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    place_id INTEGER NOT NULL REFERENCES place (id),
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    because TEXT NOT NULL CHECK (because IN ('cancelled', 'changed')),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    done_at INTEGER,
    done_by TEXT
) STRICT;
CREATE INDEX put_back_open ON put_back (wave_id) WHERE done_at IS NULL;
CREATE INDEX put_back_by_order ON put_back (order_id);
