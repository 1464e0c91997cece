-- SPDX-License-Identifier: MIT

-- name: list
SELECT code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced, retired, version
FROM variety WHERE ?1 IS NULL OR code = ?1 ORDER BY code;

-- name: edit
UPDATE variety SET hold_back = ?2, reserve = ?3, price = ?4, limit_per_order = ?5, retired = ?6, version = version + 1
WHERE code = ?1 AND version = ?7;
