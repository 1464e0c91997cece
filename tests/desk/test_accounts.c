/* SPDX-License-Identifier: MIT */
/* Sessions and keys in time: what was good ends when it should. Idle and absolute ends are those of OWASP ASVS 4.0.3, 3.3.2. */
#include "desk/people/accounts.h"
#include "support/order_desk.h"

#define HOUR 3600000LL
#define GOOD "correct horse staple"

static void test_session_ends(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_identity who;
    char token[CW_TOKEN_TEXT], digest[65];
    bool found = false;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_verify(t.n, "Marta", GOOD, &who, &err), &err);
    cw_check_ok(cw_accounts_open(t.n, &t.who, &who, NULL, token, &err), &err);
    cw_accounts_digest(token, digest);
    cw_instant begun = t.who.now;
    static const struct {
        const char *name;
        cw_instant used, asked; /* hours after the beginning; used < 0: not */
        bool good;
    } rows[] = {
        { "at once", -1, 0, true },
        { "just before 8 h unused", -1, 8 * HOUR - 1, true },
        { "8 h unused", -1, 8 * HOUR, false },
        { "used meanwhile", 7 * HOUR, 14 * HOUR, true },
        { "8 h after the last use", -1, 15 * HOUR, false },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (rows[i].used >= 0)
            cw_check_ok(cw_accounts_seen(t.n, digest, begun + rows[i].used, &err), &err);
        cw_check_ok(cw_accounts_session(t.n, digest, begun + rows[i].asked, &found, &who, &err), &err);
        if (found != rows[i].good)
            fail_msg("%s: %d", rows[i].name, found);
    }
    /* What has not ended is not dropped, and one that began in the future is of a wrong clock, beyond five minutes. */
    cw_check_ok(cw_accounts_expire(t.n, begun + 8 * HOUR, &err), &err);
    cw_check_ok(cw_accounts_session(t.n, digest, begun - 300000, &found, &who, &err), &err);
    assert_true(found);
    assert_int_equal(who.until, begun + 15 * HOUR);
    cw_check_ok(cw_accounts_session(t.n, digest, begun - 300001, &found, &who, &err), &err);
    assert_false(found);
    /* Used every hour it still ends after seven days. */
    for (cw_instant at = 8 * HOUR; at < 7 * 24 * HOUR; at += HOUR)
        cw_check_ok(cw_accounts_seen(t.n, digest, begun + at, &err), &err);
    cw_check_ok(cw_accounts_session(t.n, digest, begun + 7 * 24 * HOUR - 1, &found, &who, &err), &err);
    assert_true(found);
    cw_check_ok(cw_accounts_session(t.n, digest, begun + 7 * 24 * HOUR, &found, &who, &err), &err);
    assert_false(found);
    cw_check_ok(cw_accounts_expire(t.n, begun + 7 * 24 * HOUR + 1, &err), &err);
    cw_check_ok(cw_accounts_session(t.n, digest, begun, &found, &who, &err), &err);
    assert_false(found); /* dropped from the file */
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void test_passwords(void **state)
{
    static const struct {
        const char *name, *password;
        cw_code code;
    } rows[] = {
        { "11 letters", "abcdefghijk", CW_REFUSED },
        { "12 letters", "kzwpmbdtqrgh", CW_OK },
        { "a few words", "seven green tubers", CW_OK },
        { "blanks and other letters", "vier große Knollen", CW_OK },
        { "11 characters in 22 bytes", "жуклопатамы", CW_REFUSED },
        { "4 characters in 12 bytes", "塊茎花畑", CW_REFUSED },
        { "18 in 35 bytes", "семь зелёных корней", CW_OK },
        { "the own name in it", "Robin123456789", CW_REFUSED },
        { "the own name, changed a little", "r0bin2032r0bin", CW_REFUSED },
        { "one letter over and over", "aaaaaaaaaaaaaaaa", CW_REFUSED },
        /* The first five: among the 10 000 passwords found most often in breaches (lists are published; from memory), made
         * long enough the way people do. OWASP ASVS 4.0.3, 2.1.7. */
        { "common, twice", "passwordpassword", CW_REFUSED },
        { "common with a row of digits", "password1234", CW_REFUSED },
        { "common with a year", "iloveyou2032", CW_REFUSED },
        { "common, other letters", "P@ssw0rd2032!", CW_REFUSED },
        { "common, twice", "trustno1trustno1", CW_REFUSED },
        { "the alphabet", "abcdefghijkl", CW_REFUSED },
        { "rows of keys", "qwertyuiopasdfghjkl", CW_REFUSED },
        { "digits in order", "123456789012", CW_REFUSED },
        { "one word of the dictionary", "unbelievable", CW_REFUSED },
        { "this program's own words", "clumpwise dahlia", CW_REFUSED },
    };
    char longest[200], wide[4 * 129 + 1];
    test_nursery t;
    cw_identity who;
    (void)state;
    test_nursery_make(&t);
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Robin", CW_ROLE_PACKER, GOOD, &err), &err);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        err = (cw_error)CW_ERROR_NONE;
        cw_code code = cw_accounts_password(t.n, &t.who, "Robin", rows[i].password, &err);
        if (code != rows[i].code)
            fail_msg("%s: %d %s", rows[i].name, code, err.text);
        err = (cw_error)CW_ERROR_NONE;
        if (code == CW_OK)
            cw_check_ok(cw_accounts_verify(t.n, "Robin", rows[i].password, &who, &err), &err);
    }
    for (size_t length = 128; length <= 129; length++) {
        for (size_t i = 0; i < length; i++)
            longest[i] = (char)('!' + (i * i * 31 + i * 17) % 90);
        longest[length] = '\0';
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_accounts_password(t.n, &t.who, "Robin", longest, &err),
                         length == 128 ? CW_OK : CW_REFUSED);
    }
    for (size_t i = 0; i < 129; i++) /* of four bytes each: U+1F331 and those behind it */
        snprintf(wide + 4 * i, 5, "\xF0\x9F%c%c", 0x8C + (int)(i * i % 3),
                 0x80 + (int)((i * i * 31 + i * 17) % 63));
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_accounts_password(t.n, &t.who, "Robin", wide, &err), CW_REFUSED);
    wide[4 * 128] = '\0';
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_password(t.n, &t.who, "Robin", wide, &err), &err);
    cw_check_ok(cw_accounts_verify(t.n, "Robin", wide, &who, &err), &err);
    test_nursery_free(&t);
}

