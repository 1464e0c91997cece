/* SPDX-License-Identifier: MIT */
#include "store/claims.h"

#include "base/text.h"
#include "columns/claims.h"
#include "store/rows.h"
#include "store/statement_inside.h"

#include "base/banned.h"

cw_code cw_claims_received(cw_db *db, int64_t line_id, int64_t *received, int64_t *claimed, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "claims.received");
    cw_code code = cw_stmt_one(q, &found, err, "i", line_id);
    *received = found ? cw_col_int(q, claims_received_received) : 0;
    *claimed = found ? cw_col_int(q, claims_received_claimed) : 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_claim_add(cw_db *db, cw_claim_row *row, cw_instant at, const char *actor, const char *why,
                     cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "claims.add"), err, "iiiitt", row->order_id, row->line_id,
                               row->quantity, at, actor, why);
    row->id = cw_db_last_id(db);
    return code;
}

cw_code cw_claim_read(cw_db *db, int64_t id, cw_claim_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "claims.read");
    *out = (cw_claim_row){ .id = id };
    cw_code code = cw_stmt_one(q, &found, err, "i", id);
    if (code == CW_OK && found) {
        cw_copy(out->order, sizeof out->order, cw_col_text(q, claims_read_number));
        out->line = (int)cw_col_int(q, claims_read_line);
        out->order_id = cw_col_int(q, claims_read_order_id);
        out->line_id = cw_col_int(q, claims_read_line_id);
        out->quantity = cw_col_int(q, claims_read_quantity);
        cw_copy(out->answer, sizeof out->answer, cw_col_text(q, claims_read_answer));
        out->unit_price = cw_col_int(q, claims_read_unit_price);
        out->forgotten = cw_col_int(q, claims_read_forgotten) != 0;
    }
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && end == CW_OK && !found)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "claim", "there is no claim %lld", (long long)id);
    return code == CW_OK ? end : code;
}

cw_code cw_claim_answer_set(cw_db *db, const cw_claim_answer *a, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "claims.answer"), err, "itIititIii", a->id, a->answer,
                       a->lot_id ? &a->lot_id : NULL, a->amount, a->reply, a->at, a->actor,
                       a->replacement_id ? &a->replacement_id : NULL, a->reserve_used,
                       (int64_t)(a->replacement_line ? a->replacement_line : 1));
}

cw_code cw_claim_lot_find(cw_db *db, int64_t line_id, const char *lot, int64_t quantity, bool *found,
                          cw_claim_lot *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "claims.lots");
    cw_code code = cw_stmt_one(q, found, err, "iti", line_id, lot, quantity);
    if (code == CW_OK && *found) {
        *out = (cw_claim_lot){ .id = cw_col_int(q, claims_lots_id),
                               .variety_id = cw_col_int(q, claims_lots_variety_id),
                               .reserve = cw_col_int(q, claims_lots_reserve),
                               .place_id = cw_col_int(q, claims_lots_place_id) };
        cw_copy(out->lot, sizeof out->lot, cw_col_text(q, claims_lots_lot));
        cw_copy(out->variety, sizeof out->variety, cw_col_text(q, claims_lots_variety));
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_claim_spare(cw_db *db, int64_t variety_id, int64_t *spare, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "claims.standing");
    cw_code code = cw_stmt_one(q, &found, err, "i", variety_id);
    *spare = found ? cw_col_int(q, claims_standing_divisions) - cw_col_int(q, claims_standing_promised) -
                         cw_col_int(q, claims_standing_kept)
                   : 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_claim_order_add(cw_db *db, int64_t claim, const char *number, cw_instant at, int64_t *order_id,
                           cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "claims.add_order"), err, "iti", claim, number, at);
    *order_id = cw_db_last_id(db);
    return code;
}

cw_code cw_claim_line_add(cw_db *db, int64_t order_id, int line, int64_t variety_id, int64_t quantity,
                          int64_t *line_id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "claims.add_line"), err, "iiii", order_id, (int64_t)line,
                               variety_id, quantity);
    *line_id = cw_db_last_id(db);
    return code;
}

cw_code cw_claim_of_parcel(cw_db *db, int64_t parcel,
                           void (*take)(void *context, const char *order, int line, int64_t quantity),
                           void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "claims.of_parcel");
    cw_code code = cw_stmt_start(q, err, "i", parcel);
    while (code == CW_OK && cw_stmt_next(q))
        take(context, cw_col_text(q, claims_of_parcel_number), (int)cw_col_int(q, claims_of_parcel_line),
             cw_col_int(q, claims_of_parcel_quantity));
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_claim_open_again(cw_db *db, int64_t order_id, int line, cw_error *err)
{
    int64_t one = line;
    const int64_t *of = line ? &one : NULL;
    cw_code code = cw_stmt_run(cw_db_stmt(db, "claims.give_back"), err, "iI", order_id, of);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "claims.open_again"), err, "iI", order_id, of) : code;
}

cw_code cw_claim_use_reserve(cw_db *db, int64_t variety_id, int64_t quantity, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "claims.use_reserve"), err, "ii", variety_id, quantity);
}

static const cw_column claims_rows_columns[] = {
    { "claim", CW_INT_T },
    { "order", CW_TEXT_T },
    { "line", CW_INT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "variety", CW_TEXT_T, .null = true },
    { "name", CW_TEXT_T, .null = true },
    { "quantity", CW_INT_T },
    { "at", CW_INSTANT_T },
    { "why", CW_TEXT_T },
    { "answer", CW_TEXT_T, .words = cw_words_claim_answers },
    { "lot", CW_TEXT_T, .null = true },
    { "amount", CW_MONEY_T },
    { "reply", CW_TEXT_T, .null = true },
    { "answered_at", CW_INSTANT_T, .null = true },
    { "answered_by", CW_TEXT_T, .null = true },
    { "replacement", CW_TEXT_T, .null = true, .says = "The order that brings it." },
};
const cw_shape cw_claims_rows_shape = CW_ROWS(claims_rows_columns);

cw_code cw_claims_rows(cw_db *db, const char *answer, cw_table *out, cw_error *err)
{
    cw_table_init(out, claims_rows_columns, CW_WIDTH(claims_rows_columns));
    return cw_rows_fill(db, "claims.list", out, err, "t", answer);
}
