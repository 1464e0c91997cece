/* SPDX-License-Identifier: MIT */
#include "desk/forecast/forecast.h"

#include "desk/forecast/forecast_inside.h"
#include "desk/forecast/refining_inside.h"
#include "store/naming.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define STEPS 3 /* of making a forecast: ledger, fits, projection */
#define KEPT  CW_FORECASTS

void cw_forecast_free(cw_forecast *f)
{
    if (f == NULL)
        return;
    cw_joint_free(f->joint);
    cw_joint_free(f->joint_before);
    free(f->kept);
    cw_projection_free(f->projection);
    free(f->law);
    cw_establish_free(f->establish);
    cw_learned_free(&f->learned);
    cw_forecast_data_free(f->data);
    free(f);
}

void cw_forecast_cache_free(struct cw_forecast_cache *c)
{
    for (size_t i = 0; c && i < KEPT; i++)
        cw_forecast_free(c->kept[i]);
    free(c);
}

cw_code cw_forecast_apart(cw_nursery *n, struct cw_forecast_cache **had, cw_error *err)
{
    struct cw_forecast_cache *own = calloc(1, sizeof *own);
    if (own == NULL)
        return cw_error_memory(err);
    own->apart = true;
    *had = n->cache;
    n->cache = own;
    n->cache_free = cw_forecast_cache_free;
    return CW_OK;
}

void cw_forecast_together(cw_nursery *n, struct cw_forecast_cache *had)
{
    cw_forecast_cache_free(n->cache);
    n->cache = had;
}

/* One figure alone is the middle of a range. */
cw_rate_own cw_forecast_own(const cw_snap_variety *v)
{
    static const double apart = 1.5;
    if (v->own_low > 0 && v->own_high > 0)
        return (cw_rate_own){ fmin(v->own_low, v->own_high), fmax(v->own_low, v->own_high) };
    double middle = v->own_low > 0 ? v->own_low : v->own_high;
    return (cw_rate_own){ middle / apart, middle * apart };
}

/* `threads` 0: one for each processor. */
static cw_code learn(const cw_forecast_data *d, const cw_learned *before, unsigned threads, cw_go_on go_on,
                     cw_learned *out, cw_error *err)
{
    cw_rate_own *own = calloc(d->varieties + 1, sizeof *own);
    if (own == NULL)
        return cw_error_memory(err);
    for (size_t v = 0; v < d->varieties; v++)
        own[v] = cw_forecast_own(&d->snapshot->variety[v]);
    size_t seasons = (size_t)(d->season - d->first_season + 1);
    cw_lessons from = { .rate = { .rows = d->rate_row,
                                  .n_rows = d->rate_rows,
                                  .varieties = d->varieties,
                                  .seasons = seasons,
                                  .forms = d->forms,
                                  .sizes = d->sizes,
                                  .season = d->season - d->first_season,
                                  .form = d->form,
                                  .size = d->size,
                                  .lots = d->all_lots,
                                  .cut = d->rate_cut,
                                  .best_first = d->best_first,
                                  .own = own,
                                  .whole = d->whole,
                                  .threads = threads,
                                  .go_on = go_on },
                        .rot = { .rows = d->rot_row,
                                 .n_rows = d->rot_rows,
                                 .varieties = d->varieties,
                                 .seasons = seasons,
                                 .season = d->season - d->first_season,
                                 .lots = d->all_lots,
                                 .look = d->rot_look,
                                 .lot_room = d->lot_place,
                                 .threads = threads,
                                 .go_on = go_on,
                                 .own = d->rot_own },
                        .weighing = d->weighing,
                        .weighings = d->weighings,
                        .crates = d->snapshot->samples + d->snapshot->past->samples,
                        .check = d->shrivel_check,
                        .checks = d->shrivel_checks,
                        .lots = d->all_lots + d->snapshot->past->lots,
                        .threads = threads };
    cw_code code = cw_learn(&from, before, out, err);
    free(own);
    return code;
}

/* The draws that `before` has, or would have begun from, are f's to begin from: nobody asks `before` any more. */
static void take_draws(cw_forecast *f, cw_forecast *before)
{
    if (before == NULL)
        return;
    for (size_t v = 0; before->joint == NULL && v < f->data->varieties; v++)
        f->kept[v] = f->kept[v] && before->kept[v];
    f->joint_before = before->joint ? before->joint : before->joint_before;
    before->joint_before = before->joint ? before->joint_before : NULL;
    before->joint = NULL;
}

