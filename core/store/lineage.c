/* SPDX-License-Identifier: MIT */
#include "store/lineage.h"

#include "base/text.h"
#include "columns/lineage.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static void read_kin(cw_stmt *s, cw_kin *k)
{
    *k = (cw_kin){ .id = cw_col_int(s, lineage_lots_id),
                   .day = (cw_day)cw_col_int(s, lineage_lots_day),
                   .quantity = cw_col_int(s, lineage_lots_quantity),
                   .sent = cw_col_int(s, lineage_lots_sent),
                   .planting = cw_col_int(s, lineage_lots_planting),
                   .split_of = cw_col_int(s, lineage_lots_split_of),
                   .of_season = (int)cw_col_int(s, lineage_lots_of_season) };
    cw_copy(k->code, sizeof k->code, cw_col_text_there(s, lineage_lots_code));
    cw_copy(k->variety, sizeof k->variety, cw_col_text_there(s, lineage_lots_variety));
    cw_copy(k->name, sizeof k->name, cw_col_text_there(s, lineage_lots_name));
    cw_copy(k->row, sizeof k->row, cw_col_text_there(s, lineage_lots_row));
    cw_copy(k->lot, sizeof k->lot, cw_col_text_there(s, lineage_lots_lot));
    cw_copy(k->held, sizeof k->held, cw_col_text_there(s, lineage_lots_held));
    cw_copy(k->was, sizeof k->was, cw_col_text_there(s, lineage_lots_was));
}

/* The statement was started, or `code` says why not. */
static cw_code take_all(cw_stmt *s, cw_code code, cw_kin_taker take, void *context, cw_error *err)
{
    cw_kin k;
    bool more = true;
    while (code == CW_OK && more && cw_stmt_next(s)) {
        read_kin(s, &k);
        more = take(context, &k);
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_lineage_lots(cw_db *db, const cw_lots_of *of, cw_kin_taker take, void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "lineage.lots");
    cw_code code =
        cw_stmt_start(s, err, "ttIttII", of->code, of->row, of->planting ? &of->planting : NULL, of->variety,
                      of->order, of->id ? &of->id : NULL, of->split_of ? &of->split_of : NULL);
    return take_all(s, code, take, context, err);
}

cw_code cw_lineage_plantings(cw_db *db, const cw_plantings_of *of, cw_kin_taker take, void *context,
                             cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "lineage.plantings");
    cw_code code = cw_stmt_start(s, err, "Ittiitt", of->id ? &of->id : NULL, of->row, of->lot,
                                 (int64_t)of->season, (int64_t)of->before, of->variety, of->own);
    code = take_all(s, code, take, context, err);
    if (code != CW_OK || of->own == NULL)
        return code;
    s = cw_db_stmt(db, "lineage.planted");
    return take_all(s, cw_stmt_start(s, err, "t", of->own), take, context, err);
}

cw_code cw_lineage_codes(cw_db *db, const char *code, bool (*take)(void *context, const char *code),
                         void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "lineage.codes");
    bool more = true;
    cw_code done = cw_stmt_start(s, err, "t", code);
    while (done == CW_OK && more && cw_stmt_next(s))
        more = take(context, cw_col_text_there(s, lineage_codes_code));
    cw_code end = cw_stmt_end(s, err);
    return done == CW_OK ? end : done;
}
