/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/code128.h"
#include "base/qr.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void test_check_symbols(void **state)
{
    (void)state;
    static const struct {
        const char *row, *text;
        uint8_t first; /* start symbol: 104 = set B, 105 = set C */
        uint8_t check;
    } rows[] = {
        /* "Calculation of Code128 Check Character", help page of a bar-code font vendor: abcdef in set B sums
         * to 1539, check 97; 345678 in set C sums to 485, check 73. */
        { "published, set B", "abcdef", 104, 97 },
        { "published, set C", "345678", 105, 73 },
        /* Bar Code Island, "Code 128": HI, switch to C, 34 56 78 from start A (103) sums to 1406. This
         * encoder starts in B (104), which has the same values for capitals: 1407 mod 103 = 68. */
        { "published but for the start", "HI345678", 104, 68 },
        /* Wikipedia, "Code 128": PJJ123C from start A sums to 878; from start B 879 mod 103 = 55. Three
         * digits inside letters are not worth two switches. */
        { "published but for the start", "PJJ123C", 104, 55 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_code128 c;
        cw_check_ok(cw_code128_encode(rows[i].text, &c, NULL), NULL);
        print_message("%s: %s\n", rows[i].row, rows[i].text);
        assert_int_equal(c.symbols[0], rows[i].first);
        assert_int_equal(c.symbols[c.count - 2], rows[i].check);
        assert_int_equal(c.symbols[c.count - 1], 106);
    }
}

/* What every symbol has by the symbology's design: 11 modules, an even number of them in bars (ISO/IEC
 * 15417's parity, from memory), each width 1 to 4, and no two symbols alike. */
static void test_every_symbol_is_well_formed(void **state)
{
    (void)state;
    char seen[107][7];
    for (int v = 0; v < 107; v++) {
        cw_code128 c = { { (uint8_t)v }, 1 };
        uint8_t w[CW_CODE128_MAX_WIDTHS];
        size_t n = 0;
        int sum = 0, dark = 0;
        cw_code128_widths(&c, w, &n);
        assert_int_equal(n, 7);
        for (int k = 0; k < 6; k++) {
            assert_in_range(w[k], 1, 4);
            sum += w[k];
            dark += k % 2 == 0 ? w[k] : 0;
            seen[v][k] = (char)w[k];
        }
        assert_int_equal(sum, 11);
        if (v < 106)
            assert_int_equal(dark % 2, 0);
        for (int u = 0; u < v; u++)
            assert_true(memcmp(seen[u], seen[v], 6) != 0);
    }
}

static void test_shortest_mix_of_sets(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t count; /* start, data, switches, check, stop */
    } rows[] = { { "A", 4 },       { "12", 4 },    { "1234", 5 },   { "123", 6 },       { "A1234", 7 },
                 { "A123456", 8 }, { "1234A", 7 }, { "AB12CD", 9 }, { "L0104-22", 11 }, { "12345678", 7 } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_code128 c;
        cw_check_ok(cw_code128_encode(rows[i].text, &c, NULL), NULL);
        print_message("%s\n", rows[i].text);
        assert_int_equal(c.count, rows[i].count);
        assert_int_equal(cw_code128_modules(&c), 11 * c.count + 2 + 20);
    }
}

static void test_refusals(void **state)
{
    (void)state;
    char longest[CW_CODE128_MAX_TEXT + 2], wide[CW_QR_MAX_TEXT + 2];
    cw_code128 c;
    cw_qr q;
    cw_text out = CW_TEXT(1 << 20);
    memset(longest, 'a', sizeof longest);
    memset(wide, 'a', sizeof wide);
    longest[CW_CODE128_MAX_TEXT + 1] = wide[CW_QR_MAX_TEXT + 1] = '\0';
    assert_int_equal(cw_code128_encode("", &c, NULL), CW_REFUSED);
    assert_int_equal(cw_code128_encode(longest, &c, NULL), CW_REFUSED);
    assert_int_equal(cw_code128_encode("caf\xC3\xA9", &c, NULL), CW_REFUSED);
    assert_int_equal(cw_code128_encode("a\tb", &c, NULL), CW_REFUSED);
    cw_check_ok(cw_code128_encode(longest + 1, &c, NULL), NULL);
    assert_int_equal(cw_qr_encode("", &q, NULL), CW_REFUSED);
    assert_int_equal(cw_qr_encode(wide, &q, NULL), CW_REFUSED);
    assert_int_equal(cw_qr_encode("\xC3(", &q, NULL), CW_REFUSED);
    assert_int_equal(cw_code128_svg("A", 203, 0, 10, &out, NULL), CW_USAGE);
    assert_int_equal(cw_code128_svg("A", 203, 2, 0, &out, NULL), CW_USAGE);
    assert_int_equal(cw_qr_svg("A", 0, 2, &out, NULL), CW_USAGE);
    assert_int_equal(out.length, 0);
    cw_text_free(&out);
}

/* 203 dots per inch, 2 dots a module: 0.2502 mm; start, A, check, stop = 46 modules and 20 of quiet zone. */
static void test_svg_is_whole_dots(void **state)
{
    (void)state;
    cw_text out = CW_TEXT(1 << 20);
    cw_check_ok(cw_code128_svg("A&<\"", 203, 2, 10, &out, NULL), NULL);
    assert_non_null(strstr(out.data, "aria-label=\"A&amp;&lt;&quot;\""));
    assert_non_null(
        strstr(out.data, "viewBox=\"0 0 198 80\"")); /* (7 symbols * 11 + 2 + 20) * 2; 10 mm = 79.9 dots */
    assert_non_null(strstr(out.data, "width=\"24.7744mm\"")); /* 198 * 25.4 / 203 */
    assert_null(strchr(strstr(out.data, "#000"), '.'));       /* no fractions among the shapes */
    cw_text_free(&out);
}

