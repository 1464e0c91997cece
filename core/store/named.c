/* SPDX-License-Identifier: MIT */
#include "store/statement_inside.h"

#include "store/db_inside.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Parameters and columns by name, so that a column more renumbers nothing. A name that is not there is a programming error. */

#define MOST 64

static void no_such(const cw_stmt *s, const char *what, const char *name)
{
    fprintf(stderr, "clumpwise: the statement %s has no %s %s\n", s->name, what, name);
    abort();
}

/* The values in the order of the statement's parameters (":name"); returns how many. Mostly they come in that order, so a value is
 * sought from behind the one before. */
static int in_order(cw_stmt *s, const cw_bind *values, int n, cw_bind out[MOST])
{
    int count = sqlite3_bind_parameter_count(s->raw);
    assert(count <= MOST);
    for (int p = 0, k = -1; p < count; p++) {
        const char *name = sqlite3_bind_parameter_name(s->raw, p + 1) + 1;
        int tries = 0;
        do
            k = k + 1 < n ? k + 1 : 0;
        while (tries++ < n && strcmp(values[k].name, name) != 0);
        if (tries > n)
            no_such(s, "value for", name);
        out[p] = values[k];
    }
    return count;
}

cw_code cw_stmt_run_named(cw_stmt *s, cw_error *err, const cw_bind *values, int n)
{
    cw_bind ordered[MOST];
    cw_code code = cw_stmt_ready(s, err);
    return code == CW_OK ? cw_stmt_run_with(s, err, ordered, in_order(s, values, n, ordered)) : code;
}

cw_code cw_stmt_one_named(cw_stmt *s, bool *found, cw_error *err, const cw_bind *values, int n)
{
    cw_bind ordered[MOST];
    *found = false;
    cw_code code = cw_stmt_ready(s, err);
    return code == CW_OK ? cw_stmt_one_with(s, found, err, ordered, in_order(s, values, n, ordered)) : code;
}

bool cw_col_find(cw_stmt *s, const char *name, cw_sql_column *out)
{
    int count = sqlite3_column_count(s->raw);
    for (int c = 0; c < count; c++)
        if (strcmp(sqlite3_column_name(s->raw, c), name) == 0) {
            *out = cw_col_nth(s, (size_t)c);
            return true;
        }
    return false;
}

cw_sql_column cw_col_named(cw_stmt *s, const char *name)
{
    cw_sql_column found = cw_col_nth(s, 0);
    if (!cw_col_find(s, name, &found))
        no_such(s, "column", name);
    return found;
}
