/* SPDX-License-Identifier: MIT */
#include "store/statement_inside.h"

#include "store/db_inside.h"
#include "store/sql.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* FNV-1a, 32 bits. A statement is looked up dozens of times an order, so by hash and not by bisection. */
static uint32_t name_hash(const char *name)
{
    uint32_t h = 2166136261u;
    for (; *name; name++)
        h = (h ^ (unsigned char)*name) * 16777619u;
    return h;
}

/* Slot of a name: that of the statement, or the empty one where it would stand. */
static size_t name_slot(const cw_db *db, const char *name)
{
    size_t i = name_hash(name) & db->slot_mask;
    while (db->slots[i] && strcmp(db->statements[db->slots[i] - 1].name, name) != 0)
        i = (i + 1) & db->slot_mask;
    return i;
}

static cw_code index_names(cw_db *db, cw_error *err)
{
    size_t slots = 64;
    while (slots < 4 * db->statement_count)
        slots *= 2;
    db->slots = calloc(slots, sizeof *db->slots);
    if (db->slots == NULL)
        return cw_error_memory(err);
    db->slot_mask = slots - 1;
    for (size_t k = 0; k < db->statement_count; k++)
        db->slots[name_slot(db, db->statements[k].name)] = (uint16_t)(k + 1);
    return CW_OK;
}

const char *cw_sql_text(const char *name)
{
    size_t i = 0;
    while (cw_sql_statements[i].name && strcmp(cw_sql_statements[i].name, name) != 0)
        i++;
    assert(cw_sql_statements[i].name != NULL);
    return cw_sql_statements[i].sql;
}

cw_code cw_stmt_ready(cw_stmt *s, cw_error *err)
{
    if (s->raw)
        return CW_OK;
    cw_code code = CW_OK;
    if (sqlite3_prepare_v3(s->db->raw, s->sql, -1, SQLITE_PREPARE_PERSISTENT, &s->raw, NULL) != SQLITE_OK) {
        char doing[128];
        snprintf(doing, sizeof doing, "preparing the statement %s", s->name);
        code = cw_db_fail(s->db->raw, err, doing);
    }
    if (code == CW_OK)
        code = cw_shape_make(s, err);
    if (code != CW_OK) {
        sqlite3_finalize(s->raw);
        sqlite3_free(s->shape);
        s->raw = NULL;
        s->shape = NULL;
        s->rc = SQLITE_ERROR; /* whoever ends it without having looked is told so */
    }
    return code;
}

/* A verb needs a few of the hundreds of statements, so each is prepared when it is first run; but those that end a transaction
 * must be there when memory is not. */
cw_code cw_statements_make(cw_db *db, cw_error *err)
{
    size_t n = 0;
    cw_code code = CW_OK;
    while (cw_sql_statements[n].name)
        n++;
    db->statements = calloc(n ? n : 1, sizeof *db->statements);
    if (db->statements == NULL)
        return cw_error_memory(err);
    db->statement_count = n;
    for (size_t i = 0; i < n && code == CW_OK; i++) {
        cw_stmt *s = &db->statements[i];
        *s = (cw_stmt){ .db = db,
                        .name = cw_sql_statements[i].name,
                        .sql = cw_sql_statements[i].sql,
                        .of = (uint16_t)cw_sql_statements[i].like };
        if (strncmp(s->name, "transaction.", strlen("transaction.")) == 0)
            code = cw_stmt_ready(s, err);
    }
    return code == CW_OK ? index_names(db, err) : code;
}

void cw_statements_free(cw_db *db)
{
    for (size_t i = 0; i < db->statement_count; i++) {
        sqlite3_finalize(db->statements[i].raw);
        sqlite3_free(db->statements[i].shape);
    }
    free(db->statements);
    free(db->slots);
}

cw_stmt *cw_db_stmt(cw_db *db, const char *name)
{
    uint16_t at = db->slots[name_slot(db, name)];
    if (at == 0) {
        fprintf(stderr, "clumpwise: no statement named %s\n", name);
        abort();
    }
    return &db->statements[at - 1];
}

