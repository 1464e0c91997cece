/* SPDX-License-Identifier: MIT */
/* Sharing out at the order desk: what a run makes firm stays firm, the same inputs give the same outcome, and what is
 * said is what is written. The rules' own mathematics is tested in tests/unit and tests/published; the numbers asked
 * 1, 3, 3 are the worked example of the trade notes (a share that falls when the stock grows). */
#include "support/order_desk.h"

#include "desk/share/standing_inside.h"
#include "store/allocations.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price,hold_back,reserve\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50,2,1\n"
                                "BRI,Briar Song,cactus,large,pink,8.00,0,0\n";
static const char lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-21,0\nL3,AMB,2031-10-22,0\n";
static const char orders[] =
    "order,received_at,line,variety,quantity,unit_price,tier,customer,all_or_none,ship_complete\n"
    "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50,retail,Ada,0,0\n"
    "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,0,0\n"
    "1003,2032-01-05T12:00:00Z,1,AMB,3,6.50,retail,Cy,0,0\n";

static void make(test_nursery *t, int amber)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    load_text(t, "orders.csv", orders);
    if (amber > 0)
        count_lot(t, "L1", "2032-01-20", amber + 3); /* 2 to replant, 1 in reserve */
}

/* The k-th rule's name; false when there are no more. */
static bool rule_at(int k, char out[40])
{
    const char *at = CW_ALLOTTING_RULES;
    for (; k > 0 && at; k--)
        at = strchr(at, '|') ? strchr(at, '|') + 1 : NULL;
    if (at)
        snprintf(out, 40, "%.*s", (int)strcspn(at, "|"), at);
    return at != NULL;
}

static int64_t rules(void)
{
    char name[40];
    int r = 0;
    while (rule_at(r, name))
        r++;
    return r;
}

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

static void the_whole_preview(test_nursery *t, char digest[65], cw_text *csv)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting *a = NULL;
    cw_allotting_ask ask = { 0 };
    cw_check_ok(cw_allotting_preview(t->n, &t->who, &ask, &a, &err), &err);
    cw_copy(digest, 65, cw_allotting_digest(a));
    cw_check_ok(cw_allotting_write(a, false, cw_sink_text(csv), &err), &err);
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
    assert_non_null(
        strstr(cw_table_text(&rows, 5, 7), "passed over until 3 are free at once when its turn comes"));
    cw_table_free(&rows);
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
    cw_check_ok(cw_allotting_write(a, true, cw_sink_text(&json), &err), &err);
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
        cmocka_unit_test(firm_shares_stay_and_only_the_addition_is_shared),
        cmocka_unit_test(why_is_kept_as_it_was),
        cmocka_unit_test(lots_that_are_held_do_not_count),
        cmocka_unit_test(the_same_inputs_give_the_same_bytes),
        cmocka_unit_test(whatever_a_preview_rests_on_changes_its_digest),
        cmocka_unit_test(an_old_preview_cannot_be_made_firm),
        cmocka_unit_test(what_changed_since_a_preview),
        cmocka_unit_test(taking_back_needs_a_reason_and_a_right),
        cmocka_unit_test(complete_orders_are_promised_whole_or_not_at_all),
        cmocka_unit_test(who_is_hit_when_counts_fall),
        cmocka_unit_test(who_is_short_and_who_is_next),
        cmocka_unit_test(what_is_read_out_is_what_happens),
        cmocka_unit_test(who_waits_beside_the_queue),
        cmocka_unit_test(the_sums_of_a_preview_are_those_of_the_run),
        cmocka_unit_test(one_supply_where_nobody_says),
        cmocka_unit_test(small_orders_are_flagged),
        cmocka_unit_test(pieces_make_the_whole),
        cmocka_unit_test(a_run_given_up_leaves_nothing),
        cmocka_unit_test(wrong_asks_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
