/* SPDX-License-Identifier: MIT */
#include "base/text.h"
#include "desk/people/accounts.h"
#include "desk/people/factor_inside.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"
#include "store/people.h"
#include <sodium.h>
#include <string.h>

#include "base/banned.h"

#define HOUR_MS  3600000LL
#define SLACK_MS 300000LL /* a clock may be set right by so much while a session lasts */

/* The Argon2id text of a password that nobody has, so that an unknown name costs the same time as a wrong password. */
#define NOBODY                                                                                               \
    "$argon2id$v=19$m=65536,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

static cw_role role_of(const char *word)
{
    cw_role role = CW_ROLE_NONE;
    return cw_role_parse(word, &role) ? role : CW_ROLE_NONE;
}

cw_code cw_accounts_verify(cw_nursery *n, const char *name, const char *password, cw_identity *out,
                           cw_error *err)
{
    cw_person_row row = { 0 };
    char hash[crypto_pwhash_STRBYTES] = NOBODY;
    bool found = false;
    if (sodium_init() < 0)
        return cw_error_set(err, CW_MACHINE, "the machine gives no random numbers");
    cw_code code = cw_people_find(n->db, name, &found, &row, err);
    if (code != CW_OK)
        return code;
    if (found)
        cw_copy(hash, sizeof hash, row.password);
    bool right = crypto_pwhash_str_verify(hash, password, strlen(password)) == 0;
    sodium_memzero(row.password, sizeof row.password);
    *out = (cw_identity){ .person = found ? row.id : 0 };
    if (!right || !found || row.disabled)
        return cw_error_set(err, CW_FORBIDDEN, "name or password is wrong");
    *out = (cw_identity){
        .person = row.id, .role = role_of(row.role), .until = CW_NO_INSTANT, .factor = row.factor
    };
    cw_copy(out->name, sizeof out->name, row.name);
    return CW_OK;
}

/* How long a session lives unused and in all, milliseconds. */
static cw_code lifetimes(cw_nursery *n, cw_instant *idle, cw_instant *whole, cw_error *err)
{
    double hours = 0, days = 0;
    cw_code code = cw_nursery_number(n, "session_hours", &hours, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "session_days", &days, err);
    *idle = (cw_instant)(hours * HOUR_MS);
    *whole = (cw_instant)(days * CW_DAY_MS);
    return code;
}

static cw_instant end_of(cw_instant since, cw_instant seen, cw_instant idle, cw_instant whole)
{
    return since + whole < seen + idle ? since + whole : seen + idle;
}

cw_code cw_accounts_open(cw_nursery *n, const cw_asker *who, cw_identity *identity, const char *typed,
                         char token[CW_TOKEN_TEXT], cw_error *err)
{
    char digest[65];
    cw_instant idle = 0, whole = 0;
    cw_code code = lifetimes(n, &idle, &whole, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    cw_accounts_new_token(token);
    cw_accounts_new_token(identity->csrf);
    cw_accounts_digest(token, digest);
    identity->until = end_of(who->now, who->now, idle, whole);
    code = cw_factor_pass(n, who, identity->person, identity->name, typed, err);
    if (code == CW_OK)
        code = cw_session_add(n->db, digest, identity->person, identity->csrf, who->now, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, identity->name, "sign in", identity->name, NULL, NULL, err);
    return cw_work_end(n, code, err);
}

cw_code cw_accounts_session(cw_nursery *n, const char *digest, cw_instant now, bool *found, cw_identity *out,
                            cw_error *err)
{
    cw_session_row row = { 0 };
    cw_instant idle = 0, whole = 0;
    cw_code code = cw_session_find(n->db, digest, found, &row, err);
    if (code == CW_OK)
        code = lifetimes(n, &idle, &whole, err);
    if (code != CW_OK || !*found)
        return code;
    *out = (cw_identity){ .person = row.person,
                          .role = role_of(row.role),
                          .until = end_of(row.since, row.seen, idle, whole) };
    cw_copy(out->name, sizeof out->name, row.name);
    cw_copy(out->csrf, sizeof out->csrf, row.csrf);
    /* A session that began in the future came from a wrong clock, and would live too long. */
    *found = now < out->until && now >= row.since - SLACK_MS && out->role != CW_ROLE_NONE;
    return CW_OK;
}

cw_code cw_accounts_key(cw_nursery *n, const char *digest, cw_instant now, bool *found, cw_identity *out,
                        cw_error *err)
{
    cw_key_row row = { 0 };
    cw_code code = cw_key_find(n->db, digest, found, &row, err);
    if (code != CW_OK || !*found)
        return code;
    *out = (cw_identity){ .program = row.id, .role = role_of(row.role), .until = row.expires_at };
    cw_copy(out->name, sizeof out->name, row.name);
    *found = !row.disabled && (row.expires_at == CW_NO_INSTANT || now < row.expires_at) &&
             out->role != CW_ROLE_NONE;
    return CW_OK;
}

cw_code cw_accounts_seen(cw_nursery *n, const char *digest, cw_instant now, cw_error *err)
{
    cw_code code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, cw_session_seen(n->db, digest, now, err), err) : code;
}

