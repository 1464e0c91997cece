/* SPDX-License-Identifier: MIT */
/* Plants, the first stage: what stands in the field as clumps to come, and what past seasons and this season's walks say of how many
 * get there. */
#include "desk/forecast/forecast_inside.h"

#include "base/grow.h"
#include "model/stand.h"
#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define DIG_BEFORE                                                                                           \
    168 /* days before shipping that digging is half done, where no lot says it (common practice, no source) */
#define DONE_AFTER  14 /* days after the last digging of a row: what was not dug by then is not there */
#define TOO_LATE    56 /* days before shipping: what was never dug by then will not be */
#define LEAST_GROWN 30 /* days from planting to digging, at least */

/* The middle of this season's digging: of what was dug by now; never before tomorrow for what still stands. */
static cw_day dig_day(const cw_forecast_data *d)
{
    const cw_snapshot *s = d->snapshot;
    double sum = 0;
    for (size_t l = 0; l < s->lots; l++)
        sum += (double)(s->lot[l].dug_on - d->ship);
    return s->lots ? d->ship + (cw_day)lround(sum / (double)s->lots) : d->ship - DIG_BEFORE;
}

static double time_share(const cw_snap_planting *p, cw_day dig, cw_day day)
{
    double all = dig - p->planted_on;
    return (double)(day - p->planted_on) / fmax(LEAST_GROWN, all);
}

typedef struct builder {
    cw_forecast_data *d;
    size_t bed_room, row_room;
    bool no_memory;
} builder;

static void add_row(builder *b, size_t variety, int season, double weight, int64_t plants, int64_t lost)
{
    cw_forecast_data *d = b->d;
    if (variety == CW_NONE || plants <= 0 || weight <= 0)
        return;
    if (!cw_grow(&d->establish_row, d->establish_rows, &b->row_room, sizeof *d->establish_row)) {
        b->no_memory = true;
        return;
    }
    lost = lost < 0 ? 0 : lost > plants ? plants : lost;
    d->establish_row[d->establish_rows++] = (cw_establish_row){ (int)variety, season, weight, plants, lost };
}

/* What each walk and each digging says: of so many plants so many were lost since the look before. */
static void teach(builder *b, const cw_snap_planting *p, const cw_stand_event *e, size_t n, cw_day dig)
{
    size_t v = cw_forecast_data_by_id(b->d, p->variety_id);
    int64_t standing = p->plants;
    double seen = 0; /* losses that fall before the last walk */
    for (size_t i = 0; i < n; i++) {
        if (e[i].dug) {
            add_row(b, v, b->d->season, 1 - seen, e[i].clumps + e[i].culled, e[i].culled);
            standing -= e[i].clumps + e[i].culled;
            continue;
        }
        bool done = e[i].alive == 0;
        double now = done ? 1 : cw_establish_weight(time_share(p, dig, e[i].day));
        int64_t left = e[i].alive - e[i].rogued;
        add_row(b, v, b->d->season, now - seen, standing, standing - left);
        standing = left;
        seen = done ? seen : now;
    }
}

/* Does it still stand, as far as anybody wrote down? */
static bool stands(const cw_forecast_data *d, const cw_snap_planting *p, const cw_stand *s)
{
    if (s->standing <= 0)
        return false;
    if (s->last_dug != CW_NO_DAY)
        return d->as_of <= s->last_dug + DONE_AFTER;
    return !p->loose && d->as_of < d->ship - TOO_LATE;
}

static void take_planting(builder *b, const cw_snap_planting *p, cw_stand_event *e, size_t n, cw_day dig)
{
    cw_forecast_data *d = b->d;
    cw_stand s;
    size_t v = cw_forecast_data_by_id(d, p->variety_id);
    cw_stand_sort(e, n);
    cw_stand_play(p->plants, e, n, &s);
    if (n > 0)
        teach(b, p, e, n, dig);
    if (v == CW_NONE || !stands(d, p, &s))
        return;
    if (!cw_grow(&d->bed, d->beds, &b->bed_room, sizeof *d->bed)) {
        b->no_memory = true;
        return;
    }
    double seen = s.walked == CW_NO_DAY ? 0 : cw_establish_weight(time_share(p, dig, s.walked));
    d->bed[d->beds++] = (cw_fd_bed){ v, s.standing, 1 - seen };
}

static void past(builder *b)
{
    const cw_snapshot *s = b->d->snapshot;
    size_t at = 0;
    for (size_t i = 0; i < s->field->past_plantings; i++) {
        const cw_snap_past_planting *p = &s->field->past_planting[i];
        if (p->season < b->d->season)
            add_row(b, cw_forecast_data_by_id_from(b->d, p->variety_id, &at), p->season, 1, p->plants,
                    p->plants - p->clumps);
    }
}

cw_code cw_forecast_field(cw_forecast_data *d, cw_error *err)
{
    const cw_snapshot *s = d->snapshot;
    builder b = { .d = d };
    size_t at = 0;
    cw_stand_event *e = calloc(s->field->events + 1, sizeof *e);
    if (e == NULL)
        return cw_error_memory(err);
    d->dig = dig_day(d);
    past(&b);
    for (size_t i = 0; i < s->field->plantings; i++) {
        size_t n = 0;
        while (at < s->field->events && s->field->event[at].planting_id < s->field->planting[i].id)
            at++;
        for (; at < s->field->events && s->field->event[at].planting_id == s->field->planting[i].id; at++) {
            const cw_snap_field_event *f = &s->field->event[at];
            e[n++] = (cw_stand_event){ .day = f->day,
                                       .dug = f->dug,
                                       .alive = f->dug ? 0 : f->a,
                                       .rogued = f->dug ? 0 : f->b,
                                       .clumps = f->dug ? f->a : 0,
                                       .culled = f->dug ? f->b : 0,
                                       .id = f->id };
        }
        take_planting(&b, &s->field->planting[i], e, n, d->dig);
    }
    free(e);
    int first = d->season;
    for (size_t i = 0; i < d->establish_rows; i++)
        first = d->establish_row[i].season < first ? d->establish_row[i].season : first;
    for (size_t i = 0; i < d->establish_rows; i++)
        d->establish_row[i].season -= first;
    d->establish_seasons = d->season - first + 1;
    return b.no_memory ? cw_error_memory(err) : CW_OK;
}

