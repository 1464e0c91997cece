/* SPDX-License-Identifier: MIT */
/* The second factor of people. The requirements in the comments are those of OWASP ASVS 4.0.3; that the codes are those of
 * RFC 6238 is held by tests/published/test_totp. */
#include "support/factor.h"

#include "desk/people/accounts.h"
#include "desk/export/exporting.h"

#define GOOD "correct horse staple"
#define STEP (CW_TOTP_STEP_S * 1000LL)

typedef struct world {
    test_nursery t;
    cw_asker robin;       /* a packer */
    cw_identity identity; /* by the password */
} world;

static void make(world *w)
{
    cw_error err = CW_ERROR_NONE;
    test_nursery_make(&w->t);
    cw_check_ok(cw_accounts_add(w->t.n, &w->t.who, "Marta", CW_ROLE_OWNER, GOOD, &err), &err);
    cw_check_ok(cw_accounts_add(w->t.n, &w->t.who, "Robin", CW_ROLE_PACKER, GOOD, &err), &err);
    w->robin = w->t.who;
    w->robin.actor = "Robin";
    w->robin.role = CW_ROLE_PACKER;
    cw_check_ok(cw_accounts_verify(w->t.n, "Robin", GOOD, &w->identity, &err), &err);
}

static void free_world(world *w)
{
    test_nursery_check(&w->t);
    test_nursery_free(&w->t);
}

static void later(world *w, int64_t ms)
{
    w->t.who.clock += ms;
    w->robin.clock += ms;
}

static void turn_on(world *w, cw_factor_codes *codes)
{
    cw_error err = CW_ERROR_NONE;
    cw_factor_secret secret;
    char code[CW_TOTP_DIGITS + 1];
    cw_check_ok(cw_factor_begin(w->t.n, &w->robin, &secret, &err), &err);
    test_factor_code(&w->t, "Robin", 0, code);
    cw_check_ok(cw_factor_turn_on(w->t.n, &w->robin, code, "", codes, &err), &err);
}

/* What an attempt to sign in with the right password and this code says. */
static cw_code sign_in(world *w, const char *typed)
{
    cw_error err = CW_ERROR_NONE;
    cw_identity who = w->identity;
    char token[CW_TOKEN_TEXT];
    cw_asker nobody = { .actor = "", .now = w->t.who.now, .clock = w->t.who.clock };
    return cw_accounts_open(w->t.n, &nobody, &who, typed, token, &err);
}

static bool says_factor(world *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_identity who;
    cw_check_ok(cw_accounts_verify(w->t.n, "Robin", GOOD, &who, &err), &err);
    return who.factor;
}

/* It is on only after a right code was typed; a secret that was only begun asks for nothing. */
static void test_on_after_a_code(void **state)
{
    world w;
    cw_error err = CW_ERROR_NONE;
    cw_factor_secret first, second;
    cw_factor_codes codes;
    cw_factor_state f;
    char old[CW_TOTP_DIGITS + 1], code[CW_TOTP_DIGITS + 1];
    (void)state;
    make(&w);
    assert_int_equal(cw_factor_turn_on(w.t.n, &w.robin, "123456", "", &codes, &err),
                     CW_CONFLICT); /* not begun */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_factor_begin(w.t.n, &w.robin, &first, &err), &err);
    test_factor_code(&w.t, "Robin", 0, old);
    cw_check_ok(cw_factor_begin(w.t.n, &w.robin, &second, &err), &err);
    assert_string_not_equal(first.letters, second.letters);
    assert_int_equal(strlen(second.letters), 32);
    assert_false(says_factor(&w));
    assert_int_equal(sign_in(&w, NULL), CW_OK);
    test_factor_code(&w.t, "Robin", 0, code);
    if (strcmp(old, code) != 0) /* else, once in a million, both secrets have the same one */
        assert_int_equal(cw_factor_turn_on(w.t.n, &w.robin, old, "", &codes, &err), CW_FORBIDDEN);
    cw_check_ok(cw_factor_look(w.t.n, &w.robin, &f, &err), &err);
    assert_true(f.person && !f.on && f.left == 0);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_factor_turn_on(w.t.n, &w.robin, code, "", &codes, &err), &err);
    cw_check_ok(cw_factor_look(w.t.n, &w.robin, &f, &err), &err);
    assert_true(f.on && f.left == CW_FACTOR_CODES && f.on_at == w.robin.now);
    assert_true(says_factor(&w));
    assert_int_equal(cw_factor_begin(w.t.n, &w.robin, &first, &err),
                     CW_CONFLICT); /* not by the password alone */
    free_world(&w);
}

