/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_TAUGHT_INSIDE_H
#define CW_DESK_TAUGHT_INSIDE_H

/* What one season taught: the rows that the models take, by variety; read from that season's ledger, or from what a later file
 * keeps of it. The same rows give the same digest, whichever file they come from. */
#include "base/limits.h"
#include "desk/forecast/forecast_data_inside.h"
#include "desk/nursery/nursery_inside.h"

typedef struct cw_taught_rate {
    size_t variety, lot; /* index; lot: of the season's file only */
    int64_t clumps, divisions;
    cw_rate_cut cut;
} cw_taught_rate;

typedef struct cw_taught_rot {
    size_t variety, lot;
    bool division;
    double weeks, age;
    int why; /* cw_rot_why */
    int64_t inspected, rotten;
} cw_taught_rot;

typedef struct cw_taught_sale {
    int64_t variety_id, sold;
    cw_day sold_out; /* CW_NO_DAY */
} cw_taught_sale;

typedef struct cw_taught_order {
    int64_t variety_id;
    cw_day day;
    int64_t quantity;
} cw_taught_order;

typedef struct cw_taught {
    const cw_forecast_data *from; /* borrowed: names of varieties and lots */
    int season;
    cw_taught_rate *rate;
    cw_taught_rot *rot;
    cw_shrivel_check *shrivel;
    cw_weighing *weighing;
    size_t rates, rots, shrivels, weighings;
    cw_taught_sale *sale;
    cw_taught_order *order;
    size_t sales, orders, sale_room, order_room;
    bool failed;                   /* no memory */
    char (*name)[CW_MAX_CODE + 1]; /* owned; NULL: varieties are called as in `from` */
} cw_taught;

/* From the season's own file (`season` is d->season), or of a past season from a later one. Free in any case. */
cw_code cw_taught_read(const cw_forecast_data *d, int season, cw_taught *out, cw_error *err) CW_MUST_CHECK;
/* Adds what was asked for, from the season's own orders. */
cw_code cw_taught_asked(cw_nursery *n, const cw_asker *who, cw_taught *t, cw_error *err) CW_MUST_CHECK;
void cw_taught_free(cw_taught *t);

/* Varieties are called by `code` (one for each variety of `from`) from now on, two of them alike if they are one, and rows stand in
 * the order of those. What two files call otherwise can be compared so. */
cw_code cw_taught_call(cw_taught *t, const char (*code)[CW_MAX_CODE + 1], cw_error *err) CW_MUST_CHECK;

/* Of the models' rows. */
void cw_taught_digest(const cw_taught *t, char hex[65]);
/* Writes them into the nursery's file as those of a past season, within its transaction. */
cw_code cw_taught_write(cw_nursery *n, const cw_asker *who, const cw_taught *t, const char *digest,
                        cw_error *err) CW_MUST_CHECK;

#endif
