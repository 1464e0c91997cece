/* SPDX-License-Identifier: MIT */
#include "bench/worlds.h"

#include "model/sampler.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define TODAY_WEEK  13.0 /* since digging */
#define DIVIDE_WEEK 16.0 /* when what is whole will be cut */
#define SHIP_WEEK   24.0
#define ROOM_PA     60.0

typedef struct maker {
    cw_world *w;
    cw_world_settings s;
    cw_rng rng;
    int ok;
    double season_rate[64], season_rot[64][2];
    /* of the variety at hand */
    size_t variety;
    double tubers, eyes, spread, blind, hazard[2], cell;
    double k_effect;
} maker;

static double normal(maker *m, double sd)
{
    return sd * cw_draw_normal(&m->rng);
}

/* An effect: normal, or Student with 4 degrees of freedom brought to the same sd where tails are heavy. */
static double effect(maker *m, double sd)
{
    if (m->s.kind != CW_WORLD_HEAVY)
        return normal(m, sd);
    return normal(m, sd) * sqrt(2.0 / (cw_draw_gamma(&m->rng, 2.0))) / sqrt(2.0);
}

static double between(maker *m, double low, double high)
{
    return low + (high - low) * cw_rng_uniform(&m->rng);
}

#define PUSH(array, count, ...)                                                                              \
    do {                                                                                                     \
        if (((count) & ((count)-1)) == 0) {                                                                  \
            void *bigger = realloc((array), ((count) > 0 ? 2 * (count) : 1) * sizeof *(array));              \
            if (bigger == NULL) {                                                                            \
                m->ok = 0;                                                                                   \
                break;                                                                                       \
            }                                                                                                \
            (array) = bigger;                                                                                \
        }                                                                                                    \
        (array)[(count)++] = (__VA_ARGS__);                                                                  \
    } while (0)

/* Good divisions of one clump: as many as it has tubers and eyes, less those cut blind or hurt. */
static int64_t divide_clump(maker *m, double level)
{
    double lump = m->spread > 0.0 ? cw_draw_gamma(&m->rng, 1.0 / m->spread) * m->spread : 1.0;
    int64_t tubers = cw_draw_poisson(&m->rng, m->tubers * level * lump), eyes = 0;
    if (m->s.kind == CW_WORLD_TIGHT)
        eyes = cw_draw_binomial(&m->rng, (int64_t)ceil(m->eyes * level * 1.15), 1.0 / 1.15);
    else
        eyes = cw_draw_poisson(&m->rng, m->eyes * level * lump);
    int64_t most = tubers < eyes ? tubers : eyes;
    return cw_draw_binomial(&m->rng, most, 1.0 - m->blind);
}

static double lot_level(maker *m)
{
    static const double sd[CW_WORLD_KINDS] = { 0.06, 0.18, 0.0, 0.06, 0.08 };
    return exp(normal(m, sd[m->s.kind]));
}

static double lot_hazard(maker *m, int stage, size_t season)
{
    static const double sd[CW_WORLD_KINDS] = { 0.3, 0.6, 0.1, 0.3, 0.3 };
    return m->hazard[stage] * m->season_rot[season][stage] * exp(normal(m, sd[m->s.kind]));
}

static int64_t living(maker *m, int64_t n, double hazard, double weeks)
{
    return cw_draw_binomial(&m->rng, n, exp(-hazard * fmax(0.0, weeks)));
}

static void new_variety(maker *m, size_t v, const double *form, const double *size)
{
    int f = (int)cw_rng_below(&m->rng, (uint32_t)m->w->forms),
        z = (int)cw_rng_below(&m->rng, (uint32_t)m->w->sizes);
    m->w->form[v] = cw_rng_uniform(&m->rng) < 0.03 ? -1 : f;
    m->w->size[v] = cw_rng_uniform(&m->rng) < 0.03 ? -1 : z;
    m->variety = v;
    double base = form[f] + size[z];
    m->tubers = exp(log(9.0) + base + normal(m, 0.3));
    m->eyes = exp(log(7.0) + base + normal(m, 0.3));
    m->spread = m->s.kind == CW_WORLD_LOOSE   ? between(m, 0.15, 0.4)
                : m->s.kind == CW_WORLD_TIGHT ? 0.0
                                              : 0.05;
    m->blind = between(m, 0.03, 0.15);
    m->hazard[0] = 0.006 * exp(effect(m, 0.45));
    m->hazard[1] = 0.004 * exp(effect(m, 0.45));
    m->k_effect = normal(m, 0.15);
}

