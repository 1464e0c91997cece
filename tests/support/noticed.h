/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_NOTICED_H
#define CW_TESTS_SUPPORT_NOTICED_H

/* Orders of which some cannot be kept, and the notice that says so. */
#include "support/order_desk.h"

#include "desk/orders/notices.h"
#include "desk/ship/shipping.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50\n"
                                "BRI,Briar Song,cactus,large,pink,8.00\n"
                                "CIN,Cinder,ball,small,red,7.10\n";
static const char lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-21,0\nL3,CIN,2031-10-22,0\n";
static const char orders[] =
    "order,received_at,line,variety,quantity,unit_price,customer,email,wish_week,consent,named\n"
    "1001,2032-01-05T10:00:00Z,1,AMB,4,6.50,Ada Ambl,ada@example.org,2032-W17,none,\n"
    "1002,2032-01-06T11:00:00Z,1,AMB,3,6.55,J\xC3\xB6rg Bostr,bo@example.org,2032-W17,none,\n"
    "1003,2032-01-07T12:00:00Z,1,BRI,2,8.00,Cy Crind,,2032-W17,named,CIN\n"
    "1004,2032-01-08T12:00:00Z,1,CIN,2,7.10,Di Drum,di@example.org,2032-W17,none,\n"
    "1004,2032-01-08T12:00:00Z,2,CIN,1,7.10,Di Drum,di@example.org,2032-W17,none,\n"
    "1005,2032-01-09T12:00:00Z,1,CIN,3,7.10,Ed Elm,ed@example.org,2032-W17,none,\n";

static inline void make(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    load_text(t, "orders.csv", orders);
    count_lot(t, "L1", "2032-01-20", 5);
    count_lot(t, "L2", "2032-01-20", 1);
    count_lot(t, "L3", "2032-01-20", 10);
}

static inline cw_notices_made look(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_notices_made m;
    cw_check_ok(cw_notices_make(t->n, &t->who, &m, &err), &err);
    test_nursery_check(t);
    return m;
}

typedef struct told {
    int64_t id;
    char due[11], amount[24], sentence[600], state[16];
    bool overdue, found;
} told;

/* The only notice of this kind for the order and line (0: any). */
static inline told find(test_nursery *t, const char *order, int line, const char *kind)
{
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    told r = { .found = false };
    cw_check_ok(cw_notices_show(t->n, &t->who, NULL, CW_NO_DAY, &rows, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&rows); i++) {
        if (strcmp(cw_table_text(&rows, i, 1), order) != 0 || strcmp(cw_table_text(&rows, i, 3), kind) != 0 ||
            (line && cw_table_int(&rows, i, 2) != line))
            continue;
        if (r.found)
            fail_msg("two notices %s of order %s", kind, order);
        r.found = true;
        r.id = cw_table_int(&rows, i, 0);
        cw_day_format((cw_day)cw_table_int(&rows, i, 4), r.due);
        r.overdue = cw_table_int(&rows, i, 5) != 0;
        cw_copy(r.state, sizeof r.state, cw_table_text(&rows, i, 6));
        cw_cents_format(cw_table_int(&rows, i, 9), r.amount);
        cw_copy(r.sentence, sizeof r.sentence, cw_table_text(&rows, i, 10));
    }
    cw_table_free(&rows);
    return r;
}

static inline void move(test_nursery *t, const char *order, cw_week week)
{
    cw_error err = CW_ERROR_NONE;
    cw_table breaks;
    cw_check_ok(cw_shipping_move(t->n, &t->who, order, week, "late", &breaks, &err), &err);
    cw_table_free(&breaks);
}

#endif
