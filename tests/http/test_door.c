/* SPDX-License-Identifier: MIT */
/* The door by itself, with a clock that the test sets: how long a session is known without asking the file, how often its last use is
 * written, which cookies and keys it reads, and how long each wrong try makes one wait. */
#include "serving.h"
#include "support/unasked.h"

#include "auth/door.h"
#include "auth/tries.h"

#include "base/banned.h"

#define T0 10000000LL /* ticks at which each case begins */

typedef struct opened {
    test_nursery t;
    cw_door *door;
    char token[CW_TOKEN_TEXT], digest[65]; /* of the owner's session, begun now */
} opened;

static void sign_in(opened *o)
{
    cw_error err = CW_ERROR_NONE;
    cw_identity who;
    cw_check_ok(cw_accounts_verify(o->t.n, "ann", OWNER_PASSWORD, &who, &err), &err);
    cw_check_ok(cw_accounts_open(o->t.n, &o->t.who, &who, NULL, o->token, &err), &err);
    cw_accounts_digest(o->token, o->digest);
}

static void open_with_ann(opened *o)
{
    cw_error err = CW_ERROR_NONE;
    test_nursery_make(&o->t);
    cw_check_ok(cw_accounts_add(o->t.n, &o->t.who, "ann", CW_ROLE_OWNER, OWNER_PASSWORD, &err), &err);
    sign_in(o);
    cw_check_ok(cw_door_open(o->t.path, &o->door, &err), &err);
    /* A secret that is none, so that two of the names below never share a slot by chance. */
    cw_tries *tries = cw_door_tries_lock(o->door);
    cw_throttle *all[] = { &tries->pairs, &tries->names, &tries->addresses, &tries->codes };
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        memset(all[i]->secret, 1, sizeof all[i]->secret);
    cw_door_tries_unlock(o->door);
}

static void close_it(opened *o)
{
    cw_door_close(o->door);
    test_nursery_free(&o->t);
}

typedef struct answer {
    cw_identity who;
    char digest[65];
    bool stale;
} answer;

static answer ask(opened *o, cw_visit v, cw_instant now, int64_t ticks)
{
    cw_error err = CW_ERROR_NONE;
    answer a;
    cw_check_ok(cw_door_ask(o->door, &v, now, ticks, &a.who, a.digest, &a.stale, &err), &err);
    return a;
}

/* Asks with the session's cookie: is the owner known, and is the last use to be written? */
static answer with_cookie(opened *o, cw_instant now, int64_t ticks)
{
    char cookie[128];
    snprintf(cookie, sizeof cookie, "clumpwise=%s", o->token);
    return ask(o, (cw_visit){ .cookie = cookie }, now, ticks);
}

