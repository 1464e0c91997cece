-- SPDX-License-Identifier: MIT
-- Taking files and orders in. find_, insert_ and update_ have the columns of desk/intake/kinds.c in its order; find_ is asked
-- by the natural key.

-- name: variety
SELECT v.id, v.retired, COALESCE(o.released, 0), COALESCE(o.offered, 0), COALESCE(o.sold, 0), COALESCE(o.beyond, 0),
       o.variety_id IS NOT NULL
FROM variety v LEFT JOIN offering o ON o.variety_id = v.id WHERE v.code = ?1;

-- name: lot
SELECT id, dug_on, place_id FROM lot WHERE code = ?1;

-- name: place
SELECT id FROM place WHERE code = ?1;

-- name: find_varieties
SELECT code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced, retired
FROM variety WHERE code = ?1;

-- name: insert_varieties
INSERT INTO variety (code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced,
                     retired)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12);

-- name: update_varieties
UPDATE variety SET name = ?2, form = ?3, size = ?4, colour = ?5, height_cm = ?6, price = ?7, hold_back = ?8,
    reserve = ?9, limit_per_order = ?10, introduced = ?11, retired = ?12, version = version + 1
WHERE code = ?1;

-- name: find_places
SELECT code, room, walk_order FROM place WHERE code = ?1;

-- name: insert_places
INSERT INTO place (code, room, walk_order) VALUES (?1, ?2, ?3);

-- name: update_places
UPDATE place SET room = ?2, walk_order = ?3 WHERE code = ?1;

-- name: find_zones
SELECT code, first_week FROM zone WHERE code = ?1;

-- name: insert_zones
INSERT INTO zone (code, first_week) VALUES (?1, ?2);

-- name: update_zones
UPDATE zone SET first_week = ?2 WHERE code = ?1;

-- name: find_destinations
SELECT country, region, rule, note FROM destination WHERE country = ?1 AND region = ?2;

-- name: insert_destinations
INSERT INTO destination (country, region, rule, note) VALUES (?1, ?2, ?3, ?4);

-- name: update_destinations
UPDATE destination SET rule = ?3, note = ?4 WHERE country = ?1 AND region = ?2;

-- name: find_past_sales
SELECT season, variety_id, sold, sold_out_on FROM past_sale WHERE season = ?1 AND variety_id = ?2;

-- name: insert_past_sales
INSERT INTO past_sale (season, variety_id, sold, sold_out_on) VALUES (?1, ?2, ?3, ?4);

-- name: update_past_sales
UPDATE past_sale SET sold = ?3, sold_out_on = ?4 WHERE season = ?1 AND variety_id = ?2;

-- name: find_past_orders
SELECT season, variety_id, day, quantity FROM past_order WHERE season = ?1 AND variety_id = ?2 AND day = ?3;

-- name: insert_past_orders
INSERT INTO past_order (season, variety_id, day, quantity) VALUES (?1, ?2, ?3, ?4);

-- name: update_past_orders
UPDATE past_order SET quantity = ?4 WHERE season = ?1 AND variety_id = ?2 AND day = ?3;

-- name: find_lots
SELECT code, variety_id, dug_on, clumps, row, culled, place_id FROM lot WHERE code = ?1;

-- name: insert_lots
INSERT INTO lot (code, variety_id, dug_on, clumps, row, culled, place_id) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7);

-- name: find_weighings
SELECT sample, lot_id, day, kg FROM weighing WHERE sample = ?1 AND day = ?2;

-- name: insert_weighings
INSERT INTO weighing (sample, lot_id, day, kg) VALUES (?1, ?2, ?3, ?4);

-- name: update_weighings
UPDATE weighing SET lot_id = ?2, kg = ?4 WHERE sample = ?1 AND day = ?3;

-- name: find_air
SELECT room, at, temp_c, rh FROM air WHERE room = ?1 AND at = ?2;

-- name: insert_air
INSERT INTO air (room, at, temp_c, rh) VALUES (?1, ?2, ?3, ?4);

-- name: update_air
UPDATE air SET temp_c = ?3, rh = ?4 WHERE room = ?1 AND at = ?2;

-- name: source_known
SELECT id, name, at FROM source WHERE kind = ?1 AND digest = ?2;