static cw_code project(cw_nursery *n, cw_forecast *f, cw_forecast *before, cw_go_on go_on, cw_error *err)
{
    const cw_forecast_data *d = f->data;
    cw_projection_input in = { .varieties = d->varieties,
                               .lots = d->all_lots,
                               .stocks = d->cohorts + d->beds,
                               .lot_variety = d->lot_variety,
                               .stock = d->stock,
                               .weeks_to_ship = (double)(d->ship - d->as_of) / 7.0,
                               .rate = cw_rate_latent(f->learned.rate),
                               .clump_rot = cw_rot_latent(f->learned.rot, CW_ROT_CLUMP),
                               .division_rot = cw_rot_latent(f->learned.rot, CW_ROT_DIVISION),
                               .dead = cw_rate_dead(f->learned.rate),
                               .rot_tie = cw_rot_tie(f->learned.rot),
                               .shrink = f->learned.shrink };
    f->law = malloc((d->varieties + 1) * sizeof *f->law); /* all of it is filled below */
    f->kept = calloc(d->varieties + 1, sizeof *f->kept);
    if (f->law == NULL || f->kept == NULL)
        return cw_error_memory(err);
    if (d->beds > 0 || (before != NULL && before->data->varieties != d->varieties))
        before = NULL; /* laws of plants are mixed: none is kept */
    cw_code code = d->beds ? cw_forecast_establishment(n, f, go_on, err) : CW_OK;
    if (code == CW_OK && d->beds)
        cw_forecast_field_average(f);
    if (code == CW_OK)
        code = cw_projection_new(&in, &f->projection, err);
    if (code == CW_OK && !cw_projection_all_after(f->projection, before ? before->projection : NULL,
                                                  before ? before->law : NULL, 0, go_on, f->law, f->kept))
        code = cw_given_up(err);
    if (code == CW_OK)
        take_draws(f, before);
    if (code == CW_OK && d->beds)
        code = cw_forecast_field_laws(f, &in, go_on, err);
    return code;
}

/* What a forecast of that day may begin from. Where nobody works it out whole afterwards (refining.h) only one of the same
 * day may lend: then a verb, which asks once, says of each day what it says alone. */
static cw_forecast *lender(const cw_nursery *n, cw_day as_of)
{
    cw_forecast *f = n->cache->kept[0];
    return f && (n->refined || n->cache->apart || f->data->as_of == as_of) ? f : NULL;
}

static cw_code make(cw_nursery *n, const cw_asker *who, cw_day ship, cw_day as_of, cw_forecast **out,
                    cw_error *err)
{
    cw_forecast *f = calloc(1, sizeof *f);
    if (f == NULL)
        return cw_error_memory(err);
    cw_go_on go_on = cw_asker_go_on(who);
    cw_forecast *before = lender(n, as_of);
    cw_whole *whole = NULL;
    cw_code code = cw_asker_tell(who, "replaying the ledger", 0, STEPS, err);
    if (code == CW_OK)
        code = cw_forecast_data_load(n, as_of, ship, &f->data, err);
    if (code == CW_OK)
        f->stock_revision = f->data->snapshot->stock_revision;
    if (code == CW_OK)
        code = cw_asker_tell(who, "fitting the models", 1, STEPS, err);
    if (code == CW_OK)
        whole = cw_whole_take(n->refined, &(cw_refine_want){ f->stock_revision, ship, as_of });
    before = whole ? NULL : before;
    f->whole = before == NULL;
    if (code == CW_OK)
        code = learn(f->data,
                     whole    ? cw_whole_learned(whole)
                     : before ? &before->learned
                              : NULL,
                     0, go_on, &f->learned, err);
    cw_whole_drop(whole);
    if (code == CW_OK)
        code = cw_asker_tell(who, "projecting", 2, STEPS, err);
    if (code == CW_OK)
        code =
            project(n, f, before && before->stock_revision != f->stock_revision ? before : NULL, go_on, err);
    if (code != CW_OK) {
        cw_forecast_free(f);
        return code;
    }
    *out = f;
    return CW_OK;
}

