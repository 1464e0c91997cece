/* SPDX-License-Identifier: MIT */
/* Parcels: nothing wrong, nothing blocked and nothing held leaves; what is left of an order goes later. */
#include "support/picking.h"

#include "desk/orders/claims.h"

#include "base/banned.h"

static void what_is_counted_must_be_what_was_pulled(void **state)
{
    static const struct {
        const char *name;
        int64_t count;
        const char *labels[6];
        size_t n;
        const char *sentence; /* NULL: packed */
    } rows[] = {
        { "one missing", 2, { NULL }, 0, "1 missing" },
        { "one too many", 4, { NULL }, 0, "1 too many" },
        { "a label missing", -1, { "L1 AMB", "L1 AMB" }, 2, "1 of BRI (lot L2) missing" },
        { "a label too many", -1, { "L1 AMB", "L1 AMB", "L1", "L2 BRI" }, 4, "1 of AMB (lot L1) too many" },
        { "a stranger", -1, { "L1@C2", "L1", "L2", "L3 AMB" }, 4, "1 of lot L3 do not belong in it" },
        { "one for another",
          -1,
          { "L1", "L2", "L2" },
          3,
          "1 of AMB (lot L1) missing; 1 of BRI (lot L2) too many" },
        { "no label at all", -1, { NULL }, 0, "2 of AMB (lot L1) missing" },
        { "right", -1, { "L2 BRI", "L1 AMB", "L1 AMB" }, 3, NULL },
        { "packed already", 3, { NULL }, 0, "packed already" },
    };
    test_nursery t;
    cw_error err;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "2 picks of order 1001 are not answered"));
    answer_all_open(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        print_message("%s\n", rows[i].name);
        cw_code code = pack(&t, "1001", rows[i].count, rows[i].labels, rows[i].n, &err);
        assert_int_equal(code, rows[i].sentence ? CW_CONFLICT : CW_OK);
        if (rows[i].sentence && strstr(err.text, rows[i].sentence) == NULL)
            fail_msg("%s", err.text);
    }
    /* A packed parcel's picks stand until it is opened again. */
    cw_error no = CW_ERROR_NONE;
    assert_int_equal(cw_picking_undo(t.n, &t.who, pick_of(&t, "1001", 1), "why not", &no), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "1001"), "a wet label", &err), &err);
    cw_check_ok(cw_picking_undo(t.n, &t.who, pick_of(&t, "1001", 1), "why not", &err), &err);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static cw_code ship_under(test_nursery *t, const char *order, const char *number, int64_t *rest,
                          cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_packing_ship(t->n, &t->who, parcel_of(t, order),
                                   &(cw_packing_sent){ "by road", number, false, t->who.today }, rest, err);
    test_nursery_check(t);
    return code;
}

static int64_t state_of(test_nursery *t, const char *order)
{
    char sql[120];
    snprintf(sql, sizeof sql, "SELECT state = 'shipped' FROM orders WHERE number = '%s'", order);
    return number_of(t, sql);
}

static void an_order_is_shipped_when_nothing_is_left(void **state)
{
    test_nursery t;
    cw_error err;
    char outcome[16];
    int64_t rest = -1;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "short", pick_of(&t, "1001", 1), 1, "missing", outcome);
    answer_all_open(&t);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_CONFLICT); /* not packed */
    assert_int_equal(pack(&t, "1001", 2, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(rest, 1);
    assert_int_equal(state_of(&t, "1001"), 0);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_CONFLICT); /* gone */
    /* The rest in a wave of its own: a second parcel. */
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 1, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(rest, 0);
    assert_int_equal(state_of(&t, "1001"), 1);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel WHERE state = 'shipped'"), 2);
    test_nursery_free(&t);
}

/* Two parcels of one order lie there at once: it is shipped when the second has gone, whichever that is; one that leaves
 * whole does not go in two. */
