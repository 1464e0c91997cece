/* SPDX-License-Identifier: MIT */
/* What the office does stands on record. */
#include "support/json_is.h"
#include "support/story.h"

#include "desk/ship/overruling.h"

#include "base/banned.h"

/* Holds, moves, what is ordered in spite of them, picks answered again, filled, taken off: who did what, and why. */
static void what_the_office_does_is_on_record(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_text board = CW_TEXT(1 << 20);
    json_t *o = NULL;
    char sql[200], outcome[16];
    int64_t added = 0;
    (void)state;
    story_make(&t);
    int64_t since = number_of(&t, "SELECT MAX(id) FROM audit"),
            events = number_of(&t, "SELECT MAX(id) FROM order_event");
    cw_check_ok(cw_shipping_hold(t.n, &t.who, "z7", NULL, 203216, 203217, "night frost", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_shipping_hold(t.n, &t.who, NULL, "2002", 203218, 203219, "away", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_shipping_lift(t.n, &t.who, 2, &err), &err);
    cw_check_ok(cw_shipping_move(t.n, &t.who, "2001", 203218, "rang", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_overruling_set(t.n, &t.who, "1003", CW_OVERRULE_DESTINATION, "has a certificate", &err),
                &err);
    cw_check_ok(cw_overruling_set(t.n, &t.who, "1002", CW_OVERRULE_FROST, "a heated van", &err), &err);
    cw_check_ok(cw_picking_take(t.n, &t.who, 2, "Marta", &err), &err);
    cw_check_ok(cw_picking_release(t.n, &t.who, 2, "Marta", &err), &err);
    cw_check_ok(cw_picking_undo(t.n, &t.who, pick_of(&t, "1002", 1), "miscounted", &err), &err);
    answer(&t, "Marta", "once more", pick_of(&t, "1002", 1), 1, "missing", outcome);
    cw_check_ok(
        cw_picking_fill(t.n, &t.who, parcel_of(&t, "1002"), &(cw_picking_from){ NULL, NULL }, &added, &err),
        &err);
    cw_check_ok(cw_picking_take_off(t.n, &t.who, parcel_of(&t, "1004"), "rang", &err), &err);
    snprintf(sql, sizeof sql, "SELECT actor, action, subject, before, after FROM audit WHERE id > %lld",
             (long long)since);
    rows_are(&t, sql,
             "tester|frost hold|z7||night frost\n"
             "tester|frost hold|2002||\n"
             "tester|lift frost hold|2||\n"
             "tester|move order|2001||2032-W18\n"
             "tester|overrule|1003||destination\n"
             "tester|overrule|1002||frost hold\n"
             "tester|undo pick|pick 4|2 of 3 taken, the rest rotten|miscounted\n"
             "Marta|answer pick|pick 4||order 1002 line 1, lot L1: 1 of 3 taken, the rest missing\n"
             "tester|add picks|parcel 3||2 divisions more for order 1002\n"
             "tester|take off list|parcel 1|1004|\n");
    snprintf(sql, sizeof sql,
             "SELECT o.number, e.line_id, e.actor, e.kind, e.before, e.after, e.note FROM order_event e JOIN "
             "orders o "
             "ON o.id = e.order_id WHERE e.id > %lld",
             (long long)events);
    rows_are(&t, sql,
             "2001||tester|moved||2032-W18|rang\n"
             "1003||tester|overruled||destination|has a certificate\n"
             "1002||tester|overruled||frost hold|a heated van\n"
             "1004||tester|taken off the list|||rang\n");
    rows_are(
        &t,
        "SELECT order_id, p.slot, k.quantity, k.taken, k.state, k.short_reason, k.answered_by FROM pick k "
        "JOIN parcel p "
        "ON p.id = k.parcel_id ORDER BY k.id",
        "1|2|1|1|done||Marta\n"
        "1|2|2|2|done||Marta\n"
        "2|3|3|1|done|missing|Marta\n"
        "2|3|2|0|open||\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "1003", &o, &err), &err);
    json_is(o, "order {\"blocked\":null,\"blocked_overruled\":\"nothing may be sent to NZ (no certificate "
               "can be had); overruled by tester: has a "
               "certificate\",\"channel\":null,\"country\":\"NZ\",\"customer\":\"Cy\",\"destination_"
               "warning\":null,\"email\":null,\"frost\":\"frost hold: night frost (2032-W16 – "
               "2032-W17)\",\"frost_overruled\":null,\"kept_unpaid\":false,\"language\":null,\"merged_into\":"
               "null,\"name2\":null,"
               "\"order\":\"1003\",\"paid\":null,\"phone\":null,\"postcode\":null,\"received_at\":\"2032-01-"
               "05T12:00:00Z\",\"region\":null,\"replaces\":null,\"ship_complete\":false,\"state\":\"open\","
               "\"street\":null,\"tier\":\"retail\",\"town\":null,\"version\":1,\"week\":null,\"wish_week\":"
               "null,\"zone\":\"z7\",\"zone_by_range\":false}\n"
               "lines "
               "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":1,\"line\":1,"
               "\"name\":\"Amber Lantern\",\"named\":null,\"own\":1,\"quantity\":1,\"sentence\":\"On "
               "2032-02-01 by first-come: The one asked can be "
               "promised.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"6.50\",\"variety\":\"AMB\"}\n"
               "events "
               "{\"actor\":\"tester\",\"after\":\"destination\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":"
               "null,\"kind\":\"overruled\",\"line\":null,\"note\":\"has a certificate\"}\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "1002", &o, &err), &err);
    json_is(o, "order "
               "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\","
               "\"customer\":\"Bo\",\"destination_warning\":null,\"email\":null,\"frost\":null,\"frost_"
               "overruled\":\"frost hold (2032-W16 – 2032-W17) overruled by tester: a heated "
               "van\",\"kept_unpaid\":false,\"language\":null,\"merged_into\":null,\"name2\":null,\"order\":"
               "\"1002\",\"paid\":"
               "null,\"phone\":null,\"postcode\":null,\"received_at\":\"2032-01-05T11:00:00Z\",\"region\":"
               "null,\"replaces\":null,\"ship_complete\":false,\"state\":\"open\",\"street\":null,\"tier\":"
               "\"retail\",\"town\":null,\"version\":2,\"week\":\"2032-W16\",\"wish_week\":null,\"zone\":"
               "\"z7\",\"zone_by_range\":false}\n"
               "lines "
               "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":3,\"line\":1,"
               "\"name\":\"Amber Lantern\",\"named\":null,\"own\":3,\"quantity\":3,\"sentence\":\"On "
               "2032-02-01 by first-come: All 3 asked can be promised. 1 is pulled. 2 are on an open pick "
               "list.\",\"short\":0,\"substitutes\":[],\"unit_price\":\"6.50\",\"variety\":\"AMB\"}\n"
               "events {\"actor\":\"tester\",\"after\":\"frost "
               "hold\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":null,\"kind\":\"overruled\",\"line\":null,"
               "\"note\":\"a heated van\"}\n"
               "parcels "
               "{\"carrier\":null,\"more_tracking\":null,\"parcel\":3,\"shipped_on\":null,\"slot\":3,"
               "\"state\":\"open\","
               "\"tracking\":null,\"week\":\"2032-W16\",\"weight_g\":null}\n");
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "2001", &o, &err), &err);
    json_is(o,
            "order "
            "{\"blocked\":null,\"blocked_overruled\":null,\"channel\":null,\"country\":\"US\",\"customer\":"
            "\"Fay\",\"destination_warning\":null,\"email\":\"fay@example.org\",\"frost\":\"frost hold: "
            "night frost (2032-W16 – "
            "2032-W17)\",\"frost_overruled\":null,\"kept_unpaid\":false,\"language\":null,\"merged_into\":"
            "null,\"name2\":null,"
            "\"order\":\"2001\",\"paid\":null,\"phone\":null,\"postcode\":null,\"received_at\":\"2032-01-"
            "20T10:00:00Z\",\"region\":null,\"replaces\":null,\"ship_complete\":false,\"state\":\"open\","
            "\"street\":null,\"tier\":\"retail\",\"town\":null,\"version\":2,\"week\":\"2032-W18\",\"wish_"
            "week\":null,\"zone\":\"z7\",\"zone_by_range\":false}\n"
            "lines "
            "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"same\",\"firm\":0,\"line\":1,\"name\":"
            "\"Amber Lantern\",\"named\":null,\"own\":0,\"quantity\":4,\"sentence\":\"It waits for the next "
            "sharing of AMB: number 1 of "
            "1.\",\"short\":4,\"substitutes\":[],\"unit_price\":\"6.50\",\"variety\":\"AMB\"}\n"
            "lines "
            "{\"all_or_none\":false,\"assortment\":null,\"consent\":\"none\",\"firm\":0,\"line\":2,\"name\":"
            "\"Cinder\",\"named\":null,\"own\":0,\"quantity\":2,\"sentence\":\"It has not been shared out "
            "yet.\",\"short\":2,\"substitutes\":[],\"unit_price\":\"6.00\",\"variety\":\"CIN\"}\n"
            "events "
            "{\"actor\":\"tester\",\"after\":\"2032-W18\",\"at\":\"2032-02-01T12:00:00Z\",\"before\":null,"
            "\"kind\":\"moved\",\"line\":null,\"note\":\"rang\"}\n");
    cw_check_ok(cw_shipping_board(t.n, &t.who, NULL, cw_sink_text(&board), &err), &err);
    o = json_loads(board.data, 0, NULL);
    cw_text_free(&board);
    json_is(o, "weeks {\"capacity\":200,\"orders\":2,\"parcels\":2,\"week\":\"2032-W16\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W17\"}\n"
               "weeks {\"capacity\":200,\"orders\":5,\"parcels\":5,\"week\":\"2032-W18\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W19\"}\n"
               "weeks {\"capacity\":200,\"orders\":1,\"parcels\":1,\"week\":\"2032-W20\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W21\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W22\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W23\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W24\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W25\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W26\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W27\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W28\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W29\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W30\"}\n"
               "weeks {\"capacity\":200,\"orders\":0,\"parcels\":0,\"week\":\"2032-W31\"}\n"
               "without 0\nfound 8\n"
               "orders "
               "{\"customer\":\"Ada\",\"order\":\"1001\",\"parcels\":1,\"pinned\":false,\"received_at\":"
               "\"2032-01-05T10:00:00Z\",\"sentence\":\"Shipped in week "
               "2032-W16.\",\"week\":\"2032-W16\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "orders "
               "{\"customer\":\"Bo\",\"order\":\"1002\",\"parcels\":1,\"pinned\":false,\"received_at\":"
               "\"2032-01-05T11:00:00Z\",\"sentence\":\"Is being packed in the wave of week "
               "2032-W16.\",\"week\":\"2032-W16\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "orders "
               "{\"customer\":\"Cy\",\"order\":\"1003\",\"parcels\":1,\"pinned\":false,\"received_at\":"
               "\"2032-01-05T12:00:00Z\",\"sentence\":\"Leaves in week 2032-W18: 2 weeks later for night "
               "frost.\",\"week\":\"2032-W18\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "orders "
               "{\"customer\":\"Di\",\"order\":\"1004\",\"parcels\":1,\"pinned\":false,\"received_at\":"
               "\"2032-01-05T13:00:00Z\",\"sentence\":\"Leaves in week 2032-W18: 2 weeks later for night "
               "frost.\",\"week\":\"2032-W18\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "orders "
               "{\"customer\":\"Fay\",\"order\":\"2001\",\"parcels\":1,\"pinned\":true,\"received_at\":"
               "\"2032-01-20T10:00:00Z\",\"sentence\":\"Leaves in week 2032-W18, which the office "
               "chose.\",\"week\":\"2032-W18\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "orders "
               "{\"customer\":\"Gus\",\"order\":\"2002\",\"parcels\":1,\"pinned\":false,\"received_at\":"
               "\"2032-01-21T10:00:00Z\",\"sentence\":\"Leaves in week 2032-W18: 2 weeks later for night "
               "frost.\",\"week\":\"2032-W18\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "orders "
               "{\"customer\":\"Hal\",\"order\":\"2003\",\"parcels\":1,\"pinned\":false,\"received_at\":"
               "\"2032-01-22T10:00:00Z\",\"sentence\":\"Leaves in week 2032-W18: 2 weeks later for night "
               "frost.\",\"week\":\"2032-W18\",\"wish_week\":null,\"zone\":\"z7\"}\n"
               "orders "
               "{\"customer\":\"Ivy\",\"order\":\"2004\",\"parcels\":1,\"pinned\":false,\"received_at\":"
               "\"2032-01-23T10:00:00Z\",\"sentence\":\"Leaves in week 2032-W20, the first week for zone "
               "z3.\",\"week\":\"2032-W20\",\"wish_week\":null,\"zone\":\"z3\"}\n");
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_the_office_does_is_on_record),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
