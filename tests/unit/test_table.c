/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/csv.h"
#include "base/table.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const cw_column columns[] = { { "code", CW_TEXT_T, 0 }, { "clumps", CW_INT_T, 0 },
                                     { "rate", CW_REAL_T, 2 }, { "price", CW_MONEY_T, 0 },
                                     { "day", CW_DAY_T, 0 },   { "at", CW_INSTANT_T, 0 },
                                     { "week", CW_WEEK_T, 0 }, { "open", CW_BOOL_T, 0 } };
enum { WIDTH = sizeof columns / sizeof columns[0] };

static void fill(cw_table *t)
{
    cw_table_init(t, columns, WIDTH);
    cw_put_text(t, "A\xC3\xA9, \"big\"");
    cw_put_int(t, 12);
    cw_put_real(t, 4.256);
    cw_put_money(t, 1250);
    cw_put_int(t, cw_day_from_ymd(2032, 4, 19));
    cw_put_int(t, cw_day_from_ymd(2032, 4, 19) * CW_DAY_MS);
    cw_put_int(t, 203217);
    cw_put_bool(t, true);
    cw_put_text(t, NULL);
    cw_put_null(t);
    cw_put_real(t, NAN);
    cw_put_money(t, 0);
    cw_put_int(t, CW_NO_DAY);
    cw_put_int(t, CW_NO_INSTANT);
    cw_put_int(t, 0);
    cw_put_bool(t, false);
    cw_check_ok(cw_table_check(t, NULL), NULL);
}

static void test_reading_back(void **state)
{
    (void)state;
    cw_table t;
    fill(&t);
    assert_int_equal(cw_table_rows(&t), 2);
    assert_int_equal(cw_table_column(&t, "price"), 3);
    assert_int_equal(cw_table_column(&t, "prize"), -1);
    assert_string_equal(cw_table_text(&t, 0, 0), "A\xC3\xA9, \"big\"");
    assert_string_equal(cw_table_text(&t, 1, 0), "");
    assert_int_equal(cw_table_int(&t, 0, 3), 1250);
    assert_true(cw_table_real(&t, 0, 2) == 4.256 && cw_table_real(&t, 0, 1) == 12);
    for (size_t c = 0; c < WIDTH; c++)
        assert_int_equal(cw_table_cell(&t, 1, c)->null, c != 3 && c != 7);
    cw_table_free(&t);
    cw_table_free(&t);
}

static void test_csv(void **state)
{
    (void)state;
    cw_table t;
    cw_text out = CW_TEXT(1 << 20);
    fill(&t);
    cw_check_ok(cw_table_csv(&t, cw_sink_text(&out), NULL), NULL);
    assert_string_equal(
        out.data, "code,clumps,rate,price,day,at,week,open\n"
                  "\"A\xC3\xA9, \"\"big\"\"\",12,4.26,12.50,2032-04-19,2032-04-19T00:00:00Z,2032-W17,yes\n"
                  ",,,0.00,,,,no\n");
    cw_text_free(&out);
    cw_table_free(&t);
}

/* For a spreadsheet, what would be a formula is none; as data it stands as it is. The bytes are those of OWASP's page
 * "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection). */
static void test_sheet(void **state)
{
    static const char *const texts[] = { "=1+2", "+1", "-1", "@SUM(A1)", "\t=1", "=\",\"", "A=1", "", "Ada" };
    static const cw_column two[] = { { "text", CW_TEXT_T, 0 }, { "n", CW_INT_T, 0 } };
    cw_table t;
    cw_text out = CW_TEXT(1 << 20);
    (void)state;
    cw_table_init(&t, two, 2);
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        cw_put_text(&t, texts[i]);
        cw_put_int(&t, -1);
    }
    cw_check_ok(cw_table_csv_sheet(&t, cw_sink_text(&out), NULL), NULL);
    assert_string_equal(
        out.data, "text,n\n'=1+2,-1\n'+1,-1\n'-1,-1\n'@SUM(A1),-1\n'\t=1,-1\n\"'=\"\",\"\"\",-1\nA=1,-1\n"
                  ",-1\nAda,-1\n");
    cw_text_clear(&out);
    cw_check_ok(cw_table_csv(&t, cw_sink_text(&out), NULL), NULL);
    assert_null(strchr(out.data, '\''));
    cw_text_free(&out);
    cw_table_free(&t);
}

