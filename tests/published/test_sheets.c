/* SPDX-License-Identifier: MIT */
#include "support/xlsx.h"

#include "base/charset.h"
#include "base/day.h"
#include "base/fold.h"
#include "base/sheet.h"
#include <iconv.h>
#include <stdio.h>

/* Spreadsheets against the standards. */

/* ECMA-376 (1st edition, part 4, 3.17.4.1, "Date Representation"): the examples and limits of both systems, and "serial value 59
 * corresponds to February 28, and serial value 61 corresponds to March 1 ... allowing the (non-existent) date February 29 to have
 * the serial value 60". */
static void test_serials(void **state)
{
    (void)state;
    static const struct {
        int64_t serial;
        bool from_1904;
        int year, month, day; /* year 0: no day */
    } rows[] = {
        { 1, false, 1900, 1, 1 },         { 59, false, 1900, 2, 28 },  { 60, false, 0, 0, 0 },
        { 61, false, 1900, 3, 1 },        { 3687, false, 1910, 2, 3 }, { 38749, false, 2006, 2, 1 },
        { 2958465, false, 9999, 12, 31 }, { 2958466, false, 0, 0, 0 }, { 0, false, 0, 0, 0 },
        { 0, true, 1904, 1, 1 },          { 2225, true, 1910, 2, 3 },  { 37287, true, 2006, 2, 1 },
        { 2957003, true, 9999, 12, 31 },  { 2957004, true, 0, 0, 0 },  { -1, true, 0, 0, 0 },
        { 60, true, 1904, 3, 1 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t day = 0;
        int y = 0, m = 0, d = 0;
        bool good = cw_serial_day(rows[i].serial, rows[i].from_1904, &day);
        if (good)
            cw_day_to_ymd((cw_day)day, &y, &m, &d);
        if (good != (rows[i].year > 0) || y != rows[i].year || m != rows[i].month || d != rows[i].day)
            fail_msg("%lld of %d: %04d-%02d-%02d", (long long)rows[i].serial, rows[i].from_1904 ? 1904 : 1900,
                     y, m, d);
    }
}

/* ECMA-376 (1st edition, part 4, 3.17.4.3, "Combined Date and Time"): 3687.4207639 is 1910-02-03 10:05:54. */
static void test_moment(void **state)
{
    (void)state;
    size_t n = 0;
    cw_workbook b;
    cw_error err = CW_ERROR_NONE;
    char *bytes = xlsx_book("<workbook><sheets><sheet name='a' r:id='r1'/></sheets></workbook>", "<sst/>",
                            "<worksheet><row><c s='2'><v>3687.4207639</v></c></row></worksheet>", NULL, &n);
    cw_check_ok(cw_workbook_read("x", bytes, n, CW_CHARSET_UNKNOWN, (cw_go_on){ NULL, NULL }, &b, &err),
                &err);
    cw_field f = cw_sheet_at(&b.sheets[0], 0, 0, NULL);
    assert_int_equal(f.n, 19);
    assert_memory_equal(f.s, "1910-02-03T10:05:54", 19);
    cw_workbook_free(&b);
    free(bytes);
}

/* The C library's tables of the same encodings. Windows-1252 leaves five bytes undefined there, which the Encoding Standard (WHATWG,
 * index-windows-1252) gives the controls of the same number. Macintosh's DB is the euro since 1998 (Unicode's APPLE/ROMAN.TXT, from
 * memory); the C library still has the sign for any currency there; so of Macintosh only
 * the letters are compared. */
static void test_charsets(void **state)
{
    (void)state;
    static const struct {
        cw_charset ours;
        const char *theirs;
    } sets[] = { { CW_WINDOWS_1252, "CP1252" },
                 { CW_MACINTOSH, "MACINTOSH" },
                 { CW_IBM_850, "CP850" },
                 { CW_ISO_8859_15, "ISO-8859-15" } };
    for (size_t s = 0; s < 4; s++) {
        iconv_t to = iconv_open("UTF-8", sets[s].theirs);
        int compared = 0;
        if (to == (iconv_t)-1) /* Debian 13 has them in a package of their own */
            continue;
        for (int byte = 1; byte < 256; byte++) {
            char in = (char)byte, out[8] = "", *from = &in, *into = out;
            size_t left = 1, room = sizeof out - 1;
            cw_text ours = CW_TEXT(64);
            cw_charset_decode(sets[s].ours, &in, 1, &ours);
            if (iconv(to, &from, &left, &into, &room) == (size_t)-1) {
                bool mark = sets[s].ours == CW_MACINTOSH && byte == 0xF0; /* a firm's mark */
                assert_true(mark ||
                            (sets[s].ours == CW_WINDOWS_1252 && strchr("\x81\x8D\x8F\x90\x9D", byte)));
                if (!mark)
                    assert_int_equal((unsigned char)ours.data[0] << 8 | (unsigned char)ours.data[1],
                                     0xC200 | byte);
                iconv(to, NULL, NULL, NULL, NULL);
            } else {
                *into = '\0';
                bool letter = (unsigned char)out[0] >= 0xC3 && (unsigned char)out[0] <= 0xC5;
                if (strcmp(ours.data, out) != 0 && (sets[s].ours != CW_MACINTOSH || byte < 0x80 || letter))
                    fail_msg("%s, byte %02X: %s, not %s", sets[s].theirs, byte, ours.data, out);
                compared++;
            }
            cw_text_free(&ours);
        }
        assert_true(compared > 240);
        iconv_close(to);
    }
}

/* RFC 4180, section 2, its own examples: 1 and 2 (the last line end), 5 (quotes), 6 (line ends in quotes), 7 (doubled quotes). */
static void test_rfc_4180(void **state)
{
    (void)state;
    static const struct {
        const char *text, *cells;
    } rows[] = {
        { "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "aaa|bbb|ccc|/zzz|yyy|xxx|/" },
        { "aaa,bbb,ccc\r\nzzz,yyy,xxx", "aaa|bbb|ccc|/zzz|yyy|xxx|/" },
        { "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|bbb|ccc|/zzz|yyy|xxx|/" },
        { "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|b\r\nbb|ccc|/zzz|yyy|xxx|/" },
        { "\"aaa\",\"b\"\"bb\",\"ccc\"", "aaa|b\"bb|ccc|/" },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_workbook b;
        cw_error err = CW_ERROR_NONE;
        cw_text got = CW_TEXT(1024);
        cw_check_ok(cw_workbook_read("x", rows[i].text, strlen(rows[i].text), CW_CHARSET_UNKNOWN,
                                     (cw_go_on){ NULL, NULL }, &b, &err),
                    &err);
        for (size_t r = 0; r < b.sheets[0].row_count; r++) {
            for (unsigned c = 0; c < b.sheets[0].rows[r].width; c++) {
                cw_field f = cw_sheet_at(&b.sheets[0], r, c, NULL);
                cw_text_addn(&got, f.s, f.n);
                cw_text_add(&got, "|");
            }
            cw_text_add(&got, "/");
        }
        assert_string_equal(got.data, rows[i].cells);
        cw_text_free(&got);
        cw_workbook_free(&b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_serials), cmocka_unit_test(test_moment),
                                        cmocka_unit_test(test_charsets), cmocka_unit_test(test_rfc_4180) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
