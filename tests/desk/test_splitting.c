/* SPDX-License-Identifier: MIT */
/* A part of a lot proves to be another variety, from a day on: it becomes a lot of its own, nothing is lost or made on the way, what it
 * is known to be stays known, and it can be taken back. All data are invented. */
#include "support/intake.h"
#include "support/season.h"

#include "desk/cellar/cellar.h"
#include "desk/closing/closing.h"
#include "desk/forecast/forecast_data_inside.h"
#include "desk/forecast/hindsight.h"
#include "desk/stock/lineage.h"
#include "desk/stock/naming.h"
#include "desk/stock/splitting.h"
#include "desk/stock/tracing.h"

#include "base/banned.h"

static cw_day on(int year, int month, int day)
{
    return cw_day_from_ymd(year, month, day);
}

static cw_code split(test_nursery *t, cw_split s, bool commit, cw_table *out, cw_error *err)
{
    cw_table own = { 0 };
    s.why = s.why ? s.why : "other eyes";
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_splitting_lot(t->n, &t->who, &s, commit, out ? out : &own, err);
    cw_table_free(&own);
    test_nursery_check(t);
    return code;
}

static int64_t must_split(test_nursery *t, cw_split s)
{
    cw_error err;
    cw_table out = { 0 };
    cw_check_ok(split(t, s, true, &out, &err), &err);
    size_t last = cw_table_rows(&out) - 1;
    assert_string_equal(cw_table_text(&out, last, 0), "entry");
    int64_t entry = cw_table_int(&out, last, 1);
    cw_table_free(&out);
    return entry;
}

static cw_code take_back(test_nursery *t, int64_t entry, cw_error *err)
{
    cw_table out = { 0 };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_cellar_undo(t->n, &t->who, "move", entry, "it was not", &out, err);
    cw_table_free(&out);
    test_nursery_check(t);
    return code;
}

/* L1 holds 28 clumps at A1 and 39 divisions at B1. */
static void a_small_nursery(test_nursery *t)
{
    test_nursery_make(t);
    ok(load_all(t));
}

static const char stands[] =
    "SELECT l.code, v.code, p.code, b.clumps, b.divisions FROM balance b JOIN lot l ON l.id = b.lot_id "
    "JOIN variety v ON v.id = l.variety_id JOIN place p ON p.id = b.place_id "
    "WHERE (l.code LIKE 'L1%') AND b.clumps + b.divisions > 0 ORDER BY l.code, p.code";

static void a_part_becomes_a_lot_of_its_own(void **state)
{
    (void)state;
    cw_error err;
    test_nursery t;
    cw_table out = { 0 };
    a_small_nursery(&t);
    const cw_split s = { "L1", "CIN", "L1B", CW_NO_DAY, 8, 9, NULL };
    cw_check_ok(split(&t, s, false, &out, &err), &err);
    rows_are(&t, stands, "L1|AMB|A1|28|0\nL1|AMB|B1|0|39\n"); /* a preview changes nothing */
    assert_int_equal(cw_table_int(&out, 0, 1), 8);
    assert_string_equal(cw_table_text(&out, 0, 2),
                        "of lot L1 (AMB); they become lot L1B of CIN (Cinder) from "
                        "2032-02-01 on");
    assert_int_equal(cw_table_int(&out, 1, 1), 9);
    assert_int_equal(cw_table_int(&out, 2, 1), 20);
    assert_int_equal(cw_table_int(&out, 3, 1), 30);
    assert_int_equal(cw_table_int(&out, 4, 1), 1); /* the session stays */
    cw_table_free(&out);
    int64_t stock = number_of(&t, "SELECT stock_revision FROM nursery");
    must_split(&t, s);
    rows_are(&t, stands, "L1|AMB|A1|20|0\nL1|AMB|B1|0|30\nL1B|CIN|A1|8|0\nL1B|CIN|B1|0|9\n");
    assert_true(number_of(&t, "SELECT stock_revision FROM nursery") > stock);
    rows_are(&t, "SELECT actor, subject, before, after FROM audit WHERE action = 'split lot'",
             "tester|L1|AMB|L1B, CIN: other eyes\n");
    /* Every variety's way still adds up. */
    cw_check_ok(cw_tracing_balance(t.n, &t.who, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++) {
        const char *v = cw_table_text(&out, r, 0);
        int64_t c = cw_table_int(&out, r, (size_t)cw_table_column(&out, "clumps_renamed"));
        int64_t d = cw_table_int(&out, r, (size_t)cw_table_column(&out, "divisions_renamed"));
        int64_t sign = strcmp(v, "CIN") == 0 ? 1 : strcmp(v, "AMB") == 0 ? -1 : 0;
        assert_int_equal(c, 8 * sign);
        assert_int_equal(d, 9 * sign);
    }
    cw_table_free(&out);
    /* What was cut before taught Amber, and still does. */
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM dividing d JOIN lot l ON l.id = d.lot_id WHERE l.code = 'L1B'"),
        0);
    test_nursery_free(&t);
}

