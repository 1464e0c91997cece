/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_TABLE_H
#define CW_BASE_TABLE_H

#include "base/day.h"
#include "base/error.h"
#include "base/money.h"
#include "base/text.h"
#include "base/value.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A result: named, typed columns and rows. Every list that a desk answers with is one of these, so the command line
 * (table, CSV, JSON), the HTTP routes and the exports show the same figures by the same code.
 *
 * Filling: cw_table_init, then per row one put per column in order. Puts never fail outwardly; memory trouble or a
 * row too many sets `failed`, and cw_table_check says so at the end (as with cw_text). A put of the wrong type or
 * past the last column is a programming error (assert). */
typedef struct cw_column {
    const char *name;
    cw_type type; /* one that a cell has: CW_TEXT_T to CW_BOOL_T */
    int decimals; /* of CW_REAL_T only */
    /* a cell may be null; an empty text then is null, so that the unknown looks the same everywhere */
    bool null;
    const char *words; /* of CW_TEXT_T: a cell is one of these, "open|packed|shipped"; NULL: any text */
    const char *says;  /* what it is, where its name does not tell */
} cw_column;

typedef struct cw_cell {
    union {
        int64_t i;
        double r;
        size_t offset; /* of a NUL-terminated text in `texts` */
    } v;
    bool null;
} cw_cell;

typedef struct cw_table {
    const cw_column *columns; /* borrowed: static data of the desk that fills it */
    size_t width;
    cw_cell *cells;
    size_t used, room; /* cells */
    cw_text texts;
    bool failed;
} cw_table;

void cw_table_init(cw_table *t, const cw_column *columns, size_t width);
void cw_table_free(cw_table *t);  /* also right for a zeroed table */
void cw_table_clear(cw_table *t); /* no rows; keeps the room */

void cw_put_text(cw_table *t, const char *s); /* copied; NULL puts null, and so does "" where null may be */
/* Also for CW_DAY_T, CW_INSTANT_T, CW_WEEK_T (their "none" puts null). */
void cw_put_int(cw_table *t, int64_t v);
void cw_put_real(cw_table *t, double v); /* a NaN puts null */
void cw_put_money(cw_table *t, cw_cents v);
void cw_put_bool(cw_table *t, bool v);
void cw_put_null(cw_table *t);
cw_code cw_table_check(const cw_table *t, cw_error *err) CW_MUST_CHECK;

size_t cw_table_rows(const cw_table *t);
int cw_table_column(const cw_table *t, const char *name); /* -1 if there is none */
const cw_cell *cw_table_cell(const cw_table *t, size_t row, size_t column);
/* "" for null; borrowed from the table */
const char *cw_table_text(const cw_table *t, size_t row, size_t column);
int64_t cw_table_int(const cw_table *t, size_t row, size_t column); /* 0 for null */
double cw_table_real(const cw_table *t, size_t row, size_t column); /* 0 for null; converts whole numbers */

/* Where rendered bytes go. A writer returns CW_OK or records why it could not take them. */
typedef struct cw_sink {
    cw_code (*write)(void *self, const char *bytes, size_t n, cw_error *err);
    void *self;
} cw_sink;
cw_sink cw_sink_text(cw_text *t); /* appends to a text */

/* One cell that is no text and not null, as CSV has it; returns its length. */
size_t cw_table_format(const cw_column *c, const cw_cell *cell, char out[CW_CELL_BYTES]);

/* One cell as a person or a CSV reader sees it, appended to `out`; null is the empty string. */
void cw_table_show(const cw_table *t, size_t row, size_t column, cw_text *out);

/* CSV with a header (LF line ends, as RFC 4180 readers accept); JSON as an array of objects; an aligned table with
 * numbers to the right for people. */
cw_code cw_table_csv(const cw_table *t, cw_sink to, cw_error *err) CW_MUST_CHECK;

/* The same for a spreadsheet: a text that it would take for a formula (OWASP, "CSV Injection": one that begins with = + - @, a
 * tab or a carriage return) stands behind an apostrophe. Not for what is to be read again: the apostrophe stays. */
cw_code cw_table_csv_sheet(const cw_table *t, cw_sink to, cw_error *err) CW_MUST_CHECK;
cw_code cw_table_json(const cw_table *t, cw_sink to, cw_error *err) CW_MUST_CHECK;
cw_code cw_table_print(const cw_table *t, cw_sink to, cw_error *err) CW_MUST_CHECK;

/* The same cell by cell, so that a long answer stands nowhere in memory: begin with the columns, write as often as there is a cell
 * (as with cw_put_*, but what is written leaves), then end, then free. Writes never fail outwardly: what a sink said when it took no
 * more is told by cw_writer_check, which a long loop asks now and then, and at the end. */
typedef enum cw_format { CW_AS_CSV, CW_AS_JSON, CW_AS_SHEET } cw_format; /* the last: cw_table_csv_sheet's */

typedef struct cw_writer {
    cw_format format;
    cw_sink to;
    const cw_column *columns; /* borrowed; NULL before it has begun */
    size_t width, at;         /* at: the column that is written next */
    char *buffer;
    size_t used;   /* bytes in the buffer */
    size_t rows;   /* written so far */
    size_t handed; /* how often the buffer was handed on */
    cw_text prefixes;
    struct {
        size_t at, length; /* in `prefixes` */
    } * prefix;            /* [width] what stands before a cell */
    cw_code code;
    cw_error trouble;
} cw_writer;

cw_writer cw_writer_new(cw_format format, cw_sink to);
cw_code cw_writer_begin(cw_writer *w, const cw_column *columns, size_t width, cw_error *err) CW_MUST_CHECK;
void cw_write_text(cw_writer *w, const char *s, size_t n); /* NULL, and "" where null may be: null */
void cw_write_int(cw_writer *w, int64_t v); /* all types but texts and reals; their "none" writes null */
void cw_write_real(cw_writer *w, double v); /* a NaN writes null */
void cw_write_null(cw_writer *w);
/* Cells that stand alike in many rows are made once: their bytes since a mark, which last until the next cell is written (NULL when
 * the buffer was handed on in between), and the same cells written by their bytes. Neither the first of a row nor the last. */
typedef struct cw_writer_mark {
    size_t handed, used;
} cw_writer_mark;
cw_writer_mark cw_writer_here(const cw_writer *w);
const char *cw_writer_since(const cw_writer *w, cw_writer_mark m, size_t *n);
void cw_write_cells(cw_writer *w, const char *bytes, size_t n, size_t cells);
cw_code cw_writer_check(cw_writer *w, cw_error *err) CW_MUST_CHECK;
cw_code cw_writer_end(cw_writer *w, cw_error *err) CW_MUST_CHECK;
/* The rows of one table by several writers, as by threads, whose bytes are put one behind another: between begin and end of a writer
 * that writes none itself. `first`: no row comes before these. */
cw_code cw_writer_begin_part(cw_writer *w, const cw_column *columns, size_t width, bool first,
                             cw_error *err) CW_MUST_CHECK;
cw_code cw_writer_end_part(cw_writer *w, cw_error *err) CW_MUST_CHECK;
void cw_writer_free(cw_writer *w);

/* The rows of a table, as often as there are more (of tables with the same columns). The first begins. */
cw_code cw_writer_rows(cw_writer *w, const cw_table *t, cw_error *err) CW_MUST_CHECK;

/* Is this the value that stands for none: no day, no instant, no week? */
bool cw_is_none(cw_type type, int64_t v);

/* The same JSON as a jansson array, to set into a larger document: new reference, NULL without memory and of a table that
 * failed. */
json_t *cw_table_to_json(const cw_table *t);

#endif
