/* SPDX-License-Identifier: MIT */
#include "store/factor.h"

#include "base/text.h"
#include "columns/factor.h"
#include "store/statement_inside.h"

#include "base/banned.h"

cw_code cw_factor_row_find(cw_db *db, int64_t person, bool *found, cw_factor_row *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "factor.find");
    cw_code code = cw_stmt_one(s, found, err, "i", person);
    if (*found) {
        cw_copy(out->secret, sizeof out->secret, cw_col_text(s, factor_find_secret));
        out->on_at = cw_col_int_or(s, factor_find_on_at, CW_NO_INSTANT);
        out->last_step = cw_col_int(s, factor_find_last_step);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_factor_row_begin(cw_db *db, int64_t person, const char *secret, cw_instant at, bool *done,
                            cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "factor.begin"), err, "iti", person, secret, (int64_t)at);
    *done = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

cw_code cw_factor_row_turn_on(cw_db *db, int64_t person, cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "factor.turn_on"), err, "ii", person, (int64_t)at);
}

cw_code cw_factor_row_took(cw_db *db, int64_t person, int64_t step, bool *first, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "factor.took"), err, "ii", person, step);
    *first = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

cw_code cw_factor_row_drop(cw_db *db, int64_t person, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "factor.recovery_drop"), err, "i", person);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "factor.drop"), err, "i", person) : code;
}

cw_code cw_recovery_add(cw_db *db, int64_t person, const char *salt, const char *digest, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "factor.recovery_add"), err, "itt", person, salt, digest);
}

cw_code cw_recovery_each(cw_db *db, int64_t person, void (*row)(void *, const char *, const char *),
                         void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "factor.recovery_list");
    cw_code code = cw_stmt_start(s, err, "i", person);
    while (code == CW_OK && cw_stmt_next(s))
        row(context, cw_col_text(s, factor_recovery_list_salt), cw_col_text(s, factor_recovery_list_digest));
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_recovery_count(cw_db *db, int64_t person, int64_t *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "factor.recovery_count");
    bool found = false;
    cw_code code = cw_stmt_one(s, &found, err, "i", person);
    *out = found ? cw_col_int(s, factor_recovery_count_codes) : 0;
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_recovery_take(cw_db *db, int64_t person, const char *digest, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "factor.recovery_take"), err, "it", person, digest);
}
