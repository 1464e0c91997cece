-- SPDX-License-Identifier: MIT
-- What the owner edits of a variety (its other statements are in kinds.sql).

-- name: terms
SELECT hold_back, reserve, limit_per_order, price, retired, own_low, own_high, version
FROM variety WHERE id = (SELECT variety_id FROM variety_code WHERE code = ?1);

-- name: edit
UPDATE variety SET hold_back = ?2, reserve = ?3, price = ?4, limit_per_order = ?5, retired = ?6,
    own_low = NULLIF(?8, 0), own_high = NULLIF(?9, 0), version = version + 1
WHERE id = (SELECT variety_id FROM variety_code WHERE code = ?1) AND version = ?7;
