/* SPDX-License-Identifier: MIT */
#include "store/snapshot.h"

#include "base/grow.h"
#include "columns/snapshot.h"
#include "store/statement_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef struct reader {
    cw_db *db;
    cw_snapshot *s;
    int64_t field_changes;
    cw_error *err;
    bool no_memory;
} reader;

static const char *keep(reader *r, const char *text)
{
    const char *kept = cw_texts_keep(&r->s->texts, text);
    r->no_memory = r->no_memory || r->s->texts.failed;
    return kept;
}

/* The next row of an array, zeroed; NULL without memory. */
static void *grow(reader *r, void *rows, size_t *count, size_t size)
{
    void *row = cw_grow_item(rows, count, size);
    r->no_memory = r->no_memory || row == NULL;
    return row;
}

/* Calls take(r, statement) for every row of a statement. */
static cw_code each(reader *r, const char *name, const cw_day *day, void (*take)(reader *r, cw_stmt *q))
{
    cw_stmt *q = cw_db_stmt(r->db, name);
    cw_code code = day ? cw_stmt_start(q, r->err, "i", (int64_t)*day) : cw_stmt_start(q, r->err, "");
    while (code == CW_OK && !r->no_memory && cw_stmt_next(q))
        take(r, q);
    cw_code end = cw_stmt_end(q, r->err);
    code = code == CW_OK ? end : code;
    return code == CW_OK && r->no_memory ? cw_error_memory(r->err) : code;
}

/* What the trade changes from day to day. */
static void variety_terms(cw_snap_variety *v, cw_stmt *q)
{
    v->price = cw_col_int_or(q, snapshot_varieties_price, -1);
    v->hold_back_set = cw_col_int(q, snapshot_varieties_hold_back);
    v->planted = cw_col_int(q, snapshot_varieties_planted);
    v->hold_back = v->hold_back_set > v->planted ? v->hold_back_set - v->planted : 0;
    v->reserve = cw_col_int(q, snapshot_varieties_reserve);
    v->limit_per_order = cw_col_int(q, snapshot_varieties_limit_per_order);
    v->retired = cw_col_int(q, snapshot_varieties_retired) != 0;
    v->offered = cw_col_int(q, snapshot_varieties_offered);
    v->sold = cw_col_int(q, snapshot_varieties_sold);
    v->released = cw_col_int(q, snapshot_varieties_released) != 0;
    v->beyond = cw_col_int(q, snapshot_varieties_beyond);
    v->own_low = cw_col_real(q, snapshot_varieties_own_low);
    v->own_high = cw_col_real(q, snapshot_varieties_own_high);
}

static void take_variety(reader *r, cw_stmt *q)
{
    cw_snap_variety *v = grow(r, &r->s->variety, &r->s->varieties, sizeof *v);
    if (v == NULL)
        return;
    v->id = cw_col_int(q, snapshot_varieties_id);
    v->code = keep(r, cw_col_text(q, snapshot_varieties_code));
    v->name = keep(r, cw_col_text(q, snapshot_varieties_name));
    v->form = keep(r, cw_col_text(q, snapshot_varieties_form));
    v->size = keep(r, cw_col_text(q, snapshot_varieties_size));
    v->colour = keep(r, cw_col_text(q, snapshot_varieties_colour));
    v->height_cm = cw_col_int(q, snapshot_varieties_height_cm);
    variety_terms(v, q);
}

static void take_history(reader *r, cw_stmt *q)
{
    cw_snap_history *h = grow(r, &r->s->past->history, &r->s->past->histories, sizeof *h);
    if (h)
        *h = (cw_snap_history){
            cw_col_int(q, snapshot_history_variety_id), (int)cw_col_int(q, snapshot_history_season),
            cw_col_int(q, snapshot_history_clumps),     cw_col_int(q, snapshot_history_divisions),
            cw_col_int(q, snapshot_history_number),     cw_col_real(q, snapshot_history_cut_from),
            cw_col_real(q, snapshot_history_cut_to)
        };
}

static bool is_division(cw_stmt *q, cw_sql_column column)
{
    return strcmp(cw_col_text(q, column), "division") == 0;
}

