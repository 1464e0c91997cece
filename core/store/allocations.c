/* SPDX-License-Identifier: MIT */
#include "store/allocations.h"

#include "columns/allocations.h"
#include "store/book.h"
#include "store/statement_inside.h"
#include <string.h>

#include "base/banned.h"

static const char *const kinds[] = { "own", "substitute", "assortment" };

static cw_promise_kind kind_of(const char *word)
{
    for (int i = 0; i < 3; i++)
        if (strcmp(kinds[i], word) == 0)
            return (cw_promise_kind)i;
    return CW_PROMISE_OWN;
}

cw_code cw_runs_add(cw_db *db, cw_run_row *row, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "allocations.run");
    cw_code code = row->confidence < 0
                       ? cw_stmt_run(s, err, "ittttttii", row->at, row->actor, row->what, row->rule,
                                     row->supply, (const char *)NULL, row->digest, row->lines, row->placed)
                       : cw_stmt_run(s, err, "ittttrtii", row->at, row->actor, row->what, row->rule,
                                     row->supply, row->confidence, row->digest, row->lines, row->placed);
    row->id = cw_db_last_id(db);
    return code;
}

cw_code cw_runs_each(cw_db *db, int64_t most, void (*take)(void *context, const cw_run_row *row),
                     void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "allocations.runs");
    cw_code code = cw_stmt_start(q, err, "i", most);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_run_row row = { .id = cw_col_int(q, allocations_runs_id),
                           .at = cw_col_int(q, allocations_runs_at),
                           .actor = cw_col_text(q, allocations_runs_actor),
                           .what = cw_col_text(q, allocations_runs_what),
                           .rule = cw_col_text(q, allocations_runs_rule),
                           .supply = cw_col_text(q, allocations_runs_supply),
                           .confidence = cw_col_null(q, allocations_runs_confidence)
                                             ? -1
                                             : cw_col_real(q, allocations_runs_confidence),
                           .digest = cw_col_text(q, allocations_runs_digest),
                           .lines = cw_col_int(q, allocations_runs_lines),
                           .placed = cw_col_int(q, allocations_runs_placed),
                           .undone = cw_col_null(q, allocations_runs_undone_at)
                                         ? 0
                                         : cw_col_int(q, allocations_runs_undone_at) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

static cw_code read_how(cw_db *db, const char *statement, const char *by, cw_run_how *out, bool *found,
                        cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, statement);
    cw_code code = cw_stmt_one(q, found, err, "t", by);
    if (code == CW_OK && *found) {
        cw_copy(out->rule, sizeof out->rule, cw_col_text(q, allocations_last_run_rule));
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_runs_last(cw_db *db, const char *what, cw_run_how *out, bool *found, cw_error *err)
{
    return read_how(db, "allocations.last_run", what, out, found, err);
}

cw_code cw_runs_last_of(cw_db *db, const char *variety, cw_run_how *out, bool *found, cw_error *err)
{
    return read_how(db, "allocations.last_run_of", variety, out, found, err);
}

cw_code cw_line_last(cw_db *db, int64_t *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "allocations.last_line");
    bool found = false;
    cw_code code = cw_stmt_one(q, &found, err, "");
    *out = found ? cw_col_int(q, allocations_last_line_id) : 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

static uint8_t tier_of(const char *word)
{
    return word && strcmp(word, "wholesale") == 0 ? CW_BOOK_WHOLESALE
           : word && strcmp(word, "other") == 0   ? CW_BOOK_OTHER
                                                  : CW_BOOK_RETAIL;
}

cw_code cw_arrived_each(cw_db *db, int64_t mark, bool (*take)(void *context, const cw_arrived_line *line),
                        void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "allocations.arrived");
    cw_code code = cw_stmt_start(q, err, "i", mark);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_arrived_line line = { .id = cw_col_int(q, allocations_arrived_id),
                                 .order_id = cw_col_int(q, allocations_arrived_order_id),
                                 .line = (int)cw_col_int(q, allocations_arrived_line),
                                 .variety_id = cw_col_int(q, allocations_arrived_variety_id),
                                 .code = cw_col_text(q, allocations_arrived_code),
                                 .quantity = cw_col_int(q, allocations_arrived_quantity),
                                 .order = cw_col_text(q, allocations_arrived_number),
                                 .tier = tier_of(cw_col_text(q, allocations_arrived_tier)),
                                 .ship_complete = cw_col_int(q, allocations_arrived_ship_complete) != 0,
                                 .rest = cw_col_int(q, allocations_arrived_rest) != 0 };
        if (!take(context, &line))
            code = cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

const char *cw_promise_kind_word(cw_promise_kind kind)
{
    return kinds[kind];
}

cw_code cw_promises_each(cw_db *db, int64_t line, void (*take)(void *context, const cw_promise_row *row),
                         void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "allocations.of_line");
    cw_code code = cw_stmt_start(q, err, "i", line);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_promise_row row = {
            .variety_id = cw_col_int(q, allocations_of_line_variety_id),
            .code = cw_col_text(q, allocations_of_line_code),
            .name = cw_col_text(q, allocations_of_line_name),
            .quantity = cw_col_int(q, allocations_of_line_quantity),
            .kind = kind_of(cw_col_text(q, allocations_of_line_kind)),
            .why = { cw_col_int(q, allocations_of_line_reason),
                     { cw_col_int(q, allocations_of_line_n1), cw_col_int(q, allocations_of_line_n2),
                       cw_col_int(q, allocations_of_line_n3), cw_col_int(q, allocations_of_line_n4) } },
            .at = cw_col_int(q, allocations_of_line_at),
            .rule = cw_col_text(q, allocations_of_line_rule),
            .picked = cw_col_int(q, allocations_of_line_picked),
            .pulling = cw_col_int(q, allocations_of_line_pulling),
        };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

typedef struct standing {
    int64_t variety, promised, picked, pulling;
    char code[CW_MAX_CODE + 1];
} standing;

static void note_standing(void *context, const cw_promise_row *row)
{
    standing *s = context;
    if (row->variety_id != s->variety)
        return;
    s->promised = row->quantity;
    s->picked = row->picked;
    s->pulling = row->pulling;
    cw_copy(s->code, sizeof s->code, row->code);
}

cw_code cw_promise_take_back(cw_db *db, const cw_taking_back *t, cw_error *err)
{
    standing s = { .variety = t->variety };
    cw_code code = cw_promises_each(db, t->line, note_standing, &s, err);
    if (code != CW_OK)
        return code;
    if (s.promised < t->quantity)
        return cw_error_set(err, CW_CONFLICT,
                            "only %lld of it %s promised to this line, so %lld cannot be taken back",
                            (long long)s.promised, s.promised == 1 ? "is" : "are", (long long)t->quantity);
    if (s.promised - s.picked - s.pulling < t->quantity)
        return cw_error_set(
            err, CW_CONFLICT,
            "of %lld %s promised to this line, %lld %s pulled and %lld on an open pick list; undo those "
            "picks first",
            (long long)s.promised, s.code, (long long)s.picked, s.picked == 1 ? "is" : "are",
            (long long)s.pulling);
    code = cw_stmt_run(cw_db_stmt(db, "allocations.lessen"), err, "iii", t->line, t->variety, t->quantity);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "allocations.taken_back"), err, "iiiitt", t->line, t->variety,
                           t->quantity, t->at, t->actor, t->why);
    return code;
}