/* What is on record of a past season: sessions, clumps found rotten, checks. */
static void past_season(maker *m, size_t season)
{
    double cell = exp(effect(m, 0.08)) * m->season_rate[season];
    size_t lots = 1 + cw_rng_below(&m->rng, (uint32_t)m->s.lots);
    for (size_t l = 0; l < lots; l++) {
        int lot = (int)(m->w->rates + m->w->rots);
        double level = cell * lot_level(m), h[2] = { lot_hazard(m, 0, season), lot_hazard(m, 1, season) };
        size_t sessions = 1 + cw_rng_below(&m->rng, (uint32_t)m->s.sessions_a_season);
        for (size_t i = 0; i < sessions; i++) {
            int64_t clumps = 2 + (int64_t)cw_rng_below(&m->rng, 25);
            double weeks = between(m, 3.0, 14.0);
            int64_t sound = living(m, clumps, h[0], weeks), made = 0;
            for (int64_t c = 0; c < sound; c++)
                made += divide_clump(m, level);
            PUSH(m->w->rate, m->w->rates, (cw_rate_row){ (int)m->variety, (int)season, lot, sound, made });
            PUSH(m->w->rot, m->w->rots,
                 (cw_rot_row){ (int)m->variety, (int)season, lot, CW_ROT_CLUMP, weeks, clumps,
                               clumps - sound });
        }
        if (cw_rng_uniform(&m->rng) < (m->s.kind == CW_WORLD_YOUNG ? 0.3 : 0.7)) {
            int64_t inspected = 10 + (int64_t)cw_rng_below(&m->rng, 60);
            double weeks = between(m, 2.0, 9.0);
            int64_t rotten = inspected - living(m, inspected, h[1], weeks);
            PUSH(
                m->w->rot, m->w->rots,
                (cw_rot_row){ (int)m->variety, (int)season, lot, CW_ROT_DIVISION, weeks, inspected, rotten });
        }
    }
}

/* One lot of this season, with the things in it. */
typedef struct lot {
    size_t index;
    double level, h[2], k;
} lot;

/* Divisions that outlast the stretch from..to (weeks since cutting) without rot, and of those without
 * shrivelling: the limit of each is lognormal, and is known to lie above the loss at `from`. */
static int64_t keep_divisions(maker *m, const lot *l, int64_t n, double from, double to, int64_t *rotten)
{
    int64_t alive = living(m, n, l->h[1], to - from), sound = 0;
    double was = cw_shrink_loss(l->k, from * 7.0 * ROOM_PA), is = cw_shrink_loss(l->k, to * 7.0 * ROOM_PA);
    *rotten = n - alive;
    for (int64_t i = 0; i < alive; i++) {
        double limit = 0.0;
        do
            limit = 0.30 * exp(normal(m, 0.3));
        while (limit <= was);
        sound += limit > is;
    }
    return sound;
}

/* A session of `n` clumps that were last known sound at `since`: rot found, divisions made, perhaps checked
 * later; what is left of them joins the stock, and its future the truth. */
static void session(maker *m, const lot *l, int64_t n, double since, double week)
{
    cw_world *w = m->w;
    int season = (int)w->seasons - 1, v = (int)m->variety;
    int64_t sound = living(m, n, l->h[0], week - since), made = 0, rotten = 0;
    for (int64_t c = 0; c < sound; c++)
        made += divide_clump(m, l->level);
    PUSH(w->rate, w->rates, (cw_rate_row){ v, season, (int)l->index, sound, made });
    PUSH(w->rot, w->rots, (cw_rot_row){ v, season, (int)l->index, CW_ROT_CLUMP, week - since, n, n - sound });
    double seen = 0.0; /* weeks after cutting */
    int64_t parts[2] = { made, 0 };
    if (made > 0 && TODAY_WEEK - week > 2.0 && cw_rng_uniform(&m->rng) < 0.5) {
        seen = between(m, 1.0, TODAY_WEEK - week);
        int64_t inspected = cw_rng_uniform(&m->rng) < 0.5 ? made : made / 2;
        parts[0] = made - inspected;
        parts[1] = keep_divisions(m, l, inspected, 0.0, seen, &rotten);
        PUSH(w->rot, w->rots,
             (cw_rot_row){ v, season, (int)l->index, CW_ROT_DIVISION, seen, inspected, rotten });
        PUSH(w->check, w->checks,
             (cw_shrivel_check){ l->index, 0.0, seen * 7.0 * ROOM_PA, inspected - rotten,
                                 inspected - rotten - parts[1] });
    }
    for (int i = 0; i < 2; i++) {
        double from = i == 0 ? 0.0 : seen, to = SHIP_WEEK - week;
        if (parts[i] == 0)
            continue;
        PUSH(w->stock, w->stocks,
             (cw_stock){ .lot = l->index,
                         .stage = CW_DIVISION,
                         .count = parts[i],
                         .division_weeks = to - from,
                         .from_pa_days = from * 7.0 * ROOM_PA,
                         .to_pa_days = to * 7.0 * ROOM_PA });
        w->came[v] += keep_divisions(m, l, parts[i], from, to, &rotten);
    }
}

