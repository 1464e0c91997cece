/* SPDX-License-Identifier: MIT */
#include "desk/closing/taught_inside.h"

#include "base/digest.h"
#include "base/grow.h"
#include "store/turning.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const char *const whys[] = { [CW_ROT_DIVIDING] = "dividing",
                                    [CW_ROT_ROUND] = "round",
                                    [CW_ROT_UNTOLD] = "untold",
                                    [CW_ROT_SUSPICION] = "suspicion" };
_Static_assert(sizeof whys / sizeof whys[0] == CW_ROT_WHYS, "a word for each reason to look");

/* Rows of the season that came from lots; a season typed in by sums has none. */
static bool is_of(const cw_forecast_data *d, int season, int row_season, int lot)
{
    bool own = season == d->season;
    return row_season + d->first_season == season && lot >= 0 && own == ((size_t)lot < d->lots);
}

static int by_variety_rate(const void *pa, const void *pb)
{
    const cw_taught_rate *a = pa, *b = pb;
    return (a->variety > b->variety) - (a->variety < b->variety);
}

static int by_variety_rot(const void *pa, const void *pb)
{
    const cw_taught_rot *a = pa, *b = pb;
    return (a->variety > b->variety) - (a->variety < b->variety);
}

/* qsort is not stable, and rows of one variety stay in the order in which they were made. */
static void stable(void *rows, size_t n, size_t size, int (*order)(const void *, const void *), bool *failed)
{
    char *to = malloc(n * size + 1);
    if (to == NULL) {
        *failed = true;
        return;
    }
    for (size_t width = 1; width < n; width *= 2) {
        for (size_t at = 0; at < n; at += 2 * width) {
            size_t a = at, a_end = at + width < n ? at + width : n, b = a_end;
            size_t b_end = at + 2 * width < n ? at + 2 * width : n;
            for (size_t k = at; k < b_end; k++) {
                const char *ra = (char *)rows + a * size, *rb = (char *)rows + b * size;
                bool left = a < a_end && (b >= b_end || order(ra, rb) <= 0);
                memcpy(to + k * size, left ? ra : rb, size);
                a += left;
                b += !left;
            }
        }
        memcpy(rows, to, n * size);
    }
    free(to);
}

static void take_rows(const cw_forecast_data *d, cw_taught *t)
{
    for (size_t i = 0; i < d->rate_rows; i++) {
        const cw_rate_row *r = &d->rate_row[i];
        if (is_of(d, t->season, r->season, r->lot))
            t->rate[t->rates++] = (cw_taught_rate){ (size_t)r->variety, (size_t)r->lot, r->clumps,
                                                    r->divisions, d->rate_cut[i] };
    }
    for (size_t i = 0; i < d->rot_rows; i++) {
        const cw_rot_row *r = &d->rot_row[i];
        if (is_of(d, t->season, r->season, r->lot))
            t->rot[t->rots++] =
                (cw_taught_rot){ (size_t)r->variety, (size_t)r->lot,     r->stage == CW_ROT_DIVISION,
                                 r->weeks,           d->rot_look[i].age, (int)d->rot_look[i].why,
                                 r->inspected,       r->rotten };
    }
}

/* Drying has no season in its rows: this season's lots stand first, and of past ones the snapshot tells. */
static void take_drying(const cw_forecast_data *d, cw_taught *t)
{
    const cw_snapshot *s = d->snapshot;
    if (t->season == d->season) {
        for (size_t i = 0; i < d->shrivel_checks; i++)
            if (d->shrivel_check[i].lot < d->lots)
                t->shrivel[t->shrivels++] = d->shrivel_check[i];
        for (size_t i = 0; i < s->weighings; i++)
            t->weighing[t->weighings++] = d->weighing[i];
        return;
    }
    for (size_t i = 0; i < s->past->shrivels; i++) {
        const cw_snap_past_shrivel *c = &s->past->shrivel[i];
        if (c->season == t->season)
            t->shrivel[t->shrivels++] = (cw_shrivel_check){ (size_t)c->lot, c->from_pa_days, c->to_pa_days,
                                                            c->inspected, c->shrivelled };
    }
    for (size_t i = 0; i < s->past->weighings; i++) {
        const cw_snap_past_weighing *w = &s->past->weighing[i];
        if (w->season == t->season)
            t->weighing[t->weighings++] = (cw_weighing){ w->sample, (size_t)w->lot, w->pa_days, w->kg };
    }
}

