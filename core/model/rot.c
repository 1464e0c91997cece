/* SPDX-License-Identifier: MIT */
#include "model/rot.h"
#include "model/rot_link.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define AGE_SD        0.15
#define WHY_SD        0.1
#define ROOM_SD       0.2
#define STAGES_DIFFER 0.05 /* in how checks are chosen */
#define ROUNDED       64.0
#define VARIETY_SD    0.4 /* prior medians */
#define CELL_SD       0.2
#define LOT_SD        0.3
#define OWN_LEAST     0.001  /* a share of less cannot be told from it */
#define EIGHT_IN_TEN  2.5631 /* sds between the 10 % and the 90 % point of a normal law */
#define AS_STUDENT                                                                                           \
    0.68 /* a Student law of 2 degrees of this scale has the middle 80 % of a normal law of sd 1 */

struct cw_rot {
    cw_mixed *fit[CW_ROT_STAGES];
    cw_rot_pair *pair;
    cw_rot_own own;
};

/* Of the intercepts: what the priors say, and how unsure they are. */
static const double usual_hazard[CW_ROT_STAGES] = { CW_ROT_DEFAULT_CLUMP, CW_ROT_DEFAULT_DIVISION };
#define INTERCEPT_SD 1.0

/* Priors of the tilts: of divisions, by what clumps told. */
typedef struct expected {
    double mean[CW_TILTS], sd[CW_TILTS];
} expected;

/* The owner's word of each stage: how far the nursery lies from the priors on the log scale, and its precision; 0: none. */
typedef struct word {
    double times, precision;
} word;

static word word_of(const cw_rot_own *own)
{
    if (own->high <= 0 || own->weeks <= 0)
        return (word){ 0, 0 };
    double usual = -log1p(-cw_rot_lost(1, own->weeks)), all = 0, squares = 0;
    double low = log(-log1p(-fmax(own->low, OWN_LEAST)) / usual);
    double high = log(-log1p(-fmax(own->high, OWN_LEAST)) / usual);
    double sd = fmax(CW_ROT_OWN_SD, (high - low) / EIGHT_IN_TEN);
    for (int k = 0; k < CW_ROT_STAGES; k++) {
        all += usual_hazard[k];
        squares += usual_hazard[k] * usual_hazard[k];
    }
    return (word){ (low + high) / 2, squares / (all * all) / (sd * sd) };
}

/* Two normal laws of one intercept become one. */
static void hear_owner(cw_mixed_settings *s, const cw_rot_own *own)
{
    word w = word_of(own);
    double before = 1 / (INTERCEPT_SD * INTERCEPT_SD), all = before + w.precision;
    s->intercept_mean += w.times * w.precision / all;
    s->intercept_sd = w.precision > 0 ? 1 / sqrt(all) : INTERCEPT_SD;
}

/* Prior medians of the sds, on the log scale (common practice, no source). */
static cw_mixed_settings settings_of(const cw_rot_data *d, cw_rot_stage stage, const expected *e)
{
    cw_mixed_settings s = {
        .mode = CW_MIXED_PREDICT,
        .use = { [CW_TERM_VARIETY] = true,
                 [CW_TERM_SEASON] = true,
                 [CW_TERM_CELL] = true,
                 [CW_TERM_LOT] = true },
        .sd_median = { [CW_TERM_FORM] = 1,
                       [CW_TERM_SIZE] = 1,
                       [CW_TERM_VARIETY] = VARIETY_SD,
                       [CW_TERM_SEASON] = 0.3,
                       [CW_TERM_CELL] = CELL_SD,
                       [CW_TERM_LOT] = LOT_SD },
        .sd_spread = { [CW_TERM_FORM] = 1,
                       [CW_TERM_SIZE] = 1,
                       [CW_TERM_VARIETY] = 0.75,
                       [CW_TERM_SEASON] = 0.75,
                       [CW_TERM_CELL] = 1,
                       [CW_TERM_LOT] = 1 },
        .sd_limit = 2,
        .phi_median = 1,
        .phi_spread = 0.75,
        .intercept_mean = log(usual_hazard[stage]),
        .intercept_sd = INTERCEPT_SD,
        .season = d->season,
        .threads = d->threads,
        .linked = true,
        .go_on = d->go_on,
    };
    memcpy(s.tilt_mean, e->mean, sizeof s.tilt_mean);
    memcpy(s.tilt_scale, e->sd, sizeof s.tilt_scale);
    hear_owner(&s, &d->own);
    return s;
}

