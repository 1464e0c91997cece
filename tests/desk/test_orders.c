/* SPDX-License-Identifier: MIT */
#include "support/shop.h"

#include "desk/export/exporting.h"

#include "base/banned.h"

/* One line of AMB, and BRI that may stand in for it, unless the row says otherwise. */
static void make_promised(test_nursery *t, const char *order, int amb, int bri)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    test_nursery_make(t);
    load_text(t, "varieties.csv",
              "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n"
              "BRI,Briar Song,ball,small,pink,6.50\n");
    load_text(t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-20,0\n");
    load_text(t, "orders.csv", order);
    count_lot(t, "L1", "2032-01-20", amb);
    count_lot(t, "L2", "2032-01-20", bri);
    make_firm(t, "first-come", NULL);
    cw_check_ok(cw_substituting_commit(t->n, &t->who, &(cw_substituting_ask){ 0 }, NULL, &done, NULL, &err),
                &err);
}

/* What is promised rests on what the line asked and allowed. A file does not change that under it; where nothing is promised
 * any more, what was shared out of the variety that the line asked before leaves no trace in what it asks now. */
static void a_file_changes_no_line_under_its_promise(void **state)
{
#define HEADER "order,received_at,line,variety,quantity,unit_price,consent,named,all_or_none\n"
#define ORDER  HEADER "1001,2032-01-05T10:00:00Z,1,"
    static const struct {
        const char *name, *had;
        int amb, bri;
        const char *taken_back;   /* of the promise, two of it; NULL: nothing */
        const char *wants, *said; /* said NULL: it is done */
    } rows[] = {
        { "consent withdrawn", "AMB,2,6.50,any,,0", 0, 3, NULL, "AMB,2,6.50,none,,0", "as it allowed" },
        { "another list", "AMB,2,6.50,named,BRI,0", 0, 3, NULL, "AMB,2,6.50,named,AMB,0", "as it allowed" },
        { "dearer than its substitute", "AMB,2,6.50,any,,0", 0, 3, NULL, "AMB,2,9.00,any,,0",
          "as it allowed" },
        { "cheaper", "AMB,2,6.50,any,,0", 0, 3, NULL, "AMB,2,6.00,any,,0", NULL },
        { "taken back first", "AMB,2,6.50,any,,0", 0, 3, "BRI", "AMB,2,6.50,none,,0", NULL },
        { "its substitute is what it asks now", "AMB,2,6.50,any,,0", 0, 3, "BRI", "BRI,2,6.50,none,,0",
          NULL },
        { "it got nothing of what it asked", "AMB,2,6.50,none,,0", 0, 3, NULL, "BRI,2,6.50,none,,0", NULL },
        { "a class in place of a variety", "AMB,2,6.50,none,,0", 0, 3, NULL, ",2,6.50,none,,0", NULL },
        { "part of it is promised", "AMB,3,6.50,none,,0", 2, 0, NULL, "AMB,3,6.50,none,,1",
          "all or nothing" },
        { "all of it is promised", "AMB,2,6.50,none,,0", 2, 0, NULL, "AMB,2,6.50,none,,1", NULL },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        char text[400];
        snprintf(text, sizeof text, ORDER "%s\n", rows[i].had);
        make_promised(&t, text, rows[i].amb, rows[i].bri);
        if (rows[i].taken_back)
            cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1001", 1, rows[i].taken_back, 2, "rang", &err),
                        &err);
        if (rows[i].wants[0] == ',')
            snprintf(text, sizeof text,
                     "order,received_at,line,variety,quantity,unit_price,assortment\n"
                     "1001,2032-01-05T10:00:00Z,1,,2,6.50,colour=pink\n");
        else
            snprintf(text, sizeof text, ORDER "%s\n", rows[i].wants);
        cw_intake_file f = file("orders.csv", text);
        loaded l = load_with(&t, &f, 1, (cw_intake_options){ .changes = true });
        if (l.code != (rows[i].said ? CW_CONFLICT : CW_OK) ||
            (rows[i].said && !strstr(l.first, rows[i].said)))
            fail_msg("%s: %d %s", rows[i].name, (int)l.code, l.first);
        print_message("  %s\n", rows[i].name);
        test_nursery_check(&t);
        make_firm(&t, "first-come", NULL); /* with a check */
        test_nursery_free(&t);
    }
