/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_UNASKED_H
#define CW_TESTS_SUPPORT_UNASKED_H

/* A column of a nursery file holds what its schema would never let in (`value` in SQL's words, in each row): as a page does that was
 * read from elsewhere on a damaged disk. Nobody may have the file open. */
#include "support/check.h"

#include <sqlite3.h>
#include <stdio.h>

static inline void unasked_sql(sqlite3 *raw, const char *sql)
{
    if (sqlite3_exec(raw, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
}

/* The schema forgets for a moment what it asks. */
static inline void unasked_put(const char *path, const char *table, const char *column, const char *value)
{
    sqlite3 *raw = NULL;
    char sql[600];
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    snprintf(
        sql, sizeof sql,
        "PRAGMA writable_schema = ON; CREATE TEMP TABLE was AS SELECT name AS of, sql FROM sqlite_schema; "
        "UPDATE sqlite_schema SET sql = replace(replace(sql, 'IS NOT NULL', 'IS NOT  NULL'), ' NOT NULL', "
        "''); "
        "UPDATE sqlite_schema SET sql = replace(replace(sql, ' STRICT', ''), ', WITHOUT', ' WITHOUT') WHERE "
        "type = "
        "'table' AND name = '%s'; PRAGMA writable_schema = RESET",
        table);
    unasked_sql(raw, sql);
    sqlite3_db_config(raw, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
    unasked_sql(raw, "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON");
    snprintf(sql, sizeof sql, "UPDATE OR IGNORE \"%s\" SET \"%s\" = %s", table, column, value);
    unasked_sql(raw, sql);
    unasked_sql(raw,
                "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = (SELECT was.sql FROM was WHERE "
                "of = name); PRAGMA writable_schema = RESET; PRAGMA wal_checkpoint(TRUNCATE)");
    sqlite3_close(raw);
}

#endif
