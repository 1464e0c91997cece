/* SPDX-License-Identifier: MIT */
/* Parcels: nothing wrong, nothing blocked and nothing held leaves; what is left of an order goes later. */
#include "support/picking.h"

#include "base/banned.h"

static void answer_all_open(test_nursery *t)
{
    char outcome[16], key[32];
    int64_t pick;
    while ((pick = number_of(t, "SELECT id FROM pick WHERE state = 'open' ORDER BY id LIMIT 1")) !=
           INT64_MIN) {
        char sql[80];
        snprintf(sql, sizeof sql, "SELECT quantity FROM pick WHERE id = %lld", (long long)pick);
        snprintf(key, sizeof key, "all-%lld", (long long)pick);
        answer(t, "Marta", key, pick, number_of(t, sql), NULL, outcome);
        assert_string_equal(outcome, "done");
    }
}

static cw_code pack(test_nursery *t, const char *order, int64_t count, const char *const *labels, size_t n,
                    cw_error *err)
{
    cw_packing_count c = { .count = count, .labels = labels, .label_count = n, .weight_g = 700 };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_packing_pack(t->n, &t->who, parcel_of(t, order), &c, err);
    test_nursery_check(t);
    return code;
}

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

static cw_code ship(test_nursery *t, const char *order, int64_t *rest, cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code =
        cw_packing_ship(t->n, &t->who, parcel_of(t, order), "by road", "T-1", t->who.today, rest, err);
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
    assert_int_equal(ship(&t, "1001", &rest, &err), CW_CONFLICT); /* not packed */
    assert_int_equal(pack(&t, "1001", 2, NULL, 0, &err), CW_OK);
    assert_int_equal(ship(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(rest, 1);
    assert_int_equal(state_of(&t, "1001"), 0);
    assert_int_equal(ship(&t, "1001", &rest, &err), CW_CONFLICT); /* gone */
    /* The rest in a wave of its own: a second parcel. */
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 1, NULL, 0, &err), CW_OK);
    assert_int_equal(ship(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(rest, 0);
    assert_int_equal(state_of(&t, "1001"), 1);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel WHERE state = 'shipped'"), 2);
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
    assert_int_equal(ship(&t, "1004", &rest, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "closed since Monday"));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "1004"), "closed", &err), &err);
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_CONFLICT);
    load_text(&t, "destinations.csv", "country,rule,note\nCA,allow,\n");
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_OK);
    assert_int_equal(ship(&t, "1004", &rest, &err), CW_OK);
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
        cw_code code = cw_packing_carrier_file(t.n, wave, &file, &err);
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
        cmocka_unit_test(blocked_destinations_stop_every_step),
        cmocka_unit_test(the_carrier_gets_the_columns_chosen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
