/* SPDX-License-Identifier: MIT */
#include "model/measure_inside.h"

#include "model/linear.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define LEAST_WORTH 1e-9

static const int64_t sizes[] = { 5, 10, 20, 40 }; /* how many are looked at: as many as there are, if fewer */
#define SIZES (sizeof sizes / sizeof sizes[0])

/* One lot's things of one stage, as a look would find them. */
typedef struct crate {
    size_t lot, variety;
    int side;
    int64_t there;
    double weeks, rot; /* means over its things */
    double each;       /* information of one */
    bool taken;
} crate;

typedef struct rota {
    const measuring *w;
    crate *crate;
    size_t crates;
    double *told[LATENT_SIDES];  /* [varieties] precision of the looks so far */
    double *left;                /* [varieties] variance of S that is left */
    double common[LATENT_SIDES]; /* share of what is not known in common that is left */
} rota;

static double hazard_of(const measuring *w, int k, size_t variety)
{
    return exp(w->side[k].known->point[w->side[k].top].mean[variety]);
}

static void gather(rota *r, const cohorts *c, size_t variety, const cw_rota_ask *ask)
{
    const measuring *w = r->w;
    for (size_t i = 0; i < c->n; i++) {
        const cw_stock *s = &c->at[i];
        int k = s->stage == CW_CLUMP ? CLUMP_ROT : DIVISION_ROT;
        double weeks = s->clump_weeks + s->division_weeks - w->p->in.weeks_to_ship; /* up to today */
        if (w->side[k].known == NULL || weeks <= 0 || s->count <= 0 || (ask->passed && ask->passed[s->lot]))
            continue;
        crate *last = r->crates ? &r->crate[r->crates - 1] : NULL;
        if (last == NULL || last->lot != s->lot || last->side != k) {
            last = &r->crate[r->crates++];
            *last = (crate){ .lot = s->lot, .variety = variety, .side = k };
        }
        double risk = hazard_of(w, k, variety) * weeks, rot = -expm1(-risk), n = (double)s->count;
        double all = (double)(last->there + s->count), old = (double)last->there / all, new = n / all;
        last->there += s->count;
        last->weeks = old * last->weeks + new *weeks;
        last->rot = old * last->rot + new *rot;
        last->each = old * last->each + new *(rot > 0 ? risk * risk * (1 - rot) / rot : 0);
    }
}

/* What `n` things of a crate would save on top of what is told, and the precision that they add. */
static double worth_of(const rota *r, const crate *c, int64_t n, double *adds)
{
    const measuring *w = r->w;
    const field *f = &w->side[c->side];
    double lot = f->known->point[f->top].lot_sd, var = f->variance[c->variety], slope = f->slope[c->variety];
    double told = r->told[c->side][c->variety], information = (double)n * c->each;
    *adds = information > 0 ? 1 / (lot * lot + 1 / information) : 0;
    double before = told / (1 + var * told), after = (told + *adds) / (1 + var * (told + *adds));
    double share = after - before; /* of 1 / noise, noise = var + 1 / precision */
    double left = r->left[c->variety], own = fmin(left, slope * slope * var * var * share);
    return w->loss[c->variety] * (sqrt(left) - sqrt(left - own)) +
           r->common[c->side] * cw_measure_elsewhere(w, c->side, c->variety) * share;
}

static void take(rota *r, crate *c, double adds)
{
    const field *f = &r->w->side[c->side];
    double var = f->variance[c->variety], slope = f->slope[c->variety];
    double *told = &r->told[c->side][c->variety], *left = &r->left[c->variety];
    const double *row = f->row + c->variety * f->factors;
    double share = (*told + adds) / (1 + var * (*told + adds)) - *told / (1 + var * *told);
    *left = fmax(0, *left - slope * slope * var * var * share);
    r->common[c->side] *= fmax(0, 1 - cw_dot(row, row, f->factors) * share);
    *told += adds;
    c->taken = true;
}

/* The look that is worth most a minute and fits; false if there is none. */
static bool next_look(rota *r, const cw_rota_ask *ask, double minutes, cw_rota_look *out)
{
    crate *best = NULL;
    double rate = 0, best_adds = 0;
    for (size_t i = 0; i < r->crates; i++) {
        crate *c = &r->crate[i];
        for (size_t k = 0; k < SIZES && !c->taken; k++) {
            int64_t n = c->there < sizes[k] ? c->there : sizes[k];
            double adds, worth = worth_of(r, c, n, &adds), takes = ask->open + (double)n * ask->look;
            if (takes <= minutes && worth > LEAST_WORTH && worth > rate * takes) {
                rate = worth / takes;
                best = c;
                best_adds = adds;
                *out = (cw_rota_look){
                    .lot = c->lot,
                    .variety = c->variety,
                    .kind = c->side == CLUMP_ROT ? CW_MEASURE_CLUMPS : CW_MEASURE_DIVISIONS,
                    .there = c->there,
                    .look = n,
                    .weeks = c->weeks,
                    .expect = (double)n * c->rot,
                    .worth = worth,
                    .minutes = takes,
                };
            }
            if (n == c->there)
                break;
        }
    }
    if (best)
        take(r, best, best_adds);
    return best != NULL;
}

static void rota_free(rota *r)
{
    free(r->crate);
    free(r->left);
    for (int k = 0; k < LATENT_SIDES; k++)
        free(r->told[k]);
}

static cw_code rota_new(const measuring *w, const cw_rota_ask *ask, rota *r, cw_error *err)
{
    size_t varieties = w->p->in.varieties;
    *r = (rota){ .w = w };
    r->crate = calloc(2 * w->p->in.stocks + 1, sizeof *r->crate);
    r->left = calloc(varieties + 1, sizeof *r->left);
    bool ok = r->crate != NULL && r->left != NULL;
    for (int k = 0; k < LATENT_SIDES; k++) {
        r->common[k] = 1;
        r->told[k] = calloc(varieties + 1, sizeof *r->told[k]);
        ok = ok && r->told[k] != NULL;
    }
    for (size_t v = 0; ok && v < varieties; v++) {
        cohorts c = cw_projection_cohorts(w->p, v);
        r->left[v] = fmax(0, w->laws[v].variance);
        if (c.n > 0 && r->left[v] > 0)
            gather(r, &c, v, ask);
    }
    return ok ? CW_OK : cw_error_memory(err);
}

cw_code cw_measure_rota(const cw_projection *p, const cw_distribution *laws, const double *loss,
                        const cw_rota_ask *ask, size_t most, cw_rota_look *out, size_t *found, cw_error *err)
{
    measuring w;
    rota r = { 0 };
    double minutes = ask->minutes;
    *found = 0;
    cw_code code = cw_measure_begin(p, laws, loss, &w, err);
    if (code == CW_OK)
        code = rota_new(&w, ask, &r, err);
    while (code == CW_OK && *found < most && next_look(&r, ask, minutes, &out[*found]))
        minutes -= out[(*found)++].minutes;
    rota_free(&r);
    cw_measure_end(&w);
    return code;
}
