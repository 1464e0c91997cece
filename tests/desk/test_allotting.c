/* SPDX-License-Identifier: MIT */
/* Sharing out at the order desk: what a run makes firm stays firm, the same inputs give the same outcome, and what is
 * said is what is written. The rules' own mathematics is tested in tests/unit and tests/published; the numbers asked
 * 1, 3, 3 are the worked example of the trade notes (a share that falls when the stock grows). */
#include "support/short_amber.h"

#include "base/banned.h"

static void firm_shares_stay_and_only_the_addition_is_shared(void **state)
{
    test_nursery t;
    (void)state;
    make(&t, 3);
    cw_allotting_done done = make_firm(&t, "pro-rata", NULL);
    assert_int_equal(done.placed, 3);
    assert_int_equal(done.short_, 4);
    assert_int_equal(promised(&t, "1001", 1), 1);
    assert_int_equal(promised(&t, "1002", 1), 1);
    assert_int_equal(promised(&t, "1003", 1), 1);
    /* Shared anew, 4 would be 0, 2, 2; the first order keeps what it was promised. */
    count_lot(&t, "L1", "2032-01-21", 7);
    done = make_firm(&t, "pro-rata", NULL);
    assert_int_equal(done.placed, 1);
    assert_int_equal(promised(&t, "1001", 1), 1);
    assert_int_equal(promised(&t, "1002", 1) + promised(&t, "1003", 1), 3);
    /* Nothing is left to give, and a run with nothing to give changes nothing. */
    done = make_firm(&t, "one-each-first", NULL);
    assert_int_equal(done.placed, 0);
    assert_int_equal(promised(&t, "1001", 1), 1);
    test_nursery_free(&t);
}

static void lots_that_are_held_do_not_count(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make(&t, 3);
    assert_int_equal(preview_of(&t, "first-come", "AMB", "1002", 1), 2);
    sqlite3 *raw = NULL;
    cw_nursery_close(t.n);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(raw, "UPDATE lot SET held = 'mislabelled' WHERE code = 'L1'", NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    assert_int_equal(preview_of(&t, "first-come", "AMB", "1002", 1), 0);
    test_nursery_free(&t);
}

static void taking_back_needs_a_reason_and_a_right(void **state)
{
    test_nursery t;
    (void)state;
    make(&t, 10);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none\n"
              "1004,2032-01-05T13:00:00Z,1,AMB,3,6.50,retail,Di,1\n");
    make_firm(&t, "first-come", NULL);
    assert_int_equal(promised(&t, "1003", 1), 3);
    assert_int_equal(promised(&t, "1004", 1), 3);
    struct {
        const char *name, *order, *variety, *why;
        int line;
        int64_t quantity;
        cw_role role;
        cw_code want;
    } rows[] = {
        { "no reason", "1003", "AMB", "", 1, 1, CW_ROLE_OWNER, CW_REFUSED },
        { "a packer", "1003", "AMB", "rot", 1, 1, CW_ROLE_PACKER, CW_FORBIDDEN },
        { "more than promised", "1003", "AMB", "rot", 1, 4, CW_ROLE_OFFICE, CW_CONFLICT },
        { "another variety", "1003", "BRI", "rot", 1, 1, CW_ROLE_OFFICE, CW_CONFLICT },
        { "no such order", "1009", "AMB", "rot", 1, 1, CW_ROLE_OFFICE, CW_NOT_FOUND },
        { "no such line", "1003", "AMB", "rot", 2, 1, CW_ROLE_OFFICE, CW_NOT_FOUND },
        { "none", "1003", "AMB", "rot", 1, 0, CW_ROLE_OFFICE, CW_REFUSED },
        { "allowed", "1003", "AMB", "rot in the cellar", 1, 2, CW_ROLE_OFFICE, CW_OK },
        { "the last one, for a reason of one letter", "1003", "AMB", "r", 1, 1, CW_ROLE_OFFICE, CW_OK },
        { "part of all or nothing", "1004", "AMB", "rot", 1, 2, CW_ROLE_OFFICE, CW_REFUSED },
        { "all of all or nothing", "1004", "AMB", "rot", 1, 3, CW_ROLE_OFFICE, CW_OK },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        t.who.role = rows[i].role;
        cw_code got = cw_allotting_take_back(t.n, &t.who, rows[i].order, rows[i].line, rows[i].variety,
                                             rows[i].quantity, rows[i].why, &err);
        if (got != rows[i].want)
            fail_msg("%s: got %d, want %d: %s", rows[i].name, got, rows[i].want, err.text);
        test_nursery_check(&t);
    }
    t.who.role = CW_ROLE_OWNER;
    assert_int_equal(promised(&t, "1003", 1), 0);
    assert_int_equal(promised(&t, "1004", 1), 0);
    assert_int_equal(number_of(&t, "SELECT SUM(quantity) FROM taken_back"), 6);
    rows_are(&t, "SELECT before, after, note FROM order_event WHERE kind = 'taken back' ORDER BY id",
             "2 AMB||rot in the cellar\n1 AMB||r\n3 AMB||rot\n");
    rows_are(&t, "SELECT subject, before FROM audit WHERE action = 'take back' ORDER BY id",
             "order 1003 line 1|2 AMB\norder 1003 line 1|1 AMB\norder 1004 line 1|3 AMB\n");
    test_nursery_free(&t);
}