static void an_order_in_two_parcels(void **state)
{
    test_nursery t;
    cw_error err;
    char outcome[16];
    int64_t rest = -1, first, second;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "short", pick_of(&t, "1001", 1), 1, "missing", outcome);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 2, NULL, 0, &err), CW_OK);
    first = parcel_of(&t, "1001");
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 1, NULL, 0, &err), CW_OK);
    second = parcel_of(&t, "1001");
    assert_int_not_equal(first, second);
    sqlite3 *raw = NULL;
    cw_packing_sent road = { "by road", "T-1", false, t.who.today };
    for (int whole = 1; whole >= 0; whole--) {
        assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
        assert_int_equal(sqlite3_exec(raw,
                                      whole ? "UPDATE orders SET ship_complete = 1"
                                            : "UPDATE orders SET ship_complete = 0",
                                      NULL, NULL, NULL),
                         SQLITE_OK);
        sqlite3_close(raw);
        cw_code code = cw_packing_ship(t.n, &t.who, first, &road, &rest, &err);
        assert_int_equal(code, whole ? CW_CONFLICT : CW_OK);
        assert_true(!whole || strstr(err.text, "leaves whole or not at all") != NULL);
        err = (cw_error)CW_ERROR_NONE;
    }
    assert_int_equal(state_of(&t, "1001"), 0); /* the second is still here */
    assert_int_equal(cw_packing_ship(t.n, &t.who, second, &road, &rest, &err), CW_OK);
    assert_int_equal(state_of(&t, "1001"), 1);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void packed(test_nursery *t)
{
    cw_error err;
    picking_make(t);
    wave_make(t);
    answer_all_open(t);
    assert_int_equal(pack(t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(pack(t, "1002", 3, NULL, 0, &err), CW_OK);
}

static void a_number_is_one_orders(void **state)
{
    test_nursery t;
    cw_error err;
    int64_t rest = 0;
    (void)state;
    packed(&t);
    assert_int_equal(ship_under(&t, "1001", "T-1 a", &rest, &err), CW_OK);
    assert_int_equal(ship_under(&t, "1002", "t-1A", &rest, &err), CW_CONFLICT);
    assert_string_equal(err.column, "tracking");
    assert_non_null(strstr(err.text, "order 1001"));
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel WHERE state = 'shipped'"), 1);
    err = (cw_error)CW_ERROR_NONE;
    cw_packing_sent meant = { "by road", "T-1 a", true, t.who.today };
    cw_check_ok(cw_packing_ship(t.n, &t.who, parcel_of(&t, "1002"), &meant, &rest, &err), &err);
    test_nursery_free(&t);
}

static void how_a_parcel_left_is_put_right(void **state)
{
    static const struct {
        const char *name;
        cw_packing_sent sent;
        const char *why;
        cw_code code;
        const char *tracking; /* afterwards */
    } rows[] = {
        { "another order's number",
          { .tracking = "T-1", .on = CW_NO_DAY },
          "typed wrong",
          CW_CONFLICT,
          "T-2" },
        { "no reason", { .tracking = "T-3", .on = CW_NO_DAY }, "", CW_REFUSED, "T-2" },
        { "nothing", { .tracking = "T-2", .on = CW_NO_DAY }, "typed wrong", CW_REFUSED, "T-2" },
        { "not yet", { .on = 1000000 }, "typed wrong", CW_REFUSED, "T-2" },
        { "the number", { .tracking = "T-3", .on = CW_NO_DAY }, "typed wrong", CW_OK, "T-3" },
        { "the carrier alone", { .carrier = "the cart", .on = CW_NO_DAY }, "it went by cart", CW_OK, "T-3" },
        { "both under one", { .tracking = "T-1", .shared = true, .on = CW_NO_DAY }, "one box", CW_OK, "T-1" },
        { "no number", { .tracking = "", .on = CW_NO_DAY }, "fetched at the gate", CW_OK, "" },
    };
    test_nursery t;
    cw_error err;
    int64_t rest = 0;
    char sql[160];
    (void)state;
    packed(&t);
    assert_int_equal(ship_under(&t, "1001", "T-1", &rest, &err), CW_OK);
    assert_int_equal(cw_packing_correct(t.n, &t.who, parcel_of(&t, "1002"), &rows[4].sent, "why", &err),
                     CW_CONFLICT);
    assert_int_equal(ship_under(&t, "1002", "T-2", &rest, &err), CW_OK);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        print_message("%s\n", rows[i].name);
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(
            cw_packing_correct(t.n, &t.who, parcel_of(&t, "1002"), &rows[i].sent, rows[i].why, &err),
            rows[i].code);
        test_nursery_check(&t);
        snprintf(sql, sizeof sql, "SELECT COALESCE(tracking, '') = '%s' FROM parcel WHERE id = %lld",
                 rows[i].tracking, (long long)parcel_of(&t, "1002"));
        assert_int_equal(number_of(&t, sql), 1);
    }
    assert_int_equal(number_of(&t,
                               "SELECT COUNT(*) FROM audit WHERE action = 'parcel put right' AND before LIKE "
                               "'2032-02-01, by road, T-2' AND after LIKE '2032-02-01, by road, T-3'"),
                     1);
    assert_int_equal(number_of(&t,
                               "SELECT COUNT(*) FROM order_event WHERE kind = 'parcel put right' AND note IN "
                               "('typed wrong', 'it went by cart', 'one box', 'fetched at the gate')"),
                     4);
    cw_asker packer = t.who;
    packer.role = CW_ROLE_PACKER;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_packing_correct(t.n, &packer, parcel_of(&t, "1002"), &rows[4].sent, "why", &err),
                     CW_FORBIDDEN);
    test_nursery_free(&t);
}

