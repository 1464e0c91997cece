/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_CONTRACT_SEASON_H
#define CW_TESTS_HTTP_CONTRACT_SEASON_H

/* For test_contract: a season over HTTP in which every write is answered well once. A new route that writes has its step here. */
#include "contract_world.h"
#include "mailing.h"

#include "support/phone.h"

/* What a season asks of the desks, from the cellar to the claim, on a lot of 40 clumps and an order of 3 divisions. */
static void in_the_cellar(world *w)
{
    post(w, 201, "/api/counts", "{\"lot\":\"%s\",\"stage\":\"clump\",\"count\":40}", w->lot);
    post(w, 201, "/api/checks", "{\"lot\":\"%s\",\"stage\":\"clump\",\"inspected\":5,\"rotten\":1}", w->lot);
    post(w, 201, "/api/dividing", "{\"lot\":\"%s\",\"clumps\":10,\"saleable\":40,\"blind\":2}", w->lot);
    post(w, 201, "/api/moves", "{\"lot\":\"%s\",\"to\":\"%s\",\"divisions\":5,\"clumps\":null}", w->lot,
         w->place);
    post(w, 200, "/api/records/places",
         "{\"rows\":[{\"was\":null,\"now\":{\"place\":\"NEW-9\",\"room\":\"loft\",\"walk_order\":\"90\"}}]}");
    post(w, 200, "/api/records/places",
         "{\"rows\":[{\"was\":{\"place\":\"NEW-9\",\"room\":\"loft\",\"walk_order\":\"90\"},\"now\":null}]}");
    post(w, 409, "/api/records/places",
         "{\"rows\":[{\"was\":{\"place\":\"NEW-9\",\"room\":\"loft\",\"walk_order\":\"90\"},\"now\":null}]}");
    char priced[80];
    snprintf(priced, sizeof priced, "/api/bench/price?lot=%s&day=2032-02-25", w->lot);
    json_decref(asked(w, 200, "GET", priced, NULL));
    post(w, 200, "/api/bench/move", "{\"lot\":\"%s\",\"day\":\"2032-02-25\"}", w->lot);
    post(w, 200, "/api/bench/let-go", "{\"lot\":\"%s\"}", w->lot);
    post(w, 200, "/api/bench/freeze", "{}");
    post(w, 200, "/api/bench/crew", "{\"day\":\"2032-02-26\",\"cutters\":3,\"washers\":1,\"hours\":6.5}");
    post(w, 200, "/api/bench/washed", "{\"lot\":\"%s\",\"washed_on\":\"2032-02-20\"}", w->lot);
    char body[200];
    snprintf(body, sizeof body, "{\"lot\":\"%s\",\"divisions\":1,\"reason\":\"discarded\"}", w->lot);
    w->cause = asked_number(w, 201, "POST", "/api/entries", body, "cause_id");
    post(w, 201, "/api/undo", "{\"cause\":\"entry\",\"cause_id\":%lld,\"why\":\"typed wrong\"}", w->cause);
    post(w, 204, "/api/lots/L1/hold", "{\"why\":\"looks odd\"}");
    post(w, 204, "/api/lots/L1/hold", "{}");
}

/* A second code of a variety, and two varieties again. */
static void two_codes(world *w)
{
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"varieties.csv\",\"text\":\"code,name\\nTWICE,Twice Named\\nTWIN,Twin "
         "Named\\n\"}],\"same_name\":\"new\"}");
    post(w, 200, "/api/varieties/TWICE/merge", "{\"to\":\"TWIN\"}");
    post(w, 200, "/api/varieties/TWICE/merge", "{\"to\":\"TWIN\",\"why\":\"one plant\",\"commit\":true}");
    json_decref(asked(w, 200, "GET", "/api/merged", NULL));
    post(w, 200, "/api/varieties/TWICE/part", "{}");
    post(w, 200, "/api/varieties/TWICE/part", "{\"why\":\"two plants\",\"commit\":true}");
}

