-- SPDX-License-Identifier: MIT
-- The CSV kinds (core/desk/nursery/kinds.def), each with what reads it, compares it with the record and writes it out. Columns of
-- find, and parameters, have the names of the kind's columns; the columns of list and facts stand in their order.

-- name: find_varieties
SELECT :code AS code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced, retired,
    own_low, own_high FROM variety WHERE id = (SELECT variety_id FROM variety_code WHERE code = :code);

-- name: insert_varieties
INSERT INTO variety (code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced,
                     retired, own_low, own_high)
VALUES (:code, :name, :form, :size, :colour, :height_cm, :price, :hold_back, :reserve, :limit_per_order, :introduced,
    :retired, :own_low, :own_high);

-- name: update_varieties
UPDATE variety SET name = :name, form = :form, size = :size, colour = :colour, height_cm = :height_cm, price = :price,
    hold_back = :hold_back,
    reserve = :reserve, limit_per_order = :limit_per_order, introduced = :introduced, retired = :retired,
    own_low = :own_low, own_high = :own_high, version = version + 1
WHERE id = (SELECT variety_id FROM variety_code WHERE code = :code);

-- name: list_varieties
SELECT code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced, retired,
       own_low, own_high
FROM variety ORDER BY code;

-- The same for the page, of one or of all; the version is asked back when a row is edited.
-- name: shown_varieties
SELECT code, name, form, size, colour, height_cm, price, hold_back, reserve, limit_per_order, introduced, retired,
       own_low, own_high, version
FROM variety WHERE ?1 IS NULL OR id = (SELECT variety_id FROM variety_code WHERE code = ?1) ORDER BY code;

-- name: find_places
SELECT code AS place, room, walk_order FROM place WHERE code = :place;

-- name: insert_places
INSERT INTO place (code, room, walk_order) VALUES (:place, :room, :walk_order);

-- name: update_places
UPDATE place SET room = :room, walk_order = :walk_order WHERE code = :place;

-- name: list_places
SELECT code, room, walk_order FROM place WHERE id > 0 ORDER BY walk_order, code;

-- name: find_zones
SELECT code AS zone, first_week FROM zone WHERE code = :zone;

-- name: insert_zones
INSERT INTO zone (code, first_week) VALUES (:zone, :first_week);

-- name: update_zones
UPDATE zone SET first_week = :first_week WHERE code = :zone;

-- name: list_zones
SELECT code, first_week FROM zone ORDER BY code;

-- name: find_destinations
SELECT country, region, rule, note, carrier FROM destination WHERE country = :country AND region = :region;

-- name: insert_destinations
INSERT INTO destination (country, region, rule, note, carrier) VALUES (:country, :region, :rule, :note, :carrier);

-- name: update_destinations
UPDATE destination SET rule = :rule, note = :note, carrier = :carrier WHERE country = :country AND region = :region;

-- name: list_destinations
SELECT country, region, rule, note, carrier FROM destination ORDER BY country, region;

-- name: find_zone_ranges
SELECT country, postcode_from, postcode_to, zone FROM zone_range WHERE country = :country AND postcode_from = :postcode_from;

-- name: insert_zone_ranges
INSERT INTO zone_range (country, postcode_from, postcode_to, zone) VALUES (:country, :postcode_from, :postcode_to, :zone);

-- name: update_zone_ranges
UPDATE zone_range SET postcode_to = :postcode_to, zone = :zone WHERE country = :country AND postcode_from = :postcode_from;

-- name: list_zone_ranges
SELECT country, postcode_from, postcode_to, zone FROM zone_range ORDER BY country, postcode_from;

-- name: facts_history
SELECT season, variety_id, clumps, divisions FROM history ORDER BY id;

-- name: list_history
SELECT h.season, v.code, h.clumps, h.divisions FROM history h JOIN variety v ON v.id = h.variety_id ORDER BY h.id;

-- name: facts_past_checks
SELECT season, variety_id, stage = 'division', CAST(round(weeks * 10000) AS INTEGER), inspected, rotten, shrivelled
FROM past_check ORDER BY id;

-- name: list_past_checks
SELECT c.season, v.code, c.stage, c.weeks, c.inspected, c.rotten, c.shrivelled
FROM past_check c JOIN variety v ON v.id = c.variety_id ORDER BY c.id;

-- name: find_past_sales
SELECT season, variety_id AS variety, sold, sold_out_on FROM past_sale WHERE season = :season AND variety_id = :variety;

