/* SPDX-License-Identifier: MIT */
#include "support/xlsx.h"

#include "base/fold.h"
#include "base/sheet.h"
#include "base/text.h"
#include "base/typed.h"
#include <stdio.h>

/* What stands in the cells of texts and workbooks; what people mean by numbers and days; and files made to do harm. */

static cw_code read_bytes(const char *bytes, size_t n, cw_workbook *b, cw_error *err)
{
    return cw_workbook_read("file", bytes, n, CW_CHARSET_UNKNOWN, (cw_go_on){ NULL, NULL }, b, err);
}

/* A sheet as text: rows by their numbers, cells parted by bars, with a letter for what they hold. */
static void spell(const cw_sheet *s, cw_text *out)
{
    static const char letters[] = " tndmyf";
    for (size_t r = 0; r < s->row_count; r++) {
        cw_text_addf(out, "%ld:", s->rows[r].number);
        for (unsigned c = 0; c < s->rows[r].width; c++) {
            cw_stands holds;
            cw_field f = cw_sheet_at(s, r, c, &holds);
            cw_text_addf(out, "%s%c%.*s", c ? "|" : "", letters[holds], (int)f.n, f.s);
        }
        cw_text_add(out, "/");
    }
}

typedef struct text_row {
    const char *bytes;
    size_t n; /* 0: up to the NUL */
    const char *cells, *charset;
    char delimiter;
} text_row;

static const text_row texts[] = {
    { "a,b\n1,2\n", 0, "1:ta|tb/2:t1|t2/", "UTF-8", ',' },
    { "\xEF\xBB\xBF"
      "a;b\r\n1,5;2\r\n",
      0, "1:ta|tb/2:t1,5|t2/", "UTF-8", ';' },
    { "a\tb\rc\td\r", 0, "1:ta|tb/2:tc|td/", "UTF-8", '\t' },
    { "sep=;\na;b,c\n", 0, "2:ta|tb,c/", "UTF-8", ';' },
    { "a,\"x \"\"y\"\", z\"\n\n\"two\nlines\",b\nlast,row\n", 0,
      "1:ta|tx \"y\", z/3:ttwo\nlines|tb/5:tlast|trow/", "UTF-8", ',' },
    { "pots 5\";a,b\nc;d\ne;f\n", 0, "1:tpots 5\"|ta,b/2:tc|td/3:te|tf/", "UTF-8", ';' },
    { "pots 5\" high,b\n", 0, "1:tpots 5\" high|tb/", "UTF-8", ',' },
    { " a \xC2\xA0, \xC2\xA0 b\n,,\n,c\n", 0, "1:ta|tb/3: |tc/", "UTF-8", ',' },
    { "Stra\xDF"
      "e;\x80\n",
      0,
      "1:tStra\xC3\x9F"
      "e|t\xE2\x82\xAC/",
      "windows-1252", ';' },
    { "H\x9Ahe;M\x9Fnch\n", 0, "1:tH\xC3\xB6he|tM\xC3\xBCnch/", "macintosh", ';' },
    { "H\x94he;K\x81he\n", 0, "1:tH\xC3\xB6he|tK\xC3\xBChe/", "IBM850", ';' },
    { "\xFF\xFE"
      "a\0\t\0\xE9\0",
      8, "1:ta|t\xC3\xA9/", "UTF-16LE", '\t' },
    { "\xFE\xFF\0a\0;\0b", 8, "1:ta|tb/", "UTF-16BE", ';' },
    { "a\0;\0b\0\n\0c\0;\0d\0", 14, "1:ta|tb/2:tc|td/", "UTF-16LE", ';' },
    { "Sorte;Preis\nA;9,95\nB;8,50\nC;7,00\n", 0, "1:tSorte|tPreis/2:tA|t9,95/3:tB|t8,50/4:tC|t7,00/",
      "UTF-8", ';' },
};

