/* SPDX-License-Identifier: MIT */
/* Do the rate's intervals hold what they promise on worlds that are not of the model's kind? Every clump has its own
 * tubers and eyes (negative binomial about the variety's means); divisions = min(tubers, eyes), some spoilt by the knife.
 * Also the rate's promises: order, splitting, defaults, what explains what. Prints its seed. */
#include "support/check.h"
#include "support/predictive.h"

#include "model/rate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FORMS       8
#define MAX_SEASONS 12
#define MAX_LOTS    3
#define SEED        20320419u

typedef struct recipe {
    const char *name;
    int varieties, seasons, worlds;
    double form, variety, season, cell, lot; /* sd of log eyes; tubers go along in part */
    double clump;                            /* shape of the clump-to-clump gamma: small = uneven clumps */
    bool totals;                             /* past seasons as one row each */
    double divided;                          /* chance that a lot of this season is divided in part */
} recipe;

typedef struct world {
    cw_rate_row *rows;
    size_t n;
    int *form, *size;
    double (*left)[MAX_LOTS]; /* clumps on hand of each lot */
    size_t (*lot)[MAX_LOTS];  /* and its number */
    int *lots;
    int64_t *came; /* divisions of those */
    double form_effect[FORMS], season_effect[MAX_SEASONS];
} world;

static int64_t divisions_of_clump(const recipe *g, double eyes, double tubers, double spoilt, cw_rng *r)
{
    int64_t e = cw_draw_poisson(r, eyes * cw_draw_gamma(r, g->clump) / g->clump);
    int64_t t = cw_draw_poisson(r, tubers * cw_draw_gamma(r, g->clump) / g->clump);
    return cw_draw_binomial(r, e < t ? e : t, 1 - spoilt);
}

/* One lot: `divided` clumps in one or two sessions become rows, the others are on hand and their outcome is kept. */
static void draw_lot(const recipe *g, world *w, int v, int s, int lot, int clumps, int divided,
                     const double mean[3], cw_rng *r)
{
    int cut = cw_rng_below(r, 2) ? divided / 2 : 0;
    cw_rate_row session = { v, s, lot, 0, 0 };
    for (int c = 0; c < clumps; c++) {
        int64_t d = divisions_of_clump(g, mean[0], mean[1], mean[2], r);
        if (c >= divided) {
            w->came[v] += d;
            continue;
        }
        session.clumps++;
        session.divisions += d;
        if (c + 1 == cut || c + 1 == divided) {
            w->rows[w->n++] = session;
            session.clumps = session.divisions = 0;
        }
    }
    if (clumps > divided && s == g->seasons - 1) {
        w->lot[v][w->lots[v]] = (size_t)lot;
        w->left[v][w->lots[v]++] = clumps - divided;
    }
}

static void draw_season(const recipe *g, world *w, int v, int s, double eyes, double tubers, double spoilt,
                        cw_rng *r)
{
    bool now = s == g->seasons - 1;
    int lots = 1 + (int)cw_rng_below(r, MAX_LOTS);
    size_t first = w->n;
    double cell = g->cell * cw_draw_normal(r);
    for (int l = 0; l < lots; l++) {
        double e = cell + g->lot * cw_draw_normal(r);
        int clumps = now ? 10 + (int)cw_rng_below(r, 50) : 5 + (int)cw_rng_below(r, 30), divided = clumps;
        if (now)
            divided = cw_rng_uniform(r) < g->divided ? (int)(0.6 * clumps * cw_rng_uniform(r)) : 0;
        double mean[3] = { eyes * exp(e), tubers * exp(0.7 * e), spoilt };
        draw_lot(g, w, v, s, now ? v * MAX_LOTS + l : -1, clumps, divided, mean, r);
    }
    if (g->totals && !now) {
        cw_rate_row total = { v, s, -1, 0, 0 };
        for (size_t i = first; i < w->n; i++) {
            total.clumps += w->rows[i].clumps;
            total.divisions += w->rows[i].divisions;
        }
        w->n = first;
        w->rows[w->n++] = total;
    }
}

static void draw_world(const recipe *g, world *w, cw_rng *r)
{
    size_t v_count = (size_t)g->varieties;
    *w = (world){ .rows = calloc(v_count * (size_t)g->seasons * 2 * MAX_LOTS, sizeof *w->rows),
                  .form = calloc(v_count, sizeof(int)),
                  .size = calloc(v_count, sizeof(int)),
                  .lot = calloc(v_count, sizeof *w->lot),
                  .left = calloc(v_count, sizeof *w->left),
                  .lots = calloc(v_count, sizeof(int)),
                  .came = calloc(v_count, sizeof(int64_t)) };
    assert_true(w->rows && w->form && w->size && w->left && w->lot && w->lots && w->came);
    for (int f = 0; f < FORMS; f++)
        w->form_effect[f] = g->form * cw_draw_normal(r);
    for (int s = 0; s < g->seasons; s++)
        w->season_effect[s] = g->season * cw_draw_normal(r);
    for (int v = 0; v < g->varieties; v++) {
        w->form[v] = (int)cw_rng_below(r, FORMS);
        w->size[v] = (int)cw_rng_below(r, 4) - 1;
        double z = cw_draw_normal(r), eyes = g->variety * z,
               tubers = g->variety * (0.6 * z + 0.8 * cw_draw_normal(r));
        double spoilt = 0.03 + 0.1 * cw_rng_uniform(r), f = w->form_effect[w->form[v]];
        for (int s = 0; s < g->seasons; s++) {
            bool now = s == g->seasons - 1;
            if (!now && (v % 10 == 0 || cw_rng_uniform(r) < 0.4)) /* every tenth is new, others paused */
                continue;
            double season = w->season_effect[s];
            draw_season(g, w, v, s, 7 * exp(f + eyes + season), 9 * exp(0.5 * f + tubers + 0.8 * season),
                        spoilt, r);
        }
    }
}

