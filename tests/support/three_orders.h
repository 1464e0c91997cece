/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_THREE_ORDERS_H
#define CW_TESTS_SUPPORT_THREE_ORDERS_H

/* Three varieties, five counted of each, and three orders for them. */
#include "support/order_desk.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price,hold_back,reserve\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50,0,0\n"
                                "BRI,Briar Song,cactus,large,pink,8.00,0,0\n"
                                "CIN,Cinder,ball,small,red,7.00,0,0\n";
static const char lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-21,0\nL3,CIN,2031-10-22,0\n";
static const char orders[] =
    "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,consent,assortment\n"
    "1001,2032-01-05T10:00:00Z,1,AMB,4,6.50,Ada Ambl,ada@example.org,00100,same,\n"
    "1001,2032-01-05T10:00:00Z,2,BRI,2,8.00,Ada Ambl,ada@example.org,00100,none,\n"
    "1002,2032-01-06T11:00:00Z,1,AMB,3,6.50,Bo 100% Bostr,bo_b@example.org,00200,none,\n"
    "1003,2032-01-07T12:00:00Z,1,,3,5.00,Cy Crind,cy@example.org,00300,,colour=red\n";

static inline void make(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    load_text(t, "orders.csv", orders);
    count_lot(t, "L1", "2032-01-20", 5);
    count_lot(t, "L2", "2032-01-20", 5);
    count_lot(t, "L3", "2032-01-20", 5);
}

#endif
