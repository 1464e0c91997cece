/* SPDX-License-Identifier: MIT */
#include "store/people.h"

#include "base/text.h"
#include "columns/answered.h"
#include "columns/people.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void copy_column(char *out, size_t size, cw_stmt *s, cw_sql_column column)
{
    const char *text = cw_col_text(s, column);
    cw_copy(out, size, text ? text : "");
}

static cw_code count(cw_db *db, const char *name, int64_t *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, name);
    bool found = false;
    cw_code code = cw_stmt_one(s, &found, err, "");
    *out = found ? cw_col_int(s, people_count_people) : 0;
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_people_count(cw_db *db, int64_t *all, int64_t *owners, cw_error *err)
{
    cw_code code = count(db, "people.count", all, err);
    return code == CW_OK ? count(db, "people.owners", owners, err) : code;
}

static void read_person(cw_stmt *s, cw_person_row *out)
{
    out->id = cw_col_int(s, people_find_id);
    copy_column(out->name, sizeof out->name, s, people_find_name);
    copy_column(out->role, sizeof out->role, s, people_find_role);
    copy_column(out->password, sizeof out->password, s, people_find_password);
    out->disabled = cw_col_int(s, people_find_disabled) != 0;
    out->made_at = cw_col_int(s, people_find_made_at);
    out->factor = cw_col_int(s, people_find_factor) != 0;
}

cw_code cw_people_find(cw_db *db, const char *name, bool *found, cw_person_row *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "people.find");
    cw_code code = cw_stmt_one(s, found, err, "t", name);
    if (*found)
        read_person(s, out);
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_people_each(cw_db *db, void (*row)(void *, const cw_person_row *), void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "people.list");
    cw_person_row p;
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        read_person(s, &p);
        row(context, &p);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_people_taken(cw_db *db, const char *name, bool *person, bool *key, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "people.taken");
    bool found = false;
    cw_code code = cw_stmt_one(s, &found, err, "t", name);
    *person = found && cw_col_int(s, people_taken_by_person) != 0;
    *key = found && cw_col_int(s, people_taken_by_key) != 0;
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_people_add(cw_db *db, const char *name, const char *role, const char *password, cw_instant at,
                      cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.add"), err, "ttti", name, role, password, (int64_t)at);
}

cw_code cw_people_disable(cw_db *db, const char *name, bool disabled, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.disable"), err, "ti", name, (int64_t)disabled);
}

cw_code cw_people_role(cw_db *db, const char *name, const char *role, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.role"), err, "tt", name, role);
}

cw_code cw_people_password(cw_db *db, const char *name, const char *password, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.password"), err, "tt", name, password);
}

cw_code cw_session_add(cw_db *db, const char *token, int64_t person, const char *csrf, cw_instant at,
                       cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.sign_in"), err, "titi", token, person, csrf, (int64_t)at);
}

cw_code cw_session_find(cw_db *db, const char *token, bool *found, cw_session_row *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "people.session");
    cw_code code = cw_stmt_one(s, found, err, "t", token);
    if (*found) {
        out->person = cw_col_int(s, people_session_id);
        copy_column(out->name, sizeof out->name, s, people_session_name);
        copy_column(out->role, sizeof out->role, s, people_session_role);
        copy_column(out->csrf, sizeof out->csrf, s, people_session_csrf);
        out->since = cw_col_int(s, people_session_since);
        out->seen = cw_col_int(s, people_session_seen);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_session_seen(cw_db *db, const char *token, cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.seen"), err, "ti", token, (int64_t)at);
}

cw_code cw_session_end(cw_db *db, const char *token, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.sign_out"), err, "t", token);
}

cw_code cw_session_end_all(cw_db *db, const char *name, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.sign_out_person"), err, "t", name);
}

cw_code cw_session_each(cw_db *db, const char *person,
                        void (*row)(void *, const char *, cw_instant, cw_instant), void *context,
                        cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "people.sessions");
    cw_code code = cw_stmt_start(s, err, "t", person);
    while (code == CW_OK && cw_stmt_next(s))
        row(context, cw_col_text(s, people_sessions_token), cw_col_int(s, people_sessions_since),
            cw_col_int(s, people_sessions_seen));
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_session_end_named(cw_db *db, const char *person, const char *name, int64_t *ended, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "people.sign_out_named"), err, "tti", person, name,
                               (int64_t)CW_SESSION_NAME);
    *ended = code == CW_OK ? cw_db_changes(db) : 0;
    return code;
}

cw_code cw_session_end_others(cw_db *db, const char *person, const char *token, int64_t *ended, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "people.sign_out_others"), err, "tt", person, token);
    *ended = code == CW_OK ? cw_db_changes(db) : 0;
    return code;
}

cw_code cw_session_expire(cw_db *db, cw_instant since, cw_instant seen, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "people.expire"), err, "ii", (int64_t)since, (int64_t)seen);
}

static void read_key(cw_stmt *s, cw_key_row *out)
{
    out->id = cw_col_int(s, people_key_find_id);
    copy_column(out->name, sizeof out->name, s, people_key_find_name);
    copy_column(out->role, sizeof out->role, s, people_key_find_role);
    out->made_at = cw_col_int(s, people_key_find_made_at);
    out->expires_at = cw_col_int_or(s, people_key_find_expires_at, CW_NO_INSTANT);
    out->disabled = cw_col_int(s, people_key_find_disabled) != 0;
}

cw_code cw_key_find(cw_db *db, const char *token, bool *found, cw_key_row *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "people.key_find");
    cw_code code = cw_stmt_one(s, found, err, "t", token);
    if (*found)
        read_key(s, out);
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_key_each(cw_db *db, void (*row)(void *, const cw_key_row *), void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "people.key_list");
    cw_key_row k;
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        read_key(s, &k);
        row(context, &k);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_key_add(cw_db *db, const char *name, const char *role, const char *token, cw_instant at,
                   cw_instant expires_at, cw_error *err)
{
    int64_t expires = expires_at;
    return cw_stmt_run(cw_db_stmt(db, "people.key_add"), err, "tttiI", name, role, token, (int64_t)at,
                       expires_at == CW_NO_INSTANT ? NULL : &expires);
}

cw_code cw_key_disable(cw_db *db, const char *name, bool *found, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "people.key_disable"), err, "t", name);
    *found = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

cw_code cw_answered_find(cw_db *db, const char *key, bool *found, char request[65], unsigned *status,
                         char **body, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "answered.find");
    *body = NULL;
    cw_code code = cw_stmt_one(s, found, err, "t", key);
    if (*found) {
        copy_column(request, 65, s, answered_find_request);
        *status = (unsigned)cw_col_int(s, answered_find_status);
        *body = strdup(cw_col_text(s, answered_find_body));
        if (*body == NULL)
            code = cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_answered_keep(cw_db *db, const char *key, const char *request, unsigned status, const char *body,
                         cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "answered.keep"), err, "ttiti", key, request, (int64_t)status, body,
                       (int64_t)at);
}

cw_code cw_answered_forget(cw_db *db, cw_instant before, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "answered.forget"), err, "i", (int64_t)before);
}
