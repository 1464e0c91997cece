/* SPDX-License-Identifier: MIT */
/* What may not leave does not leave, whenever that was said: frost holds in every state of a wave, and destinations however
 * they are spelled. Data invented; codes of countries ISO 3166-1. */
#include "support/picking.h"

#include "desk/intake/intake.h"
#include "desk/buyers/forgetting.h"
#include "desk/orders/ordering.h"
#include "desk/pack/paper.h"
#include "desk/ship/overruling.h"

#include "base/banned.h"

/* Sets a hold and tells what its row says of orders, parcels and stops. */
static int64_t hold(test_nursery *t, const char *zone, const char *order, cw_week first, cw_week last,
                    const int64_t touches[3])
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_shipping_hold(t->n, &t->who, zone, order, first, last, "night frost", &out, &err), &err);
    size_t row = cw_table_rows(&out) - 1;
    for (size_t k = 0; touches && k < 3; k++)
        assert_int_equal(cw_table_int(&out, row, 8 + k), touches[k]);
    int64_t id = cw_table_int(&out, row, 0);
    cw_table_free(&out);
    test_nursery_check(t);
    return id;
}

static void lift(test_nursery *t, int64_t id)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_shipping_lift(t->n, &t->who, id, &err), &err);
    test_nursery_check(t);
}

/* Picks that the walk's document marks, and rows of the printed list. */
static void walk_shows(test_nursery *t, int64_t wave, size_t marked, size_t listed)
{
    cw_error err = CW_ERROR_NONE;
    json_t *doc = NULL, *stop, *pick, *parcel;
    size_t i, k, found = 0, parcels = 0;
    cw_table list;
    cw_check_ok(cw_picking_document(t->n, &t->who, wave, &doc, &err), &err);
    json_array_foreach(json_object_get(doc, "stops"), i, stop)
        json_array_foreach(json_object_get(stop, "picks"), k, pick) found +=
        json_is_string(json_object_get(pick, "frost"));
    json_array_foreach(json_object_get(doc, "parcels"), i, parcel) parcels +=
        json_is_string(json_object_get(parcel, "frost"));
    assert_int_equal(found, marked);
    assert_int_equal(parcels > 0, marked > 0);
    json_decref(doc);
    cw_check_ok(cw_picking_list(t->n, &t->who, wave, &list, &err), &err);
    assert_int_equal(cw_table_rows(&list), listed);
    cw_table_free(&list);
    cw_check_ok(cw_paper_walk(t->n, &t->who, wave, &list, &err), &err);
    assert_int_equal(cw_table_rows(&list), listed);
    cw_table_free(&list);
}

static size_t carrier_rows(test_nursery *t, int64_t wave)
{
    cw_error err = CW_ERROR_NONE;
    cw_packing_file file;
    cw_check_ok(cw_packing_carrier_file(t->n, &t->who, wave, &file, &err), &err);
    size_t rows = cw_table_rows(&file.table);
    cw_packing_file_free(&file);
    return rows;
}

static void keeps(cw_code code, const cw_error *err)
{
    assert_int_equal(code, CW_CONFLICT);
    if (strstr(err->text, "frost hold: night frost") == NULL)
        fail_msg("%s", err->text);
}

