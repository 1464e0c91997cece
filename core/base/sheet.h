/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_SHEET_H
#define CW_BASE_SHEET_H

#include "base/charset.h"
#include "base/csv.h"
#include "base/error.h"
#include "base/go_on.h"
#include "base/limits.h"
#include "base/text.h"

/* What stands in the cells of a file that somebody else's program wrote? Reads .xlsx workbooks (ECMA-376) and text parted by
 * commas, semicolons, tabs or bars, in any common encoding; nothing of what the cells mean.
 *
 * Texts are trimmed. Numbers of a workbook are given with a decimal point and at most 15 digits, as spreadsheets show them
 * (ECMA-376 18.17.5.2 has doubles); days as "2031-12-03", by either date system, where the cell's format is one of days. A
 * merged cell that is one column wide stands in each of its rows; a wider one is a title and stands in its first cell alone.
 *
 * Refused, and nothing is kept: what is neither; a workbook with a password; a zip with too many entries, or one that
 * swells past the caps of limits.h; XML with a document type (so there are no entities), or nested deeper than any
 * workbook is; more rows, columns or cells than the caps. Memory: the texts and 12 bytes a cell. */
typedef enum cw_stands {
    CW_STANDS_NOTHING,
    CW_STANDS_TEXT,
    CW_STANDS_NUMBER, /* a workbook's: a decimal point, no marks */
    CW_STANDS_DAY,    /* "2031-12-03" */
    CW_STANDS_MOMENT, /* "2031-12-03T14:30:00", a local time */
    CW_STANDS_YES,    /* "yes" or "no" */
    CW_STANDS_FAULT,  /* an error of the spreadsheet's, "#N/A" */
} cw_stands;

typedef struct cw_square {
    uint32_t at, n; /* into the sheet's texts */
    cw_stands holds;
} cw_square;

typedef struct cw_sheet_row {
    size_t first; /* of its squares */
    unsigned width;
    long number; /* as its owner counts it: a spreadsheet's row, a text's line */
} cw_sheet_row;

typedef struct cw_sheet {
    char name[CW_SHEET_NAME];
    bool hidden;
    cw_square *squares;
    size_t square_count, square_room;
    cw_sheet_row *rows; /* those in which something stands, from the top */
    size_t row_count, row_room;
    unsigned width; /* of the widest row */
    cw_text texts;
} cw_sheet;

typedef struct cw_workbook {
    bool workbook;
    cw_charset charset; /* of a text */
    bool charset_sure;
    char delimiter;          /* of a text */
    char why[CW_SHEET_NAME]; /* by what the delimiter is known */
    cw_sheet *sheets;        /* a text is one sheet, with the file's name */
    size_t count;
} cw_workbook;

/* `name` is what messages call it. `charset` CW_CHARSET_UNKNOWN: found out. The bytes are borrowed until it returns. */
cw_code cw_workbook_read(const char *name, const char *bytes, size_t n, cw_charset charset, cw_go_on go_on,
                         cw_workbook *out, cw_error *err) CW_MUST_CHECK;
void cw_workbook_free(cw_workbook *b); /* also right for a zeroed one */

/* What stands at row index and column; n = 0 where nothing does. Borrowed from the sheet. */
cw_field cw_sheet_at(const cw_sheet *s, size_t row, unsigned column, cw_stands *holds);

/* "A" to "ZZZ", as spreadsheets name columns. */
void cw_column_letters(unsigned column, char out[8]);

/* A day of a workbook's serial number (ECMA-376 18.17.4.1): in the system of 1900, 1 is 1900-01-01 and 60 a 29 February that never
 * was; in that of 1904, 0 is 1904-01-01. False for what is no day: 60, and beyond 9999-12-31. */
bool cw_serial_day(int64_t serial, bool from_1904, int64_t *day);

#endif