cw_code cw_taught_read(const cw_forecast_data *d, int season, cw_taught *out, cw_error *err)
{
    *out = (cw_taught){ .from = d, .season = season };
    out->rate = calloc(d->rate_rows + 1, sizeof *out->rate);
    out->rot = calloc(d->rot_rows + 1, sizeof *out->rot);
    out->shrivel = calloc(d->shrivel_checks + d->snapshot->past->shrivels + 1, sizeof *out->shrivel);
    out->weighing = calloc(d->weighings + d->snapshot->past->weighings + 1, sizeof *out->weighing);
    if (!out->rate || !out->rot || !out->shrivel || !out->weighing)
        return cw_error_memory(err);
    take_rows(d, out);
    take_drying(d, out);
    stable(out->rate, out->rates, sizeof *out->rate, by_variety_rate, &out->failed);
    stable(out->rot, out->rots, sizeof *out->rot, by_variety_rot, &out->failed);
    return out->failed ? cw_error_memory(err) : CW_OK;
}

void cw_taught_free(cw_taught *t)
{
    free(t->rate);
    free(t->rot);
    free(t->shrivel);
    free(t->weighing);
    free(t->sale);
    free(t->order);
    free(t->name);
    *t = (cw_taught){ 0 };
}

/* Orders come by variety and instant: days are summed, and the day is noted on which what was on offer was gone. */
typedef struct asked {
    cw_taught *t;
    const cw_asker *who;
} asked;

static void take_asked(void *context, int64_t variety, cw_instant at, int64_t quantity, int64_t offered)
{
    asked *a = context;
    cw_taught *t = a->t;
    cw_day day = cw_asker_day(a->who, at);
    if (!cw_grow(&t->sale, t->sales, &t->sale_room, sizeof *t->sale) ||
        !cw_grow(&t->order, t->orders, &t->order_room, sizeof *t->order)) {
        t->failed = true;
        return;
    }
    if (t->sales == 0 || t->sale[t->sales - 1].variety_id != variety)
        t->sale[t->sales++] = (cw_taught_sale){ variety, 0, CW_NO_DAY };
    cw_taught_sale *sale = &t->sale[t->sales - 1];
    sale->sold += quantity;
    if (offered > 0 && sale->sold >= offered && sale->sold_out == CW_NO_DAY)
        sale->sold_out = day;
    cw_taught_order *last = t->orders ? &t->order[t->orders - 1] : NULL;
    if (last == NULL || last->variety_id != variety || last->day != day)
        t->order[t->orders++] = (cw_taught_order){ variety, day, quantity };
    else
        last->quantity += quantity;
}

cw_code cw_taught_asked(cw_nursery *n, const cw_asker *who, cw_taught *t, cw_error *err)
{
    asked a = { t, who };
    cw_code code = cw_turning_asked(n->db, take_asked, &a, err);
    return code == CW_OK && t->failed ? cw_error_memory(err) : code;
}

static void add_real(cw_digest *d, double v)
{
    cw_digest_add(d, &v, sizeof v);
}

static int by_code(const void *a, const void *b)
{
    return strcmp(a, b);
}

cw_code cw_taught_call(cw_taught *t, const char (*code)[CW_MAX_CODE + 1], cw_error *err)
{
    size_t n = t->from->varieties, *rank = calloc(n + 1, sizeof *rank);
    t->name = calloc(n + 1, sizeof *t->name);
    if (rank == NULL || t->name == NULL) {
        free(rank);
        return cw_error_memory(err);
    }
    memcpy(t->name, code, n * sizeof *t->name);
    qsort(t->name, n, sizeof *t->name, by_code);
    for (size_t i = 0; i < n; i++) {
        const char(*found)[CW_MAX_CODE + 1] = bsearch(code[i], t->name, n, sizeof *t->name, by_code);
        while (found > (const char(*)[CW_MAX_CODE + 1]) t->name && strcmp(found[-1], *found) == 0)
            found--; /* the first of those alike */
        rank[i] = (size_t)(found - (const char(*)[CW_MAX_CODE + 1]) t->name);
    }
    for (size_t i = 0; i < t->rates; i++)
        t->rate[i].variety = rank[t->rate[i].variety];
    for (size_t i = 0; i < t->rots; i++)
        t->rot[i].variety = rank[t->rot[i].variety];
    free(rank);
    stable(t->rate, t->rates, sizeof *t->rate, by_variety_rate, &t->failed);
    stable(t->rot, t->rots, sizeof *t->rot, by_variety_rot, &t->failed);
    return t->failed ? cw_error_memory(err) : CW_OK;
}

static const char *called(const cw_taught *t, size_t variety)
{
    return t->name ? t->name[variety] : t->from->snapshot->variety[variety].code;
}