cw_code cw_forecast_learn_whole(cw_nursery *n, const cw_asker *who, cw_day ship, cw_day as_of,
                                int64_t *stock_revision, cw_learned *out, cw_error *err)
{
    cw_forecast_data *d = NULL;
    *out = (cw_learned){ 0 };
    cw_code code = cw_forecast_data_load(n, as_of, ship, &d, err);
    if (code != CW_OK)
        return code;
    *stock_revision = d->snapshot->stock_revision;
    code = learn(d, NULL, 1, cw_asker_go_on(who), out, err);
    cw_forecast_data_free(d);
    return code;
}

/* The kept forecast for these days and this revision, moved to the front; NULL if there is none. */
static cw_forecast *recall(struct cw_forecast_cache *c, cw_day ship, cw_day as_of, int64_t revision)
{
    for (size_t i = 0; i < KEPT; i++) {
        cw_forecast *f = c->kept[i];
        if (f == NULL || f->stock_revision != revision || f->data->ship != ship || f->data->as_of != as_of)
            continue;
        memmove(c->kept + 1, c->kept, i * sizeof c->kept[0]);
        c->kept[0] = f;
        return f;
    }
    return NULL;
}

/* To the front. Those of another revision are asked for no more; but the last one asked for may still be looked at. */
static void keep(struct cw_forecast_cache *c, cw_forecast *f)
{
    size_t kept = 0;
    for (size_t i = 0; i < KEPT; i++) {
        if (c->kept[i] && ((i > 0 && c->kept[i]->stock_revision != f->stock_revision) || kept == KEPT - 1))
            cw_forecast_free(c->kept[i]);
        else if (c->kept[i])
            c->kept[kept++] = c->kept[i];
    }
    memmove(c->kept + 1, c->kept, kept * sizeof c->kept[0]);
    memset(c->kept + kept + 1, 0, (KEPT - kept - 1) * sizeof c->kept[0]);
    c->kept[0] = f;
}

cw_code cw_forecast_get(cw_nursery *n, const cw_asker *who, cw_day ship, cw_day as_of,
                        const cw_forecast **out, cw_error *err)
{
    cw_revision now;
    as_of = as_of == CW_NO_DAY ? who->today : as_of;
    cw_code code = cw_nursery_revision(n, &now, err);
    if (code == CW_OK && ship == CW_NO_DAY)
        code = cw_season_look(n, err);
    if (code != CW_OK)
        return code;
    ship = ship == CW_NO_DAY ? n->season.ship : ship;
    n->cache_free = cw_forecast_cache_free;
    if (n->cache == NULL && (n->cache = calloc(1, sizeof *n->cache)) == NULL)
        return cw_error_memory(err);
    cw_forecast *f = recall(n->cache, ship, as_of, now.stock);
    if (f) {
        code = f->data->snapshot->trade_revision == now.trade
                   ? CW_OK
                   : cw_snapshot_refresh(n->db, f->data->snapshot, err);
        f->data->snapshot->trade_revision = code == CW_OK ? now.trade : -1;
    } else {
        code = make(n, who, ship, as_of, &f, err);
        if (code == CW_OK) {
            keep(n->cache, f);
        }
    }
    *out = f;
    return code;
}

void cw_forecast_saleable(const cw_forecast *f, size_t variety, cw_distribution *out)
{
    const cw_snap_variety *v = &f->data->snapshot->variety[variety];
    cw_distribution_less(&f->law[variety], v->hold_back + v->reserve, out);
}

cw_code cw_forecast_joint(const cw_forecast *f, cw_go_on go_on, const cw_joint **out, cw_error *err)
{
    cw_forecast *mine = (cw_forecast *)f; /* the draws are a cache of what is already decided */
    cw_code code = CW_OK;
    if (mine->joint == NULL)
        code = cw_joint_new_after(f->projection, f->law, f->joint_before, f->kept, CW_JOINT_DRAWS, 0, go_on,
                                  &mine->joint, err);
    cw_joint_free(mine->joint_before); /* used up */
    mine->joint_before = NULL;
    *out = mine->joint;
    return code;
}

cw_code cw_forecast_supply(cw_nursery *n, const cw_asker *who, double confidence, const int64_t *variety_ids,
                           size_t count, int64_t *supply, cw_error *err)
{
    const cw_forecast *f = NULL;
    cw_code code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &f, err);
    for (size_t i = 0; code == CW_OK && i < count; i++) {
        size_t v = cw_forecast_data_by_id(f->data, variety_ids[i]);
        supply[i] = v == CW_NONE ? 0 : cw_quantity_at(&f->law[v], confidence);
    }
    return code;
}