static void take_past_check(reader *r, cw_stmt *q)
{
    cw_snap_past_check *c = grow(r, &r->s->past->check, &r->s->past->checks, sizeof *c);
    if (c)
        *c = (cw_snap_past_check){ cw_col_int(q, snapshot_past_checks_variety_id),
                                   (int)cw_col_int(q, snapshot_past_checks_season),
                                   is_division(q, snapshot_past_checks_stage),
                                   cw_col_real(q, snapshot_past_checks_weeks),
                                   cw_col_int(q, snapshot_past_checks_inspected),
                                   cw_col_int(q, snapshot_past_checks_rotten),
                                   cw_col_int_or(q, snapshot_past_checks_shrivelled, -1),
                                   cw_col_int(q, snapshot_past_checks_number),
                                   cw_col_real(q, snapshot_past_checks_age),
                                   (int)cw_col_int_or(q, snapshot_past_checks_why_rank, -1) };
}

static void take_past_shrivel(reader *r, cw_stmt *q)
{
    cw_snap_past_shrivel *p = grow(r, &r->s->past->shrivel, &r->s->past->shrivels, sizeof *p);
    if (p)
        *p = (cw_snap_past_shrivel){ (int)cw_col_int(q, snapshot_past_shrivels_season),
                                     cw_col_int(q, snapshot_past_shrivels_number),
                                     cw_col_real(q, snapshot_past_shrivels_from_pa_days),
                                     cw_col_real(q, snapshot_past_shrivels_to_pa_days),
                                     cw_col_int(q, snapshot_past_shrivels_inspected),
                                     cw_col_int(q, snapshot_past_shrivels_shrivelled) };
}

static void take_past_weighing(reader *r, cw_stmt *q)
{
    cw_snap_past_weighing *w = grow(r, &r->s->past->weighing, &r->s->past->weighings, sizeof *w);
    if (w == NULL)
        return;
    *w = (cw_snap_past_weighing){ (int)cw_col_int(q, snapshot_past_weighings_season),
                                  (size_t)cw_col_int(q, snapshot_past_weighings_sample_rank),
                                  cw_col_int(q, snapshot_past_weighings_number),
                                  cw_col_real(q, snapshot_past_weighings_pa_days),
                                  cw_col_real(q, snapshot_past_weighings_kg) };
    if (w->sample >= r->s->past->samples)
        r->s->past->samples = w->sample + 1;
}

static void take_past_lots(reader *r, cw_stmt *q)
{
    r->s->past->lots = (size_t)cw_col_int(q, snapshot_past_lots_lots);
    r->s->past->pa = cw_col_null(q, snapshot_past_lots_pa) ? -1 : cw_col_real(q, snapshot_past_lots_pa);
}

static void take_lot(reader *r, cw_stmt *q)
{
    cw_snap_lot *l = grow(r, &r->s->lot, &r->s->lots, sizeof *l);
    if (l)
        *l = (cw_snap_lot){ cw_col_int(q, snapshot_lots_id),
                            keep(r, cw_col_text(q, snapshot_lots_code)),
                            keep(r, cw_col_text(q, snapshot_lots_room)),
                            cw_col_int(q, snapshot_lots_variety_id),
                            (cw_day)cw_col_int(q, snapshot_lots_dug_on),
                            cw_col_int(q, snapshot_lots_clumps) };
}

/* Where an event's statement has what all events have. */
typedef struct event_columns {
    cw_sql_column lot, day, id;
} event_columns;

static cw_snap_event *take_event(reader *r, cw_stmt *q, cw_snap_kind kind, event_columns at)
{
    cw_snap_event *e = grow(r, &r->s->event, &r->s->events, sizeof *e);
    if (e == NULL)
        return NULL;
    e->lot_id = cw_col_int(q, at.lot);
    e->day = (cw_day)cw_col_int(q, at.day);
    e->id = cw_col_int(q, at.id);
    e->kind = kind;
    return e;
}
#define EVENT(statement) ((event_columns){ statement##_lot_id, statement##_day, statement##_id })

static void take_dividing(reader *r, cw_stmt *q)
{
    cw_snap_event *e = take_event(r, q, CW_SNAP_DIVIDED, EVENT(snapshot_dividings));
    if (e == NULL)
        return;
    e->clumps = cw_col_int(q, snapshot_dividings_clumps);
    e->rotten = cw_col_int(q, snapshot_dividings_rotten);
    e->saleable = cw_col_int(q, snapshot_dividings_saleable);
}

static void take_check(reader *r, cw_stmt *q)
{
    cw_snap_event *e = take_event(r, q, CW_SNAP_CHECKED, EVENT(snapshot_checks));
    if (e == NULL)
        return;
    e->division = is_division(q, snapshot_checks_stage);
    e->inspected = cw_col_int(q, snapshot_checks_inspected);
    e->rotten = cw_col_int(q, snapshot_checks_rotten);
    e->suspicion = (int)cw_col_int_or(q, snapshot_checks_suspicion, -1);
    e->shrivelled = cw_col_int_or(q, snapshot_checks_shrivelled, -1);
}