static void in_the_field(world *w)
{
    post(w, 201, "/api/field/plantings",
         "{\"row\":\"R1\",\"variety\":\"%s\",\"plants\":30,\"planted_on\":\"2031-05-12\"}", w->variety);
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"plantings.csv\",\"text\":\"row,variety,plants,planted_on\\n,%s,5,2031-05-"
         "13\\n\"}]}",
         w->variety);
    json_t *rows = asked(w, 200, "GET", "/api/field", NULL);
    long long nameless =
        json_integer_value(json_object_get(json_array_get(rows, json_array_size(rows) - 1), "planting"));
    json_decref(rows);
    post(w, 201, "/api/field/name", "{\"planting\":%lld,\"row\":\"R2\"}", nameless);
    post(w, 201, "/api/field/take", "{\"row\":\"R1\",\"take\":\"yes\"}");
    long long round =
        asked_number(w, 201, "POST", "/api/field/rounds",
                     "{\"row\":\"R1\",\"seen_on\":\"2031-07-01\",\"alive\":28,\"rogued\":1}", "cause_id");
    post(w, 201, "/api/field/dug",
         "{\"row\":\"R1\",\"dug_on\":\"2031-10-28\",\"clumps\":20,\"culled\":1,\"place\":\"%s\",\"done\":"
         "\"yes\"}",
         w->place);
    post(w, 201, "/api/field/undo", "{\"cause\":\"round\",\"cause_id\":%lld,\"why\":\"typed wrong\"}", round);
    json_decref(asked(w, 200, "GET", "/api/field/dug?day=2031-10-01", NULL));
    post(w, 201, "/api/season/left", "{\"items\":[{\"lot\":\"%s\",\"row\":\"B1\",\"planted\":1}]}", w->lot);
}

static void at_the_winter_desk(world *w)
{
    json_decref(asked(w, 200, "PATCH", "/api/varieties/AMB", "{\"version\":1,\"hold_back\":2}"));
    post(w, 200, "/api/varieties/AMB/code", "{\"to\":\"AMBER\"}");
    post(w, 200, "/api/varieties/AMB/code", "{\"to\":\"AMBER\",\"why\":\"a label\",\"commit\":true}");
    json_decref(asked(w, 200, "GET", "/api/former-codes", NULL));
    post(w, 200, "/api/varieties/AMBER/code", "{\"to\":\"AMB\",\"why\":\"back\",\"commit\":true}");
    char of_lot[80];
    snprintf(of_lot, sizeof of_lot, "/api/lots/%s/variety", w->lot);
    post(w, 0, of_lot, "{\"to\":\"%s\"}", w->variety); /* one of the two it is */
    post(w, 0, of_lot, "{\"to\":\"%s\"}", w->other);
    json_decref(asked(w, 200, "PATCH", "/api/settings",
                      "{\"order_minimum\":\"20\",\"sender\":\"desk@example.org\"}"));
    json_decref(
        asked(w, 204, "POST", "/api/season/ship",
              "{\"day\":\"2032-04-26\",\"why\":\"a late frost\",\"based_on\":{\"day\":\"2032-04-19\"}}"));
    post(w, 201, "/api/releases",
         "{\"items\":[{\"variety\":\"AMB\",\"quantity\":20}],\"why\":\"first list\"}");
    int64_t run =
        asked_number(w, 201, "POST", "/api/keep",
                     "{\"items\":[{\"variety\":\"AMB\",\"keep\":7}],\"based_on\":{\"AMB\":2}}", "run");
    post(w, 200, "/api/keep-runs/undo", "{\"run\":%lld}", (long long)run);
    json_decref(
        asked(w, 204, "PATCH", "/api/keep/AMB", "{\"demand\":\"40..90\",\"based_on\":{\"demand\":\"\"}}"));
    post(w, 200, "/api/oversell", "{\"variety\":\"AMB\",\"quantity\":1,\"why\":\"a friend\"}");
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"zones.csv\",\"text\":\"zone,first_week\\nz5,2032-W18\\n\"}],"
         "\"dry_run\":true}");
    post(w, 200, "/api/sheets/ours", "{\"name\":\"zones.csv\",\"text\":\"zone,first_week\\n\"}");
    post(w, 200, "/api/sheets/look",
         "{\"name\":\"racks.csv\",\"text\":\"Shelf;Cellar\\nR-01;\\nR-02;old\\n\",\"fit\":{\"constants\":"
         "[{\"field\":\"places.room\",\"value\":\"old\"}],\"names\":[{\"text\":\"a\",\"code\":\"AMB\"}]}}");
    post(w, 422, "/api/sheets/take",
         "{\"name\":\"list.csv\",\"text\":\"Variety;Dug;Clumps\\nAMB;01/02/2032;5\\n\"}");
    post(w, 422, "/api/sheets/take", "{\"name\":\"list.xlsx\",\"base64\":\"UEsDBA==\"}");
    post(w, 201, "/api/sheets/take",
         "{\"name\":\"racks.csv\",\"base64\":\"U2hlbGY7Q2VsbGFyClItMDE7b2xkCg==\",\"keep\":\"racks\"}");
    post(w, 201, "/api/sheets/take",
         "{\"name\":\"spare.csv\",\"base64\":\"Q2VsbGFyO1NoZWxmCm9sZDtSLTA5Cg==\",\"keep\":\"spare\"}");
    post(w, 204, "/api/fits/spare/rename", "{\"to\":\"shelves\"}");
    json_decref(asked(w, 204, "DELETE", "/api/fits/shelves", NULL));
}

