/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_STORY_H
#define CW_TESTS_SUPPORT_STORY_H

/* support/season.h, and some more that happens, for tests that read what is told of it. All data are invented. */
#include "support/season.h"

#include "desk/cellar/cellar.h"
#include "desk/buyers/claims.h"
#include "desk/orders/notices.h"

/* After season.h: a session that was taken back, divisions planted, an order cancelled, a claim, what buyers must be told. */
static inline void story_make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_notices_made m;
    int64_t claim = 0;
    season_make(t);
    load_text(t, "past_checks.csv",
              "season,variety,stage,weeks,inspected,rotten,shrivelled\n2029,AMB,clump,6.5,40,2,\n2030,BRI,"
              "division,4,60,3,1\n");
    load_text(t, "past_orders.csv",
              "season,variety,ordered_on,quantity\n2029,AMB,2030-01-12,7\n2029,BRI,2030-01-12,2\n");
    load_text(t, "lots.csv", "lot,variety,dug_on,clumps,row,culled,place\nM5,AMB,2031-10-27,5,r7,2,C2\n");
    cw_cellar_entry cut = { .lot = "M5",
                            .day = CW_NO_DAY,
                            .clumps = 2,
                            .saleable = 9,
                            .blind = 1,
                            .rotten = 0,
                            .place = "C2",
                            .minutes = 14,
                            .people = 2 };
    cw_check_ok(cw_cellar_divide(t->n, &t->who, &cut, &out, &err), &err);
    int64_t id = cw_table_int(&out, 0, 2);
    cw_table_free(&out);
    cw_check_ok(cw_cellar_undo(t->n, &t->who, "dividing", id, "wrong lot", &out, &err), &err);
    cw_table_free(&out);
    cw_cellar_entry move = {
        .lot = "M4", .day = t->who.today - 2, .clumps = CW_NOT_SAID, .divisions = 6, .place = "C3", .to = "C1"
    };
    cw_check_ok(cw_cellar_move(t->n, &t->who, &move, &out, &err), &err);
    cw_table_free(&out);
    cw_cellar_entry planted = { .lot = "M4",
                                .day = t->who.today - 1,
                                .clumps = CW_NOT_SAID,
                                .divisions = 2,
                                .place = "C1",
                                .reason = "planted",
                                .note = "for next year" };
    cw_check_ok(cw_cellar_enter(t->n, &t->who, &planted, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_ordering_cancel(t->n, &t->who, "1005", 0, "moved away", &err), &err);
    cw_claim_ask ask = {
        .order = "1001", .line = 1, .quantity = 1, .why = "soft", .answer = "refund", .reply = "sorry"
    };
    cw_check_ok(cw_claims_add(t->n, &t->who, &ask, &claim, &err), &err);
    cw_check_ok(cw_notices_make(t->n, &t->who, &m, &err), &err);
    test_nursery_check(t);
}

#endif