static void test_texts(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        cw_workbook b;
        cw_error err = CW_ERROR_NONE;
        cw_text got = CW_TEXT(4096);
        cw_check_ok(read_bytes(texts[i].bytes, texts[i].n ? texts[i].n : strlen(texts[i].bytes), &b, &err),
                    &err);
        spell(&b.sheets[0], &got);
        if (strcmp(got.data, texts[i].cells) != 0 ||
            strcmp(cw_charset_name(b.charset), texts[i].charset) != 0 || b.delimiter != texts[i].delimiter)
            fail_msg("text %zu: %s, %s, delimiter %d", i, got.data, cw_charset_name(b.charset), b.delimiter);
        cw_text_free(&got);
        cw_workbook_free(&b);
    }
}

static void test_workbook(void **state)
{
    (void)state;
    static const char book[] =
        "<x:workbook xmlns:x='http://schemas.openxmlformats.org/spreadsheetml/2006/main'><x:sheets>"
        "<x:sheet name='One &amp; all' r:id='r1'/><x:sheet name='Two' state='hidden' "
        "r:id='r2'/></x:sheets></x:workbook>";
    static const char strings[] = "<sst><si><t> plain </t></si><si><r><t>rich</t></r><r><t> "
                                  "text</t></r><rPh><t>no</t></rPh></si></sst>";
    static const char one[] =
        "<worksheet><sheetData><row r='1'><c r='A1' t='s'><v>0</v></c><c r='C1' t='s'><v>1</v></c></row>"
        "<row r='4'><c r='A4'><v>9.9499999999999993</v></c><c r='B4' s='1'><v>48185</v></c><c r='C4' "
        "s='2'><v>48185.604166666664</v></c>"
        "<c r='D4' s='3'><v>48185</v></c><c r='E4' s='4'><v>0.5</v></c><c r='F4' s='5'><v>1.25</v></c><c "
        "r='G4' s='6'><v>12</v></c>"
        "<c r='H4' t='b'><v>1</v></c><c r='I4' t='e'><v>#N/A</v></c><c r='J4' t='inlineStr'><is><t>in "
        "line</t></is></c>"
        "<c r='K4' t='d'><v>2031-12-03</v></c><c r='L4'><v>1E3</v></c><c r='M4' "
        "s='1'><v>60</v></c></row></sheetData></worksheet>";
    cw_workbook b;
    cw_error err = CW_ERROR_NONE;
    cw_text got = CW_TEXT(4096);
    size_t n = 0;
    char *bytes = xlsx_book(book, strings, one, "<worksheet><sheetData/></worksheet>", &n);
    cw_check_ok(read_bytes(bytes, n, &b, &err), &err);
    assert_int_equal(b.count, 2);
    assert_string_equal(b.sheets[0].name, "One & all");
    assert_true(b.sheets[1].hidden && !b.sheets[0].hidden);
    spell(&b.sheets[0], &got);
    assert_string_equal(
        got.data,
        "1:tplain| |trich text/4:n9.95|d2031-12-03|m2031-12-03T14:30:00|d2031-12-03|n0.5|n1.25|n12|yyes|"
        "f#N/A|tin line|d2031-12-03|n1000|fday 60/");
    cw_text_free(&got);
    cw_workbook_free(&b);
    free(bytes);
}

/* ---- files made to do harm, or broken ---- */

static void refused(const char *what, const char *bytes, size_t n, const char *says)
{
    cw_workbook b;
    cw_error err = CW_ERROR_NONE;
    cw_code code = read_bytes(bytes, n, &b, &err);
    if (code != CW_REFUSED || strstr(err.text, says) == NULL)
        fail_msg("%s: code %d: %s", what, code, err.text);
    assert_int_equal(b.count, 0);
}

static char *repeat(const char *begin, const char *s, size_t times, const char *end)
{
    cw_text t = CW_TEXT((size_t)1 << 31);
    cw_text_reserve(&t, strlen(s) * times + 4096);
    cw_text_add(&t, begin);
    for (size_t i = 0; i < times; i++)
        cw_text_add(&t, s);
    cw_text_add(&t, end);
    assert_false(t.failed);
    return cw_text_take(&t);
}

