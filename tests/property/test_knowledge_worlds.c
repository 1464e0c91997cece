/* SPDX-License-Identifier: MIT */
/* Is what a cut is said to be worth what comes, and does the order by it earn more than orders that people use? Simulated nurseries:
 * past seasons to learn the rate from, lots that are whole, a release after half of the minutes are used. What is cut by then is
 * counted, the rates are fitted again, and the catalogue offers what the new laws say, at the nursery's confidence. Profit is then
 * reckoned on what all lots really give. All invented. CW_WORLDS=n: so many worlds instead of 30; with 200 the plan's cuts were said to
 * be worth 635109 and 628529 came (in the order dug 485328, biggest first 529996, doubtful first 516971, by ship week 486030). */
#include "support/check.h"

#include "base/rng.h"
#include "model/dividing.h"
#include "model/knowledge.h"
#include "model/projection.h"
#include "model/quantity.h"
#include "model/rate.h"
#include "model/special.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define VARIETIES  16
#define MOST_LOTS  (3 * VARIETIES)
#define PAST       3
#define MOST_ROWS  (VARIETIES * PAST + MOST_LOTS)
#define CONFIDENCE 0.8

typedef struct world {
    size_t lots, rows;
    size_t lot_variety[MOST_LOTS];
    int64_t clumps[MOST_LOTS], gives[MOST_LOTS]; /* what it gives once it is cut */
    cw_rate_row row[MOST_ROWS];                  /* of past seasons, then of what is cut */
    int form[VARIETIES];
    double price[VARIETIES];
    unsigned week[VARIETIES]; /* in which its buyers want it */
} world;

static double normal(cw_rng *r)
{
    return cw_normal_quantile(cw_rng_uniform(r));
}

static int64_t poisson(cw_rng *r, double mean)
{
    double sum = -log(cw_rng_uniform(r));
    int64_t n = 0;
    for (; sum < mean; n++)
        sum -= log(cw_rng_uniform(r));
    return n;
}

static void make(world *w, uint64_t seed)
{
    cw_rng r;
    double form[3], season[PAST + 1];
    memset(w, 0, sizeof *w);
    cw_rng_init(&r, 60100, seed);
    for (int f = 0; f < 3; f++)
        form[f] = 0.2 * normal(&r);
    for (int s = 0; s <= PAST; s++)
        season[s] = 0.15 * normal(&r);
    for (size_t v = 0; v < VARIETIES; v++) {
        w->form[v] = (int)(v % 3);
        w->price[v] = 300 + 100 * (double)cw_rng_below(&r, 8);
        double own = log(5) + form[v % 3] + 0.35 * normal(&r);
        int known = (int)cw_rng_below(&r, PAST + 1); /* seasons that it has been grown */
        for (int s = PAST - known; s < PAST; s++) {
            int64_t n = 10 + cw_rng_below(&r, 20);
            double rate = exp(own + season[s] + 0.15 * normal(&r) + 0.1 * normal(&r));
            w->row[w->rows++] = (cw_rate_row){ (int)v, s, -1, n, poisson(&r, (double)n * rate) };
        }
        double cell = 0.15 * normal(&r);
        size_t lots = 1 + cw_rng_below(&r, 3);
        for (size_t k = 0; k < lots; k++) {
            int64_t n = 8 + cw_rng_below(&r, 50);
            w->lot_variety[w->lots] = v;
            w->clumps[w->lots] = n;
            w->gives[w->lots++] = poisson(&r, (double)n * exp(own + season[PAST] + cell + 0.1 * normal(&r)));
        }
    }
}

/* Of luck of their own, so that the worlds are those of before. */
static void set_weeks(world *w, uint64_t seed)
{
    cw_rng r;
    cw_rng_init(&r, 60101, seed);
    for (size_t v = 0; v < VARIETIES; v++)
        w->week[v] = cw_rng_below(&r, 6);
}

typedef struct believed {
    cw_rate *rate;
    cw_distribution law[VARIETIES];
    int64_t quantity[VARIETIES];
} believed;

