/* SPDX-License-Identifier: MIT */
#include "must.h"

#include "base/csv.h"
#include "base/limits.h"
#include "base/text.h"
#include <stdlib.h>
#include <string.h>

/* Any bytes as a CSV file: no crash, no endless loop, no field that breaks the reader's promises; and what was read,
 * written out again with all fields quoted, reads back as the same fields. */

static void check_fields(const cw_csv *c)
{
    must(cw_csv_field_count(c) >= 1 && cw_csv_field_count(c) <= CW_MAX_COLUMNS);
    for (size_t i = 0; i < cw_csv_field_count(c); i++) {
        const cw_field *f = &cw_csv_fields(c)[i];
        must(f->n <= CW_MAX_FIELD_BYTES && cw_utf8_valid(f->s, f->n, NULL));
    }
}

static void write_quoted(const cw_csv *c, cw_text *out)
{
    for (size_t i = 0; i < cw_csv_field_count(c); i++) {
        const cw_field *f = &cw_csv_fields(c)[i];
        cw_text_add(out, i ? ",\"" : "\"");
        for (size_t k = 0; k < f->n; k++) {
            if (f->s[k] == '"')
                cw_text_addc(out, '"');
            cw_text_addc(out, f->s[k]);
        }
        cw_text_addc(out, '"');
    }
    cw_text_addc(out, '\n');
}

/* All good rows of a file, quoted; the number of rows that were refused. */
static size_t read_file(const char *bytes, size_t n, cw_text *quoted)
{
    cw_csv *c = NULL;
    bool more = true;
    size_t refused = 0;
    long line = 0;
    if (cw_csv_open_memory("fuzz", bytes, n, &c, NULL) != CW_OK)
        return 0;
    while (more && !cw_csv_broken(c)) {
        cw_error err = CW_ERROR_NONE;
        cw_code code = cw_csv_next(c, &more, &err);
        must(code == CW_OK || (code == err.code && err.text[0] && err.row > 0));
        must(!more || cw_csv_line(c) > line);
        must(cw_csv_consumed(c) <= cw_csv_total(c));
        line = cw_csv_line(c);
        if (code != CW_OK) {
            refused++;
        } else if (more) {
            check_fields(c);
            write_quoted(c, quoted);
        }
    }
    must(cw_csv_broken(c) || cw_csv_consumed(c) == n);
    cw_csv_close(c);
    return refused;
}

static void read_with_header(const char *bytes, size_t n)
{
    static const cw_csv_column columns[] = { { "code", true }, { "name", false } };
    int map[2];
    cw_csv *c = NULL;
    bool more = true;
    if (cw_csv_open_memory("fuzz", bytes, n, &c, NULL) != CW_OK)
        return;
    if (cw_csv_header(c, columns, 2, n % 2 == 0, map, NULL) == CW_OK) {
        size_t width = cw_csv_field_count(c);
        must(map[0] >= 0 && (size_t)map[0] < width && map[1] < (int)width);
        while (more && !cw_csv_broken(c))
            if (cw_csv_next(c, &more, NULL) == CW_OK && more)
                must(cw_csv_field_count(c) == width);
    }
    cw_csv_close(c);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    cw_text once = CW_TEXT((size_t)64 << 20), twice = CW_TEXT((size_t)64 << 20);
    read_file((const char *)bytes, n, &once);
    /* Rows grow by quoting, so only those far below the cap must come back. */
    if (n < CW_MAX_RECORD_BYTES / 8 && once.length) {
        must(read_file(once.data, once.length, &twice) == 0);
        must(once.length == twice.length && memcmp(once.data, twice.data, once.length) == 0);
    }
    read_with_header((const char *)bytes, n);
    cw_text_free(&once);
    cw_text_free(&twice);
    return 0;
}