static void test_who_may(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_asker office = { .actor = "Robin", .role = CW_ROLE_OFFICE };
    cw_identity who;
    cw_table list = { 0 };
    (void)state;
    test_nursery_make(&t);
    assert_int_equal(cw_accounts_add(t.n, &t.who, "Robin", CW_ROLE_OFFICE, GOOD, &err),
                     CW_REFUSED); /* an owner first */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Robin", CW_ROLE_OFFICE, GOOD, &err), &err);
    office.now = t.who.now;
    assert_int_equal(cw_accounts_add(t.n, &office, "Eve", CW_ROLE_OWNER, GOOD, &err), CW_FORBIDDEN);
    assert_int_equal(cw_accounts_password(t.n, &office, "Marta", "another long one", &err), CW_FORBIDDEN);
    assert_int_equal(cw_accounts_list(t.n, &office, &list, &err), CW_FORBIDDEN);
    cw_table_free(&list);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_password(t.n, &office, "Robin", "another long one", &err), &err);
    assert_int_equal(cw_accounts_disable(t.n, &t.who, "Marta", true, &err), CW_CONFLICT); /* the last owner */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_disable(t.n, &t.who, "Robin", true, &err), &err);
    assert_int_equal(cw_accounts_verify(t.n, "Robin", "another long one", &who, &err), CW_FORBIDDEN);
    /* Neither the password nor a token stands in the file. */
    char needle[] = GOOD, *bytes = NULL;
    size_t n = 0;
    cw_nursery_close(t.n);
    t.n = NULL;
    FILE *f = fopen(t.path, "re");
    assert_non_null(f);
    bytes = calloc(1, 4 << 20);
    n = fread(bytes, 1, 4 << 20, f);
    fclose(f);
    assert_null(memmem(bytes, n, needle, strlen(needle)));
    free(bytes);
    test_nursery_free(&t);
}

