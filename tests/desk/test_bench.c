/* SPDX-License-Identifier: MIT */
/* The cutting room on the demo season: every law of the plan, and what stands on record in every later state. */
#include "support/demo.h"
#include "support/order_desk.h"

#include "desk/bench/dividing.h"
#include "desk/bench/lying.h"
#include "desk/cellar/cellar.h"
#include "desk/stock/tracing.h"

#include "store/db_inside.h"
#include <math.h>
#include <sqlite3.h>

static const cw_bench_ask whole = { CW_NO_DAY, 0 };

static int64_t int_of(const cw_table *t, size_t row, const char *column)
{
    return cw_table_int(t, row, (size_t)cw_table_column(t, column));
}

static const char *text_of(const cw_table *t, size_t row, const char *column)
{
    return cw_table_text(t, row, (size_t)cw_table_column(t, column));
}

static void plan(test_nursery *t, cw_table *out, cw_text *notes)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_bench_plan(t->n, &t->who, &whole, out, notes, &err), &err);
}

/* Day on which a lot is first washed or cut by the plan; CW_NO_DAY: never. */
static cw_day day_of(const cw_table *p, const char *lot, const char *step)
{
    for (size_t r = 0; r < cw_table_rows(p); r++)
        if (strcmp(text_of(p, r, "lot"), lot) == 0 && strcmp(text_of(p, r, "step"), step) == 0)
            return (cw_day)int_of(p, r, "day");
    return CW_NO_DAY;
}

static bool works(cw_day day)
{
    return ((int64_t)day + 3) % 7 < 5;
}

static cw_day working_day_before(cw_day day)
{
    do
        day--;
    while (!works(day));
    return day;
}

static cw_day next_working_day(cw_day day)
{
    do
        day++;
    while (!works(day));
    return day;
}

/* No day over its minutes (two people cut, one washes, seven hours), none off; each lot whole, washed exactly one working day
 * before it is cut. Lots that stand on record for today were washed before. */
static void check_laws(test_nursery *t, const cw_table *p)
{
    for (cw_day day = t->who.today; day < t->who.today + 120; day++) {
        int64_t minutes[2] = { 0, 0 };
        for (size_t r = 0; r < cw_table_rows(p); r++)
            if (int_of(p, r, "day") == day)
                minutes[strcmp(text_of(p, r, "step"), "cut") == 0] += int_of(p, r, "minutes");
        assert_true(minutes[0] <= (works(day) ? 420 : 0));
        assert_true(minutes[1] <= (works(day) ? 840 : 0));
    }
    for (size_t r = 0; r < cw_table_rows(p); r++) {
        const char *lot = text_of(p, r, "lot");
        cw_day cut = day_of(p, lot, "cut"), wash = day_of(p, lot, "wash");
        assert_int_not_equal(cut, CW_NO_DAY);
        assert_int_equal(wash, working_day_before(cut));
    }
}

static void test_the_plan_keeps_its_laws(void **state)
{
    test_nursery t;
    cw_table p = { 0 };
    cw_text notes = CW_TEXT(10000);
    int64_t clumps = 0;
    (void)state;
    test_demo_make(&t);
    plan(&t, &p, &notes);
    check_laws(&t, &p);
    for (size_t r = 0; r < cw_table_rows(&p); r++)
        clumps += strcmp(text_of(&p, r, "step"), "cut") == 0 ? int_of(&p, r, "clumps") : 0;
    assert_true(clumps > 3900 && clumps <= 4109); /* all that is on hand (test_forecast), less what is held */
    assert_non_null(strstr(notes.data, "above the bound"));
    assert_non_null(strstr(notes.data, "a clump counts as 6 minutes"));
    print_message("%s", notes.data);
    cw_text_free(&notes);
    cw_table_free(&p);
    test_nursery_free(&t);
}

/* The money of a lot's row is that of the matrix, on its day. */
static void test_costs_are_those_of_the_plan(void **state)
{
    test_nursery t;
    cw_table p = { 0 }, c = { 0 };
    cw_error err = CW_ERROR_NONE;
    size_t found = 0;
    (void)state;
    test_demo_make(&t);
    plan(&t, &p, NULL);
    cw_check_ok(cw_bench_costs(t.n, &t.who, &whole, &c, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&p); r++) {
        if (strcmp(text_of(&p, r, "step"), "cut") != 0)
            continue;
        for (size_t k = 0; k < cw_table_rows(&c); k++)
            if (strcmp(text_of(&c, k, "lot"), text_of(&p, r, "lot")) == 0 &&
                int_of(&c, k, "day") == int_of(&p, r, "day")) {
                assert_int_equal(int_of(&c, k, "loss"), int_of(&p, r, "loss"));
                assert_int_equal(int_of(&c, k, "knowledge"), int_of(&p, r, "knowledge"));
                assert_int_equal(int_of(&c, k, "minutes"), int_of(&p, r, "minutes"));
                found++;
            }
    }
    assert_true(found > 100);
    cw_table_free(&p);
    cw_table_free(&c);
    test_nursery_free(&t);
}