/* One dot = one pixel: paints the black path of an <svg> that this program made and writes it as a PGM file.
 */
static void paint(const char *svg, const char *path)
{
    unsigned wide = 0, high = 0, x = 0, y = 0, w = 0, h = 0;
    const char *at = strstr(svg, "viewBox=\"0 0 ");
    assert_int_equal(sscanf(at, "viewBox=\"0 0 %u %u\"", &wide, &high), 2);
    uint8_t *dots = malloc((size_t)wide * high);
    assert_non_null(dots);
    memset(dots, 255, (size_t)wide * high);
    for (at = strchr(strstr(svg, "#000"), 'M'); at; at = strchr(at + 1, 'M')) {
        assert_int_equal(sscanf(at, "M%u %uh%uv%u", &x, &y, &w, &h), 4);
        assert_true(x + w <= wide && y + h <= high);
        for (unsigned r = y; r < y + h; r++)
            memset(dots + (size_t)r * wide + x, 0, w);
    }
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    fprintf(f, "P5\n%u %u\n255\n", wide, high);
    assert_int_equal(fwrite(dots, wide, high, f), high);
    fclose(f);
    free(dots);
}

/* An independent reader (zbarimg of Debian's zbar-tools) must read back what was written, at the smallest
 * sizes that a 203 dpi label printer can do. The texts hold every character and every digit pair, so all 103
 * data symbols. */
static const char *const read_back[] = {
    "L31-0104",
    "A",
    "P-07/3-12",
    "L-2031-118",
    "CELLAR 2 / RACK 4",
    "31040077",
    "a b.c,d:e;f",
    " !\"#$%&'()*+,-./:;<=>?@[\\]^_`{|}~",
    "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "abcdefghijklmnopqrstuvwxyz",
    "0A1B2C3D4E5F6G7H8I9J",
    "000102030405060708091011121314151617181920212223",
    "242526272829303132333435363738394041424344454647",
    "484950515253545556575859606162636465666768697071",
    "727374757677787980818283848586878889909192939495",
    "96979899",
};

static void read_all(const char *kind, cw_code (*draw)(const char *text, cw_text *out))
{
    char folder[] = "/tmp/cw-codes-XXXXXX", path[64], command[160], line[256];
    assert_non_null(mkdtemp(folder));
    size_t n = sizeof read_back / sizeof read_back[0];
    for (size_t i = 0; i < n; i++) {
        cw_text out = CW_TEXT(1 << 20);
        assert_int_equal(draw(read_back[i], &out), CW_OK);
        snprintf(path, sizeof path, "%s/%02zu.pgm", folder, i);
        paint(out.data, path);
        cw_text_free(&out);
    }
    snprintf(command, sizeof command, "zbarimg -q --raw -Sdisable -S%s.enable %s/*.pgm 2>/dev/null", kind,
             folder);
    FILE *reader = popen(command, "r");
    assert_non_null(reader);
    for (size_t i = 0; i < n; i++) {
        if (fgets(line, sizeof line, reader) == NULL)
            fail_msg("%s: the reader (zbarimg, package zbar-tools) stopped before: %s", kind, read_back[i]);
        line[strcspn(line, "\n")] = '\0';
        assert_string_equal(line, read_back[i]);
    }
    assert_int_equal(pclose(reader), 0);
    for (size_t i = 0; i < n; i++) {
        snprintf(path, sizeof path, "%s/%02zu.pgm", folder, i);
        unlink(path);
    }
    rmdir(folder);
}

static cw_code draw_code128(const char *text, cw_text *out)
{
    return cw_code128_svg(text, 203, 2, 10, out, NULL);
}

static cw_code draw_qr(const char *text, cw_text *out)
{
    return cw_qr_svg(text, 203, 2, out, NULL);
}

static void test_code128_reads_back(void **state)
{
    (void)state;
    read_all("code128", draw_code128);
}

static void test_qr_reads_back(void **state)
{
    (void)state;
    read_all("qrcode", draw_qr);
}

/* ISO/IEC 18004, from memory: a side is 17 + 4 * version modules; version 1 at level M holds 14 bytes; the
 * finder pattern is a dark ring of 7, a light ring of 5, a dark square of 3. */
static void test_qr_shape(void **state)
{
    (void)state;
    cw_qr q;
    cw_check_ok(cw_qr_encode("lot 31, bay 4b", &q, NULL), NULL);
    assert_int_equal(q.width, 21);
    for (int i = 0; i < 7; i++) {
        assert_int_equal(q.dark[i], 1);
        assert_int_equal(q.dark[3 * 21 + i], i != 1 && i != 5);
    }
    cw_qr_free(&q);
    cw_check_ok(cw_qr_encode("lot 31, bay 4bc", &q, NULL), NULL);
    assert_int_equal(q.width, 25);
    cw_qr_free(&q);
    cw_qr_free(&q);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_check_symbols),        cmocka_unit_test(test_every_symbol_is_well_formed),
        cmocka_unit_test(test_shortest_mix_of_sets), cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_svg_is_whole_dots),    cmocka_unit_test(test_code128_reads_back),
        cmocka_unit_test(test_qr_reads_back),        cmocka_unit_test(test_qr_shape),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
