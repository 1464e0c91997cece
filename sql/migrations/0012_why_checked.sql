-- SPDX-License-Identifier: MIT
-- Why was it looked at: on a round that picks at random or looks at all, or because something seemed wrong? NULL: nobody said.
ALTER TABLE storage_check ADD COLUMN why TEXT CHECK (why IN ('round', 'suspicion'));
