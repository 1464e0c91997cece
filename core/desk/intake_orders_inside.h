/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_INTAKE_ORDERS_INSIDE_H
#define CW_DESK_INTAKE_ORDERS_INSIDE_H

/* Inside of intake_orders.c (whose order is it?) and intake_lines.c (what does the line do?). */
#include "base/text.h"
#include "desk/intake_inside.h"

/* The columns of cw_kinds[CW_ORDERS], by position. */
enum {
    ORDER,
    LINE,
    RECEIVED,
    CHANNEL,
    TIER,
    CUSTOMER,
    EMAIL,
    POSTCODE,
    COUNTRY,
    REGION,
    ZONE,
    WISH,
    COMPLETE,
    VARIETY,
    ASSORTMENT,
    QUANTITY,
    PRICE,
    CONSENT,
    NAMED,
    ALL_OR_NONE,
    ORDER_WIDTH
};

#define HEAD_FIRST RECEIVED
#define HEAD_LAST  COMPLETE

/* The order whose lines are being read; rows of one order mostly stand together. */
struct cw_order_desk {
    char number[CW_MAX_CODE + 1];
    int64_t id;                 /* 0: none is being read */
    bool is_new;                /* made by this file */
    bool bad;                   /* its head was refused: its lines are passed over */
    bool closed;                /* cancelled or shipped */
    bool changed;               /* version was raised */
    long lines;                 /* read of it, since its number came up */
    cw_given head[ORDER_WIDTH]; /* texts point into `texts` */
    cw_text texts;
    cw_map known; /* orders of this file: number -> id, negative when new */
};

/* A file may be told to change the record; a shop may not. */
const char *cw_order_advice(const cw_intake *in);

/* What the table of columns cannot say about a line. */
cw_code cw_line_check(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;

/* Adds the line to the order, or compares it with the one on record and changes that if it may. */
cw_code cw_line_take(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err) CW_MUST_CHECK;

#endif
