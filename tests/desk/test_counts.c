/* SPDX-License-Identifier: MIT */
/* What a stock-take tells a projection, and what planting does to the hold-back. */
#include "support/intake.h"

#include "base/rng.h"
#include "desk/cellar/cellar.h"
#include "desk/forecast/forecast.h"
#include <math.h>

#include "base/banned.h"

/* ---- an invented nursery whose divisions rot one by one at their own moment ---- */

#define VARIETIES 40
#define LOTS      2 /* of each variety */
#define SEED      20320329u

typedef struct world {
    cw_rng rng;
    double hazard[VARIETIES];         /* a week */
    int64_t made[VARIETIES][LOTS];    /* cut on 10 January, 100 days before shipping */
    int64_t counted[VARIETIES][LOTS]; /* sound on the day of the count */
    int64_t came[VARIETIES];          /* sound on the shipping day */
    double lot_hazard[VARIETIES][LOTS];
} world;

static const cw_forecast_ask all = { CW_NO_DAY, CW_NO_DAY, NULL };

static double normal(cw_rng *r)
{
    double u = cw_rng_uniform(r), v = cw_rng_uniform(r);
    return sqrt(-2 * log(u > 1e-300 ? u : 1e-300)) * cos(6.283185307179586 * v);
}

static int64_t survive(cw_rng *r, int64_t n, double hazard, double weeks)
{
    int64_t left = 0;
    for (int64_t i = 0; i < n; i++)
        left += cw_rng_uniform(r) < exp(-hazard * weeks);
    return left;
}

/* What is counted `days` before shipping, and what is left on the shipping day. */
static void draw_world(world *w, uint64_t seed, int days)
{
    cw_rng_init(&w->rng, SEED, seed);
    for (int v = 0; v < VARIETIES; v++) {
        w->hazard[v] = 0.006 * exp(0.5 * normal(&w->rng));
        w->came[v] = 0;
        for (int k = 0; k < LOTS; k++) {
            double h = w->lot_hazard[v][k] = w->hazard[v] * exp(0.25 * normal(&w->rng));
            w->made[v][k] = 40 + (int64_t)cw_rng_below(&w->rng, 160);
            w->counted[v][k] = survive(&w->rng, w->made[v][k], h, (100 - days) / 7.0);
            w->came[v] += survive(&w->rng, w->counted[v][k], h, days / 7.0);
        }
    }
}

static void past_checks(world *w, cw_text *csv)
{
    cw_text_add(csv, "season,variety,stage,weeks,inspected,rotten\n");
    for (int season = 2027; season < 2031; season++)
        for (int v = 0; v < VARIETIES; v++) {
            int64_t left = survive(&w->rng, 80, w->hazard[v] * exp(0.25 * normal(&w->rng)), 8);
            cw_text_addf(csv, "%d,V%02d,division,8,80,%d\n", season, v, (int)(80 - left));
        }
}

static void must_load_text(test_nursery *t, const char *name, cw_text *text)
{
    cw_intake_file f = file(name, text->data);
    loaded l = load_with(t, &f, 1, (cw_intake_options){ 0 });
    assert_string_equal(l.first, "");
    assert_int_equal(l.code, CW_OK);
    cw_text_free(text);
}

/* The world as a nursery loads it; counted on a day, or not at all (0). */
static void make(test_nursery *t, world *w, cw_day count_on)
{
    cw_text v = CW_TEXT(1 << 16), l = CW_TEXT(1 << 16), d = CW_TEXT(1 << 16), p = CW_TEXT(1 << 16),
            c = CW_TEXT(1 << 16);
    char day[11];
    test_nursery_make(t);
    t->who.today = t->n->season.ship;
    t->who.now = t->who.today * CW_DAY_MS + 43200000;
    cw_text_add(&v, "code,name\n");
    cw_text_add(&l, "lot,variety,dug_on,clumps\n");
    cw_text_add(&d, "lot,divided_on,clumps,saleable\n");
    cw_text_add(&c, "lot,counted_on,stage,count\n");
    cw_day_format(count_on, day);
    for (int i = 0; i < VARIETIES; i++) {
        cw_text_addf(&v, "V%02d,Variety %d\n", i, i);
        for (int k = 0; k < LOTS; k++) {
            cw_text_addf(&l, "L%02d%d,V%02d,2031-10-20,50\n", i, k, i);
            cw_text_addf(&d, "L%02d%d,2032-01-10,50,%d\n", i, k, (int)w->made[i][k]);
            cw_text_addf(&c, "L%02d%d,%s,division,%d\n", i, k, day, (int)w->counted[i][k]);
        }
    }
    past_checks(w, &p);
    must_load_text(t, "varieties.csv", &v);
    must_load_text(t, "past_checks.csv", &p);
    must_load_text(t, "lots.csv", &l);
    must_load_text(t, "divisions.csv", &d);
    if (count_on)
        must_load_text(t, "counts.csv", &c);
    else
        cw_text_free(&c);
}

