-- SPDX-License-Identifier: MIT
-- Who is promised some of a variety instead of another, found without a look at all promises. Most promises are of the variety
-- asked, and stand with its lines.
CREATE INDEX allocation_instead ON allocation (variety_id) WHERE kind <> 'own';
