/* SPDX-License-Identifier: MIT */
/* A preview is what the run does: its bytes, its digest, its sums, and what changed since. */
#include "support/short_amber.h"

#include "desk/share/standing_inside.h"
#include "store/allocations.h"

#include "base/banned.h"

static void the_whole_preview(test_nursery *t, char digest[65], cw_text *csv)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_allotting_ask ask = { 0 };
    cw_check_ok(cw_allotting_preview(t->n, &t->who, &ask, &a, &err), &err);
    cw_copy(digest, 65, cw_allotting_digest(a));
    cw_check_ok(cw_allotting_write(a, false, 0, cw_sink_text(csv), &err), &err);
    cw_allotting_free(a);
}

static void the_same_inputs_give_the_same_bytes(void **state)
{
    static const char turned[] =
        "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none\n"
        "1003,2032-01-05T12:00:00Z,1,AMB,3,6.50,retail,Cy,0\n"
        "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0\n"
        "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50,retail,Ada,0\n";
    test_nursery a, b;
    char first[65], second[65], other[65];
    cw_text csv1 = CW_TEXT(1 << 20), csv2 = CW_TEXT(1 << 20), csv3 = CW_TEXT(1 << 20);
    (void)state;
    make(&a, 3);
    the_whole_preview(&a, first, &csv1);
    the_whole_preview(&a, second, &csv2);
    assert_string_equal(first, second);
    assert_string_equal(csv1.data, csv2.data);
    assert_non_null(strstr(csv1.data, "AMB,1002,1,3,2,1,first-come,"));
    /* The same season loaded in another order. */
    test_nursery_make(&b);
    load_text(&b, "varieties.csv", varieties);
    load_text(&b, "orders.csv", turned);
    load_text(&b, "lots.csv", lots);
    count_lot(&b, "L3", "2032-01-20", 6);
    the_whole_preview(&b, other, &csv3);
    assert_string_equal(first, other);
    assert_string_equal(csv1.data, csv3.data);
    /* One division more is another input. */
    count_lot(&b, "L3", "2032-01-21", 7);
    the_whole_preview(&b, other, &csv3);
    assert_string_not_equal(first, other);
    cw_text_free(&csv1);
    cw_text_free(&csv2);
    cw_text_free(&csv3);
    test_nursery_free(&a);
    test_nursery_free(&b);
}

/* Parts of the lines are written side by side. Their bytes are those of the table of all lines, which is written by itself. */
static void the_parts_of_a_preview_make_the_whole(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_allotting_ask ask = { 0 };
    cw_table whole = { 0 };
    size_t at = 0;
    cw_text csv = CW_TEXT(1 << 20);
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", varieties);
    load_text(&t, "lots.csv", lots);
    cw_text_add(&csv, "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none\n");
    for (int o = 0; o < 2600; o++) /* two parts of 1,024 lines and a piece of a third */
        cw_text_addf(&csv, "%d,2032-01-05T%02d:%02d:00Z,1,%s,%d,6.50,retail,Ada,%d\n", 1000 + o, o / 60 % 24,
                     o % 60, o % 3 ? "AMB" : "BRI", 1 + o % 4, o % 5 == 0);
    load_text(&t, "orders.csv", csv.data);
    count_lot(&t, "L1", "2032-01-20", 3000);
    cw_check_ok(cw_allotting_preview(t.n, &t.who, &ask, &a, &err), &err);
    cw_check_ok(cw_allotting_lines(a, &at, SIZE_MAX, &whole, &err), &err);
    assert_int_equal(cw_table_rows(&whole), 2600 * rules());
    for (int json = 0; json < 2; json++) {
        cw_text as_table = CW_TEXT(32 << 20);
        cw_check_ok(json ? cw_table_json(&whole, cw_sink_text(&as_table), &err)
                         : cw_table_csv(&whole, cw_sink_text(&as_table), &err),
                    &err);
        if (json)
            cw_text_addc(&as_table, '\n');
        for (unsigned threads = 1; threads <= 3; threads++) {
            cw_text parts = CW_TEXT(32 << 20);
            cw_check_ok(cw_allotting_write(a, json, threads, cw_sink_text(&parts), &err), &err);
            assert_int_equal(parts.length, as_table.length);
            assert_memory_equal(parts.data, as_table.data, parts.length);
            cw_text_free(&parts);
        }
        cw_text_free(&as_table);
    }
    cw_table_free(&whole);
    cw_allotting_free(a);
    cw_text_free(&csv);
    test_nursery_free(&t);
}

