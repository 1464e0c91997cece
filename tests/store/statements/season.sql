-- SPDX-License-Identifier: MIT
-- An invented season in which no two rows are alike, beside each a row that must not be taken for it: another lot at the same place,
-- another line of the same order, an entry taken back, a wave dropped, a hold that is over. Small numbers stand for days and instants.
INSERT INTO variety (id, code, name, price, hold_back, reserve, retired) VALUES
    (1, 'A', 'Ash', 500, 3, 2, 0), (2, 'B', 'Birch', 600, 0, 4, 0), (3, 'C', 'Cork', 700, 0, 0, 1), (4, 'D', 'Damson', 800, 9, 0, 0),
    (5, 'E', 'Elm', 900, 0, 0, 0), (6, 'F', 'Fig', 950, 0, 0, 0);
INSERT INTO place (id, code, room, walk_order) VALUES (1, 'P1', 'r', 20), (2, 'P2', 'r', 10), (3, 'P3', 's', 30), (4, 'P4', 's', 40), (5, 'P5', 's', 50);
INSERT INTO lot (id, code, variety_id, dug_on, clumps, culled, place_id, held) VALUES
    (1, 'L1', 1, 100, 9, 1, 1, NULL), (2, 'L2', 1, 90, 4, 0, 2, NULL), (3, 'L3', 2, 101, 0, 0, 1, 'spots'), (4, 'L4', 2, 105, 6, 0, 3, NULL),
    (5, 'L5', 1, 200, 2, 0, 0, NULL), (6, 'L6', 3, 95, 1, 0, 3, NULL), (7, 'L7', 2, 104, 0, 0, 2, NULL), (8, 'L8', 5, 99, 0, 0, 4, NULL),
    (9, 'L9', 5, 98, 0, 0, 4, 'rot'), (10, 'L10', 4, 97, 0, 0, 3, NULL), (11, 'L11', 4, 96, 0, 0, 3, NULL);
INSERT INTO source (id, kind, name, digest, rows, actor, at) VALUES
    (1, 'divisions', 'd.csv', 'd1', 2, 'ann', 5), (2, 'checks', 'c.csv', 'd1', 1, 'ann', 6), (3, 'counts', 'n.csv', 'n1', 1, 'ann', 7),
    (4, 'history', 'h.csv', 'h1', 1, 'ann', 8), (5, 'divisions', 'e.csv', 'd2', 1, 'ann', 9);
INSERT INTO dividing (id, lot_id, day, clumps, rotten, saleable, blind, place_id, source_id, reversed, minutes, people) VALUES
    (1, 1, 110, 3, 1, 8, 0, 1, 1, 0, 40, 2), (2, 1, 108, 2, 0, 5, 1, 1, 1, 1, 30, 1), (3, 4, 112, 2, 0, 7, 0, 3, 5, 0, NULL, NULL),
    (4, 2, 120, 1, 0, 4, 0, 2, NULL, 0, 25, NULL), (5, 4, 111, 0, 0, 1, 0, 3, NULL, 0, 15, 1), (6, 4, 119, 1, 0, 2, 0, 3, NULL, 0, 9, 1), (7, 4, 106, 1, 0, 2, 0, 3, NULL, 1, 9, 1);
INSERT INTO storage_check (id, lot_id, day, stage, inspected, rotten, shrivelled, source_id, reversed, why) VALUES
    (1, 1, 115, 'division', 8, 1, NULL, 2, 0, 'round'), (2, 1, 130, 'division', 7, 0, 1, 2, 1, NULL), (3, 1, 116, 'clump', 6, 0, NULL, NULL, 0, 'suspicion'),
    (4, 4, 114, 'clump', 4, 0, NULL, NULL, 0, NULL), (5, 2, 121, 'division', 4, 0, 0, NULL, 0, NULL), (6, 1, 113, 'division', 8, 0, NULL, NULL, 0, NULL);
INSERT INTO stock_take (id, lot_id, day, stage, count, before, place_id, source_id, reversed, looked) VALUES
    (1, 3, 118, 'division', 6, 0, NULL, 3, 0, 1), (2, 3, 117, 'division', 5, 0, NULL, 3, 1, 0), (3, 2, 122, 'division', 9, 4, 2, NULL, 0, NULL),
    (4, 6, 119, 'clump', 1, 1, NULL, NULL, 0, NULL), (5, 7, 118, 'division', 3, 0, 2, NULL, 0, NULL), (6, 7, 150, 'division', 3, 3, 2, NULL, 1, NULL),
    (7, 8, 118, 'division', 8, 0, NULL, NULL, 0, NULL),
    (8, 7, 151, 'clump', 0, 0, 2, NULL, 0, NULL), (9, 7, 152, 'division', 0, 0, 3, NULL, 0, NULL), (10, 8, 153, 'division', 8, 8, 4, NULL, 0, NULL),
    (11, 2, 150, 'division', 9, 9, 2, NULL, 0, NULL), (12, 7, 110, 'division', 1, 0, 2, NULL, 1, NULL);
INSERT INTO history (season, variety_id, clumps, divisions, source_id, lot) VALUES (2029, 1, 10, 40, 4, 'K1'), (2030, 2, 5, 15, 4, NULL);
INSERT INTO past_check (season, variety_id, stage, weeks, inspected, rotten, source_id, lot, why) VALUES (2029, 1, 'clump', 4.0, 10, 1, 4, 'K1', 'round'),
    (2029, 1, 'clump', 5.0, 9, 1, 4, 'K1', 'untold'), (2029, 1, 'division', 6.0, 8, 1, 4, 'K1', 'suspicion'), (2030, 1, 'clump', 7.0, 7, 1, 4, 'K1', 'dividing');