const cw_column cw_project_columns[CW_PROJECT_COLUMNS] = {
    { "variety", CW_TEXT_T },     { "clumps", CW_INT_T },       { "divisions", CW_INT_T },
    { "expected", CW_REAL_T, 1 }, { "p05", CW_INT_T },          { "p10", CW_INT_T },
    { "p25", CW_INT_T },          { "p50", CW_INT_T },          { "p75", CW_INT_T },
    { "p90", CW_INT_T },          { "p95", CW_INT_T },          { "hold_back", CW_INT_T },
    { "reserve", CW_INT_T },      { "saleable_p10", CW_INT_T }, { "saleable_p50", CW_INT_T },
};

const cw_shape cw_forecast_project_shape = CW_ROWS(cw_project_columns);

static int64_t above(int64_t v, int64_t less)
{
    return v > less ? v - less : 0;
}

static void project_row(const cw_forecast *f, size_t v, cw_table *out)
{
    static const double levels[] = { 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95 };
    const cw_snap_variety *s = &f->data->snapshot->variety[v];
    const cw_distribution *law = &f->law[v];
    int64_t withheld = s->hold_back + s->reserve;
    cw_put_text(out, s->code);
    cw_put_int(out, f->data->clumps[v]);
    cw_put_int(out, f->data->divisions[v]);
    cw_put_real(out, law->mean);
    for (size_t q = 0; q < sizeof levels / sizeof levels[0]; q++)
        cw_put_int(out, cw_distribution_quantile(law, levels[q]));
    cw_put_int(out, s->hold_back);
    cw_put_int(out, s->reserve);
    cw_put_int(out, above(cw_distribution_quantile(law, 0.10), withheld));
    cw_put_int(out, above(cw_distribution_quantile(law, 0.50), withheld));
}

/* The forecast asked for, and the variety named (CW_NONE for all). */
cw_code cw_forecast_asked(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask,
                          const cw_forecast **f, size_t *variety, cw_error *err)
{
    *variety = CW_NONE;
    cw_code code = cw_forecast_get(n, who, ask->ship, ask->as_of, f, err);
    if (code != CW_OK || ask->variety == NULL)
        return code;
    *variety = cw_forecast_data_by_code((*f)->data, ask->variety);
    if (*variety == CW_NONE) { /* by a former code? */
        cw_named_variety v = { 0 };
        bool found = false;
        code = cw_naming_variety(n->db, ask->variety, &found, &v, err);
        if (code != CW_OK)
            return code;
        if (found)
            *variety = cw_forecast_data_by_code((*f)->data, v.code);
    }
    if (*variety == CW_NONE) {
        char shown[80];
        return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s",
                            cw_shown(ask->variety, strlen(ask->variety), shown));
    }
    return CW_OK;
}

cw_code cw_forecast_project(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, cw_table *out,
                            cw_text *notes, cw_error *err)
{
    const cw_forecast *f = NULL;
    size_t one = CW_NONE;
    cw_table_init(out, cw_project_columns, CW_PROJECT_COLUMNS);
    cw_code code = cw_forecast_asked(n, who, ask, &f, &one, err);
    if (code != CW_OK)
        return code;
    for (size_t v = 0; v < f->data->varieties; v++)
        if (one == CW_NONE || v == one)
            project_row(f, v, out);
    if (notes)
        cw_forecast_notes(f, notes);
    code = cw_table_check(out, err);
    return code == CW_OK && notes ? cw_text_check(notes, err) : code;
}

cw_code cw_forecast_at_least(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, int64_t quantity,
                             double *chance, cw_error *err)
{
    const cw_forecast *f = NULL;
    size_t v = CW_NONE;
    cw_code code = cw_forecast_asked(n, who, ask, &f, &v, err);
    if (code == CW_OK && v == CW_NONE)
        return cw_error_set(err, CW_USAGE, "name one variety for the chance of a quantity");
    if (code == CW_OK) {
        cw_distribution saleable;
        cw_forecast_saleable(f, v, &saleable);
        *chance = cw_distribution_at_least(&saleable, quantity);
    }
    return code;
}
