/* SPDX-License-Identifier: MIT */
/* Which crates are worth opening, on the demo season: the rota's rows, their order, and what they say. */
#include "support/demo.h"
#include "support/order_desk.h"

#include "desk/bench/rota.h"
#include "desk/cellar/cellar.h"
#include "desk/stock/tracing.h"

#include <math.h>
#include <sqlite3.h>

#include "base/banned.h"

static int64_t int_of(const cw_table *t, size_t row, const char *column)
{
    return cw_table_int(t, row, (size_t)cw_table_column(t, column));
}

static const char *text_of(const cw_table *t, size_t row, const char *column)
{
    return cw_table_text(t, row, (size_t)cw_table_column(t, column));
}

static size_t rota(test_nursery *t, double minutes, cw_table *out)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rota_list(t->n, &t->who, minutes, out, NULL, &err), &err);
    return cw_table_rows(out);
}

static size_t row_of(const cw_table *t, const char *lot)
{
    for (size_t r = 0; r < cw_table_rows(t); r++)
        if (strcmp(text_of(t, r, "lot"), lot) == 0)
            return r;
    return SIZE_MAX;
}

/* The rota keeps to its minutes, walks in order, leaves held crates alone, and passes over what was looked at just now. */
static void test_the_check_rota(void **state)
{
    test_nursery t;
    cw_table list = { 0 }, m = { 0 };
    cw_error err = CW_ERROR_NONE;
    char lot[40], stage[12], other[40];
    int64_t minutes = 0;
    (void)state;
    test_demo_make(&t);
    size_t n = rota(&t, 100, &list);
    assert_true(n >= 5);
    for (size_t r = 0; r < n; r++) {
        minutes += int_of(&list, r, "minutes");
        assert_true(int_of(&list, r, "look") <= int_of(&list, r, "there"));
        if (int_of(&list, r, "rank") == 1) {
            cw_copy(lot, sizeof lot, text_of(&list, r, "lot"));
            cw_copy(stage, sizeof stage, text_of(&list, r, "stage"));
        }
        if (int_of(&list, r, "rank") == 2)
            cw_copy(other, sizeof other, text_of(&list, r, "lot"));
    }
    assert_true(minutes <= 100 + (int64_t)n); /* each is rounded up */
    cw_table_free(&list);
    assert_true(rota(&t, 200, &list) > n);
    cw_table_free(&list);
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot;
    e.stage = stage;
    e.inspected = 500; /* all of it */
    e.rotten = 0;
    cw_check_ok(cw_cellar_check(t.n, &t.who, &e, &m, &err), &err);
    cw_table_free(&m);
    cw_check_ok(cw_tracing_hold(t.n, &t.who, other, "looks sick", &err), &err);
    rota(&t, 400, &list);
    assert_true(row_of(&list, lot) == SIZE_MAX);
    assert_true(row_of(&list, other) == SIZE_MAX);
    cw_table_free(&list);
    assert_int_equal(rota(&t, 0, &list), 0);
    cw_table_free(&list);
    test_nursery_free(&t);
    test_nursery_make(&t); /* an empty file */
    assert_int_equal(rota(&t, -1, &list), 0);
    cw_table_free(&list);
    test_nursery_free(&t);
}

/* The text of one value of the file, "" for none. */
static void value_of(test_nursery *t, const char *sql, const char *lot, const char *stage, char out[64])
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    out[0] = '\0';
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
    sqlite3_bind_text(s, 1, lot, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, stage, -1, SQLITE_STATIC);
    if (sqlite3_step(s) == SQLITE_ROW)
        snprintf(out, 64, "%s", (const char *)sqlite3_column_text(s, 0));
    sqlite3_finalize(s);
    sqlite3_close(raw);
}

/* Each row says where most of the lot's clumps, or divisions, lie, in the order in which one walks by; the notes say in sum what the
 * rows say one by one. Without minutes those of the settings count. */
