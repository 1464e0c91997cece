/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_OFFERED_SEASON_H
#define CW_TESTS_SUPPORT_OFFERED_SEASON_H

/* What of a variety is offered, said past the desk: for tests of what may be sold of it. */
#include "support/intake.h"
#include "support/order_desk.h"

#include "columns/intake.h"
#include "store/offers.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static inline void release(test_nursery *t, const char *code, int64_t offered)
{
    cw_error err = CW_ERROR_NONE;
    bool found = false;
    int64_t before = 0;
    cw_stmt *s = cw_db_stmt(t->n->db, "intake.variety");
    cw_check_ok(cw_stmt_one(s, &found, &err, "t", code), &err);
    int64_t id = cw_col_int(s, intake_variety_id);
    cw_check_ok(cw_stmt_end(s, &err), &err);
    cw_release r = {
        .variety_id = id, .at = t->who.now, .actor = "tester", .offered = offered, .basis = "{}"
    };
    cw_check_ok(cw_work_begin(t->n, &err), &err);
    cw_check_ok(cw_work_end(t->n, cw_offer_release(t->n->db, &r, &before, &err), &err), &err);
}

#define ORDER_HEADER "order,received_at,line,variety,quantity,unit_price\n"

#endif