/* 3.3.3: whoever is disabled is signed out for good, also when enabled again; and only owners who may sign in count when the
 * last one is asked for. */
static void test_disabled(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_identity who;
    char token[CW_TOKEN_TEXT], digest[65];
    bool found = false;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Ida", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_verify(t.n, "Ida", GOOD, &who, &err), &err);
    cw_check_ok(cw_accounts_open(t.n, &t.who, &who, NULL, token, &err), &err);
    cw_accounts_digest(token, digest);
    cw_check_ok(cw_accounts_session(t.n, digest, t.who.now, &found, &who, &err), &err);
    assert_true(found);
    cw_check_ok(cw_accounts_disable(t.n, &t.who, "Ida", true, &err), &err);
    assert_int_equal(cw_accounts_disable(t.n, &t.who, "Marta", true, &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_accounts_role(t.n, &t.who, "Marta", CW_ROLE_OFFICE, &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_disable(t.n, &t.who, "Ida", false, &err), &err);
    cw_check_ok(cw_accounts_session(t.n, digest, t.who.now, &found, &who, &err), &err);
    assert_false(found);
    cw_check_ok(cw_accounts_role(t.n, &t.who, "Marta", CW_ROLE_OFFICE, &err), &err);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Ida is signed in three times and Marta once: a list shows one's own, the last used first; one ends one's own only, and what
 * ended is on record once. */
static void test_own_sessions(void **state)
{
    static const char *const people[] = { "Ida", "Ida", "Ida", "Marta" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_identity who;
    cw_table list;
    char token[CW_TOKEN_TEXT], digest[4][65], name[80];
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Ida", CW_ROLE_PACKER, GOOD, &err), &err);
    for (int i = 0; i < 4; i++) {
        cw_check_ok(cw_accounts_verify(t.n, people[i], GOOD, &who, &err), &err);
        cw_check_ok(cw_accounts_open(t.n, &t.who, &who, NULL, token, &err), &err);
        cw_accounts_digest(token, digest[i]);
    }
    cw_asker ida = t.who, program = t.who;
    ida.actor = "Ida";
    program.actor = "Ida";
    program.program = true;
    cw_check_ok(cw_accounts_seen(t.n, digest[1], t.who.now + HOUR, &err), &err);
    cw_check_ok(cw_accounts_seen(t.n, digest[1], t.who.now + 5, &err),
                &err); /* an older use moves nothing back */
    cw_check_ok(cw_accounts_sessions(t.n, &ida, digest[2], &list, &err), &err);
    assert_int_equal(cw_table_rows(&list), 3);
    assert_int_equal(cw_table_int(&list, 0, 2), t.who.now + HOUR);
    assert_int_equal(cw_table_int(&list, 1, 2), t.who.now);
    assert_int_equal(strncmp(cw_table_text(&list, 0, 0), digest[1], strlen(cw_table_text(&list, 0, 0))), 0);
    for (size_t r = 0; r < 3; r++)
        assert_int_equal(cw_table_int(&list, r, 3), strncmp(cw_table_text(&list, r, 0), digest[2], 8) == 0);
    cw_copy(name, sizeof name, cw_table_text(&list, 0, 0));
    cw_table_free(&list);
    cw_check_ok(cw_accounts_end_sessions(t.n, &program, NULL, digest[3], &err), &err); /* a key has none */
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM signed_in"), 4);
    cw_check_ok(cw_accounts_end_sessions(t.n, &ida, name, digest[2], &err), &err);
    assert_int_equal(cw_accounts_end_sessions(t.n, &ida, name, digest[2], &err), CW_NOT_FOUND);
    char marta[9];
    snprintf(marta, sizeof marta, "%.8s", digest[3]);
    assert_int_equal(cw_accounts_end_sessions(t.n, &ida, marta, digest[2], &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_end_sessions(t.n, &ida, NULL, digest[2], &err), &err);
    cw_check_ok(cw_accounts_end_sessions(t.n, &ida, NULL, digest[2], &err), &err); /* none is left */
    rows_are(&t, "SELECT p.name FROM signed_in s JOIN person p ON p.id = s.person_id ORDER BY p.name",
             "Ida\nMarta\n");
    rows_are(&t, "SELECT actor, subject, before, after FROM audit WHERE action = 'end sessions'",
             "Ida|Ida||one\nIda|Ida||all others\n");
    test_nursery_free(&t);
}

/* 2.10.1, 2.3.3: every key has a last day, at most two years on, and the list tells when it comes near. */
static void test_keys_end(void **state)
{
    static const struct {
        const char *name;
        int days; /* from today; -1: not given */
        cw_code code;
        int lasts; /* days */
        bool replace;
    } rows[] = {
        { "none given", -1, CW_OK, 365, false }, { "today", 0, CW_OK, 0, true },
        { "a fortnight", 14, CW_OK, 14, true },  { "a day more", 15, CW_OK, 15, false },
        { "two years", 731, CW_OK, 731, false }, { "more", 732, CW_REFUSED, 0, false },
    };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    cw_day today = cw_instant_day(t.who.now);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char key[CW_TOKEN_TEXT];
        cw_error err = CW_ERROR_NONE;
        cw_day last = rows[i].days < 0 ? CW_NO_DAY : today + rows[i].days;
        if (cw_accounts_key_add(t.n, &t.who, rows[i].name, CW_ROLE_SHOP, last, key, &err) != rows[i].code)
            fail_msg("%s: %s", rows[i].name, err.text);
        if (rows[i].code != CW_OK)
            continue;
        char digest[65];
        cw_identity who;
        bool good = false, late = false;
        cw_instant end = (cw_instant)(today + rows[i].lasts + 1) * CW_DAY_MS;
        cw_accounts_digest(key, digest);
        cw_check_ok(cw_accounts_key(t.n, digest, end - 1, &good, &who, &err), &err);
        cw_check_ok(cw_accounts_key(t.n, digest, end, &late, &who, &err), &err);
        if (!good || late)
            fail_msg("%s: %d before its end, %d after", rows[i].name, good, late);
    }
    cw_table list = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_accounts_keys(t.n, &t.who, &list, &err), &err);
    assert_int_equal(cw_table_rows(&list), 5);
    for (size_t i = 0; i < 5; i++)
        for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++)
            if (strcmp(rows[k].name, cw_table_text(&list, i, 0)) == 0 &&
                (cw_table_int(&list, i, 4) != today + rows[k].lasts ||
                 (cw_table_int(&list, i, 5) != 0) != rows[k].replace))
                fail_msg("%s: last day or reminder", rows[k].name);
    cw_table_free(&list);
    test_nursery_free(&t);
}

/* One name, one who acts: a person's is no key's, nor one that the program uses itself, whatever the case of its letters. */
static void test_one_namespace(void **state)
{
    static const struct {
        const char *name;
        bool key;
        cw_code code;
    } rows[] = {
        { "Marta", false, CW_OK },
        { "Marta", true, CW_CONFLICT },
        { "mARTA", true, CW_CONFLICT },
        { "Marta", false, CW_CONFLICT },
        { "till", true, CW_OK },
        { "till", false, CW_CONFLICT },
        { "TILL", false, CW_CONFLICT },
        { "till", true, CW_CONFLICT },
        { "server", false, CW_CONFLICT },
        { "Backup", true, CW_CONFLICT },
        { "local", true, CW_CONFLICT },
        { "key till", false, CW_CONFLICT },
        { "Key Largo", false, CW_CONFLICT },
        { "keystone", true, CW_OK },
        { "Martha", true, CW_OK },
    };
    test_nursery t;
    char key[CW_TOKEN_TEXT];
    (void)state;
    test_nursery_make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_code code =
            rows[i].key
                ? cw_accounts_key_add(t.n, &t.who, rows[i].name, CW_ROLE_SHOP, CW_NO_DAY, key, &err)
                : cw_accounts_add(t.n, &t.who, rows[i].name, CW_ROLE_OWNER, "zqx seven green tubers", &err);
        if (code != rows[i].code || (code != CW_OK && strcmp(err.column, "name") != 0))
            fail_msg("%s as a %s: %d %s", rows[i].name, rows[i].key ? "key" : "person", (int)code, err.text);
    }
    test_nursery_free(&t);
}

/* Who did what with an account is on record; what is refused changes nothing and is on none. */
static void test_on_record_or_refused(void **state)
{
    static const char *const bad_names[] = { "", " Ann", "Ann ", "An\nn", "An\x7Fn", "An\xC3n" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char key[CW_TOKEN_TEXT], longest[CW_MAX_NAME + 2] = "";
    cw_identity who;
    cw_table list;
    (void)state;
    test_nursery_make(&t);
    cw_day today = cw_instant_day(t.who.now);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    memset(longest, 'a', CW_MAX_NAME + 1);
    for (size_t i = 0; i <= sizeof bad_names / sizeof bad_names[0]; i++) {
        const char *name = i < sizeof bad_names / sizeof bad_names[0] ? bad_names[i] : longest;
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_accounts_add(t.n, &t.who, name, CW_ROLE_PACKER, GOOD, &err), CW_REFUSED);
        assert_string_equal(err.column, "name");
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_accounts_key_add(t.n, &t.who, name, CW_ROLE_SHOP, CW_NO_DAY, key, &err),
                         CW_REFUSED);
        assert_string_equal(err.column, "name");
    }
    longest[CW_MAX_NAME] = '\0';
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_key_add(t.n, &t.who, longest, CW_ROLE_SHOP, CW_NO_DAY, key, &err), &err);
    const struct {
        cw_code got, want;
    } refused[] = {
        { cw_accounts_add(t.n, &t.who, "Web", CW_ROLE_SHOP, GOOD, &err), CW_REFUSED },
        { cw_accounts_add(t.n, &t.who, "Web", CW_ROLE_NONE, GOOD, &err), CW_REFUSED },
        { cw_accounts_key_add(t.n, &t.who, "Web", CW_ROLE_NONE, CW_NO_DAY, key, &err), CW_REFUSED },
        { cw_accounts_key_add(t.n, &t.who, "Web", CW_ROLE_SHOP, today - 1, key, &err), CW_REFUSED },
        { cw_accounts_disable(t.n, &t.who, "Nobody", true, &err), CW_NOT_FOUND },
        { cw_accounts_role(t.n, &t.who, "Nobody", CW_ROLE_PACKER, &err), CW_NOT_FOUND },
        { cw_accounts_password(t.n, &t.who, "Nobody", "seven green tubers", &err), CW_NOT_FOUND },
        { cw_accounts_key_disable(t.n, &t.who, "Nobody", &err), CW_NOT_FOUND },
        { cw_accounts_role(t.n, &t.who, "Marta", CW_ROLE_OFFICE, &err), CW_CONFLICT },
    };
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++)
        if (refused[i].got != refused[i].want)
            fail_msg("%zu: %d", i, (int)refused[i].got);
    cw_asker office = t.who;
    office.actor = "Robin";
    office.role = CW_ROLE_OFFICE;
    assert_int_equal(cw_accounts_role(t.n, &office, "Marta", CW_ROLE_OWNER, &err), CW_FORBIDDEN);
    assert_int_equal(cw_accounts_disable(t.n, &office, "Marta", false, &err), CW_FORBIDDEN);
    assert_int_equal(cw_accounts_key_add(t.n, &office, "Web", CW_ROLE_SHOP, CW_NO_DAY, key, &err),
                     CW_FORBIDDEN);
    assert_int_equal(cw_accounts_key_disable(t.n, &office, longest, &err), CW_FORBIDDEN);
    assert_int_equal(cw_accounts_keys(t.n, &office, &list, &err), CW_FORBIDDEN);
    cw_table_free(&list);
    /* A key that has a person's name is not that person. */
    cw_asker program = office;
    program.actor = "Marta";
    program.program = true;
    assert_int_equal(cw_accounts_password(t.n, &program, "Marta", "seven green tubers", &err), CW_FORBIDDEN);
    rows_are(&t, "SELECT name, role, disabled FROM person", "Marta|owner|0\n");
    rows_are(&t, "SELECT COUNT(*), SUM(disabled) FROM program_key", "1|0\n");
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_accounts_verify(t.n, "Marta", "seven green tubers", &who, &err), CW_FORBIDDEN);
    assert_int_equal(who.role, CW_ROLE_NONE);
    assert_int_equal(who.person, number_of(&t, "SELECT id FROM person"));
    assert_int_equal(cw_accounts_verify(t.n, "Nobody", GOOD, &who, &err), CW_FORBIDDEN);
    assert_int_equal(who.person, 0);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_accounts_key_disable(t.n, &t.who, longest, &err), &err);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Ida", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_password(t.n, &t.who, "Ida", "seven green tubers", &err), &err);
    cw_check_ok(cw_accounts_role(t.n, &t.who, "Ida", CW_ROLE_OWNER, &err), &err); /* no other is needed */
    cw_check_ok(cw_accounts_disable(t.n, &t.who, "Ida", true, &err), &err);
    cw_check_ok(cw_accounts_role(t.n, &t.who, "Ida", CW_ROLE_CELLAR, &err), &err); /* was none who counts */
    cw_check_ok(cw_accounts_disable(t.n, &t.who, "Ida", false, &err), &err);
    rows_are(
        &t,
        "SELECT actor, action, subject, before, after FROM audit WHERE subject <> printf('%.*c', 200, 'a') "
        "AND action NOT IN ('new', 'sign in') ORDER BY id",
        "tester|add person|Marta||owner\ntester|add person|Ida||owner\n"
        "tester|change password|Ida||\ntester|change role|Ida|owner|owner\n"
        "tester|disable person|Ida||\ntester|change role|Ida|owner|cellar\n"
        "tester|enable person|Ida||\n");
    rows_are(&t, "SELECT actor, action, before, after FROM audit WHERE length(subject) = 200 ORDER BY id",
             "tester|add key||shop\ntester|disable key||\n");
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Whoever learned the password, or had other rights, may sit in a session: all of hers end, and nobody else's. */
static void test_changes_end_sessions(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_identity who;
    char token[CW_TOKEN_TEXT];
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Ida", CW_ROLE_PACKER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_verify(t.n, "Marta", GOOD, &who, &err), &err);
    cw_check_ok(cw_accounts_open(t.n, &t.who, &who, NULL, token, &err), &err);
    for (int i = 0; i < 2; i++) {
        cw_check_ok(cw_accounts_verify(t.n, "Ida", GOOD, &who, &err), &err);
        cw_check_ok(cw_accounts_open(t.n, &t.who, &who, NULL, token, &err), &err);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM signed_in"), 2);
        cw_check_ok(i ? cw_accounts_role(t.n, &t.who, "Ida", CW_ROLE_CELLAR, &err)
                      : cw_accounts_password(t.n, &t.who, "Ida", GOOD, &err),
                    &err);
        rows_are(&t, "SELECT p.name FROM signed_in s JOIN person p ON p.id = s.person_id", "Marta\n");
    }
    rows_are(&t, "SELECT subject, actor FROM audit WHERE action = 'sign in' ORDER BY id",
             "Marta|Marta\nIda|Ida\nIda|Ida\n");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_session_ends),
        cmocka_unit_test(test_passwords),
        cmocka_unit_test(test_who_may),
        cmocka_unit_test(test_disabled),
        cmocka_unit_test(test_own_sessions),
        cmocka_unit_test(test_keys_end),
        cmocka_unit_test(test_one_namespace),
        cmocka_unit_test(test_on_record_or_refused),
        cmocka_unit_test(test_changes_end_sessions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