static void test_the_rota_says_where_and_for_what(void **state)
{
#define THERE                                                                                                \
    "FROM balance b JOIN lot l ON l.id = b.lot_id JOIN place p ON p.id = b.place_id WHERE l.code = ?1 "      \
    "ORDER BY CASE ?2 WHEN 'clump' THEN b.clumps ELSE b.divisions END DESC LIMIT 1"
    test_nursery t;
    cw_table list = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_text notes = CW_TEXT(4000);
    char value[64], before[64] = "", count[16], money[24];
    size_t clumps = 0;
    int64_t last = 0, worth = 0, minutes = 0;
    bool ranks[200] = { false };
    (void)state;
    test_demo_make(&t);
    cw_check_ok(cw_rota_list(t.n, &t.who, 240, &list, &notes, &err), &err);
    size_t n = cw_table_rows(&list), between = 0;
    assert_true(n >= 10 && n <= 200);
    for (size_t r = 0; r < n; r++) {
        const char *lot = text_of(&list, r, "lot"), *stage = text_of(&list, r, "stage");
        value_of(&t, "SELECT p.code " THERE, lot, stage, value);
        assert_string_equal(text_of(&list, r, "place"), value);
        between += strcmp(before, value) != 0;
        cw_copy(before, sizeof before, value);
        value_of(&t, "SELECT p.room " THERE, lot, stage, value);
        assert_string_equal(text_of(&list, r, "room"), value);
        value_of(&t, "SELECT p.walk_order " THERE, lot, stage, value);
        assert_true(strtoll(value, NULL, 10) >= last);
        last = strtoll(value, NULL, 10);
        value_of(
            &t,
            "SELECT v.code FROM lot l JOIN variety v ON v.id = l.variety_id WHERE l.code = ?1 OR l.code = ?2",
            lot, "", value);
        assert_string_equal(text_of(&list, r, "variety"), value);
        int64_t rank = int_of(&list, r, "rank");
        assert_true(rank >= 1 && rank <= (int64_t)n && !ranks[rank - 1]);
        ranks[rank - 1] = true;
        clumps += strcmp(stage, "clump") == 0;
        assert_true(int_of(&list, r, "worth") > 0);
        /* As many as there are, or a round number of them. */
        int64_t look = int_of(&list, r, "look");
        assert_true(look == int_of(&list, r, "there") || look == 5 || look == 10 || look == 20 || look == 40);
        worth += int_of(&list, r, "worth");
        minutes += int_of(&list, r, "minutes");
        assert_true(cw_table_real(&list, r, (size_t)cw_table_column(&list, "weeks")) > 0);
    }
    assert_true(between >= 3 && clumps >= 1);
    assert_ptr_equal(strstr(notes.data, "crates in "), notes.data + snprintf(count, sizeof count, "%zu ", n));
    double said = strtod(strstr(notes.data, " in ") + 4, NULL),
           about = strtod(strstr(notes.data, "about ") + 6, NULL);
    assert_true(said <= 240 && said <= (double)minutes && said >= (double)(minutes - (int64_t)n));
    assert_non_null(strstr(notes.data, " of 240 minutes: what they tell is worth about "));
    cw_cents_format(worth, money);
    assert_true(fabs(about - strtod(money, NULL)) <= 0.01 * (double)n);
    cw_text_free(&notes);
    cw_table_free(&list);
    notes = CW_TEXT(4000);
    cw_check_ok(cw_rota_list(t.n, &t.who, 0, &list, &notes, &err), &err);
    assert_string_equal(notes.data, "Nothing is worth opening in 0 minutes\n");
    cw_text_free(&notes);
    cw_table_free(&list);
    notes = CW_TEXT(4000);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "check_minutes", "33", &err), &err);
    cw_check_ok(cw_rota_list(t.n, &t.who, -1, &list, &notes, &err), &err);
    assert_non_null(strstr(notes.data, " of 33 minutes: "));
    cw_text_free(&notes);
    cw_table_free(&list);
    test_nursery_free(&t);
#undef THERE
}

/* A crate that was emptied today still stands in what is known of yesterday: it lies nowhere, and comes after all that do. */
static void test_a_crate_that_is_gone_lies_nowhere(void **state)
{
    test_nursery t;
    cw_table list = { 0 }, m = { 0 };
    cw_error err = CW_ERROR_NONE;
    char lot[40] = "", stage[12] = "";
    (void)state;
    test_demo_make(&t);
    t.who.today--; /* as it will be asked again */
    rota(&t, 400, &list);
    for (size_t r = 0; r < cw_table_rows(&list); r++)
        if (int_of(&list, r, "rank") == 1) {
            cw_copy(lot, sizeof lot, text_of(&list, r, "lot"));
            cw_copy(stage, sizeof stage, text_of(&list, r, "stage"));
            assert_string_not_equal(text_of(&list, r, "place"), "");
        }
    cw_table_free(&list);
    t.who.today++;
    char there[64];
    value_of(
        &t,
        "SELECT SUM(CASE ?2 WHEN 'clump' THEN b.clumps ELSE b.divisions END) FROM balance b JOIN lot l ON "
        "l.id = b.lot_id WHERE l.code = ?1",
        lot, stage, there);
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot;
    e.stage = stage;
    e.inspected = e.rotten = strtoll(there, NULL, 10);
    assert_true(e.rotten > 0);
    cw_check_ok(cw_cellar_check(t.n, &t.who, &e, &m, &err), &err);
    cw_table_free(&m);
    t.who.today--;
    size_t n = rota(&t, 400, &list), gone = SIZE_MAX;
    for (size_t r = 0; r < n; r++) {
        bool is =
            strcmp(text_of(&list, r, "lot"), lot) == 0 && strcmp(text_of(&list, r, "stage"), stage) == 0;
        gone = is ? r : gone;
        assert_int_equal(text_of(&list, r, "place")[0] == '\0', is);
        assert_int_equal(text_of(&list, r, "room")[0] == '\0', is);
    }
    assert_int_equal(gone, n - 1);
    cw_table_free(&list);
    test_nursery_free(&t);
}