static cw_code move(test_nursery *t, const char *lot, cw_day day, bool keep, cw_table *out, cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    return cw_bench_move(t->n, &t->who, lot, day, keep, out, err);
}

/* A move is priced, stays through later plans, and is let go; a day that cannot be is refused with its reason. */
static void test_a_move_by_hand(void **state)
{
    test_nursery t;
    cw_table p = { 0 }, m = { 0 };
    cw_error err;
    char lot[40];
    (void)state;
    test_demo_make(&t);
    plan(&t, &p, NULL);
    cw_copy(lot, sizeof lot, text_of(&p, 0, "lot"));
    cw_day was = day_of(&p, lot, "cut"), later = was + 7;
    cw_table_free(&p);
    assert_int_equal(move(&t, lot, later, false, &m, &err), CW_OK);
    assert_int_equal(int_of(&m, 0, "was"), was);
    assert_true(int_of(&m, 0, "total") + 1 >= int_of(&m, 0, "bound"));
    cw_table_free(&m);
    plan(&t, &p, NULL); /* a preview changes nothing */
    assert_int_equal(day_of(&p, lot, "cut"), was);
    cw_table_free(&p);
    assert_int_equal(move(&t, lot, later, true, &m, &err), CW_OK);
    cw_table_free(&m);
    plan(&t, &p, NULL);
    assert_int_equal(day_of(&p, lot, "cut"), later);
    check_laws(&t, &p);
    cw_table_free(&p);
    while (works(later))
        later++;
    assert_int_equal(move(&t, lot, later, true, &m, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "nobody cuts"));
    cw_table_free(&m);
    assert_int_equal(move(&t, lot, t.who.today, true, &m, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "washed the working day before"));
    cw_table_free(&m);
    assert_int_equal(move(&t, "NIL", was, true, &m, &err), CW_NOT_FOUND);
    cw_table_free(&m);
    t.who.role = CW_ROLE_CELLAR;
    assert_int_equal(move(&t, lot, was, true, &m, &err), CW_FORBIDDEN);
    t.who.role = CW_ROLE_OWNER;
    cw_table_free(&m);
    cw_check_ok(cw_bench_let_go(t.n, &t.who, lot, &m, &err), &err);
    cw_table_free(&m);
    plan(&t, &p, NULL);
    assert_int_equal(day_of(&p, lot, "cut"), was);
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* What is washed today is cut on the next working day whatever is planned anew; what was frozen and not done is free again once
 * its day is past; a lot that was washed and not cut is first on the next list. */
static void test_what_stands(void **state)
{
    test_nursery t;
    cw_table p = { 0 }, m = { 0 };
    cw_error err = CW_ERROR_NONE;
    char lot[40];
    (void)state;
    test_demo_make(&t);
    cw_check_ok(cw_bench_freeze(t.n, &t.who, &whole, &m, &err), &err);
    size_t frozen = cw_table_rows(&m);
    assert_true(frozen > 3);
    cw_copy(lot, sizeof lot, text_of(&m, 0, "lot"));
    cw_table_free(&m);
    cw_check_ok(cw_bench_freeze(t.n, &t.who, &whole, &m, &err), &err);
    assert_int_equal(cw_table_rows(&m), 0); /* it stands already */
    cw_table_free(&m);
    cw_check_ok(cw_bench_washed(t.n, &t.who, lot, CW_NO_DAY, &m, &err), &err);
    cw_day next = next_working_day(t.who.today);
    assert_int_equal(int_of(&m, 0, "day"), next);
    cw_table_free(&m);
    plan(&t, &p, NULL);
    assert_int_equal(day_of(&p, lot, "cut"), next);
    assert_int_equal(day_of(&p, lot, "wash"), CW_NO_DAY); /* done */
    cw_table_free(&p);
    t.who.today = next_working_day(next); /* nothing was cut meanwhile */
    t.who.now = t.who.today * CW_DAY_MS + 43200000;
    plan(&t, &p, NULL);
    assert_int_equal(day_of(&p, lot, "cut"), t.who.today); /* first */
    for (size_t r = 0; r < cw_table_rows(&p); r++)
        assert_true(int_of(&p, r, "day") > t.who.today || strcmp(text_of(&p, r, "lot"), lot) == 0 ||
                    strcmp(text_of(&p, r, "step"), "wash") == 0);
    cw_table_free(&p);
    cw_cellar_entry e = CW_CELLAR_ENTRY; /* cut whole: it is gone from the plan */
    e.lot = lot;
    e.clumps = number_of(&t, "SELECT SUM(b.clumps) FROM balance b JOIN dividing_day d ON d.lot_id = b.lot_id "
                             "WHERE d.why = 'washed'");
    e.saleable = 4;
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &e, &m, &err), &err);
    cw_table_free(&m);
    plan(&t, &p, NULL);
    assert_int_equal(day_of(&p, lot, "cut"), CW_NO_DAY);
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* A held lot stands in no plan, nobody at the bench cuts nothing, and what does not fit is said with its minutes. */
static void test_what_does_not_fit_is_said(void **state)
{
    test_nursery t;
    cw_table p = { 0 };
    cw_text notes = CW_TEXT(10000);
    cw_error err = CW_ERROR_NONE;
    char lot[40];
    (void)state;
    test_demo_make(&t);
    plan(&t, &p, NULL);
    cw_copy(lot, sizeof lot, text_of(&p, 0, "lot"));
    cw_table_free(&p);
    cw_check_ok(cw_tracing_hold(t.n, &t.who, lot, "looks sick", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "bench_hours", "1", &err), &err);
    plan(&t, &p, &notes);
    assert_int_equal(day_of(&p, lot, "cut"), CW_NO_DAY);
    assert_non_null(strstr(notes.data, "held and in no plan"));
    assert_non_null(strstr(notes.data, "minutes at the bench are missing"));
    cw_table_free(&p);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "cutters", "0", &err), &err);
    plan(&t, &p, NULL);
    assert_int_equal(cw_table_rows(&p), 0);
    cw_table_free(&p);
    cw_text_free(&notes);
    test_nursery_free(&t);
}

