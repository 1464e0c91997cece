/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_GROWN_H
#define CW_TESTS_SUPPORT_GROWN_H

/* A nursery with so many rows of past seasons that an entry is fitted beside all else (model/mixed_near.c). Invented. */
#include "support/intake.h"
#include "support/nursery.h"

#define GROWN_VARIETIES 200
#define GROWN_SEASONS                                                                                        \
    12 /* so that there are more rows than are fitted whole after each entry (mixed_near.c) */

static inline void grown_load(test_nursery *t, const char *name, const char *text)
{
    loaded l = load_one(t, name, text);
    assert_string_equal(l.first, "");
    assert_int_equal(l.code, CW_OK);
}

/* Numbers that differ between varieties and seasons, without chance. */
static inline int grown_wave(int v, int s, int most)
{
    return (v * 7919 + s * 104729 + v * s * 31) % 1009 * most / 1009;
}

/* Ten clumps of a lot that give what its variety is known for, and some more: an entry like any. */
static inline void grown_divide(test_nursery *t, int lot, int more)
{
    char csv[120];
    double clumps = 0, gave = 0;
    for (int s = 0; s < GROWN_SEASONS; s++) {
        clumps += 20 + grown_wave(lot, s, 30);
        gave += 60 + lot % 11 * 9 + grown_wave(lot, s, 60);
    }
    int saleable = (int)(10 * gave / clumps) + more;
    snprintf(csv, sizeof csv, "lot,divided_on,clumps,saleable\nL%d,2032-02-01,10,%d\n", lot, saleable);
    grown_load(t, "divisions.csv", csv);
}

static inline void grown_fill(test_nursery *t)
{
    cw_text csv = CW_TEXT((size_t)4 << 20);
    cw_text_add(&csv, "code,name,form,size\n");
    for (int v = 0; v < GROWN_VARIETIES; v++)
        cw_text_addf(&csv, "V%d,Variety %d,form %d,size %d\n", v, v, v % 5, v % 3);
    grown_load(t, "varieties.csv", csv.data);
    csv.length = 0;
    cw_text_add(&csv, "season,variety,clumps,divisions\n");
    for (int v = 0; v < GROWN_VARIETIES; v++)
        for (int s = 0; s < GROWN_SEASONS; s++)
            cw_text_addf(&csv, "%d,V%d,%d,%d\n", 2031 - GROWN_SEASONS + s, v, 20 + grown_wave(v, s, 30),
                         60 + v % 11 * 9 + grown_wave(v, s, 60));
    grown_load(t, "history.csv", csv.data);
    csv.length = 0;
    cw_text_add(&csv, "lot,variety,dug_on,clumps\n");
    for (int v = 0; v < GROWN_VARIETIES; v++)
        cw_text_addf(&csv, "L%d,V%d,2031-10-20,%d\n", v, v, 40 + grown_wave(v, 1, 200));
    grown_load(t, "lots.csv", csv.data);
    csv.length = 0;
    cw_text_add(&csv, "lot,divided_on,clumps,saleable\n");
    for (int v = 100; v < GROWN_VARIETIES; v++)
        cw_text_addf(&csv, "L%d,2032-01-15,12,%d\n", v, 30 + grown_wave(v, 2, 40));
    grown_load(t, "divisions.csv", csv.data);
    grown_load(t, "checks.csv",
               "lot,checked_on,stage,inspected,rotten\nL1,2031-12-10,clump,20,2\nL2,2031-12-12,clump,20,0\n"
               "L3,2031-12-20,clump,20,1\nL4,2032-01-10,clump,30,6\n");
    cw_text_free(&csv);
}

static inline void grown_make(test_nursery *t)
{
    test_nursery_make(t);
    grown_fill(t);
}

#endif