/* Whatever a preview rests on is in its digest; in each row one thing is other than in the first, and what is free is the
 * same, 3. */
static void whatever_a_preview_rests_on_changes_its_digest(void **state)
{
    static const struct {
        const char *name, *line; /* of order 1002 */
        int firm;                /* of order 1001, before */
    } rows[] = {
        { "as it was", "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0,0", 0 },
        { "another asked", "1002,2032-01-05T11:00:00Z,1,AMB,4,6.50,retail,Bo,0,0", 0 },
        { "another line", "1002,2032-01-05T11:00:00Z,2,AMB,3,6.50,retail,Bo,0,0", 0 },
        { "all or nothing", "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,1,0", 0 },
        { "leaves whole", "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0,1", 0 },
        { "another tier", "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,wholesale,Bo,0,0", 0 },
        { "a second later", "1002,2032-01-05T11:00:01Z,1,AMB,3,6.50,retail,Bo,0,0", 0 },
        { "another variety", "1002,2032-01-05T11:00:00Z,1,BRI,3,6.50,retail,Bo,0,0", 0 },
        { "one is promised", "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0,0", 1 },
    };
    char digest[sizeof rows / sizeof rows[0]][65];
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        static const char header[] =
            "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none,ship_complete\n";
        test_nursery t;
        char text[400];
        cw_text csv = CW_TEXT(1 << 20);
        test_nursery_make(&t);
        load_text(&t, "varieties.csv", varieties);
        load_text(&t, "lots.csv", lots);
        snprintf(text, sizeof text, "%s1001,2032-01-05T10:00:00Z,1,AMB,1,6.50,retail,Ada,0,0\n", header);
        load_text(&t, "orders.csv", text);
        if (rows[i].firm) {
            count_lot(&t, "L1", "2032-01-20", 4);
            make_firm(&t, "first-come", NULL);
            assert_int_equal(promised(&t, "1001", 1), 1);
        }
        snprintf(text, sizeof text, "%s%s\n", header, rows[i].line);
        load_text(&t, "orders.csv", text);
        count_lot(&t, "L1", "2032-01-21", 6 + rows[i].firm);
        the_whole_preview(&t, digest[i], &csv);
        for (size_t k = 0; k < i; k++)
            if (strcmp(digest[i], digest[k]) == 0)
                fail_msg("%s: the digest is that of \"%s\"", rows[i].name, rows[k].name);
        cw_text_free(&csv);
        test_nursery_free(&t);
    }
}

static void an_old_preview_cannot_be_made_firm(void **state)
{
    test_nursery t;
    char digest[65];
    cw_error err = CW_ERROR_NONE;
    cw_allotting_done done;
    cw_allotting_ask ask = { .rule = "first-come" };
    cw_text csv = CW_TEXT(1 << 20);
    (void)state;
    make(&t, 3);
    the_whole_preview(&t, digest, &csv);
    count_lot(&t, "L1", "2032-01-21", 8);
    assert_int_equal(cw_allotting_commit(t.n, &t.who, &ask, digest, &done, NULL, &err), CW_CONFLICT);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM allocation"), 0);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM run"), 0);
    the_whole_preview(&t, digest, &csv);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_allotting_commit(t.n, &t.who, &ask, digest, &done, NULL, &err), &err);
    assert_string_equal(done.digest, digest);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'allocate'"), 1);
    cw_text_free(&csv);
    test_nursery_free(&t);
}