INSERT INTO past_sale (season, variety_id, sold, sold_out_on) VALUES (2029, 1, 30, NULL), (2030, 1, 12, 44), (2030, 2, 9, NULL), (2029, 2, 8, 40);
INSERT INTO past_order (season, variety_id, day, quantity) VALUES (2029, 1, 20, 3), (2029, 1, 10, 2), (2030, 1, 11, 4), (2030, 2, 12, 5), (2029, 2, 13, 6);
-- The ledger: what it holds of each lot at each place follows.
INSERT INTO movement (id, at, day, actor, lot_id, place_id, clumps, divisions, reason, cause, cause_id, reverses) VALUES
    (1, 1, 100, 'ann', 1, 1, 9, 0, 'dug', 'lot', 1, NULL), (2, 1, 90, 'ann', 2, 2, 4, 0, 'dug', 'lot', 2, NULL),
    (3, 1, 105, 'ann', 4, 3, 6, 0, 'dug', 'lot', 4, NULL), (4, 1, 200, 'ann', 5, 0, 2, 0, 'dug', 'lot', 5, NULL),
    (5, 1, 95, 'ann', 6, 3, 1, 0, 'dug', 'lot', 6, NULL), (6, 2, 108, 'ann', 1, 1, -2, 0, 'divided', 'dividing', 2, NULL),
    (7, 2, 108, 'ann', 1, 1, 0, 5, 'made', 'dividing', 2, NULL), (8, 3, 108, 'ann', 1, 1, 2, 0, 'divided', 'dividing', 2, 6),
    (9, 3, 108, 'ann', 1, 1, 0, -5, 'made', 'dividing', 2, 7), (10, 4, 110, 'ann', 1, 1, -3, 0, 'divided', 'dividing', 1, NULL),
    (11, 4, 110, 'ann', 1, 1, 0, 8, 'made', 'dividing', 1, NULL), (12, 4, 112, 'bob', 4, 3, -2, 0, 'divided', 'dividing', 3, NULL),
    (13, 4, 112, 'bob', 4, 3, 0, 7, 'made', 'dividing', 3, NULL), (14, 5, 120, 'bob', 2, 2, -1, 0, 'divided', 'dividing', 4, NULL),
    (15, 5, 120, 'bob', 2, 2, 0, 4, 'made', 'dividing', 4, NULL), (16, 6, 118, 'bob', 3, 1, 0, 6, 'found', 'stock_take', 1, NULL),
    (17, 6, 122, 'bob', 2, 2, 0, 5, 'found', 'stock_take', 3, NULL), (18, 7, 125, 'bob', 1, 1, 0, -2, 'moved', 'move', 18, NULL),
    (19, 7, 125, 'bob', 1, 2, 0, 2, 'moved', 'move', 18, NULL), (20, 8, 126, 'cat', 1, 1, 0, -1, 'planted', 'entry', 20, NULL),
    (21, 8, 127, 'cat', 4, 3, 0, -1, 'planted', 'entry', 21, NULL), (22, 9, 127, 'cat', 4, 3, 0, 1, 'planted', 'entry', 21, 21),
    (23, 9, 128, 'cat', 1, 1, 0, -1, 'rotten', 'check', 1, NULL), (24, 9, 118, 'cat', 7, 2, 0, 3, 'found', 'stock_take', 5, NULL),
    (25, 9, 118, 'cat', 8, 4, 0, 8, 'found', 'stock_take', 7, NULL), (26, 9, 129, 'cat', 1, 1, 0, 1, 'returned', 'entry', 26, NULL),
    (27, 9, 118, 'cat', 9, 4, 0, 4, 'found', 'entry', 27, NULL), (28, 9, 118, 'cat', 10, 3, 0, 2, 'found', 'entry', 28, NULL), (29, 9, 123, 'cat', 2, 2, 0, -1, 'rotten', 'check', 20, NULL),
    (99, 9, 128, 'cat', 10, 3, 0, -1, 'planted', 'entry', 99, NULL);
INSERT INTO weighing (sample, day, lot_id, kg) VALUES ('S1', 110, 1, 2.0), ('S1', 120, 1, 1.9), ('S0', 111, 4, 3.0), ('S2', 112, 5, 1.5);
INSERT INTO air (room, at, temp_c, rh) VALUES ('r', 20, 5.0, 90.0), ('r', 10, 6.0, 91.0), ('s', 15, 7.0, 92.0), ('t', 5, 8.0, 93.0);
INSERT INTO setting (name, value) VALUES ('hours', '8'), ('days', '7');
INSERT INTO audit (id, at, actor, action, subject, before, after, hash) VALUES (1, 5, 'own', 'set', 'hours', '7', '8', 'h1'), (2, 6, 'own', 'set', 'days', NULL, '7', 'h2');
INSERT INTO oversell (id, variety_id, at, actor, quantity, why) VALUES (1, 1, 33, 'own', 1, 'late lot');
INSERT INTO past_shrivel (season, lot, from_pa_days, to_pa_days, inspected, shrivelled, source_id) VALUES (2029, 'K1', 0.0, 900.0, 20, 2, 4);
INSERT INTO past_weighing (season, sample, lot, pa_days, kg, source_id) VALUES (2029, 'W1', 'K1', 0.0, 2.0, 4), (2029, 'W2', 'K1', 5.0, 1.9, 4);
INSERT INTO zone (code, first_week) VALUES ('z2', 203212), ('z1', 203210);
INSERT INTO destination (country, region, rule, note) VALUES
    ('CA', '', 'warn', 'papers'), ('CA', 'BC', 'block', 'closed'), ('NZ', '', 'block', NULL), ('US', '', 'allow', NULL), ('US', 'CA', 'warn', 'soil');
INSERT INTO orders (id, number, received_at, channel, tier, customer, email, postcode, country, region, zone, wish_week, ship_complete, ship_week, pinned, state, replaces) VALUES
    (1, '101', 1000, NULL, 'retail', 'Ada', 'Ada@x.example', '11 1', 'US', NULL, 'z1', NULL, 0, 203210, 0, 'open', NULL),
    (2, '102', 900, 'shop', 'wholesale', 'Bo', NULL, '222', 'CA', NULL, 'z2', 203212, 1, 203212, 1, 'open', NULL),
    (3, '103', 800, NULL, 'retail', 'Cy', 'cy@x.example', '333', 'NZ', NULL, 'Z1', NULL, 0, NULL, 0, 'open', NULL),
    (4, '104', 700, NULL, '', 'ada', NULL, '1 11', 'US', 'CA', 'z1', NULL, 0, 203210, 0, 'shipped', NULL),
    (5, '105', 600, NULL, 'retail', 'Di', 'di@x.example', '555', 'NZ', NULL, 'z2', NULL, 0, 203210, 0, 'cancelled', NULL),
    (6, '106', 950, 'claim', 'other', 'Ada', 'ada@x.example', '111', 'US', NULL, 'z1', NULL, 0, 203210, 0, 'open', 4),
    (7, '107', 650, NULL, 'retail', 'Ed', NULL, '777', 'CA', 'bc', 'z3', NULL, 0, 203215, 0, 'open', NULL),
    (8, '108', 640, NULL, 'retail', 'Flo', NULL, '888', 'US', NULL, 'z3', NULL, 0, 203214, 0, 'shipped', NULL),
    (9, '109', 640, NULL, 'retail', NULL, NULL, NULL, 'US', NULL, NULL, NULL, 0, 203211, 0, 'shipped', NULL),
    (10, '110', 660, NULL, 'retail', 'Gil', NULL, '999', 'NZ', NULL, 'z3', NULL, 1, 203216, 0, 'open', NULL),
    (11, '111', 670, NULL, 'retail', 'Hal', NULL, '444', 'US', NULL, 'z3', NULL, 1, 203217, 0, 'open', NULL),
    (12, '112', 500, NULL, 'retail', 'Ida', 'ida@x.example', '446', 'US', NULL, 'z3', NULL, 0, 203217, 0, 'open', NULL),
    (13, '113', 501, NULL, 'retail', 'Bo', 'bo2@x.example', '000', 'US', NULL, 'z3', NULL, 0, NULL, 0, 'shipped', NULL),
    (14, '114', 502, NULL, 'retail', 'Zed', 'zed@x.example', '222', 'US', NULL, 'z3', NULL, 0, NULL, 0, 'shipped', 8),
    (15, '115', 503, NULL, 'retail', 'bo', 'bo@x.example', '2 22', 'US', NULL, 'z3', NULL, 0, NULL, 0, 'shipped', NULL),
    (16, '116', 504, NULL, 'retail', NULL, 'zed@x.example', NULL, 'US', NULL, 'z3', NULL, 0, NULL, 0, 'shipped', NULL),
    (17, '117', 2000, NULL, '', 'Jo', NULL, '447', 'US', NULL, 'z3', NULL, 0, 203210, 0, 'open', NULL);
