-- SPDX-License-Identifier: MIT
-- How a spreadsheet was fitted, under the shape of its header: the same header is fitted the same way the next time.
CREATE TABLE fit (
    shape TEXT PRIMARY KEY, -- digest of the headings
    name TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    fit TEXT NOT NULL, -- as JSON
    at INTEGER NOT NULL,
    actor TEXT NOT NULL
) STRICT, WITHOUT ROWID;
