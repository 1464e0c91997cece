/* SPDX-License-Identifier: MIT */
/* Substitutes at the order desk: who counts as short, what may be given away, and what is left alone. The choice itself is
 * tested against other solvers in tests/unit and tests/published. */
#include "support/short_orders.h"

#include "base/banned.h"

static const struct {
    const char *name;
    int stock[5]; /* AMB BRI CIN DOV EMB */
    const char *orders;
    expected want[4];
    size_t count;
} cases[] = {
    { "nothing is short, nothing is given",
      { 3, 0, 9, 9, 9 },
      "1," AT ",1,AMB,3,6.50,any,,,0,0\n",
      { { 0 } },
      0 },
    { "no consent, no substitute", { 0, 0, 9, 9, 9 }, "1," AT ",1,AMB,3,6.50,none,,,0,0\n", { { 0 } }, 0 },
    { "same form; the limit per order caps it",
      { 0, 0, 9, 0, 9 },
      "1," AT ",1,AMB,3,6.50,same,,,0,0\n",
      { { "1", "CIN", 1, 2 } },
      1 },
    { "hold-back stays back",
      { 0, 0, 2, 0, 0 },
      "1," AT ",1,AMB,3,6.50,same,,,0,0\n",
      { { "1", "CIN", 1, 1 } },
      1 },
    { "cheaper is not `same`, but may be named",
      { 0, 0, 0, 9, 0 },
      "1," AT ",1,AMB,1,6.50,same,,,0,0\n2," AT ",1,AMB,1,6.50,named,DOV,,0,0\n",
      { { "2", "DOV", 1, 1 } },
      1 },
    { "only what its own variety lacks is short",
      { 2, 0, 9, 0, 0 },
      "1," AT ",1,AMB,3,6.50,same,,,0,0\n",
      { { "1", "CIN", 1, 1 } },
      1 },
    { "what others still want is no surplus",
      { 0, 0, 3, 0, 0 },
      "1," AT ",1,AMB,3,6.50,same,,,0,0\n2," AT ",1,CIN,2,7.00,none,,,0,0\n",
      { { 0 } },
      0 },
    { "not what the order gets on another line",
      { 0, 0, 5, 0, 0 },
      "1," AT ",1,AMB,1,6.50,same,,,0,0\n1," AT ",2,CIN,1,7.00,none,,,0,0\n",
      { { 0 } },
      0 },
    { "all or nothing: a part is no use, so another gets it",
      { 0, 0, 3, 0, 0 },
      "1," AT ",1,AMB,3,6.50,same,,,1,0\n2," AT ",1,AMB,2,6.50,same,,,0,0\n",
      { { "2", "CIN", 1, 2 } },
      1 },
    { "all or nothing: filled whole",
      { 0, 0, 3, 0, 0 },
      "1," AT ",1,AMB,2,6.50,same,,,1,0\n",
      { { "1", "CIN", 1, 2 } },
      1 },
    { "two that take all or nothing, in each other's way: one is filled, not half of each",
      { 0, 0, 3, 2, 0 },
      "1," AT ",1,AMB,3,6.00,any,,,1,0\n2," AT ",1,AMB,3,6.00,any,,,1,0\n",
      { { "1", "CIN", 1, 2 }, { "1", "DOV", 1, 1 } },
      2 },
    { "an order that leaves complete is completed",
      { 0, 0, 3, 9, 0 },
      "1," AT ",1,AMB,2,6.50,same,,,0,1\n1," AT ",2,DOV,2,6.00,none,,,0,1\n",
      { { "1", "CIN", 1, 2 } },
      1 },
    { "or gets nothing: not enough",
      { 0, 0, 2, 9, 0 },
      "1," AT ",1,AMB,2,6.50,same,,,0,1\n1," AT ",2,DOV,2,6.00,none,,,0,1\n",
      { { 0 } },
      0 },
    { "or gets nothing: no consent for another line that is short",
      { 0, 0, 3, 9, 0 },
      "1," AT ",1,AMB,2,6.50,same,,,0,1\n1," AT ",2,EMB,1,9.00,none,,,0,1\n",
      { { 0 } },
      0 },
    { "not with what its other line is",
      { 0, 0, 9, 0, 0 },
      "1," AT ",1,AMB,1,6.50,same,,,0,1\n1," AT ",2,CIN,1,7.00,none,,,0,1\n",
      { { 0 } },
      0 },
    { "assortments come after named lines",
      { 0, 0, 3, 0, 0 },
      "1," AT ",1,,2,5.00,,,colour=red,0,0\n2," AT ",1,AMB,2,6.50,same,,,0,0\n",
      { { "2", "CIN", 1, 2 } },
      1 },
    { "an assortment is of its class, and spread (3 of one)",
      { 0, 9, 0, 9, 9 },
      "1," AT ",1,,8,5.00,,,form=cactus,0,0\n",
      { { "1", "BRI", 1, 3 }, { "1", "EMB", 1, 3 } },
      2 },
    { "an assortment of two words",
      { 9, 9, 9, 9, 9 },
      "1," AT ",1,,2,5.00,,,form=cactus colour=red,0,0\n",
      { { "1", "EMB", 1, 2 } },
      1 },
    { "an assortment of a class in other letters, of two words and a size",
      { 9, 9, 9, 9, 9 },
      "1," AT ",1,,2,5.00,,,form=CACTUS size=Large colour=Pink,0,0\n",
      { { "1", "BRI", 1, 2 } },
      1 },
    { "an assortment of a size alone",
      { 9, 9, 9, 9, 9 },
      "1," AT ",1,,2,5.00,,,size=medium,0,0\n",
      { { "1", "DOV", 1, 2 } },
      1 },
    { "an assortment of what no variety is",
      { 9, 9, 9, 9, 9 },
      "1," AT ",1,,2,5.00,,,form=ballerina,0,0\n",
      { { 0 } },
      0 },
    { "just enough for its other line does not keep an order back",
      { 0, 0, 3, 2, 0 },
      "1," AT ",1,AMB,2,6.50,same,,,0,1\n1," AT ",2,DOV,2,6.00,none,,,0,1\n",
      { { "1", "CIN", 1, 2 } },
      1 },
    { "an order that leaves complete is substituted in both of its lines",
      { 0, 0, 2, 0, 1 },
      "0," AT ",1,AMB,1,6.50,none,,,0,0\n1," AT ",1,AMB,1,6.50,same,,,0,1\n1," AT
      ",2,BRI,1,8.00,same,,,0,1\n",
      { { "1", "CIN", 1, 1 }, { "1", "EMB", 2, 1 } },
      2 },
    { "or in neither",
      { 0, 0, 2, 0, 0 },
      "0," AT ",1,AMB,1,6.50,none,,,0,0\n1," AT ",1,AMB,1,6.50,same,,,0,1\n1," AT
      ",2,BRI,1,8.00,same,,,0,1\n",
      { { 0 } },
      0 },
    { "two lines of an order that need not leave complete stand alone",
      { 0, 0, 2, 0, 0 },
      "1," AT ",1,AMB,1,6.50,same,,,1,0\n1," AT ",2,BRI,1,8.00,same,,,1,0\n",
      { { "1", "CIN", 1, 1 } },
      1 },
    { "a list is gone through in its order, as far as there is any",
      { 0, 1, 0, 9, 1 },
      "1," AT ",1,AMB,3,6.50,named,EMB BRI DOV,,0,0\n",
      { { "1", "EMB", 1, 1 }, { "1", "BRI", 1, 1 }, { "1", "DOV", 1, 1 } },
      3 },
};