static void orders_come(world *w)
{
    post(w, 201, "/api/orders",
         "[{\"order\":\"S1\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":3,\"unit_price\":\"6.50\","
         "\"consent\":\"any\"}]},"
         "{\"order\":\"S2\",\"customer\":\"Ida "
         "Invented\",\"email\":\"ida@example.org\",\"postcode\":\"00001\",\"lines\":"
         "[{\"variety\":\"AMB\",\"quantity\":2,\"unit_price\":6.5,\"all_or_none\":true,\"consent\":\"named\","
         "\"named\":[\"BRI\"]}]},"
         "{\"order\":\"S3\",\"customer\":\"Ida Invented\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,"
         "\"unit_price\":\"6.50\"},{\"assortment\":\"form=ball\",\"variety\":null,\"quantity\":1,\"unit_"
         "price\":\"5\","
         "\"line\":2}]}]");
    post(w, 409, "/api/orders",
         "{\"order\":\"S9\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":90,\"unit_price\":1}]}");
    post(w, 0, "/api/orders",
         "[{\"order\":\"S9\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":90,\"unit_price\":1}]},{}]");
    json_decref(
        asked(w, 200, "PATCH", "/api/orders/S1/lines/1", "{\"quantity\":4,\"why\":\"on the phone\"}"));
    post(w, 201, "/api/orders",
         "{\"order\":\"S5\",\"paid\":true,\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6."
         "50\"}]}");
    post(w, 201, "/api/orders",
         "{\"order\":\"S4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}]}");
    json_decref(asked(
        w, 200, "PATCH", "/api/orders/S2",
        "{\"customer\":\"Ida "
        "Invented\",\"town\":\"Nowhere\",\"paid\":\"no\",\"wish_week\":\"2032-W18\",\"consent\":\"none\","
        "\"why\":\"on the phone\",\"based_on\":{\"town\":\"\"}}"));
    post(w, 200, "/api/orders/S2/cancel", "{\"why\":\"moves house\"}");
    post(w, 201, "/api/orders",
         "[{\"order\":\"S6\",\"customer\":\"Eve\",\"email\":\"eve@example.org\",\"lines\":[{\"variety\":"
         "\"AMB\","
         "\"quantity\":1,\"unit_price\":\"6.50\"}]},"
         "{\"order\":\"S7\",\"customer\":\"Eve\",\"email\":\"eve@example.org\",\"lines\":[{\"variety\":"
         "\"AMB\","
         "\"quantity\":1,\"unit_price\":\"6.50\"}]}]");
    post(w, 201, "/api/orders/S7/lines",
         "{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\",\"consent\":\"any\",\"why\":\"rang\"}");
    json_decref(asked(w, 200, "GET", "/api/orders/S6/beside", NULL));
    post(w, 200, "/api/orders/S6/merge", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/unmerge", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/together", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/apart", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/cancel", "{\"why\":\"moves house\"}");
    post(w, 200, "/api/orders/S7/cancel", "{\"why\":\"moves house\"}");
    post(w, 200, "/api/orders/S3/cancel", "{\"why\":\"changed\",\"line\":1}");
}

static void shared_out(world *w)
{
    w->run = asked_number(w, 201, "POST", "/api/allocation", "{\"rule\":\"pro-rata\",\"supply\":\"counted\"}",
                          "run");
    post(w, 200, "/api/allocation/changes",
         "{\"before\":[{\"variety\":\"AMB\",\"order\":\"S1\",\"line\":1,\"rule\":\"pro-rata\",\"allocated\":"
         "1}]}");
    post(w, 204, "/api/allocation/undo", "{\"run\":%lld,\"why\":\"too early\"}", w->run);
    post(w, 201, "/api/allocation", "{\"rule\":\"first-come\"}");
    post(w, 204, "/api/allocation/take-back",
         "{\"order\":\"S1\",\"line\":1,\"variety\":\"AMB\",\"quantity\":1,\"why\":\"bruised\"}");
    post(w, 204, "/api/substitution/forbid",
         "{\"order\":\"S1\",\"line\":1,\"substitute\":\"BRI\",\"why\":\"asked\"}");
    json_decref(asked(w, 200, "GET", "/api/substitution/banned", NULL));
    post(w, 204, "/api/substitution/permit",
         "{\"order\":\"S1\",\"line\":1,\"substitute\":\"BRI\",\"why\":\"again\"}");
    post(w, 201, "/api/substitution", "{}");
    post(w, 201, "/api/allocation", "{\"rule\":\"first-come\"}");
}

