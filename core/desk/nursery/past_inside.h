/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PAST_INSIDE_H
#define CW_DESK_PAST_INSIDE_H

/* Files of past seasons beside the open one, by season, the oldest first. */
#include "desk/nursery/nursery_inside.h"
#include "desk/nursery/past.h"

struct cw_past_beside {
    cw_nursery *file[CW_MAX_PAST];
    size_t count;
};

/* How many files there are with the open one, and one of them: the oldest is 0, the open one the last. */
size_t cw_past_count(const cw_nursery *n);
cw_nursery *cw_past_at(cw_nursery *n, size_t i);

/* "season2031.db" of its path. */
const char *cw_past_file_name(const cw_nursery *n);

void cw_past_close(cw_nursery *n);

#endif