static void each_case_gets_what_it_should(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        test_nursery t;
        make(&t, cases[i].stock, cases[i].orders);
        check_plan(cases[i].name, &t, cases[i].want, cases[i].count);
        /* Sharing first changes nothing in what is short. */
        make_firm(&t, "first-come", NULL);
        check_plan(cases[i].name, &t, cases[i].want, cases[i].count);
        test_nursery_free(&t);
    }
}

static void made_firm_it_is_not_given_again(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_done done;
    cw_substituting_ask ask = { 0 };
    const int stock[5] = { 0, 9, 9, 9, 9 };
    char digest[65];
    (void)state;
    make(&t, stock, "1," AT ",1,AMB,3,6.50,same,,,0,0\n2," AT ",1,,8,5.00,,,form=cactus,0,0\n");
    make_firm(&t, "pro-rata", NULL);
    cw_check_ok(cw_substituting_preview(t.n, &t.who, &ask, &s, &err), &err);
    cw_copy(digest, sizeof digest, cw_substituting_digest(s));
    cw_substituting_free(s);
    t.who.role = CW_ROLE_CELLAR;
    assert_int_equal(cw_substituting_commit(t.n, &t.who, &ask, digest, &done, NULL, &err), CW_FORBIDDEN);
    t.who.role = CW_ROLE_OFFICE;
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &ask, digest, &done, NULL, &err), &err);
    test_nursery_check(&t);
    assert_int_equal(done.totals.placed, 8);
    assert_int_equal(promised(&t, "1", 1), 2);
    assert_int_equal(promised(&t, "2", 1), 6);
    /* The preview is out of date now, and a new one gives neither beyond the limit nor beyond the spread. */
    assert_int_equal(cw_substituting_commit(t.n, &t.who, &ask, digest, &done, NULL, &err), CW_CONFLICT);
    check_plan("again", &t, NULL, 0);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM run WHERE what = 'substitute'"), 1);
    t.who.role = CW_ROLE_OWNER;
    test_nursery_free(&t);
}

