-- SPDX-License-Identifier: MIT
-- Rows of past seasons that were taken off or changed, so that who has read them can tell that they are the same still (more
-- rows are told by their number and the last one's id).
ALTER TABLE nursery ADD COLUMN past_changes INTEGER NOT NULL DEFAULT 0;
CREATE TRIGGER history_leaves AFTER DELETE ON history BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
CREATE TRIGGER history_changes AFTER UPDATE ON history BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
CREATE TRIGGER past_check_leaves AFTER DELETE ON past_check BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
CREATE TRIGGER past_check_changes AFTER UPDATE ON past_check BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
CREATE TRIGGER past_shrivel_leaves AFTER DELETE ON past_shrivel BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
CREATE TRIGGER past_shrivel_changes AFTER UPDATE ON past_shrivel BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
CREATE TRIGGER past_weighing_leaves AFTER DELETE ON past_weighing BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
CREATE TRIGGER past_weighing_changes AFTER UPDATE ON past_weighing BEGIN UPDATE nursery SET past_changes = past_changes + 1; END;
