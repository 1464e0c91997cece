/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/csv.h"
#include "base/limits.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

static const cw_csv_column columns[] = { { "code", true }, { "name", true }, { "price", false } };

/* Reads all of a file; fields are written as "a|b|c/" into `out`, errors as lines into `errors`. */
static void read_all(cw_csv *c, char *out, size_t size, char *errors, size_t error_size)
{
    int map[COUNT(columns)];
    bool more = true;
    cw_error err = CW_ERROR_NONE;
    out[0] = errors[0] = '\0';
    cw_code code = cw_csv_header(c, columns, COUNT(columns), false, map, &err);
    while (code == CW_OK && more && !cw_csv_broken(c)) {
        code = cw_csv_next(c, &more, &err);
        for (size_t i = 0; code == CW_OK && more && i < cw_csv_field_count(c); i++) {
            const cw_field *f = &cw_csv_fields(c)[i];
            size_t n = strlen(out);
            snprintf(out + n, size - n, "%.*s%s", (int)f->n, f->s, i + 1 < cw_csv_field_count(c) ? "|" : "/");
        }
        if (code != CW_OK) {
            size_t n = strlen(errors);
            cw_error_line(&err, errors + n, error_size - n);
            n = strlen(errors);
            snprintf(errors + n, error_size - n, "\n");
            err = (cw_error)CW_ERROR_NONE;
            code = CW_OK;
        }
    }
    if (code != CW_OK)
        cw_error_line(&err, errors, error_size);
}

#define TEXT(s) s, sizeof(s) - 1

