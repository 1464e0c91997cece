/* SPDX-License-Identifier: MIT */
/* Orders are found by what a caller has at hand, and long lists come in pages. */
#include "support/three_orders.h"

#include "base/rng.h"

#include "base/banned.h"

static size_t found(test_nursery *t, cw_ordering_query q, char first[40])
{
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    bool more = true;
    cw_check_ok(cw_ordering_find(t->n, &t->who, &q, &rows, &more, &err), &err);
    size_t n = cw_table_rows(&rows);
    cw_copy(first, 40, n > 0 ? cw_table_text(&rows, 0, 0) : "");
    assert_false(more);
    cw_table_free(&rows);
    return n;
}

static void orders_are_found_by_what_a_caller_has_at_hand(void **state)
{
    static const struct {
        const char *name;
        cw_ordering_query q;
        size_t rows;
        const char *first;
    } cases[] = {
        { "all, the latest first", { 0 }, 3, "1003" },
        { "number", { .text = "1002" }, 1, "1002" },
        { "part of a name, any case", { .text = "bostr" }, 1, "1002" },
        { "e-mail", { .text = "cy@example" }, 1, "1003" },
        { "postcode", { .text = "00100" }, 1, "1001" },
        { "a sign that SQL would read as any text", { .text = "100%" }, 1, "1002" },
        { "a sign that SQL would read as any letter", { .text = "o_b@" }, 1, "1002" },
        { "nobody", { .text = "zzz" }, 0, "" },
        { "variety", { .variety = "AMB" }, 2, "1002" },
        { "variety and text", { .variety = "AMB", .text = "Ada" }, 1, "1001" },
        { "state", { .state = "cancelled" }, 0, "" },
        { "week", { .week = 203216 }, 0, "" },
        { "page after the last", { .page = 2 }, 0, "" },
    };
    test_nursery t;
    char first[40];
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        size_t n = found(&t, cases[i].q, first);
        if (n != cases[i].rows || strcmp(first, cases[i].first) != 0)
            fail_msg("%s: %zu rows, first %s", cases[i].name, n, first);
    }
    test_nursery_free(&t);
}

/* A text of a few letters that look alike, signs that LIKE reads as patterns among them. */
static void draw(cw_rng *rng, size_t n, char *out)
{
    static const char *const letters[] = { "a", "A", "b", "B", "z",  "Z",        "@",        "[",
                                           "`", "{", "%", "_", "\\", "\xC3\xA4", "\xC3\x84", " " };
    out[0] = '\0';
    for (size_t i = 0; i < n; i++)
        cw_copy(out + strlen(out), 4, letters[cw_rng_below(rng, sizeof letters / sizeof letters[0])]);
}

/* The numbers of the orders that SQLite's own LIKE finds, the latest first. */
static void liked(sqlite3 *raw, const char *text, cw_text *out)
{
    sqlite3_stmt *s = NULL;
    cw_text pattern = CW_TEXT(400);
    for (const char *c = text; *c; c++)
        cw_text_addf(&pattern, "%s%c", strchr("%_\\", *c) ? "\\" : "", *c);
    assert_int_equal(
        sqlite3_prepare_v2(raw,
                           "SELECT number FROM orders WHERE number LIKE '%' || ?1 || '%' ESCAPE '\\' "
                           "OR customer LIKE '%' || ?1 || '%' ESCAPE '\\' OR email LIKE '%' || ?1 || "
                           "'%' ESCAPE '\\' OR postcode LIKE '%' || ?1 || '%' ESCAPE '\\' "
                           "ORDER BY received_at DESC, id DESC",
                           -1, &s, NULL),
        SQLITE_OK);
    sqlite3_bind_text(s, 1, pattern.data, -1, SQLITE_STATIC);
    while (sqlite3_step(s) == SQLITE_ROW)
        cw_text_addf(out, "%s ", (const char *)sqlite3_column_text(s, 0));
    sqlite3_finalize(s);
    cw_text_free(&pattern);
}

static void what_is_found_is_what_like_finds(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_text text = CW_TEXT(64 * 1024);
    sqlite3 *raw = NULL;
    cw_rng rng;
    char a[64], b[64];
    (void)state;
    make(&t);
    cw_rng_init(&rng, 7, 1);
    cw_text_add(&text, "order,received_at,line,variety,quantity,unit_price,customer,email,postcode\n");
    for (int i = 0; i < 40; i++) { /* not received in the order of their rows, some at the same moment */
        draw(&rng, 1 + cw_rng_below(&rng, 6), a);
        draw(&rng, cw_rng_below(&rng, 4), b);
        cw_text_addf(&text, "N%02d,2032-01-%02dT10:00:00Z,1,AMB,1,6.50,x%sx,y%d@B.example.org,z%sz\n", i,
                     10 + i * 7 % 13, a, i, b);
    }
    load_text(&t, "orders.csv", text.data);
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    size_t some = 0;
    for (int i = 0; i < 300; i++) {
        cw_text expected = CW_TEXT(4096), got = CW_TEXT(4096);
        cw_table rows;
        bool more = false;
        draw(&rng, 1 + cw_rng_below(&rng, 3), a);
        liked(raw, a, &expected);
        cw_check_ok(cw_ordering_find(t.n, &t.who, &(cw_ordering_query){ .text = a }, &rows, &more, &err),
                    &err);
        for (size_t k = 0; k < cw_table_rows(&rows); k++)
            cw_text_addf(&got, "%s ", cw_table_text(&rows, k, 0));
        assert_string_equal(got.data ? got.data : "", expected.data ? expected.data : "");
        some += cw_table_rows(&rows) > 0;
        cw_table_free(&rows);
        cw_text_free(&expected);
        cw_text_free(&got);
    }
    assert_true(some > 50);
    sqlite3_close(raw);
    cw_text_free(&text);
    test_nursery_free(&t);
}

static void long_lists_come_in_pages(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    bool more = false;
    cw_text text = CW_TEXT(64 * 1024);
    (void)state;
    make(&t);
    cw_text_add(&text, "order,received_at,line,variety,quantity,unit_price\n");
    for (int i = 0; i < 98; i++)
        cw_text_addf(&text, "2%03d,2032-01-10T10:00:00Z,1,AMB,1,6.50\n", i);
    load_text(&t, "orders.csv", text.data);
    cw_text_free(&text);
    static const struct {
        int64_t page;
        size_t rows;
        bool more;
        const char *first;
    } pages[] = {
        { 1, 50, true, "2097" }, { 2, 50, true, "2047" }, { 3, 1, false, "1001" }, { 4, 0, false, "" }
    };
    for (size_t i = 0; i < sizeof pages / sizeof pages[0]; i++) {
        cw_ordering_query q = { .page = pages[i].page };
        cw_check_ok(cw_ordering_find(t.n, &t.who, &q, &rows, &more, &err), &err);
        assert_int_equal(cw_table_rows(&rows), pages[i].rows);
        assert_int_equal(more, pages[i].more);
        if (pages[i].rows > 0)
            assert_string_equal(cw_table_text(&rows, 0, 0), pages[i].first);
        cw_table_free(&rows);
    }
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(orders_are_found_by_what_a_caller_has_at_hand),
        cmocka_unit_test(what_is_found_is_what_like_finds),
        cmocka_unit_test(long_lists_come_in_pages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