/* 2.8.4, 2.8.1: a code is taken once, in its time and the steps beside it, and without one nobody is let in. */
static void test_codes_at_sign_in(void **state)
{
    world w;
    cw_factor_codes codes;
    char code[CW_TOTP_DIGITS + 1], next[CW_TOTP_DIGITS + 1], spaced[CW_TOTP_DIGITS + 2];
    (void)state;
    make(&w);
    turn_on(&w, &codes);
    test_factor_code(&w.t, "Robin", 0, code);
    assert_int_equal(sign_in(&w, code), CW_FORBIDDEN); /* it turned the factor on */
    later(&w, 10 * STEP);
    assert_int_equal(sign_in(&w, NULL), CW_FORBIDDEN);
    assert_int_equal(sign_in(&w, ""), CW_FORBIDDEN);
    assert_int_equal(sign_in(&w, code), CW_FORBIDDEN); /* long past */
    test_factor_code(&w.t, "Robin", 2, next);
    assert_int_equal(sign_in(&w, next), CW_FORBIDDEN); /* not yet */
    test_factor_code(&w.t, "Robin", 0, code);
    assert_int_equal(sign_in(&w, code), CW_OK);
    assert_int_equal(sign_in(&w, code), CW_FORBIDDEN);
    test_factor_code(&w.t, "Robin", -1, next);
    assert_int_equal(sign_in(&w, next), CW_FORBIDDEN); /* one of before the last one */
    test_factor_code(&w.t, "Robin", 1, next);
    snprintf(spaced, sizeof spaced, "%.3s %s", next, next + 3);
    assert_int_equal(sign_in(&w, spaced), CW_OK); /* as telephones show it */
    later(&w, 10 * STEP);
    test_factor_code(&w.t, "Robin", -1, code);
    assert_int_equal(sign_in(&w, code), CW_OK);
    /* The clock is set back: what was taken is still not taken again. */
    later(&w, -5 * STEP);
    test_factor_code(&w.t, "Robin", 0, code);
    assert_int_equal(sign_in(&w, code), CW_FORBIDDEN);
    assert_int_equal(sign_in(&w, codes.code[0]), CW_OK);
    free_world(&w);
}

/* 2.6.1 to 2.6.3: each recovery code is good once, however it is typed. */
static void test_recovery_codes(void **state)
{
    world w;
    cw_error err = CW_ERROR_NONE;
    cw_factor_codes codes;
    cw_factor_state f;
    char typed[CW_FACTOR_TYPED];
    size_t n = 0;
    (void)state;
    make(&w);
    turn_on(&w, &codes);
    for (size_t i = 0; i < CW_FACTOR_CODES; i++)
        for (size_t k = i + 1; k < CW_FACTOR_CODES; k++)
            assert_string_not_equal(codes.code[i], codes.code[k]);
    for (const char *c = codes.code[0]; *c; c++) /* small letters, blanks */
        typed[n++] = (char)(*c == '-' ? ' ' : *c | (*c >= 'A' ? 0x20 : 0));
    typed[n] = '\0';
    assert_int_equal(sign_in(&w, typed), CW_OK);
    assert_int_equal(sign_in(&w, typed), CW_FORBIDDEN);
    assert_int_equal(sign_in(&w, codes.code[0]), CW_FORBIDDEN);
    assert_int_equal(sign_in(&w, "AAAA-AAAA-AAAA-AAAA"), CW_FORBIDDEN);
    cw_check_ok(cw_factor_look(w.t.n, &w.robin, &f, &err), &err);
    assert_int_equal(f.left, CW_FACTOR_CODES - 1);
    for (size_t i = 1; i < CW_FACTOR_CODES; i++)
        assert_int_equal(sign_in(&w, codes.code[i]), CW_OK);
    cw_check_ok(cw_factor_look(w.t.n, &w.robin, &f, &err), &err);
    assert_int_equal(f.left, 0);
    free_world(&w);
}