/* As another program would, so that the door is not told. */
static void behind_its_back(opened *o, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(o->t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    unasked_sql(raw, sql);
    sqlite3_close(raw);
}

static void without_accounts_all_are_the_owner_of_this_machine(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    opened o;
    test_nursery_make(&o.t);
    cw_check_ok(cw_door_open(o.t.path, &o.door, &err), &err);
    answer a = ask(&o, (cw_visit){ 0 }, o.t.who.now, T0);
    assert_int_equal(a.who.role, CW_ROLE_OWNER);
    assert_string_equal(a.who.name, "local"); /* whom the record names */
    assert_int_equal(a.who.until, CW_NO_INSTANT);
    assert_string_equal(a.digest, "");
    assert_false(a.stale);
    cw_check_ok(cw_accounts_add(o.t.n, &o.t.who, "ann", CW_ROLE_OWNER, OWNER_PASSWORD, &err), &err);
    cw_door_changed(o.door);
    a = ask(&o, (cw_visit){ 0 }, o.t.who.now, T0);
    assert_int_equal(a.who.role, CW_ROLE_NONE);
    assert_string_equal(a.who.name, "");
    close_it(&o);
}

static void a_session_is_known_for_half_a_minute(void **state)
{
    (void)state;
    opened o;
    open_with_ann(&o);
    const cw_instant now = o.t.who.now;
    answer a = with_cookie(&o, now, T0);
    assert_string_equal(a.who.name, "ann");
    assert_string_equal(a.digest, o.digest);
    behind_its_back(&o, "DELETE FROM signed_in");
    assert_int_equal(with_cookie(&o, now, T0 + 29999).who.role, CW_ROLE_OWNER);
    a = with_cookie(&o, now, T0 + 30000);
    assert_int_equal(a.who.role, CW_ROLE_NONE);
    assert_string_equal(a.digest, "");
    assert_false(a.stale);
    /* Told of a change it asks at once. */
    sign_in(&o);
    assert_int_equal(with_cookie(&o, now, T0).who.role, CW_ROLE_OWNER);
    behind_its_back(&o, "DELETE FROM signed_in");
    assert_int_equal(with_cookie(&o, now, T0 + 1).who.role, CW_ROLE_OWNER);
    cw_door_changed(o.door);
    assert_int_equal(with_cookie(&o, now, T0 + 2).who.role, CW_ROLE_NONE);
    close_it(&o);
}

/* A session that ends within the half minute ends then. */
static void what_is_known_ends_in_time(void **state)
{
    (void)state;
    opened o;
    open_with_ann(&o);
    answer a = with_cookie(&o, o.t.who.now, T0);
    assert_true(a.who.until > o.t.who.now);
    assert_int_equal(with_cookie(&o, a.who.until - 1, T0 + 1).who.role, CW_ROLE_OWNER);
    assert_int_equal(with_cookie(&o, a.who.until, T0 + 2).who.role, CW_ROLE_NONE);
    close_it(&o);
}

static void the_last_use_is_written_once_a_minute(void **state)
{
    (void)state;
    opened o;
    open_with_ann(&o);
    const cw_instant now = o.t.who.now;
    assert_true(with_cookie(&o, now, T0).stale);
    assert_false(with_cookie(&o, now, T0 + 1).stale);
    assert_false(with_cookie(&o, now, T0 + 30001).stale); /* asked of the file anew, and remembered */
    assert_false(with_cookie(&o, now, T0 + 60000).stale);
    assert_true(with_cookie(&o, now, T0 + 60001).stale);
    assert_false(with_cookie(&o, now, T0 + 120001).stale);
    assert_true(with_cookie(&o, now, T0 + 120002).stale);
    close_it(&o);
    /* Of one whose last use this run has not seen, a minute after the machine began to count. */
    for (int late = 0; late < 2; late++) {
        open_with_ann(&o);
        assert_int_equal(with_cookie(&o, now, 60000 + late).stale, late);
        close_it(&o);
    }
}

static void cookies_and_keys_are_read_to_the_letter(void **state)
{
    (void)state;
    static const struct {
        const char *text; /* T stands for the token */
        bool tls, in;
    } cookies[] = {
        { "clumpwise=T", false, true },
        { "a=b; clumpwise=T; c=d", false, true },
        { "a=b;\tclumpwise=T", false, true },
        { "a=b;clumpwise=T;c", false, true },
        { "clumpwise=T ", false, true },
        { "xclumpwise=T", false, false },
        { "clumpwisex=T", false, false },
        { "clumpwish=T", false, false }, /* as long, and another */
        { "clumpwise:T", false, false },
        { "clumpwisf=x; clumpwise=T", false, true },
        { "clumpwise_=x; clumpwise=T", false, true },
        { "clumpwise=Tx", false, false },
        { "clumpwise=x", false, false },
        { "clumpwise=", false, false },
        { "clumpwise", false, false },
        { "", false, false },
        { "__Host-clumpwise=T", true, true },
        { "__Host-clumpwise=T", false, false },
        { "clumpwise=T", true, false }, /* a cookie of the page without TLS does not count with it */
        /* The first of a name counts, as it stands. */
        { "clumpwise=short; clumpwise=T", false, false },
    };
    opened o;
    open_with_ann(&o);
    for (size_t i = 0; i < sizeof cookies / sizeof cookies[0]; i++) {
        char text[300] = "";
        for (const char *at = cookies[i].text; *at; at++) {
            size_t n = strlen(text);
            if (*at == 'T')
                snprintf(text + n, sizeof text - n, "%s", o.token);
            else
                snprintf(text + n, sizeof text - n, "%c", *at);
        }
        answer a = ask(&o, (cw_visit){ .cookie = text, .tls = cookies[i].tls }, o.t.who.now, T0);
        if ((a.who.role == CW_ROLE_OWNER) != cookies[i].in)
            fail_msg("%s: %s", cookies[i].text, cookies[i].in ? "not let in" : "let in");
    }
    cw_error err = CW_ERROR_NONE;
    char key[CW_TOKEN_TEXT], text[200];
    cw_check_ok(cw_accounts_key_add(o.t.n, &o.t.who, "till", CW_ROLE_OFFICE, o.t.who.today + 30, key, &err),
                &err);
    static const struct {
        const char *before, *after;
        bool in;
    } keys[] = { { "Bearer ", "", true },   { "bearer ", "", true },   { "BEARER ", "", true },
                 { "Bearer", "", false },   { "Bearer  ", "", false }, { "Basic ", "", false },
                 { "Bearer ", "x", false }, { "Bearer ", " ", false }, { "", "", false } };
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        snprintf(text, sizeof text, "%s%s%s", keys[i].before, key, keys[i].after);
        answer a = ask(&o, (cw_visit){ .authorization = text }, o.t.who.now, T0);
        if ((a.who.role == CW_ROLE_OFFICE) != keys[i].in)
            fail_msg("%s...%s: %s", keys[i].before, keys[i].after, keys[i].in ? "not let in" : "let in");
        assert_string_equal(a.digest, "");
    }
    /* A session is no key, and a key that is wrong is not made good by a session. */
    snprintf(text, sizeof text, "Bearer %s", o.token);
    char cookie[128];
    snprintf(cookie, sizeof cookie, "clumpwise=%s", o.token);
    assert_int_equal(ask(&o, (cw_visit){ .authorization = text, .cookie = cookie }, o.t.who.now, T0).who.role,
                     CW_ROLE_NONE);
    close_it(&o);
}