/* What is thought once the lots of `cut` are counted. */
static void believe(const world *w, const bool *cut, believed *b)
{
    cw_rate_row row[MOST_ROWS];
    cw_stock stock[MOST_LOTS];
    cw_error err = CW_ERROR_NONE;
    size_t rows = w->rows;
    memcpy(row, w->row, rows * sizeof *row);
    for (size_t l = 0; l < w->lots; l++) {
        stock[l] = (cw_stock){ .lot = l,
                               .stage = cut[l] ? CW_DIVISION : CW_CLUMP,
                               .count = cut[l] ? w->gives[l] : w->clumps[l] };
        if (cut[l])
            row[rows++] = (cw_rate_row){ (int)w->lot_variety[l], PAST, (int)l, w->clumps[l], w->gives[l] };
    }
    cw_rate_data data = { .rows = row,
                          .n_rows = rows,
                          .varieties = VARIETIES,
                          .seasons = PAST + 1,
                          .forms = 3,
                          .season = PAST,
                          .form = w->form,
                          .threads = 1,
                          .lots = w->lots };
    cw_check_ok(cw_rate_fit(&data, NULL, &b->rate, &err), &err);
    cw_projection_input in = { .varieties = VARIETIES,
                               .lots = w->lots,
                               .stocks = w->lots,
                               .lot_variety = w->lot_variety,
                               .stock = stock,
                               .rate = cw_rate_latent(b->rate) };
    cw_projection *p = NULL;
    cw_check_ok(cw_projection_new(&in, &p, &err), &err);
    cw_projection_all(p, 1, b->law);
    cw_projection_free(p);
    for (size_t v = 0; v < VARIETIES; v++)
        b->quantity[v] = cw_quantity_at(&b->law[v], CONFIDENCE);
}

/* Of the quantities that are offered, on what comes: a price of which 0.6 is earned, and 1.5 lost where one falls short. */
static double profit(const world *w, const believed *b)
{
    int64_t comes[VARIETIES] = { 0 };
    double sum = 0;
    for (size_t l = 0; l < w->lots; l++)
        comes[w->lot_variety[l]] += w->gives[l];
    for (size_t v = 0; v < VARIETIES; v++) {
        double q = (double)b->quantity[v], s = (double)comes[v];
        sum += w->price[v] * (0.6 * fmin(q, s) - 1.5 * fmax(0, q - s));
    }
    return sum;
}

static void values(const world *w, const believed *b, const size_t *order, size_t n, double *value)
{
    cw_knowledge_variety v[VARIETIES];
    cw_knowledge_lot lot[MOST_LOTS];
    double all[VARIETIES] = { 0 };
    for (size_t l = 0; l < w->lots; l++)
        all[w->lot_variety[l]] += (double)w->clumps[l];
    for (size_t k = 0; k < VARIETIES; k++)
        v[k] = (cw_knowledge_variety){ .mean = b->law[k].mean,
                                       .variance = b->law[k].variance,
                                       .margin = 0.6 * w->price[k],
                                       .short_cost = 1.5 * w->price[k],
                                       .confidence = CONFIDENCE };
    for (size_t l = 0; l < w->lots; l++) {
        size_t k = w->lot_variety[l];
        lot[l] =
            (cw_knowledge_lot){ k, (double)w->clumps[l], b->law[k].mean * (double)w->clumps[l] / all[k] };
    }
    cw_knowledge_input in = { VARIETIES, w->lots, v, lot, cw_rate_latent(b->rate), order, n };
    cw_check_ok(cw_knowledge_values(&in, value, NULL, NULL), NULL);
}

/* ---- orders ---- */
static const double *key;
static int by_key(const void *pa, const void *pb)
{
    size_t a = *(const size_t *)pa, b = *(const size_t *)pb;
    return key[a] != key[b] ? (key[a] < key[b]) - (key[a] > key[b]) : (a > b) - (a < b);
}

static int64_t half_of(const world *w)
{
    int64_t sum = 0;
    for (size_t l = 0; l < w->lots; l++)
        sum += w->clumps[l];
    return 6 * sum / 2;
}