/* What keeps an order from leaving complete is substituted, and what its own varieties have is promised with it. */
static void a_completed_order_is_promised_whole(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    cw_substituting_ask ask = { 0 };
    const int stock[5] = { 0, 0, 3, 9, 9 };
    (void)state;
    make(&t, stock,
         "1," AT ",1,AMB,2,6.50,same,,,0,1\n1," AT ",2,DOV,2,6.00,none,,,0,1\n1," AT
         ",3,,2,5.00,,,colour=red,0,1\n"
         "2," AT ",1,BRI,1,8.00,none,,,0,1\n2," AT ",2,DOV,2,6.00,none,,,0,1\n");
    make_firm(&t, "first-come", NULL);
    assert_int_equal(promised(&t, "1", 2), 0); /* passed over */
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err), &err);
    test_nursery_check(&t);
    assert_int_equal(promised(&t, "1", 1), 2);
    assert_int_equal(promised(&t, "1", 2), 2);
    assert_int_equal(promised(&t, "1", 3), 0); /* the assortment: once the named lines are promised */
    assert_int_equal(promised(&t, "2", 2), 0); /* no consent: still nothing */
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err), &err);
    assert_int_equal(promised(&t, "1", 3), 2);
    assert_int_equal(done.totals.placed, 2);
    test_nursery_free(&t);
}

static void digest_of(test_nursery *t, char out[65])
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_ask ask = { 0 };
    cw_check_ok(cw_substituting_preview(t->n, &t->who, &ask, &s, &err), &err);
    cw_copy(out, 65, cw_substituting_digest(s));
    cw_substituting_free(s);
}