/* Free tries, then 4, 8, 16, 32 s and no more than the most; seconds are rounded up; forgotten half an hour after the last. */
static void each_wrong_try_doubles_the_wait(void **state)
{
    (void)state;
    static const int waits[] = { 0, 0, 4, 8, 16, 32, 50, 50 };
    static cw_throttle t;
    cw_throttle_init(&t, 3, 50);
    for (size_t i = 0; i < sizeof waits / sizeof waits[0]; i++) {
        assert_int_equal(cw_throttle_count(&t, "ann", T0), i == 2);
        assert_int_equal(cw_throttle_left(&t, "ann", T0), waits[i]);
    }
    assert_int_equal(cw_throttle_left(&t, "ann", T0 + 1), 50);
    assert_int_equal(cw_throttle_left(&t, "ann", T0 + 1000), 49);
    assert_int_equal(cw_throttle_left(&t, "ann", T0 + 49999), 1);
    assert_int_equal(cw_throttle_left(&t, "ann", T0 + 50000), 0);
    /* To the half hour they are counted on, after it anew. */
    const int64_t later = T0 + 30 * 60 * 1000;
    assert_false(cw_throttle_count(&t, "ann", later));
    assert_int_equal(cw_throttle_left(&t, "ann", later), 50);
    const int64_t anew = later + 30 * 60 * 1000 + 1;
    assert_false(cw_throttle_count(&t, "ann", anew));
    assert_int_equal(cw_throttle_left(&t, "ann", anew), 0);
    /* The second and the third: the first of these was counted. */
    assert_false(cw_throttle_count(&t, "ann", anew));
    assert_true(cw_throttle_count(&t, "ann", anew));
    assert_int_equal(cw_throttle_left(&t, "ann", anew), 4);
    cw_throttle before = t;
    cw_throttle_init(&t, 3, 50); /* begun anew: of nobody */
    memcpy(t.secret, before.secret, sizeof t.secret);
    assert_int_equal(cw_throttle_left(&t, "ann", anew), 0);
    assert_false(cw_throttle_count(&t, "ann", anew));
    t = before;
    cw_throttle_clear(&t, "ann");
    assert_int_equal(cw_throttle_left(&t, "ann", 0), 0);
    assert_false(cw_throttle_count(&t, "ann", anew));
    assert_false(cw_throttle_count(&t, "ann", anew));
    assert_true(cw_throttle_count(&t, "ann", anew));
    /* Far beyond what doubling can count. */
    for (int i = 0; i < 100; i++)
        (void)cw_throttle_count(&t, "bob", T0);
    assert_int_equal(cw_throttle_left(&t, "bob", T0), 50);
}

