/* SPDX-License-Identifier: MIT */
#include "bench/regimes.h"

#include "model/sampler.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define SHIP_WEEK  24.0
#define SHAPE_WEEK 10.0 /* at this age the hazard of an ageing crate is that of one that does not age */
#define MOST       120  /* clumps of a lot */
#define ROOMS      3
#define CLUMP      0
#define DIVISION   1

#define BASE                                                                                                 \
    .varieties = 120, .past_seasons = 6, .worlds = 40, .today = 13.0, .begun = 0.3, .done = 0.1,             \
    .clump_sd = 0.3, .even = 0.5, .cell_sd = 0.08, .rot = { 1.0, 1.0 }, .room = 1.0, .told = 0.0,            \
    .shape = 1.0, .pa = 60.0, .k_sd = 0.2, .weighed = 0.2, .checked = { 0.4, 0.5 }

#if defined(__GNUC__)
#pragma GCC diagnostic ignored "-Woverride-init" /* a regime is BASE with something changed */
#endif

const cw_regime cw_regimes[] = {
    { BASE, .name = "base", .worlds = 80 },
    { BASE, .name = "varieties_15", .varieties = 15, .worlds = 160 },
    { BASE, .name = "varieties_1500", .varieties = 1500, .worlds = 12 },
    { BASE, .name = "seasons_1", .past_seasons = 1 },
    { BASE, .name = "seasons_12", .past_seasons = 12, .worlds = 30 },
    { BASE, .name = "december", .today = 5.0, .begun = 0.15, .done = 0.0 },
    { BASE, .name = "march", .today = 19.0, .begun = 0.5, .done = 0.3 },
    { BASE, .name = "under_dispersed", .even = 0.9, .clump_sd = 0.08 },
    { BASE, .name = "over_dispersed", .even = 0.0, .clump_sd = 0.6 },
    { BASE, .name = "outliers", .outliers = 0.04 },
    { BASE, .name = "interaction", .cell_sd = 0.25 },
    { BASE, .name = "rot_x2", .checked = { 0.4, 0.0 }, .rot = { 2.2, 2.2 } },
    { BASE, .name = "rot_x4", .checked = { 0.4, 0.0 }, .rot = { 4.5, 4.5 } },
    { BASE, .name = "rot_x4_clumps_only", .checked = { 0.4, 0.0 }, .rot = { 4.5, 1.0 } },
    { BASE, .name = "room_x4", .room = 4.0 },
    { BASE, .name = "room_fails", .room = 15.0, .room_from = 7.0 },
    { BASE, .name = "best_clumps_strong", .sorted = 1.0, .begun = 0.7, .clump_sd = 0.4 },
    { BASE, .name = "best_clumps_weak", .sorted = 0.5, .begun = 0.7, .clump_sd = 0.4 },
    { BASE, .name = "best_varieties", .best_varieties = 0.7, .cell_sd = 0.12 },
    { BASE, .name = "suspicion", .suspicion = 1.0 },
    { BASE, .name = "suspicion_told", .suspicion = 1.0, .told = 1.0 },
    { BASE, .name = "ageing", .shape = 2.0 },
    { BASE, .name = "dry_unweighed", .pa = 170.0, .k_sd = 0.6, .weighed = 0.0 },
    { BASE, .name = "trend", .trend = -0.0834, .begun = 0.0, .done = 0.0, .past_seasons = 8 },
    { BASE, .name = "dead_lots", .dead = 0.05 },
    { BASE, .name = "no_history", .past_seasons = 0, .begun = 0.0, .done = 0.0, .checked = { 0.0, 0.0 },
      .weighed = 0.0 },
    { BASE, .name = "limits_differ", .limit_sd = { 0.15, 0.2 } },
    { BASE, .name = "limits_differ_1500", .varieties = 1500, .worlds = 12, .limit_sd = { 0.15, 0.2 } },
};
const size_t cw_regimes_count = sizeof cw_regimes / sizeof cw_regimes[0];

typedef struct maker {
    cw_world *w;
    const cw_regime *r;
    cw_rng rng;
    int ok;
    double level, k, limit, limit_spread; /* of the nursery */
    double form[8], size[4];
    double season_rate[32], season_rot[32][2];
    size_t season;
    /* the variety at hand */
    size_t variety;
    double rate, hazard[2], k_effect, cell;
    int room;
} maker;

/* One lot of clumps, in the order in which they are cut. */
typedef struct lot {
    int number, room;
    double level, h[2], k;
    size_t clumps;
    double of[MOST]; /* size of each, mean about 1 */
} lot;

