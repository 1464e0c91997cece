-- SPDX-License-Identifier: MIT
-- What the office puts right on an order.

-- name: order
UPDATE orders SET customer = ?2, name2 = ?3, email = ?4, phone = ?5, street = ?6, town = ?7, postcode = ?8, country = ?9,
    region = ?10, language = ?11, zone = ?12, wish_week = ?13, paid = ?14, version = version + 1
WHERE id = ?1;

-- name: consent
UPDATE line SET consent = ?2, named = ?3 WHERE id = ?1;

-- name: first
INSERT INTO corrected (order_id, line, field, first) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING;

-- Substitutes promised to a line that its consent, as it stands, does not allow.
-- name: uncovered
SELECT v.id, v.code, a.quantity
FROM allocation a JOIN line l ON l.id = a.line_id JOIN variety v ON v.id = a.variety_id JOIN variety w ON w.id = l.variety_id
WHERE a.line_id = ?1 AND a.kind = 'substitute' AND a.quantity > 0
  AND NOT COALESCE(CASE l.consent
      WHEN 'any' THEN v.price >= l.unit_price
      WHEN 'same' THEN v.price >= l.unit_price
           AND (v.form = w.form COLLATE NOCASE OR v.colour = w.colour COLLATE NOCASE)
      WHEN 'named' THEN instr(' ' || l.named || ' ', ' ' || v.code || ' ') > 0
      ELSE 0 END, 0)
ORDER BY v.code;
