-- SPDX-License-Identifier: MIT
-- One order at the order desk: finding it, reading it, changing it on record.

-- name: by_number
SELECT id, number, received_at, channel, tier, customer, email, postcode, country, region,
       (SELECT z.zone FROM order_zone z WHERE z.order_id = orders.id) AS zone, wish_week, ship_complete,
       ship_week, state, version, (SELECT r.number FROM orders r WHERE r.id = orders.replaces) AS replaces, name2, phone, street, town,
       COALESCE(orders.zone, '') = '' AS zone_by_range, language, paid,
       EXISTS (SELECT 1 FROM unpaid_order u WHERE u.order_id = orders.id) AS kept_unpaid,
       (SELECT m.number FROM orders m WHERE m.id = orders.merged_into) AS merged_into
FROM orders WHERE number = ?1;

-- name: customer
SELECT customer FROM orders WHERE id = ?1;

-- name: lines
SELECT l.id, l.line, l.variety_id, v.code, v.name, l.assortment, l.quantity, l.unit_price, l.consent, l.named, l.all_or_none
FROM line l LEFT JOIN variety v ON v.id = l.variety_id WHERE l.order_id = ?1 ORDER BY l.line;

-- name: events
SELECT e.at, e.actor, e.kind, CASE WHEN l.from_order = e.order_id THEN l.from_line ELSE l.line END, e.before, e.after, e.note
FROM order_event e LEFT JOIN line l ON l.id = e.line_id WHERE e.order_id = ?1 ORDER BY e.id;

-- name: event_add
INSERT INTO order_event (order_id, line_id, at, actor, kind, before, after, note)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- name: parcels
SELECT p.id, w.week, COALESCE(p.in_slot, p.slot), p.state, p.weight_g, p.shipped_on, p.carrier, p.tracking,
       (SELECT group_concat(b.tracking, ', ') FROM box b WHERE b.parcel_id = p.id)
FROM parcel p JOIN wave w ON w.id = p.wave_id WHERE p.order_id = ?1 ORDER BY p.id;

-- name: notices
SELECT n.id, n.kind, l.line, n.due_on, n.amount, n.state, n.evidence
FROM notice n LEFT JOIN line l ON l.id = n.line_id WHERE n.order_id = ?1 ORDER BY n.id;

-- name: set_quantity
UPDATE line SET quantity = ?2 WHERE id = ?1;

-- name: set_state
UPDATE orders SET state = ?2, version = version + 1 WHERE id = ?1;

-- name: raise_version
UPDATE orders SET version = version + 1 WHERE id = ?1;

-- What replaces something that failed was never on offer.
-- name: sold_by
UPDATE offering SET sold = sold + ?2 WHERE variety_id = ?1
  AND NOT EXISTS (SELECT 1 FROM line l JOIN orders o ON o.id = l.order_id WHERE l.id = ?3 AND o.replaces IS NOT NULL);

-- name: beyond_by
INSERT INTO offering (variety_id, beyond) VALUES (?1, MAX(?2, 0))
ON CONFLICT (variety_id) DO UPDATE SET beyond = beyond + ?2;

-- name: variety
SELECT variety_id AS id FROM variety_code WHERE code = ?1;

-- What is being pulled or was pulled for an order.
-- name: pulled
SELECT COALESCE(SUM(k.taken), 0) AS taken, COALESCE(SUM(CASE WHEN k.state = 'open' THEN k.quantity ELSE 0 END), 0) AS open
FROM parcel p JOIN pick k ON k.parcel_id = p.id WHERE p.order_id = ?1;

-- Found by what a caller has at hand: number, name, address, postcode; of a variety; in a state; of a ship week.
-- name: find
SELECT o.id, o.number, o.received_at, o.customer, o.email, o.postcode, o.tier, o.ship_week, o.state,
       (SELECT COUNT(*) FROM line l WHERE l.order_id = o.id) AS lines,
       (SELECT COALESCE(SUM(l.quantity), 0) FROM line l WHERE l.order_id = o.id) AS asked,
       (SELECT COALESCE(SUM(a.quantity), 0) FROM line l JOIN allocation a ON a.line_id = l.id WHERE l.order_id = o.id) AS firm
FROM (SELECT f.id FROM orders f INDEXED BY orders_to_find
      WHERE (?1 IS NULL OR has_text(?1, f.number, f.customer, f.email, f.postcode))
        AND (?2 IS NULL OR f.id IN (SELECT l.order_id FROM line l WHERE l.variety_id = ?2))
        AND (?3 IS NULL OR f.state = ?3)
        AND (?4 IS NULL OR f.ship_week = ?4)
      ORDER BY f.received_at DESC, f.id DESC LIMIT ?5 OFFSET ?6) w
CROSS JOIN orders o ON o.id = w.id ORDER BY o.received_at DESC, o.id DESC;

-- Who ordered before, by name, e-mail address or postcode: of this season's orders, and of those who were taken along from a season
-- before; the last who ordered first.
-- name: buyers
SELECT b.customer, b.name2, b.email, b.phone, b.street, b.town, b.postcode, b.country, b.region, b.language, b.zone, b.tier,
       b.consent, b.season
FROM (SELECT o.received_at / 86400000 AS last_on, 1 AS own, o.id, o.customer, o.name2, o.email, o.phone, o.street, o.town,
             o.postcode, o.country, o.region, o.language, o.zone, o.tier,
             (SELECT CASE WHEN COUNT(DISTINCT l.consent) = 1 AND MIN(l.consent) <> 'named' THEN MIN(l.consent) ELSE 'none' END
              FROM line l WHERE l.order_id = o.id) AS consent,
             (SELECT n.season FROM nursery n) AS season
      FROM (SELECT f.id FROM orders f INDEXED BY orders_to_find
            WHERE f.customer IS NOT NULL AND has_text(?1, f.customer, f.email, f.postcode)
            ORDER BY f.received_at DESC, f.id DESC LIMIT ?2) w
      CROSS JOIN orders o ON o.id = w.id
      UNION ALL
      SELECT k.last_on, 0, k.id, k.customer, k.name2, k.email, k.phone, k.street, k.town, k.postcode, k.country, k.region,
             k.language, k.zone, k.tier, k.consent, k.last_season
      FROM known_buyer k WHERE has_text(?1, k.customer, k.email, k.postcode)) b
ORDER BY b.last_on DESC, b.own DESC, b.id DESC LIMIT ?2;

-- name: variety_name
SELECT name FROM variety WHERE id = ?1;

-- A variety as it is sold, by any code that it has or had.
-- name: for_sale
SELECT v.id, v.code, v.price, v.retired FROM variety_code c JOIN variety v ON v.id = c.variety_id WHERE c.code = ?1;
