-- SPDX-License-Identifier: MIT
-- Taking a person out of the orders; what was grown, sold and shipped stays.

-- name: find
SELECT id, number, state FROM orders WHERE lower(email) = lower(?1) OR customer = ?1 OR number = ?1 ORDER BY number;

-- name: blank
UPDATE orders SET customer = NULL, email = NULL, postcode = NULL, version = version + 1 WHERE id = ?1;

-- name: events
UPDATE order_event SET note = NULL WHERE order_id = ?1;

-- name: notices
UPDATE notice SET detail = CASE WHEN json_valid(detail)
    THEN json_remove(detail, '$.customer', '$.email', '$.postcode', '$.name', '$.to', '$.reason') ELSE '{}' END,
    evidence = CASE WHEN evidence IS NULL THEN NULL ELSE 'removed' END
WHERE order_id = ?1;

-- name: claims
UPDATE claim SET why = 'removed', reply = CASE WHEN reply IS NULL THEN NULL ELSE 'removed' END WHERE order_id = ?1;

-- Answers kept for repeated requests may show the order's sheet.
-- name: answers
DELETE FROM answered WHERE instr(body, (SELECT '"' || o.number || '"' FROM orders o WHERE o.id = ?1)) > 0;
