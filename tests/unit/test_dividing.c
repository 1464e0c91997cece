/* SPDX-License-Identifier: MIT */
/* Tiny cases against all ways there are; what must hold of any plan. */
#include "support/check.h"

#include "base/rng.h"
#include "model/dividing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_LOTS 320
#define MOST_DAYS 90

typedef struct world {
    cw_dividing_input in;
    cw_dividing_lot lot[MOST_LOTS];
    cw_dividing_day day[MOST_DAYS];
    double cost[MOST_LOTS * MOST_DAYS];
} world;

static world w;

/* Loss that grows by the day, something to know before a day, a day after which it is late. `tight`: minutes of all lots as a share
 * of those that there are. */
static void make(cw_rng *r, size_t lots, size_t days, double tight, int64_t minutes, double washing)
{
    double sum = 0;
    memset(&w, 0, sizeof w);
    w.in = (cw_dividing_input){ .lots = lots, .days = days, .lot = w.lot, .day = w.day, .cost = w.cost };
    for (size_t l = 0; l < lots; l++)
        sum += (double)(w.lot[l].cut_minutes = 20 + cw_rng_below(r, 200));
    for (size_t l = 0; l < lots; l++) {
        cw_dividing_lot *lot = &w.lot[l];
        double a_day, know, late;
        lot->cut_minutes =
            1 + (int64_t)((double)lot->cut_minutes * tight * (double)(minutes * (int64_t)days) / sum);
        lot->wash_minutes = lot->cut_minutes / 4;
        lot->fixed = CW_DIVIDING_OPEN;
        a_day = cw_rng_uniform(r) * (double)lot->cut_minutes;
        know = cw_rng_below(r, 5) < 2 ? (double)lot->cut_minutes * 10 * cw_rng_uniform(r) : 0;
        late = cw_rng_below(r, 10) < 3 ? (double)lot->cut_minutes * 20 : 0;
        size_t release = 1 + cw_rng_below(r, (uint32_t)days),
               due = days / 3 + cw_rng_below(r, (uint32_t)days);
        for (size_t d = 0; d < days; d++)
            w.cost[l * days + d] =
                5 * a_day * (double)d / (double)days + (d >= release ? know : 0) + (d >= due ? late : 0);
        lot->never = 6 * a_day + know + late + 20 * (double)lot->cut_minutes;
    }
    for (size_t d = 0; d < days; d++)
        w.day[d] = (cw_dividing_day){ minutes, (int64_t)(washing * (double)minutes) };
}

/* Cost of a whole assignment; -1 if it does not fit. Minutes of days are summed anew. */
static double cost_of(const int32_t *day, double *over)
{
    static int64_t cut[MOST_DAYS], wash[MOST_DAYS], part[2][MOST_DAYS];
    double sum = 0;
    memset(cut, 0, sizeof cut);
    memset(wash, 0, sizeof wash);
    for (size_t l = 0; l < w.in.lots; l++) {
        if (day[l] == CW_DIVIDING_OPEN) {
            sum += w.lot[l].never;
            continue;
        }
        size_t n = cw_dividing_days_of(&w.in, l, day[l], part[0], part[1]);
        if (n == 0)
            return -1;
        for (size_t k = 0; k < n; k++) {
            size_t d = (size_t)day[l] + k;
            cut[d] += part[0][k];
            wash[d] += part[1][k];
            sum += w.cost[l * w.in.days + d] * (double)part[0][k] / (double)w.lot[l].cut_minutes;
        }
    }
    *over = 0;
    for (size_t d = 0; d < w.in.days; d++)
        *over = fmax(
            *over, fmax((double)(cut[d] - w.day[d].cut_minutes), (double)(wash[d] - w.day[d].wash_minutes)));
    return sum;
}

