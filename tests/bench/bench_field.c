/* SPDX-License-Identifier: MIT */
/* The plan from summer on: invented nurseries are loaded into a file, and the program projects from it in July, in September and in
 * December of the same season. How often does what came lie between its 10 and 90 % points, and does the range narrow? Prints
 * "name value unit".
 *
 *     bench_field [WORLDS]
 *
 * The world is not the fitted model: losses of plants follow another curve than it supposes, plants of a row share a luck of their
 * own, clumps rot one by one at their own moment, divisions too; the cellar is damp, so that nothing dries. Rates are plausible, not
 * measured. A range end that is hit counts half, for counts are whole numbers. */
#include "support/intake.h"

#include "base/rng.h"
#include "desk/forecast/forecast_inside.h"
#include "model/sampler.h"
#include <math.h>

#include "base/banned.h"

#define VARIETIES 24
#define PAST      5
#define DATES     3

typedef struct nature {
    double rate, loss, rot[2]; /* logs: divisions a clump; losses of the whole way; weekly hazards */
} nature;

typedef struct year {
    double rate, loss, rot;
} year;

static year draw_year(cw_rng *r)
{
    return (year){ 0.12 * cw_draw_normal(r), 0.3 * cw_draw_normal(r), 0.25 * cw_draw_normal(r) };
}

/* Plants of so many that live through a part of the losses. */
static int64_t live(cw_rng *r, int64_t plants, double log_loss, double part)
{
    return cw_draw_binomial(r, plants, exp(-exp(log_loss) * part));
}

static double weeks_sound(double log_hazard, double weeks)
{
    return exp(-exp(log_hazard) * weeks);
}

typedef struct files {
    cw_text varieties, history, checks, past, plantings, rounds, lots;
} files;

static void past_of(cw_rng *r, const nature *v, int k, const year *years, files *f)
{
    for (int y = 0; y < PAST; y++) {
        double cell = 0.08 * cw_draw_normal(r), luck = 0.25 * cw_draw_normal(r);
        int64_t plants = 20 + cw_rng_below(r, 50);
        int64_t clumps = live(r, plants, v->loss + years[y].loss + luck, 1);
        int64_t made = 0;
        for (int64_t c = 0; c < clumps; c++)
            made += cw_draw_poisson(r, exp(v->rate + years[y].rate + cell));
        cw_text_addf(&f->past, "%d,V%02d,%lld,%lld\n", 2026 + y, k, (long long)plants, (long long)clumps);
        if (clumps > 0)
            cw_text_addf(&f->history, "%d,V%02d,%lld,%lld\n", 2026 + y, k, (long long)clumps,
                         (long long)made);
        for (int stage = 0; stage < 2; stage++) {
            int64_t looked = stage ? made / 2 : clumps;
            double bad = 1 - weeks_sound(v->rot[stage] + years[y].rot, 8);
            cw_text_addf(&f->checks, "%d,V%02d,%s,8,%lld,%lld,%s\n", 2026 + y, k,
                         stage ? "division" : "clump", (long long)looked,
                         (long long)cw_draw_binomial(r, looked, bad), stage ? "0" : "");
        }
    }
}

/* This season: set out on 14 May, walked on 10 July and 10 September, dug on 2 November, cut on 8 February, shipped on 19 April.
 * Answers with the sound divisions that come. */
static int64_t this_season(cw_rng *r, const nature *v, int k, const year *now, files *f)
{
    double loss = v->loss + now->loss + 0.25 * cw_draw_normal(r), cell = 0.08 * cw_draw_normal(r);
    int64_t plants = 25 + cw_rng_below(r, 40);
    int64_t july = live(r, plants, loss, 0.40), september = live(r, july, loss, 0.22);
    int64_t dug = live(r, september, loss, 0.38), came = 0;
    double clump = weeks_sound(v->rot[0] + now->rot, 14), division = weeks_sound(v->rot[1] + now->rot, 10);
    cw_text_addf(&f->plantings, "R%02d,V%02d,%lld,2031-05-14\n", k, k, (long long)plants);
    cw_text_addf(&f->rounds, "R%02d,2031-07-10,%lld,0,\nR%02d,2031-09-10,%lld,0,\nR%02d,2031-11-02,0,0,dug\n",
                 k, (long long)july, k, (long long)september, k);
    cw_text_addf(&f->lots, "L%02d,V%02d,2031-11-02,%lld,R%02d,%lld\n", k, k, (long long)dug, k,
                 (long long)(september - dug));
    for (int64_t c = cw_draw_binomial(r, dug, clump); c > 0; c--)
        came += cw_draw_binomial(r, cw_draw_poisson(r, exp(v->rate + now->rate + cell)), division);
    return came;
}

