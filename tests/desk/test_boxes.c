/* SPDX-License-Identifier: MIT */
/* A big order: several slots at the bench, several boxes and numbers on the road; labels and slips in walking order. Data invented. */
#include "support/picking.h"

#include "desk/pack/paper.h"

#include "base/banned.h"

static void table_is(const cw_table *table, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_text csv = CW_TEXT(8000);
    cw_check_ok(cw_table_csv(table, cw_sink_text(&csv), &err), &err);
    assert_string_equal(csv.data, want);
    cw_text_free(&csv);
}

static void set(test_nursery *t, const char *name, const char *value)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_set(t->n, &t->who, name, value, &err), &err);
}

static const char *text_of(const cw_table *t, size_t row, int column)
{
    static char number[24];
    if (t->columns[column].type == CW_TEXT_T)
        return cw_table_text(t, row, column);
    snprintf(number, sizeof number, "%lld", (long long)cw_table_int(t, row, column));
    return number;
}

/* A column of the list of parcels for an order. */
static void listed(test_nursery *t, const char *order, const char *column, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char is[200] = "not listed";
    cw_check_ok(cw_packing_list(t->n, &t->who, 0, NULL, &out, &err), &err);
    int number = cw_table_column(&out, "order"), at = cw_table_column(&out, column);
    assert_true(number >= 0 && at >= 0);
    for (size_t i = 0; i < cw_table_rows(&out); i++)
        if (strcmp(cw_table_text(&out, i, number), order) == 0)
            snprintf(is, sizeof is, "%s", text_of(&out, i, at));
    assert_string_equal(is, want);
    cw_table_free(&out);
}

/* A slot holds two: 1004's four of one crate stay together, as they are pulled at once; 1001's two and one part. */
static void a_big_order_lies_in_several_slots(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    picking_make(&t);
    set(&t, "divisions_per_slot", "2");
    wave_make(&t);
    cw_check_ok(cw_picking_list(t.n, &t.who, 1, &out, &err), &err);
    table_is(&out, "stop,place,lot,variety,quantity,order,line,slot\n"
                   "1,C1,L2,BRI,4,1004,1,1\n"
                   "1,C1,L2,BRI,1,1001,2,2\n"
                   "2,C2,L1,AMB,2,1001,1,3\n"
                   "2,C2,L1,AMB,3,1002,1,4\n");
    cw_table_free(&out);
    listed(&t, "1001", "slots", "2, 3");
    listed(&t, "1002", "slots", "");
    assert_int_equal(number_of(&t, "SELECT slot FROM parcel WHERE id = 3"), 4);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK); /* counted as one, from both slots */
    test_nursery_free(&t);
}

static cw_code pack_in(test_nursery *t, const char *order, int64_t count, const int64_t *further, size_t n,
                       cw_error *err)
{
    cw_packing_count c = { .count = count, .weight_g = 700, .further = further, .further_count = n };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_packing_pack(t->n, &t->who, parcel_of(t, order), &c, err);
    test_nursery_check(t);
    return code;
}

static cw_code send(test_nursery *t, const char *order, const char *number, const char *more, bool shared,
                    cw_error *err)
{
    int64_t rest = 0;
    cw_packing_sent sent = { "by road", number, shared, t->who.today, more };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_packing_ship(t->n, &t->who, parcel_of(t, order), &sent, &rest, err);
    test_nursery_check(t);
    return code;
}

static cw_code put_right(test_nursery *t, const char *order, const char *number, const char *more,
                         cw_error *err)
{
    cw_packing_sent sent = { NULL, number, false, CW_NO_DAY, more };
    *err = (cw_error)CW_ERROR_NONE;
    return cw_packing_correct(t->n, &t->who, parcel_of(t, order), &sent, "read again", err);
}

