-- SPDX-License-Identifier: MIT
-- Buyers of seasons before, taken along when the owner asked for it: name, address and consent, and no order. Forgetting a person
-- deletes the row.
CREATE TABLE known_buyer (
    id INTEGER PRIMARY KEY,
    last_season INTEGER NOT NULL,
    last_on INTEGER NOT NULL, -- the day of the last order
    customer TEXT NOT NULL,
    name2 TEXT,
    email TEXT,
    phone TEXT,
    street TEXT,
    town TEXT,
    postcode TEXT,
    country TEXT,
    region TEXT,
    language TEXT CHECK (language IN ('de', 'en', 'fr', 'nl')),
    zone TEXT,
    tier TEXT NOT NULL,
    -- Of the last order, where all its lines say the same; varieties that were named are those of that order.
    consent TEXT NOT NULL CHECK (consent IN ('none', 'same', 'any'))
) STRICT;

-- Each buyer once, as of the last order: of this season (own), or as they were taken along. Persons are told apart as in forgetting.
CREATE VIEW buyer_once AS
WITH each AS (
    SELECT 1 AS own, o.id, (SELECT n.season FROM nursery n) AS last_season, o.received_at / 86400000 AS last_on, o.customer, o.name2,
           o.email, o.phone, o.street, o.town, o.postcode, o.country, o.region, o.language, o.zone, o.tier,
           (SELECT CASE WHEN COUNT(DISTINCT l.consent) = 1 AND MIN(l.consent) <> 'named' THEN MIN(l.consent) ELSE 'none' END
            FROM line l WHERE l.order_id = o.id) AS consent
    FROM orders o WHERE o.customer IS NOT NULL AND o.replaces IS NULL
    UNION ALL
    SELECT 0, b.id, b.last_season, b.last_on, b.customer, b.name2, b.email, b.phone, b.street, b.town, b.postcode, b.country,
           b.region, b.language, b.zone, b.tier, b.consent
    FROM known_buyer b
), mail AS (
    SELECT lower(customer) AS customer, replace(lower(postcode), ' ', '') AS postcode, MIN(lower(email)) AS email
    FROM each WHERE email IS NOT NULL AND postcode IS NOT NULL GROUP BY 1, 2
), whose AS (
    SELECT e.*, COALESCE(lower(e.email), m.email,
                         lower(e.customer) || char(10) || COALESCE(replace(lower(e.postcode), ' ', ''), '')) AS person
    FROM each e LEFT JOIN mail m ON m.customer = lower(e.customer) AND m.postcode = replace(lower(e.postcode), ' ', '')
)
SELECT own, id, last_season, last_on, customer, name2, email, phone, street, town, postcode, country, region, language, zone, tier,
       consent
FROM (SELECT w.*, ROW_NUMBER() OVER (PARTITION BY w.person ORDER BY w.last_on DESC, w.own DESC, w.id DESC) AS nth FROM whose w)
WHERE nth = 1;

-- How the last firm statement of a past season held, so that trust is shown over years. held: varieties that came within the range
-- of 8 in 10; a mean where something was not counted.
CREATE TABLE past_said (
    season INTEGER PRIMARY KEY,
    said_on INTEGER NOT NULL,
    why TEXT NOT NULL CHECK (why IN ('release', 'month')),
    varieties INTEGER NOT NULL CHECK (varieties > 0),
    expected REAL NOT NULL CHECK (expected >= 0),
    came REAL NOT NULL CHECK (came >= 0),
    held REAL NOT NULL CHECK (held BETWEEN 0 AND varieties)
) STRICT;

-- 1: the file was made by a program that writes such a line where there is one.
ALTER TABLE origin ADD COLUMN told INTEGER NOT NULL DEFAULT 0 CHECK (told IN (0, 1));

-- How many buyers went along into the season that was opened from this one.
ALTER TABLE closing ADD COLUMN buyers INTEGER NOT NULL DEFAULT 0 CHECK (buyers >= 0);
