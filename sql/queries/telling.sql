-- SPDX-License-Identifier: MIT
-- What a shop was told last, and what is not so any more.

-- Varieties and orders that are not as they were told, or are no more: the first few (?1).
-- name: changed
SELECT kind, name FROM (
    SELECT 'variety' AS kind, n.name FROM shop_variety n LEFT JOIN shop_told t ON t.kind = 'variety' AND t.name = n.name
    WHERE t.said IS NOT n.said
    UNION ALL SELECT 'variety', t.name FROM shop_told t WHERE t.kind = 'variety' AND t.name NOT IN (SELECT name FROM shop_variety)
    UNION ALL SELECT 'order', n.name FROM shop_order n LEFT JOIN shop_told t ON t.kind = 'order' AND t.name = n.name
    WHERE t.said IS NOT n.said
    UNION ALL SELECT 'order', t.name FROM shop_told t WHERE t.kind = 'order' AND t.name NOT IN (SELECT name FROM shop_order))
LIMIT ?1;

-- name: of_variety
SELECT said, json_object('variety', name, 'offered', offered, 'sold', sold, 'left', MAX(offered - sold, 0)) AS json
FROM shop_variety WHERE name = ?1;

-- name: of_order
SELECT n.said, json_object(
           'order', n.name, 'state', n.state, 'into', (SELECT m.number FROM orders m WHERE m.id = n.merged_into),
           'week', (n.ship_week / 100) || '-W' || substr('0' || (n.ship_week % 100), -2),
           'parcels', json((SELECT json_group_array(json_object('shipped_on', date(p.shipped_on * 86400, 'unixepoch'), 'carrier', p.carrier,
                                                                'tracking', p.tracking))
                            FROM (SELECT c.shipped_on, c.carrier, c.tracking FROM parcel c
                                  WHERE c.order_id = n.id AND c.state = 'shipped' ORDER BY c.id) p))) AS json
FROM shop_order n WHERE n.name = ?1;

-- name: said
INSERT INTO shop_told (kind, name, said) VALUES (?1, ?2, ?3) ON CONFLICT (kind, name) DO UPDATE SET said = excluded.said;

-- It is no more, and that was told.
-- name: ended
DELETE FROM shop_told WHERE kind = ?1 AND name = ?2;

-- Another shop was told nothing.
-- name: forget
DELETE FROM shop_told;

-- What a hook (?1) says is to be told again, as it is then.
-- name: again
INSERT INTO shop_told (kind, name, said)
SELECT 'variety', j.value ->> '$.variety', '' FROM outbox o, json_each(o.body, '$.data.availability') j WHERE o.id = ?1
UNION ALL SELECT 'order', j.value ->> '$.order', '' FROM outbox o, json_each(o.body, '$.data.orders') j WHERE o.id = ?1
ON CONFLICT (kind, name) DO UPDATE SET said = '';