static void complete_orders_are_promised_whole_or_not_at_all(void **state)
{
    static const char whole[] = "order,received_at,line,variety,quantity,unit_price,customer,ship_complete\n"
                                "900,2032-01-04T10:00:00Z,1,AMB,2,6.50,Whole,1\n"
                                "900,2032-01-04T10:00:00Z,2,BRI,2,8.00,Whole,1\n";
    test_nursery t;
    (void)state;
    make(&t, 3);
    load_text(&t, "orders-2.csv", whole);
    /* First in the queue for AMB, but there is no BRI: passed over. */
    make_firm(&t, "first-come", "AMB");
    assert_int_equal(promised(&t, "900", 1), 0);
    assert_int_equal(promised(&t, "1001", 1), 1);
    assert_int_equal(promised(&t, "1002", 1), 2);
    /* With stock for both, making AMB firm alone promises the order's other line with it. */
    count_lot(&t, "L1", "2032-01-21", 8);
    count_lot(&t, "L2", "2032-01-21", 5);
    make_firm(&t, "first-come", "AMB");
    assert_int_equal(promised(&t, "900", 1), 2);
    assert_int_equal(promised(&t, "900", 2), 2);
    test_nursery_free(&t);
}

/* What nobody says is as the settings say. */
static void from_what_is_counted(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_set(t->n, &t->who, "supply", "counted", &err), &err);
}

static void who_is_hit_when_counts_fall(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table hit;
    (void)state;
    make(&t, 7);
    from_what_is_counted(&t);
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_allotting_hit(t.n, &t.who, NULL, &hit, &err), &err);
    assert_int_equal(cw_table_rows(&hit), 0);
    cw_table_free(&hit);
    /* 7 promised, 3 kept: of 6 left only 3 may go out, so 4 are missing: the latest first. */
    count_lot(&t, "L1", "2032-01-21", 6);
    cw_check_ok(cw_allotting_hit(t.n, &t.who, NULL, &hit, &err), &err);
    assert_int_equal(cw_table_rows(&hit), 2);
    assert_string_equal(cw_table_text(&hit, 0, 0), "1003");
    assert_int_equal(cw_table_int(&hit, 0, 5), 3);
    assert_string_equal(cw_table_text(&hit, 1, 0), "1002");
    assert_int_equal(cw_table_int(&hit, 1, 5), 1);
    assert_non_null(strstr(cw_table_text(&hit, 1, 6), "would lose 1 of its 3"));
    assert_int_equal(promised(&t, "1003", 1), 3); /* nothing moved by itself */
    cw_table_free(&hit);
    test_nursery_free(&t);
}

