/* SPDX-License-Identifier: MIT */
#include "support/giving_out.h"
#include "support/order_desk.h"

#include "base/banned.h"

/* The order desk's changes while the database gives out, at any step or allocation. */

static cw_code allocate(test_nursery *t, cw_error *err)
{
    cw_allotting_done done;
    cw_allotting_ask ask = { .rule = "pro-rata" };
    return cw_allotting_commit(t->n, &t->who, &ask, NULL, &done, NULL, err);
}

static cw_code substitute(test_nursery *t, cw_error *err)
{
    cw_substituting_done done;
    cw_substituting_ask ask = { 0 };
    return cw_substituting_commit(t->n, &t->who, &ask, NULL, &done, NULL, err);
}

static cw_code cancel(test_nursery *t, cw_error *err)
{
    return cw_ordering_cancel(t->n, &t->who, "1002", 0, "moved away", err);
}

static cw_code change(test_nursery *t, cw_error *err)
{
    return cw_ordering_change(t->n, &t->who, "1003", 1, 1, "fewer", err);
}

static cw_code take_back(test_nursery *t, cw_error *err)
{
    return cw_allotting_take_back(t->n, &t->who, "1001", 1, "AMB", 1, "rot", err);
}

static cw_code oversell(test_nursery *t, cw_error *err)
{
    int64_t left;
    return cw_ordering_oversell(t->n, &t->who, "AMB", 2, "a late lot", &left, err);
}

/* A sum over everything that a change could leave behind. */
static int64_t traces(test_nursery *t)
{
    return number_of(t,
                     "SELECT (SELECT COUNT(*) FROM run) + 7 * (SELECT COUNT(*) FROM allocation)"
                     " + 31 * (SELECT TOTAL(quantity) FROM allocation) + (SELECT COUNT(*) FROM taken_back)"
                     " + (SELECT COUNT(*) FROM order_event) + (SELECT COUNT(*) FROM audit)"
                     " + (SELECT COUNT(*) FROM oversell) + 101 * (SELECT SUM(quantity) FROM line)"
                     " + 103 * (SELECT SUM(sold + beyond) FROM offering) + (SELECT SUM(version) FROM orders)"
                     " + 1000 * (SELECT stock_revision + trade_revision FROM nursery)");
}

static void orders_wait(test_nursery *t)
{
    load_text(t, "varieties.csv",
              "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n"
              "CIN,Cinder,ball,small,red,7.00\n");
    load_text(t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,CIN,2031-10-20,0\n");
    load_text(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,consent\n"
              "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50,none\n1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,same\n"
              "1002,2032-01-05T11:00:00Z,2,CIN,1,7.00,none\n1003,2032-01-05T12:00:00Z,1,AMB,3,6.50,same\n");
    count_lot(t, "L1", "2032-01-20", 3);
    count_lot(t, "L2", "2032-01-20", 4);
}

static void shares_are_firm(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    orders_wait(t);
    cw_check_ok(allocate(t, &err), &err);
    cw_check_ok(substitute(t, &err), &err);
}

static const giving_out works[] = {
    { "allocate", orders_wait, allocate, traces, 0 },
    { "substitute", orders_wait, substitute, traces, 0 },
    { "cancel", shares_are_firm, cancel, traces, 0 },
    { "change", shares_are_firm, change, traces, 0 },
    { "take back", shares_are_firm, take_back, traces, 0 },
    { "oversell", shares_are_firm, oversell, traces, 0 },
};
#define WORKS (sizeof works / sizeof works[0])

static void the_database_stops_at_any_step(void **state)
{
    (void)state;
    give_out_everywhere(works, WORKS, true);
}

static void memory_ends_at_any_allocation(void **state)
{
    (void)state;
    give_out_everywhere(works, WORKS, false);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_database_stops_at_any_step),
        cmocka_unit_test(memory_ends_at_any_allocation),
    };
    return cmocka_run_group_tests(tests, giving_out_install, NULL);
}