static cw_code check(const cw_rot_data *d, cw_error *err)
{
    if (!(d->own.low >= 0 && d->own.low <= d->own.high && d->own.high < 1 && d->own.weeks >= 0 &&
          isfinite(d->own.weeks)))
        return cw_error_set(err, CW_REFUSED, "no share lost in a usual winter: %g to %g", d->own.low,
                            d->own.high);
    if (d->season < 0 || (size_t)d->season >= d->seasons)
        return cw_error_set(err, CW_REFUSED, "there is no season number %d", d->season);
    for (size_t i = 0; i < d->n_rows; i++)
        if (d->rows[i].stage != CW_ROT_CLUMP && d->rows[i].stage != CW_ROT_DIVISION)
            return cw_error_at(err, CW_REFUSED, NULL, (long)i + 1, "stage", "there is no stage number %d",
                               (int)d->rows[i].stage);
    return CW_OK;
}

/* Rooms that this season's rows name; they are told apart only if there are two. */
static void set_rooms(const cw_rot_data *d, bool *known)
{
    int count = 0;
    memset(known, 0, CW_ROT_ROOMS * sizeof *known);
    for (size_t i = 0; i < d->n_rows && d->look != NULL; i++) {
        int room = d->look[i].room;
        if (d->rows[i].season != d->season || room < 0 || room >= CW_ROT_ROOMS || known[room])
            continue;
        known[room] = true;
        count++;
    }
    if (count < 2)
        memset(known, 0, CW_ROT_ROOMS * sizeof *known);
}

static cw_mixed_tilt tilt_of(const cw_rot_data *d, const bool *known, size_t i)
{
    cw_mixed_tilt t = { 0 };
    if (d->look == NULL)
        return t;
    const cw_rot_look *l = &d->look[i];
    t.age = l->age;
    if (l->why == CW_ROT_UNTOLD || l->why == CW_ROT_SUSPICION) {
        t.of[0] = l->why == CW_ROT_UNTOLD ? CW_ROT_TILT_UNTOLD : CW_ROT_TILT_SUSPICION;
        t.x[0] = 1;
    }
    if (d->rows[i].season == d->season && l->room >= 0 && l->room < CW_ROT_ROOMS && known[l->room]) {
        t.of[1] = CW_ROT_TILT_ROOM + l->room;
        t.x[1] = 1;
    }
    return t;
}

/* One stage's rows. Those of the other are given with exposure 0, so that row numbers in messages stay right. */
static void stage_rows(const cw_rot_data *d, cw_rot_stage stage, const bool *known, cw_mixed_row *rows,
                       cw_mixed_tilt *tilt)
{
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rot_row *row = &d->rows[i];
        rows[i] = (cw_mixed_row){ .variety = row->variety, .season = row->season, .lot = row->lot };
        if (row->stage != stage)
            continue;
        rows[i].exposure = row->weeks;
        rows[i].trials = (double)row->inspected;
        rows[i].count = (double)row->rotten;
        tilt[i] = tilt_of(d, known, i);
    }
}