/* Someone cancels after the preview was shown: who gains, who is gone, and nobody else. */
static void what_changed_since_a_preview(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_allotting_ask ask = { .rule = NULL };
    cw_allotting_before before[16];
    cw_table rows, changes;
    size_t n = 0, same = 0;
    (void)state;
    make(&t, 3);
    cw_check_ok(cw_allotting_preview(t.n, &t.who, &ask, &a, &err), &err);
    size_t at = 0;
    cw_check_ok(cw_allotting_lines(a, &at, 100, &rows, &err), &err);
    for (; n < cw_table_rows(&rows); n++)
        cw_check_ok(cw_allotting_before_set(&before[n], cw_table_text(&rows, n, 0),
                                            cw_table_text(&rows, n, 1), cw_table_int(&rows, n, 2),
                                            cw_table_text(&rows, n, 6), cw_table_int(&rows, n, 4), &err),
                    &err);
    assert_int_equal(n, 3 * rules());
    cw_check_ok(cw_allotting_changes(a, before, n, &changes, &same, &err), &err);
    assert_int_equal(cw_table_rows(&changes), 0);
    assert_int_equal(same, 3 * rules());
    cw_table_free(&changes);
    cw_table_free(&rows);
    cw_allotting_free(a);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n1004,2032-01-06T10:00:00Z,1,AMB,1,6.50\n");
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 0, "changed her mind", &err), &err);
    ask.rule = "first-come";
    cw_check_ok(cw_allotting_preview(t.n, &t.who, &ask, &a, &err), &err);
    cw_check_ok(cw_allotting_changes(a, before, n, &changes, &same, &err), &err);
    /* 1001 had 1 of 3, 1002 had 2, 1003 none: now 1002 has 3, 1003 none as before, 1004 is new, 1001 is gone. */
    assert_int_equal(same, 1);
    assert_int_equal(cw_table_rows(&changes), 3);
    assert_string_equal(cw_table_text(&changes, 0, 1), "1002");
    assert_int_equal(cw_table_int(&changes, 0, 4), 2);
    assert_int_equal(cw_table_int(&changes, 0, 5), 3);
    assert_int_equal(cw_table_int(&changes, 0, 6), 1);
    assert_string_equal(cw_table_text(&changes, 1, 1), "1004");
    assert_true(cw_table_cell(&changes, 1, 4)->null);
    assert_string_equal(cw_table_text(&changes, 2, 1), "1001");
    assert_int_equal(cw_table_int(&changes, 2, 6), -1);
    cw_table_free(&changes);
    cw_allotting_free(a);
    assert_int_equal(cw_allotting_before_set(&before[0], "AMB", "1001", 1, "by-favour", 1, &err), CW_REFUSED);
    test_nursery_free(&t);
}

/* What is previewed is what is done: line for line the same sums, varieties with enough for everyone counted too, and the
 * lines that go along with complete orders. */
static void the_sums_of_a_preview_are_those_of_the_run(void **state)
{
    static const char some[] =
        "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none,ship_complete\n"
        "3001,2032-01-05T10:00:00Z,1,AMB,2,6.50,retail,Ada,0,1\n"
        "3001,2032-01-05T10:00:00Z,2,BRI,4,8.00,retail,Ada,0,1\n"
        "3002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0,0\n"
        "3003,2032-01-05T12:00:00Z,1,BRI,2,8.00,retail,Cy,0,0\n";
    static const char *const of[] = { NULL, "AMB", "BRI" };
    char rule[40];
    int64_t others = 0;
    (void)state;
    for (size_t v = 0; v < 3; v++)
        for (int r = 0; rule_at(r, rule); r++) {
            test_nursery t;
            cw_error err = CW_ERROR_NONE;
            cw_allotting *a = NULL;
            cw_allotting_ask ask = { .variety = of[v] };
            cw_allotting_done done;
            cw_table sums;
            test_nursery_make(&t);
            load_text(&t, "varieties.csv", varieties);
            load_text(&t, "lots.csv", lots);
            load_text(&t, "orders.csv", some);
            count_lot(&t, "L1", "2032-01-20", 3 + 4); /* AMB is short by one */
            count_lot(&t, "L2", "2032-01-20", 9);     /* BRI has enough */
            cw_check_ok(cw_allotting_preview(t.n, &t.who, &ask, &a, &err), &err);
            cw_check_ok(cw_allotting_sums(a, &sums, &err), &err);
            assert_string_equal(cw_table_text(&sums, (size_t)r, 0), rule);
            ask.rule = rule;
            cw_check_ok(cw_allotting_commit(t.n, &t.who, &ask, cw_allotting_digest(a), &done, NULL, &err),
                        &err);
            assert_int_equal(done.lines, cw_table_int(&sums, (size_t)r, 1));
            assert_int_equal(done.placed, cw_table_int(&sums, (size_t)r, 2));
            assert_int_equal(done.short_, cw_table_int(&sums, (size_t)r, 3));
            assert_int_equal(done.placed, number_of(&t, "SELECT SUM(quantity) FROM allocation"));
            assert_true(done.placed >= 4);
            others += cw_table_int(&sums, (size_t)r, 7);
            cw_table_free(&sums);
            cw_allotting_free(a);
            test_nursery_free(&t);
        }
    assert_true(others > 0);
}

