-- SPDX-License-Identifier: MIT
-- Who may in: people, what they are signed in with, keys of programs.

-- name: count
SELECT COUNT(*) AS people FROM person;

-- name: owners like count
SELECT COUNT(*) AS people FROM person WHERE role = 'owner' AND disabled = 0;

-- name: find
SELECT id, name, role, password, disabled, made_at,
    EXISTS (SELECT 1 FROM factor f WHERE f.person_id = person.id AND f.on_at IS NOT NULL) AS factor
FROM person WHERE name = ?1;

-- name: list like find
SELECT id, name, role, password, disabled, made_at,
    EXISTS (SELECT 1 FROM factor f WHERE f.person_id = person.id AND f.on_at IS NOT NULL) AS factor
FROM person ORDER BY name;

-- name: taken
SELECT EXISTS (SELECT 1 FROM person WHERE name = ?1 COLLATE NOCASE) AS by_person,
       EXISTS (SELECT 1 FROM program_key WHERE name = ?1 COLLATE NOCASE) AS by_key;

-- name: add
INSERT INTO person (name, role, password, made_at) VALUES (?1, ?2, ?3, ?4);

-- name: disable
UPDATE person SET disabled = ?2 WHERE name = ?1;

-- name: role
UPDATE person SET role = ?2 WHERE name = ?1;

-- name: password
UPDATE person SET password = ?2 WHERE name = ?1;

-- name: sign_in
INSERT INTO signed_in (token, person_id, csrf, since, seen) VALUES (?1, ?2, ?3, ?4, ?4);

-- name: session
SELECT p.id, p.name, p.role, s.csrf, s.since, s.seen
FROM signed_in s JOIN person p ON p.id = s.person_id WHERE s.token = ?1 AND p.disabled = 0;

-- name: seen
UPDATE signed_in SET seen = ?2 WHERE token = ?1 AND seen < ?2;

-- name: sign_out
DELETE FROM signed_in WHERE token = ?1;

-- name: sign_out_person
DELETE FROM signed_in WHERE person_id = (SELECT id FROM person WHERE name = ?1);

-- name: sessions
SELECT token, since, seen FROM signed_in WHERE person_id = (SELECT id FROM person WHERE name = ?1)
ORDER BY seen DESC, token;

-- name: sign_out_named
DELETE FROM signed_in
WHERE person_id = (SELECT id FROM person WHERE name = ?1) AND substr(token, 1, ?3) = ?2;

-- name: sign_out_others
DELETE FROM signed_in WHERE person_id = (SELECT id FROM person WHERE name = ?1) AND token <> ?2;

-- name: expire
DELETE FROM signed_in WHERE since < ?1 OR seen < ?2;

-- name: key_find
SELECT id, name, role, made_at, expires_at, disabled FROM program_key WHERE token = ?1;

-- name: key_list like key_find
SELECT id, name, role, made_at, expires_at, disabled FROM program_key ORDER BY name;

-- name: key_add
INSERT INTO program_key (name, role, token, made_at, expires_at) VALUES (?1, ?2, ?3, ?4, ?5);

-- name: key_disable
UPDATE program_key SET disabled = 1 WHERE name = ?1;
