-- SPDX-License-Identifier: MIT
-- Taking files and orders in. What each kind of file asks and writes is in kinds.sql.

-- name: variety
SELECT v.id, v.retired, COALESCE(o.released, 0) AS released, COALESCE(o.offered, 0) AS offered, COALESCE(o.sold, 0) AS sold, COALESCE(o.beyond, 0) AS beyond,
       o.variety_id IS NOT NULL AS stands, v.code AS code
FROM variety_code c JOIN variety v ON v.id = c.variety_id LEFT JOIN offering o ON o.variety_id = v.id WHERE c.code = ?1;

-- name: lot
SELECT id, dug_on, place_id FROM lot WHERE code = ?1;

-- name: place
SELECT id FROM place WHERE code = ?1;

-- Is stock or a list bound to the place?
-- name: place_used
SELECT 1 FROM place p WHERE p.code = ?1
    AND (EXISTS (SELECT 1 FROM movement WHERE place_id = p.id) OR EXISTS (SELECT 1 FROM lot WHERE place_id = p.id)
         OR EXISTS (SELECT 1 FROM dividing WHERE place_id = p.id) OR EXISTS (SELECT 1 FROM stock_take WHERE place_id = p.id)
         OR EXISTS (SELECT 1 FROM stop WHERE place_id = p.id) OR EXISTS (SELECT 1 FROM balance WHERE place_id = p.id));

-- name: source_known
SELECT id, name, at FROM source WHERE kind = ?1 AND digest = ?2;

-- name: source_add
INSERT INTO source (kind, name, digest, rows, actor, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6);

-- What still stands of a source.
-- name: source_stands
SELECT (SELECT COUNT(*) FROM history WHERE source_id = ?1) + (SELECT COUNT(*) FROM past_check WHERE source_id = ?1)
     + (SELECT COUNT(*) FROM dividing WHERE source_id = ?1 AND reversed = 0)
     + (SELECT COUNT(*) FROM storage_check WHERE source_id = ?1 AND reversed = 0)
     + (SELECT COUNT(*) FROM stock_take WHERE source_id = ?1 AND reversed = 0) AS rows;

-- name: add_history
INSERT INTO history (season, variety_id, clumps, divisions, source_id) VALUES (?1, ?2, ?3, ?4, ?5);

-- name: add_past_check
INSERT INTO past_check (season, variety_id, stage, weeks, inspected, rotten, shrivelled, source_id)
VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8);

-- The head of an order, by the names of its columns in kinds.def.
-- name: order
SELECT id, received_at, channel, tier, customer, name2, email, phone, street, town, postcode, country, region, language,
       zone, wish_week, ship_complete, paid, state
FROM orders WHERE number = :order;

-- name: order_latest
SELECT COALESCE(MAX(received_at), 0) AS latest FROM orders WHERE received_at < ?1;

-- Are there any orders yet?
-- name: orders_begun
SELECT 1 FROM orders LIMIT 1;

-- An index of a table that is filled from nothing is made faster at the end, and then by the file's own words.
-- name: index_words
SELECT sql AS words FROM sqlite_schema WHERE type = 'index' AND name = ?1;

-- name: without_varieties
DROP INDEX line_by_variety;

-- name: without_emails
DROP INDEX orders_by_email;

-- name: without_customers
DROP INDEX orders_by_customer;

-- name: without_finding
DROP INDEX orders_to_find;

-- name: order_add
INSERT INTO orders (number, received_at, channel, tier, customer, name2, email, phone, street, town, postcode, country, region,
                    language, zone, wish_week, ship_complete, paid)
VALUES (:order, :received_at, :channel, :tier, :customer, :name2, :email, :phone, :street, :town, :postcode, :country, :region,
    :language, :zone, :wish_week, :ship_complete, :paid);

-- name: order_change
UPDATE orders SET received_at = :received_at, channel = :channel, tier = :tier, customer = :customer, name2 = :name2,
    email = :email, phone = :phone, street = :street, town = :town, postcode = :postcode, country = :country, region = :region,
    language = :language, zone = :zone, wish_week = :wish_week, ship_complete = :ship_complete, paid = :paid, version = version + 1
WHERE id = :id;

-- name: order_paid
UPDATE orders SET paid = ?2 WHERE id = ?1;

-- name: line
SELECT l.id, v.code, l.assortment, l.quantity, l.unit_price, l.consent, l.named, l.all_or_none, l.first_asked,
       COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id), 0) AS promised,
       COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id AND a.kind <> 'own'), 0) AS instead
