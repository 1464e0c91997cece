/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_XLSX_H
#define CW_TESTS_SUPPORT_XLSX_H

/* Workbooks made part by part, so that a test may make odd and hostile ones. */
#include "support/check.h"

#include <stdlib.h>
#include <string.h>
#include <zip.h>

typedef struct xlsx_part {
    const char *name, *text;
} xlsx_part;

static const char xlsx_root[] __attribute__((unused)) =
    "<Relationships xmlns='http://schemas.openxmlformats.org/package/2006/relationships'>"
    "<Relationship Id='r1' "
    "Type='http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument' "
    "Target='xl/workbook.xml'/></Relationships>";
static const char xlsx_relations[] __attribute__((unused)) =
    "<Relationships xmlns='http://schemas.openxmlformats.org/package/2006/relationships'>"
    "<Relationship Id='r1' Type='http://x/worksheet' Target='worksheets/sheet1.xml'/>"
    "<Relationship Id='r2' Type='http://x/worksheet' Target='/xl/worksheets/sheet2.xml'/>"
    "<Relationship Id='r8' Type='http://x/sharedStrings' Target='sharedStrings.xml'/>"
    "<Relationship Id='r9' Type='http://x/styles' Target='styles.xml'/></Relationships>";
/* Formats by their place: 0 a number, 1 a day, 2 a day with its time, 3 of own making, 4 hours, 5 a span of hours. */
static const char xlsx_styles[] __attribute__((unused)) =
    "<styleSheet><numFmts><numFmt numFmtId='164' formatCode='[$-407]d. mmmm yyyy'/>"
    "<numFmt numFmtId='165' formatCode='[h]:mm'/><numFmt numFmtId='166' formatCode='0\" days\"'/></numFmts>"
    "<cellStyleXfs><xf numFmtId='14'/></cellStyleXfs>"
    "<cellXfs><xf numFmtId='0'/><xf numFmtId='14'/><xf numFmtId='22'/><xf numFmtId='164'/><xf numFmtId='20'/>"
    "<xf numFmtId='165'/><xf numFmtId='166'/></cellXfs></styleSheet>";

/* The bytes, to be freed. */
static inline char *xlsx_zip(const xlsx_part *parts, size_t count, size_t *length)
{
    zip_error_t e;
    zip_stat_t st;
    zip_error_init(&e);
    zip_source_t *buffer = zip_source_buffer_create(NULL, 0, 0, &e);
    assert_non_null(buffer);
    zip_source_keep(buffer);
    zip_t *z = zip_open_from_source(buffer, ZIP_TRUNCATE, &e);
    assert_non_null(z);
    for (size_t i = 0; i < count; i++) {
        zip_source_t *part = zip_source_buffer(z, parts[i].text, strlen(parts[i].text), 0);
        assert_true(zip_file_add(z, parts[i].name, part, 0) >= 0);
    }
    assert_int_equal(zip_close(z), 0);
    assert_int_equal(zip_source_open(buffer), 0);
    assert_int_equal(zip_source_stat(buffer, &st), 0);
    char *bytes = malloc(st.size ? st.size : 1);
    assert_non_null(bytes);
    assert_int_equal(zip_source_read(buffer, bytes, st.size), (zip_int64_t)st.size);
    zip_source_close(buffer);
    zip_source_free(buffer);
    zip_error_fini(&e);
    *length = st.size;
    return bytes;
}

/* A workbook of one or two sheets (the second may be NULL) by the contents of <workbook>, <sst> and the sheets. */
static inline char *xlsx_book(const char *workbook, const char *strings, const char *sheet1,
                              const char *sheet2, size_t *length)
{
    xlsx_part parts[] = { { "_rels/.rels", xlsx_root },
                          { "xl/workbook.xml", workbook },
                          { "xl/_rels/workbook.xml.rels", xlsx_relations },
                          { "xl/styles.xml", xlsx_styles },
                          { "xl/sharedStrings.xml", strings },
                          { "xl/worksheets/sheet1.xml", sheet1 },
                          { "xl/worksheets/sheet2.xml", sheet2 } };
    return xlsx_zip(parts, sheet2 ? 7 : 6, length);
}

#endif