static void try_all(size_t lot, int32_t *day, double *best)
{
    double over = 0;
    if (lot == w.in.lots) {
        double c = cost_of(day, &over);
        if (c >= 0 && over <= 0 && c < *best)
            *best = c;
        return;
    }
    for (int32_t d = -1; d < (int32_t)w.in.days; d++) {
        bool whole = d < 0 || w.lot[lot].cut_minutes > w.day[0].cut_minutes ||
                     w.lot[lot].wash_minutes > w.day[0].wash_minutes ||
                     cw_dividing_days_of(&w.in, lot, d, NULL, NULL) == 1;
        if (!whole || (w.lot[lot].fixed >= 0 && d != w.lot[lot].fixed))
            continue;
        day[lot] = d;
        try_all(lot + 1, day, best);
    }
}

static void solve(cw_dividing_plan *p)
{
    double over;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_dividing_solve(&w.in, p, &err), &err);
    double c = cost_of(p->day, &over);
    assert_true(over <= 0);
    assert_true(fabs(c - p->total) <= 1e-6 * fmax(1, c));
    assert_true(p->bound <= p->total + 1e-9 * fmax(1, c));
}

static void test_all_ways(void **state)
{
    (void)state;
    static const struct {
        size_t lots, days;
        double tight, washing;
    } rows[] = { { 1, 1, 0.5, 1 },   { 3, 2, 0.8, 1 },   { 5, 4, 0.9, 1 },   { 6, 3, 1.2, 1 },
                 { 6, 4, 0.7, 0.2 }, { 5, 5, 1.5, 0.3 }, { 2, 6, 0.8, 0.25 } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (uint64_t seed = 0; seed < 12; seed++) {
            cw_rng r;
            int32_t day[MOST_LOTS];
            double best = INFINITY;
            cw_dividing_plan p;
            cw_rng_init(&r, 41 + seed, i);
            make(&r, rows[i].lots, rows[i].days, rows[i].tight, 240, rows[i].washing);
            if (seed % 3 == 1 && w.lot[0].cut_minutes <= 240 &&
                w.lot[0].wash_minutes <= w.day[0].wash_minutes)
                w.lot[0].fixed = (int32_t)(rows[i].days - 1);
            try_all(0, day, &best);
            solve(&p);
            if (fabs(p.total - best) > 1e-6 * fmax(1, best))
                fail_msg("row %zu, seed %d: the plan costs %f, the best of all ways %f", i, (int)seed,
                         p.total, best);
            assert_true(p.proven && p.bound == p.total);
            cw_dividing_plan_free(&p);
        }
}

/* A nursery's winter with tight days: the distance to the bound, and every law. */
static void test_near_the_bound(void **state)
{
    (void)state;
    static const struct {
        const char *row;
        size_t lots, days;
        double tight, washing, above;
    } rows[] = {
        { "300 lots in 90 days, the bench is tight", 300, 90, 0.9, 1, 0.02 },
        { "washing is tight", 300, 90, 0.72, 0.2, 0.02 },
        { "many lots a day", 320, 20, 0.95, 1, 0.02 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (uint64_t seed = 0; seed < 3; seed++) {
            cw_rng r;
            cw_dividing_plan p;
            cw_rng_init(&r, 7 + seed, i);
            make(&r, rows[i].lots, rows[i].days, rows[i].tight, 840, rows[i].washing);
            solve(&p);
            print_message("%s: %.2f %% above the bound\n", rows[i].row, 100 * cw_dividing_above(&p));
            assert_true(cw_dividing_above(&p) <= rows[i].above);
            cw_dividing_plan_free(&p);
        }
}

/* More minutes never cost more, where every lot fits any day (one that needs two days, or the one that has grown, is another matter). */
static void test_more_minutes_never_cost_more(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 20; seed++) {
        cw_rng r;
        cw_dividing_plan p;
        double before = INFINITY;
        cw_rng_init(&r, 90 + seed, 0);
        make(&r, 9, 5, 0.85, 240, 0.5);
        for (size_t l = 0; l < w.in.lots; l++)
            w.lot[l].cut_minutes = w.lot[l].cut_minutes < 230 ? w.lot[l].cut_minutes : 230;
        for (int64_t more = 0; more < 5; more++) {
            w.day[cw_rng_below(&r, 5)].cut_minutes += 30;
            solve(&p);
            assert_true(p.proven);
            assert_true(p.total <= before + 1e-6);
            before = p.total;
            cw_dividing_plan_free(&p);
        }
    }
}

/* What is fixed stays, even where the day is too short for it; the others find what is left. */
static void test_fixed_lots_stay(void **state)
{
    (void)state;
    cw_rng r;
    cw_dividing_plan p;
    cw_rng_init(&r, 3, 3);
    make(&r, 40, 12, 0.8, 480, 1);
    w.lot[5].fixed = 3;
    w.lot[6].fixed = 3;
    w.lot[7].fixed = 0;
    w.lot[7].cut_minutes = 700;
    cw_check_ok(cw_dividing_solve(&w.in, &p, NULL), NULL);
    assert_int_equal(p.day[5], 3);
    assert_int_equal(p.day[6], 3);
    assert_int_equal(p.day[7], 0);
    cw_dividing_plan_free(&p);
}

/* A lot larger than a day takes days one after the other. */
static void test_a_large_lot(void **state)
{
    (void)state;
    int64_t cut[4], wash[4];
    cw_dividing_lot lot = { 1000, 100, 1e6, CW_DIVIDING_OPEN };
    cw_dividing_day day[4] = { { 400, 1000 }, { 400, 1000 }, { 400, 20 }, { 400, 1000 } };
    double cost[4] = { 1, 2, 3, 4 };
    cw_dividing_input in = { 1, 4, &lot, day, cost, { 0 } };
    assert_int_equal(cw_dividing_days_of(&in, 0, 0, cut, wash), 3);
    assert_int_equal(cut[0] + cut[1] + cut[2], 1000);
    assert_int_equal(cut[2], 200); /* as much as 20 minutes of washing are for */
    assert_int_equal(wash[0] + wash[1] + wash[2], 100);
    assert_int_equal(cw_dividing_days_of(&in, 0, 2, cut, wash), 0);
    cw_dividing_plan p;
    cw_check_ok(cw_dividing_solve(&in, &p, NULL), NULL);
    assert_int_equal(p.day[0], 0);
    assert_true(fabs(p.total - (0.4 * 1 + 0.4 * 2 + 0.2 * 3)) < 1e-9);
    cw_dividing_plan_free(&p);
}

static void test_what_cannot_be(void **state)
{
    (void)state;
    cw_dividing_plan p;
    cw_rng r;
    cw_rng_init(&r, 1, 1);
    make(&r, 3, 2, 0.5, 240, 1);
    w.cost[4] = NAN;
    cw_error err = CW_ERROR_NONE;
    assert_int_equal(cw_dividing_solve(&w.in, &p, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "lot 3"));
    make(&r, 3, 2, 0.5, 240, 1);
    w.lot[1].cut_minutes = 0;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_dividing_solve(&w.in, &p, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "lot 2"));
    make(&r, 3, 2, 0.5, 0, 1); /* no minutes at all: nothing is cut, and it is said */
    cw_check_ok(cw_dividing_solve(&w.in, &p, NULL), NULL);
    assert_int_equal(p.missing, 3);
    cw_dividing_plan_free(&p);
    w.in.days = 0; /* no days */
    cw_check_ok(cw_dividing_solve(&w.in, &p, NULL), NULL);
    assert_true(p.missing == 3 && p.day[0] == CW_DIVIDING_OPEN && p.proven);
    cw_dividing_plan_free(&p);
    w.in.lots = 0;
    cw_check_ok(cw_dividing_solve(&w.in, &p, NULL), NULL);
    cw_dividing_plan_free(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_all_ways),
        cmocka_unit_test(test_near_the_bound),
        cmocka_unit_test(test_more_minutes_never_cost_more),
        cmocka_unit_test(test_fixed_lots_stay),
        cmocka_unit_test(test_a_large_lot),
        cmocka_unit_test(test_what_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
