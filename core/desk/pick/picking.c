/* SPDX-License-Identifier: MIT */
#include "desk/pick/picking.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "desk/pick/picking_inside.h"
#include "store/audit.h"
#include "store/joining.h"
#include "store/season.h"

#include "base/banned.h"

const cw_column cw_pick_columns[CW_PICK_COLUMNS] = {
    { "stop", CW_INT_T, 0 },     { "place", CW_TEXT_T, 0 },   { "lot", CW_TEXT_T, 0 },
    { "variety", CW_TEXT_T, 0 }, { "quantity", CW_INT_T, 0 }, { "order", CW_TEXT_T, 0 },
    { "line", CW_INT_T, 0 },     { "slot", CW_INT_T, 0 },
};

static void put_plan(const cw_wave_plan *p, cw_table *out)
{
    for (size_t k = 0; k < p->walk->pick_count; k++) {
        const cw_pick *pick = &p->walk->picks[k];
        const cw_wave_wanted *w = &p->book.wanted[p->line[pick->line]];
        const cw_wave_stock *s = &p->book.stock[p->stock[pick->stock]];
        cw_put_int(out, (int64_t)pick->stop + 1);
        cw_put_text(out, s->place[0] ? s->place : NULL);
        cw_put_text(out, s->lot);
        cw_put_text(out, w->variety);
        cw_put_int(out, pick->quantity);
        cw_put_text(out, p->book.order[w->order].number);
        cw_put_int(out, w->line);
        cw_put_int(out, p->pick_slot[k] ? p->pick_slot[k] : p->slot[w->order]);
    }
}

/* The table's bytes move to the caller's. */
static void hand_over(cw_table *from, cw_table *to)
{
    *to = *from;
    memset(from, 0, sizeof *from);
}

cw_code cw_picking_preview(cw_nursery *n, const cw_asker *who, const cw_picking_ask *ask, cw_table *picks,
                           cw_table *notes, cw_error *err)
{
    cw_wave_plan p;
    cw_table_init(picks, cw_pick_columns, CW_PICK_COLUMNS);
    memset(notes, 0, sizeof *notes);
    cw_code code = cw_wave_plan_make(n, who, ask, &p, err);
    if (code == CW_OK) {
        put_plan(&p, picks);
        hand_over(&p.notes, notes);
        code = cw_table_check(picks, err);
    }
    cw_wave_plan_free(&p);
    return code;
}

/* Row ids of what was written, by index: orders to parcels, stops of the walk to stops. */
typedef struct written {
    int64_t wave;
    int64_t *parcel, *stop;
} written;

static cw_code write_stops(cw_nursery *n, const cw_wave_plan *p, written *w, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t s = 0; s < p->walk->stop_count && code == CW_OK; s++) {
        int64_t place = p->book.stock[p->place[p->walk->stops[s].place]].place_id;
        code = cw_waves_add_stop(n->db, w->wave, (int64_t)s + 1, place, &w->stop[s], err);
    }
    for (size_t i = 0; i < p->book.orders && code == CW_OK; i++)
        if (p->slot[i])
            code = cw_waves_add_parcel(n->db, w->wave, p->book.order[i].id, p->slot[i], &w->parcel[i], err);
    return code;
}

static cw_code write_picks(cw_nursery *n, const cw_asker *who, const cw_wave_plan *p, const written *w,
                           cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t k = 0; k < p->walk->pick_count && code == CW_OK; k++) {
        const cw_pick *pick = &p->walk->picks[k];
        const cw_wave_wanted *wanted = &p->book.wanted[p->line[pick->line]];
        cw_pick_new row = { .wave = w->wave,
                            .stop = w->stop[pick->stop],
                            .parcel = w->parcel[wanted->order],
                            .line = wanted->line_id,
                            .variety = wanted->variety_id,
                            .lot = p->book.stock[p->stock[pick->stock]].lot_id,
                            .quantity = pick->quantity,
                            .slot = p->pick_slot[k] };
        code = cw_waves_add_pick(n->db, &row, err);
        if (code == CW_OK && k % CW_TELL_EVERY == 0)
            code = cw_asker_tell(who, "writing the wave", k, p->walk->pick_count, err);
    }
    return code;
}

