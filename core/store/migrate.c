/* SPDX-License-Identifier: MIT */
#include "base/country.h"
#include "base/text.h"
#include "store/db_inside.h"
#include "store/sql.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

int cw_db_schema_known(void)
{
    int last = 0;
    for (size_t i = 0; cw_sql_migrations[i].name; i++)
        last = cw_sql_migrations[i].number;
    return last;
}

static cw_code pragma_int(cw_db *db, const char *sql, int *out, cw_error *err)
{
    sqlite3_stmt *s = NULL;
    cw_code code = CW_OK;
    if (sqlite3_prepare_v2(db->raw, sql, -1, &s, NULL) != SQLITE_OK || sqlite3_step(s) != SQLITE_ROW)
        code = sqlite3_errcode(db->raw) == SQLITE_NOTADB
                   ? cw_error_at(err, CW_REFUSED, db->path, 0, NULL, "is not a nursery file")
                   : cw_db_fail(db->raw, err, "reading the nursery file");
    else
        *out = sqlite3_column_int(s, 0);
    sqlite3_finalize(s);
    return code;
}

/* The statements are prepared only once the schema stands, so not by cw_db_rollback. */
static void take_back(cw_db *db)
{
    if (!sqlite3_get_autocommit(db->raw))
        sqlite3_exec(db->raw, "ROLLBACK", NULL, NULL, NULL);
}

/* country_code(text): its alpha-2 code, null when no country is known by that. For migrations alone. */
static void country_code(sqlite3_context *context, int count, sqlite3_value **values)
{
    const char *text = count == 1 ? (const char *)sqlite3_value_text(values[0]) : NULL;
    const char *code = text ? cw_country_find(text, strlen(text)) : NULL;
    if (code)
        sqlite3_result_text(context, code, -1, SQLITE_STATIC);
    else
        sqlite3_result_null(context);
}

int cw_migrations_begin(sqlite3 *raw)
{
    return sqlite3_create_function_v2(raw, "country_code", 1, SQLITE_UTF8 | SQLITE_DETERMINISTIC, NULL,
                                      country_code, NULL, NULL, NULL);
}

/* All steps from `have` on, in one transaction: the file has either schema, never one between. */
static cw_code apply(cw_db *db, int have, cw_error *err)
{
    char pragma[96];
    if (cw_migrations_begin(db->raw) != SQLITE_OK)
        return cw_db_fail(db->raw, err, "starting to migrate");
    if (sqlite3_exec(db->raw, "BEGIN IMMEDIATE", NULL, NULL, NULL) != SQLITE_OK)
        return cw_db_fail(db->raw, err, "starting to migrate");
    for (size_t i = 0; cw_sql_migrations[i].name; i++) {
        if (cw_sql_migrations[i].number <= have)
            continue;
        if (sqlite3_exec(db->raw, cw_sql_migrations[i].sql, NULL, NULL, NULL) != SQLITE_OK) {
            char doing[128];
            snprintf(doing, sizeof doing, "migrating the nursery file (%s)", cw_sql_migrations[i].name);
            cw_code code = cw_db_fail(db->raw, err, doing);
            take_back(db);
            return code;
        }
    }
    snprintf(pragma, sizeof pragma, "PRAGMA application_id=%d; PRAGMA user_version=%d; COMMIT",
             CW_APPLICATION_ID, cw_db_schema_known());
    if (sqlite3_exec(db->raw, pragma, NULL, NULL, NULL) != SQLITE_OK) {
        cw_code code = cw_db_fail(db->raw, err, "finishing the migration");
        take_back(db);
        return code;
    }
    return CW_OK;
}

cw_code cw_migrate(cw_db *db, cw_error *err)
{
    int id = 0, have = 0, known = cw_db_schema_known();
    cw_code code = pragma_int(db, "PRAGMA application_id", &id, err);
    if (code == CW_OK)
        code = pragma_int(db, "PRAGMA user_version", &have, err);
    if (code != CW_OK)
        return code;
    if (db->mode != CW_DB_NEW && id != CW_APPLICATION_ID)
        return cw_error_at(err, CW_REFUSED, db->path, 0, NULL, "is not a nursery file");
    if (have > known)
        return cw_error_at(
            err, CW_REFUSED, db->path, 0, NULL,
            "was written by a newer clumpwise (schema %d, this one knows %d); install that version", have,
            known);
    if (have == known)
        return CW_OK;
    if (db->mode == CW_DB_READ)
        return cw_error_at(err, CW_REFUSED, db->path, 0, NULL,
                           "was written by an older clumpwise (schema %d, this one has %d); 'clumpwise check "
                           "FILE --migrate' brings "
                           "it up to date after a backup",
                           have, known);
    if (db->mode == CW_DB_WRITE) {
        char copy[1100];
        snprintf(copy, sizeof copy, "%s.before-schema-%d", db->path, known);
        code = cw_db_backup(db, copy, NULL, NULL, err);
        if (code != CW_OK)
            return code;
    }
    return apply(db, have, err);
}