static int64_t minutes_of(test_nursery *t, const char *lot)
{
    cw_table p = { 0 };
    int64_t minutes = 0;
    plan(t, &p, NULL);
    for (size_t r = 0; r < cw_table_rows(&p); r++)
        if (strcmp(text_of(&p, r, "lot"), lot) == 0 && strcmp(text_of(&p, r, "step"), "cut") == 0)
            minutes += int_of(&p, r, "minutes");
    cw_table_free(&p);
    return minutes;
}

/* Sessions that say how long they took change what the other lots are counted with: minutes times people, and back when they
 * are taken back. */
static void test_a_timed_session_and_its_undoing(void **state)
{
    test_nursery t;
    cw_table p = { 0 }, m = { 0 };
    cw_text notes = CW_TEXT(10000);
    cw_error err = CW_ERROR_NONE;
    char cut[40], other[40];
    (void)state;
    test_demo_make(&t);
    plan(&t, &p, NULL);
    cw_copy(cut, sizeof cut, text_of(&p, 0, "lot"));
    cw_copy(other, sizeof other, text_of(&p, cw_table_rows(&p) - 1, "lot"));
    cw_table_free(&p);
    int64_t stated = minutes_of(&t, other);
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = cut;
    e.clumps = 1;
    e.saleable = 4;
    e.minutes = 12;
    e.people = 2; /* 24 minutes a clump, where 6 are stated */
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &e, &m, &err), &err);
    int64_t id = int_of(&m, 0, "cause_id");
    cw_table_free(&m);
    int64_t learned = minutes_of(&t, other);
    assert_true(learned > stated && learned < 4 * stated);
    plan(&t, &p, &notes);
    assert_null(strstr(notes.data, "No session says how long"));
    cw_table_free(&p);
    cw_check_ok(cw_cellar_undo(t.n, &t.who, "dividing", id, "another lot", &m, &err), &err);
    cw_table_free(&m);
    assert_int_equal(minutes_of(&t, other), stated);
    e.people = 0; /* one, if nobody says how many */
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &e, &m, &err), &err);
    cw_table_free(&m);
    assert_true(minutes_of(&t, other) < learned);
    cw_text_free(&notes);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* What is promised for a week and cannot be cut in time is said, week by week, with the minutes that are missing and the day. */
