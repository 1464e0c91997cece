-- SPDX-License-Identifier: MIT
-- Were those that a stock-take counted looked through, the rotten thrown out? NULL: nobody said, and the setting decides.
ALTER TABLE stock_take ADD COLUMN looked INTEGER CHECK (looked IN (0, 1));

-- What was planted of each variety: it was kept for that, so it uses up the hold-back.
CREATE INDEX movement_planted ON movement (lot_id, day, divisions) WHERE reason = 'planted';
CREATE VIEW planted AS
SELECT l.variety_id, -SUM(m.divisions) AS divisions
FROM movement m JOIN lot l ON l.id = m.lot_id WHERE m.reason = 'planted' GROUP BY l.variety_id;
