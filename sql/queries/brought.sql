-- SPDX-License-Identifier: MIT
-- Files of holds and of what carriers gave back, and what is taken back of them.

-- name: add
INSERT INTO brought (kind, name, at, actor) VALUES (?1, ?2, ?3, ?4);

-- name: add_parcel
INSERT INTO brought_parcel (brought_id, parcel_id, sent, carrier, tracking, more, shipped_on, said)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- Parcels that it sent or put a number on, holds of it that still stand.
-- name: list
SELECT b.id, b.kind, b.name, b.at, b.actor,
       (SELECT COUNT(*) FROM brought_parcel p WHERE p.brought_id = b.id)
           + (SELECT COUNT(*) FROM frost_hold h WHERE h.brought_id = b.id) AS stands, b.undone_at, b.undone_by, b.why
FROM brought b ORDER BY b.id DESC;

-- name: one
SELECT kind, name, undone_at IS NOT NULL AS undone FROM brought WHERE id = ?1;

-- name: parcels
SELECT parcel_id, sent, carrier, tracking, more, shipped_on, said FROM brought_parcel WHERE brought_id = ?1 ORDER BY parcel_id;

-- name: holds
SELECT id FROM frost_hold WHERE brought_id = ?1 ORDER BY id;

-- name: undo
UPDATE brought SET undone_at = ?2, undone_by = ?3, why = ?4 WHERE id = ?1;

-- Parcels of an order (?1) that a carrier may speak of: closed or gone, the leader of its box where several orders travel together.
-- name: parcels_of
SELECT c.id, c.state, c.tracking IS NOT NULL AS numbered,
       (upper(replace(COALESCE(c.tracking, ''), ' ', '')) = upper(replace(?2, ' ', ''))
        OR EXISTS (SELECT 1 FROM box b WHERE b.parcel_id = c.id AND upper(replace(b.tracking, ' ', '')) = upper(replace(?2, ' ', '')))) AS has
FROM parcel c JOIN orders o ON o.id = c.order_id WHERE o.number = ?1
  AND EXISTS (SELECT 1 FROM pick k WHERE k.parcel_id = c.id AND (k.state = 'open' OR k.taken > 0)) ORDER BY c.id;

-- name: order_known
SELECT 1 AS one FROM orders WHERE number = ?1;
