/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHEETS_ROWS_INSIDE_H
#define CW_DESK_SHEETS_ROWS_INSIDE_H

/* Inside of sheets_rows.c (what a row is) and sheets_lines.c (what is written of it). */
#include "desk/sheets/sheets_inside.h"

/* The row at work: of each column of the three kinds that it may speak of, the value, and from which column of the sheet. */
typedef struct cw_row_values {
    cw_cell_read value[CW_MAX_KIND_COLUMNS];
    int from[CW_MAX_KIND_COLUMNS]; /* -1: no column of the sheet */
    bool filled[CW_MAX_KIND_COLUMNS];
    bool carried[CW_MAX_KIND_COLUMNS]; /* from a row above */
} cw_row_values;

typedef struct cw_reading {
    cw_fitting *f;
    size_t row; /* index in the sheet */
    cw_row_values own, variety, place;
    char (*carry)[CW_MAX_NOTE + 1]; /* [CW_MAX_KIND_COLUMNS] last text of each own column */
    int64_t variety_index;          /* -1: none, or in doubt */
    bool wrong;                     /* a problem was recorded against the row */
    cw_map counts;                  /* lines of an order; lots of a variety */
    long walk;
} cw_reading;

/* The row's records into f->out. */
cw_code cw_lines_begin(cw_fitting *f, cw_error *err) CW_MUST_CHECK; /* headers */
cw_code cw_lines_add(cw_reading *r, cw_error *err) CW_MUST_CHECK;
/* sheets_pieces.c: items in one cell. The count that leads or trails is taken off *s and *n; 0: there is none. */
int64_t cw_piece_leads(const char **s, size_t *n);
int64_t cw_piece_trails(const char *s, size_t *n);
size_t cw_piece_end(const char *s, size_t n);                       /* bytes of the first item */
bool cw_is_made(const cw_fitting *f, int kind, const char *column); /* written though no column tells it */

#endif
