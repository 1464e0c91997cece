/* SPDX-License-Identifier: MIT */
#include "arena.h"
#include "must.h"

#include "store/db_inside.h"
#include "store/sql.h"
#include <stdio.h>
#include <string.h>

/* A nursery file of an earlier schema with rows in it, its bytes changed here and there, is brought up to date in memory. No
 * crash or hang, and: it ends in a sentence, and the file has its old schema; or it has the new one, is sound throughout, and
 * no row was lost. An input is the schema (first byte), then edits of six bytes: place, what, value (see edit). So that a
 * second holds thousands of files, they have only the tables that a migration touches (and those that these point to), but
 * for first byte 255: a whole one.
 *
 * The copy that the migration makes beside the file is a check of the same bytes here (linked by --wrap), without the disk; and only
 * the whole file's schema is held against the program's. */

#define BASES 40

typedef struct base {
    unsigned char *bytes;
    size_t n;
} base;

static base bases[BASES];
static size_t base_count;
static int64_t rows_before;
static bool whole;             /* the file at hand has all its tables */
static bool checked, migrated; /* of the last file */
static char last_error[200];

static void run_sql(sqlite3 *raw, const char *sql)
{
    char *why = NULL;
    if (sqlite3_exec(raw, sql, NULL, NULL, &why) != SQLITE_OK) {
        fprintf(stderr, "%s: %s\n", sql, why);
        abort();
    }
}

static const char rows[] =
    "INSERT INTO nursery (id, season, ship_day, currency, timezone, made_at, stock_revision, trade_revision) "
    "VALUES (1, 2031, 22755, 'USD', 'America/Chicago', 1956528000000, 3, 5);"
    "INSERT INTO setting VALUES ('name', 'Old'), ('confidence', '0.9');"
    "INSERT INTO variety (id, code, name) VALUES (1, 'AMB', 'Amber Lantern'), (2, 'BRI', 'Briar Song');"
    "INSERT INTO lot (id, code, variety_id, dug_on, clumps) VALUES (1, 'L1', 1, 22573, 4);"
    "INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, reason, cause, cause_id)"
    " VALUES (1956528000000, 22573, 'load', 1, 0, 4, 'dug', 'lot', 1);"
    "INSERT INTO orders (id, number, received_at, customer) VALUES (1, '1001', 1956528000000, 'Ada'),"
    " (2, '1002', 1956528000001, 'Bo');"
    "INSERT INTO line (id, order_id, line, variety_id, quantity, unit_price) VALUES (1, 1, 1, 1, 2, 650), "
    "(2, 2, 1, 2, 1, 800);"
    "INSERT INTO notice (id, order_id, line_id, kind, made_at, due_on, detail) VALUES (1, 1, 1, 'short', 1, "
    "22700, '{}'),"
    " (2, 2, NULL, 'delay', 2, 22701, '{}'), (3, 2, 2, 'refund', 3, 22702, '{}');"
    "INSERT INTO claim (id, order_id, line_id, quantity, at, actor, why, answer) VALUES (1, 1, 1, 1, 4, "
    "'office', 'rot', 'open');";

/* A migration that touches another table ends the target at its start: then the table belongs here. */
static const char touched[] =
    "'nursery', 'setting', 'variety', 'place', 'lot', 'orders', 'line', 'notice', 'outbox', 'post', "
    "'claim', 'template', 'run', 'allocation', 'person', 'factor', 'recovery', "
    "'stock_take', 'movement', 'storage_check', 'destination', 'frost_hold', "
    "'order_event', 'balance', 'forbidden', 'run_before', 'run_undone', "
    "'history', 'past_check', 'source', 'dividing', 'planting', "
    "'past_shrivel', 'past_weighing', 'origin', 'closing', 'wave', 'parcel', 'pick', 'former_code', "
    "'frost_overruled', 'past_planting', 'field_round'";