/* Clumps still whole today: what they will come to. */
static void wait(maker *m, const lot *l, int64_t n, double since)
{
    if (n == 0)
        return;
    int64_t sound = living(m, n, l->h[0], DIVIDE_WEEK - since), made = 0, rotten = 0;
    for (int64_t c = 0; c < sound; c++)
        made += divide_clump(m, l->level);
    PUSH(m->w->stock, m->w->stocks,
         (cw_stock){ .lot = l->index,
                     .stage = CW_CLUMP,
                     .count = n,
                     .clump_weeks = DIVIDE_WEEK - since,
                     .division_weeks = SHIP_WEEK - DIVIDE_WEEK,
                     .to_pa_days = (SHIP_WEEK - DIVIDE_WEEK) * 7.0 * ROOM_PA });
    m->w->came[m->variety] += keep_divisions(m, l, made, 0.0, SHIP_WEEK - DIVIDE_WEEK, &rotten);
}

static void weigh_crate(maker *m, const lot *l)
{
    double kg = between(m, 3.0, 8.0), k = l->k * exp(normal(m, 0.08));
    for (double week = 1.0; week < TODAY_WEEK; week += 3.0)
        PUSH(m->w->weighing, m->w->weighings,
             (cw_weighing){ m->w->crates, l->index, week * 7.0 * ROOM_PA,
                            kg * exp(-k * week * 7.0 * ROOM_PA + normal(m, 0.003)) });
    m->w->crates++;
}

static void this_season(maker *m)
{
    cw_world *w = m->w;
    size_t season = w->seasons - 1, lots = 1 + cw_rng_below(&m->rng, (uint32_t)m->s.lots);
    double cell = exp(effect(m, 0.08)) * m->season_rate[season], fate = cw_rng_uniform(&m->rng);
    double small = cw_rng_uniform(&m->rng) < 0.15 ? 0.15 : 1.0;
    for (size_t i = 0; i < lots; i++) {
        lot l = { w->lots,
                  cell * lot_level(m),
                  { lot_hazard(m, 0, season), lot_hazard(m, 1, season) },
                  2.0e-5 * exp(m->k_effect + normal(m, 0.2)) };
        PUSH(w->lot_variety, w->lots, m->variety);
        int64_t whole = 1 + (int64_t)(small * between(m, 3.0, 45.0)), seen = 0;
        double checked = 0.0;
        if (cw_rng_uniform(&m->rng) < 0.4) { /* a look into the crates of whole clumps */
            checked = between(m, 4.0, 10.0);
            int64_t inspected = (whole + 1) / 2;
            seen = living(m, inspected, l.h[0], checked);
            whole -= inspected;
            PUSH(w->rot, w->rots,
                 (cw_rot_row){ (int)m->variety, (int)season, (int)l.index, CW_ROT_CLUMP, checked, inspected,
                               inspected - seen });
        }
        /* six in ten varieties are whole, three are begun, one is done */
        double share = fate < 0.6 ? 0.0 : fate < 0.9 ? between(m, 0.1, 0.8) : 1.0;
        int64_t cut = (int64_t)(share * (double)whole + 0.5);
        if (cut > 0)
            session(m, &l, cut, 0.0, between(m, 3.0, TODAY_WEEK));
        if (share >= 1.0 && seen > 0)
            session(m, &l, seen, checked, between(m, checked, TODAY_WEEK));
        wait(m, &l, whole - cut, 0.0);
        wait(m, &l, share >= 1.0 ? 0 : seen, checked);
        if (w->crates < 24 && cw_rng_uniform(&m->rng) < 0.2)
            weigh_crate(m, &l);
    }
}

static void make_all(maker *m)
{
    double form[16], size[8];
    for (size_t i = 0; i < m->w->forms; i++)
        form[i] = normal(m, 0.15);
    for (size_t i = 0; i < m->w->sizes; i++)
        size[i] = normal(m, 0.15);
    for (size_t t = 0; t < m->w->seasons; t++) {
        m->season_rate[t] = exp(effect(m, 0.13));
        m->season_rot[t][0] = exp(effect(m, 0.3));
        m->season_rot[t][1] = exp(effect(m, 0.3));
    }
    double newcomers = m->s.kind == CW_WORLD_YOUNG ? 0.5 : 0.3;
    for (size_t v = 0; v < m->w->varieties && m->ok; v++) {
        new_variety(m, v, form, size);
        size_t first =
            cw_rng_uniform(&m->rng) < newcomers ? cw_rng_below(&m->rng, (uint32_t)m->w->seasons) : 0;
        for (size_t t = first; t + 1 < m->w->seasons; t++) {
            if (cw_rng_uniform(&m->rng) < 0.9)
                past_season(m, t);
        }
        this_season(m);
    }
}