#undef ORDER
#undef HEADER
}

/* The dearest lines there may be, as many as fill a large file: what is added up over them stays a number. */
static void money_does_not_run_over(void **state)
{
    static const struct {
        const char *line, *said; /* said NULL: it is taken */
    } rows[] = {
        { "AMB,100000,1000000000.00", "the line is worth more than" },
        { "AMB,2,500000000.01", "the line is worth more than" },
        { "AMB,100000,10000.00", NULL },
        { "AMB,1,1000000000.00", NULL },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_text text = CW_TEXT(1 << 20);
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char line[200];
        snprintf(line, sizeof line, ORDER_HEADER "X%zu,2032-01-25T10:00:00Z,1,%s\n", i, rows[i].line);
        loaded l = load_one(&t, "orders.csv", line);
        if (rows[i].said ? l.code != CW_REFUSED || !strstr(l.first, rows[i].said) : l.code != CW_OK)
            fail_msg("%s: %d %s", rows[i].line, (int)l.code, l.first);
    }
    cw_check_ok(cw_ordering_change(t.n, &t.who, "X3", 1, 1, "x", &err), &err);
    assert_int_equal(cw_ordering_change(t.n, &t.who, "X3", 1, 2, "x", &err), CW_REFUSED);
    assert_string_equal(err.text, "the line would be worth more than 1000000000 in all");
    err = (cw_error)CW_ERROR_NONE;
    load_text(&t, "orders.csv", ORDER_HEADER "X9,2032-01-25T10:00:00Z,1,AMB,1,500000000.00\n");
    cw_check_ok(cw_ordering_change(t.n, &t.who, "X9", 1, 2, "x", &err), &err); /* exactly as much as may be */
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "X9", 0, "x", &err), &err);
    cw_text_add(&text, ORDER_HEADER);
    for (int i = 0; i < 5000; i++)
        cw_text_addf(&text, "Y%04d,2032-01-25T10:00:00Z,1,AMB,100000,10000.00\n", i);
    ok(load_one(&t, "orders.csv", text.data));
    cw_text_free(&text);
    cw_check_ok(cw_allotting_short(t.n, &t.who, NULL, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    assert_true(cw_table_int(&out, 0, 8) > 5000 * 99000000000LL);
    cw_table_free(&out);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void a_retired_variety_takes_no_new_order(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    ok(load_one(&t, "varieties.csv", "code,name,retired\nAMB,Amber Lantern,yes\n"));
    loaded l = load_one(&t, "orders.csv", ORDER_HEADER "9,2032-01-25T10:00:00Z,1,AMB,1,6\n");
    assert_string_equal(l.first, "orders.csv:2: variety: the variety is retired and is not sold: AMB");
    ok(load_one(&t, "orders.csv", orders)); /* what was taken before stands */
    test_nursery_free(&t);
}

/* An order that does not say when it came is after all that are on record, whatever the clock does; so first-come serves by
 * arrival. The numbers go down, so that they cannot do it. */
static void who_comes_later_is_served_later(void **state)
{
    static const struct {
        const char *what, *number;
        cw_instant after;
    } rows[] = { { "as it should be", "Z9", 0 },
                 { "in the same millisecond", "Z8", 0 },
                 { "back by an hour", "M5", -3600000 },
                 { "back by most of a day", "M4", -23 * 3600000 },
                 { "right again, at the same millisecond", "C2", 0 },
                 { "right again, later", "A1", 60000 } };
    char text[160];
    int64_t had = 30;
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t)); /* 51 of AMB, 3 of them sold */
    release(&t, "AMB", 500);
    cw_instant start = t.who.now;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        t.who.now = start + rows[i].after;
        snprintf(text, sizeof text,
                 "{\"order\":\"%s\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":30,\"unit_price\":6}]}",
                 rows[i].number);
        taken k = take(&t, text);
        assert_string_equal(k.first, "");
        json_decref(k.answer);
        snprintf(text, sizeof text, "SELECT received_at FROM orders WHERE number = '%s'", rows[i].number);
        int64_t at = number_of(&t, text), clock = t.who.now;
        if (i == 0 || i + 1 == sizeof rows / sizeof rows[0] ? at != clock : at < start || at > start + 1000)
            fail_msg("%s: received at %lld, now is %lld", rows[i].what, (long long)at, (long long)clock);
    }
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t gets = preview_of(&t, "first-come", "AMB", rows[i].number, 1);
        if (gets > had || (i == 0 && gets < 30) || (i == 1 && gets == 0) || (i > 1 && gets > 0))
            fail_msg("%s: %s gets %lld", rows[i].what, rows[i].number, (long long)gets);
        had = gets;
    }
    /* One with a wrong date, far ahead, does not take those after it along. */
    static const char
        ahead[] = "{\"order\":\"Y1\",\"received_at\":\"2099-01-01T00:00:00Z\",\"lines\":[{\"variety\":"
                  "\"AMB\",\"quantity\":1,\"unit_price\":6}]}",
        next[] = "{\"order\":\"Y2\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":6}]}";
    t.who.now = start + 120000;
    json_decref(take(&t, ahead).answer);
    json_decref(take(&t, next).answer);
    assert_int_equal(number_of(&t, "SELECT received_at FROM orders WHERE number = 'Y2'"), t.who.now);
    test_nursery_free(&t);
}

