/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_SHORT_ORDERS_H
#define CW_TESTS_SUPPORT_SHORT_ORDERS_H

/* Five varieties and orders that are short of them, for the tests of substitutes at the desk. All data are invented. */
#include "support/order_desk.h"

#define AT "2032-01-05T10:00:00Z"
static const char short_varieties[] = "code,name,form,size,colour,price,limit_per_order,hold_back\n"
                                      "AMB,Amber Lantern,ball,small,orange,6.50,,0\n"
                                      "BRI,Briar Song,cactus,large,pink,8.00,,0\n"
                                      "CIN,Cinder,ball,small,red,7.00,2,1\n"
                                      "DOV,Dove Bell,ball,medium,white,6.00,,0\n"
                                      "EMB,Ember Song,cactus,large,red,9.00,,0\n";
static const char short_lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-20,0\nL3,CIN,2031-10-20,0\n"
    "L4,DOV,2031-10-20,0\nL5,EMB,2031-10-20,0\n";
#define HEADER                                                                                               \
    "order,received_at,line,variety,quantity,unit_price,consent,named,assortment,all_or_none,ship_"          \
    "complete\n"

typedef struct expected {
    const char *order, *substitute;
    int line;
    int64_t quantity;
} expected;

/* Stock of the five varieties; `orders` are rows under HEADER. */
static inline void make(test_nursery *t, const int stock[5], const char *orders)
{
    char text[2000], lot[8];
    test_nursery_make(t);
    load_text(t, "varieties.csv", short_varieties);
    load_text(t, "lots.csv", short_lots);
    snprintf(text, sizeof text, HEADER "%s", orders);
    load_text(t, "orders.csv", text);
    for (int i = 0; i < 5; i++) {
        snprintf(lot, sizeof lot, "L%d", i + 1);
        if (stock[i] > 0)
            count_lot(t, lot, "2032-01-20", stock[i]);
    }
}

static inline void check_plan(const char *name, test_nursery *t, const expected *want, size_t count)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals sum;
    cw_table rows;
    int64_t placed = 0;
    cw_substituting_ask ask = { 0 };
    cw_check_ok(cw_substituting_preview(t->n, &t->who, &ask, &s, &err), &err);
    cw_check_ok(cw_substituting_lines(s, false, &rows, &err), &err);
    cw_substituting_total(s, &sum);
    assert_true(sum.proven);
    if (cw_table_rows(&rows) != count)
        fail_msg("%s: %zu rows, want %zu", name, cw_table_rows(&rows), count);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(cw_table_text(&rows, i, 0), want[i].order) || cw_table_int(&rows, i, 1) != want[i].line ||
            strcmp(cw_table_text(&rows, i, 3), want[i].substitute) ||
            cw_table_int(&rows, i, 4) != want[i].quantity)
            fail_msg("%s: row %zu is %s line %lld: %lld %s", name, i, cw_table_text(&rows, i, 0),
                     (long long)cw_table_int(&rows, i, 1), (long long)cw_table_int(&rows, i, 4),
                     cw_table_text(&rows, i, 3));
        placed += want[i].quantity;
    }
    assert_int_equal(sum.placed, placed);
    cw_table_free(&rows);
    cw_substituting_free(s);
}

#endif