/* The wave has 1001 (2 AMB, 1 BRI), 1002 (3 AMB) and 1004 (4 BRI), all of zone z7: four picks, three of them at C2. */
static void a_hold_reaches_a_wave_that_was_made_before(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char outcome[16];
    int64_t rest = 0, added = 0;
    (void)state;
    picking_make(&t);
    int64_t wave = wave_make(&t);
    size_t picks = (size_t)number_of(&t, "SELECT COUNT(*) FROM pick");
    int64_t stops = number_of(&t, "SELECT COUNT(*) FROM stop");
    walk_shows(&t, wave, 0, picks);

    print_message("of other weeks, of another zone: nothing\n");
    lift(&t, hold(&t, "z7", NULL, WEEK + 1, WEEK + 2, (int64_t[]){ 0, 0, 0 }));
    lift(&t, hold(&t, "z3", NULL, WEEK, WEEK, (int64_t[]){ 0, 0, 0 }));

    print_message("told at once what it touches; on the walk marked, off the printed list\n");
    int64_t id = hold(&t, "z7", NULL, WEEK, WEEK + 1, (int64_t[]){ 3, 3, stops });
    walk_shows(&t, wave, picks, 0);
    cw_table touched;
    cw_check_ok(cw_shipping_touched(t.n, &t.who, id, &touched, &err), &err);
    assert_int_equal(cw_table_rows(&touched), 3);
    assert_string_equal(cw_table_text(&touched, 0, 7), "open");
    cw_table_free(&touched);

    print_message("partly picked: a phone that walks its old list hands in, and it stands in the ledger\n");
    answer(&t, "Marta", "k-1", pick_of(&t, "1001", 1), 2, NULL, outcome);
    assert_string_equal(outcome, "done");
    answer(&t, "Marta", "k-2", pick_of(&t, "1001", 2), 1, NULL, outcome);
    assert_int_equal(number_of(&t, "SELECT SUM(taken) FROM pick"), 3);
    keeps(pack(&t, "1001", 3, NULL, 0, &err), &err);
    err = (cw_error)CW_ERROR_NONE;
    keeps(cw_picking_fill(t.n, &t.who, parcel_of(&t, "1002"), NULL, &added, &err), &err);

    print_message("lifted: packed; held again: neither in the carrier's file nor sent\n");
    lift(&t, id);
    walk_shows(&t, wave, 0, picks);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(carrier_rows(&t, wave), 1);
    id = hold(
        &t, "z7", NULL, WEEK, WEEK,
        (int64_t[]){ 3, 3, number_of(&t, "SELECT COUNT(DISTINCT stop_id) FROM pick WHERE state = 'open'") });
    keeps(ship_off(&t, "1001", &rest, &err), &err);
    assert_int_equal(carrier_rows(&t, wave), 0);
    lift(&t, id);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    hold(&t, "z7", NULL, WEEK, WEEK,
         (int64_t[]){ 2, 2, number_of(&t, "SELECT COUNT(DISTINCT stop_id) FROM pick WHERE state = 'open'") });
    test_nursery_free(&t);
}

/* All of the wave answered and packed; then a hold on one order; what is forgotten until a held week stays, too. */
static void a_hold_reaches_what_is_packed(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(pack(&t, "1002", 3, NULL, 0, &err), CW_OK);
    hold(&t, NULL, "1001", WEEK, WEEK, (int64_t[]){ 1, 1, 0 });
    keeps(ship_off(&t, "1001", &rest, &err), &err);
    assert_int_equal(ship_off(&t, "1002", &rest, &err), CW_OK);
    print_message("the wave's week is over, and so is the hold\n");
    t.who.today = cw_week_monday(WEEK + 1);
    t.who.now = t.who.clock = t.who.today * CW_DAY_MS;
    hold(&t, "z7", NULL, WEEK + 1, WEEK + 1, (int64_t[]){ 2, 2, 0 });
    keeps(ship_off(&t, "1001", &rest, &err), &err);
    keeps(pack(&t, "1004", 4, NULL, 0, &err), &err);
    t.who.today += 7;
    t.who.now = t.who.clock = t.who.today * CW_DAY_MS;
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_OK);
    test_nursery_free(&t);
}

static cw_code overrule(test_nursery *t, cw_role role, const char *order, cw_overrule rule, const char *why,
                        cw_error *err)
{
    cw_asker who = t->who;
    who.role = role;
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_overruling_set(t->n, &who, order, rule, why, err);
    test_nursery_check(t);
    return code;
}

