/* SPDX-License-Identifier: MIT */
/* Each table of a small season, written out: what was loaded comes out as it went in, and all else as it happened. Invented
 * data; the figures follow from support/story.h. */
#include "support/story.h"

#include "desk/export/exporting.h"
#include "desk/stock/tracing.h"

#include "base/banned.h"

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
    { "varieties", "code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order,introduced,"
                   "retired,own_low,own_high\n"
                   "AMB,Amber Lantern,ball,small,orange,,6.50,0,0,,,no,,\n"
                   "BRI,Briar Song,cactus,large,pink,,8.00,0,0,,,no,,\n"
                   "CIN,Cinder,ball,small,red,,6.00,0,0,,,no,,\n"
                   "DOV,Dove Bell,ball,small,white,,6.00,0,1,,,no,,\n" },
    { "places", "place,room,walk_order\n"
                "C1,cellar,10\n"
                "C2,cellar,20\n"
                "C3,cellar,30\n" },
    { "zones", "zone,first_week\n"
               "z3,2032-W20\n"
               "z7,2032-W16\n" },
    { "destinations", "country,region,rule,note,carrier\n"
                      "CA,,warn,certificate needed,\n"
                      "NZ,,block,no certificate can be had,\n"
                      "US,,allow,,\n" },
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
    { "divisions", "lot,divided_on,clumps,saleable,blind,rotten,place,minutes,people\n"
                   "M3,2031-12-05,5,22,0,1,C3,,\n"
                   "M4,2031-12-06,4,15,0,0,C3,,\n" },
    { "checks", "lot,checked_on,stage,inspected,rotten,shrivelled,why\n"
                "M1,2032-01-10,clump,12,1,,\n"
                "M3,2032-01-11,division,20,2,,\n" },
    { "counts", "lot,counted_on,stage,count,place,looked\n"
                "L1,2032-01-20,division,5,,\n"
                "L2,2032-01-20,division,6,,\n"
                "L3,2032-01-20,division,3,,\n" },
    { "orders",
      "order,received_at,line,variety,quantity,unit_price,channel,tier,customer,name2,email,phone,"
      "street,town,postcode,country,region,language,zone,wish_week,ship_complete,paid,consent,named,all_or_"
      "none,"
      "assortment\n"
      "1001,2032-01-05T10:00:00Z,1,AMB,2,6.50,,retail,Ada,,,,,,,US,,,z7,,no,,none,,no,\n"
      "1001,2032-01-05T10:00:00Z,2,BRI,1,8.00,,retail,Ada,,,,,,,US,,,z7,,no,,none,,no,\n"
      "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,,retail,Bo,,,,,,,US,,,z7,,no,,none,,no,\n"
      "1003,2032-01-05T12:00:00Z,1,AMB,1,6.50,,retail,Cy,,,,,,,NZ,,,z7,,no,,none,,no,\n"
      "1004,2032-01-05T13:00:00Z,1,BRI,4,8.00,,wholesale,Di,,,,,,,CA,,,z7,,no,,none,,no,\n"
      "2001,2032-01-20T10:00:00Z,1,AMB,4,6.50,,retail,Fay,,fay@example.org,,,,,US,,,z7,,no,,same,,no,\n"
      "2001,2032-01-20T10:00:00Z,2,CIN,2,6.00,,retail,Fay,,fay@example.org,,,,,US,,,z7,,no,,none,,no,\n"
      "2002,2032-01-21T10:00:00Z,1,BRI,3,8.00,,retail,Gus,,gus@example.org,,,,,US,,,z7,,no,,any,,no,\n"
      "2003,2032-01-22T10:00:00Z,1,,3,5.00,,retail,Hal,,hal@example.org,,,,,US,,,z7,,no,,none,,no,colour="
      "white\n"
      "2004,2032-01-23T10:00:00Z,1,BRI,2,8.00,,wholesale,Ivy,,ivy@example.org,,,,,US,,,z3,,yes,,named,DOV,"
      "yes,"
      "\n" },
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
    { "parcels", "week,wave,slot,order,state,weight_g,shipped_on,carrier,tracking,more_tracking\n"
                 "2032-W16,1,1,1004,open,,,,,\n"
                 "2032-W16,1,2,1001,shipped,700,2032-02-01,by road,,\n"
                 "2032-W16,1,3,1002,open,,,,,\n" },
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
                "on,quantity,by,notice\n"
                "L1,AMB,,2031-10-20,1001,1,Ada,,,US,2032-W16,2,shipped,2032-02-01,2,picked,\n"
                "L1,AMB,,2031-10-20,1002,1,Bo,,,US,2032-W16,3,open,,2,picked,\n" },
    { "order 1001", "lot,variety,row,dug_on,order,line,customer,email,postcode,country,week,slot,state,"
                    "shipped_on,quantity,by,notice\n"
                    "L1,AMB,,2031-10-20,1001,1,Ada,,,US,2032-W16,2,shipped,2032-02-01,2,picked,\n"
                    "L2,BRI,,2031-10-21,1001,2,Ada,,,US,2032-W16,2,shipped,2032-02-01,1,picked,\n" },
    { "balance", "variety,name,clumps_dug,clumps_found,clumps_divided,clumps_rotten,clumps_lost,clumps_"
                 "renamed,clumps_on_hand,divisions_made,divisions_found,divisions_rotten,divisions_"
                 "shrivelled,divisions_lost,"
                 "divisions_planted,divisions_picked,divisions_renamed,divisions_on_hand,divisions_shipped\n"
                 "AMB,Amber Lantern,17,0,0,1,0,0,16,0,8,1,0,0,0,4,0,3,2\n"
                 "BRI,Briar Song,9,0,0,0,0,0,9,0,6,0,0,0,0,1,0,5,1\n"
                 "CIN,Cinder,8,0,4,1,0,0,3,22,0,2,0,0,0,0,0,20,0\n"
                 "DOV,Dove Bell,7,0,4,0,0,0,3,15,0,0,0,0,2,0,0,13,0\n" },
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
    story_make(&t);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out;
        print_message("%s\n", tables[i][0]);
        cw_check_ok(table_of(&t, tables[i][0], &out, &err), &err);
        csv_is(&out, tables[i][1]);
    }
    test_nursery_free(&t);
}