static double normal(maker *m, double sd)
{
    return sd * cw_draw_normal(&m->rng);
}

static double between(maker *m, double low, double high)
{
    return low + (high - low) * cw_rng_uniform(&m->rng);
}

static int chance(maker *m, double p)
{
    return cw_rng_uniform(&m->rng) < p;
}

static void *grown(maker *m, void *rows, size_t count, size_t size)
{
    if ((count & (count - 1)) != 0)
        return rows;
    void *bigger = realloc(rows, (count > 0 ? 2 * count : 1) * size);
    m->ok = m->ok && bigger != NULL;
    return bigger != NULL ? bigger : rows;
}

#define PUSH(array, count, ...)                                                                              \
    do {                                                                                                     \
        (array) = grown(m, (array), (count), sizeof *(array));                                               \
        if (m->ok)                                                                                           \
            (array)[(count)++] = (__VA_ARGS__);                                                              \
    } while (0)

static int is_now(const maker *m)
{
    return m->season + 1 == m->w->seasons;
}

/* Risk between two ages that begin in week `start` of the season, with the room's failing in it. */
static double risk(const maker *m, const lot *l, int stage, double start, double from, double to)
{
    double sum = 0.0, shape = m->r->shape, bad = m->r->room_from - start;
    double cut[3] = { from, fmin(fmax(bad, from), to), to };
    for (int i = 0; i < 2; i++) {
        double times = is_now(m) && l->room == 0 && i == 1 ? m->r->room : 1.0;
        sum += times * (pow(cut[i + 1], shape) - pow(cut[i], shape)) / pow(SHAPE_WEEK, shape - 1.0);
    }
    return l->h[stage] * sum;
}

static int64_t living(maker *m, const lot *l, int stage, int64_t n, double times, double start, double from,
                      double to)
{
    return to > from ? cw_draw_binomial(&m->rng, n, exp(-times * risk(m, l, stage, start, from, to))) : n;
}

static int64_t divide_clump(maker *m, const lot *l, double size)
{
    double mean = m->rate * l->level * size, even = m->r->even;
    if (mean <= 0.0)
        return 0;
    if (even <= 0.0)
        return cw_draw_poisson(&m->rng, mean);
    double eyes = mean / even, whole = floor(eyes);
    int64_t n = (int64_t)whole + chance(m, eyes - whole);
    return cw_draw_binomial(&m->rng, n, even);
}

static int falling(const void *a, const void *b)
{
    double x = ((const double *)a)[0], y = ((const double *)b)[0];
    return (x < y) - (x > y);
}

static void new_lot(maker *m, lot *l, size_t clumps)
{
    double key[MOST][2], sd = m->r->clump_sd, sorted = m->r->sorted;
    memset(l, 0, sizeof *l);
    l->number = is_now(m) ? (int)m->w->lots : (int)(m->w->rates + m->w->rots);
    l->room = chance(m, 0.8) ? m->room : (int)cw_rng_below(&m->rng, ROOMS);
    l->level = m->cell * m->season_rate[m->season] * exp(normal(m, 0.06));
    if (chance(m, m->r->outliers))
        l->level *= exp(normal(m, 0.8));
    if (chance(m, m->r->dead))
        l->level = 0.0;
    for (int s = 0; s < 2; s++)
        l->h[s] = m->hazard[s] * m->season_rot[m->season][s] * exp(normal(m, 0.3)) *
                  (is_now(m) ? m->r->rot[s] : 1.0);
    l->k = m->k * exp(m->k_effect + normal(m, 0.15));
    l->clumps = clumps;
    for (size_t i = 0; i < clumps; i++) {
        double log_size = normal(m, sd);
        key[i][1] = exp(log_size - 0.5 * sd * sd);
        key[i][0] = sorted * log_size + (1.0 - sorted) * normal(m, 2.0 * sd);
    }
    if (sorted > 0.0)
        qsort(key, clumps, sizeof key[0], falling);
    for (size_t i = 0; i < clumps; i++)
        l->of[i] = key[i][1];
}

static void tell_rot(maker *m, const lot *l, cw_rot_stage stage, double age, double weeks, int64_t inspected,
                     int64_t rotten, cw_rot_why why)
{
    cw_world *w = m->w;
    size_t n = w->rots;
    PUSH(w->look, n, (cw_rot_look){ age, why, is_now(m) ? l->room : -1 });
    PUSH(w->rot, w->rots,
         (cw_rot_row){ (int)m->variety, (int)m->season, l->number, stage, weeks, inspected, rotten });
}

