-- SPDX-License-Identifier: MIT

-- name: of
SELECT released, offered, sold, beyond FROM offering WHERE variety_id = ?1;

-- name: set
INSERT INTO offering (variety_id, released, offered, sold, beyond) VALUES (?1, 1, ?2, 0, ?3)
ON CONFLICT (variety_id) DO UPDATE SET released = 1, offered = ?2, beyond = ?3;

-- name: release
INSERT INTO release (variety_id, at, actor, before, offered, confidence, p_short, basis, why)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9);

-- name: leave
INSERT INTO oversell (variety_id, at, actor, quantity, why) VALUES (?1, ?2, ?3, ?4, ?5);

-- name: releases
SELECT v.code, r.at, r.actor, r.before, r.offered, r.confidence, r.p_short, r.basis, r.why
FROM release r JOIN variety v ON v.id = r.variety_id
WHERE ?1 IS NULL OR v.id = (SELECT variety_id FROM variety_code WHERE code = ?1) ORDER BY r.id DESC LIMIT 5000;

-- name: availability
SELECT v.code, o.offered, o.sold FROM variety v JOIN offering o ON o.variety_id = v.id
WHERE v.retired = 0 AND o.released = 1 ORDER BY v.code;

-- name: past_orders
SELECT o.variety_id, o.season, o.day, o.quantity FROM past_order o
WHERE NOT EXISTS (SELECT 1 FROM past_sale s WHERE s.season = o.season AND s.variety_id = o.variety_id
                  AND s.sold_out_on IS NOT NULL)
ORDER BY o.season, o.variety_id, o.day;

-- name: past_sales
SELECT variety_id, season, sold, sold_out_on FROM past_sale ORDER BY variety_id, season, id;

-- name: asked_by_day
SELECT CAST(o.received_at / 86400000 AS INTEGER) AS day, SUM(l.quantity) AS asked FROM line l JOIN orders o ON o.id = l.order_id
JOIN variety v ON v.id = l.variety_id WHERE v.id = (SELECT variety_id FROM variety_code WHERE code = ?1) GROUP BY 1 ORDER BY 1;
