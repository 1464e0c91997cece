/* SPDX-License-Identifier: MIT */
/* One variety alone, of which only its lines are read, is shared as it is among all: the same lines get the same for the same
 * reasons, whatever was written before. The demo season and random work of an office; all data are invented. */
#include "support/demo.h"
#include "support/order_desk.h"
#include "support/rounds.h"

#include "base/rng.h"
#include "desk/share/standing_inside.h"
#include "store/book.h"

#include "base/banned.h"

static void put_rows(const cw_table *t, const char *variety, cw_text *out)
{
    cw_error err = CW_ERROR_NONE;
    cw_table some = *t;
    size_t rows = cw_table_rows(t), first = 0, last;
    while (first < rows && strcmp(cw_table_text(t, first, 0), variety) != 0)
        first++;
    for (last = first; last < rows && strcmp(cw_table_text(t, last, 0), variety) == 0; last++)
        ;
    some.cells += first * t->width;
    some.used = (last - first) * t->width;
    cw_check_ok(cw_table_csv(&some, cw_sink_text(out), &err), &err);
}

/* What a preview says of a variety: its lines under each rule, its totals. */
static void put_said(const cw_allotting *a, const cw_table *lines, const char *variety, cw_text *out)
{
    cw_error err = CW_ERROR_NONE;
    cw_table totals;
    cw_check_ok(cw_allotting_totals(a, false, &totals, NULL, &err), &err);
    put_rows(&totals, variety, out);
    put_rows(lines, variety, out);
    cw_table_free(&totals);
}

typedef struct readings {
    int alone, among; /* varieties of which only their lines were read, and of which all were */
} readings;

static void how_it_was_read(test_nursery *t, const char *variety, readings *seen)
{
    cw_error err = CW_ERROR_NONE;
    cw_standing *s = NULL;
    const cw_basis basis = { .variety = variety };
    cw_check_ok(cw_standing_look(t->n, &t->who, &basis, &s, &err), &err);
    bool alone = s->book->only != CW_BOOK_NONE;
    if (alone)
        assert_string_equal(s->book->variety[s->book->only].code, variety);
    seen->alone += alone;
    seen->among += !alone;
    cw_standing_free(s);
}

static void compare(test_nursery *t, bool tiers_first, readings *seen, const char *when)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting *all = NULL;
    cw_table lines;
    cw_allotting_ask ask = { .tiers_first = tiers_first };
    cw_check_ok(cw_allotting_preview(t->n, &t->who, &ask, &all, &err), &err);
    cw_check_ok(cw_allotting_variety_lines(all, &lines, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&lines); r++) {
        const char *variety = cw_table_text(&lines, r, 0);
        cw_allotting *one = NULL;
        cw_table own;
        cw_text want = CW_TEXT(1 << 22), got = CW_TEXT(1 << 22);
        if (r > 0 && strcmp(cw_table_text(&lines, r - 1, 0), variety) == 0)
            continue;
        ask.variety = variety;
        cw_check_ok(cw_allotting_preview(t->n, &t->who, &ask, &one, &err), &err);
        cw_check_ok(cw_allotting_variety_lines(one, &own, &err), &err);
        put_said(all, &lines, variety, &want);
        put_said(one, &own, variety, &got);
        if (strcmp(want.data, got.data) != 0)
            fail_msg("%s, %s: alone\n%s\namong all\n%s", when, variety, got.data, want.data);
        how_it_was_read(t, variety, seen);
        cw_text_free(&want);
        cw_text_free(&got);
        cw_table_free(&own);
        cw_allotting_free(one);
    }
    cw_table_free(&lines);
    cw_allotting_free(all);
}

/* A few orders leave complete, and one is no longer open. */
static void make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    test_demo_make(t);
    cw_nursery_close(t->n);
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(raw, "UPDATE orders SET ship_complete = 1 WHERE id % 211 = 3", NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_nursery_open(t->path, CW_WORK, "test", &t->n, &err), &err);
}

static const char *any_of(test_nursery *t, cw_rng *rng, const char *what, char text[64])
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    char sql[400];
    snprintf(sql, sizeof sql, "SELECT x FROM (%s) ORDER BY (k * 7919 + %llu) %% 10007, x LIMIT 1", what,
             (unsigned long long)cw_rng_below(rng, 10007));
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(raw, sql, -1, &q, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(raw));
    assert_int_equal(sqlite3_step(q), SQLITE_ROW);
    snprintf(text, 64, "%s", (const char *)sqlite3_column_text(q, 0));
    sqlite3_finalize(q);
    sqlite3_close(raw);
    return text;
}