FROM line l LEFT JOIN variety v ON v.id = l.variety_id
WHERE l.id = COALESCE((SELECT x.id FROM line x WHERE x.order_id = ?1 AND x.line = ?2),
                      (SELECT x.id FROM line x WHERE x.from_order = ?1 AND x.from_line = ?2));

-- name: line_add
INSERT INTO line (order_id, line, variety_id, assortment, quantity, first_asked, unit_price, consent, named, all_or_none)
VALUES (?1, ?2, ?3, ?4, ?5, ?5, ?6, ?7, ?8, ?9);

-- Sixteen at once, of which each costs half of one by itself. When one of them fails, so does the load with all that it wrote; so
-- SQLite need not keep pages to take this statement back alone (ABORT), and rows before the one that failed may stand (FAIL).
-- name: lines_add
INSERT OR FAIL INTO line (order_id, line, variety_id, assortment, quantity, first_asked, unit_price, consent, named, all_or_none)
VALUES (?1, ?2, ?3, ?4, ?5, ?5, ?6, ?7, ?8, ?9),
       (?10, ?11, ?12, ?13, ?14, ?14, ?15, ?16, ?17, ?18),
       (?19, ?20, ?21, ?22, ?23, ?23, ?24, ?25, ?26, ?27),
       (?28, ?29, ?30, ?31, ?32, ?32, ?33, ?34, ?35, ?36),
       (?37, ?38, ?39, ?40, ?41, ?41, ?42, ?43, ?44, ?45),
       (?46, ?47, ?48, ?49, ?50, ?50, ?51, ?52, ?53, ?54),
       (?55, ?56, ?57, ?58, ?59, ?59, ?60, ?61, ?62, ?63),
       (?64, ?65, ?66, ?67, ?68, ?68, ?69, ?70, ?71, ?72),
       (?73, ?74, ?75, ?76, ?77, ?77, ?78, ?79, ?80, ?81),
       (?82, ?83, ?84, ?85, ?86, ?86, ?87, ?88, ?89, ?90),
       (?91, ?92, ?93, ?94, ?95, ?95, ?96, ?97, ?98, ?99),
       (?100, ?101, ?102, ?103, ?104, ?104, ?105, ?106, ?107, ?108),
       (?109, ?110, ?111, ?112, ?113, ?113, ?114, ?115, ?116, ?117),
       (?118, ?119, ?120, ?121, ?122, ?122, ?123, ?124, ?125, ?126),
       (?127, ?128, ?129, ?130, ?131, ?131, ?132, ?133, ?134, ?135),
       (?136, ?137, ?138, ?139, ?140, ?140, ?141, ?142, ?143, ?144);

-- name: line_change
UPDATE line SET variety_id = ?2, assortment = ?3, quantity = ?4, first_asked = ?4, unit_price = ?5, consent = ?6,
    named = ?7, all_or_none = ?8
WHERE id = ?1;

-- A line that asks for something else was never shared out; all that it was promised has been taken back before.
-- name: line_unshared
DELETE FROM allocation WHERE line_id = ?1;

-- name: line_not_restored
DELETE FROM run_before WHERE run_id IN (SELECT id FROM run) AND line_id = ?1;

-- name: offering_there
INSERT INTO offering (variety_id) VALUES (?1) ON CONFLICT DO NOTHING;

-- name: offering_sold
UPDATE offering SET sold = sold + ?2, beyond = beyond + ?3 WHERE variety_id = ?1;

-- name: lonely_room
SELECT a.room FROM (SELECT DISTINCT room FROM air) a
WHERE NOT EXISTS (SELECT 1 FROM place p WHERE p.room = a.room) LIMIT 1;

-- Was the value (?4) of a field what the order was taken with, before the office put it right?
-- name: first
SELECT 1 FROM corrected WHERE order_id = ?1 AND line = ?2 AND field = ?3 AND first IS ?4;

-- Which variety was a variety of this code merged into?
-- name: merged_into
SELECT v.code FROM former_code f JOIN variety v ON v.id = f.variety_id WHERE f.code = ?1 AND f.merged = 1;

-- Another variety of this name, the oldest first.
-- name: namesake
SELECT id, code, name FROM variety WHERE name = ?1 COLLATE NOCASE AND code <> ?2 AND retired = 0 ORDER BY id LIMIT 1;