-- name: source_add
INSERT INTO source (kind, name, digest, rows, actor, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- What still stands of a source.
-- name: source_stands
SELECT (SELECT COUNT(*) FROM history WHERE source_id = ?1) + (SELECT COUNT(*) FROM past_check WHERE source_id = ?1)
     + (SELECT COUNT(*) FROM dividing WHERE source_id = ?1 AND reversed = 0)
     + (SELECT COUNT(*) FROM storage_check WHERE source_id = ?1 AND reversed = 0)
     + (SELECT COUNT(*) FROM stock_take WHERE source_id = ?1 AND reversed = 0);

-- What is on record of the kinds without a natural key, as the facts that a file of it would hold.
-- name: facts_history
SELECT season, variety_id, clumps, divisions FROM history ORDER BY id;

-- name: facts_past_checks
SELECT season, variety_id, stage = 'division', CAST(round(weeks * 10000) AS INTEGER), inspected, rotten, shrivelled
FROM past_check ORDER BY id;

-- name: facts_divisions
SELECT lot_id, day, clumps, saleable, blind, rotten, place_id FROM dividing WHERE reversed = 0 ORDER BY id;

-- name: facts_checks
SELECT lot_id, day, stage = 'division', inspected, rotten, shrivelled, why = 'suspicion'
FROM storage_check WHERE reversed = 0 ORDER BY id;

-- name: facts_counts
SELECT lot_id, day, stage = 'division', count, place_id, looked FROM stock_take WHERE reversed = 0 ORDER BY id;

-- name: add_history
INSERT INTO history (season, variety_id, clumps, divisions, source_id) VALUES (?1, ?2, ?3, ?4, ?5);

-- name: add_past_check
INSERT INTO past_check (season, variety_id, stage, weeks, inspected, rotten, shrivelled, source_id)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- name: order
SELECT id, received_at, channel, tier, customer, email, postcode, country, region, zone, wish_week, ship_complete, state
FROM orders WHERE number = ?1;

-- name: order_latest
SELECT COALESCE(MAX(received_at), 0) FROM orders WHERE received_at < ?1;

-- name: order_add
INSERT INTO orders (number, received_at, channel, tier, customer, email, postcode, country, region, zone, wish_week,
                    ship_complete)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12);

-- name: order_change
UPDATE orders SET received_at = ?2, channel = ?3, tier = ?4, customer = ?5, email = ?6, postcode = ?7, country = ?8,
    region = ?9, zone = ?10, wish_week = ?11, ship_complete = ?12, version = version + 1
WHERE id = ?1;

-- name: order_touched
UPDATE orders SET version = version + 1 WHERE id = ?1;

-- name: line
SELECT l.id, v.code, l.assortment, l.quantity, l.unit_price, l.consent, l.named, l.all_or_none, l.first_asked,
       COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id), 0),
       COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id AND a.kind <> 'own'), 0)
FROM line l LEFT JOIN variety v ON v.id = l.variety_id WHERE l.order_id = ?1 AND l.line = ?2;

-- name: line_add
INSERT INTO line (order_id, line, variety_id, assortment, quantity, first_asked, unit_price, consent, named, all_or_none)
VALUES (?1, ?2, ?3, ?4, ?5, ?5, ?6, ?7, ?8, ?9);

-- name: line_change
UPDATE line SET variety_id = ?2, assortment = ?3, quantity = ?4, first_asked = ?4, unit_price = ?5, consent = ?6,
    named = ?7, all_or_none = ?8
WHERE id = ?1;

-- A line that asks for something else was never shared out; all that it was promised has been taken back before.
-- name: line_unshared
DELETE FROM allocation WHERE line_id = ?1;

-- name: line_not_restored
DELETE FROM run_before WHERE run_id IN (SELECT id FROM run) AND line_id = ?1;

-- name: event_add
INSERT INTO order_event (order_id, line_id, at, actor, kind, before, after, note) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- name: offering_there
INSERT INTO offering (variety_id) VALUES (?1) ON CONFLICT DO NOTHING;

-- name: offering_sold
UPDATE offering SET sold = sold + ?2, beyond = beyond + ?3 WHERE variety_id = ?1;

-- name: oversell_add
INSERT INTO oversell (variety_id, at, actor, quantity, why) VALUES (?1, ?2, ?3, ?4, ?5);

-- name: lonely_room
SELECT a.room FROM (SELECT DISTINCT room FROM air) a
WHERE NOT EXISTS (SELECT 1 FROM place p WHERE p.room = a.room) LIMIT 1;
