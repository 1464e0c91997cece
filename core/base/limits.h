/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_LIMITS_H
#define CW_BASE_LIMITS_H

/* How much is too much? Caps that more than one layer needs: checked at the door, inside an assertion. Caps of one file stand
 * there (http/http_inside.h, http/uri.h). */

/* CSV and files */
#define CW_MAX_FIELD_BYTES   (64 * 1024)  /* one CSV field */
#define CW_MAX_RECORD_BYTES  (256 * 1024) /* one CSV record */
#define CW_MAX_COLUMNS       64           /* columns of a CSV file */
#define CW_MAX_FILE_BYTES    (4LL * 1024 * 1024 * 1024)
#define CW_MAX_LISTED_ERRORS 20 /* errors that a load lists; the rest are counted */

/* Spreadsheets (base/sheet.h) */
#define CW_MAX_SHEET_FILE_BYTES (32LL * 1024 * 1024)  /* the file as it comes */
#define CW_MAX_SHEET_TEXT_BYTES (96LL * 1024 * 1024)  /* the texts of all cells of a file */
#define CW_MAX_INFLATED_BYTES   (768LL * 1024 * 1024) /* all that is inflated of a workbook */
#define CW_MAX_ZIP_ENTRIES      2000
#define CW_MAX_XML_DEPTH        64
#define CW_MAX_SHEETS           100
#define CW_MAX_SHEET_ROWS       300000
#define CW_MAX_SHEET_COLUMNS    256
#define CW_MAX_SHEET_CELLS      4000000 /* of all sheets */
#define CW_SHEET_NAME           128     /* bytes of a sheet's name, with the NUL */

/* Names and texts, in bytes without the closing NUL */
#define CW_MAX_CODE  32   /* variety code, place, lot, order number, sample */
#define CW_MAX_NAME  200  /* names of varieties, people, rooms */
#define CW_MAX_NOTE  2000 /* reasons, notes, templates' lines */
#define CW_MAX_NAMED 20   /* substitutes a buyer may name on a line */

/* Quantities: beyond these a number is a typing error, not a nursery */
#define CW_MAX_CLUMPS              1000000
#define CW_MAX_DIVISIONS           10000000
#define CW_MAX_DIVISIONS_PER_CLUMP 100 /* of one clump; common practice knows 3 to 20, no source */
#define CW_MAX_LINE_QUANTITY       100000
#define CW_MAX_MINUTES             10000 /* of a session */
#define CW_MAX_PEOPLE              100   /* at the bench on a day */
#define CW_MAX_CENTS                                                                                         \
    100000000000LL /* a price, and what a line is worth: so sums over all rows stay numbers */
#define CW_MAX_VARIETIES  20000
#define CW_MAX_TABLE_ROWS 20000000

/* HTTP */
#define CW_MAX_READ_MS         60000  /* that a reading request is worked on */
#define CW_MAX_EXPORT_MS       600000 /* the same where a whole table or a stack of paper is asked for */
#define CW_MAX_BODY_BYTES      (48 * 1024 * 1024) /* a load: 32 MB of files, as JSON writes them */
#define CW_MAX_ORDERS_PER_POST 1000
#define CW_MAX_LINES_PER_ORDER 500

#endif