-- name: insert_past_sales
INSERT INTO past_sale (season, variety_id, sold, sold_out_on) VALUES (:season, :variety, :sold, :sold_out_on);

-- name: update_past_sales
UPDATE past_sale SET sold = :sold, sold_out_on = :sold_out_on WHERE season = :season AND variety_id = :variety;

-- name: list_past_sales
SELECT p.season, v.code, p.sold, p.sold_out_on FROM past_sale p JOIN variety v ON v.id = p.variety_id
ORDER BY p.season, v.code;

-- name: find_past_orders
SELECT season, variety_id AS variety, day AS ordered_on, quantity FROM past_order
    WHERE season = :season AND variety_id = :variety AND day = :ordered_on;

-- name: insert_past_orders
INSERT INTO past_order (season, variety_id, day, quantity) VALUES (:season, :variety, :ordered_on, :quantity);

-- name: update_past_orders
UPDATE past_order SET quantity = :quantity WHERE season = :season AND variety_id = :variety AND day = :ordered_on;

-- name: list_past_orders
SELECT p.season, v.code, p.day, p.quantity FROM past_order p JOIN variety v ON v.id = p.variety_id
ORDER BY p.season, v.code, p.day;

-- name: find_past_plantings
SELECT season, variety_id AS variety, plants, clumps FROM past_planting WHERE season = :season AND variety_id = :variety;

-- name: insert_past_plantings
INSERT INTO past_planting (season, variety_id, plants, clumps) VALUES (:season, :variety, :plants, :clumps);

-- name: update_past_plantings
UPDATE past_planting SET plants = :plants, clumps = :clumps WHERE season = :season AND variety_id = :variety;

-- name: list_past_plantings
SELECT p.season, v.code, p.plants, p.clumps FROM past_planting p JOIN variety v ON v.id = p.variety_id ORDER BY p.season, v.code;

-- A row and a variety name a stretch; what has no row yet is known by the lot that it came from.
-- name: find_plantings
SELECT row, variety_id AS variety, plants, planted_on, lot, spacing_cm FROM planting
WHERE entry_id IS NULL AND row IS :row AND variety_id = :variety AND (:row IS NOT NULL OR lot IS :lot);

-- name: insert_plantings
INSERT INTO planting (row, variety_id, plants, planted_on, lot, of_season, spacing_cm)
VALUES (:row, :variety, :plants, :planted_on, :lot, CASE WHEN :lot IS NOT NULL THEN (SELECT MAX(season) FROM origin) END, :spacing_cm);

-- name: update_plantings
UPDATE planting SET plants = :plants, planted_on = :planted_on, lot = :lot, spacing_cm = :spacing_cm
WHERE entry_id IS NULL AND row IS :row AND variety_id = :variety AND (:row IS NOT NULL OR lot IS :lot);

-- name: list_plantings
SELECT p.row, v.code, p.plants, p.planted_on, p.lot, p.spacing_cm FROM planting p JOIN variety v ON v.id = p.variety_id
WHERE p.entry_id IS NULL ORDER BY p.row IS NULL, p.row, v.code, p.id;

-- A walk is known by all that it says: the same sheet twice is the same walk.
-- name: find_field_rounds
SELECT p.row, r.day AS seen_on, r.alive, r.rogued, r.reason, CASE WHEN :variety IS NOT NULL THEN p.variety_id END AS variety
FROM field_round r JOIN planting p ON p.id = r.planting_id
WHERE r.reversed = 0 AND p.entry_id IS NULL AND p.row = :row AND (:variety IS NULL OR p.variety_id = :variety)
  AND r.day = :seen_on AND r.alive = :alive AND r.rogued = :rogued AND r.reason IS :reason;

-- name: list_field_rounds
SELECT p.row, r.day, r.alive, r.rogued, r.reason, v.code FROM field_round r JOIN planting p ON p.id = r.planting_id
JOIN variety v ON v.id = p.variety_id WHERE r.reversed = 0 AND p.entry_id IS NULL AND p.row IS NOT NULL ORDER BY r.day, r.id;

-- name: find_lots
SELECT code AS lot, variety_id AS variety, dug_on, clumps, row, culled, place_id AS place FROM lot WHERE code = :lot;

-- name: insert_lots
INSERT INTO lot (code, variety_id, dug_on, clumps, row, culled, place_id) VALUES (:lot, :variety, :dug_on, :clumps,
    :row, :culled, :place);

