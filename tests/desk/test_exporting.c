/* SPDX-License-Identifier: MIT */
/* Each table of a small season, written out: what was loaded comes out as it went in, and all else as it happened; and what is
 * told of lots, places and days. Invented data (support/season.h); the figures follow from it and from what make() does. */
#include "support/season.h"

#include "base/json.h"
#include "desk/cellar/cellar.h"
#include "desk/export/exporting.h"
#include "desk/orders/claims.h"
#include "desk/orders/notices.h"
#include "desk/ship/paper.h"
#include "desk/stock/catalogue.h"
#include "desk/stock/tracing.h"

#include "base/banned.h"

/* After season.h: a session that was taken back, divisions planted, an order cancelled, a claim, what buyers must be told. */
static void make(test_nursery *t)
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
    cw_cellar_entry cut = {
        .lot = "M5", .day = CW_NO_DAY, .clumps = 2, .saleable = 9, .blind = 1, .rotten = 0, .place = "C2"
    };
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

static cw_code table_of(test_nursery *t, const char *name, cw_table *out, cw_error *err)
{
    if (strncmp(name, "lot ", 4) == 0)
        return cw_tracing_lot(t->n, &t->who, name + 4, out, err);
    if (strncmp(name, "order ", 6) == 0)
        return cw_tracing_order(t->n, &t->who, name + 6, out, err);
    if (strcmp(name, "balance") == 0)
        return cw_tracing_balance(t->n, &t->who, out, err);
    if (strcmp(name, "cellar lots") == 0)
        return cw_cellar_lots(t->n, NULL, out, err);
    if (strcmp(name, "cellar places") == 0)
        return cw_cellar_places(t->n, out, err);
    if (strcmp(name, "cellar movements") == 0)
        return cw_cellar_movements(t->n, t->who.today - 1, t->who.today - 1, out, err);
    return cw_exporting_table(t->n, &t->who, name, out, err);
}