static void test_what_is_too_late_for_its_week_is_said(void **state)
{
    test_nursery t;
    cw_table p = { 0 };
    cw_text notes = CW_TEXT(10000);
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_demo_make(&t);
    const cw_allotting_ask ask = { .rule = "first-come", .projected = true }; /* more than is cut by now */
    cw_allotting_done done;
    cw_check_ok(cw_allotting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err), &err);
    plan(&t, &p, &notes);
    cw_table_free(&p);
    assert_null(strstr(notes.data, "cut too late")); /* nobody was told a week */
    assert_int_equal(sqlite3_exec(t.n->db->raw,
                                  "UPDATE orders SET ship_week = 203217 + id % 2 WHERE state = 'open'", NULL,
                                  NULL, NULL),
                     SQLITE_OK);
    cw_text_clear(&notes);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "cut_lead_days", "60", &err), &err);
    plan(&t, &p, &notes);
    const char *first = strstr(notes.data, "promised for week 2032-W17"),
               *second = strstr(notes.data, "promised for week 2032-W18");
    if (!(first && second && first < second))
        fail_msg("%s", notes.data);
    assert_non_null(
        strstr(first, "minutes at the bench are missing up to 2032-02-19")); /* 19 April less 60 days */
    cw_table_free(&p);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "cut_lead_days", "0", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "cutters", "40", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "washers", "40", &err), &err);
    cw_text_clear(&notes);
    plan(&t, &p, &notes);
    assert_null(strstr(notes.data, "cut too late")); /* hands enough */
    cw_table_free(&p);
    cw_text_free(&notes);
    test_nursery_free(&t);
}

/* A day off, and a day with more hands. */
static void test_the_calendar(void **state)
{
    test_nursery t;
    cw_table p = { 0 }, m = { 0 };
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_demo_make(&t);
    cw_day first = next_working_day(t.who.today), second = next_working_day(first);
    cw_check_ok(cw_bench_crew(t.n, &t.who, first, 0, 0, 0, &m, &err), &err);
    cw_table_free(&m);
    plan(&t, &p, NULL);
    for (size_t r = 0; r < cw_table_rows(&p); r++)
        assert_int_not_equal(int_of(&p, r, "day"), first);
    /* what is cut on the second is washed before the day off */
    assert_int_equal(int_of(&p, 0, "day"), t.who.today);
    assert_int_equal(day_of(&p, text_of(&p, 0, "lot"), "cut"), second);
    cw_table_free(&p);
    assert_int_equal(cw_bench_crew(t.n, &t.who, t.who.today - 1, 1, 1, 1, &m, &err), CW_REFUSED);
    cw_table_free(&m);
    test_nursery_free(&t);
}

/* Sessions that say how long they took teach what a clump takes. */
static void test_minutes_are_learned(void **state)
{
    test_nursery t;
    cw_table before = { 0 }, after = { 0 };
    cw_error err = CW_ERROR_NONE;
    int64_t sums[2] = { 0, 0 };
    (void)state;
    test_demo_make(&t);
    cw_check_ok(cw_bench_costs(t.n, &t.who, &whole, &before, &err), &err);
    assert_int_equal(sqlite3_exec(t.n->db->raw,
                                  "UPDATE dividing SET minutes = 4 * clumps, people = 3 WHERE clumps > 0",
                                  NULL, NULL, NULL),
                     SQLITE_OK); /* 12 minutes of one person */
    cw_check_ok(cw_bench_costs(t.n, &t.who, &whole, &after, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&before); r++)
        sums[0] += int_of(&before, r, "minutes");
    for (size_t r = 0; r < cw_table_rows(&after); r++)
        sums[1] += int_of(&after, r, "minutes");
    double ratio = (double)sums[1] / (double)sums[0];
    assert_true(ratio > 1.85 && ratio < 2.02);
    cw_table_free(&before);
    cw_table_free(&after);
    test_nursery_free(&t);
}

static double number_in(const json_t *o, const char *name)
{
    return json_number_value(json_object_get(o, name));
}