static void who_is_short_and_who_is_next(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    (void)state;
    make(&t, 3);
    from_what_is_counted(&t);
    make_firm(&t, "one-each-first", NULL);
    cw_check_ok(cw_allotting_short(t.n, &t.who, NULL, &rows, &err), &err);
    assert_int_equal(cw_table_rows(&rows), 1);
    assert_int_equal(cw_table_int(&rows, 0, 5), 4);       /* short */
    assert_int_equal(cw_table_int(&rows, 0, 6), 2);       /* lines */
    assert_int_equal(cw_table_int(&rows, 0, 8), 4 * 650); /* harm */
    cw_table_free(&rows);
    /* One division comes free: the earlier of the two that have one each. */
    count_lot(&t, "L1", "2032-01-21", 7);
    cw_check_ok(cw_allotting_waitlist(t.n, &t.who, "AMB", &rows, &err), &err);
    assert_int_equal(cw_table_rows(&rows), 2);
    assert_string_equal(cw_table_text(&rows, 0, 0), "1002");
    assert_int_equal(cw_table_int(&rows, 0, 5), 1); /* now */
    assert_string_equal(cw_table_text(&rows, 1, 0), "1003");
    assert_int_equal(cw_table_int(&rows, 1, 5), 0);
    cw_table_free(&rows);
    assert_int_equal(cw_allotting_waitlist(t.n, &t.who, "NONE", &rows, &err), CW_NOT_FOUND);
    cw_table_free(&rows);
    test_nursery_free(&t);
}

/* Wholesale came last and asks most; the order of service of first-come is another than that of the other rules. */
static const char mixed[] =
    "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none,ship_complete\n"
    "2001,2032-01-05T10:00:00Z,1,AMB,2,6.50,retail,Ada,0,0\n"
    "2002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0,0\n"
    "2003,2032-01-05T12:00:00Z,1,AMB,4,6.50,wholesale,Cy,0,0\n"
    "2004,2032-01-05T13:00:00Z,1,AMB,5,6.50,other,Di,0,0\n"
    "2005,2032-01-05T14:00:00Z,1,AMB,3,6.50,retail,Ed,1,0\n"
    "2006,2032-01-05T15:00:00Z,1,AMB,6,6.50,wholesale,Flo,0,0\n"
    "2007,2032-01-05T15:00:00Z,1,BRI,6,6.50,wholesale,Flo,0,0\n";

static void firm_by(test_nursery *t, const char *rule, bool tiers, const char *variety)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting_done done;
    cw_allotting_ask ask = { .rule = rule, .variety = variety, .tiers_first = tiers };
    cw_check_ok(cw_allotting_commit(t->n, &t->who, &ask, NULL, &done, NULL, &err), &err);
}

/* One division after the other comes free and is made firm: the first of the list is the one that gets it. */
static void follow_the_list(const char *rule, bool tiers)
{
    test_nursery t;
    char text[200], first[40];
    int followed = 0;
    test_nursery_make(&t);
    from_what_is_counted(&t);
    load_text(&t, "varieties.csv", varieties);
    load_text(&t, "lots.csv", lots);
    load_text(&t, "orders.csv", mixed);
    count_lot(&t, "L1", "2032-01-20", 3 + 5);
    firm_by(&t, rule, tiers, NULL);
    firm_by(&t, "first-come", false,
            "BRI"); /* of another variety: not the rule that is in force for this one */
    for (int stock = 9; stock < 30; stock++) {
        cw_error err = CW_ERROR_NONE;
        cw_table rows;
        cw_check_ok(cw_allotting_waitlist(t.n, &t.who, "AMB", &rows, &err), &err);
        const char *says = cw_table_rows(&rows) ? cw_table_text(&rows, 0, 7) : "";
        if (strstr(says, "Number 1 of ") == NULL) {
            cw_table_free(&rows); /* only the line is left that takes all or nothing */
            break;
        }
        snprintf(text, sizeof text, "waiting, by %s%s; ", rule,
                 tiers && strcmp(rule, "first-come") != 0 ? ", tiers first" : "");
        if (strstr(says, text) == NULL)
            fail_msg("%s: %s", text, says);
        cw_copy(first, sizeof first, cw_table_text(&rows, 0, 0));
        cw_table_free(&rows);
        int64_t before = promised(&t, first, 1);
        snprintf(text, sizeof text, "2032-01-%d", stock < 29 ? 21 + (stock - 9) / 3 : 31);
        count_lot(&t, "L1", text, 3 + stock - 3);
        firm_by(&t, rule, tiers, "AMB");
        if (promised(&t, first, 1) != before + 1)
            fail_msg("%s%s: %s is told Number 1, and with %d in store another is served", rule,
                     tiers ? ", tiers first" : "", first, stock);
        followed++;
    }
    assert_true(followed >= 10);
    test_nursery_free(&t);
}