/* From a day on, without a figure: all that is there and is not needed since. */
static void all_that_is_left_from_a_day_on(void **state)
{
    (void)state;
    test_nursery t;
    a_small_nursery(&t);
    /* Where one of the two is said, nothing goes of the other. */
    cw_error err;
    cw_table out = { 0 };
    cw_check_ok(split(&t, (cw_split){ "L1", "CIN", "L1B", CW_NO_DAY, -1, 9, NULL }, false, &out, &err), &err);
    assert_int_equal(cw_table_int(&out, 0, 1), 0);
    assert_int_equal(cw_table_int(&out, 1, 1), 9);
    cw_table_free(&out);
    /* On 1 December there were no divisions yet, and 38 clumps, of which ten were cut on the 5th. */
    must_split(&t, (cw_split){ "L1", "CIN", "L1B", on(2031, 12, 1), -1, -1, NULL });
    rows_are(&t, stands, "L1|AMB|B1|0|39\nL1B|CIN|A1|28|0\n");
    must_split(&t, (cw_split){ "L1", "BRI", "L1C", CW_NO_DAY, -1, -1, NULL });
    rows_are(&t, stands, "L1B|CIN|A1|28|0\nL1C|BRI|B1|0|39\n");
    test_nursery_free(&t);
}

static int64_t cut(test_nursery *t, const char *lot, cw_day day)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot;
    e.day = day;
    e.clumps = 5;
    e.saleable = 20;
    cw_check_ok(cw_cellar_divide(t->n, &t->who, &e, &out, &err), &err);
    cw_table_free(&out);
    return number_of(t, "SELECT MAX(id) FROM dividing");
}

/* What was cut after the day stays where it was entered, and is named; whoever knows better takes it back and enters it anew. */
static void sessions_since_that_day_are_named(void **state)
{
    (void)state;
    cw_error err;
    test_nursery t;
    cw_table out = { 0 };
    a_small_nursery(&t);
    int64_t session = cut(&t, "L1", on(2032, 1, 20));
    cw_split s = { "L1", "CIN", "L1B", on(2032, 1, 20), 20, -1, NULL };
    cw_check_ok(split(&t, s, false, &out, &err), &err);
    assert_int_equal(cw_table_int(&out, 4, 1), 2);
    assert_string_equal(cw_table_text(&out, 5, 0), "of them since that day");
    assert_int_equal(cw_table_int(&out, 5, 1), 1);
    assert_string_equal(cw_table_text(&out, 5, 2),
                        "stay, too, with what they made; if CIN was cut, take them back before, and "
                        "enter them of lot L1B after");
    cw_table_free(&out);
    s.day = on(2032, 1, 21); /* the day after: none since */
    cw_check_ok(split(&t, s, false, &out, &err), &err);
    assert_string_not_equal(cw_table_text(&out, 5, 0), "of them since that day");
    cw_table_free(&out);
    /* The way that it names is one. */
    s.day = on(2032, 1, 20);
    cw_check_ok(cw_cellar_undo(t.n, &t.who, "dividing", session, "it was CIN", &out, &err), &err);
    cw_table_free(&out);
    must_split(&t, s);
    cut(&t, "L1B", on(2032, 1, 20));
    rows_are(&t, stands, "L1|AMB|A1|8|0\nL1|AMB|B1|0|39\nL1B|CIN|A1|15|20\n");
    rows_are(&t,
             "SELECT l.code, v.code, d.clumps, d.saleable FROM dividing d JOIN lot l ON l.id = d.lot_id JOIN "
             "variety v "
             "ON v.id = l.variety_id WHERE d.reversed = 0 AND l.code LIKE 'L1%' ORDER BY l.code",
             "L1|AMB|10|44\nL1B|CIN|5|20\n");
    test_nursery_free(&t);
}

