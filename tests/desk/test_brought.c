/* SPDX-License-Identifier: MIT */
/* Files that come from outside while parcels leave: what a carrier gives back, and holds by weather, plant health or carrier. Both
 * come as any sheet, once, and go back whole. Data invented; that carriers give such files back is common practice, no source. */
#include "support/intake.h"
#include "support/picking.h"

#include "desk/intake/brought.h"
#include "desk/orders/notices.h"
#include "desk/sheets/sheets.h"

#include "base/banned.h"

/* 1001 and 1002 are closed, 1004 is not. */
static void closed_make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    picking_make(t);
    wave_make(t);
    answer_all_open(t);
    assert_int_equal(pack(t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(pack(t, "1002", 3, NULL, 0, &err), CW_OK);
}

static void came(const loaded *l, int64_t made, int64_t changed, int64_t unchanged)
{
    if (l->code != CW_OK)
        fail_msg("%s", l->first);
    assert_int_equal(l->made, made);
    assert_int_equal(l->changed, changed);
    assert_int_equal(l->unchanged, unchanged);
}

static void refused(const loaded *l, const char *first)
{
    assert_true(l->code == CW_CONFLICT || l->code == CW_REFUSED || l->code == CW_NOT_FOUND);
    assert_string_equal(l->first, first);
}

/* "shipped|van|T-1|T-2, T-3|2032-02-01" */
static void left_is(test_nursery *t, const char *order, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char is[400] = "";
    cw_check_ok(cw_packing_list(t->n, &t->who, 0, NULL, &out, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&out); i++) {
        char day[11] = "";
        const cw_cell *cells = &out.cells[i * out.width];
        if (strcmp(cw_table_text(&out, i, cw_table_column(&out, "order")), order) != 0)
            continue;
        if (!cells[cw_table_column(&out, "shipped_on")].null)
            cw_day_format((cw_day)cw_table_int(&out, i, cw_table_column(&out, "shipped_on")), day);
        snprintf(is, sizeof is, "%s|%s|%s|%s|%s", cw_table_text(&out, i, cw_table_column(&out, "state")),
                 cw_table_text(&out, i, cw_table_column(&out, "carrier")),
                 cw_table_text(&out, i, cw_table_column(&out, "tracking")),
                 cw_table_text(&out, i, cw_table_column(&out, "more_tracking")), day);
    }
    cw_table_free(&out);
    assert_string_equal(is, want);
}

static cw_code take_back(test_nursery *t, int64_t id, const char *why, cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_brought_take_back(t->n, &t->who, id, why, err);
    test_nursery_check(t);
    return code;
}

static void a_carriers_file_sends_what_is_closed_once(void **state)
{
    static const char back[] = "order,parcel,tracking,carrier,shipped_on\n"
                               "1001,,T-1,van,2032-01-31\n1001,,T-2,,\n1002,P%lld,\"U-1; U-2,U-3\",van,\n";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_notices_made notices = { 0 };
    char text[300];
    (void)state;
    closed_make(&t);
    snprintf(text, sizeof text, back, (long long)parcel_of(&t, "1002"));
    cw_intake_file f = file("tracking.csv", text);
    loaded l = load_with(&t, &f, 1, (cw_intake_options){ .dry_run = true });
    came(&l, 3, 0, 0);
    left_is(&t, "1001", "packed||||"); /* shown first, and nothing is changed */
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM brought"), 0);
    l = load_one(&t, "tracking.csv", text);
    came(&l, 3, 0, 0);
    left_is(&t, "1001", "shipped|van|T-1|T-2|2032-01-31");
    left_is(&t, "1002", "shipped|van|U-1|U-2, U-3|2032-02-01");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders WHERE state = 'shipped'"), 2);
    int64_t rows = number_of(&t, "SELECT COUNT(*) FROM audit");
    l = load_one(&t, "tracking-again.csv", text);
    came(&l, 0, 0, 3);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM brought"), 1);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit"), rows);
    /* What follows from it, follows: an order that has left, and what is told of it. */
    cw_check_ok(cw_notices_make(t.n, &t.who, &notices, &err), &err);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'shipped'"), 2);

    assert_int_equal(take_back(&t, 1, "", &err), CW_REFUSED);
    assert_int_equal(take_back(&t, 9, "wrong day", &err), CW_NOT_FOUND);
    assert_int_equal(take_back(&t, 1, "wrong day", &err), CW_OK);
    left_is(&t, "1001", "packed||||");
    left_is(&t, "1002", "packed||||");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders WHERE state = 'shipped'"), 0);
    assert_int_equal(take_back(&t, 1, "again", &err), CW_CONFLICT);
    l = load_one(&t, "tracking.csv", text); /* and it may come again */
    came(&l, 3, 0, 0);
    test_nursery_free(&t);
}