static void several_boxes_leave_under_several_numbers(void **state)
{
    static const int64_t two[] = { 900, 0 }, heavy[] = { 1000001 };
    int64_t many[CW_PACKING_MAX_FURTHER + 1] = { 0 };
    test_nursery t;
    cw_error err;
    cw_packing_file file;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack_in(&t, "1001", 3, heavy, 1, &err), CW_REFUSED);
    assert_int_equal(pack_in(&t, "1001", 3, many, CW_PACKING_MAX_FURTHER + 1, &err), CW_REFUSED);
    assert_int_equal(pack_in(&t, "1001", 3, two, 2, &err), CW_OK);
    assert_int_equal(pack_in(&t, "1002", 3, NULL, 0, &err), CW_OK);
    listed(&t, "1001", "boxes", "3");
    listed(&t, "1002", "boxes", "1");
    /* The carrier wants a label for each. */
    set(&t, "carrier_columns", "order,box,boxes,weight_g");
    cw_check_ok(cw_packing_carrier_file(t.n, &t.who, 1, &file, &err), &err);
    table_is(&file.table, "order,box,boxes,weight_g\n1001,1,3,700\n1001,2,3,900\n1001,3,3,\n1002,1,1,700\n");
    cw_packing_file_free(&file);

    assert_int_equal(send(&t, "1001", "T-1", "T-2, T-1", false, &err), CW_REFUSED); /* said twice */
    assert_non_null(strstr(err.text, "T-1"));
    assert_int_equal(send(&t, "1001", NULL, "T-2", false, &err), CW_REFUSED);
    assert_int_equal(send(&t, "1001", "T-1", " T-2,,T-3 ", false, &err), CW_OK);
    listed(&t, "1001", "tracking", "T-1");
    listed(&t, "1001", "more_tracking", "T-2, T-3");
    /* A number of another order's second box is as much another order's as that of its first. */
    assert_int_equal(send(&t, "1002", "t-3", NULL, false, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "order 1001"));
    assert_int_equal(send(&t, "1002", "T-4", "T-2", false, &err), CW_CONFLICT);
    assert_int_equal(send(&t, "1002", "T-4", "T-3", true, &err),
                     CW_OK); /* meant; and a box more than was said */
    listed(&t, "1002", "boxes", "2");

    /* Put right: one number, the others stay; then all of them, of which there are fewer; nothing changed is no change. */
    cw_check_ok(put_right(&t, "1001", "T-9", NULL, &err), &err);
    listed(&t, "1001", "tracking", "T-9");
    listed(&t, "1001", "more_tracking", "T-2, T-3");
    assert_int_equal(put_right(&t, "1001", NULL, "T-2, T-3", &err), CW_REFUSED);
    cw_check_ok(put_right(&t, "1001", NULL, "T-7", &err), &err);
    listed(&t, "1001", "more_tracking", "T-7");
    listed(&t, "1001", "boxes", "2");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM order_event WHERE kind = 'parcel put right' AND "
                                   "after LIKE '%T-9, T-7 (was %T-9, T-2, T-3)%'"),
                     1);
    /* It has not left after all: the boxes stay, their numbers go. Opened, it is one again. */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "the van broke down", &err), &err);
    listed(&t, "1001", "boxes", "2");
    listed(&t, "1001", "more_tracking", "");
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "1001"), "count again", &err), &err);
    listed(&t, "1001", "boxes", "1");
    test_nursery_free(&t);
}

/* A variety's label says where it goes; whoever packs as the walk goes on has the slips in that order. */
static void labels_and_slips_follow_the_walk(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    picking_make(&t);
    wave_make(&t);
    cw_check_ok(cw_paper_labels(t.n, 1, &out, &err), &err);
    table_is(&out, "variety,name,form,colour,lot,quantity,scan,slot,order\n"
                   "BRI,Briar Song,cactus,pink,L2,4,L2 BRI,1,1004\n"
                   "BRI,Briar Song,cactus,pink,L2,1,L2 BRI,2,1001\n"
                   "AMB,Amber Lantern,ball,orange,L1,2,L1 AMB,2,1001\n"
                   "AMB,Amber Lantern,ball,orange,L1,3,L1 AMB,3,1002\n");
    cw_table_free(&out);
    test_nursery_free(&t);
}

/* 1004 has the first slot and is complete at the last stop; by the walk its slip comes last. */
static void slips_by_walk_and_by_slot(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", pick_varieties);
    load_text(&t, "places.csv", pick_places);
    load_text(&t, "lots.csv",
              "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,0,C1\nL2,BRI,2031-10-21,0,C3\n");
    load_text(&t, "zones.csv", pick_zones);
    load_text(&t, "orders.csv", pick_orders);
    count_lot(&t, "L1", "2032-01-20", 9);
    count_lot(&t, "L2", "2032-01-20", 6);
    make_firm(&t, "first-come", NULL);
    wave_make(&t);
    for (int walk = 1; walk >= 0; walk--) {
        cw_text orders = CW_TEXT(200);
        cw_check_ok(cw_paper_slips(t.n, 1, walk, &out, &err), &err);
        int number = cw_table_column(&out, "order"), parcel = cw_table_column(&out, "parcel");
        for (size_t i = 0; i < cw_table_rows(&out); i++)
            if (i == 0 || cw_table_int(&out, i, parcel) != cw_table_int(&out, i - 1, parcel))
                cw_text_addf(&orders, "%s ", cw_table_text(&out, i, number));
        assert_string_equal(orders.data, walk ? "1002 1003 1004 1001 " : "1004 1001 1002 1003 ");
        cw_text_free(&orders);
        cw_table_free(&out);
    }
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_big_order_lies_in_several_slots),
        cmocka_unit_test(several_boxes_leave_under_several_numbers),
        cmocka_unit_test(labels_and_slips_follow_the_walk),
        cmocka_unit_test(slips_by_walk_and_by_slot),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