static void refused(test_nursery *t, cw_split s, cw_code want, const char *column)
{
    cw_error err;
    assert_int_equal(split(t, s, true, NULL, &err), want);
    assert_string_equal(err.column, column);
}

static void what_cannot_be_is_refused(void **state)
{
    (void)state;
    cw_error err;
    test_nursery t;
    a_small_nursery(&t);
    int64_t before = number_of(&t, "SELECT COUNT(*) FROM movement");
    const cw_split good = { "L1", "CIN", "L1B", CW_NO_DAY, 8, 9, NULL };
    cw_split s = good;
    s.clumps = 29;
    refused(&t, s, CW_CONFLICT, "clumps");
    s.clumps = 0;
    s.divisions = 40;
    refused(&t, s, CW_CONFLICT, "divisions");
    s.divisions = 0;
    refused(&t, s, CW_REFUSED, "clumps");
    s = good;
    s.day = on(2032, 1, 9); /* the 44 of December, of which 40 were still there a day later, and 39 counted */
    s.divisions = 40;
    refused(&t, s, CW_CONFLICT, "divisions");
    s.day = on(2031, 10, 19);
    refused(&t, s, CW_REFUSED, "from");
    s.day = t.who.today + 1;
    refused(&t, s, CW_REFUSED, "from");
    s = good;
    s.as = "L2";
    refused(&t, s, CW_CONFLICT, "as");
    s.as = "L 2";
    refused(&t, s, CW_REFUSED, "as");
    s.as = "";
    refused(&t, s, CW_REFUSED, "as");
    s = good;
    s.to = "AMB";
    refused(&t, s, CW_REFUSED, "to");
    s.to = "NONE";
    refused(&t, s, CW_NOT_FOUND, "to");
    s = good;
    s.why = "";
    refused(&t, s, CW_REFUSED, "why");
    t.who.role = CW_ROLE_CELLAR;
    assert_int_equal(split(&t, good, true, NULL, &err), CW_FORBIDDEN);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM movement"), before);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM lot_split"), 0);
    test_nursery_free(&t);
}

/* What an open walk is to take is left for it. */
static void walks_are_left_what_they_take(void **state)
{
    (void)state;
    cw_error err;
    test_nursery t;
    season_make(&t);
    int64_t open = number_of(&t, "SELECT SUM(quantity) FROM pick WHERE lot_id = 2 AND state = 'open'");
    int64_t has = number_of(&t, "SELECT SUM(divisions) FROM balance WHERE lot_id = 2");
    assert_true(open > 0 && has >= open);
    cw_split s = { "L2", "DOV", "L2B", CW_NO_DAY, 0, has - open + 1, NULL };
    assert_int_equal(split(&t, s, true, NULL, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "open walks"));
    s.divisions = has - open;
    if (s.divisions > 0)
        must_split(&t, s);
    test_nursery_free(&t);
}

