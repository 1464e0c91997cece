/* SPDX-License-Identifier: MIT */
/* What each named statement answers, and what it changes, on a season in which every row has one beside it that must not be taken
 * for it: statements/season.sql. Each block of statements/answers is a call (`-`: null, `_`: an empty text, `'...`: a text of digits,
 * `+`: a blank), the rows that it gives in their order, or, of one that writes, how many rows it changed and which, by
 * their columns' names. A term of a
 * WHERE, an order or a bound that is lost shows in one of them, and a statement that chooses rows has one that finds some. The answers were read one by one when they were written down; who
 * changes a statement reads them again: CW_STATEMENTS_WRITE=1 writes them anew, and `git diff` shows what has become different. */
#include "support/check.h"
#include "support/folder.h"
#include "support/unasked.h"

#include "store/db_inside.h"
#include "store/season.h"
#include "store/shipping.h"
#include "store/sql.h"
#include "base/text.h"
#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

static char folder[64], path[96];

static char *file_text(const char *name)
{
    char full[600];
    snprintf(full, sizeof full, "%s/store/statements/%s", CW_TEST_DIR, name);
    FILE *f = fopen(full, "rb");
    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    long n = ftell(f);
    rewind(f);
    char *text = calloc(1, (size_t)n + 1);
    assert_non_null(text);
    assert_int_equal(fread(text, 1, (size_t)n, f), n);
    fclose(f);
    return text;
}

static void make_file(void)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    sqlite3 *raw = NULL;
    cw_season_row row = { 2031, 22745, "USD", "UTC" };
    test_folder_make(folder, sizeof folder);
    snprintf(path, sizeof path, "%s/n.db", folder);
    cw_check_ok(cw_db_open(path, CW_DB_NEW, "test", &db, &err), &err);
    cw_check_ok(cw_db_begin(db, &err), &err);
    cw_check_ok(cw_season_make(db, &row, 0, &err), &err);
    cw_check_ok(cw_db_commit(db, &err), &err);
    cw_db_close(db);
    char *season = file_text("season.sql");
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    unasked_sql(raw, "PRAGMA foreign_keys = ON; BEGIN");
    unasked_sql(raw, season);
    unasked_sql(raw, "COMMIT");
    sqlite3_close(raw);
    free(season);
}

static void drop_file(void)
{
    char name[400];
    struct dirent *entry = NULL;
    DIR *d = opendir(folder);
    while (d && (entry = readdir(d)) != NULL) {
        snprintf(name, sizeof name, "%s/%s", folder, entry->d_name);
        unlink(name);
    }
    if (d)
        closedir(d);
    rmdir(folder);
}

static void add_value(cw_text *out, sqlite3_stmt *s, int c)
{
    if (sqlite3_column_type(s, c) == SQLITE_FLOAT) {
        cw_text_addf(out, "%.9g", sqlite3_column_double(s, c));
        return;
    }
    const char *text = (const char *)sqlite3_column_text(s, c);
    for (; text && *text; text++)
        if (*text == '\n')
            cw_text_add(out, "\\n");
        else
            cw_text_addc(out, *text);
}

/* One row of an answer as "a|b|c", without the empty ones at its end. */
static void add_row(cw_text *out, sqlite3_stmt *s)
{
    int n = sqlite3_column_count(s);
    while (n > 0 && sqlite3_column_bytes(s, n - 1) == 0)
        n--;
    for (int c = 0; c < n; c++) {
        if (c > 0)
            cw_text_addc(out, '|');
        add_value(out, s, c);
    }
    cw_text_add(out, n > 0 ? "\n" : "nothing\n");
}

/* One row of a table by the names of its columns, without those that hold nothing or 0: a column that a table gets later does not
 * show before something is in it. */
static void add_named(cw_text *out, sqlite3_stmt *s)
{
    for (int c = 0; c < sqlite3_column_count(s); c++) {
        const char *text = (const char *)sqlite3_column_text(s, c);
        if (text == NULL || text[0] == '\0' || strcmp(text, "0") == 0)
            continue;
        cw_text_addf(out, " %s=", sqlite3_column_name(s, c));
        add_value(out, s, c);
    }
    cw_text_addc(out, '\n');
}

