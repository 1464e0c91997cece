/* SPDX-License-Identifier: MIT */
/* Names that were put right live on into the next season's file, and what a file says under another code is asked about. All data are
 * invented. */
#include "support/intake.h"
#include "support/season.h"

#include "desk/closing/closing.h"
#include "desk/stock/merging.h"
#include "desk/stock/naming.h"

#include "base/banned.h"

typedef cw_code (*way)(cw_nursery *n, const cw_asker *who, const char *what, const char *to, const char *why,
                       bool commit, cw_table *out, cw_error *err);

static void put_right(test_nursery *t, way how, const char *what, const char *to)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(how(t->n, &t->who, what, to, "the stake", true, &out, &err), &err);
    cw_table_free(&out);
    test_nursery_check(t);
}

/* Closes the season into a new file and opens that. */
static test_nursery next_of(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    test_nursery u = *t;
    char path[160];
    snprintf(path, sizeof path, "%s/next.db", t->folder);
    const cw_next ask = { path, 2032, cw_day_from_ymd(2033, 4, 18), true };
    cw_check_ok(cw_closing_next(t->n, &t->who, &ask, true, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_nursery_open(path, CW_WORK, "test", &u.n, &err), &err);
    return u;
}

static void proved(test_nursery *now, test_nursery *past)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    long broken = 0;
    cw_check_ok(cw_closing_prove(now->n, past->n, &now->who, &out, &broken, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&out); i++)
        if (!cw_table_int(&out, i, 3))
            print_error("%s: %s, here %s\n", cw_table_text(&out, i, 0), cw_table_text(&out, i, 1),
                        cw_table_text(&out, i, 2));
    assert_int_equal(broken, 0);
    cw_table_free(&out);
}

static void names_live_on_into_the_next_season(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    test_nursery_make(&t);
    ok(load_all(&t));
    must_load(&t, "varieties.csv", "code,name,retired\nOLD,Old One,1\n");
    put_right(&t, cw_naming_relabel_lot, "L1", "CIN");
    put_right(&t, cw_naming_rename_variety, "AMB", "AMBER");
    put_right(&t, cw_naming_rename_variety, "OLD",
              "OLD2"); /* goes with the season: nothing past is known of it */
    test_nursery u = next_of(&t);
    proved(&u, &t);
    /* The lot taught the variety that it is; the former code is found in the new file. */
    test_nursery_check(&u);
    cw_table formers = { 0 };
    cw_check_ok(cw_naming_former_codes(u.n, &u.who, &formers, &err), &err);
    assert_int_equal(cw_table_rows(&formers), 1);
    assert_string_equal(cw_table_text(&formers, 0, 0), "AMB");
    assert_string_equal(cw_table_text(&formers, 0, 1), "AMBER");
    cw_table_free(&formers);
    /* What is put right in the new file does not unsettle the proof of the old one. */
    put_right(&u, cw_naming_rename_variety, "BRI", "BRIAR");
    proved(&u, &t);
    put_right(&u, cw_merging_merge, "CIN", "AMBER");
    proved(&u, &t);
    put_right(&u, cw_naming_rename_variety, "AMBER", "ZED");
    proved(&u, &t);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

static cw_code load_same(test_nursery *t, const char *text, cw_same_name same, char first[200])
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    const cw_intake_file f = file("varieties.csv", text);
    const cw_intake_options o = { .same_name = same };
    cw_code code = cw_intake_load(t->n, &t->who, &f, 1, &o, &answer, &errors, &err);
    cw_copy(first, 200, code == CW_OK ? "" : err.text);
    if (code != CW_OK && same == CW_SAME_NAME_ASK)
        assert_string_equal(err.column, "name");
    cw_error_list_free(&errors);
    cw_table_free(&answer);
    test_nursery_check(t);
    return code;
}

static void a_code_that_changed_is_asked_about(void **state)
{
    (void)state;
    static const char changed[] = "code,name,price\nAM9,amber lantern,6.60\n";
    char first[200];
    test_nursery t;
    test_nursery_make(&t);
    ok(load_all(&t));
    assert_int_equal(load_same(&t, changed, CW_SAME_NAME_ASK, first), CW_CONFLICT);
    assert_non_null(strstr(first, "AM9"));
    assert_non_null(strstr(first, "AMB"));
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety"), 3);
    /* A file that names both means two. */
    assert_int_equal(
        load_same(&t, "code,name\nAM9,Amber Lantern\nAMB,Amber Lantern\n", CW_SAME_NAME_ASK, first), CW_OK);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety"), 4);
    assert_int_equal(load_same(&t, "code,name\nBRI,Briar Song\nBR9,Briar Song\n", CW_SAME_NAME_ASK, first),
                     CW_OK);
    test_nursery_free(&t);
}

static void the_answer_decides(void **state)
{
    (void)state;
    static const char changed[] = "code,name,price\nAM9,amber lantern,6.60\n";
    char first[200];
    test_nursery t;
    test_nursery_make(&t);
    ok(load_all(&t));
    assert_int_equal(load_same(&t, changed, CW_SAME_NAME_NEW, first), CW_OK);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety"), 4);
    test_nursery_free(&t);

    test_nursery_make(&t);
    ok(load_all(&t));
    t.who.role = CW_ROLE_OFFICE;
    assert_int_equal(load_same(&t, changed, CW_SAME_NAME_CODE, first), CW_FORBIDDEN);
    t.who.role = CW_ROLE_OWNER;
    assert_int_equal(
        load_same(&t, "code,name\nAM9,Amber Lantern\nAMB,Amber Lantern\n", CW_SAME_NAME_CODE, first),
        CW_CONFLICT);
    assert_int_equal(load_same(&t, changed, CW_SAME_NAME_CODE, first), CW_OK);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety"), 3);
    assert_int_equal(number_of(&t, "SELECT price FROM variety WHERE id = 1 AND code = 'AM9'"), 660);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM former_code WHERE code = 'AMB'"), 1);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'rename variety' AND subject = 'AMB'"), 1);
    /* The same again says nothing new, and the old file finds its variety. */
    loaded l = load_one(&t, "varieties.csv", changed);
    assert_int_equal(l.made + l.changed, 0);
    l = load_one(&t, "lots.csv", lots);
    assert_int_equal(l.code, CW_OK);
    test_nursery_free(&t);
}

static void a_lot_of_another_variety_is_sent_to_its_relabelling(void **state)
{
    (void)state;
    test_nursery t;
    test_nursery_make(&t);
    ok(load_all(&t));
    loaded l = load_one(&t, "lots.csv",
                        "lot,variety,dug_on,clumps,row,culled,place\nL1,CIN,2031-10-20,40,r1,2,A1\n");
    assert_int_equal(l.code, CW_CONFLICT);
    assert_non_null(strstr(l.first, "names --relabel L1:CIN"));
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_live_on_into_the_next_season),
        cmocka_unit_test(a_code_that_changed_is_asked_about),
        cmocka_unit_test(the_answer_decides),
        cmocka_unit_test(a_lot_of_another_variety_is_sent_to_its_relabelling),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