static void test_json(void **state)
{
    (void)state;
    cw_table t;
    cw_text out = CW_TEXT(1 << 20);
    fill(&t);
    cw_check_ok(cw_table_json(&t, cw_sink_text(&out), NULL), NULL);
    assert_string_equal(
        out.data,
        "[\n{\"code\":\"A\xC3\xA9, \\\"big\\\"\",\"clumps\":12,\"rate\":4.26,\"price\":\"12.50\",\"day\":"
        "\"2032-04-19\",\"at\":\"2032-04-19T00:00:00Z\",\"week\":\"2032-W17\",\"open\":true},\n"
        "{\"code\":null,\"clumps\":null,\"rate\":null,\"price\":\"0.00\",\"day\":null,\"at\":null,"
        "\"week\":null,\"open\":false}\n]");
    /* jansson, an independent reader, must see the same document as the one built in memory, but for rounded reals */
    json_t *read = json_loads(out.data, 0, NULL), *built = cw_table_to_json(&t);
    assert_non_null(read);
    json_object_set_new(json_array_get(built, 0), "rate", json_real(4.26));
    assert_true(json_equal(read, built));
    json_decref(read);
    json_decref(built);
    cw_text_free(&out);
    cw_table_free(&t);
}

static void test_print(void **state)
{
    (void)state;
    static const cw_column two[] = { { "name", CW_TEXT_T, 0 },
                                     { "n", CW_INT_T, 0 },
                                     { "note", CW_TEXT_T, 0 } };
    cw_table t;
    cw_text out = CW_TEXT(1 << 20);
    cw_table_init(&t, two, 3);
    cw_put_text(&t, "caf\xC3\xA9");
    cw_put_int(&t, 7);
    cw_put_text(&t, "x");
    cw_put_text(&t, "a");
    cw_put_int(&t, 1200);
    cw_put_text(&t, "");
    cw_check_ok(cw_table_print(&t, cw_sink_text(&out), NULL), NULL);
    assert_string_equal(out.data, "name     n  note\ncaf\xC3\xA9     7  x\na     1200  \n");
    cw_text_free(&out);
    cw_table_free(&t);
}

static cw_code refuse(void *self, const char *bytes, size_t n, cw_error *err)
{
    (void)self;
    (void)bytes;
    (void)n;
    return cw_error_set(err, CW_MACHINE, "disk full");
}

/* What the CSV writer writes, the CSV reader reads: 20,000 rows of awkward texts, past the writer's buffer. And a
 * sink that takes no more ends the writing with its own error. */
static void test_round_trip(void **state)
{
    (void)state;
    static const char *const texts[] = { "plain",        "with, comma", "\"", "\"\"", "two\nlines",
                                         "two\r\nlines", " spaces ",    "",   "=1+1", "-" };
    static const cw_column two[] = { { "code", CW_TEXT_T, 0 }, { "n", CW_INT_T, 0 } };
    static const cw_csv_column same[] = { { "code", true }, { "n", true } };
    cw_table t;
    cw_text out = CW_TEXT(8 << 20);
    cw_csv *c = NULL;
    int map[2];
    bool more = false;
    cw_table_init(&t, two, 2);
    for (int i = 0; i < 20000; i++) {
        cw_put_text(&t, texts[i % 10]);
        cw_put_int(&t, i);
    }
    cw_check_ok(cw_table_csv(&t, cw_sink_text(&out), NULL), NULL);
    cw_check_ok(cw_csv_open_memory("t.csv", out.data, out.length, &c, NULL), NULL);
    cw_check_ok(cw_csv_header(c, same, 2, false, map, NULL), NULL);
    for (int i = 0; i < 20000; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_csv_next(c, &more, &err), &err);
        assert_true(more);
        assert_int_equal(cw_csv_fields(c)[0].n, strlen(texts[i % 10]));
        assert_memory_equal(cw_csv_fields(c)[0].s, texts[i % 10], strlen(texts[i % 10]));
    }
    cw_check_ok(cw_csv_next(c, &more, NULL), NULL);
    assert_false(more);
    cw_csv_close(c);
    cw_error err = CW_ERROR_NONE;
    assert_int_equal(cw_table_csv(&t, (cw_sink){ refuse, NULL }, &err), CW_MACHINE);
    assert_string_equal(err.text, "disk full");
    cw_text_free(&out);
    cw_table_free(&t);
}

