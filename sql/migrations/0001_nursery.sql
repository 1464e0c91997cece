-- SPDX-License-Identifier: MIT
-- The nursery file of one season. Days are whole days since 1970-01-01, instants are milliseconds since then (UTC),
-- money is hundredths of the currency, weeks are ISO year * 100 + week. Texts of fixed words carry a CHECK; in tables
-- that take a million rows it is written with OR, because SQLite builds a list in memory for every row's IN of three
-- or more (measured: twice the time of the whole insert).

CREATE TABLE nursery (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    season INTEGER NOT NULL,
    ship_day INTEGER NOT NULL,
    currency TEXT NOT NULL,
    timezone TEXT NOT NULL,
    made_at INTEGER NOT NULL,
    -- Raised by every write that can change a projection (stock) or a promise (trade); caches and ETags rest on them.
    stock_revision INTEGER NOT NULL DEFAULT 0,
    trade_revision INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE setting (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Every file or request that was taken in. Kinds without a natural key are recognised by their digest.
CREATE TABLE source (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    digest TEXT NOT NULL,
    rows INTEGER NOT NULL,
    actor TEXT NOT NULL,
    at INTEGER NOT NULL,
    UNIQUE (kind, digest)
) STRICT;

CREATE TABLE variety (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 32),
    name TEXT NOT NULL,
    form TEXT,
    size TEXT,
    colour TEXT,
    height_cm INTEGER,
    price INTEGER CHECK (price >= 0),
    hold_back INTEGER NOT NULL DEFAULT 0 CHECK (hold_back >= 0),
    reserve INTEGER NOT NULL DEFAULT 0 CHECK (reserve >= 0),
    limit_per_order INTEGER CHECK (limit_per_order >= 1),
    introduced INTEGER,
    retired INTEGER NOT NULL DEFAULT 0 CHECK (retired IN (0, 1)),
    version INTEGER NOT NULL DEFAULT 1
) STRICT;

CREATE TABLE history (
    id INTEGER PRIMARY KEY,
    season INTEGER NOT NULL,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    clumps INTEGER NOT NULL CHECK (clumps > 0),
    divisions INTEGER NOT NULL CHECK (divisions >= 0),
    source_id INTEGER NOT NULL REFERENCES source (id)
) STRICT;

-- What past seasons sold; sold_out_on (a day) says that the offer ended first, so that demand was at least this.
CREATE TABLE past_sale (
    id INTEGER PRIMARY KEY,
    season INTEGER NOT NULL,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    sold INTEGER NOT NULL CHECK (sold >= 0),
    sold_out_on INTEGER,
    UNIQUE (season, variety_id)
) STRICT;

CREATE TABLE past_check (
    id INTEGER PRIMARY KEY,
    season INTEGER NOT NULL,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    stage TEXT NOT NULL CHECK (stage IN ('clump', 'division')),
    weeks REAL NOT NULL CHECK (weeks >= 0),
    inspected INTEGER NOT NULL CHECK (inspected >= 0),
    rotten INTEGER NOT NULL CHECK (rotten BETWEEN 0 AND inspected),
    shrivelled INTEGER CHECK (shrivelled BETWEEN 0 AND inspected - rotten),
    source_id INTEGER NOT NULL REFERENCES source (id)
) STRICT;

-- Place 0 has no code: stock whose place nobody has written down yet. It is walked to last.
CREATE TABLE place (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    room TEXT NOT NULL,
    walk_order INTEGER NOT NULL
) STRICT;
INSERT INTO place (id, code, room, walk_order) VALUES (0, '', '', 1000000000);

CREATE TABLE lot (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 32),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    dug_on INTEGER NOT NULL,
    row TEXT,
    clumps INTEGER NOT NULL CHECK (clumps >= 0),
    culled INTEGER NOT NULL DEFAULT 0 CHECK (culled >= 0),
    place_id INTEGER NOT NULL DEFAULT 0 REFERENCES place (id),
    held TEXT -- why nothing of this lot may leave (sick, mislabelled); NULL when it may
) STRICT;
CREATE INDEX lot_by_variety ON lot (variety_id);