static void test_well_formed(void **state)
{
    (void)state;
    static const struct {
        const char *row, *bytes;
        size_t n;
        const char *fields;
    } rows[] = {
        { "LF", TEXT("code,name\nA1,Anna\n"), "A1|Anna/" },
        { "no line end at the end", TEXT("code,name\nA1,Anna"), "A1|Anna/" },
        { "CRLF", TEXT("code,name\r\nA1,Anna\r\nB2,Bo\r\n"), "A1|Anna/B2|Bo/" },
        { "byte order mark",
          TEXT("\xEF\xBB\xBF"
               "code,name\nA1,Anna\n"),
          "A1|Anna/" },
        { "byte order mark before a quote", TEXT("\xEF\xBB\xBF\"code\",name\nA1,Anna\n"), "A1|Anna/" },
        { "columns in another order", TEXT("price,name,code\n1.50,Anna,A1\n"), "1.50|Anna|A1/" },
        { "empty fields", TEXT("code,name,price\n,,\n"), "||/" },
        { "empty lines", TEXT("\n\r\ncode,name\n\nA1,Anna\n\n\n"), "A1|Anna/" },
        /* RFC 4180, section 2, rules 5 to 7 and their examples' shape */
        { "quoted", TEXT("code,name\n\"A1\",\"Anna\"\n"), "A1|Anna/" },
        { "comma in quotes", TEXT("code,name\nA1,\"red, large\"\n"), "A1|red, large/" },
        { "line end in quotes", TEXT("code,name\nA1,\"two\r\nlines\"\n"), "A1|two\r\nlines/" },
        { "doubled quotes", TEXT("code,name\nA1,\"say \"\"so\"\"\"\n"), "A1|say \"so\"/" },
        { "only doubled quotes", TEXT("code,name\n\"\"\"\",\"\"\n"), "\"|/" },
        { "spaces are kept", TEXT("code,name\n A1 , Anna\n"), " A1 | Anna/" },
        { "UTF-8 of two to four bytes", TEXT("code,name\nA1,\xC3\xA9\xE2\x82\xAC\xF0\x9F\x8C\xB7\n"),
          "A1|\xC3\xA9\xE2\x82\xAC\xF0\x9F\x8C\xB7/" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[400], errors[2000];
        cw_csv *c = NULL;
        print_message("%s\n", rows[i].row);
        cw_check_ok(cw_csv_open_memory("varieties.csv", rows[i].bytes, rows[i].n, &c, NULL), NULL);
        read_all(c, out, sizeof out, errors, sizeof errors);
        assert_string_equal(errors, "");
        assert_string_equal(out, rows[i].fields);
        assert_int_equal(cw_csv_consumed(c), rows[i].n);
        cw_csv_close(c);
    }
}

static void test_bad_input(void **state)
{
    (void)state;
    static const struct {
        const char *row, *bytes;
        size_t n;
        const char *errors; /* all of them, in order */
        const char *fields; /* what could still be read */
    } rows[] = {
        { "empty", TEXT(""), "v.csv:1: the file is empty: a header row is required", "" },
        { "only a byte order mark", TEXT("\xEF\xBB\xBF"),
          "v.csv:1: the file is empty: a header row is required", "" },
        { "parted by semicolons", TEXT("code;name\nA1;Anna\n"),
          "v.csv:1: columns must be parted by commas, not by semicolons or tabs: code;name", "" },
        { "parted by tabs", TEXT("code\tname\nA1\tAnna\n"),
          "v.csv:1: columns must be parted by commas, not by semicolons or tabs: code?name", "" },
        { "a column twice", TEXT("code,name,code\n"), "v.csv:1: code: the column stands twice in the header",
          "" },
        { "an unknown column", TEXT("code,name,weight\n"), "v.csv:1: unknown column: weight", "" },
        { "an unknown column in capitals", TEXT("Code,name\n"), "v.csv:1: unknown column: Code", "" },
        { "a required column missing", TEXT("code,price\n"),
          "v.csv:1: name: the header lacks this required column", "" },
        { "NUL byte", TEXT("code,name\nA1,An\0na\nB2,Bo\n"), "v.csv:2: field 2: a NUL byte: An?na\n",
          "B2|Bo/" },
        { "Latin-1 for UTF-8", TEXT("code,name\nA1,caf\xE9\nB2,Bo\n"),
          "v.csv:2: field 2: not valid UTF-8 (save the file as CSV UTF-8): caf?\n", "B2|Bo/" },
        { "overlong UTF-8", TEXT("code,name\nA1,\xC0\xAF\n"),
          "v.csv:2: field 2: not valid UTF-8 (save the file as CSV UTF-8): ??\n", "" },
        { "UTF-8 surrogate", TEXT("code,name\nA1,\xED\xA0\x80\n"),
          "v.csv:2: field 2: not valid UTF-8 (save the file as CSV UTF-8): ???\n", "" },
        { "UTF-16",
          TEXT("\xFF\xFE"
               "c\0o\0d\0e\0"),
          "v.csv:1: field 1: not valid UTF-8 (save the file as CSV UTF-8): ??c?o?d?e?", "" },
        { "too few fields", TEXT("code,name\nA1\nB2,Bo\n"), "v.csv:2: 1 fields where the header has 2\n",
          "B2|Bo/" },
        { "too many fields", TEXT("code,name\nA1,Anna,\n"), "v.csv:2: 3 fields where the header has 2\n",
          "" },
        { "a stray quote spoils its line only", TEXT("code,name\nA1,5\" pot\nB2,Bo\nC3,6\" pot\n"),
          "v.csv:2: field 2: a quote stands inside a field that is not quoted: 5\" pot\n"
          "v.csv:4: field 2: a quote stands inside a field that is not quoted: 6\" pot\n",
          "B2|Bo/" },
        { "text after a closing quote", TEXT("code,name\nA1,\"An\"na\nB2,Bo\n"),
          "v.csv:2: field 2: text follows a closing quote: na\n", "B2|Bo/" },
        { "a quote never closed", TEXT("code,name\nA1,\"Anna\nB2,Bo\n"),
          "v.csv:2: field 2: a quote is opened and never closed: \"Anna?B2,Bo\n", "" },
        { "lone CR", TEXT("code,name\nA1,An\rna\n"),
          "v.csv:2: field 2: a carriage return stands inside a field that is not quoted: An?na\n", "" },
        { "old CR line ends", TEXT("code,name\rA1,Anna\r"),
          "v.csv:1: field 2: a carriage return stands inside a field that is not quoted: name?A1", "" },
        { "lines are counted through quotes", TEXT("code,name\nA1,\"two\nlines\"\nB2\n"),
          "v.csv:4: 1 fields where the header has 2\n", "A1|two\nlines/" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[400], errors[2000];
        cw_csv *c = NULL;
        print_message("%s\n", rows[i].row);
        cw_check_ok(cw_csv_open_memory("v.csv", rows[i].bytes, rows[i].n, &c, NULL), NULL);
        read_all(c, out, sizeof out, errors, sizeof errors);
        assert_string_equal(errors, rows[i].errors);
        assert_string_equal(out, rows[i].fields);
        cw_csv_close(c);
    }
}

/* Rows of many lengths around the caps, and fields around theirs. */
static void test_caps(void **state)
{
    (void)state;
    static const struct {
        const char *row;
        size_t field, fields; /* bytes of each field, how many */
        const char *error;    /* how it begins; "" = fine */
    } rows[] = {
        { "the longest field", CW_MAX_FIELD_BYTES, 1, "" },
        { "a byte more", CW_MAX_FIELD_BYTES + 1, 1,
          "v.csv:2: field 2: a field longer than 65536 bytes: xxx" },
        { "the longest row", (CW_MAX_RECORD_BYTES - 8) / 4 - 1, 4, "v.csv:2: 5 fields where" },
        { "a row too long", CW_MAX_RECORD_BYTES, 1, "v.csv:2: a row longer than 262144 bytes: A1,xxx" },
        { "a row longer than the buffer", 8 * CW_MAX_RECORD_BYTES, 1,
          "v.csv:2: a row longer than 262144 bytes: A1,xxx" },
        { "too many fields", 1, CW_MAX_COLUMNS, "v.csv:2: field 65: more fields than a row may have: x" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        size_t n = 0, room = (rows[i].field + 2) * rows[i].fields + 64;
        char *bytes = malloc(room), out[16], errors[2000];
        cw_csv *c = NULL;
        assert_non_null(bytes);
        n = (size_t)snprintf(bytes, room, "code,name\nA1");
        for (size_t k = 0; k < rows[i].fields; k++) {
            bytes[n++] = ',';
            memset(bytes + n, 'x', rows[i].field);
            n += rows[i].field;
        }
        bytes[n++] = '\n';
        print_message("%s\n", rows[i].row);
        cw_check_ok(cw_csv_open_memory("v.csv", bytes, n, &c, NULL), NULL);
        read_all(c, out, sizeof out, errors, sizeof errors);
        errors[strlen(rows[i].error)] = '\0';
        assert_string_equal(errors, rows[i].error);
        cw_csv_close(c);
        free(bytes);
    }
}

/* A line of 2 GB (a sparse file) is refused after the first megabytes; so is an open quote before 2 GB. */
static void test_a_line_of_2_gb(void **state)
{
    (void)state;
    static const struct {
        const char *start, *error;
    } rows[] = { { "code,name\nA1,", ":2: a row longer than 262144 bytes: A1,???" },
                 { "code,name\nA1,\"",
                   ":2: a row longer than 262144 bytes (a quote opened in it is not closed): A1,\"???" } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char path[] = "/tmp/cw-csv-XXXXXX", out[16], errors[2000];
        cw_csv *c = NULL;
        int fd = mkstemp(path);
        assert_true(fd >= 0);
        assert_int_equal(write(fd, rows[i].start, strlen(rows[i].start)), strlen(rows[i].start));
        assert_int_equal(ftruncate(fd, (off_t)2 << 30), 0);
        close(fd);
        cw_check_ok(cw_csv_open(path, &c, NULL), NULL);
        assert_int_equal(cw_csv_total(c), (uint64_t)2 << 30);
        read_all(c, out, sizeof out, errors, sizeof errors);
        assert_non_null(strstr(errors, rows[i].error));
        assert_true(cw_csv_broken(c));
        assert_true(cw_csv_consumed(c) < 100);
        cw_csv_close(c);
        unlink(path);
    }
}

static void test_files(void **state)
{
    (void)state;
    cw_csv *c = NULL;
    cw_error err = CW_ERROR_NONE;
    assert_int_equal(cw_csv_open("/nowhere/varieties.csv", &c, &err), CW_REFUSED);
    assert_string_equal(err.file, "/nowhere/varieties.csv");
    assert_int_equal(err.row, 0); /* of no row: the file itself */
    assert_null(c);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_csv_open("/tmp", &c, &err), CW_REFUSED);
    assert_string_equal(err.text, "is not a file");
    assert_int_equal(err.row, 0);
    assert_null(c);
    cw_csv_close(NULL);
}

/* Columns of other programs may be passed over; a file is named without its folder; where one is in the file is known. */
static void test_others_columns(void **state)
{
    (void)state;
    static const char bytes[] = "weight,name,code\n7,Anna,A1\n8,Bo,B2\n";
    char path[] = "/tmp/cw-csv-XXXXXX", want[64];
    int map[COUNT(columns)], fd = mkstemp(path);
    bool more = false;
    cw_csv *c = NULL;
    cw_error err = CW_ERROR_NONE;
    assert_true(fd >= 0);
    assert_int_equal(write(fd, bytes, sizeof bytes - 1), sizeof bytes - 1);
    close(fd);
    cw_check_ok(cw_csv_open(path, &c, &err), &err);
    assert_int_equal(cw_csv_total(c), sizeof bytes - 1);
    cw_check_ok(cw_csv_header(c, columns, COUNT(columns), true, map, &err), &err);
    assert_int_equal(map[0], 2);
    assert_int_equal(map[1], 1);
    assert_int_equal(map[2], -1);
    assert_int_equal(cw_csv_consumed(c), 17);
    cw_check_ok(cw_csv_next(c, &more, &err), &err);
    assert_true(more);
    assert_int_equal(cw_csv_consumed(c), 27);
    assert_int_equal(cw_csv_line(c), 2);
    assert_int_equal(cw_csv_field_count(c), 3);
    assert_false(cw_csv_broken(c));
    cw_csv_close(c);
    cw_check_ok(cw_csv_open(path, &c, &err), &err);
    assert_int_equal(cw_csv_header(c, columns, COUNT(columns), false, map, &err), CW_REFUSED);
    snprintf(want, sizeof want, "%s", strrchr(path, '/') + 1);
    assert_string_equal(err.file, want);
    assert_int_equal(err.row, 1);
    cw_csv_close(c);
    unlink(path);
}

/* A row may have just so many bytes, without its line end; and just so many fields. */
static void test_the_last_byte(void **state)
{
    (void)state;
    for (size_t more_by = 0; more_by < 2; more_by++) {
        size_t row = CW_MAX_RECORD_BYTES - 1 + more_by, n = 0; /* and the line end */
        char *bytes = malloc(row + 64), out[16], errors[2000];
        assert_non_null(bytes);
        n = (size_t)snprintf(bytes, 64, "code,name\n");
        for (size_t i = 0; i < row; i++)
            bytes[n++] = i % 60000 == 59999 ? ',' : 'x';
        bytes[n++] = '\n';
        cw_csv *c = NULL;
        cw_check_ok(cw_csv_open_memory("v.csv", bytes, n, &c, NULL), NULL);
        read_all(c, out, sizeof out, errors, sizeof errors);
        const char *says =
            more_by ? "v.csv:2: a row longer than" : "v.csv:2: 5 fields where the header has 2";
        errors[strlen(says)] = '\0';
        assert_string_equal(errors, says);
        cw_csv_close(c);
        free(bytes);
    }
    for (size_t fields = CW_MAX_COLUMNS; fields <= CW_MAX_COLUMNS + 1; fields++) {
        char bytes[400] = "code,name\n", out[16], errors[2000], says[80];
        for (size_t i = 0; i + 1 < fields; i++)
            bytes[10 + i] = ',';
        cw_csv *c = NULL;
        cw_check_ok(cw_csv_open_memory("v.csv", bytes, 10 + fields - 1, &c, NULL), NULL);
        read_all(c, out, sizeof out, errors, sizeof errors);
        snprintf(says, sizeof says,
                 fields == CW_MAX_COLUMNS ? "v.csv:2: %zu fields where the header has 2"
                                          : "v.csv:2: field %zu: more fields than a row may have",
                 fields);
        errors[strlen(says)] = '\0';
        assert_string_equal(errors, says);
        cw_csv_close(c);
    }
}

/* A file larger than the buffer, with rows of all lengths across its edges, comes back as it was written. */
static void test_long_file(void **state)
{
    (void)state;
    char path[] = "/tmp/cw-csv-XXXXXX", want[64], got[64];
    int fd = mkstemp(path), map[COUNT(columns)];
    assert_true(fd >= 0);
    FILE *f = fdopen(fd, "w");
    fprintf(f, "code,name\n");
    for (int i = 0; i < 40000; i++)
        fprintf(f, "%d,\"%0*d \"\"q\"\"\n%d\"\r\n", i, i % 97 + 1, i, i);
    fclose(f);
    cw_csv *c = NULL;
    bool more = true;
    cw_check_ok(cw_csv_open(path, &c, NULL), NULL);
    cw_check_ok(cw_csv_header(c, columns, COUNT(columns), false, map, NULL), NULL);
    for (int i = 0; i < 40000; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_csv_next(c, &more, &err), &err);
        assert_true(more);
        const cw_field *name = &cw_csv_fields(c)[map[1]];
        snprintf(want, sizeof want, " \"q\"\n%d", i);
        snprintf(got, sizeof got, "%.*s", (int)strlen(want), name->s + name->n - strlen(want));
        assert_string_equal(got, want);
        assert_int_equal(cw_csv_line(c), 2 + 2 * i);
    }
    cw_check_ok(cw_csv_next(c, &more, NULL), NULL);
    assert_false(more);
    assert_int_equal(cw_csv_consumed(c), cw_csv_total(c));
    cw_csv_close(c);
    unlink(path);
}

/* A quote that is doubled just where what has been read ends: it closes nothing. The reader takes two of the longest records and a
 * megabyte at once. */
static void test_a_doubled_quote_where_a_piece_ends(void **state)
{
    (void)state;
    enum { ROOM = 2 * CW_MAX_RECORD_BYTES + (1 << 20), ROW = 1024 };
    static const char first[] = "code,name\n", last[] = "Q,\"a\"\"b\nc\"\nZ,end\n";
    char *text = malloc(ROOM + 2 * ROW);
    assert_non_null(text);
    for (size_t back = 0; back <= sizeof last; back++) {
        size_t n = sizeof first - 1, begins = ROOM - back;
        memcpy(text, first, n);
        while (n < begins) { /* rows that fill up to where the last ones begin */
            size_t row = begins - n < 2 * ROW ? begins - n : ROW;
            memset(text + n, 'x', row);
            text[n + 1] = ',';
            text[n + row - 1] = '\n';
            n += row;
        }
        memcpy(text + n, last, sizeof last - 1);
        n += sizeof last - 1;
        cw_csv *c = NULL;
        cw_error err = CW_ERROR_NONE;
        bool more = true;
        int map[COUNT(columns)];
        cw_check_ok(cw_csv_open_memory("x.csv", text, n, &c, &err), &err);
        cw_check_ok(cw_csv_header(c, columns, COUNT(columns), false, map, &err), &err);
        char got[64] = "";
        while (more) {
            cw_check_ok(cw_csv_next(c, &more, &err), &err);
            const cw_field *f = cw_csv_fields(c);
            if (more && f[0].s[0] != 'x')
                snprintf(got + strlen(got), sizeof got - strlen(got), "%.*s|%.*s/", (int)f[0].n, f[0].s,
                         (int)f[1].n, f[1].s);
        }
        if (strcmp(got, "Q|a\"b\nc/Z|end/") != 0)
            fail_msg("begun %zu before the end: %s", back, got);
        cw_csv_close(c);
    }
    free(text);
}

/* Quotes throughout, in a file of several pieces: a record that ends within what has been read is taken as it is. */
static void test_quotes_through_several_pieces(void **state)
{
    (void)state;
    enum { ROWS = 400000 };
    static const char head[] = "code,name\n";
    char *text = malloc(sizeof head + (size_t)ROWS * 32);
    size_t n = sizeof head - 1;
    assert_non_null(text);
    memcpy(text, head, n);
    for (int i = 0; i < ROWS; i++)
        n += (size_t)sprintf(text + n, "\"K%06d\",\"a\"\"b,\n%d\"\n", i, i);
    assert_true(n > 3 * (2 * (size_t)CW_MAX_RECORD_BYTES + (1 << 20)));
    for (int whole = 0; whole < 2; whole++) { /* the last row without the end of its line, and with it */
        cw_csv *c = NULL;
        cw_error err = CW_ERROR_NONE;
        bool more = true;
        int map[COUNT(columns)], rows = 0;
        cw_check_ok(cw_csv_open_memory("x.csv", text, n - 1 + (size_t)whole, &c, &err), &err);
        cw_check_ok(cw_csv_header(c, columns, COUNT(columns), false, map, &err), &err);
        for (;; rows++) {
            char want[2][32];
            cw_check_ok(cw_csv_next(c, &more, &err), &err);
            if (!more)
                break;
            const cw_field *f = cw_csv_fields(c);
            snprintf(want[0], sizeof want[0], "K%06d", rows);
            snprintf(want[1], sizeof want[1], "a\"b,\n%d", rows);
            for (int k = 0; k < 2; k++)
                if (f[k].n != strlen(want[k]) || memcmp(f[k].s, want[k], f[k].n) != 0)
                    fail_msg("row %d: %.*s", rows, (int)f[k].n, f[k].s);
            assert_int_equal(cw_csv_line(c), 2 + 2 * rows);
        }
        assert_int_equal(rows, ROWS);
        cw_csv_close(c);
    }
    free(text);
}

/* A program whose standard input is closed gets 0 for the file that it opens. */
static void test_a_file_that_is_0(void **state)
{
    (void)state;
    char path[] = "/tmp/cw-csv-XXXXXX", fields[64], errors[200];
    int fd = mkstemp(path), kept = dup(0);
    cw_csv *c = NULL;
    cw_error err = CW_ERROR_NONE;
    assert_true(fd >= 0 && kept >= 0);
    assert_int_equal(write(fd, "code,name\nA1,Anna\n", 18), 18);
    close(fd);
    close(0);
    cw_check_ok(cw_csv_open(path, &c, &err), &err);
    read_all(c, fields, sizeof fields, errors, sizeof errors);
    cw_csv_close(c);
    assert_int_equal(dup2(kept, 0), 0);
    close(kept);
    assert_string_equal(fields, "A1|Anna/");
    assert_string_equal(errors, "");
    unlink(path);
}

static void test_error_list(void **state)
{
    (void)state;
    cw_error_list l = { NULL, 0, 0 };
    for (int i = 0; i < CW_MAX_LISTED_ERRORS + 7; i++) {
        cw_error e = CW_ERROR_NONE;
        cw_error_at(&e, CW_REFUSED, "v.csv", i + 2, "code", "wrong");
        cw_error_list_add(&l, &e);
    }
    assert_int_equal(l.kept, CW_MAX_LISTED_ERRORS);
    assert_int_equal(l.count, CW_MAX_LISTED_ERRORS + 7);
    assert_int_equal(l.items[l.kept - 1].row, CW_MAX_LISTED_ERRORS + 1);
    cw_error_list_free(&l);
    assert_int_equal(l.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_well_formed),
        cmocka_unit_test(test_bad_input),
        cmocka_unit_test(test_caps),
        cmocka_unit_test(test_a_line_of_2_gb),
        cmocka_unit_test(test_files),
        cmocka_unit_test(test_long_file),
        cmocka_unit_test(test_others_columns),
        cmocka_unit_test(test_the_last_byte),
        cmocka_unit_test(test_error_list),
        cmocka_unit_test(test_a_doubled_quote_where_a_piece_ends),
        cmocka_unit_test(test_quotes_through_several_pieces),
        cmocka_unit_test(test_a_file_that_is_0),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