/* What is an order's own is made once and written for each of its lines; cell by cell the same comes out, past the writer's buffer, too. */
static void lines_of_an_order_say_alike_what_is_its_own(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_text csv = CW_TEXT(4 << 20);
    (void)state;
    test_nursery_make(&t);
    load_text(
        &t, "varieties.csv",
        "code,name,form,size,colour,price,hold_back,reserve\nAMB,Amber Lantern,ball,small,orange,6.50,2,1\n");
    cw_text_add(&csv, "order,received_at,line,variety,quantity,unit_price,customer,email,country,consent\n");
    for (int i = 0; i < 2000; i++)
        for (int line = 1; line <= 1 + i % 4; line++)
            cw_text_addf(&csv, "N%05d,2032-01-05T10:00:%02dZ,%d,AMB,%d,6.50,\"A \"\"%d\"\", B\",%s,%s,%s\n",
                         i, i % 60, line, 1 + (i + line) % 5, i % 7, i % 3 ? "somebody@example.org" : "",
                         i % 5 ? "US" : "", line % 2 ? "same" : "none");
    load_text(&t, "orders.csv", csv.data);
    for (int f = CW_AS_CSV; f <= CW_AS_JSON; f++) {
        cw_text one = CW_TEXT(8 << 20), cells = CW_TEXT(8 << 20);
        cw_table rows;
        cw_check_ok(cw_exporting_write(t.n, &t.who, "orders", (cw_format)f, cw_sink_text(&one), &err), &err);
        cw_check_ok(cw_exporting_table(t.n, &t.who, "orders", &rows, &err), &err);
        assert_int_equal(cw_table_rows(&rows), 5000);
        cw_check_ok(f == CW_AS_CSV ? cw_table_csv(&rows, cw_sink_text(&cells), &err)
                                   : cw_table_json(&rows, cw_sink_text(&cells), &err),
                    &err);
        assert_true(one.length > 4 * 65536);
        assert_string_equal(one.data, cells.data);
        cw_table_free(&rows);
        cw_text_free(&one);
        cw_text_free(&cells);
    }
    cw_text_free(&csv);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(lines_of_an_order_say_alike_what_is_its_own),
                                        cmocka_unit_test(every_table_says_what_happened) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