-- What people did in the cellar. Each row has its movements in the ledger.
CREATE TABLE dividing (
    id INTEGER PRIMARY KEY,
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    day INTEGER NOT NULL,
    clumps INTEGER NOT NULL CHECK (clumps >= 0),                           -- taken from store
    rotten INTEGER NOT NULL DEFAULT 0 CHECK (rotten BETWEEN 0 AND clumps), -- of them, thrown out whole
    saleable INTEGER NOT NULL CHECK (saleable >= 0),                       -- divisions made
    blind INTEGER NOT NULL DEFAULT 0 CHECK (blind >= 0),                   -- tubers without an eye, discarded
    place_id INTEGER NOT NULL DEFAULT 0 REFERENCES place (id),
    source_id INTEGER REFERENCES source (id),
    reversed INTEGER NOT NULL DEFAULT 0 CHECK (reversed IN (0, 1))
) STRICT;
CREATE INDEX dividing_by_lot ON dividing (lot_id, day);

CREATE TABLE storage_check (
    id INTEGER PRIMARY KEY,
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    day INTEGER NOT NULL,
    stage TEXT NOT NULL CHECK (stage IN ('clump', 'division')),
    inspected INTEGER NOT NULL CHECK (inspected >= 0),
    rotten INTEGER NOT NULL CHECK (rotten BETWEEN 0 AND inspected),
    shrivelled INTEGER CHECK (shrivelled BETWEEN 0 AND inspected - rotten), -- NULL: nobody looked for it
    source_id INTEGER REFERENCES source (id),
    reversed INTEGER NOT NULL DEFAULT 0 CHECK (reversed IN (0, 1))
) STRICT;
CREATE INDEX storage_check_by_lot ON storage_check (lot_id, day);

CREATE TABLE stock_take (
    id INTEGER PRIMARY KEY,
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    day INTEGER NOT NULL,
    stage TEXT NOT NULL CHECK (stage IN ('clump', 'division')),
    count INTEGER NOT NULL CHECK (count >= 0),
    before INTEGER NOT NULL,                 -- what the ledger said (of that place, or of all)
    place_id INTEGER REFERENCES place (id),  -- NULL: all places together
    source_id INTEGER REFERENCES source (id),
    reversed INTEGER NOT NULL DEFAULT 0 CHECK (reversed IN (0, 1))
) STRICT;
CREATE INDEX stock_take_by_lot ON stock_take (lot_id, day);