static cw_rot_why why_of(maker *m)
{
    if (!chance(m, m->r->told))
        return CW_ROT_UNTOLD;
    return m->r->suspicion > 0.0 ? CW_ROT_SUSPICION : CW_ROT_ROUND;
}

/* Is a crate of this lot looked at, and how much more does what is inspected rot than the lot does? */
static int looked_at(maker *m, const lot *l, int stage, double usual, double *times)
{
    double worse = l->h[stage] * (is_now(m) && l->room == 0 ? m->r->room : 1.0) / (stage ? 0.004 : 0.006);
    *times = m->r->suspicion > 0.0 ? 1.6 : 1.0;
    return chance(m, m->r->suspicion > 0.0 ? usual * fmin(worse * worse, 2.0) : usual);
}

/* Divisions that outlast ages from .. to without rot, and of those without shrivelling. */
static int64_t keep_divisions(maker *m, const lot *l, int64_t n, double times, double cut_week, double from,
                              double to, int64_t *rotten)
{
    int64_t alive = living(m, l, DIVISION, n, times, cut_week, from, to), sound = 0;
    double was = cw_shrink_loss(l->k, from * 7.0 * m->r->pa),
           is = cw_shrink_loss(l->k, fmax(from, to) * 7.0 * m->r->pa);
    *rotten = n - alive;
    for (int64_t i = 0; i < alive; i++) {
        double limit = 0.0;
        for (int tries = 0; limit <= was && tries < 1000; tries++)
            limit = m->limit * exp(normal(m, m->limit_spread));
        sound += limit > is;
    }
    return sound;
}

/* Clumps from .. to - 1 of a lot are cut in a week; the sound divisions. */
static int64_t session(maker *m, const lot *l, size_t from, size_t to, double since, double week)
{
    cw_world *w = m->w;
    int64_t n = 0, sound = 0, made = 0;
    for (size_t i = from; i < to; i++, n++) {
        if (!living(m, l, CLUMP, 1, 1.0, 0.0, since, week))
            continue;
        sound++;
        made += divide_clump(m, l, l->of[i]);
    }
    if (n == 0)
        return 0;
    size_t rows = w->rates;
    PUSH(w->cut, rows, (cw_rate_cut){ (double)from / (double)l->clumps, (double)to / (double)l->clumps });
    PUSH(w->rate, w->rates, (cw_rate_row){ (int)m->variety, (int)m->season, l->number, sound, made });
    tell_rot(m, l, CW_ROT_CLUMP, since, week - since, n, n - sound, CW_ROT_DIVIDING);
    return made;
}

static void past_season(maker *m)
{
    size_t lots = 1 + cw_rng_below(&m->rng, 2);
    m->cell = exp(normal(m, m->r->cell_sd));
    for (size_t i = 0; i < lots; i++) {
        lot l;
        double times, week = between(m, 3.0, 9.0);
        int64_t made = 0;
        new_lot(m, &l, 3 + cw_rng_below(&m->rng, 30));
        size_t parts = 1 + cw_rng_below(&m->rng, 3), at = 0;
        for (size_t p = 0; p < parts; p++, week += between(m, 0.5, 3.0)) {
            size_t to = p + 1 == parts ? l.clumps : at + (l.clumps - at) / (parts - p);
            made += session(m, &l, at, to, 0.0, week);
            at = to;
        }
        if (made > 4 && looked_at(m, &l, DIVISION, 0.6, &times)) {
            int64_t inspected = made / 2 + 1, rotten;
            double weeks = between(m, 2.0, 9.0);
            int64_t sound = keep_divisions(m, &l, inspected, times, week, 0.0, weeks, &rotten);
            tell_rot(m, &l, CW_ROT_DIVISION, 0.0, weeks, inspected, rotten, why_of(m));
            (void)sound;
        }
    }
}

static void put_divisions(maker *m, const lot *l, int64_t n, double times, double cut_week, double from)
{
    cw_world *w = m->w;
    int64_t rotten;
    double to = SHIP_WEEK - cut_week;
    if (n <= 0)
        return;
    PUSH(w->stock, w->stocks,
         (cw_stock){ .lot = (size_t)l->number,
                     .stage = CW_DIVISION,
                     .count = n,
                     .division_weeks = to - from,
                     .division_age = from,
                     .from_pa_days = from * 7.0 * m->r->pa,
                     .to_pa_days = to * 7.0 * m->r->pa });
    w->came[m->variety] += keep_divisions(m, l, n, times, cut_week, from, to, &rotten);
}