/* What a promise keeps of an outcome is what its sentence is made of later: each number comes back as it was, up to the most that
 * it can be. */
static void why_is_kept_as_it_was(void **state)
{
    (void)state;
    static const uint8_t reasons[] = { CW_SHARE_FULL, CW_SHARE_HELD, CW_SHARE_NOT_COMPLETE, CW_SHARE_BARRED };
    const int32_t most = (1 << 20) - 1;
    for (size_t k = 0; k < sizeof reasons; k++)
        for (int rule = 0; rule < CW_SHARE_RULES; rule++)
            for (int large = 0; large < 2; large++) {
                bool claims = cw_share_rule_claims((cw_share_rule)rule);
                bool alone = reasons[k] == CW_SHARE_FULL || reasons[k] == CW_SHARE_HELD;
                const cw_share_outcome o = { .allocated = large ? most : 3,
                                             .need = large ? most : 5,
                                             .firm = large ? most : 7,
                                             .place = claims || alone ? 0
                                                      : large         ? INT32_MAX
                                                                      : 11,
                                             .lines = claims || alone ? 0
                                                      : large         ? INT32_MAX
                                                                      : 13,
                                             .part = alone   ? 0
                                                     : large ? INT32_MAX
                                                             : 17,
                                             .supply = alone   ? 0
                                                       : large ? INT64_MAX
                                                               : 19,
                                             .claimed = !claims || alone ? 0
                                                        : large          ? INT64_MAX
                                                                         : 23,
                                             .cause = -1,
                                             .reason = reasons[k],
                                             .rule = (uint8_t)rule,
                                             .tier = large ? 15 : 2,
                                             .tiers_first = large };
                cw_promise_why why;
                cw_share_outcome back;
                int64_t cause = -1;
                cw_why_pack(&o, 29, &why);
                cw_why_unpack(&why, &back, &cause);
                assert_int_equal(cause, alone ? 0 : 29);
                assert_int_equal(back.allocated, o.allocated);
                assert_int_equal(back.need, o.need);
                assert_int_equal(back.firm, o.firm);
                assert_int_equal(back.place, o.place);
                assert_int_equal(back.lines, o.lines);
                assert_int_equal(back.part, o.part);
                assert_int_equal(back.supply, o.supply);
                assert_int_equal(back.claimed, o.claimed);
                assert_int_equal(back.cause, o.cause);
                assert_int_equal(back.reason, o.reason);
                assert_int_equal(back.rule, o.rule);
                assert_int_equal(back.tier, o.tier);
                assert_int_equal(back.tiers_first, o.tiers_first);
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(why_is_kept_as_it_was),
        cmocka_unit_test(the_same_inputs_give_the_same_bytes),
        cmocka_unit_test(the_parts_of_a_preview_make_the_whole),
        cmocka_unit_test(whatever_a_preview_rests_on_changes_its_digest),
        cmocka_unit_test(an_old_preview_cannot_be_made_firm),
        cmocka_unit_test(what_changed_since_a_preview),
        cmocka_unit_test(the_sums_of_a_preview_are_those_of_the_run),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
