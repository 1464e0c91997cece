/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_INTAKE_ORDERS_INSIDE_H
#define CW_DESK_INTAKE_ORDERS_INSIDE_H

/* Inside of intake_orders.c (whose order is it?) and intake_lines.c (what does the line do?). */
#include "base/text.h"
#include "desk/intake/intake_inside.h"

/* The next column after `column` that is the order's own, as it stands in table `orders`; -1 after the last. Begin with 0, the order itself. */
int cw_head_next(int column);

#define AT(column) CW_AT(orders, column)

/* Does the column stand on each line of an order in JSON, or on the order? */
bool cw_order_on_line(size_t column);

/* Is the value of the JSON kind that the column wants? Null is. */
cw_code cw_order_value_check(size_t column, const json_t *v, long row, cw_error *err) CW_MUST_CHECK;

/* A line that waits to be written. Texts are offsets into the texts of all that wait, 0: none. */
typedef struct cw_line_waiting {
    int64_t order, line, variety, quantity, price, all_or_none; /* variety: id, 0 for an assortment */
    size_t assortment, consent, named;
} cw_line_waiting;

/* The orders of a file, and where their lines stand in it: a list from the last line back. A line above all before it, as lines
 * mostly are, is new without a search. */
typedef struct cw_order_known {
    bool is_new;           /* made by this file */
    int64_t last, highest; /* last: index + 1 of its last line; highest number of a line */
} cw_order_known;
typedef struct cw_line_seen {
    int64_t line, row, before; /* row of the file; before: as last */
} cw_line_seen;

/* The order whose lines are being read; rows of one order mostly stand together. */
struct cw_order_desk {
    char number[CW_MAX_CODE + 1]; /* "": none is being read */
    int64_t id;                   /* on record, or once its head is written */
    bool is_new;                  /* made by this file */
    bool closed;                  /* cancelled or shipped */
    bool changed;                 /* version was raised */
    int pays;                     /* news of the order: 1 it is not paid, 2 it is; 0: none */
    long lines;                   /* read of it, since its number came up */
    cw_values head;               /* its own columns; texts point into `texts` */
    cw_text texts, texts_before;
    cw_map known; /* orders of this file: number -> index */
    cw_order_known *orders;
    cw_line_seen *seen;
    size_t order, order_count, order_room, seen_count, seen_room; /* order: index of the one being read */
    /* What a shop's order will write once all of it is found good: cw_intake_orders_write. A file's goes at once, or behind
     * (intake_behind.c). */
    bool head_waits; /* it has no id meanwhile */
    cw_line_waiting *waiting;
    size_t waiting_count, waiting_room;
    cw_text line_texts;
};

/* The order's own columns, by a statement that wants them and `key`. */
cw_code cw_head_write(cw_db *db, const char *statement, cw_bind key, const cw_given *v,
                      cw_error *err) CW_MUST_CHECK;

/* Where a copy of the text stands among the texts of lines that wait, never at 0; and such a line as it is written. */
size_t cw_line_text(cw_text *texts, const char *t);
cw_line_row cw_line_row_of(const cw_line_waiting *l, const cw_text *texts);

/* A new order or line, behind. *id is the order's, once it is written; cw_behind_texts is for the line's texts. */
cw_code cw_behind_order(cw_behind *b, const char *number, const cw_values *head, int64_t *id,
                        cw_error *err) CW_MUST_CHECK;
cw_text *cw_behind_texts(cw_behind *b);
cw_code cw_behind_line(cw_behind *b, const cw_line_waiting *l, cw_error *err) CW_MUST_CHECK;

/* A file may be told to change the record; a shop may not. */
const char *cw_order_advice(const cw_intake *in);

/* Is the value what the order being read, or its line (0: its own columns), was taken with before the office put it right? */
cw_code cw_order_was_first(cw_intake *in, const struct cw_order_desk *d, int64_t line, int c,
                           const cw_given *v, bool *was, cw_error *err) CW_MUST_CHECK;

/* What the table of columns cannot say about a line. */
cw_code cw_line_check(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;

/* Writes a line that is new. */
cw_code cw_line_write(cw_intake *in, struct cw_order_desk *d, const cw_line_waiting *l,
                      cw_error *err) CW_MUST_CHECK;

/* Adds the line to the order, or compares it with the one on record and changes that if it may. */
cw_code cw_line_take(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err) CW_MUST_CHECK;

#endif