-- Of a lot with which nothing has been done yet.
-- name: update_lots
UPDATE lot SET variety_id = :variety, dug_on = :dug_on, clumps = :clumps, row = :row, culled = :culled, place_id = :place,
    planting_id = NULL WHERE code = :lot;

-- name: list_lots
SELECT l.code, v.code, l.dug_on, l.clumps, l.row, l.culled, NULLIF(p.code, '')
FROM lot l JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = l.place_id ORDER BY l.code;

-- name: find_weighings
SELECT sample, lot_id AS lot, day AS weighed_on, kg FROM weighing WHERE sample = :sample AND day = :weighed_on;

-- name: insert_weighings
INSERT INTO weighing (sample, lot_id, day, kg) VALUES (:sample, :lot, :weighed_on, :kg);

-- name: update_weighings
UPDATE weighing SET lot_id = :lot, kg = :kg WHERE sample = :sample AND day = :weighed_on;

-- name: list_weighings
SELECT w.sample, l.code, w.day, w.kg FROM weighing w JOIN lot l ON l.id = w.lot_id ORDER BY w.sample, w.day;

-- name: find_air
SELECT room, at, temp_c, rh FROM air WHERE room = :room AND at = :at;

-- name: insert_air
INSERT INTO air (room, at, temp_c, rh) VALUES (:room, :at, :temp_c, :rh);

-- name: update_air
UPDATE air SET temp_c = :temp_c, rh = :rh WHERE room = :room AND at = :at;

-- name: list_air
SELECT room, at, temp_c, rh FROM air ORDER BY room, at;

-- name: facts_divisions
SELECT lot_id, day, clumps, saleable, blind, rotten, place_id FROM dividing WHERE reversed = 0 ORDER BY id;

-- name: list_divisions
SELECT l.code, d.day, d.clumps, d.saleable, d.blind, d.rotten, NULLIF(p.code, ''), d.minutes, d.people
FROM dividing d JOIN lot l ON l.id = d.lot_id JOIN place p ON p.id = d.place_id WHERE d.reversed = 0 ORDER BY d.day, d.id;

-- name: facts_checks
SELECT lot_id, day, stage = 'division', inspected, rotten, shrivelled, why = 'suspicion'
FROM storage_check WHERE reversed = 0 ORDER BY id;

-- name: list_checks
SELECT l.code, c.day, c.stage, c.inspected, c.rotten, c.shrivelled, c.why
FROM storage_check c JOIN lot l ON l.id = c.lot_id WHERE c.reversed = 0 ORDER BY c.day, c.id;

-- name: facts_counts
SELECT lot_id, day, stage = 'division', count, place_id, looked FROM stock_take WHERE reversed = 0 ORDER BY id;

-- name: list_counts
SELECT l.code, c.day, c.stage, c.count, NULLIF(p.code, ''), c.looked
FROM stock_take c JOIN lot l ON l.id = c.lot_id LEFT JOIN place p ON p.id = c.place_id
WHERE c.reversed = 0 ORDER BY c.day, c.id;

-- Cancelled lines ask nothing and are left out.
-- name: list_orders
SELECT o.number, o.received_at, l.line, v.code, l.quantity, l.unit_price, o.channel, o.tier, o.customer, o.name2, o.email, o.phone,
       o.street, o.town, o.postcode, o.country, o.region, o.language, o.zone, o.wish_week, o.ship_complete, o.paid, l.consent, l.named,
       l.all_or_none, l.assortment
FROM line l JOIN orders o ON o.id = l.order_id LEFT JOIN variety v ON v.id = l.variety_id
WHERE l.quantity > 0 ORDER BY o.id, l.line;

-- The same in two for a file of a million lines, so that what is an order's own is read once: cw_rows_write_shared. Columns are found by
-- their names in kinds.def.
-- name: list_orders_own
SELECT o.id, o.number AS "order", o.received_at, o.channel, o.tier, o.customer, o.name2, o.email, o.phone, o.street, o.town, o.postcode,
       o.country, o.region, o.language, o.zone, o.wish_week, o.ship_complete, o.paid
FROM orders o ORDER BY o.id;

-- name: list_orders_lines
SELECT l.order_id, l.line, v.code AS variety, l.quantity, l.unit_price, l.consent, l.named, l.all_or_none, l.assortment
FROM line l LEFT JOIN variety v ON v.id = l.variety_id
WHERE l.quantity > 0 ORDER BY l.order_id, l.line;