static int64_t figure(const cw_table *p, size_t row, const char *column)
{
    return cw_table_int(p, row, (size_t)cw_table_column(p, column));
}

static void all_counted_on_the_shipping_day_is_what_is_projected(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    world w;
    test_nursery t;
    cw_table p = { 0 };
    draw_world(&w, 0, 0);
    make(&t, &w, cw_day_from_ymd(2032, 4, 19));
    cw_check_ok(cw_forecast_project(t.n, &t.who, &all, &p, NULL, &err), &err);
    assert_int_equal(cw_table_rows(&p), VARIETIES);
    for (size_t v = 0; v < VARIETIES; v++) {
        int64_t counted = w.counted[v][0] + w.counted[v][1];
        assert_int_equal(figure(&p, v, "divisions"), counted);
        cw_check_near("projected", cw_table_real(&p, v, (size_t)cw_table_column(&p, "expected")),
                      (double)counted, 1e-9);
        assert_int_equal(figure(&p, v, "p05"), counted);
        assert_int_equal(figure(&p, v, "p95"), counted);
    }
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

typedef struct kept {
    double expected, came, held;
    long n;
} kept;

static void score(test_nursery *t, const world *w, kept *k)
{
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_forecast_ask ask = { t->n->season.ship, t->n->season.ship - 21, NULL };
    cw_check_ok(cw_forecast_project(t->n, &t->who, &ask, &p, NULL, &err), &err);
    for (size_t v = 0; v < VARIETIES; v++) {
        k->expected += cw_table_real(&p, v, (size_t)cw_table_column(&p, "expected"));
        k->came += (double)w->came[v];
        /* as a range of whole numbers promises: the ends in full when within, in halves when on them would be unfair
         * to neither */
        k->held += figure(&p, v, "p10") <= w->came[v] && w->came[v] <= figure(&p, v, "p90");
        k->n++;
    }
    cw_table_free(&p);
}

static void a_count_three_weeks_before_neither_biases_nor_narrows_too_far(void **state)
{
    (void)state;
    kept counted = { 0 }, not_counted = { 0 };
    for (uint64_t seed = 1; seed <= 6; seed++) {
        world w;
        test_nursery t;
        draw_world(&w, seed, 21);
        make(&t, &w, cw_day_from_ymd(2032, 3, 29));
        score(&t, &w, &counted);
        test_nursery_free(&t);
        draw_world(&w, seed, 21);
        make(&t, &w, 0);
        score(&t, &w, &not_counted);
        test_nursery_free(&t);
    }
    double bias = counted.expected / counted.came - 1, cover = counted.held / (double)counted.n;
    print_message("counted: bias %.2f %%, cover80 %.3f; not counted: bias %.2f %%, cover80 %.3f (seed %u)\n",
                  100 * bias, cover, 100 * (not_counted.expected / not_counted.came - 1),
                  not_counted.held / (double)not_counted.n, SEED);
    assert_true(fabs(bias) <
                0.015); /* never weighed: what may shrivel is open, and a count closes it in part */
    assert_true(cover >= not_counted.held / (double)not_counted.n || cover >= 0.8);
}

/* ---- one lot, looked at closely ---- */

static void one_lot(test_nursery *t)
{
    test_nursery_make(t);
    cw_intake_file f[] = {
        file("varieties.csv", "code,name,hold_back\nAMB,Amber Lantern,10\n"),
        file("places.csv", "place,room,walk_order\nA1,north,10\nB1,south,30\n"),
        file("lots.csv", "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,40,A1\n"),
        file("divisions.csv", "lot,divided_on,clumps,saleable,place\nL1,2031-11-10,40,100,A1\n"),
    };
    loaded l = load_with(t, f, 4, (cw_intake_options){ 0 });
    assert_string_equal(l.first, "");
}

/* Expected on the shipping day after a count of so many, looked through or not. */
static double expected_after(int64_t count, const char *looked, const char *counts_look)
{
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    one_lot(&t);
    if (counts_look)
        cw_check_ok(cw_nursery_set(t.n, &t.who, "counts_look", counts_look, &err), &err);
    e.lot = "L1";
    e.stage = "division";
    e.count = count;
    e.looked = looked;
    cw_check_ok(cw_cellar_count(t.n, &t.who, &e, &p, &err), &err);
    cw_table_free(&p);
    cw_forecast_ask now = { t.who.today, t.who.today, NULL };
    cw_check_ok(cw_forecast_project(t.n, &t.who, &now, &p, NULL, &err), &err);
    assert_int_equal(figure(&p, 0, "divisions"), count);
    double expected = cw_table_real(&p, 0, (size_t)cw_table_column(&p, "expected"));
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
    return expected;
}

static void what_was_said_of_a_count_decides_then_the_setting(void **state)
{
    (void)state;
    cw_check_near("as many, looked through", expected_after(100, "yes", "0"), 100, 1e-9);
    assert_true(expected_after(100, "no", "1") < 99);
    cw_check_near("as many, the setting says looked", expected_after(100, NULL, NULL), 100, 1e-9);
    assert_true(expected_after(100, NULL, "0") < 99);
    cw_check_near("fewer: somebody looked", expected_after(93, NULL, "0"), 93, 1e-9);
    assert_true(expected_after(93, "no", NULL) < 92.5);
    cw_check_near("more", expected_after(104, "yes", NULL), 104, 1e-9);
}

/* Counted, found and picked on one day, in any order: cohorts and ledger stay one. */
static void counts_and_entries_of_one_day_keep_their_order(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 };
    one_lot(&t);
    const struct {
        const char *place, *reason;
        int64_t n; /* of a count, or of an entry with this reason */
    } day[] = { { "B1", NULL, 12 }, { "B1", "planted", 12 }, { "A1", NULL, 90 }, { "A1", "missing", 90 },
                { "A1", NULL, 0 },  { "A1", "found", 7 },    { "A1", NULL, 9 },  { "B1", NULL, 0 } };
    for (size_t i = 0; i < sizeof day / sizeof day[0]; i++) {
        cw_cellar_entry e = CW_CELLAR_ENTRY;
        e.lot = "L1";
        e.place = day[i].place;
        e.reason = day[i].reason;
        if (e.reason) {
            e.divisions = day[i].n;
            cw_check_ok(cw_cellar_enter(t.n, &t.who, &e, &p, &err), &err);
        } else {
            e.stage = "division";
            e.count = day[i].n;
            cw_check_ok(cw_cellar_count(t.n, &t.who, &e, &p, &err), &err);
        }
        int64_t ledger = cw_table_int(&p, 0, 4);
        cw_table_free(&p);
        cw_check_ok(cw_forecast_project(t.n, &t.who, &all, &p, NULL, &err), &err);
        assert_int_equal(figure(&p, 0, "divisions"), ledger);
        cw_table_free(&p);
    }
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* ---- planting ---- */

static void planting_uses_up_the_hold_back(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table p = { 0 };
    one_lot(&t);
    cw_check_ok(cw_forecast_project(t.n, &t.who, &all, &p, NULL, &err), &err);
    int64_t before = figure(&p, 0, "saleable_p50");
    cw_table_free(&p);
    static const struct {
        int64_t planted, left;
    } steps[] = { { 4, 6 }, { 6, 0 } };
    int64_t id = 0;
    for (size_t i = 0; i < 2; i++) {
        cw_cellar_entry e = CW_CELLAR_ENTRY;
        e.lot = "L1";
        e.reason = "planted";
        e.divisions = steps[i].planted;
        cw_check_ok(cw_cellar_enter(t.n, &t.who, &e, &p, &err), &err);
        id = cw_table_int(&p, 0, 2);
        cw_table_free(&p);
        cw_check_ok(cw_forecast_project(t.n, &t.who, &all, &p, NULL, &err), &err);
        assert_int_equal(figure(&p, 0, "hold_back"), steps[i].left);
        assert_in_range(figure(&p, 0, "saleable_p50"), before, before + 2); /* fewer lie that may shrivel */
        cw_table_free(&p);
    }
    /* Yesterday nothing was planted, so all ten were still to be kept. */
    cw_forecast_ask yesterday = { CW_NO_DAY, t.who.today - 1, NULL };
    cw_check_ok(cw_forecast_project(t.n, &t.who, &yesterday, &p, NULL, &err), &err);
    assert_int_equal(figure(&p, 0, "hold_back"), 10);
    cw_table_free(&p);
    /* What was planted by mistake and taken back is to be kept again. */
    cw_check_ok(cw_cellar_undo(t.n, &t.who, "entry", id, "other lot", &p, &err), &err);
    cw_table_free(&p);
    cw_check_ok(cw_forecast_project(t.n, &t.who, &all, &p, NULL, &err), &err);
    assert_int_equal(figure(&p, 0, "hold_back"), 6);
    cw_table_free(&p);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_counted_on_the_shipping_day_is_what_is_projected),
        cmocka_unit_test(a_count_three_weeks_before_neither_biases_nor_narrows_too_far),
        cmocka_unit_test(what_was_said_of_a_count_decides_then_the_setting),
        cmocka_unit_test(counts_and_entries_of_one_day_keep_their_order),
        cmocka_unit_test(planting_uses_up_the_hold_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
