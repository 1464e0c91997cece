/* SPDX-License-Identifier: MIT */
#include "desk/forecast/refining.h"

#include "desk/forecast/forecast_inside.h"
#include "desk/forecast/refining_inside.h"
#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct cw_whole {
    atomic_uint holders;
    cw_refine_want of;
    cw_learned learned; /* only ever read: its parts are held by whoever projects from them */
};

struct cw_refined {
    pthread_mutex_t lock;
    cw_whole *kept[CW_REFINE_MOST]; /* newest first */
    _Atomic int64_t figures;
};

static bool same(const cw_refine_want *a, const cw_refine_want *b)
{
    return a->stock == b->stock && a->ship == b->ship && a->as_of == b->as_of;
}

cw_refined *cw_refined_new(void)
{
    cw_refined *r = calloc(1, sizeof *r);
    if (r)
        pthread_mutex_init(&r->lock, NULL);
    return r;
}

void cw_refined_free(cw_refined *r)
{
    if (r == NULL)
        return;
    for (size_t i = 0; i < CW_REFINE_MOST; i++)
        cw_whole_drop(r->kept[i]);
    pthread_mutex_destroy(&r->lock);
    free(r);
}

void cw_forecast_share(cw_nursery *n, cw_refined *r)
{
    n->refined = r;
    n->figures = r ? &r->figures : NULL;
}

cw_whole *cw_whole_take(cw_refined *r, const cw_refine_want *want)
{
    cw_whole *found = NULL;
    if (r == NULL)
        return NULL;
    pthread_mutex_lock(&r->lock);
    for (size_t i = 0; i < CW_REFINE_MOST && found == NULL; i++)
        if (r->kept[i] && same(&r->kept[i]->of, want))
            found = r->kept[i];
    if (found)
        atomic_fetch_add(&found->holders, 1);
    pthread_mutex_unlock(&r->lock);
    return found;
}

const cw_learned *cw_whole_learned(const cw_whole *w)
{
    return &w->learned;
}

void cw_whole_drop(cw_whole *w)
{
    if (w == NULL || atomic_fetch_sub(&w->holders, 1) > 1)
        return;
    cw_learned_free(&w->learned);
    free(w);
}

/* To the front; what is of another stock is asked for no more. */
static void keep(cw_refined *r, cw_whole *w)
{
    cw_whole *were[CW_REFINE_MOST];
    size_t n = 1;
    pthread_mutex_lock(&r->lock);
    memcpy(were, r->kept, sizeof were);
    memset(r->kept, 0, sizeof r->kept);
    r->kept[0] = w;
    for (size_t i = 0; i < CW_REFINE_MOST && n < CW_REFINE_MOST; i++)
        if (were[i] && were[i]->of.stock == w->of.stock) {
            r->kept[n++] = were[i];
            were[i] = NULL;
        }
    pthread_mutex_unlock(&r->lock);
    for (size_t i = 0; i < CW_REFINE_MOST; i++)
        cw_whole_drop(were[i]);
}

static cw_refine_want key_of(const cw_forecast *f)
{
    return (cw_refine_want){ f->stock_revision, f->data->ship, f->data->as_of };
}

static bool has(cw_refined *r, const cw_refine_want *want)
{
    cw_whole *w = cw_whole_take(r, want);
    cw_whole_drop(w);
    return w != NULL;
}

void cw_forecast_take_refined(cw_nursery *n)
{
    size_t kept = 0;
    for (size_t i = 0; n->refined && n->cache && i < CW_FORECASTS; i++) {
        cw_forecast *f = n->cache->kept[i];
        n->cache->kept[i] = NULL;
        if (f == NULL)
            continue;
        const cw_refine_want key = key_of(f);
        if (f->whole || !has(n->refined, &key)) {
            n->cache->kept[kept++] = f;
            continue;
        }
        cw_forecast_free(f);
        cw_nursery_drop_derived(n);
    }
}

size_t cw_forecast_near(const cw_nursery *n, cw_refine_want out[CW_REFINE_MOST])
{
    size_t count = 0;
    for (size_t i = 0; n->refined && n->cache && i < CW_FORECASTS && count < CW_REFINE_MOST; i++) {
        const cw_forecast *f = n->cache->kept[i];
        if (f == NULL || f->whole || f->stock_revision != n->cache->kept[0]->stock_revision)
            continue; /* of a former stock: kept for what it lends only */
        out[count] = key_of(f);
        count += !has(n->refined, &out[count]);
    }
    return count;
}

cw_code cw_forecast_refine(cw_nursery *n, const cw_asker *who, const cw_refine_want *want, bool *learned,
                           cw_error *err)
{
    cw_revision now;
    cw_learned of = { 0 };
    *learned = false;
    cw_code code = cw_nursery_revision(n, &now, err);
    if (code != CW_OK || now.stock != want->stock || has(n->refined, want))
        return code;
    cw_refine_want is = *want;
    code = cw_forecast_learn_whole(n, who, want->ship, want->as_of, &is.stock, &of, err);
    if (code != CW_OK)
        return code;
    cw_whole *w = calloc(1, sizeof *w);
    if (w == NULL) {
        cw_learned_free(&of);
        return cw_error_memory(err);
    }
    atomic_init(&w->holders, 1);
    w->of = is;
    w->learned = of;
    keep(n->refined, w);
    atomic_fetch_add(&n->refined->figures, 1); /* after it is there: who sees the number finds it */
    *learned = true;
    return CW_OK;
}