INSERT INTO line (id, order_id, line, variety_id, assortment, quantity, first_asked, unit_price, consent, named, all_or_none) VALUES
    (1, 1, 2, 1, NULL, 4, 4, 500, 'same', NULL, 0), (2, 1, 1, 2, NULL, 3, 5, 600, 'named', 'A', 1), (3, 2, 1, 1, NULL, 6, 6, 480, 'none', NULL, 0),
    (4, 3, 1, 2, NULL, 2, 2, 600, 'none', NULL, 0), (5, 4, 1, 1, NULL, 3, 3, 500, 'none', NULL, 0), (6, 5, 1, 1, NULL, 0, 2, 500, 'none', NULL, 0),
    (7, 6, 1, 1, NULL, 1, 1, 0, 'none', NULL, 0), (8, 7, 1, NULL, 'reds', 2, 2, 450, 'any', NULL, 0), (9, 8, 1, 2, NULL, 2, 2, 600, 'none', NULL, 0),
    (10, 9, 1, 5, NULL, 2, 2, 900, 'none', NULL, 0), (11, 2, 2, 5, NULL, 1, 1, 850, 'none', NULL, 0), (12, 4, 2, 2, NULL, 2, 2, 600, 'none', NULL, 0),
    (13, 10, 1, 5, NULL, 1, 1, 900, 'none', NULL, 0), (14, 1, 3, 4, NULL, 0, 2, 800, 'none', NULL, 0), (15, 2, 3, 6, NULL, 1, 1, 950, 'none', NULL, 0),
    (16, 10, 2, 6, NULL, 1, 1, 950, 'none', NULL, 0), (17, 11, 1, 6, NULL, 0, 1, 950, 'none', NULL, 0), (18, 11, 2, 6, NULL, 1, 1, 950, 'none', NULL, 0),
    (19, 6, 2, 2, NULL, 1, 1, 0, 'none', NULL, 0), (20, 12, 1, 6, NULL, 0, 2, 950, 'none', NULL, 0), (21, 14, 1, 2, NULL, 1, 1, 0, 'none', NULL, 0),
    (22, 17, 1, 1, NULL, 1, 1, 500, 'none', NULL, 0);
INSERT INTO order_event (id, order_id, line_id, at, actor, kind, before, after, note) VALUES
    (1, 1, 2, 50, 'off', 'changed', '7', '5', 'rang'), (2, 1, 2, 60, 'off', 'changed', '5', '3', NULL), (3, 1, 1, 55, 'off', 'note', '9', '8', 'x'),
    (4, 5, 6, 40, 'off', 'cancelled', '2', '0', 'moved'), (5, 1, NULL, 70, 'off', 'moved', NULL, '203210', 'wish'), (6, 1, 1, 71, 'off', 'changed', 'red', 'blue', NULL),
    (7, 1, 14, 72, 'off', 'cancelled', '2', '0', 'no more'), (8, 4, 5, 73, 'off', 'changed', '3', '3', NULL);
INSERT INTO offering (variety_id, released, offered, sold, beyond) VALUES (1, 1, 20, 14, 1), (2, 1, 10, 9, 0), (3, 1, 5, 0, 0), (5, 0, 6, 5, 2);
INSERT INTO release (id, variety_id, at, actor, before, offered, confidence, basis) VALUES (1, 1, 30, 'own', 0, 10, 0.9, '{}'), (2, 2, 32, 'own', 0, 10, 0.8, '{}'), (3, 1, 31, 'own', 10, 20, 0.9, '{}');
INSERT INTO run (id, at, actor, what, rule, supply, confidence, digest, lines, placed) VALUES
    (1, 80, 'off', 'allocate', 'pro-rata', 'counted', NULL, 'x1', 4, 9), (2, 81, 'off', 'allocate', 'first-come', 'projected', 0.9, 'x2', 2, 5),
    (3, 82, 'off', 'substitute', 'one-each-first', 'counted', NULL, 'x3', 1, 1), (4, 83, 'off', 'allocate', 'one-each-first', 'counted', NULL, '', 1, 1),
    (5, 84, 'off', 'allocate', 'claim', 'counted', NULL, '', 1, 1), (6, 85, 'off', 'allocate', 'one-each-first', 'counted', NULL, 'x6', 0, 0),
    (7, 86, 'off', 'substitute', 'pro-rata', 'counted', NULL, 'x7', 0, 0), (8, 87, 'off', 'substitute', 'claim', 'counted', NULL, '', 0, 0),
    (9, 88, 'off', 'substitute', 'pro-rata', 'counted', NULL, '', 0, 0),
    (10, 89, 'off', 'allocate', 'pro-rata', 'counted', NULL, 'x10', 3, 4), (11, 90, 'off', 'allocate', 'claim', 'counted', NULL, '', 0, 0), (12, 91, 'off', 'allocate', 'first-come', 'counted', NULL, 'x12', 0, 0);
INSERT INTO run_undone (run_id, at, actor, why) VALUES (6, 90, 'off', 'wrong'), (7, 91, 'off', 'wrong'), (12, 92, 'off', 'wrong');
INSERT INTO allocation (line_id, variety_id, quantity, kind, run_id, reason, n1, n2, n3, n4) VALUES
    (1, 1, 2, 'own', 1, 1, 0, 0, 0, 0), (2, 2, 1, 'own', 1, 2, 0, 0, 0, 0), (3, 1, 4, 'own', 1, 3, 0, 0, 0, 0), (4, 2, 2, 'own', 1, 1, 0, 0, 0, 0),
    (5, 1, 3, 'own', 2, 1, 0, 0, 0, 0), (2, 1, 1, 'substitute', 3, 1, 0, 0, 0, 0), (7, 1, 1, 'own', 5, 1, 0, 0, 0, 0), (9, 2, 2, 'own', 2, 1, 0, 0, 0, 0),
    (10, 5, 3, 'own', 4, 1, 0, 0, 0, 0), (11, 5, 1, 'own', 4, 1, 0, 0, 0, 0), (12, 2, 1, 'own', 2, 1, 0, 0, 0, 0), (13, 5, 1, 'own', 6, 1, 0, 0, 0, 0),
    (4, 1, 0, 'substitute', 10, 1, 0, 0, 0, 0), (15, 6, 1, 'own', 3, 1, 0, 0, 0, 0), (3, 5, 5, 'assortment', 1, 1, 0, 0, 0, 0), (22, 1, 1, 'own', 1, 1, 0, 0, 0, 0), (6, 1, 1, 'substitute', 3, 1, 0, 0, 0, 0);
UPDATE allocation SET quantity = 3, run_id = 2 WHERE line_id = 1;
UPDATE allocation SET quantity = 2, run_id = 2 WHERE line_id = 2 AND variety_id = 2;
UPDATE allocation SET quantity = 4, run_id = 10 WHERE line_id = 1;
UPDATE allocation SET quantity = quantity + 1, run_id = 10 WHERE line_id = 2;
UPDATE allocation SET run_id = 10 WHERE line_id = 9;
INSERT INTO taken_back (id, line_id, variety_id, quantity, at, actor, why) VALUES (1, 6, 1, 2, 41, 'off', 'moved'), (2, 1, 1, 1, 42, 'off', 'less'), (3, 1, 2, 2, 43, 'off', 'swap');
INSERT INTO forbidden (line_id, variety_id, at, actor, why) VALUES (2, 5, 44, 'off', 'asked'), (2, 1, 45, 'off', 'no'), (5, 2, 46, 'off', 'gone'), (8, 2, 47, 'off', 'not red'), (3, 1, 48, 'off', 'no');
INSERT INTO frost_hold (id, zone, order_id, first_week, last_week, why, at, actor) VALUES
    (1, 'z1', NULL, 203209, 203210, 'ice', 20, 'off'), (2, NULL, 2, 203211, 203212, NULL, 21, 'off'), (3, 'z1', NULL, 203214, 203215, 'snow', 22, 'off'),
    (4, 'z2', NULL, 203220, 203221, '', 23, 'off'), (5, NULL, 1, 203211, 203212, 'away', 24, 'off');
