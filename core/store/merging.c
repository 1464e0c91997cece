/* SPDX-License-Identifier: MIT */
#include "store/merging.h"

#include "base/text.h"
#include "columns/merging.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <stdio.h>

#include "base/banned.h"

static const cw_column list_columns[] = {
    { "code", CW_TEXT_T, .says = "the code that is no variety of its own any more" },
    { "variety", CW_TEXT_T, .says = "the code of the one that was kept, then" },
    { "at", CW_INSTANT_T },
    { "actor", CW_TEXT_T },
    { "why", CW_TEXT_T },
    { "undone_at", CW_INSTANT_T, .null = true },
    { "undone_by", CW_TEXT_T, .null = true },
};
const cw_shape cw_merging_list_shape = CW_ROWS(list_columns);

/* In this order: lines before promises, which are "own" by the line's variety; all rows before the variety itself. */
static const char *const join_steps[] = {
    "keep_rows",
    "keep_sums",
    "keep_promises",
    "history",
    "past_check",
    "lot",
    "line",
    "oversell",
    "taken_back",
    "pick",
    "put_back",
    "planting",
    "former_code",
    "relabelling",
    "release",
    "past_sale",
    "past_sale_gone",
    "past_order",
    "past_order_gone",
    "past_planting",
    "past_planting_gone",
    "offering",
    "offering_gone",
    "said_of",
    "said_of_gone",
    "keep_said",
    "keep_said_gone",
    "keep_change",
    "keep_change_gone",
    "allocation",
    "allocation_gone",
    "allocation_own",
    "run_before",
    "run_before_gone",
    "run_before_own",
    "forbidden",
    "forbidden_gone",
    "variety",
    "variety_gone",
};

static const char *const back_steps[] = {
    "back_kept",
    "back_code",
    "back_history",
    "back_past_check",
    "back_lot",
    "back_line",
    "back_oversell",
    "back_taken_back",
    "back_pick",
    "back_put_back",
    "back_planting",
    "back_former_code",
    "back_relabelling",
    "back_release",
    "back_past_sale_gone",
    "back_past_sale",
    "back_past_order_gone",
    "back_past_order",
    "back_past_planting_gone",
    "back_past_planting",
    "back_offering_gone",
    "back_offering",
    "back_said_of_gone",
    "back_said_of",
    "back_keep_said_gone",
    "back_keep_said",
    "back_keep_change_gone",
    "back_keep_change",
    "back_allocation_gone",
    "back_allocation",
    "back_run_before_gone",
    "back_run_before",
    "back_forbidden_gone",
    "back_forbidden",
};

static cw_code run_all(cw_db *db, const char *const *steps, size_t count, int64_t merging, int64_t kept,
                       int64_t gone, cw_error *err)
{
    char name[64];
    cw_code code = CW_OK;
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        snprintf(name, sizeof name, "merging.%s", steps[i]);
        code = cw_stmt_run(cw_db_stmt(db, name), err, "iii", merging, kept, gone);
    }
    return code;
}

cw_code cw_merging_side_of(cw_db *db, int64_t variety_id, cw_merging_side *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "merging.side");
    bool found = false;
    cw_code done = cw_stmt_one(q, &found, err, "i", variety_id);
    if (done == CW_OK && found)
        *out = (cw_merging_side){ .clumps = cw_col_int(q, merging_side_clumps),
                                  .divisions = cw_col_int(q, merging_side_divisions),
                                  .offered = cw_col_int(q, merging_side_offered),
                                  .sold = cw_col_int(q, merging_side_sold),
                                  .price = cw_col_int_or(q, merging_side_price, -1),
                                  .limit = cw_col_int_or(q, merging_side_limit_per_order, -1),
                                  .hold_back = cw_col_int(q, merging_side_hold_back),
                                  .reserve = cw_col_int(q, merging_side_reserve),
                                  .retired = cw_col_int(q, merging_side_retired) != 0 };
    cw_code end = cw_stmt_end(q, err);
    return done == CW_OK ? end : done;
}

cw_code cw_merging_join(cw_db *db, const cw_named_variety *gone, const cw_named_variety *kept,
                        const cw_naming_record *r, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "merging.begun"), err, "iittitt", kept->id, gone->id,
                               kept->code, gone->code, (int64_t)r->at, r->actor, r->why);
    int64_t id = cw_db_last_id(db);
    if (code == CW_OK)
        code = run_all(db, join_steps, sizeof join_steps / sizeof join_steps[0], id, kept->id, gone->id, err);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "merging.former"), err, "tiitt", gone->code, kept->id,
                           (int64_t)r->at, r->actor, r->why);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "merging.stood"), err, "ii", id, kept->id) : code;
}

cw_code cw_merging_of_code(cw_db *db, const char *code, bool *found, cw_merging *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "merging.of_code");
    cw_code done = cw_stmt_one(q, found, err, "t", code);
    if (done == CW_OK && *found) {
        *out = (cw_merging){ .id = cw_col_int(q, merging_of_code_id),
                             .kept = cw_col_int(q, merging_of_code_kept),
                             .stands = cw_col_int(q, merging_of_code_stands) != 0 };
        cw_copy(out->kept_code, sizeof out->kept_code, cw_col_text(q, merging_of_code_kept_code));
    }
    cw_code end = cw_stmt_end(q, err);
    return done == CW_OK ? end : done;
}

cw_code cw_merging_touched(cw_db *db, const cw_merging *m, char part[48], cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "merging.touched");
    bool found = false;
    cw_code done = cw_stmt_one(q, &found, err, "i", m->id);
    cw_copy(part, 48, done == CW_OK && found ? cw_col_text(q, merging_touched_part) : "");
    cw_code end = cw_stmt_end(q, err);
    return done == CW_OK ? end : done;
}

cw_code cw_merging_rows_of(cw_db *db, const cw_merging *m, cw_merging_rows *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "merging.rows");
    bool found = false;
    cw_code done = cw_stmt_one(q, &found, err, "i", m->id);
    if (done == CW_OK && found)
        *out = (cw_merging_rows){ cw_col_int(q, merging_rows_lots), cw_col_int(q, merging_rows_lines),
                                  cw_col_int(q, merging_rows_plantings), cw_col_int(q, merging_rows_past) };
    cw_code end = cw_stmt_end(q, err);
    return done == CW_OK ? end : done;
}

cw_code cw_merging_part(cw_db *db, const cw_merging *m, cw_instant at, const char *actor, cw_error *err)
{
    /* Its code is a former one of the other until that is gone, so the variety comes first and the code's row goes after. */
    cw_code code = cw_stmt_run(cw_db_stmt(db, "merging.back_variety"), err, "i", m->id);
    int64_t gone = cw_db_last_id(db);
    if (code == CW_OK)
        code = run_all(db, back_steps, sizeof back_steps / sizeof back_steps[0], m->id, m->kept, gone, err);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "merging.undone"), err, "iit", m->id, (int64_t)at, actor);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "merging.drop_rows"), err, "i", m->id) : code;
}

cw_code cw_merging_list(cw_db *db, cw_table *out, cw_error *err)
{
    cw_table_init(out, list_columns, CW_WIDTH(list_columns));
    return cw_rows_fill(db, "merging.list", out, err, "");
}