static void harm(const char *what, const char *strings, const char *sheet, const char *says)
{
    size_t n = 0;
    char *bytes = xlsx_book("<workbook><sheets><sheet name='a' r:id='r1'/></sheets></workbook>", strings,
                            sheet, NULL, &n);
    refused(what, bytes, n, says);
    free(bytes);
}

static void test_harm(void **state)
{
    (void)state;
    char *deep = repeat("", "<a>", 5000, "");
    harm("deep", "<sst/>", deep, "nested deeper");
    free(deep);
    harm("entity", "<sst/>", "<!DOCTYPE w [<!ENTITY a 'ha'><!ENTITY b '&a;&a;'>]><worksheet>&b;</worksheet>",
         "document type");
    harm("outside", "<!DOCTYPE w SYSTEM 'file:///etc/passwd'><sst/>", "<worksheet/>", "document type");
    harm("unended", "<sst/>", "<worksheet>\n<sheetData>", ", line 2: ");
    harm("no such text", "<sst><si><t>a</t></si></sst>",
         "<worksheet><row><c t='s'><v>7</v></c></row></worksheet>", "a text that is not there");
    harm("rows backwards", "<sst/>",
         "<worksheet><row r='5'><c r='A5'><v>1</v></c></row><row r='4'/></worksheet>", "after row 5");
    harm("cell elsewhere", "<sst/>", "<worksheet><row r='5'><c r='A6'><v>1</v></c></row></worksheet>",
         "a cell A6");
    harm("far column", "<sst/>", "<worksheet><row><c r='ZZ1'><v>1</v></c></row></worksheet>", "more columns");
    char *long_cell =
        repeat("<worksheet><row><c t='str'><v>", "0123456789abcdef", 8192, "</v></c></row></worksheet>");
    harm("long cell", "<sst/>", long_cell, "a cell holds more than 65536 bytes");
    free(long_cell);
    refused("cut", "PK\3\4 and nothing else", 21, "is damaged");
    refused("old", "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1 and more", 17, "password");
    refused("picture", "\x89PNG\r\n\x1A\n\0\0\0\rIHDR", 16, "neither text nor");
    refused("open quote", "a,b\n\"c,d\n", 9, "never closed");
    refused("empty", "", 0, "is empty");
    size_t n = 0;
    const xlsx_part other[] = { { "content.xml", "<a/>" } };
    char *bytes = xlsx_zip(other, 1, &n);
    refused("another zip", bytes, n, "no .xlsx workbook");
    free(bytes);
    xlsx_part *many = calloc(CW_MAX_ZIP_ENTRIES + 1, sizeof *many);
    char(*names)[16] = calloc(CW_MAX_ZIP_ENTRIES + 1, sizeof *names);
    assert_true(many && names);
    for (int i = 0; i <= CW_MAX_ZIP_ENTRIES; i++) {
        snprintf(names[i], sizeof names[i], "p%d", i);
        many[i] = (xlsx_part){ names[i], "" };
    }
    bytes = xlsx_zip(many, CW_MAX_ZIP_ENTRIES + 1, &n);
    refused("many parts", bytes, n, "more parts");
    free(bytes);
    free(many);
    free(names);
}

/* A bomb: some hundred kilobytes that would unpack to more than any workbook has. It is given up on the way, and memory stays small. */
static void test_bomb(void **state)
{
    (void)state;
    char *blanks = repeat("<worksheet>", "                                                                ",
                          (size_t)CW_MAX_INFLATED_BYTES / 64 + 1, "</worksheet>");
    harm("bomb", "<sst/>", blanks, "swells beyond");
    free(blanks);
}