INSERT INTO frost_hold (id, zone, country, region, postcode_from, postcode_to, first_week, last_week, why, at, actor) VALUES (6, '', 'CA', '', '', '', 203230, 203231, 'storm', 24, 'off');
INSERT INTO frost_overruled (hold_id, order_id, at, actor, why) VALUES (1, 1, 24, 'own', 'warm van'), (3, 4, 25, 'own', 'he said');
INSERT INTO destination_overruled (order_id, country, region, at, actor, why) VALUES (10, 'NZ', '', 26, 'own', 'has papers'), (3, 'CA', '', 27, 'own', 'moved since'), (2, 'CA', '', 28, 'own', 'told');
INSERT INTO wave (id, week, at, actor, state) VALUES (1, 203210, 60, 'off', 'open'), (2, 203210, 61, 'off', 'dropped'), (3, 203212, 62, 'off', 'closed'), (4, 203212, 63, 'off', 'open'), (5, 203212, 64, 'off', 'closed'), (6, 203213, 65, 'off', 'open'), (7, 203217, 66, 'off', 'dropped');
INSERT INTO stop (id, wave_id, stop, place_id, taken_by, taken_at) VALUES (1, 1, 2, 1, 'pim', 65), (2, 1, 1, 2, NULL, NULL), (3, 3, 1, 3, NULL, NULL), (4, 4, 1, 2, 'pat', 66), (5, 1, 3, 2, NULL, NULL), (6, 5, 1, 4, NULL, NULL), (7, 5, 2, 3, NULL, NULL);
INSERT INTO parcel (id, wave_id, order_id, slot, state, weight_g, packed_at, packed_by, shipped_on, carrier, tracking) VALUES
    (1, 1, 1, 2, 'open', NULL, NULL, NULL, NULL, NULL, NULL), (2, 1, 4, 1, 'shipped', 700, 67, 'pim', 130, 'van', 'T 1a'), (3, 3, 8, 1, 'shipped', 600, 68, 'pim', 131, 'van', 't2'),
    (4, 4, 2, 1, 'packed', 900, 69, 'pat', NULL, NULL, 'T 3'), (5, 4, 6, 2, 'open', NULL, NULL, NULL, NULL, NULL, NULL), (6, 4, 1, 3, 'packed', 300, 70, 'pat', NULL, NULL, NULL),
    (7, 2, 2, 1, 'open', NULL, NULL, NULL, NULL, NULL, NULL), (8, 5, 9, 1, 'shipped', 200, 71, 'pat', 129, NULL, 't1A'), (9, 3, 1, 2, 'open', NULL, NULL, NULL, NULL, NULL, NULL),
    (10, 3, 4, 3, 'open', NULL, NULL, NULL, NULL, NULL, NULL), (11, 5, 3, 2, 'open', NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO pick (id, wave_id, stop_id, parcel_id, line_id, variety_id, lot_id, quantity, state, taken, short_reason, answered_at, answered_by) VALUES
    (1, 1, 1, 1, 1, 1, 1, 1, 'open', 0, NULL, NULL, NULL), (2, 1, 2, 1, 2, 2, 7, 1, 'done', 1, NULL, 72, 'pim'), (3, 1, 1, 2, 5, 1, 1, 3, 'done', 3, NULL, 73, 'pim'),
    (4, 3, 3, 3, 9, 2, 4, 2, 'done', 2, NULL, 74, 'pim'), (5, 4, 4, 4, 3, 1, 2, 4, 'done', 3, 'missing', 12960000000, 'pat'), (6, 4, 4, 5, 7, 1, 2, 1, 'open', 0, NULL, NULL, NULL),
    (7, 1, 5, 1, 1, 1, 2, 2, 'done', 1, 'rotten', 76, 'pim'), (8, 5, 6, 8, 10, 5, 8, 2, 'done', 2, NULL, 77, 'pat'), (9, 4, 4, 6, 2, 2, 7, 1, 'done', 0, 'missing', 10324800000, 'pat'),
    (10, 4, 4, 4, 11, 5, 8, 1, 'done', 1, NULL, 79, 'pat'), (11, 1, 2, 1, 2, 1, 2, 1, 'done', 0, 'shrivelled', 80, 'pim'), (12, 3, 3, 10, 12, 2, 4, 1, 'done', 0, 'mislabelled', 81, 'pim'),
    (13, 3, 3, 9, 1, 1, 4, 1, 'done', 0, 'missing', 75, 'pim'),
    (14, 4, 4, 4, 11, 5, 9, 2, 'done', 1, 'rotten', 82, 'pat'), (15, 4, 4, 6, 2, 5, 9, 1, 'done', 0, 'rotten', 83, 'pat'), (16, 5, 6, 8, 10, 5, 9, 1, 'done', 1, NULL, 84, 'pat'),
    (17, 3, 3, 3, 9, 5, 9, 1, 'done', 0, 'rotten', 85, 'pim'), (18, 1, 1, 2, 5, 2, 4, 1, 'done', 0, 'rotten', 86, 'pim'), (19, 5, 6, 8, 10, 1, 2, 1, 'done', 1, NULL, 87, 'pat'),
    (20, 1, 1, 2, 5, 5, 8, 1, 'done', 1, NULL, 88, 'pim'), (21, 3, 3, 9, 1, 1, 1, 2, 'done', 1, NULL, 89, 'pim'), (22, 4, 4, 6, 12, 5, 8, 1, 'open', 0, NULL, NULL, NULL), (23, 5, 7, 8, 10, 1, 2, 1, 'done', 0, 'missing', 13960000000, 'pat'), (24, 4, 4, 4, 11, 5, 8, 1, 'done', 0, 'missing', 5, 'pat');
INSERT INTO movement (id, at, day, actor, lot_id, place_id, clumps, divisions, reason, cause, cause_id) VALUES
    (30, 73, 130, 'pim', 1, 1, 0, -3, 'picked', 'pick', 3), (31, 72, 130, 'pim', 7, 2, 0, -1, 'picked', 'pick', 2), (32, 74, 131, 'pim', 4, 3, 0, -2, 'picked', 'pick', 4),
    (33, 75, 131, 'pat', 2, 2, 0, -3, 'picked', 'pick', 5), (34, 76, 131, 'pim', 2, 2, 0, -1, 'picked', 'pick', 7), (35, 77, 131, 'pat', 8, 4, 0, -2, 'picked', 'pick', 8),
    (36, 79, 131, 'pat', 8, 4, 0, -1, 'picked', 'pick', 10),
    (37, 76, 132, 'pat', 4, 3, 0, 1, 'returned', 'entry', 37), (38, 10324800000, 119, 'pat', 7, 2, 0, 1, 'returned', 'entry', 38),
    (39, 11000000000, 127, 'pat', 7, 1, 0, 1, 'returned', 'entry', 39), (40, 11000000000, 127, 'pat', 2, 2, 0, 1, 'found', 'stock_take', 3),
    (41, 11000000000, 127, 'pat', 7, 2, 0, -1, 'discarded', 'entry', 41), (42, 11000000000, 127, 'pat', 7, 2, 1, 0, 'found', 'entry', 42),
    (43, 80, 132, 'pat', 4, 3, 0, -1, 'moved', 'move', 43), (44, 80, 132, 'pat', 4, 1, 0, 1, 'moved', 'move', 43),
    (45, 80, 132, 'pat', 5, 0, -1, 0, 'moved', 'move', 45), (46, 80, 132, 'pat', 5, 1, 1, 0, 'moved', 'move', 45),
    (47, 80, 132, 'pat', 5, 2, 1, 0, 'found', 'entry', 47), (48, 80, 132, 'pat', 5, 2, -1, 0, 'missing', 'entry', 48),
    (49, 80, 132, 'pat', 2, 2, -1, 0, 'moved', 'move', 49), (50, 80, 132, 'pat', 2, 3, 1, 0, 'moved', 'move', 49),
    (51, 80, 132, 'pat', 9, 4, 0, -2, 'picked', 'pick', 14),
    (52, 80, 132, 'pat', 5, 0, 3, 0, 'found', 'entry', 52), (53, 80, 132, 'pat', 8, 2, 0, 1, 'found', 'entry', 53), (54, 80, 132, 'pat', 1, 1, 0, -1, 'shrivelled', 'check', 6), (55, 80, 132, 'pat', 1, 1, -1, 0, 'discarded', 'entry', 55);
INSERT INTO claim (id, order_id, line_id, quantity, at, actor, why, answer, lot_id, amount, reply, answered_at, answered_by, replacement_id, reserve_used) VALUES
    (1, 4, 5, 1, 140, 'off', 'soft', 'replace', 3, 0, 'sent', 141, 'off', 6, 1), (2, 4, 5, 1, 142, 'off', 'blind', 'refused', NULL, 0, 'no', 143, 'off', NULL, 0),
    (3, 8, 9, 1, 144, 'off', 'wet', 'refund', 3, 600, NULL, 145, 'off', NULL, 0), (4, 9, 10, 1, 146, 'off', 'dry', 'open', NULL, 0, NULL, NULL, NULL, NULL, 0),
    (5, 4, 12, 1, 147, 'off', 'old', 'replace', 3, 0, NULL, 148, 'off', NULL, 0), (6, 8, 9, 1, 149, 'off', 'thin', 'replace', NULL, 0, NULL, 150, 'off', 14, 0);
INSERT INTO notice (id, order_id, line_id, kind, made_at, due_on, detail, amount, state, done_at, actor, evidence, fact) VALUES
    (1, 1, 2, 'refund', 150, 160, '{"sentence":"s1"}', 600, 'due', NULL, NULL, NULL, 'refund:line:2:a'), (2, 8, 9, 'refund', 151, 161, '{"sentence":"s2"}', 600, 'sent', 152, 'off', 'mail', 'refund:claim:3'),
    (3, 1, 2, 'refund', 149, 159, '{"sentence":"s3"}', 250, 'sent', 153, 'off', NULL, 'refund:line:2:b'), (4, 1, NULL, 'delay', 148, 158, '{"sentence":"s4","expected_day":140}', 0, 'sent', 154, 'off', NULL, 'delay:1:a'),
    (5, 1, NULL, 'delay', 147, 157, '{"sentence":"s5","expected_day":145}', 0, 'sent', 155, 'off', NULL, 'delay:1:b'), (6, 1, NULL, 'delay', 147, 157, '{"sentence":"s6","expected_day":150}', 0, 'due', NULL, NULL, NULL, 'delay:1:c'),
    (7, 1, 2, 'refund', 146, 156, '{"sentence":"s7"}', 100, 'dropped', 156, 'off', 'why', 'refund:line:2:c'), (8, 1, 2, 'short', 145, 155, '{"sentence":"s8","expected_day":149}', 50, 'sent', 170, 'off', NULL, NULL),
    (9, 1, NULL, 'delay', 146, 156, '{"sentence":"s9"}', 0, 'sent', 158, 'off', NULL, NULL), (10, 2, NULL, 'delay', 146, 154, '{"sentence":"s10","expected_day":151}', 0, 'sent', 159, 'off', NULL, NULL),
    (11, 1, 2, 'refund', 146, 156, '{"sentence":"s11"}', 40, 'sent', 160, 'off', NULL, 'refund:claim:9'), (12, 1, 1, 'refund', 146, 156, '{"sentence":"s12"}', 30, 'sent', 160, 'off', NULL, 'refund:line:1:a'),
    (13, 3, 4, 'delay', 146, 156, '{"sentence":"s13"}', 0, 'sent', 161, 'off', NULL, NULL), (14, 1, 2, 'refund', 146, 156, '{"sentence":"s14"}', 7, 'dropped', 161, 'off', NULL, 'refund:claim:8'),
    (15, 1, 2, 'short', 146, 156, '{"sentence":"s15"}', 9, 'dropped', 161, 'off', NULL, 'refund:line:2:z'),
    (16, 1, NULL, 'delay', 146, 156, '{"sentence":"s16","expected_day":160}', 0, 'dropped', 180, 'off', NULL, NULL), (17, 1, 2, 'short', 146, 156, '{"sentence":"s17"}', 11, 'sent', 161, 'off', NULL, 'refund:line:2:y');
INSERT INTO answered (key, request, status, body, at) VALUES ('k1', 'r1', 201, '{"order":"101"}', 20), ('k2', 'r2', 201, '{"order":"1010"}', 30), ('k3', 'r3', 201, '{"order":"102"}', 40);
INSERT INTO person (id, name, role, password, disabled, made_at) VALUES (1, 'Own', 'owner', 'p1', 0, 1), (2, 'Old', 'owner', 'p2', 1, 2), (3, 'Off', 'office', 'p3', 0, 3), (4, 'Fac', 'packer', 'p4', 0, 4), (5, 'Own2', 'owner', 'p5', 0, 5), (6, 'Beg', 'cellar', 'p6', 0, 6);
INSERT INTO factor (person_id, secret, made_at, on_at, last_step) VALUES
    (1, '0000000000000000000000000000000000000001', 5, 6, 100), (4, '0000000000000000000000000000000000000004', 7, NULL, 50), (6, '0000000000000000000000000000000000000006', 8, NULL, 0);
INSERT INTO recovery (person_id, digest, salt) VALUES (1, 'g1', 's1'), (1, 'g2', 's2'), (4, 'g1', 's3');
INSERT INTO signed_in (token, person_id, csrf, since, seen) VALUES ('aa1', 1, 'c1', 10, 20), ('aa2', 1, 'c2', 11, 30), ('aa9', 3, 'c3', 12, 25), ('bb1', 2, 'c4', 13, 26), ('ab1', 1, 'c5', 14, 15);
INSERT INTO program_key (id, name, role, token, made_at, expires_at, disabled) VALUES (1, 'shop', 'shop', 'k1', 1, 99, 0), (2, 'till', 'office', 'k2', 2, NULL, 1), (3, 'pos', 'shop', 'k3', 3, NULL, 0);
INSERT INTO dividing_day (lot_id, day, why, at, actor) VALUES (1, 133, 'frozen', 90, 'off'), (2, 134, 'moved', 91, 'off');
INSERT INTO planting (id, variety_id, row, plants, planted_on, lot, of_season) VALUES (1, 1, 'r1', 12, 10, 'L1', 2031);
-- The field: two kinds in a row, a row of two stretches, one planted out for the next season, one without a row.
INSERT INTO planting (id, variety_id, row, plants, planted_on, lot, entry_id, taken_by) VALUES
    (2, 2, 'r1', 5, 60, NULL, NULL, 'pim'), (3, 1, 'r2', 6, 61, 'K7', NULL, NULL), (4, 3, 'r2', 2, 62, NULL, 20, NULL), (5, 2, NULL, 7, 63, NULL, NULL, NULL),
    (6, 5, 'r3', 8, 64, NULL, NULL, NULL), (7, 1, 'r4', 3, 65, 'L2', 26, 'pat');
INSERT INTO field_round (id, planting_id, day, alive, rogued, reason, at, actor, reversed) VALUES
    (1, 1, 70, 4, 1, 'virus', 71, 'pim', 0), (2, 1, 72, 3, 0, NULL, 73, 'pat', 1), (3, 3, 74, 0, 0, NULL, 75, 'pat', 0), (4, 1, 69, 4, 0, NULL, 76, 'cat', 0),
    (5, 7, 77, 1, 0, NULL, 78, 'cat', 0), (6, 6, 79, 0, 0, NULL, 80, 'cat', 1);
UPDATE lot SET planting_id = 1, row = 'r1' WHERE id = 1;
UPDATE lot SET row = 'r1' WHERE id IN (2, 3, 4);
UPDATE lot SET row = 'r2', planting_id = 3 WHERE id = 5;
UPDATE lot SET planting_id = 2 WHERE id = 7;
UPDATE lot SET row = '' WHERE id = 6;
INSERT INTO past_planting (season, variety_id, plants, clumps) VALUES (2031, 1, 9, 4), (2030, 1, 5, 5), (2031, 2, 3, 1);
INSERT INTO closing (id, season, day, digest, at, actor, reopened_at, reopened_by, reopened_why) VALUES
    (1, 2032, 300, 'g1', 301, 'own', NULL, NULL, NULL), (2, 2032, 310, 'g2', 311, 'own', 312, 'own', 'late');
INSERT INTO keep_said (variety_id, demand_low, demand_high, growth, cost, least) VALUES (2, 3.0, 9.0, NULL, 50, NULL), (1, NULL, NULL, 4.0, NULL, 2);
INSERT INTO keep_run (id, at, actor, undone_at, undone_by) VALUES (1, 90, 'own', NULL, NULL), (2, 91, 'own', 92, 'own');
INSERT INTO keep_change (run_id, variety_id, before, after) VALUES (1, 2, 0, 4), (1, 1, 3, 5), (2, 1, 5, 3);
INSERT INTO said (id, at, actor, why, day, ship_day, stock_revision) VALUES (1, 10, 'own', 'release', 20, 100, 3), (2, 11, 'own', 'month', 30, 100, 4), (3, 12, 'own', 'release', 100, 100, 5), (4, 13, 'own', 'month', 40, 120, 6);
INSERT INTO said_of (said_id, variety_id, expected, p05, p10, p25, p50, p75, p90, p95) VALUES
    (1, 2, 5.5, 1, 2, 3, 4, 5, 6, 7), (1, 1, 6.5, 2, 3, 4, 5, 6, 7, 8), (2, 1, 7.5, 3, 4, 5, 6, 7, 8, 9), (3, 1, 8.5, 4, 5, 6, 7, 8, 9, 10), (4, 1, 9.5, 5, 6, 7, 8, 9, 10, 11);
INSERT INTO fit (shape, name, kind, fit, at, actor) VALUES ('s1', 'ours', 'lots', '{"columns":["a","b"]}', 20, 'off'), ('s2', 'bank', 'checks', '{"columns":["c"]}', 21, 'off');
-- What is cut by whom, put back, corrected, called otherwise before; zones by the postcode of lands to which no order goes.
INSERT INTO crew_day (day, cutters, washers, hours) VALUES (112, 2, 1, 8.0), (110, 3, 2, 7.5), (119, 1, 0, 4.0);
INSERT INTO put_back (id, wave_id, slot, order_id, variety_id, lot_id, place_id, quantity, because, at, actor, done_at, done_by) VALUES
    (1, 1, 2, 1, 1, 1, 1, 2, 'changed', 90, 'off', NULL, NULL), (2, 1, 2, 1, 2, 7, 2, 1, 'changed', 91, 'off', NULL, NULL),
    (3, 1, 1, 4, 1, 2, 3, 1, 'cancelled', 92, 'off', 93, 'pim'), (4, 4, 3, 6, 5, 8, 4, 3, 'cancelled', 94, 'off', NULL, NULL),
    (5, 1, 1, 4, 2, 4, 3, 1, 'cancelled', 95, 'off', NULL, NULL);
INSERT INTO box (parcel_id, number, weight_g, tracking) VALUES (2, 2, 40, 'U 1'), (2, 3, NULL, 'U2'), (4, 2, NULL, NULL), (8, 2, 50, 'u1a');
UPDATE pick SET slot = 7 WHERE id IN (10, 24);
UPDATE pick SET slot = 4 WHERE id = 3;
INSERT INTO corrected (order_id, line, field, first) VALUES (1, 0, 'customer', 'Ade'), (1, 0, 'town', NULL), (1, 2, 'consent', 'none'), (2, 0, 'customer', 'Boo');
INSERT INTO former_code (code, variety_id, at, actor, why) VALUES ('OA', 1, 50, 'own', 'typo'), ('AX', 2, 51, 'own', 'other');
INSERT INTO zone_range (country, postcode_from, postcode_to, zone) VALUES ('FR', '20', '29', 'z2'), ('FR', '10', '19', 'z1'), ('DE', '10', '14', 'z3');
-- Weights: a crate that dries slowly now and dried fast before, one that dries fastest, one of a lot of which nothing is left.
INSERT INTO weighing (sample, day, lot_id, kg) VALUES ('S3', 110, 2, 4.0), ('S3', 117, 2, 3.0), ('S3', 124, 2, 2.99), ('S4', 110, 10, 2.0), ('S4', 120, 10, 1.6),
    ('S5', 110, 11, 2.0), ('S5', 117, 11, 1.0);
-- A line of each consent with substitutes that it allows and such that it does not.
INSERT INTO variety (id, code, name, form, colour, price, hold_back, reserve, retired) VALUES
    (7, 'G', 'Gean', 'ball', 'Red', 700, 0, 0, 0), (8, 'H', 'Hazel', 'BALL', 'white', 700, 0, 0, 0), (9, 'I', 'Ilex', 'cactus', 'red', 750, 0, 0, 1),
    (10, 'J', 'Judas', 'ball', 'white', 600, 0, 0, 0), (11, 'K', 'Kauri', 'cactus', 'white', 900, 0, 0, 1);
INSERT INTO orders (id, number, received_at, channel, tier, customer, email, postcode, country, region, zone, wish_week, ship_complete, ship_week, pinned, state, replaces) VALUES
    (18, '118', 499, NULL, 'retail', 'Kit', NULL, '448', 'US', NULL, 'z3', NULL, 0, NULL, 0, 'shipped', NULL);
INSERT INTO line (id, order_id, line, variety_id, assortment, quantity, first_asked, unit_price, consent, named, all_or_none) VALUES
    (23, 18, 1, 1, NULL, 9, 9, 800, 'any', NULL, 0), (24, 18, 2, 7, NULL, 9, 9, 700, 'same', NULL, 0), (25, 18, 3, 2, NULL, 9, 9, 600, 'named', 'D AB', 0);
INSERT INTO allocation (line_id, variety_id, quantity, kind, run_id, reason, n1, n2, n3, n4) VALUES
    (23, 4, 1, 'substitute', 9, 1, 0, 0, 0, 0), (23, 3, 2, 'substitute', 9, 1, 0, 0, 0, 0), (24, 8, 1, 'substitute', 9, 1, 0, 0, 0, 0), (24, 9, 1, 'substitute', 9, 1, 0, 0, 0, 0),
    (24, 10, 2, 'substitute', 9, 1, 0, 0, 0, 0), (24, 11, 3, 'substitute', 9, 1, 0, 0, 0, 0), (25, 4, 1, 'substitute', 9, 1, 0, 0, 0, 0), (25, 1, 4, 'substitute', 9, 1, 0, 0, 0, 0),
    (8, 2, 1, 'assortment', 10, 1, 0, 0, 0, 0);
-- A part of an order that left while its rest is open; picks put back, one with what rotted beside it; planted without a row.
INSERT INTO parcel (id, wave_id, order_id, slot, state, weight_g, packed_at, packed_by, shipped_on, carrier, tracking) VALUES (12, 5, 7, 3, 'shipped', 100, 72, 'pat', 132, 'van', 'T9');
INSERT INTO pick (id, wave_id, stop_id, parcel_id, line_id, variety_id, lot_id, quantity, state, taken, short_reason, answered_at, answered_by) VALUES
    (25, 5, 7, 12, 8, 2, 4, 1, 'done', 1, NULL, 90, 'pat');
INSERT INTO movement (id, at, day, actor, lot_id, place_id, clumps, divisions, reason, cause, cause_id, reverses) VALUES
    (56, 90, 132, 'pat', 4, 3, 0, -1, 'picked', 'pick', 25, NULL), (57, 91, 132, 'pat', 2, 2, 0, -1, 'picked', 'pick', 23, NULL), (58, 92, 132, 'pat', 2, 2, 0, 1, 'picked', 'pick', 23, 57),
    (59, 93, 132, 'pat', 2, 2, 0, -1, 'rotten', 'pick', 7, NULL), (60, 94, 133, 'pat', 8, 4, 0, -1, 'planted', 'entry', 60, NULL), (61, 95, 133, 'pat', 8, 4, 0, -1, 'planted', 'entry', 61, NULL),
    (62, 96, 135, 'pat', 2, 2, 0, -1, 'planted', 'entry', 62, NULL);
-- Rows of past seasons that say the same twice, or nearly; more air of a room at another time is above.
INSERT INTO history (season, variety_id, clumps, divisions, source_id, lot) VALUES (2030, 2, 5, 15, 4, NULL), (2030, 2, 5, 16, 4, NULL);
INSERT INTO past_check (season, variety_id, stage, weeks, inspected, rotten, shrivelled, source_id, lot, why) VALUES
    (2030, 1, 'clump', 7.0, 7, 1, 0, 4, 'K1', 'dividing'), (2030, 1, 'clump', 7.00003, 7, 1, NULL, 4, 'K1', 'dividing');
-- What stood before a run that was undone.
INSERT INTO run_before (run_id, line_id, variety_id, quantity, kind, of_run, reason, n1, n2, n3, n4) VALUES (6, 20, 6, 1, 'own', 4, 1, 2, 3, 4, 5), (7, 18, 6, 1, 'own', 4, 1, 0, 0, 0, 0);
-- Two that were merged, and one that was parted again; what was moved of each table, and one figure that has changed since.
INSERT INTO merging (id, kept, gone, kept_code, gone_code, at, actor, why, undone_at, undone_by) VALUES (1, 1, 99, 'A', 'A2', 61, 'own', 'one plant', NULL, NULL), (2, 2, 98, 'B', 'B2', 62, 'own', 'alike', 63, 'own'), (3, 97, 96, 'Q', 'Q2', 64, 'own', 'gone too', NULL, NULL);
INSERT INTO former_code (code, variety_id, at, actor, why, merged) VALUES ('A2', 1, 61, 'own', 'one plant', 1);
INSERT INTO relabelling (lot_id, was, became, at, actor, why) VALUES (4, 1, 2, 65, 'own', 'stake');
-- Parts that became lots of their own: touched since, taken back, as they were, and of the same lot on a later day.
INSERT INTO lot_split (id, lot_id, from_id, day, clumps, divisions, move_id, reversed) VALUES
    (1, 9, 8, 118, 0, 2, 55, 0), (2, 10, 8, 119, 1, 0, 56, 1), (3, 11, 8, 118, 2, 1, 57, 0), (4, 6, 4, 121, 1, 0, 58, 0);
INSERT INTO run_before (run_id, line_id, variety_id, quantity, kind, of_run, reason, n1, n2, n3, n4) VALUES (7, 25, 1, 2, 'substitute', 4, 1, 0, 0, 0, 0);
INSERT INTO merged_row (merging_id, part, row)
SELECT 1, 'history', json_array(MIN(id)) FROM history WHERE variety_id = 1
UNION ALL SELECT 1, 'past_check', json_array(MIN(id)) FROM past_check WHERE variety_id = 1
UNION ALL SELECT 1, 'lot', json_array(MIN(id)) FROM lot WHERE variety_id = 1
UNION ALL SELECT 1, 'line', json_array(MIN(id)) FROM line WHERE variety_id = 1
UNION ALL SELECT 1, 'oversell', json_array(MIN(id)) FROM oversell WHERE variety_id = 1
UNION ALL SELECT 1, 'taken_back', json_array(MIN(id)) FROM taken_back WHERE variety_id = 1
UNION ALL SELECT 1, 'pick', json_array(MIN(id)) FROM pick WHERE variety_id = 1
UNION ALL SELECT 1, 'put_back', json_array(MIN(id)) FROM put_back WHERE variety_id = 1
UNION ALL SELECT 1, 'planting', json_array(MIN(id), 'R1') FROM planting WHERE variety_id = 1
UNION ALL SELECT 1, 'former_code', json_array('OA', 1)
UNION ALL SELECT 1, 'relabelling', json_array(MIN(id), 1, 0) FROM relabelling WHERE was = 1
UNION ALL SELECT 1, 'release', json_array(MIN(id), 1, 3, 4) FROM release WHERE variety_id = 1
UNION ALL SELECT 1, 'variety', json_array(0, 'A', 'Ash', NULL, NULL, NULL, NULL, 500, 9, 8, NULL, NULL, 0, 1, NULL, NULL)
UNION ALL SELECT 1, 'variety', json_array(1, 'A2', 'Ash', 'ball', NULL, 'red', 80, 510, 1, 2, 3, 1990, 0, 4, 1.5, 6)
UNION ALL SELECT 1, 'past_sale', json_array(1, MIN(season), 4, NULL) FROM past_sale WHERE variety_id = 1
UNION ALL SELECT 1, 'past_order', json_array(1, season, day, 5) FROM past_order WHERE variety_id = 1
UNION ALL SELECT 1, 'past_planting', json_array(1, season, 6, 5) FROM past_planting WHERE variety_id = 1
UNION ALL SELECT 1, 'offering', json_array(1, 1, 7, 2, 0)
UNION ALL SELECT 1, 'said_of', json_array(1, MIN(said_id), '1.5', 1, 2, 3, 4, 5, 6, 7) FROM said_of WHERE variety_id = 1
UNION ALL SELECT 1, 'keep_said', json_array(1, 2.0, 3.0, NULL, NULL, NULL)
UNION ALL SELECT 1, 'keep_change', json_array(1, MIN(run_id), 1, 2) FROM keep_change WHERE variety_id = 1
UNION ALL SELECT 1, 'allocation', json_array(1, line_id, 1, kind, run_id, 1, 0, 0, 0, 0) FROM allocation WHERE variety_id = 1 AND line_id = (SELECT MIN(line_id) FROM allocation WHERE variety_id = 1)
UNION ALL SELECT 1, 'run_before', json_array(1, line_id, 1, kind, run_id, 1, 0, 0, 0, 0, of_run) FROM (SELECT * FROM run_before ORDER BY run_id, line_id LIMIT 1)
UNION ALL SELECT 1, 'forbidden', json_array(1, line_id, 1, 'off', 'her wish') FROM forbidden WHERE variety_id = 1;
INSERT INTO merging_stood (merging_id, part, figure) SELECT 1, part, CASE part WHEN 'stock' THEN 'other' ELSE figure END FROM variety_stands WHERE variety_id = 1;
INSERT INTO origin (season, day, ship_day, pa, digest, at, actor) VALUES (2027, 50, 90, 200.0, 'o1', 91, 'own'), (2028, 51, 92, 300.0, 'o2', 93, 'own'), (2029, 52, 94, NULL, 'o3', 95, 'own');
-- A day for cutting of a lot that was cut whole, and of one that is only to be washed off the list.
INSERT INTO dividing_day (lot_id, day, why, at, actor) VALUES (8, 133, 'frozen', 92, 'off'), (6, 134, 'washed', 93, 'off');
-- Dug and not one clump of it sound, of a planting and of none.
UPDATE lot SET culled = 2 WHERE id = 8;
UPDATE lot SET culled = 1 WHERE id = 7;
-- Letters and a hook, one of each state; one tried too early.
INSERT INTO outbox (id, kind, notice_id, body, state, tries, next_at, queued_at, queued_by, done_at, words) VALUES
    (1, 'letter', 1, NULL, 'waits', 1, 500, 400, 'off', NULL, '450 later'), (2, 'letter', 2, NULL, 'going', 1, 400, 401, 'off', NULL, NULL),
    (3, 'letter', 3, NULL, 'refused', 2, 402, 402, 'off', 450, '550 no'), (4, 'test', NULL, NULL, 'unsure', 1, 403, 403, 'own', 451, 'no answer'),
    (5, 'letter', 4, NULL, 'waits', 0, 404, 404, 'off', NULL, NULL), (6, 'hook', NULL, '{}', 'going', 3, 405, 405, 'own', NULL, NULL),
    (7, 'hook', NULL, '{}', 'waits', 0, 406, 406, 'own', NULL, NULL);
INSERT INTO outbox (id, kind, body, state, tries, next_at, queued_at, queued_by, done_at, words) VALUES
    (8, 'hook', '{"type":"changes","data":{"availability":[{"variety":"AMB"}],"orders":[{"order":"101"},{"order":"102","parcels":[{"carrier":"van","tracking":"T 3"},{"carrier":null,"tracking":"T 4"}]}]}}', 'sent', 1, 410, 410, 'own', 460, '200'),
    (9, 'hook', '{"type":"test","data":{"availability":[],"orders":[]}}', 'refused', 1, 411, 411, 'own', 461, '401');
INSERT INTO shop_told (kind, name, said) VALUES ('variety', 'AMB', 'old'), ('variety', 'NONE', '1 1'), ('order', '101', ''), ('order', '104', 'open'), ('order', 'NONE', 'open');
INSERT INTO post (channel, stopped, tested, failures, quiet_until, words) VALUES ('mail', 1, 'd', 2, 900, 'down'), ('hook', 0, NULL, 0, 0, NULL);
-- An order that travels with another, and a line that came from one that was put into it.
INSERT INTO known_buyer (id, last_season, last_on, customer, name2, email, phone, street, town, postcode, country, region, language, zone, tier, consent) VALUES
    (1, 2028, 130, 'Nan', NULL, 'nan@x.example', '1', 's 1', 't 1', '777', 'US', 'r', 'de', 'z1', 'retail', 'any'),
    (2, 2029, 140, 'Ada', NULL, NULL, NULL, 's 2', NULL, '1 11', 'US', NULL, NULL, NULL, 'retail', 'same'),
    (3, 2029, 150, 'Ola', 'o 2', NULL, NULL, NULL, NULL, '999', NULL, NULL, NULL, NULL, 'wholesale', 'none');
INSERT INTO past_said (season, said_on, why, varieties, expected, came, held) VALUES
    (2029, 60, 'month', 3, 30.5, 28, 2), (2028, 50, 'release', 2, 20, 21, 1.5);
UPDATE orders SET with_order = 1 WHERE id = 6;
UPDATE orders SET merged_into = 1 WHERE id = 5;
UPDATE line SET from_order = 5, from_line = 9 WHERE id = 2;
-- A replacement of which a line has nothing: nobody closes its rest.
INSERT INTO allocation (line_id, variety_id, quantity, kind, run_id, reason, n1, n2, n3, n4) VALUES (19, 2, 0, 'own', 10, 1, 0, 0, 0, 0);
-- Walked on the day on which it was planted.
INSERT INTO field_round (id, planting_id, day, alive, rogued, reason, at, actor, reversed) VALUES (7, 2, 60, 5, 0, NULL, 81, 'cat', 0);
-- Files that can be taken back: of holds, and of a carrier.
INSERT INTO brought (id, kind, name, at, actor, undone_at, undone_by, why) VALUES (1, 'holds', 'storm.csv', 97, 'off', NULL, NULL, NULL), (2, 'tracking', 'back.csv', 98, 'off', NULL, NULL, NULL), (3, 'holds', 'old.csv', 99, 'own', 100, 'own', 'over');
INSERT INTO frost_hold (id, zone, carrier, first_week, last_week, why, at, actor, brought_id) VALUES (7, '', 'van', 203230, 203231, 'strike', 97, 'off', 1), (8, '', 'Red Van', 203232, 203232, NULL, 97, 'off', 1);
INSERT INTO brought_parcel (brought_id, parcel_id, sent, carrier, tracking, more, shipped_on, said) VALUES (2, 3, 0, 'van', NULL, NULL, 131, 'said 3'), (2, 12, 1, NULL, NULL, NULL, NULL, 'said 12');