static void what_is_read_out_is_what_happens(void **state)
{
    char rule[40];
    int r = 0;
    (void)state;
    for (; rule_at(r, rule); r++)
        for (int tiers = 0; tiers < 2; tiers++)
            follow_the_list(rule, tiers);
    assert_true(r >= 3);
}

/* A line that takes all or nothing has no number: it is passed over, and says until when. */
static void who_waits_beside_the_queue(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table rows;
    (void)state;
    test_nursery_make(&t);
    from_what_is_counted(&t);
    load_text(&t, "varieties.csv", varieties);
    load_text(&t, "lots.csv", lots);
    load_text(&t, "orders.csv", mixed);
    cw_check_ok(cw_allotting_waitlist(t.n, &t.who, "AMB", &rows, &err), &err);
    assert_int_equal(cw_table_rows(&rows), 6);
    assert_string_equal(cw_table_text(&rows, 0, 0), "2003"); /* first-come until there is a run: wholesale */
    assert_non_null(strstr(cw_table_text(&rows, 4, 7), "Number 5 of 5 waiting, by first-come"));
    assert_string_equal(cw_table_text(&rows, 5, 0), "2005");
    assert_non_null(strstr(cw_table_text(&rows, 5, 7), "beside the queue"));
    assert_non_null(strstr(cw_table_text(&rows, 5, 7),
                           "passed over until enough are free at once when its turn comes: 3"));
    cw_table_free(&rows);
    test_nursery_free(&t);
}

/* One default wherever nobody says what there is: the setting. */
static void one_supply_where_nobody_says(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_allotting_ask ask;
    (void)state;
    make(&t, 3);
    cw_check_ok(cw_allotting_default(t.n, &ask, &err), &err);
    assert_true(ask.projected && !ask.tiers_first && ask.rule == NULL);
    make_firm(&t, "first-come", NULL); /* from what is counted: the default stays what it is */
    cw_check_ok(cw_allotting_default(t.n, &ask, &err), &err);
    assert_true(ask.projected);
    from_what_is_counted(&t);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "tiers_first", "1", &err), &err);
    cw_check_ok(cw_allotting_default(t.n, &ask, &err), &err);
    assert_true(!ask.projected && ask.tiers_first);
    assert_int_equal(cw_nursery_set(t.n, &t.who, "supply", "hoped", &err), CW_REFUSED);
    test_nursery_free(&t);
}

static void small_orders_are_flagged(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_table rows;
    int64_t count = 0;
    cw_cents minimum = 0;
    cw_allotting_ask ask = { .rule = "first-come" };
    (void)state;
    make(&t, 3);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "order_minimum", "10.00", &err), &err);
    cw_check_ok(cw_allotting_preview(t.n, &t.who, &ask, &a, &err), &err);
    cw_check_ok(cw_allotting_below_minimum(t.n, a, &rows, &count, &minimum, &err), &err);
    /* 1001 was below the minimum from the start; 1002 keeps 2 (13.00); 1003 gets nothing. */
    assert_int_equal(count, 1);
    assert_int_equal(minimum, 1000);
    assert_string_equal(cw_table_text(&rows, 0, 0), "1003");
    assert_int_equal(cw_table_int(&rows, 0, 2), 1950);
    assert_int_equal(cw_table_int(&rows, 0, 3), 0);
    cw_table_free(&rows);
    cw_allotting_free(a);
    test_nursery_free(&t);
}