/* Past sales are known by season and variety: loaded again they change nothing, corrected they are audited, and what
 * is written out can be read in again. */
static void past_sales_are_kept_by_season_and_variety(void **state)
{
    static const char sales[] =
        "season,variety,sold,sold_out_on\n2029,AMB,40,\n2030,AMB,55,2031-02-14\n2030,BRI,12,\n";
    static const struct {
        const char *what, *text, *first;
    } bad[] = {
        { "this season", "season,variety,sold\n2031,AMB,4\n",
          "past_sales.csv:2: season: this file's season is 2031, and past sales are of seasons before it: "
          "2031" },
        { "sold out years later", "season,variety,sold,sold_out_on\n2028,AMB,4,2031-01-01\n",
          "past_sales.csv:2: sold_out_on: must lie in the season's year (2028) or the one after it: "
          "2031-01-01" },
        { "no such day", "season,variety,sold,sold_out_on\n2028,AMB,4,2029-02-29\n",
          "past_sales.csv:2: sold_out_on: must be a day that exists, as 2032-04-19: 2029-02-29" },
        { "twice", "season,variety,sold\n2028,AMB,4\n2028,AMB,5\n",
          "past_sales.csv:3: season: this row of past sales stands twice in the file, first on line 2: 2028 "
          "AMB" },
        { "unknown variety", "season,variety,sold\n2028,QQ,4\n",
          "past_sales.csv:2: variety: there is no variety of this code: QQ" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_text csv = CW_TEXT(1 << 16);
    (void)state;
    test_nursery_make(&t);
    ok(load_all(&t));
    loaded l = load_one(&t, "past_sales.csv", sales);
    ok(l);
    assert_int_equal(l.made, 3);
    cw_check_ok(cw_exporting_table(t.n, &t.who, "past_sales", &out, &err), &err);
    cw_check_ok(cw_table_csv(&out, cw_sink_text(&csv), &err), &err);
    cw_table_free(&out);
    assert_string_equal(csv.data, sales);
    l = load_one(&t, "past_sales.csv", csv.data);
    ok(l);
    assert_int_equal(l.unchanged, 3);
    l = load_one(&t, "past_sales.csv",
                 "season,variety,sold\n2030,AMB,57\n"); /* keeps the day that it does not name */
    ok(l);
    assert_int_equal(l.changed, 1);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM past_sale WHERE sold = 57 AND sold_out_on IS NOT NULL"), 1);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE subject = 'row of past sales 2030 AMB'"),
                     1);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        l = load_one(&t, "past_sales.csv", bad[i].text);
        if (l.code == CW_OK || strstr(l.first, bad[i].first) == NULL)
            fail_msg("%s: %s", bad[i].what, l.first);
    }
    cw_text_free(&csv);
    test_nursery_free(&t);
}

