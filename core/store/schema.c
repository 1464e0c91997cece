/* SPDX-License-Identifier: MIT */
#include "store/db_inside.h"
#include "store/sql.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Is the schema in the file the one that this program makes? A trigger or a view that somebody added does whatever it likes at
 * every write, and no other check sees it. The program's own is made in memory, by the migrations up to the file's number. */

static cw_code make_own(int schema, sqlite3 **out, cw_error *err)
{
    int rc = sqlite3_open_v2(":memory:", out, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL);
    if (rc == SQLITE_OK)
        rc = cw_migrations_begin(*out);
    for (size_t i = 0; rc == SQLITE_OK && cw_sql_migrations[i].name; i++)
        if (cw_sql_migrations[i].number <= schema)
            rc = sqlite3_exec(*out, cw_sql_migrations[i].sql, NULL, NULL, NULL);
    if (rc == SQLITE_OK)
        return CW_OK;
    return *out ? cw_db_fail(*out, err, "making the schema to compare with") : cw_error_memory(err);
}

/* The same words; blanks and quotation marks are set differently by different versions of SQLite. */
static bool same_words(const char *a, const char *b)
{
    for (;; a++, b++) {
        while (isspace((unsigned char)*a) || *a == '"')
            a++;
        while (isspace((unsigned char)*b) || *b == '"')
            b++;
        if (*a != *b)
            return false;
        if (*a == '\0')
            return true;
    }
}

typedef struct side {
    sqlite3 *raw;
    sqlite3_stmt *s;
    int rc;
} side;

static void next(side *x)
{
    x->rc = sqlite3_step(x->s);
}

static const char *text(const side *x, int column)
{
    const char *t = (const char *)sqlite3_column_text(x->s, column);
    return t ? t : "";
}

static bool start(side *x, sqlite3 *raw)
{
    x->raw = raw;
    x->rc = sqlite3_prepare_v2(raw, cw_sql_text("file.schema"), -1, &x->s, NULL);
    if (x->rc == SQLITE_OK)
        next(x);
    return x->rc == SQLITE_ROW || x->rc == SQLITE_DONE;
}

/* < 0: only in a, > 0: only in b. */
static int order(const side *a, const side *b)
{
    if (a->rc != SQLITE_ROW || b->rc != SQLITE_ROW)
        return (b->rc == SQLITE_ROW) - (a->rc == SQLITE_ROW);
    int c = strcmp(text(a, 0), text(b, 0));
    return c ? c : strcmp(text(a, 1), text(b, 1));
}

static void say(const side *x, const char *what, cw_reporter report, void *context, long *broken)
{
    char sentence[400];
    snprintf(sentence, sizeof sentence, "schema: the %.20s %.200s %s", text(x, 1), text(x, 0), what);
    ++*broken;
    if (report)
        report(context, sentence);
}

/* What an engine that copies the file to a second place keeps in it (scripts/standby): two tables of its own, in its own words,
 * without a row of ours. Anything else by these names is none of ours either way. */
static bool is_of_copying(const side *x)
{
    static const char *const tables[][2] = {
        { "_litestream_lock", "CREATE TABLE _litestream_lock (id INTEGER)" },
        { "_litestream_seq", "CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER)" },
    };
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++)
        if (strcmp(text(x, 0), tables[i][0]) == 0)
            return same_words(text(x, 2), tables[i][1]);
    return false;
}

static cw_code compare(side *file, side *own, cw_reporter report, void *context, long *broken, cw_error *err)
{
    bool read = start(file, file->raw) && start(own, own->raw);
    while (read && (file->rc == SQLITE_ROW || own->rc == SQLITE_ROW)) {
        int c = order(file, own);
        if (c < 0 && is_of_copying(file)) {
            next(file);
        } else if (c < 0) {
            say(file, "is none of this program's", report, context, broken);
            next(file);
        } else if (c > 0) {
            say(own, "is missing", report, context, broken);
            next(own);
        } else {
            if (!same_words(text(file, 2), text(own, 2)))
                say(file, "is not as this program makes it", report, context, broken);
            next(file);
            next(own);
        }
    }
    cw_code code = file->rc != SQLITE_DONE  ? cw_db_fail(file->raw, err, "reading the schema")
                   : own->rc != SQLITE_DONE ? cw_db_fail(own->raw, err, "reading the schema")
                                            : CW_OK;
    sqlite3_finalize(file->s);
    sqlite3_finalize(own->s);
    return code;
}

cw_code cw_schema_compare(sqlite3 *raw, int schema, cw_reporter report, void *context, long *broken,
                          cw_error *err)
{
    side file = { .raw = raw, .rc = SQLITE_DONE }, own = { .rc = SQLITE_DONE };
    cw_code code = make_own(schema, &own.raw, err);
    if (code == CW_OK)
        code = compare(&file, &own, report, context, broken, err);
    sqlite3_close_v2(own.raw);
    return code;
}
