/* SPDX-License-Identifier: MIT */
#include "store/bulk.h"

#include "columns/intake.h"
#include "store/db_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* An index, and the statement that takes it away. */
static const struct {
    const char *name, *without;
} indexes[] = {
    { "line_by_variety", "intake.without_varieties" },
    { "orders_by_email", "intake.without_emails" },
    { "orders_by_customer", "intake.without_customers" },
    { "orders_to_find", "intake.without_finding" },
};
#define INDEXES (sizeof indexes / sizeof indexes[0])

struct cw_bulk {
    char *words[INDEXES];
};

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
    for (size_t i = 0; i < INDEXES && code == CW_OK; i++)
        code = read_words(db, indexes[i].name, &b->words[i], err);
    for (size_t i = 0; i < INDEXES && code == CW_OK; i++)
        code = cw_stmt_run(cw_db_stmt(db, indexes[i].without), err, "");
    if (code == CW_OK)
        *out = b;
    else
        cw_bulk_free(b);
    return code;
}

cw_code cw_bulk_end(cw_db *db, cw_bulk *b, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; b && i < INDEXES && code == CW_OK; i++)
        if (sqlite3_exec(db->raw, b->words[i], NULL, NULL, NULL) != SQLITE_OK)
            code = cw_db_fail(db->raw, err, "making the indexes of the orders");
    cw_bulk_free(b);
    return code;
}

void cw_bulk_free(cw_bulk *b)
{
    for (size_t i = 0; b && i < INDEXES; i++)
        free(b->words[i]);
    free(b);
}
