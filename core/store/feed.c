/* SPDX-License-Identifier: MIT */
#include "store/allocations.h"
#include "store/db_inside.h"
#include "store/sql.h"
#include <stdlib.h>

#include "base/banned.h"

/* Rows that the program has in memory, as a table that a statement can read: promise_row(line_id, variety_id, quantity,
 * kind, reason, n1, n2, n3, n4). A million promises are written by one INSERT ... SELECT from it in a third of the time
 * that a million single statements take. The table is empty except while cw_promises_add runs. */

struct cw_feed {
    cw_promise_source next;
    void *context;
};

typedef struct feed_table {
    sqlite3_vtab base;
    struct cw_feed *feed;
} feed_table;

typedef struct feed_cursor {
    sqlite3_vtab_cursor base;
    cw_promise row;
    sqlite3_int64 at;
    bool more;
} feed_cursor;

static int feed_connect(sqlite3 *raw, void *aux, int argc, const char *const *argv, sqlite3_vtab **out,
                        char **message)
{
    (void)argc;
    (void)argv;
    (void)message;
    int rc = sqlite3_declare_vtab(raw, cw_sql_text("file.feed"));
    feed_table *t = rc == SQLITE_OK ? sqlite3_malloc(sizeof *t) : NULL; /* SQLite's, as what names it */
    if (t == NULL)
        return rc == SQLITE_OK ? SQLITE_NOMEM : rc;
    *t = (feed_table){ .feed = aux };
    *out = &t->base;
    return SQLITE_OK;
}

static int feed_disconnect(sqlite3_vtab *t)
{
    sqlite3_free(t);
    return SQLITE_OK;
}

static int feed_best(sqlite3_vtab *t, sqlite3_index_info *info)
{
    (void)t;
    info->estimatedCost = 1e6;
    info->estimatedRows = 1000000;
    return SQLITE_OK;
}

static int feed_open(sqlite3_vtab *t, sqlite3_vtab_cursor **out)
{
    (void)t;
    feed_cursor *c = calloc(1, sizeof *c);
    if (c == NULL)
        return SQLITE_NOMEM;
    *out = &c->base;
    return SQLITE_OK;
}

static int feed_close(sqlite3_vtab_cursor *c)
{
    free(c);
    return SQLITE_OK;
}

static int feed_next(sqlite3_vtab_cursor *base)
{
    feed_cursor *c = (feed_cursor *)base;
    struct cw_feed *f = ((feed_table *)base->pVtab)->feed;
    c->more = f->next && f->next(f->context, &c->row);
    c->at++;
    return SQLITE_OK;
}

static int feed_filter(sqlite3_vtab_cursor *base, int number, const char *name, int argc,
                       sqlite3_value **argv)
{
    (void)number;
    (void)name;
    (void)argc;
    (void)argv;
    ((feed_cursor *)base)->at = 0;
    return feed_next(base);
}

static int feed_eof(sqlite3_vtab_cursor *base)
{
    return !((feed_cursor *)base)->more;
}

static int feed_column(sqlite3_vtab_cursor *base, sqlite3_context *out, int column)
{
    const cw_promise *p = &((feed_cursor *)base)->row;
    const int64_t numbers[] = { p->line,     p->variety,  p->quantity, 0,          p->why.reason,
                                p->why.n[0], p->why.n[1], p->why.n[2], p->why.n[3] };
    if (column == 3)
        sqlite3_result_text(out, cw_promise_kind_word(p->kind), -1, SQLITE_STATIC);
    else
        sqlite3_result_int64(out, numbers[column]);
    return SQLITE_OK;
}

static int feed_rowid(sqlite3_vtab_cursor *base, sqlite3_int64 *out)
{
    *out = ((feed_cursor *)base)->at;
    return SQLITE_OK;
}

static const sqlite3_module module = {
    .iVersion = 1,
    .xConnect = feed_connect, /* no xCreate: the table is there without being made, and never in the file */
    .xBestIndex = feed_best,
    .xDisconnect = feed_disconnect,
    .xOpen = feed_open,
    .xClose = feed_close,
    .xFilter = feed_filter,
    .xNext = feed_next,
    .xEof = feed_eof,
    .xColumn = feed_column,
    .xRowid = feed_rowid,
};

cw_code cw_feed_install(cw_db *db, cw_error *err)
{
    db->feed = calloc(1, sizeof *db->feed);
    if (db->feed == NULL)
        return cw_error_memory(err);
    /* The module frees it, also when this call fails. */
    if (sqlite3_create_module_v2(db->raw, "promise_row", &module, db->feed, free) != SQLITE_OK)
        return cw_db_fail(db->raw, err, "setting up the connection");
    return CW_OK;
}

cw_code cw_promises_add(cw_db *db, int64_t run, cw_promise_source next, void *context, cw_error *err)
{
    *db->feed = (struct cw_feed){ next, context };
    cw_code code = cw_stmt_run(cw_db_stmt(db, "allocations.promise"), err, "i", run);
    *db->feed = (struct cw_feed){ NULL, NULL };
    return code;
}