/* Binds by the letters of `types`; texts are copied only if `keep`. */
static int bind_all(cw_stmt *s, bool keep, const char *types, va_list args)
{
    int rc = SQLITE_OK;
    assert((int)strlen(types) == sqlite3_bind_parameter_count(s->raw));
    for (int i = 0; types[i] && rc == SQLITE_OK; i++) {
        int k = i + 1;
        if (types[i] == 'i') {
            rc = sqlite3_bind_int64(s->raw, k, va_arg(args, int64_t));
        } else if (types[i] == 'r') {
            rc = sqlite3_bind_double(s->raw, k, va_arg(args, double));
        } else if (types[i] == 't') {
            const char *text = va_arg(args, const char *);
            rc = sqlite3_bind_text(s->raw, k, text, -1, keep ? SQLITE_TRANSIENT : SQLITE_STATIC);
        } else {
            assert(types[i] == 'I');
            const int64_t *v = va_arg(args, const int64_t *);
            rc = v ? sqlite3_bind_int64(s->raw, k, *v) : sqlite3_bind_null(s->raw, k);
        }
    }
    return rc;
}

static int bind_array(cw_stmt *s, bool keep, const cw_bind *values, int n)
{
    int rc = SQLITE_OK;
    assert(n == sqlite3_bind_parameter_count(s->raw));
    for (int k = 0; k < n && rc == SQLITE_OK; k++) {
        const cw_bind *v = &values[k];
        if (v->type == 'i') {
            rc = sqlite3_bind_int64(s->raw, k + 1, v->i);
        } else if (v->type == 'r') {
            rc = sqlite3_bind_double(s->raw, k + 1, v->r);
        } else if (v->type == 't') {
            rc = sqlite3_bind_text(s->raw, k + 1, v->t, -1, keep ? SQLITE_TRANSIENT : SQLITE_STATIC);
        } else {
            assert(v->type == 'n');
            rc = sqlite3_bind_null(s->raw, k + 1);
        }
    }
    return rc;
}

/* Runs a bound statement to its end and makes it ready for the next time. */
static cw_code run_bound(cw_stmt *s, int rc, cw_error *err)
{
    cw_code code = CW_OK;
    if (rc == SQLITE_OK)
        while ((rc = sqlite3_step(s->raw)) == SQLITE_ROW)
            continue;
    if (rc != SQLITE_DONE)
        code = cw_db_fail(s->db->raw, err, "writing");
    sqlite3_reset(s->raw);
    sqlite3_clear_bindings(s->raw);
    return code;
}

cw_code(cw_stmt_run)(cw_stmt *s, cw_error *err, const char *types, ...)
{
    va_list args;
    cw_code code = cw_stmt_ready(s, err);
    if (code != CW_OK)
        return code;
    va_start(args, types);
    int rc = bind_all(s, false, types, args);
    va_end(args);
    return run_bound(s, rc, err);
}

cw_code cw_stmt_run_with(cw_stmt *s, cw_error *err, const cw_bind *values, int n)
{
    cw_code code = cw_stmt_ready(s, err);
    return code == CW_OK ? run_bound(s, bind_array(s, false, values, n), err) : code;
}

cw_code cw_stmt_start_list(cw_stmt *s, cw_error *err, const char *types, va_list args)
{
    cw_code code = cw_stmt_ready(s, err);
    if (code != CW_OK)
        return code;
    s->rc = bind_all(s, true, types, args);
    if (s->rc != SQLITE_OK)
        return cw_db_fail(s->db->raw, err, "reading");
    return CW_OK;
}

cw_code(cw_stmt_start)(cw_stmt *s, cw_error *err, const char *types, ...)
{
    va_list args;
    va_start(args, types);
    cw_code code = cw_stmt_start_list(s, err, types, args);
    va_end(args);
    return code;
}

bool cw_stmt_next(cw_stmt *s)
{
    if (s->damaged)
        return false;
    s->rc = sqlite3_step(s->raw);
    return s->rc == SQLITE_ROW;
}

cw_code cw_stmt_end(cw_stmt *s, cw_error *err)
{
    cw_code code = CW_OK;
    if (s->rc != SQLITE_ROW && s->rc != SQLITE_DONE && s->rc != SQLITE_OK)
        code = cw_db_fail(s->db->raw, err, "reading");
    if (code == CW_OK && s->damaged)
        code = cw_shape_tell(s, err);
    if (s->raw) { /* else it could not be prepared */
        sqlite3_reset(s->raw);
        sqlite3_clear_bindings(s->raw);
    }
    s->rc = SQLITE_OK;
    s->damaged = 0;
    return code;
}