static void one_order_goes_on_record_and_a_later_hold_binds_it_again(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(overrule(&t, CW_ROLE_OFFICE, "1001", CW_OVERRULE_FROST, "wrapped well", &err),
                     CW_CONFLICT);
    hold(&t, "z7", NULL, WEEK, WEEK, NULL);
    assert_int_equal(overrule(&t, CW_ROLE_PACKER, "1001", CW_OVERRULE_FROST, "wrapped well", &err),
                     CW_FORBIDDEN);
    assert_int_equal(overrule(&t, CW_ROLE_OFFICE, "1001", CW_OVERRULE_FROST, "", &err), CW_REFUSED);
    assert_int_equal(overrule(&t, CW_ROLE_OFFICE, "1001", CW_OVERRULE_FROST, "wrapped well", &err), CW_OK);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    keeps(pack(&t, "1002", 3, NULL, 0, &err), &err);
    hold(&t, "z7", NULL, WEEK, WEEK, (int64_t[]){ 3, 3, 0 });
    keeps(ship_off(&t, "1001", &rest, &err), &err);
    assert_int_equal(overrule(&t, CW_ROLE_OFFICE, "1001", CW_OVERRULE_FROST, "still", &err), CW_OK);
    assert_int_equal(overrule(&t, CW_ROLE_OFFICE, "1001", CW_OVERRULE_FROST, NULL, &err), CW_OK);
    keeps(ship_off(&t, "1001", &rest, &err), &err);
    assert_int_equal(overrule(&t, CW_ROLE_OWNER, "1001", CW_OVERRULE_FROST, "by car", &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE kind IN ('overruled', 'heeded')"),
                     4);
    test_nursery_free(&t);
}

/* The office moved 1001 into a week: of a hold that stood it was told, and of one that comes later it was not. */
static void an_order_moved_by_the_office_goes_only_in_spite_of_holds_that_it_was_told_of(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table breaks = { 0 }, picks = { 0 }, notes = { 0 };
    cw_picking_ask ask = { .week = WEEK };
    (void)state;
    picking_make(&t);
    hold(&t, "z7", NULL, WEEK, WEEK, NULL);
    cw_check_ok(cw_shipping_move(t.n, &t.who, "1001", WEEK, "by hand", &breaks, &err), &err);
    cw_table_free(&breaks);
    cw_check_ok(cw_picking_preview(t.n, &t.who, &ask, &picks, &notes, &err), &err);
    assert_true(cw_table_rows(&picks) > 0);
    cw_table_free(&picks);
    cw_table_free(&notes);
    hold(&t, "z7", NULL, WEEK, WEEK, NULL);
    assert_int_equal(cw_picking_preview(t.n, &t.who, &ask, &picks, &notes, &err), CW_REFUSED);
    cw_table_free(&picks);
    cw_table_free(&notes);
    test_nursery_free(&t);
}

/* ---- destinations ---- */

static cw_code load(test_nursery *t, const char *name, const char *text, cw_table *answer, cw_error *err)
{
    const cw_intake_file f = { .name = name, .bytes = text, .length = strlen(text) };
    const cw_intake_options none = { .changes = true };
    cw_error_list errors = { 0 };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_intake_load(t->n, &t->who, &f, 1, &none, answer, &errors, err);
    cw_error_list_free(&errors);
    test_nursery_check(t);
    return code;
}

#define HEAD "order,received_at,line,variety,quantity,unit_price,country,region,zone\n"

static const struct {
    const char *rule, *order; /* as written in either file */
} spelled[] = {
    { "AU,,block,closed", "Australia" }, { "Australia,,block,closed", "au" },
    { "aus,,block,closed", " AU " },     { "Australien,,block,closed", "AUSTRALIE" },
    { "\"AU \",,block,closed", "AUS" },  { "AU,Tasmania,block,closed", "au,tasmania" },
};

/* Told when it comes, without a week, without a share, in no wave; with all of it once the owner overrules. */
static void blocked_however_it_is_spelled(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof spelled / sizeof spelled[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_table answer = { 0 }, plan = { 0 };
        char rules[120], orders[400];
        print_message("%s against %s\n", spelled[i].rule, spelled[i].order);
        picking_make(&t);
        snprintf(rules, sizeof rules, "country,region,rule,note\n%s\n", spelled[i].rule);
        snprintf(orders, sizeof orders, HEAD "2001,2032-01-06T10:00:00Z,1,AMB,1,6.50,%s%s,z7\n",
                 spelled[i].order, strchr(spelled[i].order, ',') ? "" : ",");
        load_text(&t, "destinations.csv", rules);
        cw_check_ok(load(&t, "orders.csv", orders, &answer, &err), &err);
        assert_string_equal(
            cw_table_text(&answer, 0, 6), /* 1003 goes to NZ */
            "blocked: 2 open orders go where nothing may be sent, first 1003 to NZ: no week, no share");
        cw_table_free(&answer);
        cw_check_ok(load(&t, "orders.csv", orders, &answer, &err), &err); /* the same again changes nothing */
        assert_int_equal(cw_table_int(&answer, 0, 5), 1);
        cw_table_free(&answer);
        make_firm(&t, "first-come", NULL);
        assert_int_equal(promised(&t, "2001", 1), 0);
        cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &plan, &err), &err);
        size_t last = cw_table_rows(&plan) - 1;
        assert_string_equal(cw_table_text(&plan, last, 0), "2001");
        assert_int_equal(cw_table_int(&plan, last, 5), 0);
        assert_non_null(strstr(cw_table_text(&plan, last, 8), "nothing may be sent to AU"));
        cw_table_free(&plan);
        assert_int_equal(overrule(&t, CW_ROLE_OFFICE, "2001", CW_OVERRULE_DESTINATION, "papers came", &err),
                         CW_FORBIDDEN);
        assert_int_equal(overrule(&t, CW_ROLE_OWNER, "2001", CW_OVERRULE_DESTINATION, "papers came", &err),
                         CW_OK);
        make_firm(&t, "first-come", NULL);
        assert_int_equal(promised(&t, "2001", 1), 1);
        cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &plan, &err), &err);
        assert_int_equal(cw_table_int(&plan, last, 5), WEEK);
        cw_table_free(&plan);
        wave_make(&t);
        answer_all_open(&t);
        assert_int_equal(pack(&t, "2001", 1, NULL, 0, &err), CW_OK);
        assert_int_equal(overrule(&t, CW_ROLE_OWNER, "2001", CW_OVERRULE_DESTINATION, NULL, &err), CW_OK);
        int64_t rest = 0;
        assert_int_equal(ship_off(&t, "2001", &rest, &err), CW_CONFLICT);
        test_nursery_free(&t);
    }
}