static void weeks_set(world *w, char week[40])
{
    post(w, 200, "/api/schedule", "{}");
    json_t *o = asked(w, 200, "GET", "/api/schedule", NULL);
    note_text(json_object_get(o, "orders"), "week", 0, week);
    json_decref(o);
    post(w, 200, "/api/orders/S1/week", "{\"week\":\"2032-W20\",\"preview\":true}");
    post(w, 200, "/api/orders/S1/week", "{\"week\":\"%s\",\"why\":\"on holiday\"}", week);
    w->hold =
        asked_number(w, 201, "POST", "/api/frost-holds",
                     "{\"order\":\"S1\",\"first_week\":\"2032-W30\",\"last_week\":\"2032-W31\"}", "hold");
    post(w, 200, "/api/orders/S1/overrule", "{\"rule\":\"frost\",\"why\":\"goes in a heated van\"}");
    post(w, 200, "/api/orders/S1/overrule", "{\"rule\":\"frost\",\"heed\":true}");
    post(w, 201, "/api/frost-holds",
         "{\"country\":\"Deutschland\",\"postcode_from\":\"20\",\"postcode_to\":\"29\",\"first_week\":\"2032-"
         "W30\",\"last_week\":\"2032-W31\"}");
    post(w, 201, "/api/frost-holds",
         "{\"carrier\":\"Red Van\",\"first_week\":\"2032-W30\",\"last_week\":\"2032-W31\"}");
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"holds.csv\",\"text\":\"country,first_week,last_week\\nFR,2032-W30,2032-"
         "W31\\n\"}]}");
    post(w, 204, "/api/load/brought/1/undo", "{\"why\":\"the storm is over\"}");
    post(w, 422, "/api/frost-holds",
         "{\"country\":\"DE\",\"order\":\"S1\",\"first_week\":\"2032-W30\",\"last_week\":\"2032-W31\"}");
    char target[80];
    snprintf(target, sizeof target, "/api/frost-holds/%lld", w->hold);
    json_decref(asked(w, 204, "DELETE", target, NULL));
}

/* Makes a wave and notes its first stop, pick and parcel. */
static void wave_made(world *w, const char *week)
{
    char body[80], target[80];
    snprintf(body, sizeof body, "{\"week\":\"%s\",\"orders\":[\"S1\"]}", week);
    w->wave = asked_number(w, 201, "POST", "/api/waves", body, "wave");
    snprintf(target, sizeof target, "/api/waves/%lld", w->wave);
    json_t *o = asked(w, 200, "GET", target, NULL), *stops = json_object_get(o, "stops");
    w->stop = number(stops, "id");
    w->pick = number(json_object_get(json_array_get(stops, 0), "picks"), "id");
    w->parcel = number(json_object_get(o, "parcels"), "id");
    json_decref(o);
    assert_true(w->stop > 0 && w->pick > 0 && w->parcel > 0);
}

static void to(world *w, int status, const char *what, long long id, const char *verb, const char *body)
{
    char target[80];
    snprintf(target, sizeof target, "/api/%s/%lld/%s", what, id, verb);
    json_decref(asked(w, status, "POST", target, body));
}