static cw_code record(cw_nursery *n, const cw_asker *who, cw_week week, cw_wave_plan *p, int64_t *wave,
                      cw_error *err)
{
    char subject[32], after[120], name[9];
    written w = { .parcel = calloc(p->book.orders + 1, sizeof *w.parcel),
                  .stop = calloc(p->walk->stop_count + 1, sizeof *w.stop) };
    cw_code code = w.parcel && w.stop ? CW_OK : cw_error_memory(err);
    if (code == CW_OK && p->scheduled)
        code = cw_shipping_plan_record(n, who, &p->schedule, err);
    if (code == CW_OK)
        code = cw_waves_add(n->db, week, who->now, who->actor, &w.wave, err);
    if (code == CW_OK)
        code = write_stops(n, p, &w, err);
    if (code == CW_OK)
        code = write_picks(n, who, p, &w, err);
    if (code == CW_OK)
        code = cw_together_slots(n->db, w.wave, err);
    if (code == CW_OK) {
        cw_week_format(week, name);
        snprintf(subject, sizeof subject, "wave %lld", (long long)w.wave);
        snprintf(after, sizeof after, "week %s: %zu picks at %zu stops", name, p->walk->pick_count,
                 p->walk->stop_count);
        code = cw_audit_add(n->db, who->now, who->actor, "make wave", subject, NULL, after, err);
    }
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    *wave = w.wave;
    free(w.parcel);
    free(w.stop);
    return code;
}

cw_code cw_picking_make(cw_nursery *n, const cw_asker *who, const cw_picking_ask *ask, int64_t *wave,
                        cw_table *notes, cw_error *err)
{
    cw_wave_plan p;
    memset(notes, 0, sizeof *notes);
    if (cw_packers_only(who, "make waves", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_wave_plan_make(n, who, ask, &p, err);
    if (code == CW_OK)
        code = cw_asker_tell(who, "writing the wave", 0, 0, err);
    if (code == CW_OK)
        code = record(n, who, ask->week, &p, wave, err);
    code = cw_work_end(n, code, err);
    if (code == CW_OK)
        hand_over(&p.notes, notes);
    cw_wave_plan_free(&p);
    return code;
}

cw_code cw_picking_of_week(cw_nursery *n, cw_week week, int64_t *wave, bool *open, cw_error *err)
{
    return cw_waves_of_week(n->db, week, wave, open, err);
}

static cw_code drop(cw_nursery *n, const cw_asker *who, int64_t wave, const char *why, cw_error *err)
{
    cw_wave_row row;
    int64_t answered = 0;
    char subject[32];
    cw_code code = cw_waves_one(n->db, wave, &row, err);
    if (code == CW_OK && strcmp(row.state, "dropped") == 0)
        return cw_error_set(err, CW_CONFLICT, "wave %lld was dropped before", (long long)wave);
    if (code == CW_OK)
        code = cw_waves_answered(n->db, wave, &answered, err);
    if (code == CW_OK && answered > 0)
        return cw_error_set(err, CW_CONFLICT,
                            "answered already: %lld of the picks of wave %lld; undo them first",
                            (long long)answered, (long long)wave);
    if (code == CW_OK)
        code = cw_waves_drop(n->db, wave, err);
    snprintf(subject, sizeof subject, "wave %lld", (long long)wave);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "drop wave", subject, row.state, why, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_picking_drop(cw_nursery *n, const cw_asker *who, int64_t wave, const char *why, cw_error *err)
{
    if (cw_office_only(who, "drop waves", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, drop(n, who, wave, why, err), err) : code;
}

static cw_code take_off(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why, cw_error *err)
{
    cw_parcel_row row;
    char subject[40];
    cw_code code = cw_waves_parcel(n->db, parcel, &row, err);
    if (code == CW_OK && row.open_picks == 0)
        return cw_error_set(err, CW_CONFLICT, "parcel %lld of order %s has no open pick", (long long)parcel,
                            row.order);
    if (code == CW_OK)
        code = cw_waves_take_off(n->db, parcel, err);
    if (code == CW_OK)
        code = cw_waves_settle(n->db, row.wave, err);
    snprintf(subject, sizeof subject, "parcel %lld", (long long)parcel);
    if (code ==
        CW_OK) /* the reason stands with the order, where it can be removed; the audit cannot be changed */
        code =
            cw_waves_event(n->db, row.order_id, who->now, who->actor, "taken off the list", NULL, why, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "take off list", subject, row.order, NULL, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_picking_take_off(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why,
                            cw_error *err)
{
    if (cw_office_only(who, "take orders off a pick list", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, take_off(n, who, parcel, why, err), err) : code;
}