void cw_taught_digest(const cw_taught *t, char hex[65])
{
    cw_digest d;
    cw_digest_init(&d);
    cw_digest_add_int(&d, t->season);
    for (size_t i = 0; i < t->rates; i++) {
        const cw_taught_rate *r = &t->rate[i];
        cw_digest_add_text(&d, called(t, r->variety));
        cw_digest_add_int(&d, r->clumps);
        cw_digest_add_int(&d, r->divisions);
        add_real(&d, r->cut.from);
        add_real(&d, r->cut.to);
    }
    for (size_t i = 0; i < t->rots; i++) {
        const cw_taught_rot *r = &t->rot[i];
        cw_digest_add_text(&d, called(t, r->variety));
        cw_digest_add_int(&d, r->division);
        add_real(&d, r->weeks);
        add_real(&d, r->age);
        cw_digest_add_int(&d, r->why);
        cw_digest_add_int(&d, r->inspected);
        cw_digest_add_int(&d, r->rotten);
    }
    for (size_t i = 0; i < t->shrivels; i++) {
        add_real(&d, t->shrivel[i].from_pa_days);
        add_real(&d, t->shrivel[i].to_pa_days);
        cw_digest_add_int(&d, t->shrivel[i].inspected);
        cw_digest_add_int(&d, t->shrivel[i].shrivelled);
    }
    for (size_t i = 0; i < t->weighings; i++) {
        add_real(&d, t->weighing[i].pa_days);
        add_real(&d, t->weighing[i].kg);
    }
    cw_digest_end(&d, hex);
}

typedef struct names {
    char **name;
    size_t count, room;
    bool failed;
} names;

static void take_name(void *context, const char *sample)
{
    names *n = context;
    char *copy = strdup(sample);
    if (copy == NULL || !cw_grow(&n->name, n->count, &n->room, sizeof *n->name)) {
        free(copy);
        n->failed = true;
        return;
    }
    n->name[n->count++] = copy;
}

static cw_code write_models(cw_nursery *n, const cw_taught *t, int64_t source, cw_error *err)
{
    const cw_snapshot *s = t->from->snapshot;
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < t->rates; i++) {
        const cw_taught_rate *r = &t->rate[i];
        code = cw_turning_rate(n->db,
                               &(cw_past_rate){ t->season, s->variety[r->variety].id, r->clumps, r->divisions,
                                                s->lot[r->lot].code, r->cut.from, r->cut.to },
                               source, err);
    }
    for (size_t i = 0; code == CW_OK && i < t->rots; i++) {
        const cw_taught_rot *r = &t->rot[i];
        code =
            cw_turning_rot(n->db,
                           &(cw_past_rot){ t->season, s->variety[r->variety].id, r->inspected, r->rotten,
                                           r->division, r->weeks, r->age, s->lot[r->lot].code, whys[r->why] },
                           source, err);
    }
    for (size_t i = 0; code == CW_OK && i < t->shrivels; i++) {
        const cw_shrivel_check *c = &t->shrivel[i];
        code = cw_turning_shrivel(n->db, t->season, s->lot[c->lot].code,
                                  (const double[2]){ c->from_pa_days, c->to_pa_days }, c->inspected,
                                  c->shrivelled, source, err);
    }
    return code;
}

static cw_code write_weighings(cw_nursery *n, const cw_taught *t, int64_t source, cw_error *err)
{
    const cw_snapshot *s = t->from->snapshot;
    names samples = { 0 };
    cw_code code = cw_turning_samples(n->db, take_name, &samples, err);
    if (code == CW_OK && samples.failed)
        code = cw_error_memory(err);
    for (size_t i = 0; code == CW_OK && i < t->weighings; i++) {
        const cw_weighing *w = &t->weighing[i];
        if (w->crate < samples.count)
            code = cw_turning_weighing(n->db, t->season, samples.name[w->crate], s->lot[w->lot].code,
                                       w->pa_days, w->kg, source, err);
    }
    for (size_t i = 0; i < samples.count; i++)
        free(samples.name[i]);
    free(samples.name);
    return code;
}

cw_code cw_taught_write(cw_nursery *n, const cw_asker *who, const cw_taught *t, const char *digest,
                        cw_error *err)
{
    char name[40];
    int64_t source = 0;
    snprintf(name, sizeof name, "season %d", t->season);
    cw_code code =
        cw_turning_source(n->db, name, digest, (int64_t)(t->rates + t->rots + t->shrivels + t->weighings),
                          who->actor, who->now, &source, err);
    if (code == CW_OK)
        code = write_models(n, t, source, err);
    if (code == CW_OK)
        code = write_weighings(n, t, source, err);
    for (size_t i = 0; code == CW_OK && i < t->sales; i++)
        code = cw_turning_sale(n->db, t->season, t->sale[i].variety_id, t->sale[i].sold, t->sale[i].sold_out,
                               err);
    for (size_t i = 0; code == CW_OK && i < t->orders; i++)
        code = cw_turning_order(n->db, t->season, t->order[i].variety_id, t->order[i].day,
                                t->order[i].quantity, err);
    return code;
}