static void it_is_taken_back(void **state)
{
    (void)state;
    cw_error err;
    test_nursery t;
    a_small_nursery(&t);
    int64_t entry = must_split(&t, (cw_split){ "L1", "CIN", "L1B", CW_NO_DAY, 8, 9, NULL });
    t.who.role = CW_ROLE_CELLAR;
    assert_int_equal(take_back(&t, entry, &err), CW_FORBIDDEN);
    t.who.role = CW_ROLE_OWNER;
    cw_check_ok(take_back(&t, entry, &err), &err);
    rows_are(&t, stands, "L1|AMB|A1|28|0\nL1|AMB|B1|0|39\n");
    assert_int_equal(take_back(&t, entry, &err), CW_NOT_FOUND);
    /* The code was used; another part gets another one. */
    refused(&t, (cw_split){ "L1", "CIN", "L1B", CW_NO_DAY, 8, 0, NULL }, CW_CONFLICT, "as");
    entry = must_split(&t, (cw_split){ "L1", "CIN", "L1C", CW_NO_DAY, 8, 9, NULL });
    /* A check that found nothing is an entry, too. */
    cw_check_ok(
        load_one(&t, "checks.csv", "lot,checked_on,stage,inspected,rotten\nL1C,2032-02-01,clump,8,0\n").code,
        &err);
    assert_int_equal(take_back(&t, entry, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "L1C"));
    rows_are(&t, stands, "L1|AMB|A1|20|0\nL1|AMB|B1|0|30\nL1C|CIN|A1|8|0\nL1C|CIN|B1|0|9\n");
    test_nursery_free(&t);
}

static void cohorts_of(test_nursery *t, const char *lot, cw_text *out)
{
    cw_error err = CW_ERROR_NONE;
    cw_forecast_data *d = NULL;
    cw_check_ok(cw_forecast_data_load(t->n, t->who.today, on(2032, 4, 19), &d, &err), &err);
    for (size_t i = 0; i < d->cohorts; i++) {
        const cw_fd_cohort *c = &d->cohort[i];
        if (strcmp(d->snapshot->lot[c->lot].code, lot) == 0)
            cw_text_addf(out, "%s %lld since %d sound %d cut %.4f\n",
                         c->stage == CW_CLUMP ? "clumps" : "divisions", (long long)c->count, c->since,
                         c->sound, d->lot_cut[c->lot]);
    }
    cw_forecast_data_free(d);
}

/* It was dug when it was dug and cut when it was cut, and what was known to be sound is. */
static void its_clocks_run_on(void **state)
{
    (void)state;
    test_nursery t;
    a_small_nursery(&t);
    cw_text had = CW_TEXT(2000), has = CW_TEXT(2000), rest = CW_TEXT(2000);
    cohorts_of(&t, "L1", &had);
    assert_non_null(strstr(had.data, "clumps 28 since 22572 sound"));
    must_split(&t, (cw_split){ "L1", "CIN", "L1B", CW_NO_DAY, -1, -1, NULL });
    cohorts_of(&t, "L1B", &has);
    is_text(has.data, had.data);
    cohorts_of(&t, "L1", &rest);
    assert_true(rest.data == NULL || rest.data[0] == '\0');
    cw_text_free(&had);
    cw_text_free(&has);
    cw_text_free(&rest);
    test_nursery_free(&t);
}