/* In pieces, of which some are empty, a table comes out as in one go; so does a text longer than the writer's buffer. */
static void test_pieces(void **state)
{
    (void)state;
    static const cw_column two[] = { { "text", CW_TEXT_T, 0 }, { "n", CW_INT_T, 0 } };
    char *length = malloc(200001);
    for (int i = 0; i < 200000; i++)
        length[i] = "ab,\"\n\x01"[i % 6];
    length[200000] = '\0';
    for (int f = CW_AS_CSV; f <= CW_AS_JSON; f++) {
        cw_text whole = CW_TEXT(8 << 20), pieces = CW_TEXT(8 << 20);
        cw_table all, piece;
        cw_writer w = cw_writer_new((cw_format)f, cw_sink_text(&pieces));
        cw_table_init(&all, two, 2);
        cw_table_init(&piece, two, 2);
        for (int i = 0; i < 9; i++) {
            cw_table_clear(&piece);
            for (int k = 0; k < i % 3; k++) {
                const char *text = i == 5 ? length : "x\\\t";
                cw_put_text(&all, text);
                cw_put_int(&all, i);
                cw_put_text(&piece, text);
                cw_put_int(&piece, i);
            }
            cw_check_ok(cw_writer_rows(&w, &piece, NULL), NULL);
        }
        cw_check_ok(cw_writer_end(&w, NULL), NULL);
        cw_check_ok(f == CW_AS_CSV ? cw_table_csv(&all, cw_sink_text(&whole), NULL)
                                   : cw_table_json(&all, cw_sink_text(&whole), NULL),
                    NULL);
        assert_string_equal(pieces.data, whole.data);
        if (f == CW_AS_JSON) { /* jansson reads back what was written */
            json_t *read = json_loads(pieces.data, 0, NULL);
            assert_int_equal(json_array_size(read), 9);
            assert_string_equal(json_string_value(json_object_get(json_array_get(read, 4), "text")), length);
            json_decref(read);
        }
        cw_writer_free(&w);
        cw_text_free(&whole);
        cw_text_free(&pieces);
        cw_table_free(&all);
        cw_table_free(&piece);
    }
    free(length);
}

/* Numbers are written as printf writes them: ties, signs and large ones too. */
static void test_reals_as_printf(void **state)
{
    (void)state;
    uint64_t seed = 20320419;
    static const double odd[] = { 0.0,   -0.0,  0.5,    1.5,         2.5,        0.125,    0.375,
                                  2.675, 1.005, -0.004, -0.5,        999999.995, 1e6,      1e15,
                                  1e300, 0.045, 0.0005, 123456.7895, 0.99999999, INFINITY, -INFINITY };
    for (int i = 0; i < 200000; i++) {
        char wanted[CW_CELL_BYTES], got[CW_CELL_BYTES];
        seed = seed * 6364136223846793005U + 1442695040888963407U;
        int decimals = (int)(seed >> 33) % 9;
        double v = (double)(int64_t)(seed >> 20) / 1e7;
        v = i % 3 == 0 ? v : i % 3 == 1 ? -v / 1e5 : rint(v) / 8;
        if (i < (int)(sizeof odd / sizeof odd[0]) * 9) {
            v = odd[i / 9];
            decimals = i % 9;
        }
        cw_column c = { "r", CW_REAL_T, decimals };
        cw_cell cell = { .v.r = v };
        snprintf(wanted, sizeof wanted, "%.*f", decimals, v);
        got[cw_table_format(&c, &cell, got)] = '\0';
        assert_string_equal(got, wanted);
    }
}

/* What is not known is null wherever it may be, never an empty text in one answer and null in another. */
static void test_empty_is_null(void **state)
{
    (void)state;
    static const cw_column two[] = { { "note", CW_TEXT_T, .null = true }, { "words", CW_TEXT_T } };
    cw_table t;
    cw_table_init(&t, two, 2);
    cw_put_text(&t, "");
    cw_put_text(&t, "");
    assert_true(cw_table_cell(&t, 0, 0)->null);
    assert_false(cw_table_cell(&t, 0, 1)->null);
    assert_string_equal(cw_table_text(&t, 0, 0), "");
    cw_table_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reading_back),  cmocka_unit_test(test_csv),
        cmocka_unit_test(test_sheet),         cmocka_unit_test(test_json),
        cmocka_unit_test(test_print),         cmocka_unit_test(test_round_trip),
        cmocka_unit_test(test_pieces),        cmocka_unit_test(test_reals_as_printf),
        cmocka_unit_test(test_empty_is_null),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
