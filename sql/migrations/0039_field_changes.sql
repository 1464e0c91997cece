-- SPDX-License-Identifier: MIT
-- How often what stood in the field was written: what past seasons planted, plantings, walks of them, and what a lot says of its
-- planting. Who has read them can tell that they are the same still; a session in the cellar writes none of them.
ALTER TABLE nursery ADD COLUMN field_changes INTEGER NOT NULL DEFAULT 0;
CREATE TRIGGER past_planting_field_comes AFTER INSERT ON past_planting BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER past_planting_field_leaves AFTER DELETE ON past_planting BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER past_planting_field_changes AFTER UPDATE ON past_planting BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER planting_field_comes AFTER INSERT ON planting BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER planting_field_leaves AFTER DELETE ON planting BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER planting_field_changes AFTER UPDATE ON planting BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER field_round_field_comes AFTER INSERT ON field_round BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER field_round_field_leaves AFTER DELETE ON field_round BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER field_round_field_changes AFTER UPDATE ON field_round BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER lot_field_comes AFTER INSERT ON lot BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER lot_field_leaves AFTER DELETE ON lot BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
CREATE TRIGGER lot_field_changes AFTER UPDATE OF variety_id, planting_id, dug_on, clumps, culled ON lot BEGIN UPDATE nursery SET field_changes = field_changes + 1; END;
