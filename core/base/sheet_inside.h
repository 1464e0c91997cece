/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_SHEET_INSIDE_H
#define CW_BASE_SHEET_INSIDE_H

/* Inside of base/sheet*.c. */
#include "base/sheet.h"

#include <expat.h>
#include <zip.h>

cw_sheet *cw_workbook_add(cw_workbook *b, const char *name, cw_error *err);

/* A square at the end of a row; rows come from the top, squares from the left. A blank text leaves nothing. */
cw_code cw_sheet_put(cw_sheet *s, long row, unsigned column, cw_stands holds, const char *text, size_t n,
                     cw_error *err) CW_MUST_CHECK;
cw_code cw_sheet_full(const char *name, const char *what, long long most, cw_error *err);

cw_code cw_workbook_text(const char *name, const char *bytes, size_t n, cw_charset charset, cw_go_on go_on,
                         cw_workbook *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_workbook_xlsx(const char *name, const char *bytes, size_t n, cw_go_on go_on, cw_workbook *out,
                         cw_error *err) CW_MUST_CHECK;

/* One part of a zip, fed to a parser of XML. The handler is told of elements by their local names. */
typedef struct cw_part_reader cw_part_reader;
struct cw_part_reader {
    void (*start)(cw_part_reader *r, const char *element, const char **attributes);
    void (*end)(cw_part_reader *r, const char *element);
    void (*text)(cw_part_reader *r, const char *s, int n);
    void *mine; /* the handler's own */
    const char *file, *part;
    int depth;
    XML_Parser parser;
    cw_error *err;
    cw_code code; /* set by the handler to stop */
};

typedef struct cw_zip {
    zip_t *zip;
    const char *file;
    int64_t left; /* bytes that may still be inflated */
    cw_go_on go_on;
} cw_zip;

/* *found false: there is no such part. */
cw_code cw_part_read(cw_zip *z, const char *part, cw_part_reader *r, bool *found,
                     cw_error *err) CW_MUST_CHECK;
const char *cw_xml_attribute(const char **attributes, const char *name); /* by its local name; NULL */

/* What a cell's format says its number is: read from styles.xml. */
typedef struct cw_styles {
    unsigned char *holds; /* [count] of cellXfs: CW_STANDS_NUMBER, DAY or MOMENT */
    size_t count, room;
} cw_styles;
bool cw_format_is_day(const char *code,
                      bool *clock); /* a number format code (18.8.31) of days; *clock: with hours */
cw_code cw_styles_read(cw_zip *z, const char *part, cw_styles *out, cw_error *err) CW_MUST_CHECK;

/* Shared strings: texts one behind the other. */
typedef struct cw_strings {
    cw_text texts;
    size_t *at; /* [count + 1] */
    size_t count, room;
} cw_strings;
cw_code cw_strings_read(cw_zip *z, const char *part, cw_strings *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_xlsx {
    cw_zip zip;
    cw_styles styles;
    cw_strings strings;
    bool from_1904;
    size_t cells, bytes; /* of all sheets so far; bytes of their texts */
} cw_xlsx;
cw_code cw_sheet_read(cw_xlsx *x, const char *part, cw_sheet *out, cw_error *err) CW_MUST_CHECK;

#endif
