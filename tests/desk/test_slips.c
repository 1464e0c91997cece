/* SPDX-License-Identifier: MIT */
/* What a packing slip says of the divisions that are not in the parcel: promised, open, or given up and cancelled. Invented data. */
#include "support/picking.h"

#include "desk/orders/ordering.h"
#include "desk/pack/paper.h"

#include "base/banned.h"

static void rest_is(test_nursery *t, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table rest = { 0 };
    cw_text got = CW_TEXT(4096);
    int64_t parcel = parcel_of(t, "2001");
    cw_check_ok(cw_paper_rest(t->n, 1, &rest, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&rest); i++)
        if (cw_table_int(&rest, i, 0) == parcel)
            cw_text_addf(&got, "%lld %s: %lld follow, %lld wait, %lld refunded\n",
                         (long long)cw_table_int(&rest, i, 2), cw_table_text(&rest, i, 3),
                         (long long)cw_table_int(&rest, i, 4), (long long)cw_table_int(&rest, i, 5),
                         (long long)cw_table_int(&rest, i, 6));
    is_text(got.data, want);
    cw_text_free(&got);
    cw_table_free(&rest);
}

/* AMB has eight and six are promised, so Eve gets the two that she asks on lines 1 and 4; BRI has six, all promised, and none come
 * any more; an assortment takes what there is, so its two may still come. */
static void what_is_not_in_the_parcel(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    picking_make(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,country,zone,language,assortment\n"
              "2001,2032-01-06T10:00:00Z,1,AMB,1,6.50,Eve,US,z7,de,\n"
              "2001,2032-01-06T10:00:00Z,2,BRI,3,8.00,Eve,US,z7,de,\n"
              "2001,2032-01-06T10:00:00Z,3,,2,5.00,Eve,US,z7,de,colour=white\n"
              "2001,2032-01-06T10:00:00Z,4,AMB,3,6.50,Eve,US,z7,de,\n");
    cw_check_ok(cw_ordering_change(t.n, &t.who, "2001", 4, 1, "two fewer", &err), &err);
    make_firm(&t, "first-come", NULL);
    assert_int_equal(promised(&t, "2001", 1) + promised(&t, "2001", 4), 2);
    assert_int_equal(wave_make(&t), 1);
    rest_is(&t, "1 Amber Lantern: 0 follow, 0 wait, 0 refunded\n"
                "2 Briar Song: 0 follow, 0 wait, 3 refunded\n"
                "3 colour=white: 0 follow, 2 wait, 0 refunded\n"
                "4 Amber Lantern: 0 follow, 0 wait, 2 refunded\n");
    /* Two more AMB are found and promised to her after the list was written: they go in another parcel. */
    count_lot(&t, "L3", "2032-01-30", 5);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "2001", 1, 3, "two more", &err), &err);
    make_firm(&t, "first-come", "AMB");
    rest_is(&t, "1 Amber Lantern: 2 follow, 0 wait, 0 refunded\n"
                "2 Briar Song: 0 follow, 0 wait, 3 refunded\n"
                "3 colour=white: 0 follow, 2 wait, 0 refunded\n"
                "4 Amber Lantern: 0 follow, 0 wait, 2 refunded\n");
    /* One of hers is not in its place: promised it still is. */
    char outcome[16];
    answer(&t, "Marta", "short", pick_of(&t, "2001", 4), 0, "missing", outcome);
    rest_is(&t, "1 Amber Lantern: 2 follow, 0 wait, 0 refunded\n"
                "2 Briar Song: 0 follow, 0 wait, 3 refunded\n"
                "3 colour=white: 0 follow, 2 wait, 0 refunded\n"
                "4 Amber Lantern: 1 follow, 0 wait, 2 refunded\n");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(what_is_not_in_the_parcel) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
