/* SPDX-License-Identifier: MIT */
/* What is paid leaves, what is not waits, and what was paid comes back. */
#include "support/picking.h"

#include "desk/orders/correcting.h"
#include "desk/orders/notices.h"

#include "base/banned.h"

/* Paid, unpaid, or nobody said: by file, by click, in every state of the parcel. */
static void said_paid(test_nursery *t, const char *order, const char *word)
{
    cw_error err = CW_ERROR_NONE;
    json_t *tells = NULL;
    cw_correcting_ask ask = { .paid = word };
    cw_check_ok(cw_correcting_set(t->n, &t->who, order, &ask, &tells, &err), &err);
    json_decref(tells);
    test_nursery_check(t);
}

static void hold_unpaid(test_nursery *t, const char *which)
{
    cw_error err = CW_ERROR_NONE;
    cw_asker owner = t->who;
    owner.role = CW_ROLE_OWNER;
    cw_check_ok(cw_nursery_set(t->n, &owner, "hold_unpaid", which, &err), &err);
}

static size_t carried(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_packing_file file;
    cw_check_ok(cw_packing_carrier_file(t->n, &t->who, 0, &file, &err), &err);
    size_t rows = cw_table_rows(&file.table);
    cw_packing_file_free(&file);
    return rows;
}

static void nothing_leaves_unpaid(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    hold_unpaid(&t, "retail");
    print_message("not paid before the wave: left out; nobody said: goes; wholesale on account: goes\n");
    said_paid(&t, "1001", "no");
    said_paid(&t, "1004", "no");
    wave_make(&t);
    rows_are(&t, "SELECT o.number FROM parcel p JOIN orders o ON o.id = p.order_id ORDER BY 1",
             "1002\n1004\n");
    answer_all_open(&t);
    print_message("found unpaid after it was pulled: not closed\n");
    said_paid(&t, "1002", "no");
    assert_int_equal(pack(&t, "1002", 3, NULL, 0, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "order 1002 is not paid"));
    said_paid(&t, "1002", "yes");
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(pack(&t, "1002", 3, NULL, 0, &err), &err);
    cw_check_ok(pack(&t, "1004", 4, NULL, 0, &err), &err);
    assert_int_equal(carried(&t), 2);
    print_message("the payment bounced after it was closed: not in the carrier's file, not sent\n");
    said_paid(&t, "1002", "no");
    assert_int_equal(carried(&t), 1);
    assert_int_equal(ship_off(&t, "1002", &rest, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "order 1002 is not paid"));
    print_message("the setting reaches what is here already\n");
    hold_unpaid(&t, "all");
    assert_int_equal(ship_off(&t, "1004", &rest, &err), CW_CONFLICT);
    hold_unpaid(&t, "none");
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(ship_off(&t, "1002", &rest, &err), &err);
    cw_check_ok(ship_off(&t, "1004", &rest, &err), &err);
    test_nursery_free(&t);
}

static void load_paid(test_nursery *t, const char *word, bool changes, cw_code want)
{
    char text[300];
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    snprintf(
        text, sizeof text,
        "order,received_at,line,variety,quantity,unit_price,tier,customer,country,zone,ship_complete,paid\n"
        "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,US,z7,0,%s\n",
        word);
    cw_intake_file file = { .name = "orders.csv", .bytes = text, .length = strlen(text) };
    cw_intake_options o = { .changes = changes };
    cw_code code = cw_intake_load(t->n, &t->who, &file, 1, &o, &answer, &errors, &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    assert_int_equal(code, want);
    test_nursery_check(t);
}

static void that_it_is_paid_comes_by_file_and_is_not_lost_to_an_older_one(void **state)
{
    test_nursery t;
    static const char paid[] = "SELECT COALESCE(paid, -1) FROM orders WHERE number = '1002'";
    (void)state;
    picking_make(&t);
    assert_int_equal(number_of(&t, paid), -1);
    load_paid(&t, "no", false, CW_OK);
    assert_int_equal(number_of(&t, paid), 0);
    load_paid(&t, "yes", false, CW_OK);
    assert_int_equal(number_of(&t, paid), 1);
    rows_are(&t, "SELECT before, after FROM order_event WHERE kind = 'paid' ORDER BY id", "|no\nno|yes\n");
    print_message("an older file says no, or nothing\n");
    load_paid(&t, "no", false, CW_OK);
    load_paid(&t, "", false, CW_OK);
    assert_int_equal(number_of(&t, paid), 1);
    print_message("told to change it\n");
    load_paid(&t, "no", true, CW_OK);
    assert_int_equal(number_of(&t, paid), 0);
    load_paid(&t, "yes", false, CW_OK);
    print_message(
        "the office says that the payment bounced: the file that said yes at first changes nothing\n");
    said_paid(&t, "1002", "no");
    load_paid(&t, "yes", false, CW_OK);
    assert_int_equal(number_of(&t, paid), 0);
    test_nursery_free(&t);
}

static void refunds_follow_what_was_paid(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_notices_made made;
    static const char owed[] =
        "SELECT COALESCE(SUM(amount), 0) FROM notice WHERE kind = 'refund' AND state = 'due'";
    (void)state;
    picking_make(&t);
    said_paid(&t, "1002", "no");
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1002", 0, "rang", &err), &err);
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    assert_int_equal(number_of(&t, owed), 0);
    print_message("paid after all, when it was cancelled already: owed now\n");
    said_paid(&t, "1002", "yes");
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    assert_int_equal(number_of(&t, owed), 1950);
    print_message("said by mistake: withdrawn\n");
    said_paid(&t, "1002", "no");
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    assert_int_equal(number_of(&t, owed), 0);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_leaves_unpaid),
        cmocka_unit_test(that_it_is_paid_comes_by_file_and_is_not_lost_to_an_older_one),
        cmocka_unit_test(refunds_follow_what_was_paid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