/* Whatever bytes of a good workbook are changed: read, or refused with a sentence. */
static void test_changed_bytes(void **state)
{
    (void)state;
    size_t n = 0;
    char *bytes = xlsx_book(
        "<workbook><sheets><sheet name='a' r:id='r1'/></sheets></workbook>", "<sst><si><t>Lot</t></si></sst>",
        "<worksheet><row><c t='s'><v>0</v></c><c s='1'><v>48185</v></c></row></worksheet>", NULL, &n);
    for (size_t i = 0; i < n; i++)
        for (int bit = 0; bit < 8; bit += 3) {
            cw_workbook b;
            cw_error err = CW_ERROR_NONE;
            bytes[i] = (char)(bytes[i] ^ 1 << bit);
            cw_code code = read_bytes(bytes, n, &b, &err);
            assert_true(code == CW_OK || (code == CW_REFUSED && err.text[0]));
            cw_workbook_free(&b);
            bytes[i] = (char)(bytes[i] ^ 1 << bit);
        }
    free(bytes);
}

/* ---- numbers ---- */

typedef struct number_row {
    const char *typed;
    cw_mark decimal;
    const char *text; /* NULL: no number */
    const char *unit;
    char shows;
    bool open;
} number_row;

static const number_row numbers[] = {
    { "9,95", CW_MARK_OPEN, "9.95", "", ',', false },
    { "9.95", CW_MARK_OPEN, "9.95", "", '.', false },
    { "9.95", CW_MARK_COMMA, NULL, "", '.', false },
    { "1.234,50", CW_MARK_OPEN, "1234.50", "", ',', false },
    { "1,234.50", CW_MARK_OPEN, "1234.50", "", '.', false },
    { "1'234.50", CW_MARK_OPEN, "1234.50", "", '.', false },
    { "1 234,50", CW_MARK_OPEN, "1234.50", "", ',', false },
    { "1\xC2\xA0"
      "234\xC2\xA0"
      "567",
      CW_MARK_OPEN, "1234567", "", 0, false },
    { "1.234.567", CW_MARK_OPEN, "1234567", "", ',', false },
    { "1.234", CW_MARK_OPEN, "1234", "", 0, true },
    { "1.234", CW_MARK_POINT, "1.234", "", 0, true },
    { "1.234", CW_MARK_COMMA, "1234", "", 0, true },
    { "0.234", CW_MARK_OPEN, "0.234", "", '.', false },
    { "1.2345", CW_MARK_OPEN, "1.2345", "", '.', false },
    { "12.34.56", CW_MARK_OPEN, NULL, "", 0, false },
    { "1.23,4.5", CW_MARK_OPEN, NULL, "", 0, false },
    { "$ 9.95", CW_MARK_OPEN, "9.95", "$", '.', false },
    { "9,95 \xE2\x82\xAC", CW_MARK_OPEN, "9.95", "\xE2\x82\xAC", ',', false },
    { "EUR 9,95", CW_MARK_OPEN, "9.95", "eur", ',', false },
    { "12 pcs", CW_MARK_OPEN, "12", "pcs", 0, false },
    { "12 St\xC3\xBC"
      "ck",
      CW_MARK_OPEN, "12", "stuck", 0, false },
    { "4,5 \xC2\xB0"
      "C",
      CW_MARK_OPEN, "4.5", "c", ',', false },
    { "88 %", CW_MARK_OPEN, "88", "%", 0, false },
    { "-3", CW_MARK_OPEN, "-3", "", 0, false },
    { "\xE2\x88\x92"
      "3,5",
      CW_MARK_OPEN, "-3.5", "", ',', false },
    { "5,-", CW_MARK_OPEN, "5", "", 0, false },
    { ",5", CW_MARK_OPEN, "0.5", "", ',', false },
    { "about 5 or 6", CW_MARK_OPEN, NULL, "", 0, false },
    { "3 x 4", CW_MARK_OPEN, NULL, "", 0, false },
    { "2031-12-03", CW_MARK_OPEN, NULL, "", 0, false },
    { "pcs", CW_MARK_OPEN, NULL, "", 0, false },
    { "$5 EUR", CW_MARK_OPEN, NULL, "", 0, false },
};