/* How many wrong tries until one has to wait. */
static int free_tries(cw_door *door, cw_try t, int64_t ticks)
{
    int n = 0;
    while (cw_throttle_wait(door, &t, ticks) == 0 && n++ < 100)
        (void)cw_throttle_failed(door, &t, ticks);
    return n;
}

/* Whom a wrong try makes wait: pairs of name and address, sessions, codes, addresses, names. */
static void a_wrong_try_is_counted_where_it_belongs(void **state)
{
    (void)state;
    opened o;
    open_with_ann(&o);
    cw_door *d = o.door;
    const cw_try at_home = { "ann", "192.0.2.1", "", false },
                 in_session = { "ann", "192.0.2.2", "s1", false },
                 other_session = { "ann", "192.0.2.2", "s2", false }, code = { "ann", "192.0.2.3", "", true },
                 other_code = { "bob", "192.0.2.4", "", true };
    assert_int_equal(free_tries(d, at_home, T0), 5);
    assert_int_equal(cw_throttle_wait(d, &at_home, T0), 4);
    /* Nobody else: the session neither of the place nor of another session, nor the other way round. */
    assert_int_equal(cw_throttle_wait(d, &in_session, T0), 0);
    assert_int_equal(free_tries(d, in_session, T0), 5);
    assert_int_equal(cw_throttle_wait(d, &other_session, T0), 0);
    assert_int_equal(cw_throttle_wait(d, &(cw_try){ "ann", "192.0.2.2", "", false }, T0), 0);
    assert_int_equal(cw_throttle_wait(d, &(cw_try){ "bob", "192.0.2.1", "", false }, T0), 0);
    /* Codes by account, whatever the address; and another account's do not wait. */
    assert_int_equal(free_tries(d, code, T0), 5);
    assert_int_equal(cw_throttle_wait(d, &(cw_try){ "ann", "192.0.2.9", "", true }, T0), 4);
    assert_int_equal(cw_throttle_wait(d, &other_code, T0), 0);
    assert_int_equal(cw_throttle_wait(d, &(cw_try){ "ann", "192.0.2.3", "", false }, T0), 0);
    /* A right one clears its own count alone. */
    cw_throttle_passed(d, &code);
    assert_int_equal(cw_throttle_wait(d, &code, T0), 0);
    assert_int_equal(cw_throttle_wait(d, &at_home, T0), 4);
    cw_throttle_passed(d, &in_session);
    assert_int_equal(cw_throttle_wait(d, &in_session, T0), 0);
    cw_throttle_passed(d, &at_home);
    assert_int_equal(cw_throttle_wait(d, &at_home, T0), 0);
    close_it(&o);
}