static void take_entry(reader *r, cw_stmt *q)
{
    cw_snap_event *e = take_event(r, q, CW_SNAP_ENTERED, EVENT(snapshot_entries));
    if (e == NULL)
        return;
    e->clumps_change = cw_col_int(q, snapshot_entries_clumps);
    e->divisions_change = cw_col_int(q, snapshot_entries_divisions);
    e->left_sound = cw_col_int(q, snapshot_entries_left_sound);
}

static void take_split(reader *r, cw_stmt *q)
{
    cw_snap_event *e = take_event(r, q, CW_SNAP_SPLIT, EVENT(snapshot_splits));
    if (e == NULL)
        return;
    e->clumps_change = -cw_col_int(q, snapshot_splits_clumps);
    e->divisions_change = -cw_col_int(q, snapshot_splits_divisions);
    e->other = cw_col_int(q, snapshot_splits_other);
}

/* A count stands among the day's entries by its movement; one that agreed moved nothing and comes last. */
static void take_count(reader *r, cw_stmt *q)
{
    cw_snap_event *e = take_event(r, q, CW_SNAP_COUNTED, EVENT(snapshot_counts));
    if (e == NULL)
        return;
    e->division = is_division(q, snapshot_counts_stage);
    e->before = cw_col_int(q, snapshot_counts_before);
    e->count = cw_col_int(q, snapshot_counts_count);
    e->looked = (int)cw_col_int_or(q, snapshot_counts_looked, -1);
    e->id = cw_col_int_or(q, snapshot_counts_movement_id, INT64_MAX / 2 + e->id);
}

static void take_air(reader *r, cw_stmt *q)
{
    cw_snapshot *s = r->s;
    const char *room = cw_col_text(q, snapshot_air_room);
    if (s->rooms == 0 || strcmp(s->room[s->rooms - 1], room) != 0) {
        const char **name = grow(r, &s->room, &s->rooms, sizeof *name);
        if (name == NULL)
            return;
        *name = keep(r, room);
    }
    cw_snap_air *a = grow(r, &s->air, &s->airs, sizeof *a);
    if (a)
        *a = (cw_snap_air){ s->rooms - 1, cw_col_int(q, snapshot_air_at), cw_col_real(q, snapshot_air_temp_c),
                            cw_col_real(q, snapshot_air_rh) };
}

static void take_weighing(reader *r, cw_stmt *q)
{
    cw_snapshot *s = r->s;
    cw_snap_weighing *w = grow(r, &s->weighing, &s->weighings, sizeof *w);
    if (w == NULL)
        return;
    *w = (cw_snap_weighing){ (size_t)cw_col_int(q, snapshot_weighings_sample_rank) - 1,
                             cw_col_int(q, snapshot_weighings_lot_id),
                             (cw_day)cw_col_int(q, snapshot_weighings_day),
                             cw_col_real(q, snapshot_weighings_kg) };
    s->samples = w->sample + 1;
}

static void take_past_planting(reader *r, cw_stmt *q)
{
    cw_snap_field *f = r->s->field;
    cw_snap_past_planting *p = grow(r, &f->past_planting, &f->past_plantings, sizeof *p);
    if (p)
        *p = (cw_snap_past_planting){ .season = (int)cw_col_int(q, snapshot_past_plantings_season),
                                      .variety_id = cw_col_int(q, snapshot_past_plantings_variety_id),
                                      .plants = cw_col_int(q, snapshot_past_plantings_plants),
                                      .clumps = cw_col_int(q, snapshot_past_plantings_clumps) };
}

static void take_planting(reader *r, cw_stmt *q)
{
    cw_snap_field *f = r->s->field;
    cw_snap_planting *p = grow(r, &f->planting, &f->plantings, sizeof *p);
    const char *row = cw_texts_keep(&f->texts, cw_col_text(q, snapshot_plantings_row));
    r->no_memory = r->no_memory || f->texts.failed;
    if (p)
        *p = (cw_snap_planting){ .id = cw_col_int(q, snapshot_plantings_id),
                                 .variety_id = cw_col_int(q, snapshot_plantings_variety_id),
                                 .row = row,
                                 .plants = cw_col_int(q, snapshot_plantings_plants),
                                 .planted_on = (cw_day)cw_col_int(q, snapshot_plantings_planted_on),
                                 .loose = cw_col_int(q, snapshot_plantings_loose) != 0 };
}