static void what_is_no_country_is_refused_at_every_door(void **state)
{
    static const struct {
        const char *name, *text;
        long line;
    } rows[] = {
        { "orders.csv", HEAD "2001,2032-01-06T10:00:00Z,1,AMB,1,6.50,Austrailia,,z7\n", 2 },
        { "orders.csv", HEAD "2001,2032-01-06T10:00:00Z,1,AMB,1,6.50,XX,,z7\n", 2 },
        { "destinations.csv", "country,rule\nUS,allow\nAustrailia,block\n", 3 },
        { "orders.csv", HEAD "1001,2032-01-05T10:00:00Z,1,AMB,2,6.50,Narnia,,z7\n", 2 }, /* a change */
    };
    test_nursery t;
    cw_error err;
    (void)state;
    picking_make(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_table answer = { 0 };
        assert_int_equal(load(&t, rows[i].name, rows[i].text, &answer, &err), CW_REFUSED);
        assert_int_equal(err.row, rows[i].line);
        assert_string_equal(err.column, "country");
        cw_table_free(&answer);
    }
    json_t *answer = NULL,
           *order = json_pack("{s:s,s:s,s:[{s:s,s:i,s:s}]}", "order", "3001", "country", "Austrailia",
                              "lines", "variety", "AMB", "quantity", 1, "unit_price", "6.50");
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_intake_order(t.n, &t.who, order, &answer, &err), CW_REFUSED);
    assert_string_equal(err.column, "country");
    assert_null(answer);
    json_decref(order);
    test_nursery_free(&t);
}

