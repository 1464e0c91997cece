/* SPDX-License-Identifier: MIT */
#include "store/forgetting.h"

#include "columns/forgetting.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static cw_code each(cw_stmt *s, cw_code code, cw_forgettable_taker take, void *context, cw_error *err)
{
    bool on = true;
    while (code == CW_OK && on && cw_stmt_next(s)) {
        const char *person = cw_col_text(s, forgetting_find_person);
        cw_forgettable row = { .id = cw_col_int(s, forgetting_find_id),
                               .known = cw_col_int(s, forgetting_find_known) != 0,
                               .order = cw_col_text(s, forgetting_find_number),
                               .state = cw_col_text(s, forgetting_find_state),
                               .customer = cw_col_text(s, forgetting_find_customer),
                               .email = cw_col_text(s, forgetting_find_email),
                               .postcode = cw_col_text(s, forgetting_find_postcode),
                               .notes = cw_col_int(s, forgetting_find_notes),
                               .notices = cw_col_int(s, forgetting_find_notices),
                               .claims = cw_col_int(s, forgetting_find_claims),
                               .person = person ? person : "" };
        on = take(context, &row);
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

cw_code cw_forgetting_find(cw_db *db, const char *customer, const char *postcode, cw_forgettable_taker take,
                           void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "forgetting.find");
    return each(s, cw_stmt_start(s, err, "tt", customer, postcode), take, context, err);
}

cw_code cw_forgetting_out_of_date(cw_db *db, cw_day before, cw_forgettable_taker take, void *context,
                                  cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "forgetting.out_of_date");
    cw_code code = cw_stmt_start(s, err, "ii", (cw_instant)before * CW_DAY_MS, (int64_t)before);
    return each(s, code, take, context, err);
}

static cw_code run_all(cw_db *db, const char *const *steps, size_t count, int64_t order, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = cw_stmt_run(cw_db_stmt(db, steps[i]), err, "i", order);
    return code;
}

cw_code cw_forgetting_numbers(cw_db *db, int64_t order, cw_error *err)
{
    static const char *const steps[] = { "forgetting.untold",           "forgetting.numbers",
                                         "forgetting.numbers_of_boxes", "forgetting.numbers_brought",
                                         "forgetting.numbers_of_hooks", "forgetting.told" };
    bool claimed = false;
    cw_stmt *q = cw_db_stmt(db, "forgetting.claimed");
    cw_code code = cw_stmt_one(q, &claimed, err, "i", order), end = cw_stmt_end(q, err);
    if (code != CW_OK || end != CW_OK || claimed)
        return code == CW_OK ? end : code;
    return run_all(db, steps, sizeof steps / sizeof steps[0], order, err);
}

/* Every place where a text may name the buyer. desk/test_erased looks through the bytes of the file for what is left. */
cw_code cw_forgetting_blank(cw_db *db, int64_t order, cw_error *err)
{
    static const char *const steps[] = { "forgetting.blank",           "forgetting.events",
                                         "forgetting.notices",         "forgetting.claims",
                                         "forgetting.answers",         "forgetting.taken_back",
                                         "forgetting.holds",           "forgetting.forbidden",
                                         "forgetting.overruled_place", "forgetting.overruled_frost",
                                         "forgetting.corrected",       "forgetting.letters",
                                         "forgetting.forbidden_merged" };
    cw_code code = run_all(db, steps, sizeof steps / sizeof steps[0], order, err);
    return code == CW_OK ? cw_forgetting_numbers(db, order, err) : code;
}

cw_code cw_forgetting_known(cw_db *db, int64_t known, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "forgetting.known"), err, "i", known);
}
