/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_SHORT_AMBER_H
#define CW_TESTS_SUPPORT_SHORT_AMBER_H

/* Seven divisions of AMB are asked for, and so many are there as a test says; and the rules by which they may be shared. */
#include "support/order_desk.h"

#include "desk/share/allotting.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price,hold_back,reserve\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50,2,1\n"
                                "BRI,Briar Song,cactus,large,pink,8.00,0,0\n";
static const char lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-21,0\nL3,AMB,2031-10-22,0\n";
static const char orders[] =
    "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none,ship_complete\n"
    "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50,retail,Ada,0,0\n"
    "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0,0\n"
    "1003,2032-01-05T12:00:00Z,1,AMB,3,6.50,retail,Cy,0,0\n";

static inline void make(test_nursery *t, int amber)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    load_text(t, "orders.csv", orders);
    if (amber > 0)
        count_lot(t, "L1", "2032-01-20", amber + 3); /* 2 to replant, 1 in reserve */
}

/* The k-th rule's name; false when there are no more. */
static inline bool rule_at(int k, char out[40])
{
    const char *at = CW_ALLOTTING_RULES;
    for (; k > 0 && at; k--)
        at = strchr(at, '|') ? strchr(at, '|') + 1 : NULL;
    if (at)
        snprintf(out, 40, "%.*s", (int)strcspn(at, "|"), at);
    return at != NULL;
}

static inline int64_t rules(void)
{
    char name[40];
    int r = 0;
    while (rule_at(r, name))
        r++;
    return r;
}

#endif
