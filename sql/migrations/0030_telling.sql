-- SPDX-License-Identifier: MIT
-- What a shop was told last of each variety and of each order. What is now and was not told goes to it by the outbox.
CREATE TABLE shop_told (
    kind TEXT NOT NULL CHECK (kind IN ('variety', 'order')),
    name TEXT NOT NULL, -- a code, or an order's number
    said TEXT NOT NULL, -- as of the views below; empty: it has to be told again
    PRIMARY KEY (kind, name)
) STRICT, WITHOUT ROWID;

-- How varieties and orders are now, in a text that changes when they do. Of what may be sold as a shop could ask itself; of an order
-- whether, and with what, it is on its way.
CREATE VIEW shop_variety AS
SELECT v.code AS name, f.offered, f.sold, f.offered || ' ' || f.sold AS said
FROM variety v JOIN offering f ON f.variety_id = v.id WHERE v.retired = 0 AND f.released = 1;

CREATE VIEW shop_order AS
SELECT o.id, o.number AS name, IIF(o.merged_into IS NULL, o.state, 'merged') AS state, o.merged_into, o.ship_week,
       o.state || ' ' || COALESCE(o.merged_into, '') || ' ' || COALESCE(o.ship_week, '') ||
           COALESCE((SELECT group_concat(' ' || p.id || ' ' || p.shipped_on || ' ' || COALESCE(p.carrier, '') || ' ' || COALESCE(p.tracking, ''))
                     FROM parcel p WHERE p.order_id = o.id AND p.state = 'shipped'), '') AS said
FROM orders o;
