-- SPDX-License-Identifier: MIT
-- A parcel that leaves in more than one box: the first is the parcel itself, the others stand here, each with its own weight and its own
-- tracking number.
CREATE TABLE box (
    parcel_id INTEGER NOT NULL REFERENCES parcel (id),
    number INTEGER NOT NULL CHECK (number >= 2),
    weight_g INTEGER CHECK (weight_g > 0),
    tracking TEXT,
    PRIMARY KEY (parcel_id, number)
) STRICT;

-- A big order's parcel lies in several slots: in which one a pick goes when that is not the first.
ALTER TABLE pick ADD COLUMN slot INTEGER;
