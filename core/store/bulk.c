/* SPDX-License-Identifier: MIT */
#include "store/bulk.h"

#include "columns/intake.h"
#include "store/db_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* An index, the statement that takes it away, and whether nothing but ids stands in it. */
static const struct {
    const char *name, *without;
    bool ids;
} indexes[] = {
    { "line_by_variety", "intake.without_varieties", true },
    { "orders_by_email", "intake.without_emails", false },
    { "orders_by_customer", "intake.without_customers", false },
    { "orders_to_find", "intake.without_finding", false },
};
#define INDEXES (sizeof indexes / sizeof indexes[0])

struct cw_bulk {
    sqlite3 *raw;
    char *words[INDEXES];
};

/* Does SQLite look for each row's parents when the row is written? */
static void look_for_parents(sqlite3 *raw, int on)
{
    sqlite3_db_config(raw, SQLITE_DBCONFIG_ENABLE_FKEY, on, NULL);
}

static cw_code read_words(cw_db *db, const char *name, char **out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "intake.index_words");
    cw_code code = cw_stmt_one(q, &found, err, "t", name);
    if (code == CW_OK && !found)
        code = cw_db_damaged(err, name);
    if (code == CW_OK) {
        const char *words = cw_col_text(q, intake_index_words_words);
        *out = strdup(words ? words : "");
        code = *out ? CW_OK : cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_bulk_begin(cw_db *db, cw_bulk **out, cw_error *err)
{
    bool begun = false;
    cw_stmt *q = cw_db_stmt(db, "intake.orders_begun");
    *out = NULL;
    cw_code code = cw_stmt_one(q, &begun, err, "");
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    if (code != CW_OK || begun)
        return code;
    cw_bulk *b = calloc(1, sizeof *b);
    if (b == NULL)
        return cw_error_memory(err);
    b->raw = db->raw;
    for (size_t i = 0; i < INDEXES && code == CW_OK; i++)
        code = read_words(db, indexes[i].name, &b->words[i], err);
    for (size_t i = 0; i < INDEXES && code == CW_OK; i++)
        code = cw_stmt_run(cw_db_stmt(db, indexes[i].without), err, "");
    if (code == CW_OK) {
        look_for_parents(db->raw, 0);
        *out = b;
    } else {
        cw_bulk_free(b);
    }
    return code;
}

/* In memory SQLite sorts a list of single pieces, on disk runs that fit into the processor's cache: a million ids in a third of the
 * time. Names and addresses of buyers are sorted in memory, as everywhere. A pragma that is refused leaves it as it was. */
static void sort_on_disk(sqlite3 *raw, bool on)
{
    sqlite3_exec(raw,
                 on ? "PRAGMA temp_store=FILE; PRAGMA cache_size=-2048"
                    : "PRAGMA temp_store=MEMORY; PRAGMA cache_size=-65536",
                 NULL, NULL, NULL);
}

static int make_index(sqlite3 *raw, const char *words, bool ids)
{
    if (ids)
        sort_on_disk(raw, true);
    int rc = sqlite3_exec(raw, words, NULL, NULL, NULL);
    if (!ids)
        return rc;
    bool no_room = (rc & 0xFF) == SQLITE_FULL || (rc & 0xFF) == SQLITE_CANTOPEN;
    if (no_room && !sqlite3_get_autocommit(raw)) {
        sort_on_disk(raw, false);
        return sqlite3_exec(raw, words, NULL, NULL, NULL);
    }
    sort_on_disk(raw, false);
    return rc;
}

/* Has every row its parents? */
static cw_code check_parents(sqlite3 *raw, const char *check, cw_error *err)
{
    sqlite3_stmt *s = NULL;
    int rc = sqlite3_prepare_v2(raw, check, -1, &s, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_step(s);
    cw_code code = rc == SQLITE_DONE  ? CW_OK
                   : rc == SQLITE_ROW ? cw_error_set(err, CW_CONFLICT, "FOREIGN KEY constraint failed")
                                      : cw_db_fail(raw, err, "looking at the orders");
    sqlite3_finalize(s);
    return code;
}

cw_code cw_bulk_end(cw_db *db, cw_bulk *b, cw_error *err)
{
    cw_code code = CW_OK;
    if (b == NULL)
        return CW_OK;
    for (size_t i = 0; i < INDEXES && code == CW_OK; i++)
        if (make_index(db->raw, b->words[i], indexes[i].ids) != SQLITE_OK)
            code = cw_db_fail(db->raw, err, "making the indexes of the orders");
    if (code == CW_OK)
        code = check_parents(db->raw, "PRAGMA foreign_key_check(orders)", err);
    if (code == CW_OK)
        code = check_parents(db->raw, "PRAGMA foreign_key_check(line)", err);
    cw_bulk_free(b);
    return code;
}

void cw_bulk_free(cw_bulk *b)
{
    if (b == NULL)
        return;
    look_for_parents(b->raw, 1);
    for (size_t i = 0; i < INDEXES; i++)
        free(b->words[i]);
    free(b);
}
