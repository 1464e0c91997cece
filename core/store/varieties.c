/* SPDX-License-Identifier: MIT */
#include "store/varieties.h"

#include "base/text.h"
#include "store/statement_inside.h"
#include <string.h>

#include "base/banned.h"

cw_code cw_variety_terms_read(cw_db *db, const char *code, cw_variety_terms *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "varieties.terms");
    bool found = false;
    char shown[80];
    cw_code done = cw_stmt_one(q, &found, err, "t", code);
    if (done == CW_OK && found)
        *out = (cw_variety_terms){ .hold_back = cw_col_int(q, cw_col_named(q, "hold_back")),
                                   .reserve = cw_col_int(q, cw_col_named(q, "reserve")),
                                   .limit_per_order = cw_col_int(q, cw_col_named(q, "limit_per_order")),
                                   .price = cw_col_int_or(q, cw_col_named(q, "price"), -1),
                                   .retired = cw_col_int(q, cw_col_named(q, "retired")) != 0,
                                   .own_low = cw_col_real(q, cw_col_named(q, "own_low")),
                                   .own_high = cw_col_real(q, cw_col_named(q, "own_high")),
                                   .version = cw_col_int(q, cw_col_named(q, "version")) };
    cw_code end = cw_stmt_end(q, err);
    if (done == CW_OK && !found)
        return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s",
                            cw_shown(code, strlen(code), shown));
    return done == CW_OK ? end : done;
}

cw_code cw_variety_terms_write(cw_db *db, const char *code, const cw_variety_terms *t, bool *done,
                               cw_error *err)
{
    cw_code c =
        cw_stmt_run(cw_db_stmt(db, "varieties.edit"), err, "tiiIIiirr", code, t->hold_back, t->reserve,
                    t->price >= 0 ? &t->price : NULL, t->limit_per_order > 0 ? &t->limit_per_order : NULL,
                    (int64_t)t->retired, t->version, t->own_low, t->own_high);
    *done = c == CW_OK && cw_db_changes(db) == 1;
    return c;
}