static void packed(world *w, const char *week)
{
    wave_made(w, week);
    to(w, 200, "waves", w->wave, "drop", "{\"why\":\"rain\"}");
    wave_made(w, week);
    to(w, 200, "parcels", w->parcel, "take-off", "{\"why\":\"later\"}");
    wave_made(w, week);
    to(w, 204, "stops", w->stop, "take", "{}");
    to(w, 204, "stops", w->stop, "release", "{}");
    post(w, 200, "/api/picks",
         "{\"confirmations\":[{\"key\":\"k-0000001\",\"pick\":%lld,\"taken\":1,\"reason\":\"rotten\"}]}",
         w->pick);
    json_decref(asked(w, 200, "GET", "/api/shorts", NULL));
    to(w, 200, "picks", w->pick, "undo", "{\"why\":\"miscounted\"}");
    post(w, 200, "/api/picks",
         "{\"confirmations\":[{\"key\":\"k-0000002\",\"pick\":%lld,\"taken\":1,\"reason\":\"missing\"}]}",
         w->pick);
    to(w, 200, "parcels", w->parcel, "fill", "{}");
    char target[80];
    snprintf(target, sizeof target, "/api/waves/%lld", w->wave);
    json_t *o = asked(w, 200, "GET", target, NULL), *stop, *pick;
    size_t i, k, all = 1; /* of the pick that came short */
    json_array_foreach(json_object_get(o, "stops"), i, stop)
        json_array_foreach(json_object_get(stop, "picks"), k, pick)
    {
        long long quantity = json_integer_value(json_object_get(pick, "quantity"));
        if (strcmp(json_string_value(json_object_get(pick, "state")), "open") != 0)
            continue;
        all += (size_t)quantity;
        post(w, 200, "/api/picks",
             "{\"confirmations\":[{\"key\":\"k-000001%zu-%zu\",\"pick\":%lld,\"taken\":%lld}]}", i, k,
             (long long)json_integer_value(json_object_get(pick, "id")), quantity);
    }
    json_decref(o);
    char body[80];
    snprintf(body, sizeof body, "{\"count\":%zu}", all);
    to(w, 200, "parcels", w->parcel, "pack", body);
    to(w, 200, "parcels", w->parcel, "unpack", "{\"why\":\"label\"}");
    to(w, 200, "parcels", w->parcel, "pack", body);
    to(w, 200, "parcels", w->parcel, "ship", "{}");
    to(w, 200, "parcels", w->parcel, "correct", "{\"tracking\":\"T1\",\"why\":\"misread\"}");
    to(w, 200, "parcels", w->parcel, "unship", "{\"why\":\"still here\"}");
    to(w, 200, "parcels", w->parcel, "ship", "{}");
}

/* S4 is cancelled after it was pulled: what lies in its slot goes back. */
static void called_off(world *w, const char *week)
{
    char body[80], target[80];
    snprintf(body, sizeof body, "{\"week\":\"%s\",\"orders\":[\"S4\",\"S5\"]}", week);
    w->wave = asked_number(w, 201, "POST", "/api/waves", body, "wave");
    snprintf(target, sizeof target, "/api/waves/%lld", w->wave);
    json_t *o = asked(w, 200, "GET", target, NULL), *stop, *pick;
    size_t i, k;
    json_array_foreach(json_object_get(o, "stops"), i, stop)
        json_array_foreach(json_object_get(stop, "picks"), k, pick)
    {
        bool first = strcmp(json_string_value(json_object_get(pick, "order")), "S4") == 0;
        post(w, 200, "/api/picks",
             "{\"confirmations\":[{\"key\":\"k-000007%d\",\"pick\":%lld,\"taken\":%d%s}]}", first,
             (long long)json_integer_value(json_object_get(pick, "id")), first,
             first ? "" : ",\"reason\":\"missing\"");
        if (!first)
            post(w, 200, "/api/shorts/settle", "{\"items\":[{\"order\":\"S5\",\"line\":1,\"parcel\":%lld}]}",
                 (long long)json_integer_value(json_object_get(pick, "parcel")));
    }
    json_decref(o);
    json_decref(asked(w, 200, "GET", "/api/orders/S4/lying", NULL));
    post(w, 200, "/api/orders/S4/cancel", "{\"why\":\"moves house\"}");
    o = asked(w, 200, "GET", target, NULL);
    long long id = number(json_object_get(o, "put_back"), "id");
    json_decref(o);
    assert_true(id > 0);
    to(w, 200, "put-backs", id, "done", "{}");
    post(w, 200, "/api/rests/close", "{\"orders\":[\"S3\"]}");
}

