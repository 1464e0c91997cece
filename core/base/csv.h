/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_CSV_H
#define CW_BASE_CSV_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Reader of CSV by RFC 4180: comma, double quotes, LF or CRLF, a UTF-8 byte order mark allowed at the start.
 * Streaming: memory stays at a few record lengths whatever the file's size. Lines are counted as an editor counts
 * them, also through line breaks inside quotes. Refused, with line and column: NUL bytes, broken UTF-8, text after a
 * closing quote, an unclosed quote, a quote inside an unquoted field, a lone CR, a record or field over the caps of
 * limits.h, a row with more or fewer fields than the header. Empty lines are passed over. A stray quote spoils its
 * own line only; an unclosed one reaches to the next quote or to the cap. */
typedef struct cw_csv cw_csv;

typedef struct cw_field {
    const char *s; /* not NUL-terminated; borrowed from the reader until the next cw_csv_next */
    size_t n;
} cw_field;

/* One column that a kind of file may have. */
typedef struct cw_csv_column {
    const char *name;
    bool required;
} cw_csv_column;

/* Opens a file by path ("-" = standard input is not taken: a load must be able to read twice). `*out` is to be closed
 * with cw_csv_close. */
cw_code cw_csv_open(const char *path, cw_csv **out, cw_error *err) CW_MUST_CHECK;

/* Reads from memory; `name` is what messages call it. Both are borrowed until close. */
cw_code cw_csv_open_memory(const char *name, const char *bytes, size_t n, cw_csv **out,
                           cw_error *err) CW_MUST_CHECK;
void cw_csv_close(cw_csv *c);

/* Reads the header row. map[k] becomes the field index of columns[k], or -1 if it is absent. Refused: a missing
 * required column, a name twice, an unknown name unless `ignore_extra`, a header parted by ';' or tabs. */
cw_code cw_csv_header(cw_csv *c, const cw_csv_column *columns, size_t n, bool ignore_extra, int *map,
                      cw_error *err) CW_MUST_CHECK;

/* Next record into the reader: *more is false at the end. A broken record is an error after which reading may go on
 * (the record is skipped) unless cw_csv_broken says that the rest is lost. */
cw_code cw_csv_next(cw_csv *c, bool *more, cw_error *err) CW_MUST_CHECK;
bool cw_csv_broken(const cw_csv *c);

const cw_field *cw_csv_fields(const cw_csv *c); /* of the current record */
size_t cw_csv_field_count(const cw_csv *c);
long cw_csv_line(const cw_csv *c);         /* line on which the current record starts */
const char *cw_csv_name(const cw_csv *c);  /* base name, as messages show it */
uint64_t cw_csv_consumed(const cw_csv *c); /* bytes read so far, for progress */
uint64_t cw_csv_total(const cw_csv *c);    /* bytes in all; 0 if unknown */

/* Errors of a whole load: the first CW_MAX_LISTED_ERRORS are kept, all are counted. */
typedef struct cw_error_list {
    cw_error *items;
    size_t kept;
    long count;
} cw_error_list;
void cw_error_list_add(cw_error_list *l, const cw_error *e);
void cw_error_list_free(cw_error_list *l);

#endif