static void test_numbers(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        const number_row *w = &numbers[i];
        cw_typed_number n;
        bool good = cw_typed_number_read(w->typed, strlen(w->typed), w->decimal, &n);
        if (good != (w->text != NULL) ||
            (good && (strcmp(n.text, w->text) != 0 || strcmp(n.unit, w->unit) != 0 ||
                      (char)n.shows != w->shows || n.open != w->open)))
            fail_msg("%s: %s '%s' unit '%s' shows %d open %d", w->typed, good ? "read" : "refused", n.text,
                     n.unit, n.shows, n.open);
    }
}

/* ---- days ---- */

typedef struct day_row {
    const char *typed;
    cw_order order;
    const char *day; /* NULL: none */
    cw_order shows;
    bool open;
} day_row;

static const day_row days[] = {
    { "2031-12-03", CW_ORDER_OPEN, "2031-12-03", CW_ORDER_OPEN, false },
    { "2031/12/03", CW_ORDER_OPEN, "2031-12-03", CW_ORDER_OPEN, false },
    { "3 Dec 2031", CW_ORDER_OPEN, "2031-12-03", CW_ORDER_OPEN, false },
    { "Dec 3, 2031", CW_ORDER_OPEN, "2031-12-03", CW_ORDER_OPEN, false },
    { "3. Dezember 2031", CW_ORDER_OPEN, "2031-12-03", CW_ORDER_OPEN, false },
    { "Mi, 3.12.2031", CW_ORDER_OPEN, "2031-12-03", CW_ORDER_DMY, false },
    { "3 ao\xC3\xBBt 2031", CW_ORDER_OPEN, "2031-08-03", CW_ORDER_OPEN, false },
    { "3 mrt 2031", CW_ORDER_OPEN, "2031-03-03", CW_ORDER_OPEN, false },
    { "3-Dec-31", CW_ORDER_OPEN, "2031-12-03", CW_ORDER_OPEN, false },
    { "12.3.31", CW_ORDER_OPEN, "2031-03-12", CW_ORDER_DMY, false },
    { "12.3.31", CW_ORDER_MDY, NULL, CW_ORDER_DMY, false },
    { "31/12/2031", CW_ORDER_OPEN, "2031-12-31", CW_ORDER_DMY, false },
    { "12/31/2031", CW_ORDER_OPEN, "2031-12-31", CW_ORDER_MDY, false },
    { "12/31/2031", CW_ORDER_DMY, NULL, CW_ORDER_MDY, false },
    { "03/04/2032", CW_ORDER_DMY, "2032-04-03", CW_ORDER_OPEN, true },
    { "03/04/2032", CW_ORDER_MDY, "2032-03-04", CW_ORDER_OPEN, true },
    { "04/04/2032", CW_ORDER_OPEN, "2032-04-04", CW_ORDER_OPEN, false },
    { "3/12/68", CW_ORDER_DMY, "2068-12-03", CW_ORDER_OPEN, true },
    { "3/12/69", CW_ORDER_DMY, "1969-12-03", CW_ORDER_OPEN, true },
    { "29.02.2031", CW_ORDER_OPEN, NULL, CW_ORDER_OPEN, false },
    { "13/13/2031", CW_ORDER_OPEN, NULL, CW_ORDER_OPEN, false },
    { "1234567", CW_ORDER_OPEN, NULL, CW_ORDER_OPEN, false },
    { "autumn 2031", CW_ORDER_OPEN, NULL, CW_ORDER_OPEN, false },
};

static void test_days(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof days / sizeof days[0]; i++) {
        const day_row *w = &days[i];
        cw_typed_day d;
        char text[11] = "";
        bool good = cw_typed_day_read(w->typed, strlen(w->typed), w->order, &d);
        if (good)
            cw_day_format(d.day, text);
        if (good != (w->day != NULL) ||
            (good && (strcmp(text, w->day) != 0 || d.shows != w->shows || d.open != w->open)))
            fail_msg("%s: %s '%s' shows %d open %d", w->typed, good ? "read" : "refused", text, d.shows,
                     d.open);
    }
}

