/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_NOTICES_INSIDE_H
#define CW_DESK_NOTICES_INSIDE_H

/* Inside of desk/orders/notices. */
#include "base/tongue.h"
#include "desk/orders/notices.h"
#include "desk/nursery/nursery_inside.h"
#include "model/timetable.h"
#include "store/notices.h"

#define CW_MAX_HOLIDAYS 18

/* The timetable that is set. */
typedef struct cw_times {
    cw_timetable table;
    cw_day holidays[CW_MAX_HOLIDAYS];
    cw_day promised_by; /* CW_NO_DAY */
} cw_times;
cw_code cw_times_read(cw_nursery *n, cw_times *out, cw_error *err) CW_MUST_CHECK;

/* What the file says must be told. */
typedef struct cw_wanted_notice {
    int64_t order_id, line_id;
    const char *kind; /* static */
    char fact[96];
    cw_day due_on;
    cw_cents amount;
    char *detail; /* JSON, owned */
} cw_wanted_notice;

typedef struct cw_wanted_list {
    cw_wanted_notice *item;
    size_t count, room;
} cw_wanted_list;
cw_code cw_notices_gather(cw_nursery *n, const cw_asker *who, cw_wanted_list *out,
                          cw_error *err) CW_MUST_CHECK;
void cw_wanted_free(cw_wanted_list *w);

/* cw_notices_make within the caller's work. */
cw_code cw_notices_make_inside(cw_nursery *n, const cw_asker *who, cw_notices_made *out,
                               cw_error *err) CW_MUST_CHECK;

/* Fills the words of a notice into a text, in the letter's language. */
cw_code cw_notice_fill(const char *text, cw_tongue letter, const cw_notice_row *row, const cw_season *season,
                       const char *name, cw_text *out, cw_error *err) CW_MUST_CHECK;

#endif
