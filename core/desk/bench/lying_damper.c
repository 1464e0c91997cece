/* SPDX-License-Identifier: MIT */
#include "desk/bench/lying_inside.h"

#include "base/parallel.h"
#include "base/text.h"
#include "desk/bench/lying.h"
#include "model/air.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST_POINTS 20

static const cw_column damper_columns[] = {
    { "room", CW_TEXT_T },
    { "points", CW_REAL_T, 1 },
    { "temp_c", CW_REAL_T, 1 },
    { "rh", CW_REAL_T, 1 },
    { "vpd_pa", CW_REAL_T, 1 },
    { "vpd_then", CW_REAL_T, 1 },
    { "sound", CW_REAL_T, 1, .says = "Expected on the shipping day of the room's lots, as it is." },
    { "saved", CW_REAL_T, 1, .says = "How many more there would be; below 0: fewer." },
};
const cw_shape cw_lying_damper_shape = CW_ROWS(damper_columns);

cw_room_air cw_lying_air(const cw_forecast_data *d, size_t room)
{
    const cw_snapshot *s = d->snapshot;
    cw_instant last = CW_NO_INSTANT;
    double temp = 0, rh = 0, n = 0;
    for (size_t i = 0; i < s->airs; i++) /* by room, instant */
        if (s->air[i].room == room)
            last = s->air[i].at;
    for (size_t i = 0; i < s->airs; i++)
        if (s->air[i].room == room && s->air[i].at >= last - CW_AIR_RECENT_DAYS * CW_DAY_MS) {
            temp += s->air[i].temp_c;
            rh += s->air[i].rh;
            n++;
        }
    return (cw_room_air){ n > 0 ? temp / n : 0, n > 0 ? rh / n : 0, cw_air_recent_pa(d->room[room]) };
}

typedef struct damping {
    const cw_forecast_data *d;
    const cw_projection *at[2]; /* as it is, and damper */
    size_t room;
    double *mean; /* [2 * lots] */
    cw_go_on go_on;
} damping;

static void project_lot(void *context, unsigned worker, size_t i)
{
    damping *w = context;
    cw_distribution law;
    size_t lot = i / 2;
    (void)worker;
    if (w->d->lot_room[lot] != w->room || w->d->lot_variety[lot] == CW_NONE || !cw_wanted(w->go_on))
        return;
    cw_projection_lot(w->at[i % 2], lot, &law);
    w->mean[i] = law.mean;
}

/* The room's lots dry by so much less a day, from today on. */
static void damp(const cw_forecast_data *d, size_t room, double less, cw_stock *stock)
{
    for (size_t i = 0; i < d->cohorts; i++) {
        const cw_fd_cohort *c = &d->cohort[i];
        stock[i] = d->stock[i];
        if (d->lot_room[c->lot] != room)
            continue;
        cw_day from = c->stage == CW_CLUMP ? d->divide : c->sound > d->as_of ? c->sound : d->as_of;
        double days = d->ship > from ? (double)(d->ship - from) : 0;
        stock[i].to_pa_days = fmax(stock[i].from_pa_days, stock[i].to_pa_days - less * days);
    }
}

static cw_code project(const cw_forecast *f, const cw_stock *stock, cw_projection **out, cw_error *err)
{
    const cw_forecast_data *d = f->data;
    const cw_projection_input in = { .varieties = d->varieties,
                                     .lots = d->lots,
                                     .stocks = d->cohorts,
                                     .lot_variety = d->lot_variety,
                                     .stock = stock,
                                     .weeks_to_ship = (double)(d->ship - d->as_of) / 7.0,
                                     .rate = cw_rate_latent(f->learned.rate),
                                     .clump_rot = cw_rot_latent(f->learned.rot, CW_ROT_CLUMP),
                                     .division_rot = cw_rot_latent(f->learned.rot, CW_ROT_DIVISION),
                                     .dead = cw_rate_dead(f->learned.rate),
                                     .rot_tie = cw_rot_tie(f->learned.rot),
                                     .shrink = f->learned.shrink };
    return cw_projection_new(&in, out, err);
}

static cw_code saved(const cw_forecast *f, size_t room, double less, cw_go_on go_on, double *sound,
                     double *more, cw_error *err)
{
    const cw_forecast_data *d = f->data;
    cw_projection *other = NULL;
    cw_stock *stock = calloc(d->cohorts + 1, sizeof *stock);
    damping w = { .d = d, .at = { f->projection }, .room = room, .go_on = go_on };
    w.mean = calloc(2 * d->lots + 1, sizeof *w.mean);
    cw_code code = stock && w.mean ? CW_OK : cw_error_memory(err);
    if (code == CW_OK) {
        damp(d, room, less, stock);
        code = project(f, stock, &other, err);
    }
    if (code == CW_OK) {
        w.at[1] = other;
        cw_parallel_for(0, 2 * d->lots, project_lot, &w);
        code = cw_wanted(go_on) ? CW_OK : cw_given_up(err);
    }
    for (size_t l = 0; code == CW_OK && l < d->lots; l++) {
        *sound += w.mean[2 * l];
        *more += w.mean[2 * l + 1] - w.mean[2 * l];
    }
    cw_projection_free(other);
    free(stock);
    free(w.mean);
    return code;
}

cw_code cw_lying_damper(cw_nursery *n, const cw_asker *who, const char *room, double points, cw_table *out,
                        cw_error *err)
{
    const cw_forecast *f = NULL;
    char shown[80];
    size_t r = 0;
    double sound = 0, more = 0;
    cw_table_init(out, damper_columns, CW_WIDTH(damper_columns));
    if (!(fabs(points) <= MOST_POINTS))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "points", "must lie between -%d and %d: %g", MOST_POINTS,
                           MOST_POINTS, points);
    cw_code code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &f, err);
    if (code != CW_OK)
        return code;
    const cw_snapshot *s = f->data->snapshot;
    while (r < s->rooms && strcmp(s->room[r], room) != 0)
        r++;
    if (r == s->rooms)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "room", "there are no readings of a room %s",
                           cw_shown(room, strlen(room), shown));
    cw_room_air air = cw_lying_air(f->data, r);
    double then = fmax(0, air.vpd - points / 100 * cw_air_saturation_pa(air.temp_c));
    code = saved(f, r, air.vpd - then, cw_asker_go_on(who), &sound, &more, err);
    cw_put_text(out, room);
    cw_put_real(out, points);
    cw_put_real(out, air.temp_c);
    cw_put_real(out, air.rh);
    cw_put_real(out, air.vpd);
    cw_put_real(out, then);
    cw_put_real(out, sound);
    cw_put_real(out, more);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
