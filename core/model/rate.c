/* SPDX-License-Identifier: MIT */
#include "model/rate.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

struct cw_rate {
    cw_mixed *fit;
    size_t varieties;
    cw_mixed_own *own; /* [varieties] */
    int64_t *sums;     /* [4 varieties]: past clumps and divisions, then this season's */
    double *dead;      /* [lots], or NULL */
};

/* Prior medians of the sds, on the log scale (common practice, no source); each within a factor of about 4 either way
 * with 95 %. */
static cw_mixed_settings settings_of(const cw_rate_data *d)
{
    return (cw_mixed_settings){
        .mode = CW_MIXED_PREDICT,
        .use = { [CW_TERM_FORM] = true,
                 [CW_TERM_SIZE] = true,
                 [CW_TERM_VARIETY] = true,
                 [CW_TERM_SEASON] = true,
                 [CW_TERM_CELL] = true,
                 [CW_TERM_LOT] = true },
        .dispersion = true,
        .sd_median = { [CW_TERM_FORM] = 0.15,
                       [CW_TERM_SIZE] = 0.15,
                       [CW_TERM_VARIETY] = 0.35,
                       [CW_TERM_SEASON] = 0.15,
                       [CW_TERM_CELL] = 0.08,
                       [CW_TERM_LOT] = 0.04 },
        .sd_spread = { [CW_TERM_FORM] = 1,
                       [CW_TERM_SIZE] = 1,
                       [CW_TERM_VARIETY] = 0.75,
                       [CW_TERM_SEASON] = 0.75,
                       [CW_TERM_CELL] = 1,
                       [CW_TERM_LOT] = 1 },
        .sd_limit =
            0.35, /* kinds that differ by far more than 1.4-fold are beyond the trade; data can say otherwise */
        .phi_median = 1,
        .phi_spread = 0.75,
        .intercept_mean = log(CW_RATE_DEFAULT),
        .intercept_sd = 0.28,
        .tilt_mean = { [CW_RATE_ORDER] = d->best_first ? 0.3 : 0 },
        .tilt_scale = { [CW_RATE_ORDER] = 0.05, [CW_RATE_FIRST] = CW_RATE_FIRST_SCALE / CW_RATE_FIRST_UNIT },
        .drift_median = 0.15,
        .drift_spread = 1,
        .season = d->season,
        .threads = d->threads,
        .go_on = d->go_on,
    };
}

/* Half a range that is 8 in 10 sure, in standard deviations; and how much wider it is read. */
#define HALF_RANGE 1.2816
#define OVERSURE   1.5
#define LEAST_OWN  0.05
#define MOST_OWN   1000.0

static void take_own(cw_rate *r, const cw_rate_data *d)
{
    for (size_t v = 0; d->own != NULL && v < d->varieties; v++) {
        const cw_rate_own *o = &d->own[v];
        if (!(o->low >= LEAST_OWN) || !(o->high >= o->low) || !(o->high <= MOST_OWN))
            continue; /* nothing, or no figure of a nursery's */
        double sd = fmax(OVERSURE * log(o->high / o->low) / (2 * HALF_RANGE), CW_RATE_OWN_SD);
        r->own[v] = (cw_mixed_own){ 0.5 * log(o->low * o->high), 1 / (sd * sd) };
    }
}

static void sum_rows(cw_rate *r, const cw_rate_data *d)
{
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rate_row *row = &d->rows[i];
        int64_t *to = r->sums + 4 * (size_t)row->variety + (row->season == d->season ? 2 : 0);
        to[0] += row->clumps;
        to[1] += row->divisions;
    }
}

/* Share of each variety's clumps of this season that is cut, in the tilt's unit; rows that cannot be are the fit's to refuse. */
static void cut_shares(const cw_rate_data *d, double *share)
{
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rate_row *row = &d->rows[i];
        if (row->season == d->season && row->variety >= 0 && (size_t)row->variety < d->varieties)
            share[row->variety] += (double)row->clumps;
    }
    for (size_t v = 0; v < d->varieties; v++)
        share[v] =
            share[v] > 0 ? CW_RATE_FIRST_UNIT * share[v] / (share[v] + fmax(0, (double)d->whole[v])) : 0;
}

static void set_tilts(const cw_rate_data *d, const double *share, cw_mixed_tilt *tilt)
{
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rate_row *row = &d->rows[i];
        if (d->cut != NULL && d->cut[i].to > 0) {
            tilt[i].of[0] = CW_RATE_ORDER;
            tilt[i].x[0] = 1 - d->cut[i].from - d->cut[i].to;
        }
        if (row->season == d->season && row->variety >= 0 && (size_t)row->variety < d->varieties &&
            share[row->variety] > 0) {
            tilt[i].of[1] = CW_RATE_FIRST;
            tilt[i].x[1] = share[row->variety];
        }
    }
}