-- The ledger. Rows are only ever added; a wrong entry is reversed by a row that names it and has the opposite signs.
-- Reasons and the sign that each has unless it reverses:
--   dug clumps+  divided clumps-  made divisions+  found +  missing -  rotten -  shrivelled divisions-
--   discarded -  planted divisions-  picked divisions-  returned divisions+  moved (a pair, - and +)
CREATE TABLE movement (
    id INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    day INTEGER NOT NULL,
    actor TEXT NOT NULL,
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    place_id INTEGER NOT NULL REFERENCES place (id),
    clumps INTEGER NOT NULL DEFAULT 0,
    divisions INTEGER NOT NULL DEFAULT 0,
    reason TEXT NOT NULL,
    cause TEXT NOT NULL CHECK (cause = 'lot' OR cause = 'dividing' OR cause = 'check' OR cause = 'stock_take' OR cause = 'pick'
        OR cause = 'claim' OR cause = 'move' OR cause = 'entry'),
    cause_id INTEGER NOT NULL,
    reverses INTEGER REFERENCES movement (id),
    note TEXT,
    CHECK (clumps <> 0 OR divisions <> 0),
    CHECK (CASE reason
        WHEN 'dug' THEN divisions = 0 AND (clumps > 0) = (reverses IS NULL)
        WHEN 'divided' THEN divisions = 0 AND (clumps < 0) = (reverses IS NULL)
        WHEN 'made' THEN clumps = 0 AND (divisions > 0) = (reverses IS NULL)
        WHEN 'found' THEN (clumps >= 0 AND divisions >= 0) = (reverses IS NULL)
        WHEN 'missing' THEN (clumps <= 0 AND divisions <= 0) = (reverses IS NULL)
        WHEN 'rotten' THEN (clumps <= 0 AND divisions <= 0) = (reverses IS NULL)
        WHEN 'discarded' THEN (clumps <= 0 AND divisions <= 0) = (reverses IS NULL)
        WHEN 'shrivelled' THEN clumps = 0 AND (divisions < 0) = (reverses IS NULL)
        WHEN 'planted' THEN clumps = 0 AND (divisions < 0) = (reverses IS NULL)
        WHEN 'picked' THEN clumps = 0 AND (divisions < 0) = (reverses IS NULL)
        WHEN 'returned' THEN clumps = 0 AND (divisions > 0) = (reverses IS NULL)
        WHEN 'moved' THEN 1
        ELSE 0 END)
) STRICT;
CREATE INDEX movement_by_lot ON movement (lot_id, day);
CREATE INDEX movement_by_cause ON movement (cause, cause_id);
CREATE UNIQUE INDEX movement_reversed ON movement (reverses) WHERE reverses IS NOT NULL; -- once

