/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_SEASON_H
#define CW_TESTS_SUPPORT_SEASON_H

/* A small nursery in the middle of everything: past seasons, clumps not divided yet, shares made firm, a wave half
 * answered, a parcel gone, orders that wait, shorts that could be substituted. All data are invented. */
#include "support/picking.h"

#include "desk/people/accounts.h"

#define SEASON_PASSWORD "a long enough phrase"

static const struct {
    const char *name, *text;
} season_files[] = {
    { "varieties.csv", "code,name,form,size,colour,price,reserve\n"
                       "CIN,Cinder,ball,small,red,6.00,0\n"
                       "DOV,Dove Bell,ball,small,white,6.00,1\n" },
    { "history.csv", "season,variety,clumps,divisions\n2029,AMB,20,90\n2029,BRI,12,40\n2029,CIN,15,70\n"
                     "2030,AMB,22,81\n2030,BRI,10,31\n2030,DOV,9,33\n" },
    { "past_sales.csv", "season,variety,sold,sold_out_on\n2029,AMB,60,2030-02-11\n2030,AMB,41,\n" },
    { "lots.csv", "lot,variety,dug_on,clumps,place\nM1,AMB,2031-10-24,12,C1\nM2,BRI,2031-10-24,9,C2\n"
                  "M3,CIN,2031-10-25,8,C3\nM4,DOV,2031-10-26,7,C3\n" },
    { "divisions.csv", "lot,divided_on,clumps,saleable,rotten,place\nM3,2031-12-05,5,22,1,C3\n"
                       "M4,2031-12-06,4,15,0,C3\n" },
    { "checks.csv", "lot,checked_on,stage,inspected,rotten\nM1,2032-01-10,clump,12,1\n"
                    "M3,2032-01-11,division,20,2\n" },
    { "weighings.csv", "sample,weighed_on,lot,kg\nS1,2031-12-06,M3,2.0000\nS1,2032-01-05,M3,1.9100\n" },
    { "air.csv", "room,at,temp_c,rh\ncellar,2031-12-05T06:00:00Z,6,90\ncellar,2031-12-20T06:00:00Z,6,92\n"
                 "cellar,2032-01-05T06:00:00Z,5,91\n" },
    { "orders.csv",
      "order,received_at,line,variety,quantity,unit_price,tier,customer,email,country,zone,consent,named,"
      "assortment,"
      "all_or_none,ship_complete\n"
      "2001,2032-01-20T10:00:00Z,1,AMB,4,6.50,retail,Fay,fay@example.org,US,z7,same,,,0,0\n"
      "2001,2032-01-20T10:00:00Z,2,CIN,2,6.00,retail,Fay,fay@example.org,US,z7,none,,,0,0\n"
      "2002,2032-01-21T10:00:00Z,1,BRI,3,8.00,retail,Gus,gus@example.org,US,z7,any,,,0,0\n"
      "2003,2032-01-22T10:00:00Z,1,,3,5.00,retail,Hal,hal@example.org,US,z7,none,,colour=white,0,0\n"
      "2004,2032-01-23T10:00:00Z,1,BRI,2,8.00,wholesale,Ivy,ivy@example.org,US,z3,named,DOV,,1,1\n" },
};

static inline void season_answer(test_nursery *t, const char *order, int line, int64_t taken,
                                 const char *reason)
{
    char key[32], outcome[16];
    snprintf(key, sizeof key, "%s-%d", order, line);
    answer(t, "Marta", key, pick_of(t, order, line), taken, reason, outcome);
    assert_string_equal(outcome, "done");
}

static inline void season_make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_packing_count three = { .count = 3, .weight_g = 700 };
    int64_t rest = 0;
    picking_make(t);
    cw_check_ok(cw_accounts_add(t->n, &t->who, "Olga", CW_ROLE_OWNER, SEASON_PASSWORD, &err), &err);
    cw_check_ok(cw_accounts_add(t->n, &t->who, "Pim", CW_ROLE_PACKER, SEASON_PASSWORD, &err), &err);
    wave_make(t);
    season_answer(t, "1001", 1, 2, NULL);
    season_answer(t, "1001", 2, 1, NULL);
    season_answer(t, "1002", 1, 2, "rotten");
    cw_check_ok(cw_packing_pack(t->n, &t->who, parcel_of(t, "1001"), &three, &err), &err);
    cw_check_ok(cw_packing_ship(t->n, &t->who, parcel_of(t, "1001"),
                                &(cw_packing_sent){ .carrier = "by road", .on = t->who.today }, &rest, &err),
                &err);
    for (size_t i = 0; i < sizeof season_files / sizeof season_files[0]; i++)
        load_text(t, season_files[i].name, season_files[i].text);
    test_nursery_check(t);
}

#endif
