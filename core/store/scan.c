/* SPDX-License-Identifier: MIT */
#include "store/db_inside.h"
#include <stdlib.h>

#include "base/banned.h"

/* hand_over(a, b, ...) is an aggregate that hands its arguments to the C function that asked, row by row. The rows never leave
 * the scan. Stepping to each row and asking for each column takes half as long again, which matters with a million lines. */
struct cw_scan {
    cw_scanned_taker take; /* NULL: nobody asks */
    void *context;
    bool stopped, damaged;
};

/* All that is handed over are whole numbers, or NULL. */
#define MOST 9000000000000000LL
static bool are_numbers(int n, sqlite3_value **values)
{
    for (int i = 0; i < n; i++) {
        int type = sqlite3_value_type(values[i]);
        int64_t v = type == SQLITE_INTEGER ? sqlite3_value_int64(values[i]) : 0;
        if ((type != SQLITE_INTEGER && type != SQLITE_NULL) || v < -MOST || v > MOST)
            return false;
    }
    return true;
}

static void hand_over(sqlite3_context *out, int n, sqlite3_value **values)
{
    struct cw_scan *s = sqlite3_user_data(out);
    cw_scanned row = { values, n };
    s->damaged = s->damaged || !are_numbers(n, values);
    if (s->take == NULL || s->stopped || s->damaged || !s->take(s->context, &row)) {
        s->stopped = true;
        sqlite3_result_error(out, "stopped", -1);
    }
}

static void handed_over(sqlite3_context *out)
{
    sqlite3_result_null(out);
}

cw_code cw_scan_install(cw_db *db, cw_error *err)
{
    db->scan = calloc(1, sizeof *db->scan);
    if (db->scan == NULL)
        return cw_error_memory(err);
    /* The connection frees it, also when this call fails. */
    if (sqlite3_create_function_v2(db->raw, "hand_over", -1, SQLITE_UTF8 | SQLITE_DIRECTONLY, db->scan, NULL,
                                   hand_over, handed_over, free) != SQLITE_OK)
        return cw_db_fail(db->raw, err, "setting up the connection");
    return CW_OK;
}

cw_code cw_stmt_scan(cw_stmt *s, cw_scanned_taker take, void *context, cw_error *err)
{
    struct cw_scan *scan = s->db->scan;
    cw_code code = cw_stmt_ready(s, err);
    if (code != CW_OK)
        return code;
    *scan = (struct cw_scan){ .take = take, .context = context };
    int rc = sqlite3_step(s->raw);
    code = rc == SQLITE_ROW || scan->stopped ? CW_OK : cw_db_fail(s->db->raw, err, "reading");
    if (code == CW_OK && scan->damaged)
        code = cw_db_damaged(err, "a line or a promise is none that can be");
    sqlite3_reset(s->raw);
    *scan = (struct cw_scan){ .take = NULL };
    return code;
}

int64_t cw_scanned_int(const cw_scanned *r, int column)
{
    return sqlite3_value_int64(r->values[column]);
}