/* A shop's order is told at once, and the sheet says it. */
static void a_shop_is_told_at_once(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *answer = NULL, *sheet = NULL;
    (void)state;
    picking_make(&t);
    int64_t left = 0;
    cw_check_ok(cw_ordering_oversell(t.n, &t.who, "AMB", 2, "for the test", &left, &err), &err);
    load_text(&t, "destinations.csv", "country,rule,note\nNew Zealand,block,no certificate\n");
    json_t *order =
        json_pack("{s:s,s:s,s:[{s:s,s:i,s:s}]}", "order", "3001", "country", "nouvelle-z\xC3\xA9lande",
                  "lines", "variety", "AMB", "quantity", 1, "unit_price", "6.50");
    cw_check_ok(cw_intake_order(t.n, &t.who, order, &answer, &err), &err);
    assert_string_equal(json_string_value(json_object_get(answer, "blocked")),
                        "nothing may be sent to NZ (no certificate)");
    json_decref(answer);
    json_decref(order);
    cw_check_ok(cw_ordering_sheet(t.n, &t.who, "3001", &sheet, &err), &err);
    json_t *head = json_object_get(sheet, "order");
    assert_string_equal(json_string_value(json_object_get(head, "country")), "NZ");
    assert_string_equal(json_string_value(json_object_get(head, "blocked")),
                        "nothing may be sent to NZ (no certificate)");
    json_decref(sheet);
    test_nursery_free(&t);
}

/* Orders that got nothing of a short variety take no place in a week from those that got something. */
static void who_has_nothing_to_send_fills_no_week(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table plan = { 0 };
    char orders[2000] = HEAD;
    (void)state;
    picking_make(&t);
    for (int i = 0; i < 8; i++)
        snprintf(orders + strlen(orders), sizeof orders - strlen(orders),
                 "%d,2032-01-04T10:0%d:00Z,1,BRI,1,8.00,US,,z7\n", 900 + i, i);
    load_text(&t, "orders.csv",
              orders); /* before all others, but BRI is gone: six are promised, six there were */
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "parcels_per_week", "3", &err), &err);
    cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &plan, &err), &err);
    size_t idle = 0, first = 0;
    for (size_t r = 0; r < cw_table_rows(&plan); r++) {
        bool late = cw_table_text(&plan, r, 0)[0] == '9';
        idle += late && cw_table_int(&plan, r, 5) == 0 && cw_table_int(&plan, r, 6) == 0;
        first += !late && cw_table_int(&plan, r, 5) == WEEK;
    }
    assert_int_equal(idle, 8);
    assert_int_equal(first, 3); /* 1001, 1002 and 1004; 1003 is blocked, 1005's zone begins later */
    cw_table_free(&plan);
    test_nursery_free(&t);
}