int cw_world_make(const cw_world_settings *settings, cw_world *out)
{
    memset(out, 0, sizeof *out);
    maker m = { .w = out, .s = *settings, .ok = 1 };
    cw_rng_init(&m.rng, settings->seed, 7);
    out->varieties = settings->varieties;
    out->seasons = settings->past_seasons + 1;
    out->forms = 9;
    out->sizes = 4;
    out->weeks_to_ship = SHIP_WEEK - TODAY_WEEK;
    out->form = calloc(out->varieties, sizeof *out->form);
    out->size = calloc(out->varieties, sizeof *out->size);
    out->came = calloc(out->varieties, sizeof *out->came);
    m.ok = out->form != NULL && out->size != NULL && out->came != NULL && out->seasons <= 64;
    if (m.ok)
        make_all(&m);
    if (!m.ok)
        cw_world_free(out);
    return m.ok;
}

void cw_world_free(cw_world *w)
{
    free(w->form);
    free(w->size);
    free(w->rate);
    free(w->rot);
    free(w->cut);
    free(w->look);
    free(w->lot_room);
    free(w->weighing);
    free(w->check);
    free(w->lot_variety);
    free(w->stock);
    free(w->came);
    memset(w, 0, sizeof *w);
}

cw_code cw_world_fit(const cw_world *w, unsigned threads, cw_fitted *fit, cw_error *err)
{
    cw_lessons from = { .rate = { .rows = w->rate,
                                  .cut = w->cut,
                                  .n_rows = w->rates,
                                  .varieties = w->varieties,
                                  .seasons = w->seasons,
                                  .forms = w->forms,
                                  .lots = w->lots,
                                  .sizes = w->sizes,
                                  .season = (int)w->seasons - 1,
                                  .form = w->form,
                                  .size = w->size,
                                  .threads = threads },
                        .rot = { .rows = w->rot,
                                 .look = w->look,
                                 .lot_room = w->lot_room,
                                 .lots = w->lots,
                                 .n_rows = w->rots,
                                 .varieties = w->varieties,
                                 .seasons = w->seasons,
                                 .season = (int)w->seasons - 1,
                                 .threads = threads },
                        .weighing = w->weighing,
                        .weighings = w->weighings,
                        .crates = w->crates,
                        .check = w->check,
                        .checks = w->checks,
                        .lots = w->lots,
                        .threads = threads };
    int64_t *whole = calloc(w->varieties + 1, sizeof *whole);
    if (whole == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < w->stocks; i++)
        if (w->stock[i].stage == CW_CLUMP)
            whole[w->lot_variety[w->stock[i].lot]] += w->stock[i].count;
    from.rate.whole = whole;
    cw_learned before = fit->learned;
    fit->learned = (cw_learned){ 0 };
    cw_fitted_free(fit);
    cw_code code = cw_learn(&from, &before, &fit->learned, err);
    cw_learned_free(&before);
    free(whole);
    if (code != CW_OK)
        return code;
    cw_projection_input in = { .varieties = w->varieties,
                               .lots = w->lots,
                               .stocks = w->stocks,
                               .lot_variety = w->lot_variety,
                               .stock = w->stock,
                               .weeks_to_ship = w->weeks_to_ship,
                               .rate = cw_rate_latent(fit->learned.rate),
                               .clump_rot = cw_rot_latent(fit->learned.rot, CW_ROT_CLUMP),
                               .division_rot = cw_rot_latent(fit->learned.rot, CW_ROT_DIVISION),
                               .dead = cw_rate_dead(fit->learned.rate),
                               .rot_tie = cw_rot_tie(fit->learned.rot),
                               .shrink = fit->learned.shrink };
    code = cw_projection_new(&in, &fit->projection, err);
    if (code != CW_OK)
        return code;
    fit->law = malloc(w->varieties * sizeof *fit->law);
    if (fit->law == NULL)
        return cw_error_memory(err);
    cw_projection_all(fit->projection, threads, fit->law);
    return CW_OK;
}

void cw_fitted_free(cw_fitted *fit)
{
    cw_projection_free(fit->projection);
    cw_learned_free(&fit->learned);
    free(fit->law);
    memset(fit, 0, sizeof *fit);
}