/* Lots in the order of a key, as far as half of the minutes go. */
static void cut_by(const world *w, const double *by, bool *cut)
{
    size_t order[MOST_LOTS];
    int64_t left = half_of(w);
    memset(cut, 0, MOST_LOTS * sizeof *cut);
    for (size_t l = 0; l < w->lots; l++)
        order[l] = l;
    key = by;
    qsort(order, w->lots, sizeof *order, by_key);
    for (size_t i = 0; i < w->lots; i++)
        if (6 * w->clumps[order[i]] <= left) {
            cut[order[i]] = true;
            left -= 6 * w->clumps[order[i]];
        }
}

/* As the plan does it: one day before the release, one after; planned twice, since what a lot tells depends on which are cut before. */
static double cut_by_plan(const world *w, const believed *b, bool *cut)
{
    double value[MOST_LOTS], cost[2 * MOST_LOTS], stated = 0;
    size_t order[MOST_LOTS], n = w->lots;
    cw_dividing_lot lot[MOST_LOTS];
    cw_dividing_day day[2] = { { half_of(w), 1 }, { half_of(w) * 4, 1 } };
    for (size_t l = 0; l < w->lots; l++)
        order[l] = l;
    for (int round = 0; round < 3; round++) {
        cw_dividing_plan p;
        values(w, b, order, n, value);
        for (size_t l = 0; l < w->lots; l++) {
            cost[2 * l] = 0;
            cost[2 * l + 1] = value[l];
            lot[l] = (cw_dividing_lot){ 6 * w->clumps[l], 0, 2 * value[l] + 1, CW_DIVIDING_OPEN };
        }
        cw_dividing_input in = { w->lots, 2, lot, day, cost, { 0 } };
        cw_check_ok(cw_dividing_solve(&in, &p, NULL), NULL);
        size_t first = 0, last = w->lots;
        for (size_t l = 0; l < w->lots; l++)
            cut[l] = p.day[l] == 0;
        for (size_t l = 0; l < w->lots; l++)
            order[cut[l] ? first++ : --last] = l;
        n = w->lots;
        cw_dividing_plan_free(&p);
    }
    values(w, b, order, w->lots, value);
    for (size_t l = 0; l < w->lots; l++)
        stated += cut[l] ? value[l] : 0;
    return stated;
}

enum { PLAN, DUG, BIGGEST, DOUBTFUL, SHIP_WEEK, ORDERS };
static const char *const names[] = { "the plan", "in the order dug", "biggest first", "doubtful first",
                                     "by ship week" };

static void test_worlds(void **state)
{
    const int worlds = getenv("CW_WORLDS") ? (int)strtol(getenv("CW_WORLDS"), NULL, 10) : 30;
    double stated = 0, came[ORDERS] = { 0 };
    (void)state;
    for (int i = 0; i < worlds; i++) {
        static world w;
        static believed before, after;
        bool cut[MOST_LOTS] = { 0 };
        double by[ORDERS][MOST_LOTS];
        make(&w, (uint64_t)i);
        set_weeks(&w, (uint64_t)i);
        believe(&w, cut, &before);
        for (size_t l = 0; l < w.lots; l++) {
            const cw_distribution *law = &before.law[w.lot_variety[l]];
            by[DUG][l] = -(double)l;
            by[BIGGEST][l] = (double)w.clumps[l];
            by[SHIP_WEEK][l] = -(double)w.week[w.lot_variety[l]];
            by[DOUBTFUL][l] = sqrt(law->variance) / fmax(law->mean, 1);
        }
        for (int o = 0; o < ORDERS; o++) {
            if (o == PLAN)
                stated += cut_by_plan(&w, &before, cut);
            else
                cut_by(&w, by[o], cut);
            believe(&w, cut, &after);
            came[o] += profit(&w, &after) - profit(&w, &before);
            cw_rate_free(after.rate);
        }
        cw_rate_free(before.rate);
    }
    print_message("%d worlds: the plan's cuts are said to be worth %.0f, and %.0f came\n", worlds,
                  stated / worlds, came[PLAN] / worlds);
    for (int o = 1; o < ORDERS; o++)
        print_message("%s: %.0f came\n", names[o], came[o] / worlds);
    assert_true(fabs(stated - came[PLAN]) <= 0.15 * came[PLAN]);
    for (int o = 1; o < ORDERS; o++)
        assert_true(came[PLAN] > came[o]);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_worlds) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
