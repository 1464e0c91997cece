/* SPDX-License-Identifier: MIT */
#include "support/order_desk.h"

#include "store/db_inside.h"

#include "base/banned.h"

/* At any step of the database, or any of its allocations, the order desk's changes give out: the call says so, nothing of
 * it stays, and everything that must hold still holds. n grows until the call gets through. */

static sqlite3_mem_methods plain;
static long allocations_left = -1; /* -1: never fails */

static void *failing_malloc(int n)
{
    if (allocations_left == 0)
        return NULL;
    allocations_left -= allocations_left > 0;
    return plain.xMalloc(n);
}

static void *failing_realloc(void *p, int n)
{
    if (allocations_left == 0)
        return NULL;
    allocations_left -= allocations_left > 0;
    return plain.xRealloc(p, n);
}

static int install(void **state)
{
    sqlite3_mem_methods mine;
    (void)state;
    if (sqlite3_config(SQLITE_CONFIG_GETMALLOC, &plain) != SQLITE_OK)
        return -1;
    mine = plain;
    mine.xMalloc = failing_malloc;
    mine.xRealloc = failing_realloc;
    return sqlite3_config(SQLITE_CONFIG_MALLOC, &mine) == SQLITE_OK ? 0 : -1;
}

/* Stops once: what takes the transaction back must get through. */
static int stop_after(void *left)
{
    return --*(long *)left == -1;
}

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

typedef struct work {
    const char *name;
    cw_code (*run)(test_nursery *t, cw_error *err);
    bool shared; /* shares and substitutes are firm before */
} work;

static const work works[] = { { "allocate", allocate, false },  { "substitute", substitute, false },
                              { "cancel", cancel, true },       { "change", change, true },
                              { "take back", take_back, true }, { "oversell", oversell, true } };
#define WORKS (sizeof works / sizeof works[0])

static void set_up(test_nursery *t, const work *w)
{
    cw_error err = CW_ERROR_NONE;
    test_nursery_make(t);
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
    if (w->shared) {
        cw_check_ok(allocate(t, &err), &err);
        cw_check_ok(substitute(t, &err), &err);
    }
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

static void is_as_before(test_nursery *t, cw_code code, const cw_error *err, int64_t before)
{
    assert_int_equal(code, CW_MACHINE);
    assert_string_not_equal(err->text, "");
    assert_true(sqlite3_get_autocommit(t->n->db->raw));
    assert_int_equal(traces(t), before);
    test_nursery_check(t);
}

static void the_database_stops_at_any_step(void **state)
{
    (void)state;
    for (size_t w = 0; w < WORKS; w++) {
        test_nursery t;
        long failures = 0;
        cw_code code = CW_MACHINE;
        set_up(&t, &works[w]);
        for (long n = 0; code != CW_OK; n += 1 + n / 10) {
            cw_error err = CW_ERROR_NONE;
            long left = n;
            int64_t before = traces(&t);
            sqlite3_progress_handler(t.n->db->raw, 1, stop_after, &left);
            code = works[w].run(&t, &err);
            sqlite3_progress_handler(t.n->db->raw, 0, NULL, NULL);
            if (code != CW_OK)
                is_as_before(&t, code, &err, before);
            failures += code != CW_OK;
        }
        print_message("%s: stopped at %ld places\n", works[w].name, failures);
        assert_true(failures > 15);
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
}

static void memory_ends_at_any_allocation(void **state)
{
    (void)state;
    for (size_t w = 0; w < WORKS; w++) {
        test_nursery t;
        long failures = 0;
        cw_code code = CW_MACHINE;
        set_up(&t, &works[w]);
        for (long n = 0; code != CW_OK; n++) {
            cw_error err = CW_ERROR_NONE;
            int64_t before = traces(&t);
            allocations_left = n;
            code = works[w].run(&t, &err);
            allocations_left = -1;
            if (code != CW_OK)
                is_as_before(&t, code, &err, before);
            failures += code != CW_OK;
        }
        print_message("%s: %ld allocations failed in turn\n", works[w].name, failures);
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_database_stops_at_any_step),
        cmocka_unit_test(memory_ends_at_any_allocation),
    };
    return cmocka_run_group_tests(tests, install, NULL);
}