#define DEAD_BEFORE 0.2 /* dead lots of so many: the prior */
#define LOTS_BEFORE 40.0
#define DEAD_LEAST  0.002 /* less is not told apart from a poor lot, and makes no figure another */
#define DEAD_SURE   0.9   /* of a lot that has shown nothing but dead clumps */

static bool in_range(const cw_rate_data *d, int variety)
{
    return variety >= 0 && (size_t)variety < d->varieties;
}

/* A lot's rows side by side: by variety, season, lot; those of an unknown lot each for itself. */
typedef struct lot_row {
    int variety, season, lot;
    size_t row;
} lot_row;

static int by_lot(const void *pa, const void *pb)
{
    const lot_row *a = pa, *b = pb;
    if (a->variety != b->variety) /* of rows that cannot be */
        return a->variety < b->variety ? -1 : 1;
    if (a->season != b->season)
        return a->season < b->season ? -1 : 1;
    if (a->lot != b->lot)
        return a->lot < b->lot ? -1 : 1;
    return a->row < b->row ? -1 : a->row > b->row;
}

/* A variety's rows are in order as they come but for few, so each is laid to its variety's, and these are sorted where they are
 * not; behind them all, the rows of no variety. `until` [varieties + 1]. */
static void put_in_order(const cw_rate_data *d, size_t *until, lot_row *order)
{
    size_t n = d->varieties, sum = 0;
    for (size_t i = 0; i < d->n_rows; i++)
        until[in_range(d, d->rows[i].variety) ? (size_t)d->rows[i].variety : n]++;
    for (size_t v = 0; v <= n; v++) {
        size_t here = until[v];
        until[v] = sum;
        sum += here;
    }
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rate_row *r = &d->rows[i];
        order[until[in_range(d, r->variety) ? (size_t)r->variety : n]++] =
            (lot_row){ r->variety, r->season, r->lot, i };
    }
    for (size_t v = 0, from = 0; v <= n; from = until[v++])
        for (size_t i = from + 1; i < until[v]; i++)
            if (by_lot(&order[i - 1], &order[i]) > 0) {
                qsort(order + from, until[v] - from, sizeof *order, by_lot);
                break;
            }
}

/* Divisions a clump of each variety, of its rows that gave any; of all where it has none. */
static void usual_rates(const cw_rate_data *d, double *rate, double *clumps)
{
    double all = 0, all_clumps = 0;
    for (size_t v = 0; v < d->varieties; v++)
        rate[v] = clumps[v] = 0;
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_rate_row *row = &d->rows[i];
        if (row->divisions <= 0 || row->variety < 0 || (size_t)row->variety >= d->varieties)
            continue;
        rate[row->variety] += (double)row->divisions;
        clumps[row->variety] += (double)row->clumps;
        all += (double)row->divisions;
        all_clumps += (double)row->clumps;
    }
    for (size_t v = 0; v < d->varieties; v++)
        rate[v] = clumps[v] > 0 ? rate[v] / clumps[v] : all_clumps > 0 ? all / all_clumps : 0;
}

/* Takes the rows of dead lots out of the fit (exposure 0) and fills `dead`. */
static void find_dead(const cw_rate_data *d, const lot_row *order, const double *rate, cw_mixed_row *rows,
                      double *dead)
{
    double found = DEAD_BEFORE, seen = LOTS_BEFORE;
    for (size_t l = 0; l < d->lots; l++)
        dead[l] = -1;
    for (size_t i = 0, end; i < d->n_rows; i = end) {
        const lot_row *first = &order[i];
        double clumps = 0, divisions = 0;
        for (end = i;
             end < d->n_rows && order[end].variety == first->variety && order[end].season == first->season &&
             order[end].lot == first->lot && (end == i || first->lot >= 0);
             end++) {
            clumps += (double)d->rows[order[end].row].clumps;
            divisions += (double)d->rows[order[end].row].divisions;
        }
        bool telling = in_range(d, first->variety) && clumps * rate[first->variety] >= CW_RATE_CERTAIN;
        bool is_dead = telling && divisions == 0;
        for (size_t k = i; k < end && is_dead; k++)
            rows[order[k].row].exposure = 0;
        found += is_dead;
        seen += telling;
        if (first->season == d->season && first->lot >= 0 && (size_t)first->lot < d->lots && clumps > 0)
            dead[first->lot] = is_dead ? DEAD_SURE : divisions > 0 ? 0 : -1;
    }
    for (size_t l = 0; l < d->lots; l++)
        dead[l] = dead[l] < 0 ? found / seen : dead[l];
}

