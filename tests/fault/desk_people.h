/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_PEOPLE_H
#define CW_TESTS_FAULT_DESK_PEOPLE_H

/* Who works here: people, keys, sessions, the second factor. */
#include "desk_call.h"

#include "desk/people/accounts.h"
#include "desk/nursery/watching.h"

PLAIN(person_add, cw_accounts_add(N, WHO, "Quin", CW_ROLE_OWNER, SEASON_PASSWORD, err))
PLAIN(person_disable, cw_accounts_disable(N, WHO, "Pim", true, err))
PLAIN(person_role, cw_accounts_role(N, WHO, "Pim", CW_ROLE_OFFICE, err))
PLAIN(password, cw_accounts_password(N, WHO, "Pim", "another long phrase", err))
TABLE(people, cw_accounts_list(N, WHO, &out, err))
TABLE(keys, cw_accounts_keys(N, WHO, &out, err))
static cw_code key_add(work *w, cw_error *err)
{
    char key[CW_TOKEN_TEXT];
    return CALL(cw_accounts_key_add(N, WHO, "till", CW_ROLE_SHOP, CW_NO_DAY, key, err));
}
static cw_code sign_in(work *w, cw_error *err)
{
    cw_identity me = { 0 };
    char token[CW_TOKEN_TEXT] = "";
    cw_code code = CALL(cw_accounts_verify(N, "Pim", SEASON_PASSWORD, &me, err));
    return code == CW_OK ? CALL(cw_accounts_open(N, WHO, &me, NULL, token, err)) : code;
}
static void signed_in(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_identity me = { .person = number_of(&w->t, "SELECT id FROM person WHERE name = 'Pim'") };
    char token[CW_TOKEN_TEXT] = "";
    cw_check_ok(cw_accounts_open(N, WHO, &me, NULL, token, &err), &err);
    cw_accounts_digest(token, w->digest);
}
static cw_code known(work *w, cw_error *err)
{
    cw_identity me = { 0 };
    bool found = false;
    cw_code code = CALL(cw_accounts_session(N, w->digest, w->t.who.now, &found, &me, err));
    cw_text_addf(&w->answer, "%d %s", found, me.name);
    return code;
}
PLAIN(unusual, cw_watching_unusual(N, WHO, "tries to sign in", err))

/* ---- the second factor; `digest` is what is typed ---- */
static void begun(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_factor_secret secret;
    char code[CW_TOTP_DIGITS + 1];
    w->t.who.actor = "Pim";
    cw_check_ok(cw_factor_begin(N, WHO, &secret, &err), &err);
    test_factor_code(&w->t, "Pim", 0, code);
    cw_copy(w->digest, sizeof w->digest, code);
}
static void turned_on(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_factor_codes codes;
    begun(w);
    cw_check_ok(cw_factor_turn_on(N, WHO, w->digest, "", &codes, &err), &err);
    cw_copy(w->digest, sizeof w->digest, codes.code[3]);
    w->id = number_of(&w->t, "SELECT id FROM person WHERE name = 'Pim'");
}
static void next_code(work *w)
{
    char code[CW_TOTP_DIGITS + 1];
    turned_on(w);
    test_factor_code(&w->t, "Pim", 1, code);
    cw_copy(w->digest, sizeof w->digest, code);
}
static cw_code factor_begin(work *w, cw_error *err)
{
    cw_factor_secret secret;
    w->t.who.actor = "Pim";
    return CALL(cw_factor_begin(N, WHO, &secret, err));
}
static cw_code factor_on(work *w, cw_error *err)
{
    cw_factor_codes codes;
    return CALL(cw_factor_turn_on(N, WHO, w->digest, "", &codes, err));
}
static cw_code factor_look(work *w, cw_error *err)
{
    cw_factor_state f = { 0 };
    cw_code code = CALL(cw_factor_look(N, WHO, &f, err));
    cw_text_addf(&w->answer, "%d %d %lld", f.person, f.on, (long long)f.left);
    return code;
}
PLAIN(factor_off, cw_factor_turn_off(N, WHO, w->digest, err))
PLAIN(factor_clear, cw_factor_clear(N, WHO, "Pim", err))
static cw_code sign_in_twofold(work *w, cw_error *err)
{
    cw_identity me = { .person = w->id };
    char token[CW_TOKEN_TEXT] = "";
    return CALL(cw_accounts_open(N, WHO, &me, w->digest, token, err));
}
PLAIN(seen, cw_accounts_seen(N, w->digest, w->t.who.now + 60000, err))
TABLE(sessions, cw_accounts_sessions(N, WHO, w->digest, &out, err))
PLAIN(end_sessions, cw_accounts_end_sessions(N, WHO, NULL, w->digest, err))
PLAIN(sign_out, cw_accounts_close(N, w->digest, err))
PLAIN(expire, cw_accounts_expire(N, w->t.who.now + 100 * CW_DAY_MS, err))

static void a_key(work *w)
{
    cw_error err = CW_ERROR_NONE;
    char key[CW_TOKEN_TEXT];
    cw_check_ok(cw_accounts_key_add(N, WHO, "till", CW_ROLE_SHOP, CW_NO_DAY, key, &err), &err);
    cw_accounts_digest(key, w->digest);
}
static cw_code key_known(work *w, cw_error *err)
{
    cw_identity me = { 0 };
    bool found = false;
    cw_code code = CALL(cw_accounts_key(N, w->digest, w->t.who.now, &found, &me, err));
    cw_text_addf(&w->answer, "%d %s", found, me.name);
    return code;
}
PLAIN(key_disable, cw_accounts_key_disable(N, WHO, "till", err))

static const desk_call people_calls[] = {
    { "person_add", person_add, NULL, 8, true },
    { "person_disable", person_disable, NULL, 12, true },
    { "person_role", person_role, NULL, 12, true },
    { "password", password, NULL, 8, true },
    { "people", people, NULL, 12, true },
    { "key_add", key_add, NULL, 12, true },
    ROW(keys),
    { "sign_in", sign_in, NULL, 8, true },
    { "factor_begin", factor_begin, NULL, 0, true },
    { "factor_on", factor_on, begun, 0, true },
    { "factor_look", factor_look, turned_on, 0, true },
    { "factor_off", factor_off, turned_on, 0, true },
    { "factor_clear", factor_clear, turned_on, 0, true },
    { "sign_in_twofold", sign_in_twofold, next_code, 0, true },
    { "known", known, signed_in, 0, true },
    { "seen", seen, signed_in, 0, true },
    { "unusual", unusual, NULL, 0, false },
    { "sessions", sessions, signed_in, 0, true },
    { "end_sessions", end_sessions, signed_in, 0, true },
    { "sign_out", sign_out, signed_in, 0, true },
    ROW(expire),
    { "key_known", key_known, a_key, 0, true },
    { "key_disable", key_disable, a_key, 12, true },
};

#endif