/* One piece of an office's work; that it may be refused (nothing left on offer, no line 2) is no matter here. */
static void work(test_nursery *t, cw_rng *rng)
{
    static const char *const rules[] = { "first-come", "pro-rata", "one-each-first" };
    static const char orders[] = "SELECT number AS x, id AS k FROM orders WHERE state = 'open'";
    static const char varieties[] = "SELECT code AS x, id AS k FROM variety";
    char text[64];
    cw_error err = CW_ERROR_NONE;
    cw_allotting_done done;
    cw_substituting_done instead;
    cw_allotting_ask ask = { .rule = rules[cw_rng_below(rng, 3)] };
    cw_code code = CW_OK;
    switch (cw_rng_below(rng, 6)) {
    case 0:
        code = cw_ordering_cancel(t->n, &t->who, any_of(t, rng, orders, text), 0, "rang", &err);
        break;
    case 1:
        code = cw_ordering_cancel(t->n, &t->who, any_of(t, rng, orders, text), 1, "rang", &err);
        break;
    case 2:
        code = cw_ordering_change(t->n, &t->who, any_of(t, rng, orders, text), 1,
                                  1 + (int64_t)cw_rng_below(rng, 2), "rang", &err);
        break;
    case 3:
        ask.variety = any_of(t, rng, varieties, text);
        code = cw_allotting_commit(t->n, &t->who, &ask, NULL, &done, NULL, &err);
        break;
    case 4:
        code = cw_substituting_commit(t->n, &t->who, &(cw_substituting_ask){ 0 }, NULL, &instead, NULL, &err);
        break;
    default:
        count_lot(t, any_of(t, rng, "SELECT code AS x, id AS k FROM lot", text), "2032-02-20",
                  (int)cw_rng_below(rng, 60));
    }
    if (code != CW_OK)
        assert_true(code == CW_REFUSED || code == CW_CONFLICT || code == CW_NOT_FOUND);
}

static void alone_as_among_all(void **state)
{
    test_nursery t;
    readings seen = { 0 };
    uint64_t seed = test_seed();
    cw_rng rng;
    (void)state;
    cw_rng_init(&rng, seed, 0);
    make(&t);
    compare(&t, false, &seen, "at first");
    for (int round = 0; round < 6; round++) {
        char when[64];
        snprintf(when, sizeof when, "round %d of seed %llu", round, (unsigned long long)seed);
        for (int k = 0; k < 8; k++)
            work(&t, &rng);
        compare(&t, round % 2, &seen, when);
    }
    /* Both ways of reading were looked at, and some were promised another variety. */
    assert_true(seen.alone > 100 && seen.among > 20);
    assert_true(number_of(&t, "SELECT COUNT(*) FROM allocation WHERE kind = 'substitute'") > 10);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* A preview of one variety stands while another is sold, and falls with an order for it. */
static void what_others_ask_for_leaves_a_preview_standing(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char digest[3][65];
    static const char *const more[] = { "9001,2032-02-19T10:00:00Z,1,MURLA,1,6.50\n",
                                        "9002,2032-02-19T10:00:00Z,1,MURCA,1,6.50\n" };
    (void)state;
    test_demo_make(&t);
    for (int k = 0; k < 3; k++) {
        cw_allotting *a = NULL;
        cw_allotting_ask ask = { .variety = "MURCA" };
        cw_check_ok(cw_allotting_preview(t.n, &t.who, &ask, &a, &err), &err);
        cw_copy(digest[k], sizeof digest[k], cw_allotting_digest(a));
        cw_allotting_free(a);
        char text[200];
        snprintf(text, sizeof text, "order,received_at,line,variety,quantity,unit_price\n%s", more[k % 2]);
        load_text(&t, "orders.csv", text);
    }
    assert_string_equal(digest[0], digest[1]);
    assert_string_not_equal(digest[1], digest[2]);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(alone_as_among_all),
                                        cmocka_unit_test(what_others_ask_for_leaves_a_preview_standing) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
