-- SPDX-License-Identifier: MIT
-- What is written out and is no CSV kind (those are in kinds.sql).

-- name: stock
SELECT l.code, v.code, p.code, p.room, b.clumps, b.divisions
FROM balance b JOIN lot l ON l.id = b.lot_id JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = b.place_id
WHERE b.clumps > 0 OR b.divisions > 0 ORDER BY v.code, l.code, p.walk_order;

-- name: ledger
SELECT m.id, m.at, m.day, m.actor, l.code, v.code, p.code, m.clumps, m.divisions, m.reason, m.cause, m.cause_id, m.reverses,
       m.note
FROM movement m JOIN lot l ON l.id = m.lot_id JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = m.place_id
ORDER BY m.id;

-- name: offers
SELECT v.code, o.released, o.offered, o.sold, o.beyond FROM offering o JOIN variety v ON v.id = o.variety_id ORDER BY v.code;

-- name: releases
SELECT v.code, r.at, r.actor, r.before, r.offered, r.confidence, r.p_short, r.why
FROM release r JOIN variety v ON v.id = r.variety_id ORDER BY r.id;

-- name: oversells
SELECT v.code, o.at, o.actor, o.quantity, o.why FROM oversell o JOIN variety v ON v.id = o.variety_id ORDER BY o.id;

-- name: allocations
SELECT v.code, o.number, l.line, a.kind, l.quantity, a.quantity, r.rule, r.at, r.actor
FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id
JOIN variety v ON v.id = a.variety_id JOIN run r ON r.id = a.run_id
ORDER BY v.code, o.id, l.line;

-- name: events
SELECT o.number, l.line, e.at, e.actor, e.kind, e.before, e.after, e.note
FROM order_event e JOIN orders o ON o.id = e.order_id LEFT JOIN line l ON l.id = e.line_id ORDER BY e.id;

-- name: weeks
SELECT o.number, o.customer, (SELECT z.zone FROM order_zone z WHERE z.order_id = o.id), o.wish_week, o.ship_week, o.pinned, o.state FROM orders o ORDER BY o.ship_week, o.id;

-- name: parcels
SELECT w.week, p.wave_id, COALESCE(p.in_slot, p.slot), o.number, p.state, p.weight_g, p.shipped_on, p.carrier, p.tracking,
       (SELECT group_concat(b.tracking, ', ') FROM box b WHERE b.parcel_id = p.id)
FROM parcel p JOIN wave w ON w.id = p.wave_id JOIN orders o ON o.id = p.order_id ORDER BY p.wave_id, p.slot;

-- name: picks
SELECT k.wave_id, s.stop, pl.code, lo.code, v.code, o.number, l.line, k.quantity, k.state, k.taken, k.short_reason,
       k.answered_at, k.answered_by
FROM pick k JOIN stop s ON s.id = k.stop_id JOIN place pl ON pl.id = s.place_id JOIN lot lo ON lo.id = k.lot_id
JOIN variety v ON v.id = k.variety_id JOIN line l ON l.id = k.line_id JOIN orders o ON o.id = l.order_id
ORDER BY k.wave_id, s.stop, k.id;

-- name: notices
SELECT o.number, l.line, t.kind, t.made_at, t.due_on, t.state, t.amount, t.done_at, t.actor, t.evidence
FROM notice t JOIN orders o ON o.id = t.order_id LEFT JOIN line l ON l.id = t.line_id ORDER BY t.id;

-- name: claims
SELECT o.number, l.line, c.quantity, c.at, c.actor, c.why, c.answer, lo.code, c.amount
FROM claim c JOIN orders o ON o.id = c.order_id JOIN line l ON l.id = c.line_id LEFT JOIN lot lo ON lo.id = c.lot_id
ORDER BY c.id;

-- name: audit
SELECT id, at, actor, action, subject, before, after, hash FROM audit ORDER BY id;

-- name: audit_page
SELECT id, at, actor, action, subject, before, after FROM audit WHERE id < ?1 ORDER BY id DESC LIMIT ?2;

-- name: sources
SELECT kind, name, rows, actor, at, digest FROM source ORDER BY id;
