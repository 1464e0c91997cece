/* SPDX-License-Identifier: MIT */
/* What there is to give and who waits for it is read of one moment of the file, whoever writes meanwhile. All data are invented. */
#include "support/order_desk.h"

#include "desk/share/standing_inside.h"

#include "base/banned.h"

/* Six divisions, of which 2 are to be replanted and 1 is in reserve, and three orders that want more. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv",
              "code,name,form,size,colour,price,hold_back,reserve\n"
              "AMB,Amber Lantern,ball,small,orange,6.50,2,1\n");
    load_text(t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\n");
    load_text(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n"
              "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50\n"
              "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50\n"
              "1003,2032-01-05T12:00:00Z,1,AMB,3,6.50\n");
    count_lot(t, "L1", "2032-01-20", 6);
}

static void another_program_changes_the_stock(test_nursery *t)
{
    sqlite3 *raw = NULL;
    static const char sql[] = "UPDATE nursery SET stock_revision = stock_revision + 1";
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
}

static cw_code look_while_another_writes(void *context, cw_standing *s, cw_error *err)
{
    test_nursery *t = context;
    cw_revision now = { 0 };
    another_program_changes_the_stock(t);
    cw_code code = cw_nursery_revision(t->n, &now, err);
    assert_int_equal(now.stock, s->book->stock_revision);
    cw_standing_free(s);
    return code;
}

/* What else is read inside of a look is of its moment; the next look is of the next. */
static void a_look_is_of_one_moment(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    const cw_basis counted = { .projected = false };
    (void)state;
    make(&t);
    int64_t before = number_of(&t, "SELECT stock_revision FROM nursery");
    for (int again = 0; again < 2; again++)
        cw_check_ok(cw_standing_with(t.n, &t.who, &counted, look_while_another_writes, &t, &err), &err);
    assert_int_equal(number_of(&t, "SELECT stock_revision FROM nursery"), before + 2);
    test_nursery_free(&t);
}

typedef struct meanwhile {
    test_nursery *t;
    int times, projected; /* times: the stock still changes so often while it is being projected */
    int most;             /* projections after which the office gives up; 0: none */
    cw_text told;
} meanwhile;

static bool told(void *context, const char *what, uint64_t done, uint64_t all)
{
    meanwhile *m = context;
    if (what)
        cw_text_addf(&m->told, "%s %llu/%llu\n", what, (unsigned long long)done, (unsigned long long)all);
    if (what && strcmp(what, "projecting") == 0) {
        m->projected++;
        if (m->times-- > 0)
            another_program_changes_the_stock(m->t);
        return m->most == 0 || m->projected < m->most;
    }
    return true;
}

static meanwhile begin(test_nursery *t, int times)
{
    make(t);
    return (meanwhile){ .t = t, .times = times, .told = CW_TEXT(4000) };
}

#define CHANGED   "the stock changed while it was being projected; try again"
#define PROJECTED "replaying the ledger 0/3\nfitting the models 1/3\nprojecting 2/3\nreading the orders 0/0\n"

/* A look begins again, three times in all. */
static void a_look_begins_again_when_the_stock_moves(void **state)
{
    const cw_basis projected = { .projected = true, .confidence = 0.8 };
    (void)state;
    for (int times = 0; times <= 4; times++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_standing *s = NULL;
        meanwhile m = begin(&t, times);
        t.who.progress = told;
        t.who.progress_context = &m;
        cw_code code = cw_standing_look(t.n, &t.who, &projected, &s, &err);
        assert_int_equal(code, times < 3 ? CW_OK : CW_CONFLICT);
        assert_string_equal(err.text, times < 3 ? "" : CHANGED);
        assert_int_equal(m.projected, times < 3 ? times + 1 : 3);
        assert_int_equal(s != NULL, times < 3);
        cw_standing_free(s);
        cw_text_free(&m.told);
        test_nursery_free(&t);
    }
}

/* What is told is why the last look failed, not the one before it. */
static void a_look_is_given_up_at_its_second_beginning(void **state)
{
    const cw_basis projected = { .projected = true, .confidence = 0.8 };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_standing *s = NULL;
    (void)state;
    meanwhile m = begin(&t, 1);
    m.most = 2;
    t.who.progress = told;
    t.who.progress_context = &m;
    assert_int_equal(cw_standing_look(t.n, &t.who, &projected, &s, &err), CW_REFUSED);
    assert_string_equal(err.text, "given up as asked; nothing was changed");
    assert_int_equal(err.code, CW_REFUSED);
    assert_int_equal(m.projected, 2);
    assert_null(s);
    cw_text_free(&m.told);
    test_nursery_free(&t);
}

/* What is made firm does not: it is refused, and nothing is written. How far it is is told either way. */
static void what_is_made_firm_does_not(void **state)
{
    (void)state;
    for (int times = 0; times <= 1; times++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_allotting_done done;
        cw_allotting_ask ask = { .rule = "first-come", .projected = true, .confidence = 0.8 };
        meanwhile m = begin(&t, times);
        t.who.progress = told;
        t.who.progress_context = &m;
        cw_code code = cw_allotting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err);
        assert_int_equal(code, times ? CW_CONFLICT : CW_OK);
        assert_string_equal(err.text, times ? CHANGED : "");
        assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM run"), !times);
        assert_string_equal(m.told.data, times ? PROJECTED : PROJECTED "sharing out 0/0\nmaking firm 0/3\n");
        cw_text_free(&m.told);
        test_nursery_free(&t);
    }
}

/* The rows of an order came in in another order than their numbers: each line that stands is still the line of the book, so a promise
 * goes to it and to no other. */
static void each_line_stays_the_line_of_the_book(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    const cw_basis counted = { .projected = false };
    cw_standing *s = NULL;
    (void)state;
    make(&t);
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n"
              "1000,2032-01-05T13:00:00Z,3,AMB,5,6.50\n"
              "1000,2032-01-05T13:00:00Z,1,AMB,7,6.50\n"
              "1000,2032-01-05T13:00:00Z,2,AMB,9,6.50\n");
    cw_check_ok(cw_standing_look(t.n, &t.who, &counted, &s, &err), &err);
    assert_int_equal(s->lines, 6);
    for (size_t i = 0; i < s->lines; i++) {
        const cw_book_line *b = &s->book->line[s->line_in_book[i]];
        assert_int_equal(s->line[i].line, b->line);
        assert_int_equal(s->line[i].asked, b->quantity);
    }
    cw_standing_free(s);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_look_is_of_one_moment),
        cmocka_unit_test(a_look_begins_again_when_the_stock_moves),
        cmocka_unit_test(a_look_is_given_up_at_its_second_beginning),
        cmocka_unit_test(what_is_made_firm_does_not),
        cmocka_unit_test(each_line_stays_the_line_of_the_book),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