/* Nothing listens there: the test letter is refused, and no other one may go. */
static void letters_wait(world *w)
{
    char body[80];
    json_decref(asked(w, 204, "PUT", "/api/post/account", "{\"server\":\"smtp://127.0.0.1:9\"}"));
    json_decref(asked(w, 200, "PATCH", "/api/settings", "{\"sender\":\"office@example.org\"}"));
    post(w, 204, "/api/post/test", "{}");
    snprintf(body, sizeof body, "{\"notices\":[{\"notice\":%lld}]}", w->notice);
    post(w, 422, "/api/post/letters", "%s", body);
    post(w, 204, "/api/post/stop", "{\"stopped\":true}");
    for (int i = 0; i < 1200; i++) { /* the server tries it beside us */
        json_t *o = asked(w, 200, "GET", "/api/outbox?state=refused", NULL);
        w->letter = number(json_array_get(o, 0), "letter");
        json_decref(o);
        if (w->letter > 0)
            break;
        usleep(50000);
    }
    to(w, 204, "outbox", w->letter, "again", "{}");
    for (int i = 0; i < 1200; i++) {
        char target[80];
        snprintf(target, sizeof target, "/api/outbox/%lld/remove", w->letter);
        json_t *o = asked(w, 0, "POST", target, "{}"); /* 409 while it goes */
        bool gone = o == NULL || json_object_get(o, "status") == NULL;
        json_decref(o);
        if (gone)
            break;
        usleep(50000);
    }
    char folder[] = "/tmp/cw-contract-XXXXXX", command[80];
    assert_non_null(mkdtemp(folder));
    helper mail = helper_start((const char *const[]){ "mailserver.py", folder, NULL });
    snprintf(command, sizeof command, "{\"server\":\"smtp://127.0.0.1:%u\"}", mail.port);
    json_decref(asked(w, 204, "PUT", "/api/post/account", command));
    post(w, 204, "/api/post/test", "{}");
    for (int i = 0; i < 1200; i++) {
        json_t *o = asked(w, 200, "GET", "/api/post", NULL);
        bool tested = json_is_true(json_object_get(o, "tested"));
        json_decref(o);
        if (tested)
            break;
        usleep(50000);
    }
    post(w, 200, "/api/post/letters", "%s", body);
    helper_stop(&mail);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    assert_int_equal(system(command), 0);
    post(w, 204, "/api/post/account/forget", "{}");
    json_decref(asked(w, 200, "PUT", "/api/hook", "{\"address\":\"http://127.0.0.1:9/told\"}"));
    post(w, 204, "/api/hook/test", "{}");
    post(w, 204, "/api/hook/stop", "{\"stopped\":true}");
    post(w, 204, "/api/hook/forget", "{}");
}

static void told_and_claimed(world *w)
{
    post(w, 200, "/api/notices/make", "{}");
    json_t *o = asked(w, 200, "GET", "/api/notices?state=due", NULL);
    assert_true(json_array_size(o) >= 3);
    long long third = json_integer_value(json_object_get(json_array_get(o, 2), "notice"));
    w->notice = json_integer_value(json_object_get(json_array_get(o, 0), "notice"));
    long long other = json_integer_value(json_object_get(json_array_get(o, 1), "notice"));
    json_decref(o);
    char target[80];
    snprintf(target, sizeof target, "/api/notices/%lld.eml", w->notice);
    json_decref(asked(w, 200, "GET", target, NULL));
    post(w, 200, "/api/notices/sent", "{\"notices\":[{\"notice\":%lld}],\"evidence\":\"merge\"}", third);
    to(w, 204, "notices", w->notice, "sent", "{\"evidence\":\"by letter\"}");
    to(w, 204, "notices", other, "drop", "{\"why\":\"told on the phone\"}");
    letters_wait(w);
    json_decref(asked(w, 204, "PUT", "/api/templates",
                      "{\"kind\":\"delay\",\"subject\":\"Later\",\"body\":\"It comes later.\\n\"}"));
    post(w, 200, "/api/templates/preview", "{\"kind\":\"delay\"}");
    w->claim = asked_number(w, 201, "POST", "/api/claims",
                            "{\"order\":\"S1\",\"line\":1,\"quantity\":1,\"why\":\"soft\"}", "claim");
    to(w, 204, "claims", w->claim, "answer", "{\"answer\":\"refund\"}");
    to(w, 201, "parcels", w->parcel, "claim", "{\"why\":\"frozen\",\"answer\":\"open\"}");
    post(w, 200, "/api/forget/preview", "{\"customer\":\"Ida Invented\",\"postcode\":\"00001\"}");
    post(w, 409, "/api/forget/preview", "{\"customer\":\"Ida Invented\"}");
    post(w, 200, "/api/forget", "{\"customer\":\"Ida Invented\",\"postcode\":\"00001\"}");
    json_decref(asked(w, 200, "DELETE", "/api/tasks/some-task-1", NULL));
}

static void whole_season(world *w)
{
    char week[40];
    in_the_cellar(w);
    in_the_field(w);
    two_codes(w);
    at_the_winter_desk(w);
    orders_come(w);
    shared_out(w);
    weeks_set(w, week);
    packed(w, week);
    called_off(w, week);
    told_and_claimed(w);
}

#endif