static void take_field_event(reader *r, cw_stmt *q)
{
    cw_snap_field_event *e = grow(r, &r->s->field->event, &r->s->field->events, sizeof *e);
    if (e)
        *e = (cw_snap_field_event){ .planting_id = cw_col_int(q, snapshot_field_events_planting_id),
                                    .id = cw_col_int(q, snapshot_field_events_id),
                                    .day = (cw_day)cw_col_int(q, snapshot_field_events_day),
                                    .dug = cw_col_int(q, snapshot_field_events_dug) != 0,
                                    .a = cw_col_int(q, snapshot_field_events_a),
                                    .b = cw_col_int(q, snapshot_field_events_b) };
}

static int compare(int64_t a, int64_t b)
{
    return (a > b) - (a < b);
}

static int rank(const cw_snap_event *e)
{
    return e->kind > CW_SNAP_ENTERED ? CW_SNAP_ENTERED : (int)e->kind;
}

static int by_lot_and_time(const void *pa, const void *pb)
{
    const cw_snap_event *a = pa, *b = pb;
    int c = compare(a->lot_id, b->lot_id);
    if (c == 0)
        c = compare(a->day, b->day);
    if (c == 0)
        c = compare(rank(a), rank(b));
    return c ? c : compare(a->id, b->id);
}

typedef struct part {
    const char *name;
    bool dated;
    void (*take)(reader *r, cw_stmt *q);
} part;

static cw_code read_parts(reader *r, const part *parts, size_t n, cw_day as_of)
{
    cw_code code = CW_OK;
    for (size_t i = 0; i < n && code == CW_OK; i++)
        code = each(r, parts[i].name, parts[i].dated ? &as_of : NULL, parts[i].take);
    return code;
}

static void field_free(cw_snap_field *f)
{
    if (f == NULL || --f->holders > 0)
        return;
    cw_texts_free(&f->texts);
    free(f->past_planting);
    free(f->planting);
    free(f->event);
    free(f);
}

void cw_snap_kept_free(cw_snap_kept *k)
{
    cw_snap_past_free(k->past);
    field_free(k->field);
    *k = (cw_snap_kept){ 0 };
}

static cw_code read_extent(reader *r, char *out)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(r->db, "snapshot.past_extent");
    cw_code code = cw_stmt_one(q, &found, r->err, "");
    if (code == CW_OK && found)
        snprintf(out, CW_SNAP_EXTENT, "%s", cw_col_text(q, snapshot_past_extent_extent));
    cw_code end = cw_stmt_end(q, r->err);
    return code == CW_OK ? end : code;
}

/* Takes over what was read of past seasons before, or reads it. */
static cw_code read_past(reader *r, cw_snap_past **kept, bool committed)
{
    static const part parts[] = {
        { "snapshot.history", false, take_history },
        { "snapshot.past_checks", false, take_past_check },
        { "snapshot.past_lots", false, take_past_lots },
        { "snapshot.past_shrivels", false, take_past_shrivel },
        { "snapshot.past_weighings", false, take_past_weighing },
    };
    cw_snap_past *p = r->s->past = calloc(1, sizeof *p);
    if (p == NULL)
        return cw_error_memory(r->err);
    p->holders = 1;
    cw_code code = read_extent(r, p->extent);
    if (code == CW_OK && *kept != NULL && strcmp((*kept)->extent, p->extent) == 0) {
        cw_snap_past_free(p);
        r->s->past = *kept;
        (*kept)->holders++;
        return CW_OK;
    }
    if (code == CW_OK)
        code = read_parts(r, parts, sizeof parts / sizeof parts[0], r->s->as_of);
    if (code == CW_OK && committed) { /* what may yet be taken back is not kept */
        cw_snap_past_free(*kept);
        *kept = p;
        p->holders++;
    }
    return code;
}

static cw_code read_field(reader *r, cw_snap_field **kept, bool committed)
{
    static const part parts[] = {
        { "snapshot.past_plantings", false, take_past_planting },
        { "snapshot.plantings", true, take_planting },
        { "snapshot.field_events", true, take_field_event },
    };
    if (*kept != NULL && (*kept)->changes == r->field_changes && (*kept)->as_of == r->s->as_of) {
        r->s->field = *kept;
        (*kept)->holders++;
        return CW_OK;
    }
    cw_snap_field *f = r->s->field = calloc(1, sizeof *f);
    if (f == NULL)
        return cw_error_memory(r->err);
    *f = (cw_snap_field){ .holders = 1, .changes = r->field_changes, .as_of = r->s->as_of };
    cw_code code = read_parts(r, parts, sizeof parts / sizeof parts[0], r->s->as_of);
    if (code == CW_OK && committed) { /* as of past seasons */
        field_free(*kept);
        *kept = f;
        f->holders++;
    }
    return code;
}

