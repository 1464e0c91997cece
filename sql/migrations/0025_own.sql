-- SPDX-License-Identifier: MIT
-- What the owner says that a sound clump of a variety gives in a usual season: low to high, 8 in 10 sure. With one figure alone
-- that is the middle.
ALTER TABLE variety ADD COLUMN own_low REAL CHECK (own_low > 0);
ALTER TABLE variety ADD COLUMN own_high REAL CHECK (own_high > 0);