static const char *const tables[][2] = {
    { "varieties",
      "code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order,introduced,retired\n"
      "AMB,Amber Lantern,ball,small,orange,,6.50,0,0,,,no\n"
      "BRI,Briar Song,cactus,large,pink,,8.00,0,0,,,no\n"
      "CIN,Cinder,ball,small,red,,6.00,0,0,,,no\n"
      "DOV,Dove Bell,ball,small,white,,6.00,0,1,,,no\n" },
    { "places", "place,room,walk_order\n"
                "C1,cellar,10\n"
                "C2,cellar,20\n"
                "C3,cellar,30\n" },
    { "zones", "zone,first_week\n"
               "z3,2032-W20\n"
               "z7,2032-W16\n" },
    { "destinations", "country,region,rule,note\n"
                      "CA,,warn,certificate needed\n"
                      "NZ,,block,no certificate can be had\n"
                      "US,,allow,\n" },
    { "history", "season,variety,clumps,divisions\n"
                 "2029,AMB,20,90\n"
                 "2029,BRI,12,40\n"
                 "2029,CIN,15,70\n"
                 "2030,AMB,22,81\n"
                 "2030,BRI,10,31\n"
                 "2030,DOV,9,33\n" },
    { "past_checks", "season,variety,stage,weeks,inspected,rotten,shrivelled\n"
                     "2029,AMB,clump,6.5000,40,2,\n"
                     "2030,BRI,division,4.0000,60,3,1\n" },
    { "past_sales", "season,variety,sold,sold_out_on\n"
                    "2029,AMB,60,2030-02-11\n"
                    "2030,AMB,41,\n" },
    { "past_orders", "season,variety,ordered_on,quantity\n"
                     "2029,AMB,2030-01-12,7\n"
                     "2029,BRI,2030-01-12,2\n" },
    { "lots", "lot,variety,dug_on,clumps,row,culled,place\n"
              "L1,AMB,2031-10-20,0,,0,C2\n"
              "L2,BRI,2031-10-21,0,,0,C1\n"
              "L3,AMB,2031-10-22,0,,0,C3\n"
              "M1,AMB,2031-10-24,12,,0,C1\n"
              "M2,BRI,2031-10-24,9,,0,C2\n"
              "M3,CIN,2031-10-25,8,,0,C3\n"
              "M4,DOV,2031-10-26,7,,0,C3\n"
              "M5,AMB,2031-10-27,5,r7,2,C2\n" },
    { "weighings", "sample,lot,weighed_on,kg\n"
                   "S1,M3,2031-12-06,2.0000\n"
                   "S1,M3,2032-01-05,1.9100\n" },
    { "air", "room,at,temp_c,rh\n"
             "cellar,2031-12-05T06:00:00Z,6.00,90.00\n"
             "cellar,2031-12-20T06:00:00Z,6.00,92.00\n"
             "cellar,2032-01-05T06:00:00Z,5.00,91.00\n" },
    { "divisions", "lot,divided_on,clumps,saleable,blind,rotten,place\n"
                   "M3,2031-12-05,5,22,0,1,C3\n"
                   "M4,2031-12-06,4,15,0,0,C3\n" },
    { "checks", "lot,checked_on,stage,inspected,rotten,shrivelled,why\n"
                "M1,2032-01-10,clump,12,1,,\n"
                "M3,2032-01-11,division,20,2,,\n" },
    { "counts", "lot,counted_on,stage,count,place,looked\n"
                "L1,2032-01-20,division,5,,\n"
                "L2,2032-01-20,division,6,,\n"
                "L3,2032-01-20,division,3,,\n" },
    { "orders",
      "order,received_at,line,variety,quantity,unit_price,channel,tier,customer,email,postcode,country,"
      "region,zone,wish_week,ship_complete,consent,named,all_or_none,assortment\n"
      "1001,2032-01-05T10:00:00Z,1,AMB,2,6.50,,retail,Ada,,,US,,z7,,no,none,,no,\n"
      "1001,2032-01-05T10:00:00Z,2,BRI,1,8.00,,retail,Ada,,,US,,z7,,no,none,,no,\n"
      "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,,retail,Bo,,,US,,z7,,no,none,,no,\n"
      "1003,2032-01-05T12:00:00Z,1,AMB,1,6.50,,retail,Cy,,,NZ,,z7,,no,none,,no,\n"
      "1004,2032-01-05T13:00:00Z,1,BRI,4,8.00,,wholesale,Di,,,CA,,z7,,no,none,,no,\n"
      "2001,2032-01-20T10:00:00Z,1,AMB,4,6.50,,retail,Fay,fay@example.org,,US,,z7,,no,same,,no,\n"
      "2001,2032-01-20T10:00:00Z,2,CIN,2,6.00,,retail,Fay,fay@example.org,,US,,z7,,no,none,,no,\n"
      "2002,2032-01-21T10:00:00Z,1,BRI,3,8.00,,retail,Gus,gus@example.org,,US,,z7,,no,any,,no,\n"
      "2003,2032-01-22T10:00:00Z,1,,3,5.00,,retail,Hal,hal@example.org,,US,,z7,,no,none,,no,colour=white\n"
      "2004,2032-01-23T10:00:00Z,1,BRI,2,8.00,,wholesale,Ivy,ivy@example.org,,US,,z3,,yes,named,DOV,yes,\n" },
    { "stock", "lot,variety,place,room,clumps,divisions\n"
               "L3,AMB,C3,cellar,0,3\n"
               "M1,AMB,C1,cellar,11,0\n"
               "M5,AMB,C2,cellar,5,0\n"
               "L2,BRI,C1,cellar,0,5\n"
               "M2,BRI,C2,cellar,9,0\n"
               "M3,CIN,C3,cellar,3,20\n"
               "M4,DOV,C1,cellar,0,4\n"
               "M4,DOV,C3,cellar,3,9\n" },
    { "ledger",
      "id,at,day,actor,lot,variety,place,clumps,divisions,reason,cause,cause_id,reverses,note\n"
      "1,2032-02-01T12:00:00Z,2032-01-20,tester,L1,AMB,C2,0,5,found,stock_take,1,,\n"
      "2,2032-02-01T12:00:00Z,2032-01-20,tester,L2,BRI,C1,0,6,found,stock_take,2,,\n"
      "3,2032-02-01T12:00:00Z,2032-01-20,tester,L3,AMB,C3,0,3,found,stock_take,3,,\n"
      "4,2032-02-01T12:00:00Z,2032-02-01,Marta,L1,AMB,C2,0,-2,picked,pick,3,,\n"
      "5,2032-02-01T12:00:00Z,2032-02-01,Marta,L2,BRI,C1,0,-1,picked,pick,2,,\n"
      "6,2032-02-01T12:00:00Z,2032-02-01,Marta,L1,AMB,C2,0,-2,picked,pick,4,,\n"
      "7,2032-02-01T12:00:00Z,2032-02-01,Marta,L1,AMB,C2,0,-1,rotten,pick,4,,\n"
      "8,2032-02-01T12:00:00Z,2031-10-24,tester,M1,AMB,C1,12,0,dug,lot,4,,\n"
      "9,2032-02-01T12:00:00Z,2031-10-24,tester,M2,BRI,C2,9,0,dug,lot,5,,\n"
      "10,2032-02-01T12:00:00Z,2031-10-25,tester,M3,CIN,C3,8,0,dug,lot,6,,\n"
      "11,2032-02-01T12:00:00Z,2031-10-26,tester,M4,DOV,C3,7,0,dug,lot,7,,\n"
      "12,2032-02-01T12:00:00Z,2031-12-05,tester,M3,CIN,C3,-4,0,divided,dividing,1,,\n"
      "13,2032-02-01T12:00:00Z,2031-12-05,tester,M3,CIN,C3,-1,0,rotten,dividing,1,,\n"
      "14,2032-02-01T12:00:00Z,2031-12-05,tester,M3,CIN,C3,0,22,made,dividing,1,,\n"
      "15,2032-02-01T12:00:00Z,2031-12-06,tester,M4,DOV,C3,-4,0,divided,dividing,2,,\n"
      "16,2032-02-01T12:00:00Z,2031-12-06,tester,M4,DOV,C3,0,15,made,dividing,2,,\n"
      "17,2032-02-01T12:00:00Z,2032-01-10,tester,M1,AMB,C1,-1,0,rotten,check,1,,\n"
      "18,2032-02-01T12:00:00Z,2032-01-11,tester,M3,CIN,C3,0,-2,rotten,check,2,,\n"
      "19,2032-02-01T12:00:00Z,2031-10-27,tester,M5,AMB,C2,5,0,dug,lot,8,,\n"
      "20,2032-02-01T12:00:00Z,2032-02-01,tester,M5,AMB,C2,-2,0,divided,dividing,3,,\n"
      "21,2032-02-01T12:00:00Z,2032-02-01,tester,M5,AMB,C2,0,9,made,dividing,3,,\n"
      "22,2032-02-01T12:00:00Z,2032-02-01,tester,M5,AMB,C2,2,0,divided,dividing,3,20,wrong lot\n"
      "23,2032-02-01T12:00:00Z,2032-02-01,tester,M5,AMB,C2,0,-9,made,dividing,3,21,wrong lot\n"
      "24,2032-02-01T12:00:00Z,2032-01-30,tester,M4,DOV,C3,0,-6,moved,move,24,,\n"
      "25,2032-02-01T12:00:00Z,2032-01-30,tester,M4,DOV,C1,0,6,moved,move,24,,\n"
      "26,2032-02-01T12:00:00Z,2032-01-31,tester,M4,DOV,C1,0,-2,planted,entry,26,,for next year\n" },
    { "offers", "variety,released,offered,sold,beyond\n"
                "AMB,no,0,10,10\n"
                "BRI,no,0,10,11\n"
                "CIN,no,0,2,2\n" },
    { "oversells", "variety,at,actor,quantity,why\n"
                   "BRI,2032-02-01T12:00:00Z,tester,6,\"taken before a release, from orders.csv\"\n"
                   "AMB,2032-02-01T12:00:00Z,tester,6,\"taken before a release, from orders.csv\"\n"
                   "BRI,2032-02-01T12:00:00Z,tester,5,\"taken before a release, from orders.csv\"\n"
                   "CIN,2032-02-01T12:00:00Z,tester,2,\"taken before a release, from orders.csv\"\n"
                   "AMB,2032-02-01T12:00:00Z,tester,4,\"taken before a release, from orders.csv\"\n" },
    { "allocations", "variety,order,line,kind,quantity,allocated,rule,at,actor\n"
                     "AMB,1001,1,own,2,2,first-come,2032-02-01T12:00:00Z,tester\n"
                     "AMB,1002,1,own,3,3,first-come,2032-02-01T12:00:00Z,tester\n"
                     "AMB,1003,1,own,1,1,first-come,2032-02-01T12:00:00Z,tester\n"
                     "BRI,1001,2,own,1,1,first-come,2032-02-01T12:00:00Z,tester\n"
                     "BRI,1004,1,own,4,4,first-come,2032-02-01T12:00:00Z,tester\n"
                     "BRI,1005,1,own,0,0,first-come,2032-02-01T12:00:00Z,tester\n" },
    { "events", "order,line,at,actor,kind,before,after,note\n"
                "1001,,2032-02-01T12:00:00Z,tester,shipped,,\"3 divisions on 2032-02-01, by road\",\n"
                "1005,1,2032-02-01T12:00:00Z,tester,cancelled,1,0,moved away\n"
                "1005,,2032-02-01T12:00:00Z,tester,cancelled,open,cancelled,moved away\n"
                "1001,1,2032-02-01T12:00:00Z,tester,claim,,1 refunded: 6.50,sorry\n" },
    { "weeks", "order,customer,zone,wish_week,ship_week,pinned,state\n"
               "1003,Cy,z7,,,no,open\n"
               "2001,Fay,z7,,,no,open\n"
               "2002,Gus,z7,,,no,open\n"
               "2003,Hal,z7,,,no,open\n"
               "2004,Ivy,z3,,,no,open\n"
               "1001,Ada,z7,,2032-W16,no,shipped\n"
               "1002,Bo,z7,,2032-W16,no,open\n"
               "1004,Di,z7,,2032-W16,no,open\n"
               "1005,Ed,z3,,2032-W20,no,cancelled\n" },
    { "parcels", "week,wave,slot,order,state,weight_g,shipped_on,carrier,tracking\n"
                 "2032-W16,1,1,1004,open,,,,\n"
                 "2032-W16,1,2,1001,shipped,700,2032-02-01,by road,\n"
                 "2032-W16,1,3,1002,open,,,,\n" },
    { "picks",
      "wave,stop,place,lot,variety,order,line,quantity,state,taken,short_reason,answered_at,answered_by\n"
      "1,1,C1,L2,BRI,1004,1,4,open,0,,,\n"
      "1,1,C1,L2,BRI,1001,2,1,done,1,,2032-02-01T12:00:00Z,Marta\n"
      "1,2,C2,L1,AMB,1001,1,2,done,2,,2032-02-01T12:00:00Z,Marta\n"
      "1,2,C2,L1,AMB,1002,1,3,done,2,rotten,2032-02-01T12:00:00Z,Marta\n" },
    { "notices", "order,line,kind,made_at,due_on,state,amount,done_at,actor,evidence\n"
                 "1005,1,refund,2032-02-01T12:00:00Z,2032-02-10,due,8.00,,,\n"
                 "1005,,cancelled,2032-02-01T12:00:00Z,2032-02-10,due,0.00,,,\n"
                 "1001,1,refund,2032-02-01T12:00:00Z,2032-02-10,due,6.50,,,\n" },
    { "claims", "order,line,quantity,at,actor,why,answer,lot,amount\n"
                "1001,1,1,2032-02-01T12:00:00Z,tester,soft,refund,,6.50\n" },
    { "lot L1", "lot,variety,row,dug_on,order,line,customer,email,postcode,country,week,slot,state,shipped_"
                "on,quantity,by\n"
                "L1,AMB,,2031-10-20,1001,1,Ada,,,US,2032-W16,2,shipped,2032-02-01,2,picked\n"
                "L1,AMB,,2031-10-20,1002,1,Bo,,,US,2032-W16,3,open,,2,picked\n" },
    { "order 1001", "lot,variety,row,dug_on,order,line,customer,email,postcode,country,week,slot,state,"
                    "shipped_on,quantity,by\n"
                    "L1,AMB,,2031-10-20,1001,1,Ada,,,US,2032-W16,2,shipped,2032-02-01,2,picked\n"
                    "L2,BRI,,2031-10-21,1001,2,Ada,,,US,2032-W16,2,shipped,2032-02-01,1,picked\n" },
    { "balance", "variety,name,clumps_dug,clumps_found,clumps_divided,clumps_rotten,clumps_lost,clumps_on_"
                 "hand,divisions_made,divisions_found,divisions_rotten,divisions_shrivelled,divisions_lost,"
                 "divisions_planted,divisions_picked,divisions_on_hand,divisions_shipped\n"
                 "AMB,Amber Lantern,17,0,0,1,0,16,0,8,1,0,0,0,4,3,2\n"
                 "BRI,Briar Song,9,0,0,0,0,9,0,6,0,0,0,0,1,5,1\n"
                 "CIN,Cinder,8,0,4,1,0,3,22,0,2,0,0,0,0,20,0\n"
                 "DOV,Dove Bell,7,0,4,0,0,3,15,0,0,0,0,2,0,13,0\n" },
    { "cellar lots", "lot,variety,name,row,dug_on,dug,culled,clumps,divisions,places,last_checked,held\n"
                     "L1,AMB,Amber Lantern,,2031-10-20,0,0,0,0,,,\n"
                     "L2,BRI,Briar Song,,2031-10-21,0,0,0,5,C1,,\n"
                     "L3,AMB,Amber Lantern,,2031-10-22,0,0,0,3,C3,,\n"
                     "M1,AMB,Amber Lantern,,2031-10-24,12,0,11,0,C1,2032-01-10,\n"
                     "M2,BRI,Briar Song,,2031-10-24,9,0,9,0,C2,,\n"
                     "M3,CIN,Cinder,,2031-10-25,8,0,3,20,C3,2032-01-11,\n"
                     "M4,DOV,Dove Bell,,2031-10-26,7,0,3,13,C1 C3,,\n"
                     "M5,AMB,Amber Lantern,r7,2031-10-27,5,2,5,0,C2,,\n" },
    { "cellar places", "place,room,walk_order,lots,clumps,divisions\n"
                       "C1,cellar,10,3,11,9\n"
                       "C2,cellar,20,2,14,0\n"
                       "C3,cellar,30,3,6,32\n" },
    { "cellar movements",
      "id,at,day,actor,lot,variety,place,clumps,divisions,reason,cause,cause_id,reverses,note\n"
      "26,2032-02-01T12:00:00Z,2032-01-31,tester,M4,DOV,C1,0,-2,planted,entry,26,,for next year\n" },
};

