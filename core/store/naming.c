/* SPDX-License-Identifier: MIT */
#include "store/naming.h"

#include "base/text.h"
#include "columns/naming.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <string.h>

#include "base/banned.h"

static const cw_column former_columns[] = {
    { "code", CW_TEXT_T, .says = "a code that the variety had once; it still finds it" },
    { "variety", CW_TEXT_T, .says = "its code today" },
    { "at", CW_INSTANT_T },
    { "actor", CW_TEXT_T },
    { "why", CW_TEXT_T },
};
const cw_shape cw_naming_formers_shape = CW_ROWS(former_columns);

cw_code cw_naming_variety(cw_db *db, const char *code, bool *found, cw_named_variety *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "naming.variety");
    cw_code done = cw_stmt_one(q, found, err, "t", code);
    if (done == CW_OK && *found) {
        out->id = cw_col_int(q, naming_variety_id);
        cw_copy(out->code, sizeof out->code, cw_col_text(q, naming_variety_code));
        cw_copy(out->name, sizeof out->name, cw_col_text(q, naming_variety_name));
    }
    cw_code end = cw_stmt_end(q, err);
    return done == CW_OK ? end : done;
}

cw_code cw_naming_reach_of(cw_db *db, const cw_named_variety *v, cw_naming_reach *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "naming.reach");
    bool found = false;
    cw_code done = cw_stmt_one(q, &found, err, "it", v->id, v->code);
    if (done == CW_OK && found)
        *out = (cw_naming_reach){ .lots = cw_col_int(q, naming_reach_lots),
                                  .lines = cw_col_int(q, naming_reach_lines),
                                  .wishes = cw_col_int(q, naming_reach_wishes),
                                  .history = cw_col_int(q, naming_reach_history),
                                  .picks = cw_col_int(q, naming_reach_picks),
                                  .firm = cw_col_int(q, naming_reach_firm),
                                  .parcels = cw_col_int(q, naming_reach_parcels),
                                  .taken = cw_col_int(q, naming_reach_taken),
                                  .notices = cw_col_int(q, naming_reach_notices),
                                  .seasons = cw_col_int(q, naming_reach_seasons),
                                  .plantings = cw_col_int(q, naming_reach_plantings) };
    cw_code end = cw_stmt_end(q, err);
    return done == CW_OK ? end : done;
}

cw_code cw_naming_rename(cw_db *db, const cw_named_variety *v, const char *to, const cw_naming_record *r,
                         cw_error *err)
{
    cw_code done = cw_stmt_run(cw_db_stmt(db, "naming.unformer"), err, "t", to);
    if (done == CW_OK)
        done = cw_stmt_run(cw_db_stmt(db, "naming.rename"), err, "it", v->id, to);
    if (done == CW_OK)
        done = cw_stmt_run(cw_db_stmt(db, "naming.former"), err, "tiitt", v->code, v->id, (int64_t)r->at,
                           r->actor, r->why);
    return done;
}

cw_code cw_naming_formers(cw_db *db, cw_table *out, cw_error *err)
{
    cw_table_init(out, former_columns, CW_WIDTH(former_columns));
    return cw_rows_fill(db, "naming.formers", out, err, "");
}

cw_code cw_naming_lot(cw_db *db, const char *lot, cw_named_lot *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "naming.lot");
    bool found = false;
    char shown[80];
    cw_code done = cw_stmt_one(q, &found, err, "t", lot);
    if (done == CW_OK && found) {
        *out = (cw_named_lot){ .id = cw_col_int(q, naming_lot_id),
                               .variety_id = cw_col_int(q, naming_lot_variety_id),
                               .dug_on = (cw_day)cw_col_int(q, naming_lot_dug_on),
                               .clumps = cw_col_int(q, naming_lot_clumps),
                               .divisions = cw_col_int(q, naming_lot_divisions),
                               .sessions = cw_col_int(q, naming_lot_sessions),
                               .checks = cw_col_int(q, naming_lot_checks),
                               .open_picks = cw_col_int(q, naming_lot_picks),
                               .taken = cw_col_int(q, naming_lot_taken),
                               .parcels = cw_col_int(q, naming_lot_parcels) };
        cw_copy(out->code, sizeof out->code, cw_col_text(q, naming_lot_variety));
        cw_copy(out->name, sizeof out->name, cw_col_text(q, naming_lot_name));
    }
    cw_code end = cw_stmt_end(q, err);
    if (done == CW_OK && !found)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lot", "there is no lot %s",
                           cw_shown(lot, strlen(lot), shown));
    return done == CW_OK ? end : done;
}

cw_code cw_naming_promised_of(cw_db *db, int64_t variety_id, cw_naming_promised *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "naming.promised");
    bool found = false;
    cw_code done = cw_stmt_one(q, &found, err, "i", variety_id);
    if (done == CW_OK && found)
        *out = (cw_naming_promised){ cw_col_int(q, naming_promised_clumps),
                                     cw_col_int(q, naming_promised_divisions),
                                     cw_col_int(q, naming_promised_firm),
                                     cw_col_int(q, naming_promised_notices) };
    cw_code end = cw_stmt_end(q, err);
    return done == CW_OK ? end : done;
}

cw_code cw_naming_relabel(cw_db *db, const cw_named_lot *lot, int64_t to, const cw_naming_record *r,
                          cw_error *err)
{
    cw_code done = cw_stmt_run(cw_db_stmt(db, "naming.relabel"), err, "ii", lot->id, to);
    if (done == CW_OK)
        done = cw_stmt_run(cw_db_stmt(db, "naming.relabelled"), err, "iiiitt", lot->id, lot->variety_id, to,
                           (int64_t)r->at, r->actor, r->why);
    return done;
}