static void test_times(void **state)
{
    (void)state;
    static const struct {
        const char *typed;
        int32_t seconds; /* -1: no time that can be read */
        bool zone;
        int minutes;
    } rows[] = {
        { "2031-12-03 14:30", 52200, false, 0 },
        { "2031-12-03T14:30:05", 52205, false, 0 },
        { "3.12.2031, 14:30 Uhr", 52200, false, 0 },
        { "12/31/2031 2:30 PM", 52200, false, 0 },
        { "12/31/2031 12:05 am", 300, false, 0 },
        { "2031-12-03 14:30:00 -0600", 52200, true, -360 },
        { "2031-12-03T14:30:00+05:30", 52200, true, 330 },
        { "2031-12-03T14:30:00Z", 52200, true, 0 },
        { "2031-12-03T14:30:00.125Z", 52200, true, 0 },
        { "2031-12-03 25:00", -1, false, 0 },
        { "2031-12-03 14:60", -1, false, 0 },
        { "2031-12-03 13:30 pm", -1, false, 0 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_typed_day d;
        bool good = cw_typed_day_read(rows[i].typed, strlen(rows[i].typed), CW_ORDER_OPEN, &d);
        if (good != (rows[i].seconds >= 0) ||
            (good && (d.ms != rows[i].seconds * 1000 || d.zone != rows[i].zone ||
                      d.minutes != rows[i].minutes || !d.clock)))
            fail_msg("%s: %s %d ms zone %d %d", rows[i].typed, good ? "read" : "refused", d.ms, d.zone,
                     d.minutes);
    }
}

static void test_weeks_and_yes(void **state)
{
    (void)state;
    static const struct {
        const char *typed;
        cw_week week; /* 0: none */
    } weeks[] = { { "2032-W16", 203216 }, { "KW 16", 203216 },      { "16", 203216 },  { "W16/2033", 203316 },
                  { "week 5", 203205 },   { "semaine 16", 203216 }, { "16 trays", 0 }, { "54", 0 } };
    for (size_t i = 0; i < sizeof weeks / sizeof weeks[0]; i++) {
        cw_week w = 0;
        bool good = cw_typed_week_read(weeks[i].typed, strlen(weeks[i].typed), 2032, &w);
        if (good != (weeks[i].week != 0) || (good && w != weeks[i].week))
            fail_msg("%s: %d", weeks[i].typed, w);
    }
    static const char *const yes[] = { "yes", "Ja", "OUI", "x", "1", "\xE2\x9C\x93", "vrai" }, *const no[] = {
        "no", "nein", "Nee", "0", "-"
    };
    bool got = false;
    for (size_t i = 0; i < 7; i++)
        assert_true(cw_typed_yes_read(yes[i], strlen(yes[i]), &got) && got);
    for (size_t i = 0; i < 5; i++)
        assert_true(cw_typed_yes_read(no[i], strlen(no[i]), &got) && !got);
    assert_false(cw_typed_yes_read("perhaps", 7, &got));
}

static void test_fold(void **state)
{
    (void)state;
    char out[CW_FOLD_BYTES];
    cw_fold("Gr\xC3\xBCner J\xC3\xA4ger's \"No. 2\"", 24, ' ', out);
    assert_string_equal(out, "gruner jagers no 2");
    cw_fold("Stra\xC3\x9F"
            "e",
            7, '\0', out);
    assert_string_equal(out, "strasse");
    assert_int_equal(cw_distance("amber", "amber", 2), 0);
    assert_int_equal(cw_distance("amber", "ambre", 2), 1);
    assert_int_equal(cw_distance("dovegrey", "dovegray", 2), 1);
    assert_int_equal(cw_distance("amber", "cinder", 2), 3);
    assert_int_equal(cw_distance("amber", "amberlantern", 2), 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_texts),         cmocka_unit_test(test_workbook),
        cmocka_unit_test(test_harm),          cmocka_unit_test(test_bomb),
        cmocka_unit_test(test_changed_bytes), cmocka_unit_test(test_numbers),
        cmocka_unit_test(test_days),          cmocka_unit_test(test_times),
        cmocka_unit_test(test_weeks_and_yes), cmocka_unit_test(test_fold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