/* This season's session: perhaps some of what was made is looked at later. */
static void session_now(maker *m, const lot *l, size_t from, size_t to, double since, double week)
{
    cw_world *w = m->w;
    int64_t made = session(m, l, from, to, since, week), rotten;
    double times, today = m->r->today;
    if (made == 0 || today - week < 2.0 || !looked_at(m, l, DIVISION, m->r->checked[DIVISION], &times)) {
        put_divisions(m, l, made, 1.0, week, 0.0);
        return;
    }
    double seen = between(m, 1.0, today - week);
    int64_t inspected = chance(m, 0.5) && times <= 1.0 ? made : (made + 1) / 2;
    int64_t sound = keep_divisions(m, l, inspected, times, week, 0.0, seen, &rotten);
    tell_rot(m, l, CW_ROT_DIVISION, 0.0, seen, inspected, rotten, why_of(m));
    PUSH(w->check, w->checks,
         (cw_shrivel_check){ (size_t)l->number, 0.0, seen * 7.0 * m->r->pa, inspected - rotten,
                             inspected - rotten - sound });
    put_divisions(m, l, made - inspected, 1.0 / times, week, 0.0);
    put_divisions(m, l, sound, times, week, seen);
}

/* Clumps from .. to - 1 are whole today; cut midway to shipping they come to what they come to. */
static void wait(maker *m, const lot *l, size_t from, size_t to, double times, double since, size_t standing)
{
    cw_world *w = m->w;
    double week = 0.5 * (m->r->today + SHIP_WEEK);
    int64_t made = 0, rotten;
    if (standing == 0)
        return;
    for (size_t i = from; i < to && i < from + standing; i++)
        if (living(m, l, CLUMP, 1, times, 0.0, since, week))
            made += divide_clump(m, l, l->of[i]);
    PUSH(w->stock, w->stocks,
         (cw_stock){ .lot = (size_t)l->number,
                     .stage = CW_CLUMP,
                     .count = (int64_t)standing,
                     .clump_weeks = week - since,
                     .clump_age = since,
                     .cut = (double)from / (double)l->clumps,
                     .division_weeks = SHIP_WEEK - week,
                     .to_pa_days = (SHIP_WEEK - week) * 7.0 * m->r->pa });
    w->came[m->variety] += keep_divisions(m, l, made, 1.0, week, 0.0, SHIP_WEEK - week, &rotten);
}

static void weigh_crate(maker *m, const lot *l)
{
    double kg = between(m, 3.0, 8.0), k = l->k * exp(normal(m, 0.08));
    for (double week = 1.0; week < m->r->today; week += 3.0)
        PUSH(m->w->weighing, m->w->weighings,
             (cw_weighing){ m->w->crates, (size_t)l->number, week * 7.0 * m->r->pa,
                            kg * exp(-k * week * 7.0 * m->r->pa + normal(m, 0.003)) });
    m->w->crates++;
}

/* A lot of this season of which a share is cut by today, in one to three sessions. */
static void lot_now(maker *m, double share)
{
    lot l;
    double times, today = m->r->today, checked = 0.0;
    new_lot(m, &l, 2 + cw_rng_below(&m->rng, 44));
    size_t rooms = m->w->lots;
    PUSH(m->w->lot_room, rooms, l.room);
    PUSH(m->w->lot_variety, m->w->lots, m->variety);
    size_t cut = (size_t)(share * (double)l.clumps + 0.5), parts = 1 + cw_rng_below(&m->rng, 3), at = 0;
    double week = between(m, 3.0, fmax(3.5, today - 3.0));
    for (size_t p = 0; p < parts && at < cut; p++) {
        size_t to = p + 1 == parts ? cut : at + (cut - at) / (parts - p);
        session_now(m, &l, at, to, 0.0, week);
        at = to;
        week = fmin(today, week + between(m, 0.3, 2.0));
    }
    size_t whole = l.clumps - cut;
    if (whole > 1 && looked_at(m, &l, CLUMP, m->r->checked[CLUMP], &times)) {
        size_t inspected = (whole + 1) / 2;
        checked = between(m, fmin(week, today - 1.0), today);
        size_t sound = (size_t)living(m, &l, CLUMP, (int64_t)inspected, times, 0.0, 0.0, checked);
        tell_rot(m, &l, CW_ROT_CLUMP, 0.0, checked, (int64_t)inspected, (int64_t)(inspected - sound),
                 why_of(m));
        wait(m, &l, cut, cut + inspected, times, checked, sound);
        wait(m, &l, cut + inspected, l.clumps, 1.0 / times, 0.0, whole - inspected);
    } else {
        wait(m, &l, cut, l.clumps, 1.0, 0.0, whole);
    }
    if (m->w->crates < 24 && chance(m, m->r->weighed))
        weigh_crate(m, &l);
}

