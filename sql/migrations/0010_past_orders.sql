-- SPDX-License-Identifier: MIT
-- How many divisions of a variety were ordered on a day of a past season: how orders come over a season is learned from it.
CREATE TABLE past_order (
    season INTEGER NOT NULL,
    variety_id INTEGER NOT NULL REFERENCES variety (id),
    day INTEGER NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity >= 0),
    PRIMARY KEY (season, variety_id, day)
) STRICT, WITHOUT ROWID;
