/* SPDX-License-Identifier: MIT */
#include "model/stand.h"

#include <stdlib.h>

#include "base/banned.h"

static int rank(const cw_stand_event *e)
{
    return e->dug ? 1 : e->alive > 0 ? 0 : 2;
}

static int by_time(const void *pa, const void *pb)
{
    const cw_stand_event *a = pa, *b = pb;
    if (a->day != b->day)
        return a->day < b->day ? -1 : 1;
    if (rank(a) != rank(b))
        return rank(a) < rank(b) ? -1 : 1;
    return (a->id > b->id) - (a->id < b->id);
}

void cw_stand_sort(cw_stand_event *event, size_t n)
{
    if (n > 1)
        qsort(event, n, sizeof *event, by_time);
}

size_t cw_stand_play(int64_t plants, const cw_stand_event *event, size_t n, cw_stand *out)
{
    *out = (cw_stand){ .plants = plants, .standing = plants, .walked = CW_NO_DAY, .last_dug = CW_NO_DAY };
    for (size_t i = 0; i < n; i++) {
        const cw_stand_event *e = &event[i];
        if (e->dug) {
            if (e->clumps + e->culled > out->standing)
                return i;
            out->dug += e->clumps;
            out->culled += e->culled;
            out->standing -= e->clumps + e->culled;
            out->last_dug = e->day;
        } else {
            if (e->rogued > e->alive || e->alive > plants - out->dug - out->culled - out->rogued)
                return i;
            out->rogued += e->rogued;
            out->standing = e->alive - e->rogued;
            out->walked = e->day;
        }
        out->dead = plants - out->standing - out->dug - out->culled - out->rogued;
    }
    return n;
}