/* ---- Every row of every table, to see what a statement changed ---- */
typedef struct rows {
    char **row;
    size_t count, room;
} rows;

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static rows all_rows(sqlite3 *raw)
{
    rows all = { 0 };
    sqlite3_stmt *tables = NULL, *s = NULL;
    assert_int_equal(
        sqlite3_prepare_v2(raw,
                           "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'",
                           -1, &tables, NULL),
        SQLITE_OK);
    while (sqlite3_step(tables) == SQLITE_ROW) {
        char sql[200];
        const char *table = (const char *)sqlite3_column_text(tables, 0);
        snprintf(sql, sizeof sql, "SELECT * FROM \"%s\"", table);
        assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
        while (sqlite3_step(s) == SQLITE_ROW) {
            cw_text row = CW_TEXT(1 << 16);
            cw_text_add(&row, table);
            add_named(&row, s);
            if (all.count == all.room) {
                all.room = all.room ? 2 * all.room : 512;
                all.row = realloc(all.row, all.room * sizeof *all.row);
                assert_non_null(all.row);
            }
            all.row[all.count++] = cw_text_take(&row);
        }
        sqlite3_finalize(s);
    }
    sqlite3_finalize(tables);
    qsort(all.row, all.count, sizeof *all.row, by_text);
    return all;
}

static void rows_free(rows *all)
{
    for (size_t i = 0; i < all->count; i++)
        free(all->row[i]);
    free(all->row);
}

static void add_missing(cw_text *out, char mark, const rows *from, const rows *in)
{
    for (size_t i = 0; i < from->count; i++)
        if (!bsearch(&from->row[i], in->row, in->count, sizeof *in->row, by_text))
            cw_text_addf(out, "%c%s", mark, from->row[i]);
}

/* ---- One call ---- */
static void bind_word(sqlite3_stmt *s, int k, char *word)
{
    char *end = NULL;
    long long i = strtoll(word, &end, 10);
    int rc;
    for (char *at = word; *at; at++)
        *at = *at == '+' ? ' ' : *at;
    if (strcmp(word, "-") == 0)
        rc = sqlite3_bind_null(s, k);
    else if (end != word && *end == '\0')
        rc = sqlite3_bind_int64(s, k, i);
    else
        rc = sqlite3_bind_text(s, k, word[0] == '_' ? "" : word + (word[0] == '\''), -1, SQLITE_TRANSIENT);
    assert_int_equal(rc, SQLITE_OK);
}

static void call(cw_db *db, const char *line, cw_text *out)
{
    char words[800], *rest = NULL;
    snprintf(words, sizeof words, "%s", line);
    char *name = strtok_r(words, " ", &rest), *word = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_stmt *named = cw_db_stmt(db, name);
    cw_check_ok(cw_stmt_ready(named, &err), &err);
    sqlite3_stmt *s = named->raw;
    int k = 0, rc;
    while ((word = strtok_r(NULL, " ", &rest)) != NULL)
        bind_word(s, ++k, word);
    if (k != sqlite3_bind_parameter_count(s))
        fail_msg("%s: takes %d", line, sqlite3_bind_parameter_count(s));
    bool reads = sqlite3_column_count(s) > 0;
    rows before = { 0 };
    if (!reads) {
        before = all_rows(db->raw);
        unasked_sql(db->raw, "SAVEPOINT one; PRAGMA defer_foreign_keys = ON"); /* rows that go with others */
    }
    while ((rc = sqlite3_step(s)) == SQLITE_ROW)
        add_row(out, s);
    if (rc != SQLITE_DONE)
        fail_msg("%s: %s", line, sqlite3_errmsg(db->raw));
    sqlite3_reset(s);
    sqlite3_clear_bindings(s);
    if (reads)
        return;
    cw_text_addf(out, "= %d\n", sqlite3_changes(db->raw));
    rows after = all_rows(db->raw);
    add_missing(out, '-', &before, &after);
    add_missing(out, '+', &after, &before);
    rows_free(&before);
    rows_free(&after);
    unasked_sql(db->raw, "ROLLBACK TO one; RELEASE one");
}

/* ---- None is left out ---- */
/* Rows that are handed over to C, come from there, or are the schema; the checks, of which none may find a row. */
static bool is_told_elsewhere(const char *name)
{
    if (strncmp(name, "checks.", 7) == 0)
        return true;
    static const char *const names[] = { "book.lines", "book.firm", "allocations.promise", "file.schema",
                                         "turning.drop_formers" /* desk/test_naming_years */ };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(name, names[i]) == 0)
            return true;
    return false;
}

/* Does some call of it answer a row, or change one? */
static bool is_answered(const char *answers, const char *name)
{
    char call[80];
    size_t n = (size_t)snprintf(call, sizeof call, "> %s", name);
    for (const char *at = strstr(answers, call); at; at = strstr(at + 1, call)) {
        const char *body = strchr(at, '\n');
        if ((at[n] == ' ' || at[n] == '\n') && body && !strchr(">\n", body[1]) && body[1] &&
            strncmp(body, "\n= 0\n", 5) != 0)
            return true;
    }
    return false;
}