static void a_number_comes_to_what_has_left_and_another_is_named(void **state)
{
    static const int64_t two[] = { 900, 0 };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    (void)state;
    closed_make(&t);
    cw_packing_sent bare = { .on = t.who.today - 1 };
    cw_check_ok(cw_packing_ship(t.n, &t.who, parcel_of(&t, "1001"), &bare, &rest, &err), &err);
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "1002"), "boxes", &err), &err);
    cw_packing_count boxes = { .count = 3, .weight_g = 500, .further = two, .further_count = 2 };
    cw_check_ok(cw_packing_pack(t.n, &t.who, parcel_of(&t, "1002"), &boxes, &err), &err);
    cw_packing_sent first = { .carrier = "road", .tracking = "U-1", .on = t.who.today };
    cw_check_ok(cw_packing_ship(t.n, &t.who, parcel_of(&t, "1002"), &first, &rest, &err), &err);

    loaded l = load_one(&t, "tracking.csv",
                        "order,box,tracking,carrier\n1001,,T-1,van\n1002,3,U-3,van\n1002,2,U-2,van\n");
    came(&l, 0, 3, 0);
    left_is(&t, "1001", "shipped|van|T-1||2032-01-31");
    left_is(&t, "1002", "shipped|road|U-1|U-2, U-3|2032-02-01"); /* three boxes, three numbers; ours stays */
    l = load_one(&t, "tracking.csv", "order,tracking\n1002,u -1\n1001,t-1\n");
    came(&l, 0, 0, 2); /* blanks and capitals make no other number */

    l = load_one(&t, "tracking.csv", "order,tracking\n1001,T-1\n1001,T-9\n1002,X-9\n");
    refused(&l, "tracking.csv:4: tracking: the parcel of order 1002 left under U-1, and the file says X-9: "
                "look which "
                "is right");
    left_is(&t, "1001", "shipped|van|T-1||2032-01-31"); /* all or nothing */
    l = load_one(&t, "tracking.csv", "order,tracking\n1001,T-9\n");
    refused(&l, "tracking.csv:2: tracking: the parcel of order 1001 left under T-1, and the file says T-9: "
                "look which "
                "is right");

    /* Taken back, each has what it had; unless it was put right since. */
    assert_int_equal(take_back(&t, 1, "not ours", &err), CW_OK);
    left_is(&t, "1001", "shipped||||2032-01-31");
    left_is(&t, "1002", "shipped|road|U-1||2032-02-01");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM box WHERE weight_g = 900"), 1);
    l = load_one(&t, "tracking.csv", "order,tracking\n1001,T-1\n");
    came(&l, 0, 1, 0);
    cw_packing_sent right = { .tracking = "T-5", .on = CW_NO_DAY };
    cw_check_ok(cw_packing_correct(t.n, &t.who, parcel_of(&t, "1001"), &right, "misread", &err), &err);
    assert_int_equal(take_back(&t, 2, "not ours", &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "order 1001"));
    test_nursery_free(&t);
}