static void free_world(world *w)
{
    free(w->rows);
    free(w->form);
    free(w->size);
    free(w->left);
    free(w->lot);
    free(w->lots);
    free(w->came);
}

static cw_rate *fit_world(const recipe *g, const world *w)
{
    cw_rate_data d = { w->rows,
                       w->n,
                       (size_t)g->varieties,
                       (size_t)g->seasons,
                       FORMS,
                       3,
                       g->seasons - 1,
                       w->form,
                       w->size,
                       1,
                       (size_t)g->varieties * MAX_LOTS,
                       NULL,
                       false };
    cw_rate *rate = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_rate_fit(&d, NULL, &rate, &err), &err);
    assert_true(cw_rate_report(rate)->converged);
    return rate;
}

static double mean_rate(const cw_latent *l, size_t unit)
{
    double sum = 0;
    for (size_t p = 0; p < l->points; p++) {
        double variance =
            l->point[p].own_sd[unit] * l->point[p].own_sd[unit] + l->point[p].lot_sd * l->point[p].lot_sd;
        for (size_t k = 0; k < l->shared; k++)
            variance += l->point[p].loading[unit * l->shared + k] * l->point[p].loading[unit * l->shared + k];
        sum += l->point[p].weight * exp(l->point[p].mean[unit] + 0.5 * variance);
    }
    return sum;
}

static void test_coverage(void **state)
{
    (void)state;
    static const recipe recipes[] = {
        { "sessions, 400 varieties", 400, 7, 6, .15, .35, .12, .12, 0, 7, false, .6 },
        { "season totals", 400, 7, 6, .15, .35, .12, .12, 0, 7, true, .6 },
        { "uneven clumps", 300, 7, 6, .15, .35, .12, .12, 0, 1.5, false, .6 },
        { "lots differ", 300, 7, 6, .15, .35, .12, .10, .10, 7, false, .6 },
        { "no history", 300, 1, 6, .15, .35, .12, .12, 0, 7, false, .5 },
        { "15 varieties, 2 seasons", 15, 2, 80, .15, .35, .12, .12, 0, 7, false, .5 },
        { "8 varieties, 7 seasons", 8, 7, 80, .15, .35, .12, .12, 0, 7, false, .5 },
    };
    print_message("seed %u\n", SEED);
    for (size_t k = 0; k < sizeof recipes / sizeof recipes[0]; k++) {
        const recipe *g = &recipes[k];
        cw_test_coverage c = { 0 };
        double expected = 0, came = 0;
        for (int i = 0; i < g->worlds; i++) {
            cw_rng r;
            world w;
            cw_rng_init(&r, SEED + k, (uint64_t)i);
            draw_world(g, &w, &r);
            cw_rate *rate = fit_world(g, &w);
            for (int v = 0; v < g->varieties; v++) {
                if (w.lots[v] == 0)
                    continue;
                cw_test_cover(&c, cw_test_rate_pit(cw_rate_latent(rate), (size_t)v, w.left[v], w.lot[v],
                                                   w.lots[v], w.came[v], 500, &r));
                for (int l = 0; l < w.lots[v]; l++)
                    expected += w.left[v][l] * mean_rate(cw_rate_latent(rate), (size_t)v);
                came += (double)w.came[v];
            }
            cw_rate_free(rate);
            free_world(&w);
        }
        double n = c.n;
        print_message("%-26s %5d: 50 %%: %.3f  80 %%: %.3f  90 %%: %.3f  below 10 %%: %.3f  above 90 %%: "
                      "%.3f  total %+.2f %%\n",
                      g->name, c.n, c.in50 / n, c.in80 / n, c.in90 / n, c.low10 / n, c.high10 / n,
                      100 * (expected / came - 1));
        /* 3 standard errors of chance, more for what the varieties of a world share. */
        cw_check_near(g->name, c.in80 / n, 0.80, 0.02 + 3 * 0.4 / sqrt(n));
        cw_check_near(g->name, c.in90 / n, 0.90, 0.02 + 3 * 0.3 / sqrt(n));
        cw_check_near(g->name, c.low10 / n, 0.10, 0.025 + 3 * 0.3 / sqrt(n));
        cw_check_near(g->name, c.high10 / n, 0.10, 0.025 + 3 * 0.3 / sqrt(n));
        cw_check_near(g->name, expected / came, 1, 0.03);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_coverage) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