/* A parcel that is still here when its week is over is counted, unless a hold keeps it or it has left. */
static void what_is_forgotten_is_told(void **state)
{
    static const struct {
        int weeks;
        bool held;
        int64_t forgotten, late;
    } rows[] = { { 0, false, 0, 0 }, { 1, false, 3, 1 }, { 8, false, 3, 8 }, { 8, true, 0, 0 } };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    int64_t wave = wave_make(&t);
    answer_all_open(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_table waves, parcels;
        t.who.today = cw_week_monday(cw_week_add(WEEK, rows[i].weeks));
        int64_t id = rows[i].held ? hold(&t, "z7", NULL, WEEK, WEEK + 8, NULL) : 0;
        cw_check_ok(cw_picking_waves(t.n, &t.who, 0, &waves, &err), &err);
        assert_int_equal(cw_table_int(&waves, 0, (size_t)cw_table_column(&waves, "forgotten")),
                         rows[i].forgotten);
        cw_check_ok(cw_packing_list(t.n, &t.who, wave, NULL, &parcels, &err), &err);
        assert_int_equal(cw_table_int(&parcels, 0, (size_t)cw_table_column(&parcels, "late_weeks")),
                         rows[i].late);
        cw_table_free(&waves);
        cw_table_free(&parcels);
        if (id)
            lift(&t, id);
    }
    cw_table waves;
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    cw_check_ok(cw_picking_waves(t.n, &t.who, 0, &waves, &err), &err);
    assert_int_equal(cw_table_int(&waves, 0, (size_t)cw_table_column(&waves, "forgotten")), 2);
    cw_table_free(&waves);
    test_nursery_free(&t);
}