static cw_code fit_stage(const cw_rot_data *d, cw_rot_stage stage, const expected *e, const cw_rot *before,
                         bool whole, cw_rot *r, cw_error *err)
{
    cw_code code = CW_OK;
    bool known[CW_ROT_ROOMS];
    cw_mixed_row *rows = calloc(d->n_rows + 1, sizeof *rows);
    cw_mixed_tilt *tilt = calloc(d->n_rows + 1, sizeof *tilt);
    int32_t *lot_tilt = calloc(d->lots + 1, sizeof *lot_tilt);
    if (rows == NULL || tilt == NULL || lot_tilt == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    set_rooms(d, known);
    stage_rows(d, stage, known, rows, tilt);
    for (size_t l = 0; l < d->lots && d->lot_room != NULL; l++) {
        int room = d->lot_room[l];
        lot_tilt[l] = room >= 0 && room < CW_ROT_ROOMS && known[room] ? CW_ROT_TILT_ROOM + room : 0;
    }
    cw_mixed_settings settings = settings_of(d, stage, e);
    settings.whole = whole;
    cw_mixed_data mixed = { .family = CW_MIXED_CLOGLOG,
                            .rows = rows,
                            .n_rows = d->n_rows,
                            .varieties = d->varieties,
                            .seasons = d->seasons,
                            .lots = d->lots,
                            .tilt = tilt,
                            .lot_tilt = lot_tilt };
    code = cw_mixed_refit(&mixed, &settings, before ? before->fit[stage] : NULL, &r->fit[stage], err);
done:
    free(lot_tilt);
    free(tilt);
    free(rows);
    return code;
}

/* Clumps tell what to expect of divisions: of the same crates, looked at for the same reasons, by the same people. Rounded,
 * so that one session more does not make the divisions' fit another one. What is known of clumps is nearly normal. */
static void expect(const cw_mixed_report *clumps, expected *e)
{
    for (int k = CW_ROT_TILT_UNTOLD; k <= CW_ROT_TILT_SUSPICION; k++) {
        if (clumps->tilt_sd[k] <= 0)
            continue;
        e->mean[k] = round(clumps->hyper.tilt[k] * ROUNDED) / ROUNDED;
        e->sd[k] = round(AS_STUDENT * hypot(clumps->tilt_sd[k], STAGES_DIFFER) * ROUNDED) / ROUNDED;
    }
}

static cw_code fit_stages(const cw_rot_data *data, const cw_rot *before, bool whole, cw_rot *r, cw_error *err)
{
    expected e = {
        .mean = { [CW_ROT_TILT_SUSPICION] = 0.5 },
        .sd = { [CW_TILT_AGE] = AGE_SD, [CW_ROT_TILT_UNTOLD] = WHY_SD, [CW_ROT_TILT_SUSPICION] = 0.5 }
    };
    for (int i = 0; i < CW_ROT_ROOMS; i++)
        e.sd[CW_ROT_TILT_ROOM + i] = ROOM_SD;
    cw_code code = fit_stage(data, CW_ROT_CLUMP, &e, before, whole, r, err);
    if (code == CW_OK) {
        expect(cw_mixed_result(r->fit[CW_ROT_CLUMP]), &e);
        code = fit_stage(data, CW_ROT_DIVISION, &e, before, whole, r, err);
    }
    return code == CW_OK ? cw_rot_link(r->fit, before ? before->pair : NULL, &r->pair, err) : code;
}

cw_code cw_rot_fit(const cw_rot_data *data, const cw_rot *before, cw_rot **out, cw_error *err)
{
    *out = NULL;
    cw_code code = check(data, err);
    if (code != CW_OK)
        return code;
    cw_rot *r = calloc(1, sizeof *r);
    if (r == NULL)
        return cw_error_memory(err);
    cw_error conflict = { 0 };
    r->own = data->own;
    code = fit_stages(data, before, false, r, &conflict);
    if (code == CW_CONFLICT) { /* one of them went far, the other did not */
        for (int stage = 0; stage < CW_ROT_STAGES; stage++) {
            cw_mixed_free(r->fit[stage]);
            r->fit[stage] = NULL;
        }
        code = fit_stages(data, before, true, r, err);
    } else if (code != CW_OK && err) {
        *err = conflict;
    }
    if (code == CW_OK) {
        *out = r;
        r = NULL;
    }
    cw_rot_free(r);
    return code;
}

void cw_rot_free(cw_rot *r)
{
    if (r == NULL)
        return;
    cw_rot_pair_free(r->pair);
    for (int stage = 0; stage < CW_ROT_STAGES; stage++)
        cw_mixed_free(r->fit[stage]);
    free(r);
}

const cw_latent *cw_rot_latent(const cw_rot *r, cw_rot_stage stage)
{
    return cw_mixed_linked_latent(r->pair->stage[stage]);
}

const cw_mixed_report *cw_rot_report(const cw_rot *r, cw_rot_stage stage)
{
    return cw_mixed_result(r->fit[stage]);
}

bool cw_rot_informed(const cw_rot *r, cw_rot_stage stage)
{
    return cw_mixed_result(r->fit[stage])->rows > 0;
}

void cw_rot_explain(cw_rot *r, cw_rot_stage stage, size_t variety, cw_mixed_why *out)
{
    cw_mixed_linked_explain(r->pair->stage[stage], variety, out);
}

double cw_rot_tie(const cw_rot *r)
{
    return r->pair->tie;
}

double cw_rot_correlation(const cw_rot *r)
{
    return r->pair->correlation;
}

/* A nursery's mean lies above its median where varieties, their seasons and lots differ on the log scale. */
static double mean_hazard(int stage)
{
    return usual_hazard[stage] * exp((VARIETY_SD * VARIETY_SD + CELL_SD * CELL_SD + LOT_SD * LOT_SD) / 2);
}

double cw_rot_lost(double times, double weeks)
{
    double hazard = 0;
    for (int k = 0; k < CW_ROT_STAGES; k++)
        hazard += mean_hazard(k);
    return -expm1(-times * hazard * weeks / CW_ROT_STAGES);
}

/* What rotted did so half way, in the mean. */
double cw_rot_expected(const cw_rot_row *row)
{
    double sound = (double)row->inspected - 0.5 * (double)row->rotten;
    return sound * row->weeks * mean_hazard(row->stage);
}

cw_rot_usual cw_rot_usual_winter(const cw_rot *r)
{
    cw_rot_usual out = { 0 };
    word w = word_of(&r->own);
    double all = 0, with = 0, without = 0;
    for (int k = 0; k < CW_ROT_STAGES; k++) {
        const cw_mixed_report *fit = cw_mixed_result(r->fit[k]);
        double usual = usual_hazard[k], times = fit->hyper.intercept - log(usual);
        double share = fmin(0.999, fit->intercept_sd * fit->intercept_sd * w.precision);
        all += usual;
        with += usual * exp(times);
        without += usual * exp((times - share * w.times) / (1 - share));
        out.own_share += usual * share;
    }
    out.own_share /= all;
    out.lost = cw_rot_lost(with / all, r->own.weeks);
    out.without = cw_rot_lost(without / all, r->own.weeks);
    return out;
}
