/* SPDX-License-Identifier: MIT */
/* The sheets and lists that people read of a small season. Invented data; the figures follow from support/story.h. */
#include "support/json_is.h"
#include "support/story.h"

#include "desk/pack/paper.h"
#include "desk/stock/catalogue.h"
#include "desk/stock/tracing.h"

#include "base/banned.h"

static void every_sheet_tells_its_story(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *o = NULL;
    (void)state;
    story_make(&t);
    cw_check_ok(cw_cellar_lot(t.n, "M5", &o, &err), &err);
    json_is(o, "lot "
               "{\"culled\":2,\"dug\":5,\"dug_on\":\"2031-10-27\",\"held\":null,\"id\":8,\"lot\":\"M5\","
               "\"name\":\"Amber Lantern\",\"place\":\"C2\",\"row\":\"r7\",\"variety\":\"AMB\"}\n"
               "balances {\"clumps\":5,\"divisions\":0,\"place\":\"C2\",\"room\":\"cellar\"}\n"
               "sessions "
               "{\"blind\":1,\"clumps\":2,\"day\":\"2032-02-01\",\"id\":3,\"minutes\":14,\"people\":2,"
               "\"place\":\"C2\",\"rotten\":0,\"saleable\":9,\"undone\":true}\n"
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
            "{\"blind\":0,\"clumps\":4,\"day\":\"2031-12-06\",\"id\":2,\"minutes\":null,\"people\":null,"
            "\"place\":\"C3\",\"rotten\":0,"
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
    json_is(
        o,
        "order "
        "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\",\"customer\":"
        "\"Ada\",\"destination_warning\":null,\"email\":null,\"frost\":null,\"frost_overruled\":null,\"kept_"
        "unpaid\":false,\"language\":null,\"merged_into\":null,\"name2\":null,\"order\":\"1001\",\"paid\":"
        "null,\"phone\":null,"
        "\"postcode\":null,\"received_at\":\"2032-01-05T10:00:00Z\",\"region\":null,\"replaces\":null,\"ship_"
        "complete\":false,\"state\":\"shipped\",\"street\":null,\"tier\":\"retail\",\"town\":null,"
        "\"version\":3,\"week\":\"2032-W16\",\"wish_week\":null,\"zone\":\"z7\",\"zone_by_range\":false}\n"
        "lines "
        "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":2,\"line\":1,\"name\":"
        "\"Amber Lantern\",\"named\":null,\"own\":2,\"quantity\":2,\"sentence\":\"On 2032-02-01 by "
        "first-come: All 2 asked can be promised. 2 are "
        "pulled.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"6.50\",\"variety\":\"AMB\"}\n"
        "lines "
        "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":1,\"line\":2,\"name\":"
        "\"Briar Song\",\"named\":null,\"own\":1,\"quantity\":1,\"sentence\":\"On 2032-02-01 by first-come: "
        "The one asked can be promised. 1 is "
        "pulled.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"8.00\",\"variety\":\"BRI\"}\n"
        "events {\"actor\":\"tester\",\"after\":\"3 divisions on 2032-02-01, by "
        "road\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":null,\"kind\":\"shipped\",\"line\":null,\"note\":"
        "null}\n"
        "events {\"actor\":\"tester\",\"after\":\"1 refunded: "
        "6.50\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":null,\"kind\":\"claim\",\"line\":1,\"note\":"
        "\"sorry\"}\n"
        "parcels {\"carrier\":\"by "
        "road\",\"more_tracking\":null,\"parcel\":2,\"shipped_on\":\"2032-02-01\",\"slot\":2,\"state\":"
        "\"shipped\",\"tracking\":"
        "null,\"week\":\"2032-W16\",\"weight_g\":700}\n"
        "notices "
        "{\"amount\":\"6.50\",\"due_on\":\"2032-02-10\",\"evidence\":null,\"kind\":\"refund\",\"line\":1,"
        "\"notice\":3,\"state\":\"due\"}\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "1005", &o, &err), &err);
    json_is(
        o,
        "order "
        "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\",\"customer\":"
        "\"Ed\",\"destination_warning\":null,\"email\":null,\"frost\":null,\"frost_overruled\":null,\"kept_"
        "unpaid\":false,\"language\":null,\"merged_into\":null,\"name2\":null,\"order\":\"1005\",\"paid\":"
        "null,\"phone\":null,"
        "\"postcode\":null,\"received_at\":\"2032-01-05T14:00:00Z\",\"region\":null,\"replaces\":null,\"ship_"
        "complete\":false,\"state\":\"cancelled\",\"street\":null,\"tier\":\"retail\",\"town\":null,"
        "\"version\":3,\"week\":\"2032-W20\",\"wish_week\":null,\"zone\":\"z3\",\"zone_by_range\":false}\n"
        "lines "
        "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":0,\"line\":1,\"name\":"
        "\"Briar Song\",\"named\":null,\"own\":0,\"quantity\":0,\"sentence\":\"This line was cancelled; "
        "nothing is asked on it any more. On 2032-02-01 1 BRI was taken back: moved "
        "away.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"8.00\",\"variety\":\"BRI\"}\n"
        "events "
        "{\"actor\":\"tester\",\"after\":\"0\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":\"1\",\"kind\":"
        "\"cancelled\",\"line\":1,\"note\":\"moved away\"}\n"
        "events "
        "{\"actor\":\"tester\",\"after\":\"cancelled\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":\"open\","
        "\"kind\":\"cancelled\",\"line\":null,\"note\":\"moved away\"}\n"
        "notices "
        "{\"amount\":\"8.00\",\"due_on\":\"2032-02-10\",\"evidence\":null,\"kind\":\"refund\",\"line\":1,"
        "\"notice\":1,\"state\":\"due\"}\n"
        "notices "
        "{\"amount\":\"0.00\",\"due_on\":\"2032-02-10\",\"evidence\":null,\"kind\":\"cancelled\",\"line\":"
        "null,\"notice\":2,\"state\":\"due\"}\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "2004", &o, &err), &err);
    json_is(o, "order "
               "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\","
               "\"customer\":\"Ivy\",\"destination_warning\":null,\"email\":\"ivy@example.org\",\"frost\":"
               "null,\"frost_overruled\":null,\"kept_unpaid\":false,\"language\":null,\"merged_into\":null,"
               "\"name2\":null,"
               "\"order\":\"2004\",\"paid\":null,\"phone\":null,\"postcode\":null,\"received_at\":\"2032-01-"
               "23T10:00:00Z\",\"region\":null,\"replaces\":null,\"ship_complete\":true,\"state\":\"open\","
               "\"street\":null,\"tier\":\"wholesale\",\"town\":null,\"version\":1,\"week\":null,\"wish_"
               "week\":null,\"zone\":\"z3\",\"zone_by_range\":false}\n"
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
SEEN(tags_of_sessions, cw_paper_cut_tags(t->n, cw_day_from_ymd(2031, 12, 5), NULL, 0, out, err))
SEEN(tags_of_lots, cw_paper_tags(t->n, 0, tagged, 2, out, err))
SEEN(paper_walk, cw_paper_walk(t->n, &t->who, 1, out, err))
SEEN(slips, cw_paper_slips(t->n, 1, false, out, err))
SEEN(slip_rest, cw_paper_rest(t->n, 1, out, err))
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
        { "tags of sessions", tags_of_sessions,
          "lot,variety,name,form,size,colour,row,place,room,divisions,clumps,held,scan,cut_on\n"
          "M3,CIN,Cinder,ball,small,red,,C3,cellar,22,0,leaf spots,M3 C3,2031-12-05\n" },
        { "tags of lots", tags_of_lots,
          "lot,variety,name,form,size,colour,row,place,room,divisions,clumps,held,scan\n"
          "L2,BRI,Briar Song,cactus,large,pink,,C1,cellar,5,0,,L2 C1\n"
          "M4,DOV,Dove Bell,ball,small,white,,C1,cellar,4,0,,M4 C1\n"
          "M4,DOV,Dove Bell,ball,small,white,,C3,cellar,9,3,,M4 C3\n" },
        { "walk on paper", paper_walk,
          "stop,room,place,lot,variety,name,form,colour,quantity,order,line,slot,state,taken,reason,held,"
          "taken_by,week\n"
          "1,cellar,C1,L2,BRI,Briar Song,cactus,pink,1,1001,2,2,done,1,,,,2032-W16\n"
          "2,cellar,C2,L1,AMB,Amber Lantern,ball,orange,2,1001,1,2,done,2,,,,2032-W16\n"
          "2,cellar,C2,L1,AMB,Amber Lantern,ball,orange,3,1002,1,3,done,2,rotten,,,2032-W16\n" },
        { "slips", slips,
          "parcel,slot,state,order,customer,name2,street,town,postcode,country,region,language,line,va"
          "riety,name,quantity,lots,instead_of,assortment,slots,joined\n"
          "1,1,open,1004,Di,,,,,CA,,,1,BRI,Briar Song,4,L2,,,,\n"
          "2,2,shipped,1001,Ada,,,,,US,,,1,AMB,Amber Lantern,2,L1,,,,\n"
          "2,2,shipped,1001,Ada,,,,,US,,,2,BRI,Briar Song,1,L2,,,,\n"
          "3,3,open,1002,Bo,,,,,US,,,1,AMB,Amber Lantern,2,L1,,,,\n" },
        { "what is in no slip", slip_rest,
          "parcel,line_id,line,name,follows,waits,refunded\n"
          "1,5,1,Briar Song,0,0,0\n"
          "2,1,1,Amber Lantern,0,0,0\n"
          "2,2,2,Briar Song,0,0,0\n"
          "3,3,1,Amber Lantern,1,0,0\n" },
        { "labels", labels,
          "variety,name,form,colour,lot,quantity,scan,slot,order\n"
          "BRI,Briar Song,cactus,pink,L2,4,L2 BRI,1,1004\n"
          "BRI,Briar Song,cactus,pink,L2,1,L2 BRI,2,1001\n"
          "AMB,Amber Lantern,ball,orange,L1,2,L1 AMB,2,1001\n"
          "AMB,Amber Lantern,ball,orange,L1,2,L1 AMB,3,1002\n" },
        { "parcels", parcels,
          "id,wave,week,order,slot,state,customer,quantity,taken,open,weight_g,packed_at,packed_by,shipped_"
          "on,carrier,tracking,frost,unpaid,corrected,late_weeks,joined,slots,boxes,more_tracking\n"
          "1,1,2032-W16,1004,1,open,Di,4,0,1,,,,,,,frost hold: night frost,no,no,0,,,1,\n"
          "2,1,2032-W16,1001,2,shipped,Ada,3,3,0,700,2032-02-01T12:00:00Z,tester,2032-02-01,by "
          "road,,,no,no,0,,,1,\n"
          "3,1,2032-W16,1002,3,open,Bo,3,2,0,,,,,,,frost hold: night frost,no,no,0,,,1,\n" },
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
          "hold,zone,order,first_week,last_week,why,at,actor,orders,parcels,stops,country,region,postcode_"
          "from,postcode_to,carrier\n"
          "1,z7,,2032-W16,2032-W17,night frost,2032-02-01T12:00:00Z,tester,2,2,1,,,,,\n" },
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
          "own_low,own_high,version\n"
          "AMB,Amber Lantern,ball,small,orange,,6.50,0,0,,,no,,,1\n"
          "BRI,Briar Song,cactus,large,pink,,8.00,0,0,,,no,,,1\n"
          "CIN,Cinder,ball,small,red,,6.00,0,0,,,no,,,1\n"
          "DOV,Dove Bell,ball,small,white,,6.00,0,1,,,no,,,1\n" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    (void)state;
    story_make(&t);
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

static json_t *board_of(test_nursery *t, const cw_board_ask *ask)
{
    cw_error err = CW_ERROR_NONE;
    cw_text text = CW_TEXT(1 << 20);
    cw_check_ok(cw_shipping_board(t->n, &t->who, ask, cw_sink_text(&text), &err), &err);
    json_t *o = json_loads(text.data, 0, NULL);
    assert_non_null(o);
    cw_text_free(&text);
    return o;
}

/* The orders of the whole board that are of this week, or have something to send and no week. */
static json_t *chosen(const json_t *all, const char *week, bool without)
{
    json_t *list = json_array(), *o = NULL;
    size_t i = 0;
    json_array_foreach(json_object_get(all, "orders"), i, o)
    {
        const char *of = json_string_value(json_object_get(o, "week"));
        bool none = of == NULL && json_integer_value(json_object_get(o, "parcels")) > 0;
        if ((of && week && strcmp(of, week) == 0) || (without && none))
            json_array_append(list, o);
    }
    return list;
}

static void a_part_of_the_board_is_what_the_whole_says(void **state)
{
    static const struct {
        cw_board_ask ask;
        const char *week;
    } asks[] = { { { 203216, false, 99 }, "2032-W16" }, { { 203218, false, 99 }, "2032-W18" },
                 { { 203230, false, 99 }, "2032-W30" }, { { 0, true, 99 }, NULL },
                 { { 203216, true, 99 }, "2032-W16" },  { { 203216, false, 1 }, "2032-W16" },
                 { { 203216, true, 0 }, "2032-W16" } };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    (void)state;
    picking_make(&t);
    cw_check_ok(cw_shipping_hold(t.n, &t.who, NULL, "1002", 203210, 203310, "away", &rows, &err), &err);
    cw_table_free(&rows);
    json_t *all = board_of(&t, NULL);
    assert_int_equal(json_integer_value(json_object_get(all, "without")), 2);
    assert_int_equal(json_integer_value(json_object_get(all, "found")),
                     json_array_size(json_object_get(all, "orders")));
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        json_t *part = board_of(&t, &asks[i].ask), *want = chosen(all, asks[i].week, asks[i].ask.without);
        assert_int_equal(json_integer_value(json_object_get(part, "found")), json_array_size(want));
        while (json_array_size(want) > (size_t)asks[i].ask.most)
            json_array_remove(want, json_array_size(want) - 1);
        assert_true(json_equal(json_object_get(part, "orders"), want));
        assert_true(json_equal(json_object_get(part, "weeks"), json_object_get(all, "weeks")));
        json_decref(part);
        json_decref(want);
    }
    json_decref(all);
    test_nursery_free(&t);
}

/* What is changed of a variety, and only of that one; who saw an older row is refused and shown the row as it is. */
static void the_catalogue_is_changed_by_who_saw_it(void **state)
{
    static const char head[] = "code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order,"
                               "introduced,retired,own_low,own_high,version\n";
    static const struct {
        cw_catalogue_edit edit;
        cw_code code;
        const char *row;
    } rows[] = {
        { { 3, 2, -1, -1, -1, 1 }, CW_OK, "BRI,Briar Song,cactus,large,pink,,8.00,3,2,,,no,,,2\n" },
        { { 4, -1, -1, -1, -1, 1 }, CW_CONFLICT, "BRI,Briar Song,cactus,large,pink,,8.00,3,2,,,no,,,2\n" },
        { { -1, -1, 6, 850, 1, 2 }, CW_OK, "BRI,Briar Song,cactus,large,pink,,8.50,3,2,6,,yes,,,3\n" },
        { { -1, -1, 0, -1, 0, 3 }, CW_OK, "BRI,Briar Song,cactus,large,pink,,8.50,3,2,,,no,,,4\n" },
    };
    test_nursery t;
    char want[400];
    (void)state;
    picking_make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out;
        assert_int_equal(cw_catalogue_change(t.n, &t.who, "BRI", &rows[i].edit, &out, &err), rows[i].code);
        snprintf(want, sizeof want, "%s%s", head, rows[i].row);
        csv_is(&out, want);
    }
    rows_are(&t, "SELECT price, hold_back, reserve, version FROM variety WHERE code = 'AMB'", "650|0|0|1\n");
    rows_are(&t, "SELECT actor, action, subject, before, after FROM audit WHERE action = 'edit variety'",
             "tester|edit variety|BRI|hold-back 0, reserve 0, price 8.00, limit 0|hold-back 3, reserve 2, "
             "price 8.00, limit 0\n"
             "tester|edit variety|BRI|hold-back 3, reserve 2, price 8.00, limit 0|hold-back 3, reserve 2, "
             "price 8.50, limit 6, retired\n"
             "tester|edit variety|BRI|hold-back 3, reserve 2, price 8.50, limit 6, retired|hold-back 3, "
             "reserve 2, price 8.50, limit 0\n");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_sheet_tells_its_story),
        cmocka_unit_test(every_list_shows_what_is_to_be_done),
        cmocka_unit_test(a_part_of_the_board_is_what_the_whole_says),
        cmocka_unit_test(the_catalogue_is_changed_by_who_saw_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