/* Whatever the choice rests on makes another digest, so that a plan that was shown before is not made firm. */
static void each_thing_that_counts_is_in_the_digest(void **state)
{
    static const char *const changes[] = {
        "UPDATE variety SET price = price + 50 WHERE code = 'CIN'",
        "UPDATE variety SET price = price + 50 WHERE code = 'EMB'",
        "UPDATE variety SET form = 'star' WHERE code = 'EMB'",
        "UPDATE variety SET colour = 'red' WHERE code = 'AMB'",
        "UPDATE variety SET size = 'giant' WHERE code = 'BRI'",
        "UPDATE variety SET size = 'large' WHERE code = 'BRI'",
        "UPDATE variety SET limit_per_order = 3 WHERE code = 'CIN'",
        "UPDATE variety SET hold_back = 2 WHERE code = 'CIN'",
        "UPDATE line SET consent = 'same' WHERE id = (SELECT MIN(id) FROM line)",
        "UPDATE line SET unit_price = 600 WHERE id = (SELECT MIN(id) FROM line)",
        "UPDATE line SET all_or_none = 1 WHERE id = (SELECT MIN(id) FROM line)",
        "UPDATE line SET assortment = 'form=ball' WHERE assortment IS NOT NULL",
        "UPDATE line SET named = 'DOV EMB' WHERE consent = 'named'",
        "UPDATE line SET named = 'DOV' WHERE consent = 'named'",
        "INSERT INTO forbidden (line_id, variety_id, at, actor, why) SELECT MIN(l.id), (SELECT id FROM "
        "variety WHERE code = "
        "'CIN'), 1, 'a', 'b' FROM line l",
        "UPDATE forbidden SET variety_id = (SELECT id FROM variety WHERE code = 'BRI')",
        "UPDATE forbidden SET line_id = (SELECT MAX(id) FROM line)",
        "UPDATE setting SET value = '2' WHERE name = 'assortment_spread'",
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char before[65], after[65];
    (void)state;
    make(&t, (const int[]){ 0, 9, 9, 9, 9 },
         "1," AT ",1,AMB,1,6.50,any,,,0,0\n2," AT ",1,AMB,1,6.50,named,EMB DOV,,0,0\n3," AT
         ",1,,5,5.00,,,form=cactus,0,0\n");
    cw_check_ok(cw_nursery_set(t.n, &t.who, "assortment_spread", "4", &err), &err);
    digest_of(&t, before);
    digest_of(&t, after);
    assert_string_equal(before, after);
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        sqlite3 *raw = NULL;
        assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
        if (sqlite3_exec(raw, changes[i], NULL, NULL, NULL) != SQLITE_OK || sqlite3_changes(raw) != 1)
            fail_msg("%s: %s, %d rows", changes[i], sqlite3_errmsg(raw), sqlite3_changes(raw));
        assert_int_equal(
            sqlite3_exec(
                raw,
                "UPDATE nursery SET trade_revision = trade_revision + 1, stock_revision = stock_revision + 1",
                NULL, NULL, NULL),
            SQLITE_OK);
        sqlite3_close(raw);
        digest_of(&t, after);
        if (strcmp(before, after) == 0)
            fail_msg("the digest is the same after %s", changes[i]);
        cw_copy(before, sizeof before, after);
    }
    test_nursery_free(&t);
}

/* What a line's own variety would still give it goes by the rule of the last run; and an order that may not be sent gets nothing. */
static void short_is_what_the_last_rule_leaves_short(void **state)
{
    test_nursery t;
    (void)state;
    make(&t, (const int[]){ 2, 9, 9, 0, 0 },
         "1," AT ",1,AMB,2,6.50,same,,,0,0\n2,2032-01-06T10:00:00Z,1,AMB,2,6.50,same,,,0,0\n");
    check_plan("first come, as long as nobody said another", &t, (const expected[]){ { "2", "CIN", 1, 2 } },
               1);
    make_firm(&t, "pro-rata", "BRI");
    check_plan("by shares", &t, (const expected[]){ { "1", "CIN", 1, 1 }, { "2", "CIN", 1, 1 } }, 2);
    make_firm(&t, "first-come", "BRI");
    check_plan("first come again", &t, (const expected[]){ { "2", "CIN", 1, 2 } }, 1);
    load_text(&t, "destinations.csv", "country,rule,note\nUS,allow,\nNZ,block,no certificate can be had\n");
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,consent,assortment,country\n"
              "3,2032-01-06T10:00:00Z,1,,1,6.50,,form=cactus,US\n");
    check_plan("and an assortment", &t, (const expected[]){ { "2", "CIN", 1, 2 }, { "3", "BRI", 1, 1 } }, 2);
    load_text(&t, "destinations.csv", "country,rule,note\nUS,block,a new rule\n");
    check_plan("of an order that cannot be sent", &t, (const expected[]){ { "2", "CIN", 1, 2 } }, 1);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_case_gets_what_it_should),
        cmocka_unit_test(made_firm_it_is_not_given_again),
        cmocka_unit_test(a_completed_order_is_promised_whole),
        cmocka_unit_test(each_thing_that_counts_is_in_the_digest),
        cmocka_unit_test(short_is_what_the_last_rule_leaves_short),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