/* 2.5.7: turned off by a code, cleared by the owner only; each time what was there is gone. */
static void test_off_and_cleared(void **state)
{
    world w;
    cw_error err = CW_ERROR_NONE;
    cw_factor_codes codes, others;
    cw_identity who;
    char token[CW_TOKEN_TEXT], digest[65], code[CW_TOTP_DIGITS + 1];
    bool found = true;
    (void)state;
    make(&w);
    assert_int_equal(cw_factor_turn_off(w.t.n, &w.robin, "123456", &err), CW_CONFLICT);
    turn_on(&w, &codes);
    assert_int_equal(cw_factor_turn_off(w.t.n, &w.robin, "12345x", &err), CW_FORBIDDEN);
    assert_int_equal(cw_factor_clear(w.t.n, &w.robin, "Robin", &err), CW_FORBIDDEN);
    assert_true(says_factor(&w));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_factor_turn_off(w.t.n, &w.robin, codes.code[4], &err), &err);
    assert_false(says_factor(&w));
    assert_int_equal(sign_in(&w, NULL), CW_OK);

    later(&w, 10 * STEP);
    turn_on(&w, &others);
    assert_int_equal(sign_in(&w, codes.code[5]), CW_FORBIDDEN); /* of the one before */
    later(&w, 10 * STEP);
    cw_check_ok(cw_accounts_verify(w.t.n, "Robin", GOOD, &who, &err), &err);
    test_factor_code(&w.t, "Robin", 0, code);
    cw_check_ok(cw_accounts_open(w.t.n, &w.robin, &who, code, token, &err), &err);
    cw_accounts_digest(token, digest);
    assert_int_equal(cw_factor_clear(w.t.n, &w.t.who, "Nobody", &err), CW_NOT_FOUND);
    assert_int_equal(cw_factor_clear(w.t.n, &w.t.who, "Marta", &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_factor_clear(w.t.n, &w.t.who, "Robin", &err), &err);
    cw_check_ok(cw_accounts_session(w.t.n, digest, w.t.who.now, &found, &who, &err), &err);
    assert_false(found); /* the lost telephone may be signed in */
    assert_int_equal(sign_in(&w, NULL), CW_OK);
    free_world(&w);
}

/* Who turns it on is signed out elsewhere: those sessions were opened by the password alone. */
static void test_other_sessions_end(void **state)
{
    world w;
    cw_error err = CW_ERROR_NONE;
    cw_factor_secret secret;
    cw_factor_codes codes;
    cw_identity who[2], found_who;
    char token[CW_TOKEN_TEXT], digest[2][65], code[CW_TOTP_DIGITS + 1];
    bool found = false;
    (void)state;
    make(&w);
    for (int i = 0; i < 2; i++) {
        cw_check_ok(cw_accounts_verify(w.t.n, "Robin", GOOD, &who[i], &err), &err);
        cw_check_ok(cw_accounts_open(w.t.n, &w.robin, &who[i], NULL, token, &err), &err);
        cw_accounts_digest(token, digest[i]);
    }
    cw_check_ok(cw_factor_begin(w.t.n, &w.robin, &secret, &err), &err);
    test_factor_code(&w.t, "Robin", 0, code);
    cw_check_ok(cw_factor_turn_on(w.t.n, &w.robin, code, digest[1], &codes, &err), &err);
    for (int i = 0; i < 2; i++) {
        cw_check_ok(cw_accounts_session(w.t.n, digest[i], w.t.who.now, &found, &found_who, &err), &err);
        assert_int_equal(found, i == 1);
    }
    free_world(&w);
}

/* A key, and whoever sits where nobody signs in, have none. */
static void test_people_only(void **state)
{
    world w;
    cw_error err = CW_ERROR_NONE;
    cw_factor_secret secret;
    cw_factor_state f;
    (void)state;
    make(&w);
    w.robin.program = true; /* a key of the same name */
    assert_int_equal(cw_factor_begin(w.t.n, &w.robin, &secret, &err), CW_FORBIDDEN);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_factor_look(w.t.n, &w.robin, &f, &err), &err);
    assert_false(f.person || f.on);
    assert_int_equal(cw_factor_begin(w.t.n, &w.t.who, &secret, &err), CW_FORBIDDEN); /* "tester" */
    free_world(&w);
}

/* The common "Key URI format" (label ISSUER:ACCOUNT, parameters secret, issuer, algorithm, digits, period), encoded by RFC 3986.
 * The longest name still makes a QR code. */