cw_code cw_accounts_close(cw_nursery *n, const char *digest, cw_error *err)
{
    cw_code code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, cw_session_end(n->db, digest, err), err) : code;
}

cw_code cw_accounts_expire(cw_nursery *n, cw_instant now, cw_error *err)
{
    cw_instant idle = 0, whole = 0;
    cw_code code = lifetimes(n, &idle, &whole, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, cw_session_expire(n->db, now - whole, now - idle, err), err) : code;
}

typedef struct own_list {
    cw_table *out;
    const char *here;
    cw_instant now, idle, whole;
} own_list;

static void put_session(void *self, const char *token, cw_instant since, cw_instant seen)
{
    own_list *l = self;
    char name[CW_SESSION_NAME + 1];
    if (l->now >= end_of(since, seen, l->idle, l->whole))
        return;
    cw_copy(name, sizeof name, token);
    cw_put_text(l->out, name);
    cw_put_int(l->out, since);
    cw_put_int(l->out, seen);
    cw_put_bool(l->out, strcmp(token, l->here) == 0);
}

static const cw_column accounts_sessions_columns[] = {
    { "session", CW_TEXT_T }, { "since", CW_INSTANT_T }, { "seen", CW_INSTANT_T }, { "here", CW_BOOL_T }
};
const cw_shape cw_accounts_sessions_shape = CW_ROWS(accounts_sessions_columns);

cw_code cw_accounts_sessions(cw_nursery *n, const cw_asker *who, const char *digest, cw_table *out,
                             cw_error *err)
{
    own_list l = { .out = out, .here = digest, .now = who->now };
    cw_table_init(out, accounts_sessions_columns, CW_WIDTH(accounts_sessions_columns));
    cw_code code = lifetimes(n, &l.idle, &l.whole, err);
    if (code == CW_OK && !who->program)
        code = cw_session_each(n->db, who->actor, put_session, &l, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static cw_code end_sessions(cw_nursery *n, const cw_asker *who, const char *session, const char *digest,
                            cw_error *err)
{
    int64_t ended = 0;
    char shown[80];
    cw_code code = CW_OK;
    if (!who->program)
        code = session ? cw_session_end_named(n->db, who->actor, session, &ended, err)
                       : cw_session_end_others(n->db, who->actor, digest, &ended, err);
    if (code == CW_OK && session && ended == 0)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "session", "none of your sessions has this name: %s",
                           cw_shown(session, strlen(session), shown));
    if (code == CW_OK && ended > 0)
        code = cw_audit_add(n->db, who->now, who->actor, "end sessions", who->actor, NULL,
                            session ? "one" : "all others", err);
    return code;
}

cw_code cw_accounts_end_sessions(cw_nursery *n, const cw_asker *who, const char *session, const char *digest,
                                 cw_error *err)
{
    cw_code code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, end_sessions(n, who, session, digest, err), err) : code;
}
