/* SPDX-License-Identifier: MIT */
#include "store/sql.h"
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Which columns do the statements of sql/ give? Run by the build: `columns FOLDER` makes the schema in memory, prepares each
 * statement and writes FOLDER/<family>.h, where the column `rest` of the statement waves.parcel is called waves_parcel_rest. C
 * reads columns by these names alone: one that is gone or misspelt does not build, and a statement that is wrong does not either.
 * A column that has no name in SQL, or not one of its own, has none here. */

static const char *doing = "";

static void fail(const char *why)
{
    fprintf(stderr, "columns: %s: %s\n", doing, why);
    exit(1);
}

static void must(sqlite3 *raw, int rc)
{
    if (rc != SQLITE_OK)
        fail(sqlite3_errmsg(raw));
}

static void nothing(sqlite3_context *context, int count, sqlite3_value **values)
{
    (void)count;
    (void)values;
    sqlite3_result_null(context);
}

static void nothing_more(sqlite3_context *context)
{
    sqlite3_result_null(context);
}

static const char *text_of(const char *name)
{
    size_t i = 0;
    while (strcmp(cw_sql_statements[i].name, name) != 0)
        i++;
    return cw_sql_statements[i].sql;
}

/* What migrations and statements name beside the schema (migrate.c, scan.c, finding.c, feed.c); here nothing is ever run. */
static void know_helpers(sqlite3 *raw)
{
    char table[256];
    const char *feed = strchr(text_of("file.feed"), '(');
    snprintf(table, sizeof table, "CREATE TEMP TABLE promise_row %s", feed);
    must(raw, sqlite3_exec(raw, table, NULL, NULL, NULL));
    must(raw, sqlite3_create_function(raw, "hand_over", -1, SQLITE_UTF8, NULL, NULL, nothing, nothing_more));
    must(raw, sqlite3_create_function(raw, "has_text", -1, SQLITE_UTF8, NULL, nothing, NULL, NULL));
    must(raw, sqlite3_create_function(raw, "country_code", 1, SQLITE_UTF8, NULL, nothing, NULL, NULL));
}

static sqlite3 *make_schema(void)
{
    sqlite3 *raw = NULL;
    doing = "opening";
    if (sqlite3_open(":memory:", &raw) != SQLITE_OK)
        fail("no memory");
    know_helpers(raw);
    for (size_t i = 0; cw_sql_migrations[i].name; i++) {
        doing = cw_sql_migrations[i].name;
        must(raw, sqlite3_exec(raw, cw_sql_migrations[i].sql, NULL, NULL, NULL));
    }
    return raw;
}

static sqlite3_stmt *prepare(sqlite3 *raw, const char *sql)
{
    sqlite3_stmt *s = NULL;
    must(raw, sqlite3_prepare_v2(raw, sql, -1, &s, NULL));
    return s;
}

static bool is_word(const char *name)
{
    return name[0] >= 'a' && name[0] <= 'z' &&
           strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789_") == strlen(name);
}

static bool is_alone(sqlite3_stmt *s, int column)
{
    const char *name = sqlite3_column_name(s, column);
    for (int c = 0; c < sqlite3_column_count(s); c++)
        if (c != column && strcmp(sqlite3_column_name(s, c), name) == 0)
            return false;
    return true;
}

/* A statement "like" another gives the same columns, and is read by the other's names. */
static void compare(sqlite3 *raw, sqlite3_stmt *s, const cw_sql_statement *like)
{
    sqlite3_stmt *other = prepare(raw, like->sql);
    bool same = sqlite3_column_count(s) == sqlite3_column_count(other);
    for (int c = 0; same && c < sqlite3_column_count(s); c++)
        same = strcmp(sqlite3_column_name(s, c), sqlite3_column_name(other, c)) == 0;
    sqlite3_finalize(other);
    if (!same)
        fail("does not give the columns of the statement that it says it is like");
}

static void write_names(FILE *out, sqlite3 *raw, unsigned number)
{
    const cw_sql_statement *statement = &cw_sql_statements[number];
    sqlite3_stmt *s = prepare(raw, statement->sql);
    size_t family = strcspn(statement->name, ".");
    doing = statement->name;
    if (statement->like != number)
        compare(raw, s, &cw_sql_statements[statement->like]);
    for (int c = 0; statement->like == number && c < sqlite3_column_count(s); c++)
        if (is_word(sqlite3_column_name(s, c)) && is_alone(s, c))
            fprintf(out, "static const cw_sql_column %.*s_%s_%s = { %u, %d };\n", (int)family,
                    statement->name, statement->name + family + 1, sqlite3_column_name(s, c), number, c);
    sqlite3_finalize(s);
}

/* A file that says the same already is left alone, so that nothing is built anew for it. */
static void replace(const char *path, const char *text, size_t size)
{
    char *old = malloc(size + 1);
    FILE *f = fopen(path, "rb");
    bool same = f && old && fread(old, 1, size + 1, f) == size && memcmp(old, text, size) == 0;
    if (f)
        fclose(f);
    free(old);
    if (same)
        return;
    doing = path;
    f = fopen(path, "wb");
    if (f == NULL || fwrite(text, 1, size, f) != size || fclose(f) != 0)
        fail("cannot be written");
    doing = ""; /* the path is the caller's */
}

/* Writes the family that begins at statement `first`; returns where the next one begins. */
static unsigned write_family(sqlite3 *raw, const char *folder, unsigned first)
{
    char path[4096], *text = NULL;
    size_t size = 0, n = strcspn(cw_sql_statements[first].name, ".") + 1;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL)
        fail("no memory");
    fprintf(out, "/* Made by core/store/columns from sql/: do not edit. */\n"
                 "#pragma once\n"
                 "#include \"store/statement_inside.h\"\n");
    unsigned i = first;
    for (; cw_sql_statements[i].name &&
           strncmp(cw_sql_statements[i].name, cw_sql_statements[first].name, n) == 0;
         i++) {
        doing = cw_sql_statements[i].name;
        write_names(out, raw, i);
    }
    fclose(out);
    snprintf(path, sizeof path, "%s/%.*s.h", folder, (int)n - 1, cw_sql_statements[first].name);
    replace(path, text, size);
    free(text);
    return i;
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: columns FOLDER\n");
        return 2;
    }
    sqlite3 *raw = make_schema();
    for (unsigned i = 0; cw_sql_statements[i].name;)
        i = write_family(raw, argv[1], i);
    sqlite3_close(raw);
    return 0;
}