static void drop_untouched(sqlite3 *raw)
{
    char sql[1200];
    sqlite3_stmt *s = NULL;
    bool any = true;
    while (any) {
        snprintf(sql, sizeof sql,
                 "SELECT 'DROP TABLE ' || name FROM sqlite_schema WHERE type = 'table' AND name NOT IN (%s) "
                 "AND name NOT LIKE"
                 " 'sqlite_%%'",
                 touched);
        must(sqlite3_prepare_v2(raw, sql, -1, &s, NULL) == SQLITE_OK);
        any = sqlite3_step(s) == SQLITE_ROW;
        if (any)
            snprintf(sql, sizeof sql, "%s", (const char *)sqlite3_column_text(s, 0));
        sqlite3_finalize(s);
        if (any)
            run_sql(raw, sql);
    }
}

/* The file as the program of that schema wrote it. */
static void make_base(size_t migrations, bool all)
{
    sqlite3 *raw = NULL;
    char pragma[96];
    sqlite3_int64 n = 0;
    must(sqlite3_open(":memory:", &raw) == SQLITE_OK);
    run_sql(raw, "PRAGMA page_size=512");
    must(cw_migrations_begin(raw) == SQLITE_OK);
    for (size_t i = 0; i < migrations; i++)
        run_sql(raw, cw_sql_migrations[i].sql);
    run_sql(raw, rows);
    if (!all)
        drop_untouched(raw);
    run_sql(raw, "VACUUM");
    snprintf(pragma, sizeof pragma, "PRAGMA application_id=%d; PRAGMA user_version=%d", CW_APPLICATION_ID,
             cw_sql_migrations[migrations - 1].number);
    run_sql(raw, pragma);
    bases[base_count].bytes = sqlite3_serialize(raw, "main", &n, 0);
    bases[base_count].n = (size_t)n;
    must(bases[base_count++].bytes != NULL);
    sqlite3_close(raw);
}

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
    sqlite3_config(SQLITE_CONFIG_SINGLETHREAD);
    arena_install();
    for (size_t i = 1; i + 1 < BASES && cw_sql_migrations[i].name; i++)
        make_base(i, false);
    make_base(1, true);
    must(base_count > 1);
    for (uint8_t i = 0; i < base_count; i++) {
        uint8_t which = i + 1u < base_count ? i : 255;
        LLVMFuzzerTestOneInput(&which, 1);
        if (!checked || !migrated)
            fprintf(stderr, "of %u migrations: %s\n", which == 255 ? 1u : i + 1u, last_error);
        must(checked && migrated); /* unharmed, each becomes new */
    }
    return 0;
}

/* Six bytes: where (3), what (1), with what (2). Returns the length afterwards. */
static size_t edit(unsigned char *file, size_t n, const uint8_t e[6])
{
    size_t at = ((size_t)e[0] << 16 | (size_t)e[1] << 8 | e[2]) % n;
    size_t page = at / 512 * 512, other = n < 512 ? 0 : ((size_t)e[4] << 8 | e[5]) * 512 % (n / 512 * 512);
    switch (e[3] % 8) {
    case 0:
    case 1:
        file[at] = e[5];
        break;
    case 2:
        file[at] ^= (unsigned char)(1u << e[5] % 8);
        break;
    case 3:
        file[at] = e[4];
        file[(at + 1) % n] = e[5];
        break;
    case 4: /* a page's head: kind, free blocks, cells */
        file[page + at % 12] = e[5];
        break;
    case 5: /* one page over another */
        memmove(file + page, file + other, n - page < 512 ? n - page : 512);
        break;
    case 6: /* up to 64 bytes gone */
        memset(file + at, e[4], n - at < e[5] % 64u ? n - at : e[5] % 64u);
        break;
    default: /* cut short */
        return e[5] < 16 ? at + 1 : n;
    }
    return n;
}

static int64_t number(sqlite3 *raw, const char *sql)
{
    sqlite3_stmt *s = NULL;
    int64_t v = -1;
    if (sqlite3_prepare_v2(raw, sql, -1, &s, NULL) == SQLITE_OK && sqlite3_step(s) == SQLITE_ROW)
        v = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return v;
}