static void test_uri(void **state)
{
    static const struct {
        const char *name, *label;
    } rows[] = {
        { "Jo Fen", "Clumpwise:Jo%20Fen" },
        { "a:b&c=d%", "Clumpwise:a.b%26c%3Dd%25" },
        { "Zo\xC3\xAB", "Clumpwise:Zo%C3%AB" },
    };
    world w;
    cw_error err = CW_ERROR_NONE;
    cw_factor_secret secret;
    char name[CW_MAX_NAME + 1] = "", want[200];
    (void)state;
    make(&w);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_check_ok(cw_accounts_add(w.t.n, &w.t.who, rows[i].name, CW_ROLE_CELLAR, GOOD, &err), &err);
        w.robin.actor = rows[i].name;
        cw_check_ok(cw_factor_begin(w.t.n, &w.robin, &secret, &err), &err);
        snprintf(want, sizeof want,
                 "otpauth://totp/%s?secret=%s&issuer=Clumpwise&algorithm=SHA1&digits=6&period=30",
                 rows[i].label, secret.letters);
        assert_string_equal(secret.uri, want);
    }
    for (size_t i = 0; i + 1 < CW_MAX_NAME; i += 2)
        snprintf(name + i, 3, "%s", "\xC3\xAB");
    cw_check_ok(cw_accounts_add(w.t.n, &w.t.who, name, CW_ROLE_CELLAR, GOOD, &err), &err);
    w.robin.actor = name;
    cw_check_ok(cw_factor_begin(w.t.n, &w.robin, &secret, &err), &err);
    assert_non_null(strstr(secret.uri, "&period=30"));
    free_world(&w);
}

static void must_not_hold(const char *bytes, size_t n, const char *what)
{
    if (memmem(bytes, n, what, strlen(what)))
        fail_msg("found: %s", what);
}

/* No recovery code stands in the file as it is typed, and no secret or code in the audit, which tells of each change. */
static void test_what_is_kept(void **state)
{
    static const char *const acts[] = { "turn on second factor", "use recovery code",
                                        "turn off second factor", "clear second factor" };
    world w;
    cw_error err = CW_ERROR_NONE;
    cw_factor_codes codes;
    cw_table audit = { 0 };
    cw_text text = CW_TEXT((size_t)1 << 20);
    char plain[CW_FACTOR_CODE_TEXT], *bytes = calloc(1, 4 << 20);
    (void)state;
    make(&w);
    assert_non_null(bytes);
    turn_on(&w, &codes);
    assert_int_equal(sign_in(&w, codes.code[0]), CW_OK);
    cw_check_ok(cw_factor_turn_off(w.t.n, &w.robin, codes.code[1], &err), &err);
    later(&w, 10 * STEP);
    turn_on(&w, &codes);
    cw_check_ok(cw_exporting_audit(w.t.n, 0, 1000, &audit, &err), &err);
    cw_check_ok(cw_table_csv(&audit, cw_sink_text(&text), &err), &err);
    cw_table_free(&audit);
    cw_check_ok(cw_factor_clear(w.t.n, &w.t.who, "Robin", &err), &err);
    cw_check_ok(cw_exporting_audit(w.t.n, 0, 1000, &audit, &err), &err);
    cw_check_ok(cw_table_csv(&audit, cw_sink_text(&text), &err), &err);
    cw_table_free(&audit);
    for (size_t i = 0; i < sizeof acts / sizeof acts[0]; i++)
        if (strstr(text.data, acts[i]) == NULL)
            fail_msg("not in the audit: %s", acts[i]);
    assert_non_null(strstr(text.data, "9 left"));
    turn_on(&w, &codes);
    cw_nursery_close(w.t.n);
    w.t.n = NULL;
    FILE *f = fopen(w.t.path, "re");
    assert_non_null(f);
    size_t n = fread(bytes, 1, 4 << 20, f);
    fclose(f);
    for (size_t i = 0; i < CW_FACTOR_CODES; i++) {
        size_t k = 0;
        for (const char *c = codes.code[i]; *c; c++)
            if (*c != '-')
                plain[k++] = *c;
        plain[k] = '\0';
        must_not_hold(bytes, n, codes.code[i]);
        must_not_hold(bytes, n, plain);
        must_not_hold(text.data, text.length, plain);
    }
    cw_check_ok(cw_nursery_open(w.t.path, CW_WORK, "test", &w.t.n, &err), &err);
    cw_text_free(&text);
    free(bytes);
    free_world(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_on_after_a_code),
        cmocka_unit_test(test_codes_at_sign_in),
        cmocka_unit_test(test_recovery_codes),
        cmocka_unit_test(test_off_and_cleared),
        cmocka_unit_test(test_other_sessions_end),
        cmocka_unit_test(test_people_only),
        cmocka_unit_test(test_uri),
        cmocka_unit_test(test_what_is_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
