-- SPDX-License-Identifier: MIT
-- What was refunded of a line is asked for every line that lacks something.
CREATE INDEX notice_by_line ON notice (line_id) WHERE line_id IS NOT NULL;