static int64_t all_rows(sqlite3 *raw)
{
    return number(raw, "SELECT (SELECT COUNT(*) FROM setting) + 100 * (SELECT COUNT(*) FROM orders) + 10000 "
                       "* (SELECT COUNT(*)"
                       " FROM notice) + 1000000 * (SELECT COUNT(*) FROM claim)");
}

cw_code __wrap_cw_db_backup(cw_db *db, const char *path, bool (*progress)(void *, int64_t, int64_t),
                            void *context, cw_error *err);
cw_code __wrap_cw_db_backup(cw_db *db, const char *path, bool (*progress)(void *, int64_t, int64_t),
                            void *context, cw_error *err)
{
    long broken = 0;
    (void)path;
    (void)progress;
    (void)context;
    cw_code code = cw_db_integrity(db, NULL, NULL, &broken, err);
    if (code == CW_OK && broken)
        code = cw_error_set(err, CW_MACHINE, "the copy is damaged (%ld faults)", broken);
    checked = code == CW_OK;
    rows_before = checked ? all_rows(db->raw) : -1;
    return code;
}

/* The schema of a file without its other tables is not that of a program. */
cw_code __real_cw_schema_compare(sqlite3 *raw, int schema, cw_reporter report, void *context, long *broken,
                                 cw_error *err);
cw_code __wrap_cw_schema_compare(sqlite3 *raw, int schema, cw_reporter report, void *context, long *broken,
                                 cw_error *err);
cw_code __wrap_cw_schema_compare(sqlite3 *raw, int schema, cw_reporter report, void *context, long *broken,
                                 cw_error *err)
{
    (void)schema; /* the newest; here a file is looked at before, too, and then has its own */
    int own = (int)number(raw, "PRAGMA user_version");
    return whole ? __real_cw_schema_compare(raw, own, report, context, broken, err) : CW_OK;
}

static void migrate(cw_db *db)
{
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    int64_t had = number(db->raw, "PRAGMA user_version");
    checked = migrated = false;
    cw_code code = cw_migrate(db, &err);
    must(sqlite3_get_autocommit(db->raw));
    snprintf(last_error, sizeof last_error, "%.190s", err.text);
    if (code != CW_OK) {
        must(err.code == code && err.text[0]);
        must(number(db->raw, "PRAGMA user_version") == had);
        return;
    }
    must(number(db->raw, "PRAGMA user_version") == cw_db_schema_known());
    if (!checked) /* it said that it was of this schema already */
        return;
    must(all_rows(db->raw) == rows_before);
    must(cw_db_integrity(db, NULL, NULL, &broken, &err) == CW_OK && broken == 0);
    migrated = true;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    cw_db db = { .mode = CW_DB_WRITE, .lock_fd = -1, .path = "n.db" };
    if (n == 0)
        return 0;
    size_t which = bytes[0] == 255 ? base_count - 1 : bytes[0] % (base_count - 1);
    whole = which == base_count - 1;
    const base *b = &bases[which];
    size_t length = b->n;
    long out = arena_out();
    unsigned char *file = sqlite3_malloc64(length);
    must(file != NULL);
    memcpy(file, b->bytes, length);
    for (size_t i = 1; i + 6 <= n && i < 6 * 24; i += 6)
        length = edit(file, length, bytes + i);
    must(sqlite3_open_v2(":memory:", &db.raw, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) ==
         SQLITE_OK);
    int rc = sqlite3_deserialize(db.raw, "main", file, (sqlite3_int64)length, (sqlite3_int64)length,
                                 SQLITE_DESERIALIZE_FREEONCLOSE | SQLITE_DESERIALIZE_RESIZEABLE);
    must(rc == SQLITE_OK);
    if (sqlite3_exec(db.raw,
                     "PRAGMA foreign_keys=ON; PRAGMA trusted_schema=OFF; PRAGMA recursive_triggers=OFF", NULL,
                     NULL, NULL) == SQLITE_OK)
        migrate(&db);
    must(sqlite3_close(db.raw) == SQLITE_OK && arena_out() == out);
    return 0;
}