cw_code cw_taken_back_each(cw_db *db, int64_t line, void (*take)(void *context, const cw_taken_back_row *row),
                           void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "allocations.taken_back_of_line");
    cw_code code = cw_stmt_start(q, err, "i", line);
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_taken_back_row row = { cw_col_text(q, allocations_taken_back_of_line_code),
                                  cw_col_int(q, allocations_taken_back_of_line_quantity),
                                  cw_col_int(q, allocations_taken_back_of_line_at),
                                  cw_col_text(q, allocations_taken_back_of_line_actor),
                                  cw_col_text(q, allocations_taken_back_of_line_why) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_forbidden_add(cw_db *db, const cw_taking_back *f, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "allocations.forbid"), err, "iiitt", f->line, f->variety, f->at,
                       f->actor, f->why);
}

cw_code cw_forbidden_drop(cw_db *db, int64_t line, int64_t variety, bool *was, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "allocations.permit"), err, "ii", line, variety);
    *was = code == CW_OK && cw_db_changes(db) > 0;
    return code;
}

cw_code cw_forbidden_each(cw_db *db, void (*take)(void *context, const cw_forbidden_row *row), void *context,
                          cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "allocations.forbidden");
    cw_code code = cw_stmt_start(q, err, "");
    while (code == CW_OK && cw_stmt_next(q)) {
        cw_forbidden_row row = { cw_col_int(q, allocations_forbidden_line_id),
                                 cw_col_int(q, allocations_forbidden_variety_id),
                                 cw_col_text(q, allocations_forbidden_number),
                                 (int)cw_col_int(q, allocations_forbidden_line),
                                 cw_col_null(q, allocations_forbidden_asked)
                                     ? NULL
                                     : cw_col_text(q, allocations_forbidden_asked),
                                 cw_col_text(q, allocations_forbidden_variety),
                                 cw_col_int(q, allocations_forbidden_at),
                                 cw_col_text(q, allocations_forbidden_actor),
                                 cw_col_text(q, allocations_forbidden_why) };
        take(context, &row);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}