static cw_code take_dead(cw_rate *r, const cw_rate_data *d, cw_mixed_row *rows, cw_error *err)
{
    lot_row *order = calloc(d->n_rows + 1, sizeof *order);
    double *rate = calloc(2 * d->varieties + 1, sizeof *rate), worst = 0;
    size_t *until = calloc(d->varieties + 1, sizeof *until);
    r->dead = calloc(d->lots + 1, sizeof *r->dead);
    if (order == NULL || rate == NULL || until == NULL || r->dead == NULL) {
        free(until);
        free(order);
        free(rate);
        return cw_error_memory(err);
    }
    put_in_order(d, until, order);
    free(until);
    usual_rates(d, rate, rate + d->varieties);
    find_dead(d, order, rate, rows, r->dead);
    for (size_t l = 0; l < d->lots; l++)
        worst = fmax(worst, r->dead[l]);
    if (worst < DEAD_LEAST) {
        free(r->dead);
        r->dead = NULL;
    }
    free(order);
    free(rate);
    return CW_OK;
}

cw_code cw_rate_fit(const cw_rate_data *data, const cw_rate *before, cw_rate **out, cw_error *err)
{
    cw_code code = CW_OK;
    *out = NULL;
    if (data->season < 0 || (size_t)data->season >= data->seasons)
        return cw_error_set(err, CW_REFUSED, "there is no season number %d", data->season);
    cw_rate *r = calloc(1, sizeof *r);
    cw_mixed_row *rows = calloc(data->n_rows + 1, sizeof *rows);
    cw_mixed_tilt *tilt = calloc(data->n_rows + 1, sizeof *tilt);
    double *share = calloc(data->varieties + 1, sizeof *share);
    if (r == NULL || rows == NULL || tilt == NULL || share == NULL ||
        (r->sums = calloc(4 * data->varieties + 1, sizeof *r->sums)) == NULL ||
        (r->own = calloc(data->varieties + 1, sizeof *r->own)) == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    for (size_t i = 0; i < data->n_rows; i++) {
        const cw_rate_row *row = &data->rows[i];
        rows[i] = (cw_mixed_row){ .variety = row->variety,
                                  .season = row->season,
                                  .lot = row->lot,
                                  .exposure = (double)row->clumps,
                                  .count = (double)row->divisions };
    }
    if (data->whole != NULL)
        cut_shares(data, share);
    set_tilts(data, share, tilt);
    take_own(r, data);
    code = take_dead(r, data, rows, err);
    if (code != CW_OK)
        goto done;
    cw_mixed_settings settings = settings_of(data);
    cw_mixed_data mixed = { .family = CW_MIXED_COUNT,
                            .rows = rows,
                            .n_rows = data->n_rows,
                            .varieties = data->varieties,
                            .seasons = data->seasons,
                            .forms = data->forms,
                            .sizes = data->sizes,
                            .form = data->form,
                            .size = data->size,
                            .lots = data->lots,
                            .tilt = tilt,
                            .own = r->own,
                            .variety_tilt = CW_RATE_FIRST,
                            .variety_x = share };
    code = cw_mixed_refit(&mixed, &settings, before ? before->fit : NULL, &r->fit, err);
    if (code != CW_OK)
        goto done;
    r->varieties = data->varieties;
    sum_rows(r, data);
    *out = r;
    r = NULL;
done:
    free(share);
    free(tilt);
    free(rows);
    cw_rate_free(r);
    return code;
}

void cw_rate_free(cw_rate *r)
{
    if (r == NULL)
        return;
    cw_mixed_free(r->fit);
    free(r->own);
    free(r->sums);
    free(r->dead);
    free(r);
}

const cw_latent *cw_rate_latent(const cw_rate *r)
{
    return cw_mixed_latent(r->fit);
}

const cw_mixed_report *cw_rate_report(const cw_rate *r)
{
    return cw_mixed_result(r->fit);
}

const double *cw_rate_dead(const cw_rate *r)
{
    return r->dead;
}

bool cw_rate_informed(const cw_rate *r)
{
    return cw_mixed_result(r->fit)->rows > 0;
}

void cw_rate_explain(cw_rate *r, size_t variety, cw_rate_why *out)
{
    cw_mixed_why why;
    const int64_t *sums = r->sums + 4 * variety;
    cw_mixed_explain(r->fit, variety, &why);
    *out = (cw_rate_why){ .past_clumps = sums[0],
                          .past_divisions = sums[1],
                          .now_clumps = sums[2],
                          .now_divisions = sums[3],
                          .nursery = why.intercept,
                          .form = why.form,
                          .size = why.size,
                          .history = why.variety,
                          .season = why.season,
                          .own_season = why.cell,
                          .mean = why.mean,
                          .variance = why.variance };
    double share = out->own_share = r->own[variety].weight * why.usual_variance;
    if (share > 0 && share < 1)
        out->without_own = exp((why.usual - share * r->own[variety].mean) / (1 - share));
}