static cw_code first_row(cw_stmt *s, bool *found, cw_code code, cw_error *err)
{
    *found = code == CW_OK && cw_stmt_next(s);
    if (code == CW_OK && s->rc != SQLITE_ROW && s->rc != SQLITE_DONE)
        code = cw_db_fail(s->db->raw, err, "reading");
    return code;
}

cw_code(cw_stmt_one)(cw_stmt *s, bool *found, cw_error *err, const char *types, ...)
{
    va_list args;
    va_start(args, types);
    cw_code code = cw_stmt_start_list(s, err, types, args);
    va_end(args);
    return first_row(s, found, code, err);
}

cw_code cw_stmt_one_with(cw_stmt *s, bool *found, cw_error *err, const cw_bind *values, int n)
{
    cw_code code = cw_stmt_ready(s, err);
    if (code == CW_OK) {
        s->rc = bind_array(s, true, values, n);
        code = s->rc == SQLITE_OK ? CW_OK : cw_db_fail(s->db->raw, err, "reading");
    }
    return first_row(s, found, code, err);
}

cw_sql_column cw_col_nth(const cw_stmt *s, size_t n)
{
    return (cw_sql_column){ s->of, (uint16_t)n };
}

static int place_of(const cw_stmt *s, cw_sql_column column)
{
    if (column.of != s->of) {
        fprintf(stderr, "clumpwise: %s is read by a column's name of %s\n", s->name,
                cw_sql_statements[column.of].name);
        abort();
    }
    return column.at;
}

/* A column's value and its type, asked for once: each call of SQLite's costs as much as all that is done with the answer. A
 * connection is of one thread, so its values need no protection. NULL: none that the schema allows, as the end will tell. */
static sqlite3_value *value_of(cw_stmt *s, cw_sql_column column, int *type)
{
    int at = place_of(s, column);
    sqlite3_value *v = sqlite3_column_value(s->raw, at);
    *type = sqlite3_value_type(v);
    return cw_shape_holds(s, at, v, *type) ? v : NULL;
}

/* SQLite makes a number of any text, and so large a one as the text asks for. */
static bool is_number(cw_stmt *s, cw_sql_column column, int type)
{
    bool text = type == SQLITE_TEXT || type == SQLITE_BLOB;
    if (text && s->damaged == 0)
        s->damaged = column.at + 1;
    return !text;
}

int64_t cw_col_int(cw_stmt *s, cw_sql_column column)
{
    int type;
    sqlite3_value *v = value_of(s, column, &type);
    return v && is_number(s, column, type) ? sqlite3_value_int64(v) : 0;
}

int64_t cw_col_int_or(cw_stmt *s, cw_sql_column column, int64_t when_null)
{
    int type;
    sqlite3_value *v = value_of(s, column, &type);
    if (v == NULL || type == SQLITE_NULL)
        return when_null;
    return is_number(s, column, type) ? sqlite3_value_int64(v) : 0;
}

double cw_col_real(cw_stmt *s, cw_sql_column column)
{
    int type;
    sqlite3_value *v = value_of(s, column, &type);
    return v && is_number(s, column, type) ? sqlite3_value_double(v) : 0;
}

const char *cw_col_text(cw_stmt *s, cw_sql_column column)
{
    int type;
    sqlite3_value *v = value_of(s, column, &type);
    return v ? (const char *)sqlite3_value_text(v) : "";
}

const char *cw_col_text_there(cw_stmt *s, cw_sql_column column)
{
    const char *text = cw_col_text(s, column);
    if (text == NULL && s->damaged == 0)
        s->damaged = place_of(s, column) + 1;
    return text ? text : "";
}

bool cw_col_null(cw_stmt *s, cw_sql_column column)
{
    int type;
    return value_of(s, column, &type) == NULL || type == SQLITE_NULL;
}

cw_given cw_col_given(cw_stmt *s, cw_sql_column column, cw_type wanted)
{
    cw_given g = { .null = true };
    int type;
    sqlite3_value *v = value_of(s, column, &type);
    if (v == NULL || type == SQLITE_NULL)
        return g;
    if (wanted == CW_TEXT_T)
        g.text = (const char *)sqlite3_value_text(v);
    else if (!is_number(s, column, type))
        return g;
    else if (wanted == CW_REAL_T)
        g.real = sqlite3_value_double(v);
    else
        g.whole = sqlite3_value_int64(v);
    g.null = wanted == CW_TEXT_T && g.text == NULL;
    return g;
}