-- What the ledger adds up to, kept by the trigger below and nothing else. Stock can never be less than none.
CREATE TABLE balance (
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    place_id INTEGER NOT NULL REFERENCES place (id),
    clumps INTEGER NOT NULL CHECK (clumps >= 0),
    divisions INTEGER NOT NULL CHECK (divisions >= 0),
    PRIMARY KEY (lot_id, place_id)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER movement_adds AFTER INSERT ON movement BEGIN
    UPDATE balance SET clumps = clumps + new.clumps, divisions = divisions + new.divisions
    WHERE lot_id = new.lot_id AND place_id = new.place_id;
    INSERT INTO balance (lot_id, place_id, clumps, divisions)
    SELECT new.lot_id, new.place_id, new.clumps, new.divisions WHERE changes() = 0;
END;
CREATE TRIGGER movement_stays BEFORE UPDATE ON movement BEGIN
    SELECT RAISE(ABORT, 'the ledger is only ever added to');
END;
CREATE TRIGGER movement_is_kept BEFORE DELETE ON movement BEGIN
    SELECT RAISE(ABORT, 'the ledger is only ever added to');
END;

CREATE TABLE weighing (
    sample TEXT NOT NULL,
    day INTEGER NOT NULL,
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    kg REAL NOT NULL CHECK (kg > 0),
    PRIMARY KEY (sample, day)
) STRICT, WITHOUT ROWID;

CREATE TABLE air (
    room TEXT NOT NULL,
    at INTEGER NOT NULL,
    temp_c REAL NOT NULL,
    rh REAL NOT NULL CHECK (rh BETWEEN 0 AND 100),
    PRIMARY KEY (room, at)
) STRICT, WITHOUT ROWID;

CREATE TABLE zone (
    code TEXT PRIMARY KEY,
    first_week INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE destination (
    country TEXT NOT NULL,
    region TEXT NOT NULL DEFAULT '',
    rule TEXT NOT NULL CHECK (rule IN ('allow', 'warn', 'block')),
    note TEXT,
    PRIMARY KEY (country, region)
) STRICT, WITHOUT ROWID;

-- An order's person stands on the order itself, so that forgetting a person blanks columns and leaves the stock alone.
CREATE TABLE orders (
    id INTEGER PRIMARY KEY,
    number TEXT NOT NULL UNIQUE CHECK (length(number) BETWEEN 1 AND 32),
    received_at INTEGER NOT NULL,
    channel TEXT,
    tier TEXT NOT NULL DEFAULT 'retail',
    customer TEXT,
    email TEXT,
    postcode TEXT,
    country TEXT,
    region TEXT,
    zone TEXT,
    wish_week INTEGER,
    ship_complete INTEGER NOT NULL DEFAULT 0 CHECK (ship_complete IN (0, 1)), -- all of it or nothing
    ship_week INTEGER,
    ship_reason INTEGER,
    pinned INTEGER NOT NULL DEFAULT 0 CHECK (pinned IN (0, 1)),               -- the office chose the week
    state TEXT NOT NULL DEFAULT 'open' CHECK (state = 'open' OR state = 'cancelled' OR state = 'shipped'),
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX orders_by_received ON orders (received_at);
CREATE INDEX orders_by_week ON orders (ship_week) WHERE ship_week IS NOT NULL;

-- A line asks for one variety, or (variety_id NULL) for a class of varieties in words: "colour=pink form=ball".
-- quantity is what is asked now; changes and cancellations stand in order_event. first_asked is what was asked when the
-- line was taken (or changed by a file): the same file loaded again is compared with it.
CREATE TABLE line (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    line INTEGER NOT NULL CHECK (line >= 1),
    variety_id INTEGER REFERENCES variety (id),
    assortment TEXT,
    quantity INTEGER NOT NULL CHECK (quantity >= 0),
    first_asked INTEGER NOT NULL DEFAULT 0 CHECK (first_asked >= 0),
    unit_price INTEGER NOT NULL CHECK (unit_price >= 0),
    consent TEXT NOT NULL DEFAULT 'none' CHECK (consent = 'none' OR consent = 'same' OR consent = 'any' OR consent = 'named'),
    named TEXT,
    all_or_none INTEGER NOT NULL DEFAULT 0 CHECK (all_or_none IN (0, 1)),
    CHECK ((variety_id IS NULL) = (assortment IS NOT NULL)),
    UNIQUE (order_id, line)
) STRICT;
CREATE INDEX line_by_variety ON line (variety_id);

CREATE TABLE order_event (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    line_id INTEGER REFERENCES line (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    kind TEXT NOT NULL, -- changed, cancelled, moved, note ...
    before TEXT,
    after TEXT,
    note TEXT
) STRICT;
CREATE INDEX order_event_by_order ON order_event (order_id);

-- What is on offer. `sold` is what the variety's lines ask for, kept with them in one transaction. More than offered
-- can be sold only as far as `beyond`, which is granted on record (oversell). A release takes back the leave that it
-- makes needless (a negative oversell row), or the leave would let more be sold than is offered.
CREATE TABLE offering (
    variety_id INTEGER PRIMARY KEY REFERENCES variety (id),
    released INTEGER NOT NULL DEFAULT 0 CHECK (released IN (0, 1)),
    offered INTEGER NOT NULL DEFAULT 0 CHECK (offered >= 0),
    sold INTEGER NOT NULL DEFAULT 0 CHECK (sold >= 0),
    beyond INTEGER NOT NULL DEFAULT 0 CHECK (beyond >= 0),
    CHECK (sold <= offered + beyond)
) STRICT;

CREATE TABLE release (
    id INTEGER PRIMARY KEY,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    before INTEGER NOT NULL,
    offered INTEGER NOT NULL,
    confidence REAL,
    p_short REAL,
    basis TEXT NOT NULL, -- the projection that it rests on, as JSON (as of, revision, mean, quantiles)
    why TEXT
) STRICT;
CREATE INDEX release_by_variety ON release (variety_id, at);

CREATE TABLE oversell (
    id INTEGER PRIMARY KEY,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    quantity INTEGER NOT NULL, -- added to offering.beyond; negative when leave is no longer needed
    why TEXT NOT NULL
) STRICT;

-- One run of a sharing rule or of substitution that was made firm.
CREATE TABLE run (
    id INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    what TEXT NOT NULL CHECK (what IN ('allocate', 'substitute')),
    rule TEXT NOT NULL,
    supply TEXT NOT NULL CHECK (supply IN ('counted', 'projected')),
    confidence REAL,
    digest TEXT NOT NULL,
    lines INTEGER NOT NULL,
    placed INTEGER NOT NULL
) STRICT;

-- Firm promises: how many of which variety a line will get, and why (a reason code with its numbers, turned into a
-- sentence by the model that made it). A line that got nothing keeps a row with quantity 0.
CREATE TABLE allocation (
    line_id INTEGER NOT NULL REFERENCES line (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    quantity INTEGER NOT NULL CHECK (quantity >= 0),
    kind TEXT NOT NULL CHECK (kind = 'own' OR kind = 'substitute' OR kind = 'assortment'),
    run_id INTEGER NOT NULL REFERENCES run (id),
    reason INTEGER NOT NULL,
    n1 INTEGER NOT NULL DEFAULT 0,
    n2 INTEGER NOT NULL DEFAULT 0,
    n3 INTEGER NOT NULL DEFAULT 0,
    n4 INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (line_id, variety_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE taken_back (
    id INTEGER PRIMARY KEY,
    line_id INTEGER NOT NULL REFERENCES line (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX taken_back_by_line ON taken_back (line_id);

CREATE TABLE frost_hold (
    id INTEGER PRIMARY KEY,
    zone TEXT,
    order_id INTEGER REFERENCES orders (id),
    first_week INTEGER NOT NULL,
    last_week INTEGER NOT NULL,
    why TEXT,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    CHECK ((zone IS NULL) <> (order_id IS NULL)),
    CHECK (first_week <= last_week)
) STRICT;

-- A wave: the orders of a week that are pulled together in one walk. States: open -> closed (every pick answered);
-- a wave with no pick answered may be dropped.
CREATE TABLE wave (
    id INTEGER PRIMARY KEY,
    week INTEGER NOT NULL,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    state TEXT NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'closed', 'dropped'))
) STRICT;

CREATE TABLE stop (
    id INTEGER PRIMARY KEY,
    wave_id INTEGER NOT NULL REFERENCES wave (id),
    stop INTEGER NOT NULL, -- 1, 2, ... along the walk
    place_id INTEGER NOT NULL REFERENCES place (id),
    taken_by TEXT,         -- the packer who works it
    taken_at INTEGER,
    UNIQUE (wave_id, stop)
) STRICT;

-- A parcel: one order of one wave in its numbered slot. States: open -> packed -> shipped. Its number, like a pick's, is
-- never used again: a phone may still hold a list that was dropped.
CREATE TABLE parcel (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    wave_id INTEGER NOT NULL REFERENCES wave (id),
    order_id INTEGER NOT NULL REFERENCES orders (id),
    slot INTEGER NOT NULL,
    state TEXT NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'packed', 'shipped')),
    weight_g INTEGER CHECK (weight_g > 0),
    packed_at INTEGER,
    packed_by TEXT,
    shipped_on INTEGER,
    carrier TEXT,
    tracking TEXT,
    UNIQUE (wave_id, slot),
    UNIQUE (wave_id, order_id)
) STRICT;
CREATE INDEX parcel_by_order ON parcel (order_id);

-- One line's divisions of one lot at one stop. States: open -> done (taken may be less than quantity, with a reason).
CREATE TABLE pick (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    wave_id INTEGER NOT NULL REFERENCES wave (id),
    stop_id INTEGER NOT NULL REFERENCES stop (id),
    parcel_id INTEGER NOT NULL REFERENCES parcel (id),
    line_id INTEGER NOT NULL REFERENCES line (id),
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    lot_id INTEGER NOT NULL REFERENCES lot (id),
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    state TEXT NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'done')),
    taken INTEGER NOT NULL DEFAULT 0 CHECK (taken BETWEEN 0 AND quantity),
    short_reason TEXT CHECK (short_reason IN ('rotten', 'shrivelled', 'missing', 'mislabelled')),
    answered_at INTEGER,
    answered_by TEXT,
    CHECK (state = 'done' OR taken = 0)
) STRICT;
CREATE INDEX pick_by_wave ON pick (wave_id);
CREATE INDEX pick_by_line ON pick (line_id);
CREATE INDEX pick_by_lot ON pick (lot_id);
CREATE INDEX pick_by_parcel ON pick (parcel_id);
CREATE INDEX pick_short ON pick (line_id) WHERE short_reason IS NOT NULL;
CREATE INDEX pick_open ON pick (lot_id) WHERE state = 'open';

-- What a buyer must be told. States: due -> sent, or dropped with a reason.
CREATE TABLE notice (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    line_id INTEGER REFERENCES line (id),
    kind TEXT NOT NULL CHECK (kind IN ('delay', 'short', 'substitute', 'refund', 'cancelled', 'recall')),
    made_at INTEGER NOT NULL,
    due_on INTEGER NOT NULL,
    detail TEXT NOT NULL, -- JSON: what the template needs
    amount INTEGER NOT NULL DEFAULT 0 CHECK (amount >= 0), -- refund, hundredths
    state TEXT NOT NULL DEFAULT 'due' CHECK (state IN ('due', 'sent', 'dropped')),
    done_at INTEGER,
    actor TEXT,
    evidence TEXT
) STRICT;
CREATE INDEX notice_by_order ON notice (order_id);
CREATE INDEX notice_due ON notice (due_on) WHERE state = 'due';

-- Guarantee: a division that failed at the buyer's, made good from the reserve or refunded.
CREATE TABLE claim (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    line_id INTEGER NOT NULL REFERENCES line (id),
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL,
    answer TEXT NOT NULL CHECK (answer IN ('open', 'replace', 'refund', 'refused')),
    lot_id INTEGER REFERENCES lot (id), -- replaced from
    amount INTEGER NOT NULL DEFAULT 0 CHECK (amount >= 0)
) STRICT;
CREATE INDEX claim_by_order ON claim (order_id);

-- Who did what. Each row's hash covers the row and the hash before it, so that a changed or missing row shows.
CREATE TABLE audit (
    id INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    action TEXT NOT NULL,
    subject TEXT NOT NULL,
    before TEXT,
    after TEXT,
    hash TEXT NOT NULL
) STRICT;
CREATE TRIGGER audit_stays BEFORE UPDATE ON audit BEGIN
    SELECT RAISE(ABORT, 'the audit is only ever added to');
END;
CREATE TRIGGER audit_is_kept BEFORE DELETE ON audit BEGIN
    SELECT RAISE(ABORT, 'the audit is only ever added to');
END;

-- Answers to requests that came with an idempotency key, so that a repeated request gets the same answer.
CREATE TABLE answered (
    key TEXT PRIMARY KEY,
    request TEXT NOT NULL, -- digest of method, path and body
    status INTEGER NOT NULL,
    body TEXT NOT NULL,
    at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE person (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    role TEXT NOT NULL CHECK (role IN ('owner', 'office', 'packer', 'cellar')),
    password TEXT NOT NULL, -- Argon2id, as the library encodes it
    disabled INTEGER NOT NULL DEFAULT 0 CHECK (disabled IN (0, 1)),
    made_at INTEGER NOT NULL
) STRICT;

CREATE TABLE signed_in (
    token TEXT PRIMARY KEY, -- digest of the cookie's token
    person_id INTEGER NOT NULL REFERENCES person (id),
    csrf TEXT NOT NULL,
    since INTEGER NOT NULL,
    seen INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE program_key (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    role TEXT NOT NULL CHECK (role IN ('owner', 'office', 'packer', 'cellar', 'shop')),
    token TEXT NOT NULL UNIQUE, -- digest of the key
    made_at INTEGER NOT NULL,
    expires_at INTEGER,
    disabled INTEGER NOT NULL DEFAULT 0 CHECK (disabled IN (0, 1))
) STRICT;
