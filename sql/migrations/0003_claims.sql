-- SPDX-License-Identifier: MIT
-- What a claim was answered, in words, and when and by whom.
ALTER TABLE claim ADD COLUMN reply TEXT;
ALTER TABLE claim ADD COLUMN answered_at INTEGER;
ALTER TABLE claim ADD COLUMN answered_by TEXT;