static void a_row_that_cannot_be_is_named(void **state)
{
    static const struct {
        const char *rows, *says;
    } wrong[] = {
        { "1001,,T-1\n9999,,T-2\n", "tracking.csv:3: order: there is no order of this number: 9999" },
        { ",,T-1\n", "tracking.csv:2: order: is needed, unless the parcel is named" },
        { ",Q7,T-1\n", "tracking.csv:2: parcel: is no parcel's number, as slips have it (P12): Q7" },
        { ",P77,T-1\n", "tracking.csv:2: parcel: there is no parcel of this number: P77" },
        { "1002,P1,T-1\n", "tracking.csv:2: parcel: parcel P1 is of order 1004, not of 1002" },
        { "1003,,T-1\n", "tracking.csv:2: order: no parcel of order 1003 is closed, so none can have left" },
        { "1004,,T-1\n", "tracking.csv:2: tracking: parcel 1 of order 1004 is not packed yet" },
        { "1001,,\n", "tracking.csv:2: tracking: must not be empty" },
        { "1001,,\", ;\"\n", "tracking.csv:2: tracking: must not be empty" },
        { "1001,,\"1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17,18,19,20,21\"\n",
          "tracking.csv:2: tracking: more numbers than a parcel has boxes (20)" },
        { "1001,,T-1\n1002,,T-1\n",
          "tracking.csv:3: tracking: number T-1 stands on the parcel of order 1001 already, "
          "which left on 2032-02-01: look which is right, or say that both went under it" },
    };
    test_nursery t;
    char text[400];
    (void)state;
    closed_make(&t);
    assert_int_equal(parcel_of(&t, "1004"), 1);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        snprintf(text, sizeof text, "order,parcel,tracking\n%s", wrong[i].rows);
        loaded l = load_one(&t, "tracking.csv", text);
        refused(&l, wrong[i].says);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel WHERE state = 'shipped'"), 0);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM brought"), 0);
    }
    test_nursery_free(&t);
}

/* As another program writes it: fitted, shown, taken. */
static void take_sheet(test_nursery *t, const char *name, const char *text, const char *kind, int64_t made,
                       int64_t unchanged)
{
    cw_error err = CW_ERROR_NONE;
    cw_table taken = { 0 };
    json_t *document = NULL;
    const cw_sheets_file f = { .name = name, .bytes = text, .length = strlen(text) };
    cw_check_ok(cw_sheets_look(t->n, &t->who, &f, NULL, &document, &err), &err);
    if (!json_is_true(json_object_get(document, "ready")) ||
        strcmp(json_string_value(json_object_get(document, "kind")), kind) != 0)
        fail_msg("%s: %s", name, json_dumps(document, JSON_INDENT(1)));
    json_decref(document);
    document = NULL;
    cw_check_ok(cw_sheets_take(t->n, &t->who, &f, NULL, &(cw_sheets_options){ 0 }, &taken, &document, &err),
                &err);
    assert_int_equal(cw_table_int(&taken, 0, 3), made);
    assert_int_equal(cw_table_int(&taken, 0, 5), unchanged);
    cw_table_free(&taken);
    json_decref(document);
    test_nursery_check(t);
}