static void pieces_make_the_whole(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_table whole, piece;
    cw_allotting_ask ask = { 0 };
    cw_text json = CW_TEXT(1 << 20);
    size_t at = 0, rows = 0;
    (void)state;
    make(&t, 3);
    cw_check_ok(cw_allotting_preview(t.n, &t.who, &ask, &a, &err), &err);
    cw_check_ok(cw_allotting_variety_lines(a, &whole, &err), &err);
    assert_int_equal(cw_table_rows(&whole), 3 * rules());
    assert_int_equal(cw_allotting_rows(a), 3 * rules());
    for (;;) {
        cw_check_ok(cw_allotting_lines(a, &at, 2, &piece, &err), &err);
        size_t n = cw_table_rows(&piece);
        for (size_t r = 0; r < n; r++)
            assert_string_equal(cw_table_text(&piece, r, 7), cw_table_text(&whole, rows + r, 7));
        rows += n;
        cw_table_free(&piece);
        if (n == 0)
            break;
    }
    assert_int_equal(rows, 3 * rules());
    cw_check_ok(cw_allotting_write(a, true, 0, cw_sink_text(&json), &err), &err);
    json_t *parsed = json_loads(json.data, 0, NULL);
    assert_non_null(parsed);
    assert_int_equal(json_array_size(parsed), 3 * rules());
    json_decref(parsed);
    cw_text_free(&json);
    cw_table_free(&whole);
    cw_allotting_free(a);
    test_nursery_free(&t);
}

/* Gives up at the n-th telling. */
static bool give_up(void *context, const char *what, uint64_t done, uint64_t all)
{
    int *left = context;
    (void)what;
    (void)done;
    (void)all;
    return (*left)-- > 0;
}

static void a_run_given_up_leaves_nothing(void **state)
{
    test_nursery t;
    cw_allotting_done done;
    cw_allotting_ask ask = { .rule = "first-come" };
    cw_code code = CW_REFUSED;
    int tellings = 0;
    (void)state;
    make(&t, 3);
    t.who.progress = give_up;
    for (; code != CW_OK; tellings++) {
        cw_error err = CW_ERROR_NONE;
        int left = tellings;
        t.who.progress_context = &left;
        code = cw_allotting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err);
        if (code == CW_OK)
            break;
        assert_int_equal(code, CW_REFUSED);
        assert_non_null(strstr(err.text, "given up"));
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM allocation"), 0);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM run"), 0);
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'allocate'"), 0);
    }
    assert_true(tellings >= 3); /* reading, sharing out, making firm */
    assert_true(number_of(&t, "SELECT COUNT(*) FROM allocation") > 0);
    test_nursery_free(&t);
}

/* What must be refused, and the word of the sentence that says why. */
static void wrong_asks_are_refused(void **state)
{
    static const struct {
        const char *name;
        cw_allotting_ask ask;
        cw_code want;
        const char *says;
    } rows[] = {
        { "no rule to make firm", { 0 }, CW_USAGE, "which rule" },
        { "an unknown rule", { .rule = "by-favour" }, CW_REFUSED, "by-favour" },
        { "an unknown variety", { .rule = "pro-rata", .variety = "ZZZ" }, CW_NOT_FOUND, "ZZZ" },
        { "a confidence beyond 1",
          { .rule = "pro-rata", .projected = true, .confidence = 1.5 },
          CW_REFUSED,
          "1.5" },
    };
    test_nursery t;
    (void)state;
    make(&t, 3);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_allotting_done done;
        cw_code got = cw_allotting_commit(t.n, &t.who, &rows[i].ask, NULL, &done, NULL, &err);
        if (got != rows[i].want || strstr(err.text, rows[i].says) == NULL)
            fail_msg("%s: %d %s", rows[i].name, got, err.text);
        test_nursery_check(&t);
    }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM run"), 0);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(firm_shares_stay_and_only_the_addition_is_shared),
        cmocka_unit_test(lots_that_are_held_do_not_count),
        cmocka_unit_test(taking_back_needs_a_reason_and_a_right),
        cmocka_unit_test(complete_orders_are_promised_whole_or_not_at_all),
        cmocka_unit_test(who_is_hit_when_counts_fall),
        cmocka_unit_test(who_is_short_and_who_is_next),
        cmocka_unit_test(what_is_read_out_is_what_happens),
        cmocka_unit_test(who_waits_beside_the_queue),
        cmocka_unit_test(one_supply_where_nobody_says),
        cmocka_unit_test(small_orders_are_flagged),
        cmocka_unit_test(pieces_make_the_whole),
        cmocka_unit_test(a_run_given_up_leaves_nothing),
        cmocka_unit_test(wrong_asks_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