static void set_variety(maker *m, size_t v)
{
    int f = (int)cw_rng_below(&m->rng, 8), z = (int)cw_rng_below(&m->rng, 4);
    m->w->form[v] = chance(m, 0.03) ? -1 : f;
    m->w->size[v] = chance(m, 0.03) ? -1 : z;
    m->variety = v;
    m->rate = m->level * exp(m->form[f] + m->size[z] + normal(m, 0.3));
    m->hazard[CLUMP] = 0.006 * exp(normal(m, 0.45));
    m->hazard[DIVISION] = 0.004 * exp(normal(m, 0.45));
    m->k_effect = normal(m, 0.12);
    m->room = (int)cw_rng_below(&m->rng, ROOMS);
}

static void make_all(maker *m)
{
    const cw_regime *r = m->r;
    m->level = 5.0 * exp(normal(m, 0.25));
    m->k = CW_SHRINK_DEFAULT_K * exp(normal(m, r->k_sd));
    m->limit = 0.33;
    m->limit_spread = 0.25;
    if (r->limit_sd[0] > 0.0) { /* else nothing is drawn, so that worlds stay what they were */
        m->limit *= exp(normal(m, r->limit_sd[0]));
        m->limit_spread *= exp(normal(m, r->limit_sd[1]));
    }
    for (size_t i = 0; i < 8; i++)
        m->form[i] = normal(m, 0.15);
    for (size_t i = 0; i < 4; i++)
        m->size[i] = normal(m, 0.15);
    for (size_t t = 0; t < m->w->seasons; t++) {
        double weather = normal(m, 1.0);
        double middle = 0.5 * (double)(m->w->seasons - 1);
        m->season_rate[t] = exp(normal(m, 0.1) + r->trend * ((double)t - middle));
        for (int s = 0; s < 2; s++) /* weather is bad for both stages: correlation one half */
            m->season_rot[t][s] = exp(0.3 * (0.7071 * weather + normal(m, 0.7071)));
    }
    for (size_t v = 0; v < m->w->varieties && m->ok; v++) {
        set_variety(m, v);
        size_t first = chance(m, 0.3) ? cw_rng_below(&m->rng, (uint32_t)m->w->seasons) : 0;
        for (m->season = first; m->season + 1 < m->w->seasons; m->season++)
            if (chance(m, 0.9))
                past_season(m);
        double fate = cw_rng_uniform(&m->rng), cell = normal(m, 1.0);
        /* the best first: how well it does decides when it is cut */
        double rank = r->best_varieties * cell + (1.0 - r->best_varieties) * normal(m, 1.0);
        if (r->best_varieties > 0.0)
            fate = 0.5 * erfc(rank / sqrt(2.0 * (r->best_varieties * r->best_varieties +
                                                 (1.0 - r->best_varieties) * (1.0 - r->best_varieties))));
        m->cell = exp(r->cell_sd * cell);
        double share = fate < r->done ? 1.0 : fate < r->done + r->begun ? between(m, 0.15, 0.8) : 0.0;
        size_t lots = 1 + cw_rng_below(&m->rng, 3);
        for (size_t i = 0; i < lots; i++)
            lot_now(m, share);
    }
}

int cw_regime_make(const cw_regime *r, uint64_t seed, cw_world *out)
{
    memset(out, 0, sizeof *out);
    maker m = { .w = out, .r = r, .ok = 1 };
    cw_rng_init(&m.rng, seed, 11);
    out->varieties = r->varieties;
    out->seasons = r->past_seasons + 1;
    out->forms = 8;
    out->sizes = 4;
    out->weeks_to_ship = SHIP_WEEK - r->today;
    out->form = calloc(out->varieties, sizeof *out->form);
    out->size = calloc(out->varieties, sizeof *out->size);
    out->came = calloc(out->varieties, sizeof *out->came);
    m.ok = out->form != NULL && out->size != NULL && out->came != NULL && out->seasons <= 32;
    if (m.ok)
        make_all(&m);
    if (!m.ok)
        cw_world_free(out);
    return m.ok;
}
