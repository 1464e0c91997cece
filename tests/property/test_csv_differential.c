/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/csv.h"
#include "base/rng.h"
#include "base/text.h"
#include <csv.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Our reader against libcsv (a reference library, used by tests only) on random well-formed files: both must see the
 * same fields in the same rows. libcsv is told to keep spaces, as RFC 4180 does. */

enum { FILES = 4000, ROWS = 12, FIELDS = 5 };
static const uint64_t seed = 4180;

static void field(cw_text *out, cw_rng *r, bool alone)
{
    static const char *const bits[] = {
        "a", "Z",    "7",  " ",    ".", ";", "\t", "'", "\xC3\xA9", "\xE2\x82\xAC", "\xF0\x9F\x8C\xB7",
        ",", "\"\"", "\n", "\r\n", "\r"
    };
    bool quoted = alone || cw_rng_below(r, 3) == 0;
    uint32_t n = cw_rng_below(r, cw_rng_below(r, 8) ? 6 : 400);
    if (quoted)
        cw_text_addc(out, '"');
    for (uint32_t i = 0; i < n; i++)
        cw_text_add(out, bits[cw_rng_below(r, quoted ? 16 : 11)]);
    if (quoted)
        cw_text_addc(out, '"');
}

/* A row of one empty field cannot be told from an empty line, so a lone field is always quoted. */
static void write_file(cw_text *out, cw_rng *r)
{
    uint32_t fields = 1 + cw_rng_below(r, FIELDS), rows = 1 + cw_rng_below(r, ROWS);
    for (uint32_t k = 0; k < rows; k++) {
        for (uint32_t i = 0; i < fields; i++) {
            if (i)
                cw_text_addc(out, ',');
            field(out, r, fields == 1);
        }
        if (k + 1 < rows || cw_rng_below(r, 2))
            cw_text_add(out, cw_rng_below(r, 2) ? "\n" : "\r\n");
    }
}

/* Fields as "<length>:<bytes>;", rows ended by "/". */
static void ours(const cw_text *in, cw_text *seen)
{
    cw_csv *c = NULL;
    bool more = true;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_csv_open_memory("random", in->data, in->length, &c, NULL), NULL);
    while (more) {
        cw_check_ok(cw_csv_next(c, &more, &err), &err);
        for (size_t i = 0; more && i < cw_csv_field_count(c); i++) {
            cw_text_addf(seen, "%zu:", cw_csv_fields(c)[i].n);
            cw_text_addn(seen, cw_csv_fields(c)[i].s, cw_csv_fields(c)[i].n);
            cw_text_addc(seen, ';');
        }
        if (more)
            cw_text_addc(seen, '/');
    }
    cw_csv_close(c);
}

static void on_field(void *s, size_t n, void *seen)
{
    cw_text_addf(seen, "%zu:", n);
    cw_text_addn(seen, s, n);
    cw_text_addc(seen, ';');
}

static void on_row(int end, void *seen)
{
    (void)end;
    cw_text_addc(seen, '/');
}

static int no_space(unsigned char c)
{
    (void)c;
    return 0;
}

static void theirs(const cw_text *in, cw_text *seen)
{
    struct csv_parser p;
    assert_int_equal(csv_init(&p, CSV_STRICT | CSV_STRICT_FINI), 0);
    csv_set_space_func(&p, no_space);
    assert_int_equal(csv_parse(&p, in->data, in->length, on_field, on_row, seen), in->length);
    assert_int_equal(csv_fini(&p, on_field, on_row, seen), 0);
    csv_free(&p);
}

static void test_same_fields(void **state)
{
    (void)state;
    size_t bytes = 0;
    print_message("seed %llu, %d files\n", (unsigned long long)seed, FILES);
    for (int k = 0; k < FILES; k++) {
        cw_text in = CW_TEXT(1 << 20), a = CW_TEXT(1 << 20), b = CW_TEXT(1 << 20);
        cw_rng r;
        cw_rng_init(&r, seed, (uint64_t)k);
        write_file(&in, &r);
        ours(&in, &a);
        theirs(&in, &b);
        cw_check_ok(cw_text_check(&a, NULL), NULL);
        if (a.length != b.length || memcmp(a.data, b.data, a.length) != 0)
            fail_msg("file %d:\n%s\nours:   %s\ntheirs: %s", k, in.data, a.data, b.data);
        bytes += in.length;
        cw_text_free(&in);
        cw_text_free(&a);
        cw_text_free(&b);
    }
    print_message("%zu bytes\n", bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_same_fields) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