static void carriers_sheets_are_fitted(void **state)
{
    static const struct {
        const char *name, *text;
    } sheets[] = {
        { "manifest.csv", "Reference;Tracking Number;Service;Dispatch "
                          "date\n1001;T-1;van;31/01/2032\n1002;T-2;van;31/01/2032\n" },
        { "sendungen.csv", "Bestellnummer;Sendungsnummer;Paketdienst;Versanddatum\n1001;T-1;van;31.01."
                           "2032\n1002;T-2;van;31.01.2032\n" },
        { "zendingen.csv", "Bestelnummer;Zendingsnummer;Vervoerder;Verzenddatum\n1001;T-1;van;31-01-"
                           "2032\n1002;T-2;van;31-01-2032\n" },
        { "envois.csv", "Num\xC3\xA9ro de commande;Num\xC3\xA9ro de suivi;Transporteur;Date d'exp\xC3\xA9"
                        "dition\n1001;T-1;van;31/01/2032\n1002;T-2;van;31/01/2032\n" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof sheets / sizeof sheets[0]; i++) {
        test_nursery t;
        char sql[100];
        closed_make(&t);
        take_sheet(&t, sheets[i].name, sheets[i].text, "tracking", 2, 0);
        left_is(&t, "1001", "shipped|van|T-1||2032-01-31");
        left_is(&t, "1002", "shipped|van|T-2||2032-01-31");
        snprintf(sql, sizeof sql, "SELECT COUNT(*) FROM brought WHERE name = '%s'", sheets[i].name);
        assert_int_equal(number_of(&t, sql), 1); /* as its owner calls it */
        take_sheet(&t, sheets[i].name, sheets[i].text, "tracking", 0, 2);
        test_nursery_free(&t);
    }
}

/* ---- holds ---- */
static int64_t held(test_nursery *t, const char *order)
{
    char sql[200];
    snprintf(sql, sizeof sql,
             "SELECT COUNT(*) FROM frost_bound f JOIN orders o ON o.id = f.order_id WHERE o.number = '%s'",
             order);
    return number_of(t, sql);
}

static void holds_sheets_are_fitted(void **state)
{
    static const struct {
        const char *name, *text;
    } sheets[] = {
        { "weather.csv", "Country;State;Valid from;Until;Warning\nUSA;;2032-04-12;2032-04-25;hard "
                         "frost\nCanada;Ontario;2032-04-12;2032-04-18;ice storm\n" },
        { "Sperren.csv", "Land;Bundesland;von;bis;Grund\nUSA;;12.04.2032;25.04.2032;Frost\nKanada;Ontario;12."
                         "04.2032;18.04.2032;Eisregen\n" },
        { "weer.csv",
          "Land;Regio;vanaf;tot en "
          "met;reden\nVS;;12-04-2032;25-04-2032;vorst\nCanada;Ontario;12-04-2032;18-04-2032;ijzel\n" },
        { "meteo.csv", "Pays;R\xC3\xA9gion;du;au;motif\nUSA;;12/04/2032;25/04/2032;gel\nCanada;Ontario;12/04/"
                       "2032;18/04/2032;verglas\n" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof sheets / sizeof sheets[0]; i++) {
        test_nursery t;
        closed_make(&t);
        take_sheet(&t, sheets[i].name, sheets[i].text, "holds", 2, 0);
        assert_int_equal(
            number_of(&t, "SELECT COUNT(*) FROM frost_hold WHERE country = 'US' AND first_week = 203216 "
                          "AND last_week = 203217"),
            1);
        assert_int_equal(held(&t, "1001"), 1); /* in a wave, and closed: it stays all the same */
        take_sheet(&t, sheets[i].name, sheets[i].text, "holds", 0, 2);
        test_nursery_free(&t);
    }
}

static void a_file_of_holds_binds_what_has_not_gone_and_its_end_levels_the_weeks(void **state)
{
    static const char week[] = "SELECT ship_week FROM orders WHERE number = '1001'";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    loaded l =
        load_one(&t, "holds.csv", "country,first_week,last_week,why\nUS,2032-W16,2032-W17,hard frost\n");
    came(&l, 1, 0, 0);
    cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number_of(&t, week), WEEK + 2);
    assert_int_equal(take_back(&t, 1, "the wind turned", &err), CW_OK);
    assert_int_equal(number_of(&t, week), WEEK);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM frost_hold"), 0);

    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    l = load_one(
        &t, "holds.csv",
        "zone,order,country,postcode_from,first_week,last_week,why\n,1001,,,2032-W05,2032-W16,moved\n"
        "z3,,,,2032-W20,2032-W20,frost\n,,NL,10 12-a,2032-W16,2032-W16,flood\n");
    came(&l, 3, 0, 0);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_CONFLICT); /* after the wave: it stays */
    l = load_one(&t, "tracking.csv", "order,tracking\n1001,T-1\n");
    refused(&l, "tracking.csv:2: tracking: the parcel of order 1001 is under a frost hold: moved: put it "
                "aside until the "
                "office lifts the hold, or overrules it for this order");
    l = load_one(
        &t, "holds.csv",
        "zone,order,country,postcode_from,first_week,last_week,why\n,1001,,,2032-W05,2032-W16,on holiday\n"
        "z3,,,,2032-W20,2032-W20,frost\n,,Nederland,1012A,2032-W16,2032-W16,flood\n");
    came(&l, 0, 1, 2); /* a reason may be said anew */
    assert_int_equal(take_back(&t, 2, "over", &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    test_nursery_free(&t);
}

static void a_hold_that_cannot_be_is_named(void **state)
{
    static const struct {
        const char *rows, *says;
    } wrong[] = {
        { ",,,,2032-W16,2032-W16\n",
          "holds.csv:2: a hold names a zone, an order, or a place or carrier, one of them" },
        { "z7,,US,,2032-W16,2032-W16\n",
          "holds.csv:2: a hold names a zone, an order, or a place or carrier, one of them" },
        { "z9,,,,2032-W16,2032-W16\n", "holds.csv:2: zone: the zone table has no zone z9" },
        { ",9999,,,2032-W16,2032-W16\n", "holds.csv:2: order: there is no open order 9999" },
        { ",,Atlantis,,2032-W16,2032-W16\n",
          "holds.csv:2: country: must be a country of ISO 3166-1, by its code or by name: Atlantis" },
        { "z7,,,,2032-W17,2032-W16\n",
          "holds.csv:2: last_week: must not come before the first week of the hold" },
        { "z7,,,,2032-W16,2032-W16\nz7,,,,2032-W16,2032-W16\n", "holds.csv:3: " },
    };
    test_nursery t;
    char text[300];
    (void)state;
    picking_make(&t);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        snprintf(text, sizeof text, "zone,order,country,carrier,first_week,last_week\n%s", wrong[i].rows);
        loaded l = load_one(&t, "holds.csv", text);
        assert_int_not_equal(l.code, CW_OK);
        if (strncmp(l.first, wrong[i].says, strlen(wrong[i].says)) != 0)
            fail_msg("%s", l.first);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM frost_hold"), 0);
    }
    test_nursery_free(&t);
}

/* 1004 goes to CA by post, as its destination says; all else by the usual carrier. */
static void a_carrier_is_held(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    load_text(&t, "destinations.csv", "country,rule,note,carrier\nCA,warn,certificate needed,The Post\n");
    cw_check_ok(cw_nursery_set(t.n, &t.who, "carrier", "Red Van", &err), &err);
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_OK);
    load_text(&t, "holds.csv", "carrier,first_week,last_week,why\nthe post,2032-W05,2032-W17,strike\n");
    assert_int_equal(held(&t, "1004"), 1);
    assert_int_equal(held(&t, "1001"), 0);
    assert_int_equal(ship_off(&t, "1004", &rest, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "under a hold: strike"));
    /* Nor does another order leave by it, whoever was to take it. */
    cw_packing_sent by = { "THE POST", "T-1", false, t.who.today, NULL };
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_packing_ship(t.n, &t.who, parcel_of(&t, "1001"), &by, &rest, &err), CW_CONFLICT);
    assert_string_equal(err.column, "carrier");
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    /* The usual carrier is another by now: what goes by it is held. */
    load_text(&t, "holds.csv",
              "carrier,country,first_week,last_week,why\nRed Van,US,2032-W20,2032-W21,storm\n");
    assert_int_equal(held(&t, "1002"), 1);
    assert_int_equal(held(&t, "1003"), 0); /* to NZ */
    cw_check_ok(cw_nursery_set(t.n, &t.who, "carrier", "Blue Van", &err), &err);
    assert_int_equal(held(&t, "1002"), 0);
    assert_int_equal(take_back(&t, 1, "the strike is over", &err), CW_OK);
    assert_int_equal(ship_off(&t, "1004", &rest, &err), CW_OK);
    test_nursery_free(&t);
}

static void only_the_office_takes_back(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    picking_make(&t);
    load_text(&t, "holds.csv", "country,first_week,last_week\nUS,2032-W16,2032-W17\n");
    t.who.role = CW_ROLE_PACKER;
    assert_int_equal(take_back(&t, 1, "mine", &err), CW_FORBIDDEN);
    t.who.role = CW_ROLE_OFFICE;
    assert_int_equal(take_back(&t, 1, "ours", &err), CW_OK);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_carriers_file_sends_what_is_closed_once),
        cmocka_unit_test(a_number_comes_to_what_has_left_and_another_is_named),
        cmocka_unit_test(a_row_that_cannot_be_is_named),
        cmocka_unit_test(carriers_sheets_are_fitted),
        cmocka_unit_test(holds_sheets_are_fitted),
        cmocka_unit_test(a_file_of_holds_binds_what_has_not_gone_and_its_end_levels_the_weeks),
        cmocka_unit_test(a_hold_that_cannot_be_is_named),
        cmocka_unit_test(a_carrier_is_held),
        cmocka_unit_test(only_the_office_takes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