/* The longest wait: a minute, and five at an address. */
static void no_wait_is_longer_than_said(void **state)
{
    (void)state;
    static const struct {
        cw_try t;
        int most;
    } rows[] = { { { "ann", "192.0.2.1", "s1", false }, 60 }, { { "ann", "192.0.2.2", "", false }, 300 } };
    opened o;
    open_with_ann(&o);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        for (int n = 0; n < 40; n++)
            (void)cw_throttle_failed(o.door, &rows[i].t, T0);
        assert_int_equal(cw_throttle_wait(o.door, &rows[i].t, T0), rows[i].most);
    }
    /* The name, asked from where nobody tried, and the pair, once the address may again; a code. */
    assert_int_equal(cw_throttle_wait(o.door, &(cw_try){ "ann", "192.0.2.3", "", false }, T0), 60);
    for (int n = 0; n < 40; n++)
        (void)cw_throttle_failed(o.door, &(cw_try){ "bob", n < 20 ? "192.0.2.4" : "192.0.2.5", "", true },
                                 T0);
    assert_int_equal(cw_throttle_wait(o.door, &(cw_try){ "bob", "192.0.2.6", "", true }, T0), 60);
    close_it(&o);
}

/* Codes are counted at the address, too: twenty of them there, of whatever account, and the next waits. */
static void codes_count_at_the_address(void **state)
{
    (void)state;
    opened o;
    char name[16];
    open_with_ann(&o);
    for (int i = 0; i < 20; i++) {
        snprintf(name, sizeof name, "name %d", i);
        const cw_try t = { name, "192.0.2.5", "", true };
        assert_int_equal(cw_throttle_wait(o.door, &t, T0), 0);
        assert_int_equal(cw_throttle_failed(o.door, &t, T0), i == 19);
    }
    assert_int_equal(cw_throttle_wait(o.door, &(cw_try){ "another", "192.0.2.5", "", true }, T0), 4);
    assert_int_equal(cw_throttle_wait(o.door, &(cw_try){ "another", "192.0.2.5", "", false }, T0), 4);
    assert_int_equal(cw_throttle_wait(o.door, &(cw_try){ "another", "192.0.2.6", "", true }, T0), 0);
    close_it(&o);
}

/* Guesses from everywhere make the name wait, but not where its owner signed in before. */
static void a_place_that_is_known_stays_open(void **state)
{
    (void)state;
    opened o;
    char address[32];
    open_with_ann(&o);
    const cw_try home = { "ann", "192.0.2.1", "", false }, elsewhere = { "ann", "192.0.2.2", "", false };
    cw_throttle_passed(o.door, &home);
    for (int i = 0; i < 30; i++) {
        snprintf(address, sizeof address, "198.51.100.%d", i);
        const cw_try t = { "ann", address, "", false };
        assert_int_equal(cw_throttle_failed(o.door, &t, T0), i == 29);
    }
    assert_int_equal(cw_throttle_wait(o.door, &elsewhere, T0), 4);
    assert_int_equal(cw_throttle_wait(o.door, &home, T0), 0);
    /* Its own wrong tries count there, and not against the name. */
    assert_int_equal(free_tries(o.door, home, T0), 5);
    assert_int_equal(cw_throttle_wait(o.door, &elsewhere, T0), 4);
    /* A right code, or a right password within a session, makes no place known. */
    cw_throttle_passed(o.door, &(cw_try){ "ann", "192.0.2.2", "", true });
    cw_throttle_passed(o.door, &(cw_try){ "ann", "192.0.2.2", "s1", false });
    assert_int_equal(cw_throttle_wait(o.door, &elsewhere, T0), 4);
    close_it(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_accounts_all_are_the_owner_of_this_machine),
        cmocka_unit_test(a_session_is_known_for_half_a_minute),
        cmocka_unit_test(what_is_known_ends_in_time),
        cmocka_unit_test(the_last_use_is_written_once_a_minute),
        cmocka_unit_test(cookies_and_keys_are_read_to_the_letter),
        cmocka_unit_test(each_wrong_try_doubles_the_wait),
        cmocka_unit_test(a_wrong_try_is_counted_where_it_belongs),
        cmocka_unit_test(no_wait_is_longer_than_said),
        cmocka_unit_test(codes_count_at_the_address),
        cmocka_unit_test(a_place_that_is_known_stays_open),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