static void each_that_chooses_rows_has_a_call_that_finds_some(void **state)
{
    (void)state;
    char *answers = file_text("answers");
    long without = 0;
    for (const cw_sql_statement *s = cw_sql_statements; s->name; s++)
        if ((strstr(s->sql, "WHERE") || strstr(s->sql, "ON CONFLICT")) && !is_told_elsewhere(s->name) &&
            !is_answered(answers, s->name)) {
            print_error("%s: no call in statements/answers finds or changes a row\n", s->name);
            without++;
        }
    free(answers);
    assert_int_equal(without, 0);
}

/* The call's answer as it stands in the file: up to the next call, or the empty line before a comment. */
static size_t answer_length(const char *body)
{
    size_t n = 0;
    while (body[n] && body[n] != '>' && body[n] != '\n')
        n += strcspn(body + n, "\n") + 1;
    return n;
}

static void each_statement_answers_as_it_was_read(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    long calls = 0, wrong = 0;
    char full[600];
    (void)state;
    make_file();
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), &err);
    char *answers = file_text("answers"), *at = answers;
    cw_text anew = CW_TEXT(1 << 22);
    while (*at) {
        size_t n = strcspn(at, "\n");
        cw_text got = CW_TEXT(1 << 20);
        cw_text_addn(&anew, at, n + 1);
        if (*at != '>') {
            at += n + 1;
            continue;
        }
        at[n] = '\0';
        const char *line = at + 2, *body = at + n + 1;
        size_t length = answer_length(body);
        call(db, line, &got);
        calls++;
        if (got.length != length || memcmp(got.data ? got.data : "", body, length) != 0) {
            print_error("%s\n--- answers:\n%s--- should:\n%.*s", line, got.data ? got.data : "", (int)length,
                        body);
            wrong++;
        }
        cw_text_add(&anew, got.data ? got.data : "");
        cw_text_free(&got);
        at += n + 1 + length;
    }
    print_message("%ld calls\n", calls);
    if (getenv("CW_STATEMENTS_WRITE")) {
        snprintf(full, sizeof full, "%s/store/statements/answers", CW_TEST_DIR);
        FILE *f = fopen(full, "wb");
        assert_non_null(f);
        assert_int_equal(fwrite(anew.data, 1, anew.length, f), anew.length);
        fclose(f);
        wrong = 0;
    }
    assert_true(calls > 300);
    assert_int_equal(wrong, 0);
    cw_text_free(&anew);
    free(answers);
    cw_db_close(db);
    drop_file();
}

/* What each order has to send, as one statement tells it that looks at one order after the other: of a line that was shared out what
 * is promised, of any other what it asks; less what has left. */
static const char has_to_send[] =
    "SELECT o.id, CASE o.state WHEN 'shipped' THEN 0 ELSE COALESCE((SELECT SUM(COALESCE("
    "(SELECT SUM(a.quantity) FROM allocation a WHERE a.line_id = l.id), l.quantity)) FROM line l "
    "WHERE l.order_id = o.id), 0) END + (CASE o.state WHEN 'shipped' THEN 1 ELSE -1 END) * "
    "COALESCE((SELECT SUM(k.taken) FROM parcel p JOIN pick k ON k.parcel_id = p.id "
    "WHERE p.order_id = o.id AND p.state = 'shipped'), 0) FROM orders o WHERE o.state <> 'cancelled' ORDER "
    "BY o.id";

static void an_order_has_to_send_what_its_lines_say_one_by_one(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    cw_ship_book book;
    sqlite3_stmt *s = NULL;
    size_t n = 0, some = 0;
    (void)state;
    make_file();
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "test", &db, &err), &err);
    /* A line of an order that came earlier stands last, and so does a promise of nothing. */
    unasked_sql(
        db->raw,
        "UPDATE line SET id = (SELECT MAX(id) FROM line) + 1 WHERE id = (SELECT MIN(l.id) FROM line l "
        "WHERE l.id NOT IN (SELECT line_id FROM allocation) AND l.quantity > 0)");
    cw_check_ok(cw_ship_book_read(db, &book, &err), &err);
    assert_int_equal(sqlite3_prepare_v2(db->raw, has_to_send, -1, &s, NULL), SQLITE_OK);
    for (; sqlite3_step(s) == SQLITE_ROW; n++) {
        assert_true(n < book.orders);
        assert_int_equal(book.order[n].id, sqlite3_column_int64(s, 0));
        assert_int_equal(book.order[n].divisions, sqlite3_column_int64(s, 1));
        some += book.order[n].divisions > 0;
    }
    assert_int_equal(n, book.orders);
    assert_true(some > 3);
    sqlite3_finalize(s);
    cw_ship_book_free(&book);
    cw_db_close(db);
    drop_file();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_statement_answers_as_it_was_read),
        cmocka_unit_test(each_that_chooses_rows_has_a_call_that_finds_some),
        cmocka_unit_test(an_order_has_to_send_what_its_lines_say_one_by_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
