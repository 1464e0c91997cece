-- SPDX-License-Identifier: MIT
-- Two codes that turn out to be one variety: one is kept, the other's rows become its own. What was moved or added up stands as it
-- was in merged_row, so that it can be put back while nothing else has touched the variety.
CREATE TABLE merging (
    id INTEGER PRIMARY KEY,
    kept INTEGER NOT NULL, -- ids of varieties; the one that is gone has no row while this stands
    gone INTEGER NOT NULL,
    kept_code TEXT NOT NULL,
    gone_code TEXT NOT NULL,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    why TEXT NOT NULL,
    undone_at INTEGER,
    undone_by TEXT,
    CHECK ((undone_at IS NULL) = (undone_by IS NULL))
) STRICT;

CREATE TABLE merged_row (
    merging_id INTEGER NOT NULL REFERENCES merging (id),
    part TEXT NOT NULL, -- the table
    row TEXT NOT NULL   -- as it was, as JSON; of a row that only changes its variety, its key
) STRICT;
CREATE INDEX merged_row_by_part ON merged_row (merging_id, part);

-- How the kept variety stood right after: what differs later was touched since.
CREATE TABLE merging_stood (
    merging_id INTEGER NOT NULL REFERENCES merging (id),
    part TEXT NOT NULL,
    figure TEXT NOT NULL,
    PRIMARY KEY (merging_id, part)
) STRICT, WITHOUT ROWID;

-- 1: the code of a variety that was merged into this one. What a file says of it alone is not what the two are together.
ALTER TABLE former_code ADD COLUMN merged INTEGER NOT NULL DEFAULT 0 CHECK (merged IN (0, 1));

-- A file that names a variety by a code that is not on record is asked whether its name is.
CREATE INDEX variety_by_name ON variety (name COLLATE NOCASE);

-- What rests on a variety, as figures that change whenever somebody touches it.
CREATE VIEW variety_stands AS
SELECT v.id AS variety_id, 'its own row' AS part, CAST(v.version AS TEXT) AS figure FROM variety v
UNION ALL SELECT v.id, 'lots', (SELECT COUNT(*) || ' ' || COALESCE(SUM(l.held IS NOT NULL), 0) || ' ' || COALESCE(SUM(l.culled), 0)
    FROM lot l WHERE l.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'stock', (SELECT COUNT(*) || ' ' || COALESCE(MAX(m.id), 0) FROM movement m JOIN lot l ON l.id = m.lot_id
    WHERE l.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'checks', (SELECT COUNT(*) || ' ' || COALESCE(SUM(c.reversed), 0) FROM storage_check c
    JOIN lot l ON l.id = c.lot_id WHERE l.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'plantings', (SELECT COUNT(*) || ' ' || COALESCE(SUM(p.plants), 0) || ' ' ||
    (SELECT COUNT(*) || ' ' || COALESCE(SUM(r.reversed), 0) FROM field_round r JOIN planting q ON q.id = r.planting_id
     WHERE q.variety_id = v.id) FROM planting p WHERE p.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'orders', (SELECT COUNT(*) || ' ' || COALESCE(SUM(n.quantity), 0) || ' ' || COALESCE(SUM(n.unit_price), 0)
    FROM line n WHERE n.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'the offer', (SELECT COUNT(*) || ' ' || COALESCE(SUM(o.offered), 0) || ' ' || COALESCE(SUM(o.sold), 0) || ' ' ||
    COALESCE(SUM(o.beyond), 0) FROM offering o WHERE o.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM release r WHERE r.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM oversell x WHERE x.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'promises', (SELECT COUNT(*) || ' ' || COALESCE(SUM(a.quantity), 0) || ' ' || COALESCE(SUM(a.run_id), 0)
    FROM allocation a WHERE a.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM taken_back b WHERE b.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM run_before b WHERE b.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM forbidden f WHERE f.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'walks', (SELECT COUNT(*) || ' ' || COALESCE(SUM(k.taken), 0) || ' ' || COALESCE(SUM(k.state = 'done'), 0)
    FROM pick k WHERE k.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) || ' ' || COUNT(b.done_at) FROM put_back b WHERE b.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'letters to buyers', (SELECT COUNT(*) FROM notice n JOIN line l ON l.id = n.line_id
    WHERE l.variety_id = v.id AND n.state = 'sent') || ' ' ||
    (SELECT COUNT(*) FROM claim c JOIN line l ON l.id = c.line_id WHERE l.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'past seasons', (SELECT COUNT(*) FROM history h WHERE h.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM past_check c WHERE c.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) || ' ' || COALESCE(SUM(s.sold), 0) || ' ' || COALESCE(SUM(s.sold_out_on), 0) FROM past_sale s WHERE s.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) || ' ' || COALESCE(SUM(o.quantity), 0) FROM past_order o WHERE o.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) || ' ' || COALESCE(SUM(p.plants), 0) || ' ' || COALESCE(SUM(p.clumps), 0) FROM past_planting p WHERE p.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM said_of s WHERE s.variety_id = v.id) FROM variety v
UNION ALL SELECT v.id, 'the planting plan', (SELECT COUNT(*) FROM keep_change k WHERE k.variety_id = v.id) || ' ' ||
    COALESCE((SELECT COALESCE(k.demand_low, '') || ' ' || COALESCE(k.demand_high, '') || ' ' || COALESCE(k.growth, '') || ' ' ||
              COALESCE(k.cost, '') || ' ' || COALESCE(k.least, '') FROM keep_said k WHERE k.variety_id = v.id), '') FROM variety v
UNION ALL SELECT v.id, 'its codes', (SELECT COUNT(*) FROM former_code f WHERE f.variety_id = v.id) || ' ' ||
    (SELECT COUNT(*) FROM relabelling r WHERE r.was = v.id OR r.became = v.id) FROM variety v;