static void every_table_says_what_happened(void **state)
{
    test_nursery t;
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out;
        print_message("%s\n", tables[i][0]);
        cw_check_ok(table_of(&t, tables[i][0], &out, &err), &err);
        csv_is(&out, tables[i][1]);
    }
    test_nursery_free(&t);
}

/* The sheets that people read, a line for each member, and for each of a list; members in the order of their names. */
static void json_is(json_t *o, const char *want)
{
    cw_text got = CW_TEXT(1 << 20);
    const char *name;
    json_t *v;
    for (void *at = json_object_iter(o); at; at = json_object_iter_next(o, at)) {
        name = json_object_iter_key(at);
        v = json_object_iter_value(at);
        for (size_t i = 0; i < (json_is_array(v) ? json_array_size(v) : 1); i++) {
            char *text =
                cw_json_text(json_is_array(v) ? json_array_get(v, i) : v,
                             JSON_SORT_KEYS | JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(6));
            assert_non_null(text);
            cw_text_addf(&got, "%s %s\n", name, text);
            free(text);
        }
    }
    is_text(got.data, want);
    cw_text_free(&got);
    json_decref(o);
}

static void every_sheet_tells_its_story(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *o = NULL;
    (void)state;
    make(&t);
    cw_check_ok(cw_cellar_lot(t.n, "M5", &o, &err), &err);
    json_is(o, "lot "
               "{\"culled\":2,\"dug\":5,\"dug_on\":\"2031-10-27\",\"held\":null,\"id\":8,\"lot\":\"M5\","
               "\"name\":\"Amber Lantern\",\"place\":\"C2\",\"row\":\"r7\",\"variety\":\"AMB\"}\n"
               "balances {\"clumps\":5,\"divisions\":0,\"place\":\"C2\",\"room\":\"cellar\"}\n"
               "sessions "
               "{\"blind\":1,\"clumps\":2,\"day\":\"2032-02-01\",\"id\":3,\"place\":\"C2\",\"rotten\":0,"
               "\"saleable\":9,\"undone\":true}\n"
               "movements "
               "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"lot\",\"cause_id\":8,"
               "\"clumps\":5,\"day\":\"2031-10-27\",\"divisions\":0,\"id\":19,\"lot\":\"M5\",\"note\":null,"
               "\"place\":\"C2\",\"reason\":\"dug\",\"reverses\":null,\"variety\":\"AMB\"}\n"
               "movements "
               "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"dividing\",\"cause_id\":3,"
               "\"clumps\":-2,\"day\":\"2032-02-01\",\"divisions\":0,\"id\":20,\"lot\":\"M5\",\"note\":null,"
               "\"place\":\"C2\",\"reason\":\"divided\",\"reverses\":null,\"variety\":\"AMB\"}\n"
               "movements "
               "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"dividing\",\"cause_id\":3,"
               "\"clumps\":0,\"day\":\"2032-02-01\",\"divisions\":9,\"id\":21,\"lot\":\"M5\",\"note\":null,"
               "\"place\":\"C2\",\"reason\":\"made\",\"reverses\":null,\"variety\":\"AMB\"}\n"
               "movements "
               "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"dividing\",\"cause_id\":3,"
               "\"clumps\":2,\"day\":\"2032-02-01\",\"divisions\":0,\"id\":22,\"lot\":\"M5\",\"note\":"
               "\"wrong lot\",\"place\":\"C2\",\"reason\":\"divided\",\"reverses\":20,\"variety\":\"AMB\"}\n"
               "movements "
               "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"dividing\",\"cause_id\":3,"
               "\"clumps\":0,\"day\":\"2032-02-01\",\"divisions\":-9,\"id\":23,\"lot\":\"M5\",\"note\":"
               "\"wrong lot\",\"place\":\"C2\",\"reason\":\"made\",\"reverses\":21,\"variety\":\"AMB\"}\n");
    cw_check_ok(cw_cellar_lot(t.n, "M4", &o, &err), &err);
    json_is(o,
            "lot "
            "{\"culled\":0,\"dug\":7,\"dug_on\":\"2031-10-26\",\"held\":null,\"id\":7,\"lot\":\"M4\","
            "\"name\":\"Dove Bell\",\"place\":\"C3\",\"row\":null,\"variety\":\"DOV\"}\n"
            "balances {\"clumps\":0,\"divisions\":4,\"place\":\"C1\",\"room\":\"cellar\"}\n"
            "balances {\"clumps\":3,\"divisions\":9,\"place\":\"C3\",\"room\":\"cellar\"}\n"
            "sessions "
            "{\"blind\":0,\"clumps\":4,\"day\":\"2031-12-06\",\"id\":2,\"place\":\"C3\",\"rotten\":0,"
            "\"saleable\":15,\"undone\":false}\n"
            "movements "
            "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"lot\",\"cause_id\":7,"
            "\"clumps\":7,\"day\":\"2031-10-26\",\"divisions\":0,\"id\":11,\"lot\":\"M4\",\"note\":null,"
            "\"place\":\"C3\",\"reason\":\"dug\",\"reverses\":null,\"variety\":\"DOV\"}\n"
            "movements "
            "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"dividing\",\"cause_id\":2,"
            "\"clumps\":-4,\"day\":\"2031-12-06\",\"divisions\":0,\"id\":15,\"lot\":\"M4\",\"note\":null,"
            "\"place\":\"C3\",\"reason\":\"divided\",\"reverses\":null,\"variety\":\"DOV\"}\n"
            "movements "
            "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"dividing\",\"cause_id\":2,"
            "\"clumps\":0,\"day\":\"2031-12-06\",\"divisions\":15,\"id\":16,\"lot\":\"M4\",\"note\":null,"
            "\"place\":\"C3\",\"reason\":\"made\",\"reverses\":null,\"variety\":\"DOV\"}\n"
            "movements "
            "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"move\",\"cause_id\":24,"
            "\"clumps\":0,\"day\":\"2032-01-30\",\"divisions\":-6,\"id\":24,\"lot\":\"M4\",\"note\":null,"
            "\"place\":\"C3\",\"reason\":\"moved\",\"reverses\":null,\"variety\":\"DOV\"}\n"
            "movements "
            "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"move\",\"cause_id\":24,"
            "\"clumps\":0,\"day\":\"2032-01-30\",\"divisions\":6,\"id\":25,\"lot\":\"M4\",\"note\":null,"
            "\"place\":\"C1\",\"reason\":\"moved\",\"reverses\":null,\"variety\":\"DOV\"}\n"
            "movements "
            "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"entry\",\"cause_id\":26,"
            "\"clumps\":0,\"day\":\"2032-01-31\",\"divisions\":-2,\"id\":26,\"lot\":\"M4\",\"note\":\"for "
            "next year\",\"place\":\"C1\",\"reason\":\"planted\",\"reverses\":null,\"variety\":\"DOV\"}\n");
    cw_check_ok(cw_cellar_lot(t.n, "L1", &o, &err), &err);
    json_is(o, "lot "
               "{\"culled\":0,\"dug\":0,\"dug_on\":\"2031-10-20\",\"held\":null,\"id\":1,\"lot\":\"L1\","
               "\"name\":\"Amber Lantern\",\"place\":\"C2\",\"row\":null,\"variety\":\"AMB\"}\n"
               "counts "
               "{\"before\":0,\"count\":5,\"day\":\"2032-01-20\",\"id\":1,\"place\":null,\"stage\":"
               "\"division\",\"undone\":false}\n"
               "movements "
               "{\"actor\":\"tester\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"stock_take\",\"cause_id\":"
               "1,\"clumps\":0,\"day\":\"2032-01-20\",\"divisions\":5,\"id\":1,\"lot\":\"L1\",\"note\":null,"
               "\"place\":\"C2\",\"reason\":\"found\",\"reverses\":null,\"variety\":\"AMB\"}\n"
               "movements "
               "{\"actor\":\"Marta\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"pick\",\"cause_id\":3,"
               "\"clumps\":0,\"day\":\"2032-02-01\",\"divisions\":-2,\"id\":4,\"lot\":\"L1\",\"note\":null,"
               "\"place\":\"C2\",\"reason\":\"picked\",\"reverses\":null,\"variety\":\"AMB\"}\n"
               "movements "
               "{\"actor\":\"Marta\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"pick\",\"cause_id\":4,"
               "\"clumps\":0,\"day\":\"2032-02-01\",\"divisions\":-2,\"id\":6,\"lot\":\"L1\",\"note\":null,"
               "\"place\":\"C2\",\"reason\":\"picked\",\"reverses\":null,\"variety\":\"AMB\"}\n"
               "movements "
               "{\"actor\":\"Marta\",\"at\":\"2032-02-01T12:00:00Z\",\"cause\":\"pick\",\"cause_id\":4,"
               "\"clumps\":0,\"day\":\"2032-02-01\",\"divisions\":-1,\"id\":7,\"lot\":\"L1\",\"note\":null,"
               "\"place\":\"C2\",\"reason\":\"rotten\",\"reverses\":null,\"variety\":\"AMB\"}\n");
    cw_check_ok(cw_cellar_air(t.n, "cellar", &o, &err), &err);
    json_is(o, "rooms \"cellar\"\n"
               "room \"cellar\"\n"
               "points {\"at\":\"2031-12-05T06:00:00Z\",\"rh\":90.0,\"temp_c\":6.0,\"vpd_pa\":93.5353}\n"
               "points {\"at\":\"2031-12-20T06:00:00Z\",\"rh\":92.0,\"temp_c\":6.0,\"vpd_pa\":74.8282}\n"
               "points {\"at\":\"2032-01-05T06:00:00Z\",\"rh\":91.0,\"temp_c\":5.0,\"vpd_pa\":78.5317}\n"
               "weighings {\"day\":\"2031-12-06\",\"kg\":2.0,\"lot\":\"M3\",\"sample\":\"S1\"}\n"
               "weighings {\"day\":\"2032-01-05\",\"kg\":1.91,\"lot\":\"M3\",\"sample\":\"S1\"}\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "1001", &o, &err), &err);
    json_is(o, "order "
               "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\","
               "\"customer\":\"Ada\",\"destination_warning\":null,\"email\":null,\"frost\":null,\"frost_"
               "overruled\":null,\"order\":\"1001\",\"postcode\":null,\"received_at\":\"2032-01-05T10:00:"
               "00Z\",\"region\":null,\"replaces\":null,\"ship_complete\":false,\"state\":\"shipped\","
               "\"tier\":\"retail\",\"version\":3,\"week\":\"2032-W16\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "lines "
               "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":2,\"line\":1,"
               "\"name\":\"Amber Lantern\",\"named\":null,\"own\":2,\"quantity\":2,\"sentence\":\"On "
               "2032-02-01 by first-come: All 2 asked can be promised. 2 are "
               "pulled.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"6.50\",\"variety\":\"AMB\"}\n"
               "lines "
               "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":1,\"line\":2,"
               "\"name\":\"Briar Song\",\"named\":null,\"own\":1,\"quantity\":1,\"sentence\":\"On 2032-02-01 "
               "by first-come: The one asked can be promised. 1 is "
               "pulled.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"8.00\",\"variety\":\"BRI\"}\n"
               "events {\"actor\":\"tester\",\"after\":\"3 divisions on 2032-02-01, by "
               "road\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":null,\"kind\":\"shipped\",\"line\":null,"
               "\"note\":null}\n"
               "events {\"actor\":\"tester\",\"after\":\"1 refunded: "
               "6.50\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":null,\"kind\":\"claim\",\"line\":1,"
               "\"note\":\"sorry\"}\n"
               "parcels {\"carrier\":\"by "
               "road\",\"parcel\":2,\"shipped_on\":\"2032-02-01\",\"slot\":2,\"state\":\"shipped\","
               "\"tracking\":null,\"week\":\"2032-W16\",\"weight_g\":700}\n"
               "notices "
               "{\"amount\":\"6.50\",\"due_on\":\"2032-02-10\",\"evidence\":null,\"kind\":\"refund\","
               "\"line\":1,\"notice\":3,\"state\":\"due\"}\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "1005", &o, &err), &err);
    json_is(o, "order "
               "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\","
               "\"customer\":\"Ed\",\"destination_warning\":null,\"email\":null,\"frost\":null,\"frost_"
               "overruled\":null,\"order\":\"1005\",\"postcode\":null,\"received_at\":\"2032-01-05T14:00:"
               "00Z\",\"region\":null,\"replaces\":null,\"ship_complete\":false,\"state\":\"cancelled\","
               "\"tier\":\"retail\",\"version\":3,\"week\":\"2032-W20\",\"wish_week\":null,\"zone\":\"z3\"}\n"
               "lines "
               "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":0,\"line\":1,"
               "\"name\":\"Briar Song\",\"named\":null,\"own\":0,\"quantity\":0,\"sentence\":\"This line was "
               "cancelled; nothing is asked on it any more. On 2032-02-01 1 BRI was taken back: moved "
               "away.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"8.00\",\"variety\":\"BRI\"}\n"
               "events "
               "{\"actor\":\"tester\",\"after\":\"0\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":\"1\","
               "\"kind\":\"cancelled\",\"line\":1,\"note\":\"moved away\"}\n"
               "events "
               "{\"actor\":\"tester\",\"after\":\"cancelled\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":"
               "\"open\",\"kind\":\"cancelled\",\"line\":null,\"note\":\"moved away\"}\n"
               "notices "
               "{\"amount\":\"8.00\",\"due_on\":\"2032-02-10\",\"evidence\":null,\"kind\":\"refund\","
               "\"line\":1,\"notice\":1,\"state\":\"due\"}\n"
               "notices "
               "{\"amount\":\"0.00\",\"due_on\":\"2032-02-10\",\"evidence\":null,\"kind\":\"cancelled\","
               "\"line\":null,\"notice\":2,\"state\":\"due\"}\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "2004", &o, &err), &err);
    json_is(o, "order "
               "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\","
               "\"customer\":\"Ivy\",\"destination_warning\":null,\"email\":\"ivy@example.org\",\"frost\":"
               "null,\"frost_overruled\":null,\"order\":\"2004\",\"postcode\":null,\"received_at\":\"2032-01-"
               "23T10:00:00Z\",\"region\":null,\"replaces\":null,\"ship_complete\":true,\"state\":\"open\","
               "\"tier\":\"wholesale\",\"version\":1,\"week\":null,\"wish_week\":null,\"zone\":\"z3\"}\n"
               "lines "
               "{\"all_or_none\":true,\"assortment\":null,\"consent\":\"named\",\"firm\":0,\"line\":1,"
               "\"name\":\"Briar Song\",\"named\":\"DOV\",\"own\":0,\"quantity\":2,\"sentence\":\"It waits "
               "for the next sharing of BRI: number 1 of "
               "2.\",\"short\":2,\"substitutes\":[],\"unit_price\":\"8.00\",\"variety\":\"BRI\"}\n");
    test_nursery_free(&t);
}

#define SEEN(name, ...)                                                                                      \
    static cw_code name(test_nursery *t, cw_table *out, cw_error *err)                                       \
    {                                                                                                        \
        return __VA_ARGS__;                                                                                  \
    }
static const char *const tagged[] = { "L2", "M4" };
SEEN(pick_list, cw_picking_list(t->n, &t->who, 1, out, err))
SEEN(waves, cw_picking_waves(t->n, &t->who, 0, out, err))
SEEN(stretches, cw_picking_stretches(t->n, 1, 2, out, err))
SEEN(shorts, cw_picking_shorts(t->n, &t->who, 0, out, err))
SEEN(tags_of_wave, cw_paper_tags(t->n, 1, NULL, 0, out, err))
SEEN(tags_of_lots, cw_paper_tags(t->n, 0, tagged, 2, out, err))
SEEN(paper_walk, cw_paper_walk(t->n, &t->who, 1, out, err))
SEEN(slips, cw_paper_slips(t->n, 1, out, err))
SEEN(labels, cw_paper_labels(t->n, 1, out, err))
SEEN(parcels, cw_packing_list(t->n, &t->who, 0, NULL, out, err))
SEEN(schedule, cw_shipping_schedule(t->n, &t->who, false, out, err))
SEEN(holds, cw_shipping_holds(t->n, &t->who, out, err))
SEEN(touched, cw_shipping_touched(t->n, &t->who, 1, out, err))
SEEN(breaks, cw_shipping_breaks(t->n, &t->who, "1002", 203230, out, err))
SEEN(owed, cw_notices_refunds(t->n, &t->who, true, out, err))
SEEN(claims, cw_claims_list(t->n, &t->who, NULL, out, err))
SEEN(runs, cw_allotting_runs(t->n, &t->who, out, err))
SEEN(waitlist, cw_allotting_waitlist(t->n, &t->who, "BRI", out, err))
SEEN(catalogue, cw_catalogue_list(t->n, out, err))

static void every_list_shows_what_is_to_be_done(void **state)
{
    static const struct {
        const char *name;
        cw_code (*table)(test_nursery *t, cw_table *out, cw_error *err);
        const char *want;
    } rows[] = {
        { "pick list", pick_list,
          "stop,place,lot,variety,quantity,order,line,slot\n"
          "1,C1,L2,BRI,1,1001,2,2\n"
          "2,C2,L1,AMB,2,1001,1,2\n"
          "2,C2,L1,AMB,3,1002,1,3\n" },
        { "waves", waves,
          "wave,week,state,made_at,made_by,stops,parcels,packed,shipped,picks,open,divisions,taken,"
          "forgotten\n"
          "1,2032-W16,open,2032-02-01T12:00:00Z,tester,2,3,0,1,4,1,10,5,0\n" },
        { "stretches of two packers", stretches,
          "packer,first_stop,last_stop,stops,picks,divisions\n"
          "1,1,1,1,2,5\n"
          "2,,,0,0,0\n" },
        { "shorts", shorts,
          "wave,order,line,customer,variety,name,short,reason,lot,place,found_by,found_at,parcel,parcel_"
          "state,other_lot,other_place,other_free,consent,refund,sentence\n"
          "1,1002,1,Bo,AMB,Amber "
          "Lantern,1,rotten,L1,C2,Marta,2032-02-01T12:00:00Z,3,open,L3,C3,3,none,6.50,1 of AMB rotten in lot "
          "L1: lot L3 has 3 free at C3; the buyer takes no substitute; or give back 6.50\n" },
        { "tags of a wave", tags_of_wave,
          "lot,variety,name,form,size,colour,row,place,room,divisions,clumps,held,scan\n"
          "L2,BRI,Briar Song,cactus,large,pink,,C1,cellar,5,0,,L2 C1\n" },
        { "tags of lots", tags_of_lots,
          "lot,variety,name,form,size,colour,row,place,room,divisions,clumps,held,scan\n"
          "L2,BRI,Briar Song,cactus,large,pink,,C1,cellar,5,0,,L2 C1\n"
          "M4,DOV,Dove Bell,ball,small,white,,C1,cellar,4,0,,M4 C1\n"
          "M4,DOV,Dove Bell,ball,small,white,,C3,cellar,9,3,,M4 C3\n" },
        { "walk on paper", paper_walk,
          "stop,room,place,lot,variety,name,form,colour,quantity,order,line,slot,state,taken,reason,held,"
          "taken_by\n"
          "1,cellar,C1,L2,BRI,Briar Song,cactus,pink,1,1001,2,2,done,1,,,\n"
          "2,cellar,C2,L1,AMB,Amber Lantern,ball,orange,2,1001,1,2,done,2,,,\n"
          "2,cellar,C2,L1,AMB,Amber Lantern,ball,orange,3,1002,1,3,done,2,rotten,,\n" },
        { "slips", slips,
          "parcel,slot,state,order,customer,postcode,country,region,line,variety,name,quantity,lots,instead_"
          "of,assortment,later\n"
          "1,1,open,1004,Di,,CA,,1,BRI,Briar Song,4,L2,,,0\n"
          "2,2,shipped,1001,Ada,,US,,1,AMB,Amber Lantern,2,L1,,,0\n"
          "2,2,shipped,1001,Ada,,US,,2,BRI,Briar Song,1,L2,,,0\n"
          "3,3,open,1002,Bo,,US,,1,AMB,Amber Lantern,2,L1,,,1\n" },
        { "labels", labels,
          "variety,name,form,colour,lot,quantity,scan\n"
          "AMB,Amber Lantern,ball,orange,L1,4,L1 AMB\n"
          "BRI,Briar Song,cactus,pink,L2,5,L2 BRI\n" },
        { "parcels", parcels,
          "id,wave,week,order,slot,state,customer,quantity,taken,open,weight_g,packed_at,packed_by,shipped_"
          "on,carrier,tracking,frost,late_weeks\n"
          "1,1,2032-W16,1004,1,open,Di,4,0,1,,,,,,,frost hold: night frost,0\n"
          "2,1,2032-W16,1001,2,shipped,Ada,3,3,0,700,2032-02-01T12:00:00Z,tester,2032-02-01,by road,,,0\n"
          "3,1,2032-W16,1002,3,open,Bo,3,2,0,,,,,,,frost hold: night frost,0\n" },
        { "schedule", schedule,
          "order,received_at,customer,zone,wish_week,week,parcels,pinned,sentence\n"
          "1001,2032-01-05T10:00:00Z,Ada,z7,,2032-W16,1,no,Shipped in week 2032-W16.\n"
          "1002,2032-01-05T11:00:00Z,Bo,z7,,2032-W16,1,no,Is being packed in the wave of week 2032-W16. But "
          "it is on hold that week: night frost.\n"
          "1003,2032-01-05T12:00:00Z,Cy,z7,,,1,no,Has no week: nothing may be sent to NZ (no certificate can "
          "be had).\n"
          "1004,2032-01-05T13:00:00Z,Di,z7,,2032-W16,1,no,Is being packed in the wave of week 2032-W16. But "
          "it is on hold that week: night frost.\n"
          "2001,2032-01-20T10:00:00Z,Fay,z7,,2032-W18,1,no,Leaves in week 2032-W18: 2 weeks later for night "
          "frost.\n"
          "2002,2032-01-21T10:00:00Z,Gus,z7,,2032-W18,1,no,Leaves in week 2032-W18: 2 weeks later for night "
          "frost.\n"
          "2003,2032-01-22T10:00:00Z,Hal,z7,,2032-W18,1,no,Leaves in week 2032-W18: 2 weeks later for night "
          "frost.\n"
          "2004,2032-01-23T10:00:00Z,Ivy,z3,,2032-W20,1,no,\"Leaves in week 2032-W20, the first week for "
          "zone z3.\"\n" },
        { "holds", holds,
          "hold,zone,order,first_week,last_week,why,at,actor,orders,parcels,stops\n"
          "1,z7,,2032-W16,2032-W17,night frost,2032-02-01T12:00:00Z,tester,2,2,1\n" },
        { "touched by the hold", touched,
          "hold,order,customer,wave,week,slot,parcel,state,open,taken,stops,sentence\n"
          "1,1004,Di,1,2032-W16,1,1,open,4,0,1,frost hold: night frost\n"
          "1,1002,Bo,1,2032-W16,3,3,open,0,2,0,frost hold: night frost\n" },
        { "breaks", breaks,
          "rule,amount,sentence\n"
          "gone,1,It is being packed in a wave.\n" },
        { "owed", owed,
          "order,customer,email,line,variety,why,cancelled,short,unit_price,owed,refunded,left\n"
          "1005,Ed,,1,BRI,cancelled,1,0,8.00,8.00,0.00,8.00\n"
          "1001,Ada,,1,AMB,guarantee claim,0,1,6.50,6.50,0.00,6.50\n" },
        { "claims", claims,
          "claim,order,line,customer,variety,name,quantity,at,why,answer,lot,amount,reply,answered_at,"
          "answered_by,replacement\n"
          "1,1001,1,Ada,AMB,Amber "
          "Lantern,1,2032-02-01T12:00:00Z,soft,refund,,6.50,sorry,2032-02-01T12:00:00Z,tester,\n" },
        { "runs", runs,
          "run,at,actor,what,rule,supply,confidence,lines,placed,digest,undone_at\n"
          "1,2032-02-01T12:00:00Z,tester,allocate,first-come,counted,,6,12,"
          "07f7787806b0e4a7e889b991ef8ead419f6870f2e54178d58c8e79a452f045ac,\n" },
        { "waiting list", waitlist,
          "order,line,customer,tier,short,now,consent,sentence\n"
          "2004,1,Ivy,wholesale,2,2,named,\"Number 1 of 2 waiting, by first-come; promised so far: 0 of the "
          "2 asked, and 2 can be promised now.\"\n"
          "2002,1,Gus,retail,3,3,any,\"Number 2 of 2 waiting, by first-come; promised so far: 0 of the 3 "
          "asked, and 3 can be promised now.\"\n" },
        { "catalogue", catalogue,
          "code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order,introduced,retired,"
          "version\n"
          "AMB,Amber Lantern,ball,small,orange,,6.50,0,0,,,no,1\n"
          "BRI,Briar Song,cactus,large,pink,,8.00,0,0,,,no,1\n"
          "CIN,Cinder,ball,small,red,,6.00,0,0,,,no,1\n"
          "DOV,Dove Bell,ball,small,white,,6.00,0,1,,,no,1\n" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    (void)state;
    make(&t);
    cw_check_ok(cw_shipping_hold(t.n, &t.who, "z7", NULL, 203216, 203217, "night frost", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_tracing_hold(t.n, &t.who, "M3", "leaf spots", &err), &err);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        print_message("%s\n", rows[i].name);
        cw_check_ok(rows[i].table(&t, &out, &err), &err);
        csv_is(&out, rows[i].want);
    }
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(every_table_says_what_happened),
                                        cmocka_unit_test(every_sheet_tells_its_story),
                                        cmocka_unit_test(every_list_shows_what_is_to_be_done) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