static void put(test_nursery *t, const char *name, cw_text *text)
{
    loaded l = load_one(t, name, text->data);
    if (l.code != CW_OK)
        fail_msg("%s", l.first);
    cw_text_free(text);
}

static files new_files(void)
{
    files f = { CW_TEXT(1000000), CW_TEXT(1000000), CW_TEXT(1000000), CW_TEXT(1000000),
                CW_TEXT(1000000), CW_TEXT(1000000), CW_TEXT(1000000) };
    cw_text_add(&f.varieties, "code,name\n");
    cw_text_add(&f.history, "season,variety,clumps,divisions\n");
    cw_text_add(&f.checks, "season,variety,stage,weeks,inspected,rotten,shrivelled\n");
    cw_text_add(&f.past, "season,variety,plants,clumps\n");
    cw_text_add(&f.plantings, "row,variety,plants,planted_on\n");
    cw_text_add(&f.rounds, "row,seen_on,alive,rogued,reason\n");
    cw_text_add(&f.lots, "lot,variety,dug_on,clumps,row,culled\n");
    return f;
}

static void load_world(test_nursery *t, files *f)
{
    put(t, "varieties.csv", &f->varieties);
    put(t, "history.csv", &f->history);
    put(t, "past_checks.csv", &f->checks);
    put(t, "past_plantings.csv", &f->past);
    put(t, "plantings.csv", &f->plantings);
    put(t, "field_rounds.csv", &f->rounds);
    put(t, "lots.csv", &f->lots);
    loaded air = load_one(t, "air.csv",
                          "room,at,temp_c,rh\ncellar,2031-06-01T06:00:00Z,5,99.9\n"
                          "cellar,2031-06-02T06:00:00Z,5,99.9\n");
    if (air.code != CW_OK)
        fail_msg("%s", air.first);
}

typedef struct result {
    double inside, width, mean, off, n;
} result;

static void look(test_nursery *t, const int64_t *came, cw_day as_of, result *out)
{
    cw_error err = CW_ERROR_NONE;
    const cw_forecast *f = NULL;
    cw_check_ok(cw_forecast_get(t->n, &t->who, CW_NO_DAY, as_of, &f, &err), &err);
    for (size_t v = 0; v < VARIETIES; v++) {
        int64_t low = cw_distribution_quantile(&f->law[v], 0.1),
                high = cw_distribution_quantile(&f->law[v], 0.9);
        out->inside += came[v] > low && came[v] < high ? 1 : came[v] == low || came[v] == high ? 0.5 : 0;
        out->width += (double)(high - low);
        out->mean += f->law[v].mean;
        out->off += f->law[v].mean - (double)came[v];
        out->n++;
    }
}

static void world(uint64_t seed, const cw_day *dates, result *results)
{
    cw_rng r;
    test_nursery t;
    year years[PAST + 1];
    int64_t came[VARIETIES];
    files f = new_files();
    cw_rng_init(&r, 2031, seed);
    double nursery = 0.3 * cw_draw_normal(&r);
    for (int y = 0; y <= PAST; y++)
        years[y] = draw_year(&r);
    for (int k = 0; k < VARIETIES; k++) {
        const nature v = { log(5) + 0.35 * cw_draw_normal(&r),
                           log(0.16) + nursery + 0.4 * cw_draw_normal(&r),
                           { log(0.006) + 0.4 * cw_draw_normal(&r), log(0.004) + 0.4 * cw_draw_normal(&r) } };
        cw_text_addf(&f.varieties, "V%02d,Variety %d\n", k, k);
        past_of(&r, &v, k, years, &f);
        came[k] = this_season(&r, &v, k, &years[PAST], &f);
    }
    test_nursery_make(&t);
    load_world(&t, &f);
    for (int d = 0; d < DATES; d++)
        look(&t, came, dates[d], &results[d]);
    test_nursery_free(&t);
}

int main(int argc, char **argv)
{
    static const char *const names[DATES] = { "july", "september", "december" };
    const cw_day dates[DATES] = { cw_day_from_ymd(2031, 7, 15), cw_day_from_ymd(2031, 9, 15),
                                  cw_day_from_ymd(2031, 12, 1) };
    long worlds = argc > 1 ? strtol(argv[1], NULL, 10) : 40;
    result results[DATES] = { { 0 } };
    for (long w = 0; w < worlds; w++)
        world((uint64_t)w, dates, results);
    for (int d = 0; d < DATES; d++) {
        const result *r = &results[d];
        printf("field_%s_cover80 %.3f share\n", names[d], r->inside / r->n);
        printf("field_%s_width %.1f divisions\n", names[d], r->width / r->n);
        printf("field_%s_bias %.3f share\n", names[d], r->off / r->mean);
    }
    return 0;
}