static void schema_of(test_nursery *t, cw_text *out)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, "SELECT type, name, sql FROM sqlite_schema ORDER BY type, name",
                                        -1, &s, NULL),
                     SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW)
        for (int c = 0; c < 3; c++)
            cw_text_addf(out, "%s\n",
                         sqlite3_column_text(s, c) ? (const char *)sqlite3_column_text(s, c) : "");
    sqlite3_finalize(s);
    sqlite3_close(raw);
}

/* A file of more than a megabyte; the last line may ask for a variety that is none. */
static void many_orders(cw_text *out, int from, const char *last)
{
    cw_text_clear(out);
    cw_text_add(out, "order,received_at,line,variety,quantity,unit_price,customer,email\n");
    for (int i = 0; i < 8000; i++)
        for (int line = 1; line <= 2; line++)
            cw_text_addf(out,
                         "%d,2032-01-05T10:00:00Z,%d,%s,1,6.50,Somebody Invented %d,nobody%d@example.org\n",
                         from + i, line,
                         i == 7999 && line == 2 ? last
                         : line == 1            ? "AMB"
                                                : "BRI",
                         i % 977, i % 977);
    assert_true(out->length > 1 << 20);
}

/* Their indexes are made at the end: the file is the same as if each row had gone into them, also after a load that was refused. */
static void a_first_load_leaves_every_index(void **state)
{
    test_nursery t;
    cw_text before = CW_TEXT(1 << 20), after = CW_TEXT(1 << 20), csv = CW_TEXT(4 << 20);
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv",
              "code,name,form,size,colour,price,hold_back,reserve\n"
              "AMB,Amber Lantern,ball,small,orange,6.50,2,1\nBRI,Briar Song,cactus,large,pink,8.00,0,0\n");
    schema_of(&t, &before);
    many_orders(&csv, 100000, "NONE");
    loaded l = load_one(&t, "orders.csv", csv.data);
    assert_int_not_equal(l.code, CW_OK);
    schema_of(&t, &after);
    assert_string_equal(after.data, before.data);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders"), 0);
    int64_t version = number_of(&t, "PRAGMA schema_version");
    many_orders(&csv, 100000, "BRI");
    load_text(&t, "orders.csv", csv.data);
    assert_int_equal(number_of(&t, "PRAGMA schema_version") - version, 8); /* four go, four come */
    many_orders(&csv, 200000, "BRI");
    load_text(&t, "orders.csv", csv.data); /* no first load any more */
    assert_int_equal(number_of(&t, "PRAGMA schema_version") - version, 8);
    cw_text_clear(&after);
    schema_of(&t, &after);
    assert_string_equal(after.data, before.data);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM line INDEXED BY line_by_variety WHERE variety_id = "
                                   "(SELECT id FROM variety WHERE code = 'AMB')"),
                     16000);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM orders INDEXED BY orders_by_email WHERE "
                                   "lower(trim(email)) = 'nobody3@example.org'"),
                     18);
    test_nursery_check(&t);
    cw_text_free(&before);
    cw_text_free(&after);
    cw_text_free(&csv);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_changes_no_line_under_its_promise),
        cmocka_unit_test(money_does_not_run_over),
        cmocka_unit_test(a_retired_variety_takes_no_new_order),
        cmocka_unit_test(who_comes_later_is_served_later),
        cmocka_unit_test(a_first_load_leaves_every_index),
        cmocka_unit_test(past_sales_are_kept_by_season_and_variety),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