/* Why a rule was overruled may name the buyer: it goes with the person. */
static void reasons_go_with_the_person(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    hold(&t, "z7", NULL, WEEK, WEEK, NULL);
    assert_int_equal(overrule(&t, CW_ROLE_OWNER, "1001", CW_OVERRULE_FROST, "Ada insists", &err), CW_OK);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    load_text(&t, "destinations.csv", "country,rule\nUS,block\n");
    assert_int_equal(overrule(&t, CW_ROLE_OWNER, "1001", CW_OVERRULE_DESTINATION, "Ada insists", &err),
                     CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    cw_check_ok(cw_forgetting(t.n, &t.who, &(cw_forget_ask){ .customer = "1001" }, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number_of(&t,
                               "SELECT (SELECT COUNT(*) FROM destination_overruled WHERE why LIKE '%Ada%') + "
                               "(SELECT COUNT(*) FROM frost_overruled WHERE why LIKE '%Ada%')"),
                     0);
    test_nursery_free(&t);
}

/* ---- places: weather and plant health ---- */
static cw_code hold_place(test_nursery *t, const char *country, const char *region, const char *from,
                          const char *to, int64_t *id, cw_error *err)
{
    cw_table out = { 0 };
    cw_hold_place place = { country, region, from, to };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_shipping_hold_place(t->n, &t->who, &place, WEEK, WEEK + 1, "storm", &out, err);
    *id = code == CW_OK ? cw_table_int(&out, cw_table_rows(&out) - 1, 0) : 0;
    cw_table_free(&out);
    test_nursery_check(t);
    return code;
}

static void a_place_is_held_however_it_is_spelled(void **state)
{
    static const struct {
        const char *country, *region, *from, *to;
        int64_t held; /* a bit for each order */
        const char *refused;
    } rows[] = {
        { "Deutschland", NULL, NULL, NULL, 1 << 1 | 1 << 2 | 1 << 3, NULL },
        { "DEU", "", "20", "29", 1 << 1 | 1 << 3, NULL },
        { "Germany", "bayern", NULL, NULL, 1 << 2, NULL },
        { NULL, NULL, "2 0", NULL, 1 << 1 | 1 << 4 | 1 << 5, NULL },
        { "NL", NULL, "1012a", "1012z", 1 << 6, NULL },
        { "Atlantis", NULL, NULL, NULL, 0, "is no country: Atlantis" },
        { NULL, "Bayern", NULL, NULL, 0, "is needed, unless" },
        { "DE", NULL, "20", "3", 0, "must have as many" },
        { "DE", NULL, "30", "20", 0, "not come before it: 20" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t id = 0;
    char sql[300];
    (void)state;
    picking_make(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,country,region,postcode\n"
              "P1,2032-01-05T10:00:00Z,1,AMB,1,6.50,A,Germany,Hamburg,20095\n"
              "P2,2032-01-05T10:00:00Z,1,AMB,1,6.50,B,Deutschland,Bayern,80331\n"
              "P3,2032-01-05T10:00:00Z,1,AMB,1,6.50,C,de,,2 9-999\n"
              "P4,2032-01-05T10:00:00Z,1,AMB,1,6.50,D,France,,20000\n"
              "P5,2032-01-05T10:00:00Z,1,AMB,1,6.50,E,,,20100\n"
              "P6,2032-01-05T10:00:00Z,1,AMB,1,6.50,F,Nederland,,1012 ab\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_code code = hold_place(&t, rows[i].country, rows[i].region, rows[i].from, rows[i].to, &id, &err);
        snprintf(sql, sizeof sql,
                 "SELECT COALESCE(SUM(1 << substr(o.number, 2)), 0) FROM frost_bound f JOIN orders o ON o.id "
                 "= f.order_id "
                 "WHERE f.hold_id = %lld AND o.number LIKE 'P%%'",
                 (long long)id);
        assert_int_equal(number_of(&t, sql), rows[i].held);
        assert_int_equal(code, rows[i].refused ? CW_REFUSED : CW_OK);
        if (rows[i].refused && strstr(err.text, rows[i].refused) == NULL)
            fail_msg("%s", err.text);
        if (id)
            lift(&t, id);
    }
    test_nursery_free(&t);
}

static void write_raw(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
}

/* Set after the wave it stops what has not gone; lifted, the weeks that it moved are set again. */
static void a_place_is_held_after_the_wave_and_let_go(void **state)
{
    static const char week[] = "SELECT ship_week FROM orders WHERE number = 'P1'";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    int64_t id = 0;
    (void)state;
    picking_make(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,country,postcode,zone\n"
              "P1,2032-01-05T10:00:00Z,1,AMB,1,6.50,A,Germany,20095,z7\n"
              "P2,2032-01-05T10:00:00Z,1,AMB,1,6.50,B,France,20095,z7\n");
    cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number_of(&t, week), WEEK);
    cw_check_ok(hold_place(&t, "Germany", NULL, NULL, NULL, &id, &err), &err);
    cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number_of(&t, week), WEEK + 2);
    assert_int_equal(number_of(&t, "SELECT ship_week FROM orders WHERE number = 'P2'"), WEEK);
    lift(&t, id);
    assert_int_equal(number_of(&t, week), WEEK);

    wave_make(&t);
    answer_all_open(&t);
    write_raw(&t, "UPDATE orders SET country = 'DE', postcode = '2 0095' WHERE number = '1001'");
    cw_check_ok(hold_place(&t, "Allemagne", NULL, "200", NULL, &id, &err), &err);
    cw_check_ok(cw_shipping_touched(t.n, &t.who, id, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    assert_string_equal(cw_table_text(&out, 0, 1), "1001");
    cw_table_free(&out);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "hold: storm"));
    err = (cw_error)CW_ERROR_NONE;
    lift(&t, id);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hold_reaches_a_wave_that_was_made_before),
        cmocka_unit_test(a_hold_reaches_what_is_packed),
        cmocka_unit_test(one_order_goes_on_record_and_a_later_hold_binds_it_again),
        cmocka_unit_test(an_order_moved_by_the_office_goes_only_in_spite_of_holds_that_it_was_told_of),
        cmocka_unit_test(blocked_however_it_is_spelled),
        cmocka_unit_test(what_is_no_country_is_refused_at_every_door),
        cmocka_unit_test(a_shop_is_told_at_once),
        cmocka_unit_test(who_has_nothing_to_send_fills_no_week),
        cmocka_unit_test(what_is_forgotten_is_told),
        cmocka_unit_test(reasons_go_with_the_person),
        cmocka_unit_test(a_place_is_held_however_it_is_spelled),
        cmocka_unit_test(a_place_is_held_after_the_wave_and_let_go),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