static cw_code read_all(reader *r, cw_snap_kept *kept, bool committed)
{
    static const part parts[] = {
        { "snapshot.varieties", true, take_variety },  { "snapshot.lots", true, take_lot },
        { "snapshot.dividings", true, take_dividing }, { "snapshot.checks", true, take_check },
        { "snapshot.entries", true, take_entry },      { "snapshot.counts", true, take_count },
        { "snapshot.splits", true, take_split },       { "snapshot.weighings", true, take_weighing },
    };
    cw_day as_of = r->s->as_of;
    bool found = false;
    cw_stmt *q = cw_db_stmt(r->db, "snapshot.revision");
    cw_code code = cw_stmt_one(q, &found, r->err, "");
    if (code == CW_OK && found) {
        r->s->stock_revision = cw_col_int(q, snapshot_revision_stock_revision);
        r->s->trade_revision = cw_col_int(q, snapshot_revision_trade_revision);
        r->field_changes = cw_col_int(q, snapshot_revision_field_changes);
    }
    cw_code end = cw_stmt_end(q, r->err);
    code = code == CW_OK ? end : code;
    if (code == CW_OK)
        code = read_past(r, &kept->past, committed);
    if (code == CW_OK)
        code = read_field(r, &kept->field, committed);
    if (code == CW_OK)
        code = read_parts(r, parts, sizeof parts / sizeof parts[0], as_of);
    if (code == CW_OK) {
        q = cw_db_stmt(r->db, "snapshot.air");
        code = cw_stmt_start(q, r->err, "i", (int64_t)(as_of + 1) * CW_DAY_MS);
        while (code == CW_OK && !r->no_memory && cw_stmt_next(q))
            take_air(r, q);
        end = cw_stmt_end(q, r->err);
        code = code == CW_OK ? end : code;
    }
    return code == CW_OK && r->no_memory ? cw_error_memory(r->err) : code;
}

cw_code cw_snapshot_read(cw_db *db, cw_day as_of, cw_snap_kept *kept, cw_snapshot **out, cw_error *err)
{
    *out = NULL;
    cw_snapshot *s = calloc(1, sizeof *s);
    if (s == NULL)
        return cw_error_memory(err);
    s->as_of = as_of;
    reader r = { .db = db, .s = s, .err = err };
    bool within = cw_db_in_transaction(db); /* of a writer: then it is one moment already */
    cw_code code = within ? CW_OK : cw_db_begin_read(db, err);
    if (code == CW_OK)
        code = read_all(&r, kept, !within);
    if (!within)
        cw_db_rollback(db);
    if (code != CW_OK) {
        cw_snapshot_free(s);
        return code;
    }
    if (s->events)
        qsort(s->event, s->events, sizeof *s->event, by_lot_and_time);
    *out = s;
    return CW_OK;
}

cw_code cw_snapshot_refresh(cw_db *db, cw_snapshot *s, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "snapshot.varieties");
    size_t v = 0;
    cw_code code = cw_stmt_start(q, err, "i", (int64_t)s->as_of);
    while (code == CW_OK && cw_stmt_next(q)) {
        while (v < s->varieties && s->variety[v].id != cw_col_int(q, snapshot_varieties_id) &&
               strcmp(s->variety[v].code, cw_col_text(q, snapshot_varieties_code)) < 0)
            v++;
        if (v < s->varieties && s->variety[v].id == cw_col_int(q, snapshot_varieties_id))
            variety_terms(&s->variety[v++], q);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

void cw_snap_past_free(cw_snap_past *p)
{
    if (p == NULL || --p->holders > 0)
        return;
    free(p->history);
    free(p->check);
    free(p->shrivel);
    free(p->weighing);
    free(p);
}

void cw_snapshot_free(cw_snapshot *s)
{
    if (s == NULL)
        return;
    cw_texts_free(&s->texts);
    free(s->variety);
    cw_snap_past_free(s->past);
    field_free(s->field);
    free(s->lot);
    free(s->event);
    free(s->air);
    free(s->room);
    free(s->weighing);
    free(s);
}