/* Every place in walking order with what the ledger has there; shares rise with the days and stay shares; a held lot is seen. */
static void test_the_cellar_place_by_place(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *o = NULL;
    double clumps = 0, divisions = 0, walk = -1;
    size_t held = 0, dry = 0;
    (void)state;
    test_demo_make(&t);
    cw_check_ok(cw_tracing_hold(t.n, &t.who, "L0002", "looks sick", &err), &err);
    cw_check_ok(cw_lying_look(t.n, &t.who, &o, &err), &err);
    const json_t *places = json_object_get(o, "places");
    assert_int_equal(json_array_size(json_object_get(o, "days")), 5);
    assert_int_equal(json_array_size(json_object_get(o, "rooms")), 3);
    for (size_t i = 0; i < json_array_size(places); i++) {
        const json_t *p = json_array_get(places, i);
        double before = 0;
        assert_true(number_in(p, "walk_order") >= walk);
        walk = number_in(p, "walk_order");
        clumps += number_in(p, "clumps");
        divisions += number_in(p, "divisions");
        held += (size_t)number_in(p, "held");
        for (int k = 0; k < 5; k++) {
            char rot[8], shrivelled[8];
            snprintf(rot, sizeof rot, "rot_%d", k);
            snprintf(shrivelled, sizeof shrivelled, "dry_%d", k);
            double r = number_in(p, rot), s = number_in(p, shrivelled);
            assert_true(r >= before - 1e-4 && r <= 1 && s >= 0 && s <= 1);
            assert_true(number_in(p, "divisions") > 0 || s == 0);
            before = r;
            dry += k == 4 && s > 0;
        }
    }
    assert_int_equal((int64_t)clumps, number_of(&t, "SELECT SUM(clumps) FROM balance"));
    assert_int_equal((int64_t)divisions, number_of(&t, "SELECT SUM(divisions) FROM balance"));
    assert_true(held >= 1 && dry > 10);
    json_decref(o);
    test_nursery_free(&t);
    test_nursery_make(&t); /* an empty file */
    cw_check_ok(cw_lying_look(t.n, &t.who, &o, &err), &err);
    assert_int_equal(json_array_size(json_object_get(o, "places")), 0);
    json_decref(o);
    test_nursery_free(&t);
}

static double saved(test_nursery *t, const char *room, double points)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_lying_damper(t->n, &t->who, room, points, &out, &err), &err);
    double more = cw_table_real(&out, 0, (size_t)cw_table_column(&out, "saved"));
    cw_table_free(&out);
    return more;
}

/* The dry room gains by damper air, the more the damper; nothing changes at nothing; drier air costs. By the law of drying: k X stands for
 * the loss, so a room as damp as 100 % loses nothing more from today on, and no more than that can be saved. */
static void test_a_damper_room(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    test_demo_make(&t);
    assert_true(fabs(saved(&t, "south", 0)) < 1e-9);
    double two = saved(&t, "south", 2), five = saved(&t, "south", 5), wet = saved(&t, "south", 15);
    assert_true(two > 10 && five > two && wet > five);
    assert_true(fabs(saved(&t, "south", 20) - wet) < 1e-6); /* it is at 88 %: more than 100 % there is not */
    assert_true(saved(&t, "south", -2) < -10);
    assert_int_equal(cw_lying_damper(t.n, &t.who, "attic", 2, &out, &err), CW_NOT_FOUND);
    assert_string_equal(err.column, "room");
    cw_table_free(&out);
    assert_int_equal(cw_lying_damper(t.n, &t.who, "south", 21, &out, &err), CW_REFUSED);
    cw_table_free(&out);
    test_nursery_free(&t);
}

/* An empty file, and one with a single lot and no price. */
static void test_next_to_nothing(void **state)
{
    test_nursery t;
    cw_table p = { 0 };
    cw_text notes = CW_TEXT(10000);
    (void)state;
    test_nursery_make(&t);
    plan(&t, &p, &notes);
    assert_int_equal(cw_table_rows(&p), 0);
    cw_table_free(&p);
    load_text(&t, "varieties.csv", "code,name\nAMB,Amber\n");
    load_text(&t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-24,12\n");
    cw_text_clear(&notes);
    plan(&t, &p, &notes);
    assert_int_equal(cw_table_rows(&p), 2);
    assert_non_null(strstr(notes.data, "No variety has a price"));
    check_laws(&t, &p);
    cw_table_free(&p);
    cw_text_free(&notes);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_plan_keeps_its_laws),
        cmocka_unit_test(test_costs_are_those_of_the_plan),
        cmocka_unit_test(test_a_move_by_hand),
        cmocka_unit_test(test_what_stands),
        cmocka_unit_test(test_what_does_not_fit_is_said),
        cmocka_unit_test(test_a_timed_session_and_its_undoing),
        cmocka_unit_test(test_what_is_too_late_for_its_week_is_said),
        cmocka_unit_test(test_the_cellar_place_by_place),
        cmocka_unit_test(test_a_damper_room),
        cmocka_unit_test(test_the_calendar),
        cmocka_unit_test(test_minutes_are_learned),
        cmocka_unit_test(test_next_to_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
