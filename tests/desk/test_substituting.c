/* SPDX-License-Identifier: MIT */
/* Substitutes at the order desk: who counts as short, what may be given away, and what is left alone. The choice itself is
 * tested against other solvers in tests/unit and tests/published. */
#include "support/order_desk.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price,limit_per_order,hold_back\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50,,0\n"
                                "BRI,Briar Song,cactus,large,pink,8.00,,0\n"
                                "CIN,Cinder,ball,small,red,7.00,2,1\n"
                                "DOV,Dove Bell,ball,medium,white,6.00,,0\n"
                                "EMB,Ember Song,cactus,large,red,9.00,,0\n";
static const char lots[] =
    "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,BRI,2031-10-20,0\nL3,CIN,2031-10-20,0\n"
    "L4,DOV,2031-10-20,0\nL5,EMB,2031-10-20,0\n";
#define HEADER                                                                                               \
    "order,received_at,line,variety,quantity,unit_price,consent,named,assortment,all_or_none,ship_"          \
    "complete\n"

typedef struct expected {
    const char *order, *substitute;
    int line;
    int64_t quantity;
} expected;

/* Stock of the five varieties; `orders` are rows under HEADER. */
static void make(test_nursery *t, const int stock[5], const char *orders)
{
    char text[2000], lot[8];
    test_nursery_make(t);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    snprintf(text, sizeof text, HEADER "%s", orders);
    load_text(t, "orders.csv", text);
    for (int i = 0; i < 5; i++) {
        snprintf(lot, sizeof lot, "L%d", i + 1);
        if (stock[i] > 0)
            count_lot(t, lot, "2032-01-20", stock[i]);
    }
}

static void check_plan(const char *name, test_nursery *t, const expected *want, size_t count)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals sum;
    cw_table rows;
    int64_t placed = 0;
    cw_substituting_ask ask = { 0 };
    cw_check_ok(cw_substituting_preview(t->n, &t->who, &ask, &s, &err), &err);
    cw_check_ok(cw_substituting_lines(s, false, &rows, &err), &err);
    cw_substituting_total(s, &sum);
    assert_true(sum.proven);
    if (cw_table_rows(&rows) != count)
        fail_msg("%s: %zu rows, want %zu", name, cw_table_rows(&rows), count);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(cw_table_text(&rows, i, 0), want[i].order) || cw_table_int(&rows, i, 1) != want[i].line ||
            strcmp(cw_table_text(&rows, i, 3), want[i].substitute) ||
            cw_table_int(&rows, i, 4) != want[i].quantity)
            fail_msg("%s: row %zu is %s line %lld: %lld %s", name, i, cw_table_text(&rows, i, 0),
                     (long long)cw_table_int(&rows, i, 1), (long long)cw_table_int(&rows, i, 4),
                     cw_table_text(&rows, i, 3));
        placed += want[i].quantity;
    }
    assert_int_equal(sum.placed, placed);
    cw_table_free(&rows);
    cw_substituting_free(s);
}

#define AT "2032-01-05T10:00:00Z"
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

static void forbidding_has_its_price(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals change;
    cw_substituting_ask ask = { 0 };
    char sentence[CW_SUBSTITUTING_SENTENCE];
    const int stock[5] = { 0, 9, 9, 0, 0 };
    (void)state;
    make(&t, stock, "1," AT ",1,AMB,1,6.50,any,,,0,0\n");
    cw_check_ok(cw_substituting_preview(t.n, &t.who, &ask, &s, &err), &err);
    /* CIN: same form and size, another colour: 30, and 0.50 dearer. BRI: form, colour and two sizes: 90, 1.50 dearer. */
    cw_check_ok(cw_substituting_forbid(s, "1", 1, "CIN", &change, sentence, &err), &err);
    assert_int_equal(change.placed, 0);
    assert_int_equal(change.distance, 60);
    assert_int_equal(change.extra, 100);
    assert_non_null(strstr(sentence, "+60"));
    assert_int_equal(cw_substituting_forbid(s, "1", 1, "BRI", &change, sentence, &err), CW_NOT_FOUND);
    cw_substituting_free(s);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_case_gets_what_it_should),
        cmocka_unit_test(made_firm_it_is_not_given_again),
        cmocka_unit_test(a_completed_order_is_promised_whole),
        cmocka_unit_test(forbidding_has_its_price),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
