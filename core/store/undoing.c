/* SPDX-License-Identifier: MIT */
/* A run that was made firm, taken back whole. */
#include "store/allocations.h"

#include "columns/allocations.h"
#include "store/statement_inside.h"
#include <string.h>

#include "base/banned.h"

cw_code cw_run_standing_find(cw_db *db, cw_run_standing *out, bool *found, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "allocations.run_standing");
    cw_code code = cw_stmt_one(q, found, err, "");
    if (code == CW_OK && *found) {
        *out = (cw_run_standing){ .id = cw_col_int(q, allocations_run_standing_id),
                                  .at = cw_col_int(q, allocations_run_standing_at),
                                  .placed = cw_col_int(q, allocations_run_standing_placed) };
        cw_copy(out->what, sizeof out->what, cw_col_text(q, allocations_run_standing_what));
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

/* Nothing of what the run promised was taken back, cancelled or changed since. */
static cw_code still_whole(cw_db *db, const cw_run_standing *run, int64_t *lines, cw_error *err)
{
    bool found = false;
    int64_t added = 0, least = 0;
    cw_stmt *q = cw_db_stmt(db, "allocations.run_added");
    cw_code code = cw_stmt_one(q, &found, err, "it", run->id, run->what);
    if (code == CW_OK) {
        *lines = cw_col_int(q, allocations_run_added_lines);
        added = cw_col_int(q, allocations_run_added_added);
        least = cw_col_int(q, allocations_run_added_least);
    }
    cw_code end = cw_stmt_end(q, err);
    code = code == CW_OK ? end : code;
    if (code == CW_OK && (added != run->placed || least < 0))
        return cw_error_set(
            err, CW_CONFLICT,
            "since run %lld some of what it promised was taken back, cancelled or changed (%lld of "
            "%lld divisions stand), so it cannot be undone whole; take back the rest line by line",
            (long long)run->id, (long long)added, (long long)run->placed);
    return code;
}

/* `query` finds a line of the run on which something rests; `sentence` says what. */
static cw_code nothing_rests(cw_db *db, const char *query, const cw_run_standing *run, bool since,
                             const char *sentence, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, query);
    cw_code code = since ? cw_stmt_one(q, &found, err, "ii", run->id, run->at)
                         : cw_stmt_one(q, &found, err, "i", run->id);
    if (code == CW_OK && found)
        code = cw_error_set(err, CW_CONFLICT, "run %lld cannot be undone: order %s line %lld %s",
                            (long long)run->id, cw_col_text(q, allocations_run_picked_number),
                            (long long)cw_col_int(q, allocations_run_picked_line), sentence);
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_run_undo(cw_db *db, const cw_run_standing *run, cw_instant at, const char *actor, const char *why,
                    int64_t *lines, cw_error *err)
{
    cw_code code = nothing_rests(db, "allocations.run_picked", run, false,
                                 "is pulled from store or on an open pick list; undo those picks first", err);
    if (code == CW_OK)
        code = nothing_rests(
            db, "allocations.run_told", run, true,
            "was told of it by a notice that was sent; take back line by line, with that buyer's "
            "word",
            err);
    if (code == CW_OK)
        code = still_whole(db, run, lines, err);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "allocations.run_take_back"), err, "iitt", run->id, at, actor, why);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "allocations.run_clear"), err, "i", run->id);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "allocations.run_restore"), err, "i", run->id);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "allocations.run_undone"), err, "iitt", run->id, at, actor, why);
    return code;
}