static void a_parcel_that_did_not_leave(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0, claim = 0;
    (void)state;
    packed(&t);
    assert_int_equal(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "stood in the hall", &err),
                     CW_CONFLICT);
    assert_int_equal(ship_under(&t, "1001", "T-1", &rest, &err), CW_OK);
    assert_int_equal(state_of(&t, "1001"), 1);
    cw_check_ok(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "stood in the hall", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(state_of(&t, "1001"), 0);
    assert_int_equal(number_of(&t,
                               "SELECT COUNT(*) FROM parcel WHERE state = 'packed' AND tracking IS NULL AND "
                               "shipped_on IS NULL AND carrier IS NULL"),
                     2);
    assert_int_equal(ship_under(&t, "1002", "T-1", &rest, &err), CW_OK); /* the number is free again */
    assert_int_equal(ship_under(&t, "1001", "T-9", &rest, &err), CW_OK);
    assert_int_equal(state_of(&t, "1001"), 1);
    cw_claim_ask ask = { .order = "1001", .line = 1, .quantity = 1, .why = "soft" };
    cw_check_ok(cw_claims_add(t.n, &t.who, &ask, &claim, &err), &err);
    assert_int_equal(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "stood in the hall", &err),
                     CW_CONFLICT);
    assert_non_null(strstr(err.text, "claimed"));
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'parcel not left'"), 1);
    test_nursery_free(&t);
}

static void blocked_destinations_stop_every_step(void **state)
{
    test_nursery t;
    cw_error err;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_OK); /* CA: only a warning */
    load_text(&t, "destinations.csv", "country,rule,note\nCA,block,closed since Monday\n");
    assert_int_equal(ship_off(&t, "1004", &rest, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "closed since Monday"));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "1004"), "closed", &err), &err);
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_CONFLICT);
    load_text(&t, "destinations.csv", "country,rule,note\nCA,allow,\n");
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1004", &rest, &err), CW_OK);
    test_nursery_free(&t);
}

static void the_carrier_gets_the_columns_chosen(void **state)
{
    static const struct {
        const char *columns, *want; /* want NULL: refused */
    } rows[] = {
        { "order,customer,country,weight_kg", "order,customer,country,weight_kg\n1001,Ada,US,0.700\n" },
        { "slot, divisions , weight_g", "slot,divisions,weight_g\n2,3,700\n" },
        { "order,colour", NULL },
        { " , ", NULL },
    };
    test_nursery t;
    cw_error err;
    (void)state;
    picking_make(&t);
    int64_t wave = wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_packing_file file;
        cw_text csv = CW_TEXT(4000);
        print_message("%s\n", rows[i].columns);
        err = (cw_error)CW_ERROR_NONE;
        cw_check_ok(cw_nursery_set(t.n, &t.who, "carrier_columns", rows[i].columns, &err), &err);
        cw_code code = cw_packing_carrier_file(t.n, &t.who, wave, &file, &err);
        assert_int_equal(code, rows[i].want ? CW_OK : CW_REFUSED);
        if (rows[i].want) {
            cw_check_ok(cw_table_csv(&file.table, cw_sink_text(&csv), &err), &err);
            assert_string_equal(csv.data, rows[i].want);
        } else {
            assert_string_equal(err.column, "carrier_columns");
        }
        cw_text_free(&csv);
        cw_packing_file_free(&file);
    }
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_counted_must_be_what_was_pulled),
        cmocka_unit_test(an_order_is_shipped_when_nothing_is_left),
        cmocka_unit_test(an_order_in_two_parcels),
        cmocka_unit_test(a_number_is_one_orders),
        cmocka_unit_test(how_a_parcel_left_is_put_right),
        cmocka_unit_test(a_parcel_that_did_not_leave),
        cmocka_unit_test(blocked_destinations_stop_every_step),
        cmocka_unit_test(the_carrier_gets_the_columns_chosen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
