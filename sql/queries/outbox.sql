-- SPDX-License-Identifier: MIT
-- What leaves by itself: letters, and what a shop is told.

-- name: queue
INSERT INTO outbox (kind, notice_id, body, next_at, queued_at, queued_by) VALUES (?1, ?2, ?3, ?4, ?4, ?5);

-- The next one of a way out (?1: mail, hook, hook-test) at an instant (?2). No pause is longer than an hour: what lies further ahead was written by a clock
-- that ran ahead.
-- name: next
SELECT o.id, o.kind, o.notice_id, o.tries, o.body, o.queued_at FROM outbox o
WHERE o.state = 'waits' AND (o.kind = 'hook') = (?1 <> 'mail') AND (?1 <> 'hook-test' OR o.body ->> '$.type' = 'test')
  AND (o.next_at <= ?2 OR o.next_at > ?2 + 7200000)
ORDER BY o.kind <> 'test', o.id LIMIT 1;

-- name: going
UPDATE outbox SET state = 'going', tries = tries + 1 WHERE id = ?1 AND state = 'waits';

-- ?3: 1 when the try does not count.
-- name: settle
UPDATE outbox SET state = ?2, tries = tries - ?3, next_at = ?4, done_at = ?5, words = ?6 WHERE id = ?1 AND state = 'going';

-- The program ended between the other side's answer and its record. Whoever hears of a hook twice knows it by its number.
-- name: interrupted
UPDATE outbox SET state = CASE kind WHEN 'hook' THEN 'waits' ELSE 'unsure' END, words = ?1 WHERE state = 'going';

-- name: read
SELECT o.kind, o.state, o.tries, o.notice_id, o.body ->> '$.type' AS type FROM outbox o WHERE o.id = ?1;

-- name: of_notice
SELECT id, state FROM outbox WHERE notice_id = ?1;

-- name: again
UPDATE outbox SET state = 'waits', tries = 0, next_at = ?2, done_at = NULL, words = NULL
WHERE id = ?1 AND state IN ('refused', 'unsure');

-- name: remove
DELETE FROM outbox WHERE id = ?1 AND state IN ('waits', 'refused', 'unsure');

-- name: remove_tests
DELETE FROM outbox WHERE kind = 'test' AND state <> 'going';

-- Of a hook, whatever it is for.
-- name: open_hook
SELECT EXISTS (SELECT 1 FROM outbox WHERE kind = 'hook' AND state IN ('waits', 'going')) AS any_open;

-- Another shop, or none, is not told what waited for this one; a new test takes the place of the last.
-- name: remove_hooks
DELETE FROM outbox WHERE kind = 'hook' AND state <> 'going' AND (?1 = 0 OR json_extract(body, '$.type') = 'test');

-- Of those that a shop took, the last few (?1) stay.
-- name: trim_hooks
DELETE FROM outbox WHERE kind = 'hook' AND state = 'sent'
    AND id <= (SELECT id FROM outbox WHERE kind = 'hook' AND state = 'sent' ORDER BY id DESC LIMIT 1 OFFSET ?1);

-- A person says: now.
-- name: hurry_hooks
UPDATE outbox SET next_at = ?1 WHERE kind = 'hook' AND state = 'waits';

-- ?1: a state, or null. Of a hook, how many varieties and orders it tells of; none is a test.
-- name: list
SELECT o.id, o.kind, o.state, o.notice_id, r.number, r.email, o.tries, o.next_at, o.queued_at, o.queued_by, o.done_at, o.words,
       CASE o.kind WHEN 'hook' THEN COALESCE(json_array_length(o.body, '$.data.availability'), 0) END AS varieties,
       CASE o.kind WHEN 'hook' THEN COALESCE(json_array_length(o.body, '$.data.orders'), 0) END AS orders
FROM outbox o LEFT JOIN notice n ON n.id = o.notice_id LEFT JOIN orders r ON r.id = n.order_id
WHERE ?1 IS NULL OR o.state = ?1 ORDER BY o.id DESC LIMIT 2000;

-- name: counts
SELECT COALESCE(SUM(state IN ('waits', 'going')), 0) AS waits, COALESCE(SUM(state = 'sent'), 0) AS sent,
       COALESCE(SUM(state = 'refused'), 0) AS refused, COALESCE(SUM(state = 'unsure'), 0) AS unsure
FROM outbox WHERE (kind = 'hook') = (?1 = 'hook');

-- name: channel
SELECT stopped, tested, failures, quiet_until, words FROM post WHERE channel = ?1;

-- name: stop
INSERT INTO post (channel, stopped) VALUES (?1, ?2)
ON CONFLICT (channel) DO UPDATE SET stopped = excluded.stopped, failures = 0, quiet_until = 0, words = NULL;

-- name: tested
INSERT INTO post (channel, tested) VALUES (?1, ?2) ON CONFLICT (channel) DO UPDATE SET tested = excluded.tested;

-- name: failed
INSERT INTO post (channel, failures, quiet_until, words) VALUES (?1, 1, ?2, ?3)
ON CONFLICT (channel) DO UPDATE SET failures = failures + 1, quiet_until = excluded.quiet_until, words = excluded.words;

-- name: worked
UPDATE post SET failures = 0, quiet_until = 0, words = NULL WHERE channel = ?1 AND failures > 0;
