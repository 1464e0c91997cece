/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_SMALL_CELLAR_H
#define CW_TESTS_SUPPORT_SMALL_CELLAR_H

/* Two varieties, four lots, three places. */
#include "support/rounds.h"
#include "support/order_desk.h"

#include "base/banned.h"

/* Invented data. */
static inline void small_cellar(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n");
    load_text(t, "places.csv", "place,room,walk_order\nA1,north,10\nA2,north,20\nB1,south,30\n");
    load_text(t, "lots.csv",
              "lot,variety,dug_on,clumps,place\nL0,AMB,2031-10-20,40,A1\nL1,AMB,2031-10-21,25,A2\n"
              "L2,BRI,2031-10-22,60,\nL3,BRI,2031-10-22,0,B1\n");
}

static inline cw_day on(int month, int day)
{
    return cw_day_from_ymd(month > 6 ? 2031 : 2032, month, day);
}

#endif