/* Plants become clumps on the day of digging, and are cut midway between that and shipping. */
void cw_forecast_bed_stock(const cw_forecast_data *d, size_t bed, cw_stock *out)
{
    cw_day dig = d->dig > d->as_of ? d->dig : d->as_of + 1;
    cw_day cut = dig + (d->ship > dig ? (d->ship - dig) / 2 : 0);
    *out = (cw_stock){ .lot = d->lots + bed,
                       .stage = CW_CLUMP,
                       .count = d->bed[bed].plants,
                       .clump_weeks = (cut - dig) / 7.0,
                       .division_weeks = (d->ship - cut) / 7.0,
                       .to_pa_days = cw_forecast_data_drying(d, d->lots + bed, cut, d->ship) };
}

cw_code cw_forecast_establishment(cw_nursery *n, const cw_forecast *f, cw_go_on go_on, cw_error *err)
{
    cw_forecast *mine = (cw_forecast *)f; /* a cache of what is already decided */
    const cw_forecast_data *d = f->data;
    double share = 0, doubt = 0;
    if (f->establish)
        return CW_OK;
    cw_code code = cw_nursery_number(n, "establishment", &share, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "establishment_doubt", &doubt, err);
    if (code != CW_OK)
        return code;
    return cw_establish_fit(&(cw_establish_data){ .rows = d->establish_row,
                                                  .n_rows = d->establish_rows,
                                                  .varieties = d->varieties,
                                                  .seasons = (size_t)d->establish_seasons,
                                                  .season = d->establish_seasons - 1,
                                                  .share = share,
                                                  .doubt = doubt,
                                                  .go_on = go_on },
                            &mine->establish, err);
}

/* What the stock of the beds is short of, at a node of what is not known of establishment; node -1: on average. */
static void set_missing(const cw_forecast *f, int node)
{
    cw_forecast_data *d = f->data;
    for (size_t k = 0; k < d->beds; k++) {
        double mean = 0, sd = 0, left = 0;
        cw_establish_now(f->establish, d->bed[k].variety, &mean, &sd);
        for (int i = 0; i < CW_ESTABLISH_NODES; i++) {
            double lives = exp(-d->bed[k].weight * exp(mean + sd * cw_establish_node[i]));
            left += node < 0 ? cw_establish_part[i] * lives : i == node ? lives : 0;
        }
        d->stock[d->cohorts + k].missing = 1 - left;
    }
}

void cw_forecast_field_average(const cw_forecast *f)
{
    set_missing(f, -1);
}

/* The law of a variety with plants is a mixture over what is not known of establishment; all share the season, and so the node. */
cw_code cw_forecast_field_laws(cw_forecast *f, const cw_projection_input *in, cw_go_on go_on, cw_error *err)
{
    const cw_forecast_data *d = f->data;
    cw_distribution *laws = calloc((d->beds + 1) * CW_ESTABLISH_NODES, sizeof *laws);
    size_t *of = calloc(d->varieties + 1, sizeof *of), *variety = calloc(d->beds + 1, sizeof *variety), n = 0;
    cw_code code = laws && of && variety ? CW_OK : cw_error_memory(err);
    for (size_t k = 0; code == CW_OK && k < d->beds; k++)
        if (of[d->bed[k].variety] == 0) {
            variety[n] = d->bed[k].variety;
            of[d->bed[k].variety] = ++n;
        }
    for (int node = 0; code == CW_OK && node < CW_ESTABLISH_NODES; node++) {
        cw_projection *p = NULL;
        set_missing(f, node);
        code = cw_projection_new(in, &p, err);
        for (size_t i = 0; code == CW_OK && i < n; i++) {
            cw_projection_variety(p, variety[i], &laws[i * CW_ESTABLISH_NODES + (size_t)node]);
            if (!cw_wanted(go_on))
                code = cw_given_up(err);
        }
        cw_projection_free(p);
    }
    for (size_t i = 0; code == CW_OK && i < n; i++) {
        const cw_distribution *all[CW_ESTABLISH_NODES];
        for (size_t k = 0; k < CW_ESTABLISH_NODES; k++)
            all[k] = &laws[i * CW_ESTABLISH_NODES + k];
        cw_distribution_mix(all, cw_establish_part, CW_ESTABLISH_NODES, &f->law[variety[i]]);
    }
    cw_forecast_field_average(f);
    free(laws);
    free(of);
    free(variety);
    return code;
}

int64_t cw_forecast_plants(const cw_forecast *f, size_t variety, double *share)
{
    const cw_forecast_data *d = f->data;
    int64_t plants = 0;
    double left = 0;
    for (size_t k = 0; k < d->beds; k++) {
        if (d->bed[k].variety != variety)
            continue;
        plants += d->bed[k].plants;
        left += (double)d->bed[k].plants * (1 - d->stock[d->cohorts + k].missing);
    }
    *share = plants ? left / (double)plants : 0;
    return plants;
}