-- Holds are known by what they hold and when; only why may be said anew.
-- name: find_holds
SELECT COALESCE(h.zone, '') AS zone, COALESCE(o.number, '') AS "order", h.country, h.region, h.postcode_from, h.postcode_to, h.carrier,
       h.first_week, h.last_week, h.why
FROM frost_hold h LEFT JOIN orders o ON o.id = h.order_id
WHERE COALESCE(h.zone, '') = :zone AND COALESCE(o.number, '') = :order AND h.country = :country AND h.region = :region COLLATE NOCASE
  AND h.postcode_from = :postcode_from AND h.postcode_to = :postcode_to AND h.carrier = :carrier COLLATE NOCASE
  AND h.first_week = :first_week AND h.last_week = :last_week ORDER BY h.id LIMIT 1;

-- name: update_holds
UPDATE frost_hold SET why = :why
WHERE COALESCE(zone, '') = :zone AND COALESCE((SELECT o.number FROM orders o WHERE o.id = order_id), '') = :order AND country = :country
  AND region = :region COLLATE NOCASE AND postcode_from = :postcode_from AND postcode_to = :postcode_to
  AND carrier = :carrier COLLATE NOCASE AND first_week = :first_week AND last_week = :last_week;

-- name: list_holds
SELECT h.zone, o.number, h.country, h.region, h.postcode_from, h.postcode_to, h.carrier, h.first_week, h.last_week, h.why
FROM frost_hold h LEFT JOIN orders o ON o.id = h.order_id ORDER BY h.id;

-- A row for each box that left under a number.
-- name: list_tracking
SELECT o.number, 'P' || c.id, b.box, b.tracking, c.carrier, c.shipped_on
FROM (SELECT id AS parcel_id, 1 AS box, tracking FROM parcel UNION ALL SELECT parcel_id, number, tracking FROM box) b
JOIN parcel c ON c.id = b.parcel_id JOIN orders o ON o.id = c.order_id
WHERE c.state = 'shipped' AND b.tracking IS NOT NULL ORDER BY c.id, b.box;

-- Rows taken off the record again. Of rows without a natural key the latest that says the same goes.
-- name: remove_places
DELETE FROM place WHERE code = :place AND id > 0;

-- name: remove_zones
DELETE FROM zone WHERE code = :zone;

-- name: remove_destinations
DELETE FROM destination WHERE country = :country AND region = :region;

-- name: remove_zone_ranges
DELETE FROM zone_range WHERE country = :country AND postcode_from = :postcode_from;

-- name: remove_history
DELETE FROM history WHERE id = (SELECT MAX(h.id) FROM history h WHERE h.season = :season AND h.variety_id = :variety
    AND h.clumps = :clumps AND h.divisions = :divisions);

-- name: remove_past_checks
DELETE FROM past_check WHERE id = (SELECT MAX(c.id) FROM past_check c WHERE c.season = :season AND c.variety_id = :variety
    AND c.stage = :stage AND abs(c.weeks - :weeks) < 0.00005 AND c.inspected = :inspected AND c.rotten = :rotten
    AND c.shrivelled IS :shrivelled);

-- name: remove_past_sales
DELETE FROM past_sale WHERE season = :season AND variety_id = :variety;

-- name: remove_past_orders
DELETE FROM past_order WHERE season = :season AND variety_id = :variety AND day = :ordered_on;

-- name: remove_weighings
DELETE FROM weighing WHERE sample = :sample AND day = :weighed_on;

-- name: remove_air
DELETE FROM air WHERE room = :room AND at = :at;

-- name: remove_past_plantings
DELETE FROM past_planting WHERE season = :season AND variety_id = :variety;

-- name: remove_plantings
DELETE FROM planting WHERE id = (SELECT MAX(p.id) FROM planting p WHERE p.entry_id IS NULL AND p.row IS :row
    AND p.variety_id = :variety AND p.plants = :plants AND p.planted_on = :planted_on AND p.lot IS :lot);

-- A walk is kept, and counts for nothing.
-- name: remove_field_rounds
UPDATE field_round SET reversed = 1 WHERE id = (SELECT MAX(r.id) FROM field_round r JOIN planting p ON p.id = r.planting_id
    WHERE r.reversed = 0 AND p.entry_id IS NULL AND p.row = :row AND (:variety IS NULL OR p.variety_id = :variety)
    AND r.day = :seen_on AND r.alive = :alive AND r.rogued = :rogued AND r.reason IS :reason);