/* A sick lot's part is sick, too: whoever got of either is found from the lot. */
static void its_origin_is_followed(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table out = { 0 };
    a_small_nursery(&t);
    int64_t entry = must_split(&t, (cw_split){ "L1", "CIN", "L1B", CW_NO_DAY, 8, 9, NULL });
    cw_check_ok(cw_lineage_tree(t.n, &t.who, &(cw_lineage_ask){ .lot = "L1" }, &out, &err), &err);
    size_t code = (size_t)cw_table_column(&out, "code"), way = (size_t)cw_table_column(&out, "way");
    size_t found = 0;
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        if (strcmp(cw_table_text(&out, r, code), "L1B") == 0) {
            assert_string_equal(cw_table_text(&out, r, way), "came");
            assert_string_equal(cw_table_text(&out, r, (size_t)cw_table_column(&out, "was")), "AMB");
            found++;
        }
    assert_int_equal(found, 1);
    cw_table_free(&out);
    cw_check_ok(cw_lineage_tree(t.n, &t.who, &(cw_lineage_ask){ .lot = "L1B" }, &out, &err), &err);
    found = 0;
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        if (strcmp(cw_table_text(&out, r, code), "L1") == 0) {
            assert_string_equal(cw_table_text(&out, r, way), "from");
            found++;
        }
    assert_int_equal(found, 1);
    cw_table_free(&out);
    cw_check_ok(take_back(&t, entry, &err), &err);
    cw_check_ok(cw_lineage_tree(t.n, &t.who, &(cw_lineage_ask){ .lot = "L1" }, &out, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        assert_string_not_equal(cw_table_text(&out, r, code), "L1B");
    cw_table_free(&out);
    test_nursery_free(&t);
}

/* "came" of the variety as of the first day that is asked for. */
static int64_t came(test_nursery *t, const char *code, cw_day day)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    int64_t v = -1;
    cw_check_ok(cw_hindsight_rows(t->n, &t->who, &(cw_hindsight_ask){ &day, 1 }, &out, &err), &err);
    size_t unit = (size_t)cw_table_column(&out, "code"), at = (size_t)cw_table_column(&out, "came");
    for (size_t r = 0; r < cw_table_rows(&out); r++)
        if (strcmp(cw_table_text(&out, r, unit), code) == 0)
            v = cw_table_int(&out, r, at);
    cw_table_free(&out);
    return v;
}

/* On the past day it stood in the lot: what came of it is measured there, and not called lost. */
static void hindsight_counts_it_where_it_stood(void **state)
{
    (void)state;
    test_nursery t;
    test_nursery_make(&t);
    load_one(&t, "varieties.csv", varieties);
    load_one(&t, "lots.csv", "lot,variety,dug_on,clumps\nK1,AMB,2031-10-20,10\n");
    load_one(&t, "divisions.csv", "lot,divided_on,clumps,saleable,rotten\nK1,2031-12-05,10,40,0\n");
    load_one(&t, "checks.csv", "lot,checked_on,stage,inspected,rotten\nK1,2032-01-20,division,40,0\n");
    int64_t whole = came(&t, "AMB", on(2031, 11, 1));
    assert_true(whole > 30);
    must_split(&t, (cw_split){ "K1", "CIN", "K1B", on(2032, 1, 25), 0, 15, NULL });
    assert_int_equal(came(&t, "AMB", on(2031, 11, 1)), whole);
    test_nursery_free(&t);
}

/* The next season's file knows what both lots taught, and its proof agrees. */
static void the_season_is_closed_over_it(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t, u;
    cw_table out = { 0 };
    char path[96];
    long broken = 0;
    a_small_nursery(&t);
    must_split(&t, (cw_split){ "L1", "CIN", "L1B", on(2032, 1, 20), 8, 9, NULL });
    assert_int_equal(
        load_one(&t, "divisions.csv", "lot,divided_on,clumps,saleable,rotten\nL1B,2032-01-28,8,30,1\n").code,
        CW_OK);
    snprintf(path, sizeof path, "%s/next.db", t.folder);
    const cw_next ask = { path, 2032, on(2033, 4, 18), true };
    cw_check_ok(cw_closing_next(t.n, &t.who, &ask, true, &out, &err), &err);
    cw_table_free(&out);
    u = t;
    cw_copy(u.path, sizeof u.path, path);
    cw_check_ok(cw_nursery_open(path, CW_WORK, "test", &u.n, &err), &err);
    test_nursery_check(&u);
    cw_check_ok(cw_closing_prove(u.n, t.n, &t.who, &out, &broken, &err), &err);
    assert_int_equal(broken, 0);
    cw_table_free(&out);
    rows_are(&u,
             "SELECT v.code, h.clumps, h.divisions FROM history h JOIN variety v ON v.id = h.variety_id "
             "WHERE h.lot = 'L1B'",
             "CIN|7|30\n");
    assert_int_equal(number_of(&u, "SELECT COUNT(*) FROM lot_split"), 0);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_part_becomes_a_lot_of_its_own),
        cmocka_unit_test(all_that_is_left_from_a_day_on),
        cmocka_unit_test(sessions_since_that_day_are_named),
        cmocka_unit_test(what_cannot_be_is_refused),
        cmocka_unit_test(walks_are_left_what_they_take),
        cmocka_unit_test(it_is_taken_back),
        cmocka_unit_test(its_clocks_run_on),
        cmocka_unit_test(its_origin_is_followed),
        cmocka_unit_test(hindsight_counts_it_where_it_stood),
        cmocka_unit_test(the_season_is_closed_over_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
