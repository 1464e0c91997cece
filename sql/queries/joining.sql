-- SPDX-License-Identifier: MIT
-- Two orders of one buyer: found, put together, taken apart.

-- The buyer's other orders that are open, and those that were put into this one. The same buyer: the same e-mail, or the same
-- name at the same postcode.
-- name: beside
SELECT b.id, b.number, b.customer, b.ship_week, b.tier, b.paid, b.replaces IS NOT NULL AS replaces,
       (SELECT COUNT(*) FROM line l WHERE l.quantity > 0
          AND (l.order_id = b.id OR (l.from_order = b.id AND l.order_id = a.id))) AS lines,
       (SELECT COALESCE(SUM(l.quantity), 0) FROM line l
          WHERE l.order_id = b.id OR (l.from_order = b.id AND l.order_id = a.id)) AS asked,
       lower(trim(COALESCE(a.street, ''))) = lower(trim(COALESCE(b.street, '')))
           AND lower(trim(COALESCE(a.postcode, ''))) = lower(trim(COALESCE(b.postcode, '')))
           AND lower(trim(COALESCE(a.town, ''))) = lower(trim(COALESCE(b.town, '')))
           AND COALESCE(a.region, '') = COALESCE(b.region, '')
           AND COALESCE(a.country, '') = COALESCE(b.country, '') AS same_place,
       COALESCE(a.with_order, a.id) = COALESCE(b.with_order, b.id) AS together,
       EXISTS (SELECT 1 FROM parcel p JOIN pick k ON k.parcel_id = p.id WHERE p.order_id = b.id) AS pulled,
       COALESCE(b.merged_into = a.id, 0) AS merged
FROM orders a JOIN orders b ON lower(trim(b.email)) = lower(trim(a.email)) AND a.email <> ''
  OR (lower(trim(b.customer)) = lower(trim(a.customer)) AND a.customer <> '' AND a.postcode <> ''
      AND lower(trim(b.postcode)) = lower(trim(a.postcode)))
  OR b.merged_into = a.id
WHERE a.id = ?1 AND b.id <> a.id AND (b.state = 'open' OR b.merged_into = a.id)
ORDER BY b.received_at, b.id;

-- Orders that were put into this one.
-- name: merged_here
SELECT COUNT(*) AS count FROM orders WHERE merged_into = ?1;

-- name: last_line
SELECT COALESCE(MAX(line), 0) AS line FROM line WHERE order_id = ?1;

-- What is asked of ?1 goes to ?2, behind line ?3.
-- name: move_lines
UPDATE line SET from_order = order_id, from_line = line, order_id = ?2, line = line + ?3
WHERE order_id = ?1 AND quantity > 0;

-- name: move_notices
UPDATE notice SET order_id = (SELECT l.order_id FROM line l WHERE l.id = notice.line_id)
WHERE line_id IN (SELECT l.id FROM line l WHERE l.from_order = ?1);

-- name: mark_merged
UPDATE orders SET merged_into = ?2, with_order = NULL, state = CASE WHEN ?2 IS NULL THEN 'open' ELSE 'cancelled' END,
    version = version + 1 WHERE id = ?1;

-- Something of what came from ?1 is on a list, or was.
-- name: moved_pulled
SELECT EXISTS (SELECT 1 FROM line l JOIN pick k ON k.line_id = l.id WHERE l.from_order = ?1) AS pulled;

-- name: return_notices
UPDATE notice SET order_id = ?1 WHERE line_id IN (SELECT l.id FROM line l WHERE l.from_order = ?1);

-- name: return_lines
UPDATE line SET order_id = from_order, line = from_line, from_order = NULL, from_line = NULL WHERE from_order = ?1;

-- ?1 and whatever travels with it go with ?2.
-- name: go_with
UPDATE orders SET with_order = ?2, version = version + 1 WHERE (id = ?1 OR with_order = ?1) AND id <> ?2;

-- name: leader
SELECT COALESCE(with_order, id) AS id FROM orders WHERE id = ?1;

-- ?1 goes alone; of those that went with it the first leads the rest.
-- name: next_leader
SELECT COALESCE(MIN(id), 0) AS id FROM orders WHERE with_order = ?1;

-- name: go_alone
UPDATE orders SET with_order = CASE WHEN id <> ?1 AND id <> ?2 THEN ?2 END, version = version + 1
WHERE id = ?1 OR with_order = ?1;

-- Parcels of the orders that travel with ?1, itself among them, in waves in which two of them still are here.
-- name: parcels
SELECT c.id, c.wave_id AS wave, c.slot, COALESCE(c.in_slot, c.slot) AS lies, c.state, o.number
FROM parcel c JOIN orders o ON o.id = c.order_id
WHERE COALESCE(o.with_order, o.id) = ?1 AND c.state <> 'shipped'
  AND (SELECT COUNT(*) FROM parcel d JOIN orders m ON m.id = d.order_id
       WHERE d.wave_id = c.wave_id AND d.state <> 'shipped' AND COALESCE(m.with_order, m.id) = ?1) > 1
ORDER BY c.wave_id, c.slot;

-- name: lie_in
UPDATE parcel SET in_slot = NULLIF(?2, slot) WHERE id = ?1;

-- A wave as it is written: orders that travel together lie in the first slot of theirs.
-- name: share_slots
UPDATE parcel SET in_slot = NULLIF((
    SELECT MIN(l.slot) FROM parcel l JOIN orders m ON m.id = l.order_id
    WHERE l.wave_id = parcel.wave_id
      AND COALESCE(m.with_order, m.id) = (SELECT COALESCE(o.with_order, o.id) FROM orders o WHERE o.id = parcel.order_id)), slot)
WHERE wave_id = ?1
  AND order_id IN (SELECT id FROM orders WHERE with_order IS NOT NULL UNION SELECT with_order FROM orders);