/* Weeks and what is expected rotten have one decimal, in every row. */
static void test_the_rotas_decimals(void **state)
{
    test_nursery t;
    cw_table list = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_text csv = CW_TEXT(1 << 20);
    int decimals = 0, rows = 0;
    (void)state;
    test_demo_make(&t);
    rota(&t, 400, &list);
    cw_check_ok(cw_table_csv(&list, cw_sink_text(&csv), &err), &err);
    const char *line = strchr(csv.data, '\n') + 1;
    assert_memory_equal(csv.data, "lot,variety,name,place,room,stage,there,look,weeks,expect,minutes,", 66);
    for (; *line; line = strchr(line, '\n') + 1, rows++) {
        const char *at = line;
        for (int c = 0; c < 8; c++)
            at = strchr(at, ',') + 1; /* no name of the demo has a comma */
        for (int c = 0; c < 2; c++, at += strcspn(at, ",") + 1) {
            size_t figures = strspn(at, "0123456789");
            if (!(at[figures] == ',' || (at[figures] == '.' && strspn(at + figures + 1, "0123456789") == 1)))
                fail_msg("%.*s", (int)strcspn(line, "\n"), line);
            decimals += at[figures] == '.';
        }
    }
    assert_true(rows >= 10 && decimals > rows);
    cw_text_free(&csv);
    cw_table_free(&list);
    test_nursery_free(&t);
}

/* A row's minutes are those of opening and of each look, as the settings say; its place and its room stand whole, however long. One crate
 * is one crate. */
static void test_the_rotas_minutes_and_places(void **state)
{
    test_nursery t;
    cw_table list = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_text notes = CW_TEXT(4000);
    sqlite3 *raw = NULL;
    (void)state;
    test_demo_make(&t);
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(
            raw,
            "UPDATE place SET code = code || substr('-234567890123456789012345678901', length(code)), room = "
            "printf('%0200d', id) WHERE id > 0",
            NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "open_minutes", "7", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "look_minutes", "0.75", &err), &err);
    size_t n = rota(&t, 300, &list);
    int64_t dearest = 0;
    assert_true(n >= 5);
    for (size_t r = 0; r < n; r++) {
        int64_t minutes = int_of(&list, r, "minutes");
        assert_int_equal(minutes, (int64_t)ceil(7 + 0.75 * (double)int_of(&list, r, "look")));
        assert_int_equal(strlen(text_of(&list, r, "place")), 32);
        assert_int_equal(strlen(text_of(&list, r, "room")), 200);
        dearest = int_of(&list, r, "rank") == 1 ? minutes : dearest;
    }
    cw_table_free(&list);
    /* Room for the first and no other: the least a crate takes is 7 + 5 x 0.75. */
    double minutes = dearest < 20 ? 11 : (double)dearest;
    cw_check_ok(cw_rota_list(t.n, &t.who, minutes, &list, &notes, &err), &err);
    assert_int_equal(cw_table_rows(&list), 1);
    assert_ptr_equal(strstr(notes.data, "1 crate in "), notes.data);
    cw_text_free(&notes);
    cw_table_free(&list);
    test_nursery_free(&t);
}

/* Where everything is cheap a look may be worth less than a cent: that is not listed, a cent is. */
static void test_a_rota_lists_what_is_worth_a_cent(void **state)
{
    test_nursery t;
    size_t cents = 0, rows = 0;
    (void)state;
    test_demo_make(&t);
    for (int price = 1; price < 100; price *= 3) {
        cw_table list = { 0 };
        sqlite3 *raw = NULL;
        char sql[160];
        snprintf(sql, sizeof sql,
                 "UPDATE variety SET price = %d; UPDATE nursery SET trade_revision = trade_revision + 1, "
                 "stock_revision = stock_revision + 1",
                 price);
        assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
        assert_int_equal(sqlite3_exec(raw, sql, NULL, NULL, NULL), SQLITE_OK);
        sqlite3_close(raw);
        size_t n = rota(&t, 10000, &list);
        for (size_t r = 0; r < n; r++, rows++) {
            assert_true(int_of(&list, r, "worth") >= 1);
            cents += int_of(&list, r, "worth") == 1;
        }
        print_message("%d cents apiece: %zu crates, of one cent %zu so far\n", price, n, cents);
        cw_table_free(&list);
    }
    assert_true(cents > 0 && rows > cents);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_check_rota),
        cmocka_unit_test(test_the_rota_says_where_and_for_what),
        cmocka_unit_test(test_a_crate_that_is_gone_lies_nowhere),
        cmocka_unit_test(test_the_rotas_decimals),
        cmocka_unit_test(test_the_rotas_minutes_and_places),
        cmocka_unit_test(test_a_rota_lists_what_is_worth_a_cent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
