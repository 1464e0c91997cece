/* SPDX-License-Identifier: MIT */
/* Crate tags say where a lot lies now, not where it once lay. All data are invented. */
#include "support/picking.h"

#include "desk/cellar/cellar.h"
#include "desk/pack/paper.h"

#include "base/banned.h"

static cw_code tags_of(test_nursery *t, const char *lot, cw_table *out, cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    return cw_paper_tags(t->n, 0, &lot, 1, out, err);
}

static void a_tag_only_where_the_lot_lies(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    (void)state;
    picking_make(&t);
    e.lot = "L1";
    e.place = "C2";
    e.to = "C3";
    e.divisions = 2;
    cw_check_ok(cw_cellar_move(t.n, &t.who, &e, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(tags_of(&t, "L1", &out, &err), &err); /* a part here, a part there */
    assert_int_equal(cw_table_rows(&out), 2);
    cw_table_free(&out);
    e.divisions = 3;
    cw_check_ok(cw_cellar_move(t.n, &t.who, &e, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(tags_of(&t, "L1", &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    assert_string_equal(cw_table_text(&out, 0, 7), "C3");
    assert_string_equal(cw_table_text(&out, 0, 12), "L1 C3");
    cw_table_free(&out);
    /* All gone: it lies nowhere, so it has no tag. */
    e = (cw_cellar_entry)CW_CELLAR_ENTRY;
    e.lot = "L1";
    e.place = "C3";
    e.reason = "rotten";
    e.divisions = 5;
    cw_check_ok(cw_cellar_enter(t.n, &t.who, &e, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(tags_of(&t, "L1", &out, &err), CW_NOT_FOUND);
    assert_non_null(strstr(err.text, "L1"));
    cw_table_free(&out);
    test_nursery_free(&t);
}

/* What was cut on a day: a tag a session, where it was put, with what it made; none of a session that was taken back. */
static void a_tag_for_the_divisions_of_each_session(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    const char *lot = "M1", *other = "M2";
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    (void)state;
    picking_make(&t);
    load_text(&t, "lots.csv",
              "lot,variety,dug_on,clumps,place\nM1,AMB,2031-10-24,12,C2\nM2,BRI,2031-10-24,9,C2\n");
    e.lot = lot;
    e.clumps = 3;
    e.saleable = 14;
    e.place = "C3";
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &e, &out, &err), &err);
    cw_table_free(&out);
    e.clumps = 2;
    e.saleable = 7;
    e.place = "C1";
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &e, &out, &err), &err);
    int64_t wrong = cw_table_int(&out, 0, 2);
    cw_table_free(&out);
    cw_check_ok(cw_paper_cut_tags(t.n, t.who.today, &lot, 1, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    assert_string_equal(cw_table_text(&out, 0, 12), "M1 C1"); /* in walking order */
    assert_int_equal(cw_table_int(&out, 0, 9), 7);
    assert_int_equal(cw_table_int(&out, 1, 9), 14);
    assert_int_equal(cw_table_int(&out, 1, 13), t.who.today);
    cw_table_free(&out);
    cw_check_ok(cw_cellar_undo(t.n, &t.who, "dividing", wrong, "counted twice", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_paper_cut_tags(t.n, t.who.today, NULL, 0, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    cw_table_free(&out);
    assert_int_equal(cw_paper_cut_tags(t.n, t.who.today, &other, 1, &out, &err), CW_NOT_FOUND);
    assert_string_equal(err.column, "lots");
    cw_table_free(&out);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tag_only_where_the_lot_lies),
        cmocka_unit_test(a_tag_for_the_divisions_of_each_session),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
