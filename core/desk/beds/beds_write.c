/* SPDX-License-Identifier: MIT */
/* What the planting plan puts on record: hold-backs all at once or ticked, taken back whole; figures that the owner says. */
#include "desk/beds/beds_inside.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/nursery/based_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/varieties.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static json_t *any_hold_backs(void)
{
    return json_pack("{s:s,s:{s:s}}", "type", "object", "additionalProperties", "type", "integer");
}
static const cw_part changes_parts[] = {
    { "run", CW_INT_T, .null = true, .says = "To take it back by; null: nothing changed." },
    { "changes", .shape = &cw_kept_changes_shape },
    { 0 },
};
const cw_shape cw_beds_changes_shape = { .parts = changes_parts };
const cw_shape cw_beds_based = { .make = any_hold_backs };
const cw_shape cw_beds_runs_shape = { .of = &cw_kept_runs_shape };

/* Sets the hold-back of a variety to `keep` if it is another; *before is what stood there. */
static cw_code hold(cw_nursery *n, const cw_asker *who, const char *variety, int64_t keep, const char *what,
                    int64_t *before, cw_error *err)
{
    cw_variety_terms t;
    char from[32], to[32];
    bool done = false;
    cw_code code = cw_variety_terms_read(n->db, variety, &t, err);
    if (code != CW_OK)
        return code;
    *before = t.hold_back;
    if (t.hold_back == keep)
        return CW_OK;
    snprintf(from, sizeof from, "%lld", (long long)t.hold_back);
    snprintf(to, sizeof to, "%lld", (long long)keep);
    t.hold_back = keep;
    code = cw_variety_terms_write(n->db, variety, &t, &done, err);
    if (code == CW_OK && !done)
        return cw_error_set(err, CW_CONFLICT, "%s was changed meanwhile", variety);
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, what, variety, from, to, err) : code;
}

typedef struct writing {
    cw_nursery *n;
    const cw_asker *who;
    int64_t run; /* 0: nothing changed yet */
} writing;

static cw_code write_one(writing *w, const cw_beds *b, size_t v, int64_t keep, cw_error *err)
{
    const cw_snap_variety *s = &b->forecast->data->snapshot->variety[v];
    int64_t before = 0;
    cw_code code = hold(w->n, w->who, s->code, keep, "keep for planting", &before, err);
    cw_based_int(w->who, s->code, before);
    if (code == CW_OK && before != keep && w->run == 0)
        code = cw_kept_run(w->n->db, w->who->now, w->who->actor, &w->run, err);
    if (code == CW_OK && before != keep)
        code = cw_kept_change(w->n->db, w->run, s->id, before, keep, err);
    return code;
}

static cw_code write_item(writing *w, const cw_beds *b, const cw_beds_item *item, cw_error *err)
{
    char shown[80];
    size_t v = cw_forecast_data_by_code(b->forecast->data, item->variety);
    cw_shown(item->variety, strlen(item->variety), shown);
    if (v == CW_NONE)
        return cw_error_set(err, CW_NOT_FOUND, "there is no variety with the code %s", shown);
    if (item->keep > CW_MAX_DIVISIONS)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "keep", "must lie between 0 and %d: %lld of %s",
                           CW_MAX_DIVISIONS, (long long)item->keep, shown);
    if (item->keep < 0 && b->row[v].needs)
        return cw_error_set(err, CW_REFUSED, "the plan has no figure for %s: its %s is not known", shown,
                            b->row[v].needs);
    return write_one(w, b, v, item->keep < 0 ? b->row[v].keep.best.keep : item->keep, err);
}

/* Not of varieties that stand in no plan: retired and nothing held back. */
static cw_code write_all(writing *w, const cw_beds *b, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t v = 0; code == CW_OK && v < b->forecast->data->varieties; v++)
        if (cw_beds_shows(b, v) && b->row[v].needs == NULL)
            code = write_one(w, b, v, b->row[v].keep.best.keep, err);
    return code;
}

cw_code cw_beds_commit(cw_nursery *n, const cw_asker *who, const cw_beds_ask *ask, const cw_beds_item *items,
                       size_t n_items, int64_t *run, cw_table *out, cw_error *err)
{
    cw_beds *b = NULL;
    writing w = { n, who, 0 };
    *out = (cw_table){ 0 };
    *run = 0;
    if (cw_owner_only(who, "say how many are kept for planting", err) != CW_OK)
        return CW_FORBIDDEN;
    if (ask->n_tries > 0)
        return cw_error_set(err, CW_USAGE,
                            "what is only tried cannot be written: say it for the record first");
    cw_code code = cw_beds_make(n, who, ask, &b, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK) {
        cw_beds_free(b);
        return code;
    }
    if (n_items == 0)
        code = write_all(&w, b, err);
    for (size_t i = 0; code == CW_OK && i < n_items; i++)
        code = write_item(&w, b, &items[i], err);
    if (code == CW_OK) /* after all were written, so that all are told; then nothing stands */
        code = cw_based_hold(who, "the hold-back", err);
    if (code == CW_OK && w.run > 0)
        code = cw_season_touch(n->db, false, true, err);
    if (code == CW_OK)
        code = cw_kept_changes(n->db, w.run, out, err);
    code = cw_work_end(n, code, err);
    *run = code == CW_OK ? w.run : 0;
    cw_beds_free(b);
    return code;
}

static cw_code take_back(cw_nursery *n, const cw_asker *who, int64_t run, cw_table *out, cw_error *err)
{
    bool done = false;
    cw_code code = cw_kept_undo(n->db, run, who->now, who->actor, &done, err);
    if (code == CW_OK && !done)
        return cw_error_set(err, CW_CONFLICT,
                            "no hold-backs were written under number %lld, or they were taken back already",
                            (long long)run);
    if (code == CW_OK)
        code = cw_kept_changes(n->db, run, out, err);
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(out); r++) {
        const char *variety = cw_table_text(out, r, 0);
        int64_t stood = 0, after = cw_table_int(out, r, 2);
        code = hold(n, who, variety, cw_table_int(out, r, 1), "undo keep for planting", &stood, err);
        if (code == CW_OK && stood != after)
            code = cw_error_set(
                err, CW_CONFLICT,
                "the hold-back of %s was changed since, from %lld to %lld; nothing is taken back", variety,
                (long long)after, (long long)stood);
    }
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_beds_undo(cw_nursery *n, const cw_asker *who, int64_t run, cw_table *out, cw_error *err)
{
    *out = (cw_table){ 0 };
    if (cw_owner_only(who, "take hold-backs back", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, take_back(n, who, run, out, err), err);
}

cw_code cw_beds_runs(cw_nursery *n, cw_table *out, cw_error *err)
{
    return cw_kept_runs(n->db, out, err);
}

static const char *const names[] = { "demand", "growth", "cost", "least" };

/* A figure as it is on record, for people and for what was seen; "" where nothing is said. */
static void tell(const cw_kept_said *s, cw_beds_field field, char out[64])
{
    out[0] = '\0';
    if (field == CW_BEDS_DEMAND && !isnan(s->demand_low))
        snprintf(out, 64, "%.10g..%.10g", s->demand_low, s->demand_high);
    if (field == CW_BEDS_GROWTH && !isnan(s->growth))
        snprintf(out, 64, "%.10g", s->growth);
    if (field == CW_BEDS_COST && s->cost >= 0)
        cw_cents_format(s->cost, out);
    if (field == CW_BEDS_LEAST && s->least >= 0)
        snprintf(out, 64, "%lld", (long long)s->least);
}

static void set(cw_kept_said *s, const cw_beds_figure *f)
{
    if (f->field == CW_BEDS_DEMAND) {
        s->demand_low = f->learned ? NAN : f->value;
        s->demand_high = f->learned ? NAN : f->high;
    }
    if (f->field == CW_BEDS_GROWTH)
        s->growth = f->learned ? NAN : f->value;
    if (f->field == CW_BEDS_COST)
        s->cost = f->learned ? -1 : (cw_cents)f->value;
    if (f->field == CW_BEDS_LEAST)
        s->least = f->learned ? -1 : (int64_t)f->value;
}

static cw_code say_one(cw_nursery *n, const cw_asker *who, const cw_beds_figure *f, cw_error *err)
{
    cw_kept_said said;
    char before[64], after[64], what[40];
    if (f->field >= CW_BEDS_PRICE)
        return cw_error_set(err, CW_USAGE,
                            "price and reserve stand in the catalogue; here they can only be tried: %s",
                            f->variety);
    cw_code code = cw_kept_said_of(n->db, f->variety, &said, err);
    if (code != CW_OK)
        return code;
    tell(&said, f->field, before);
    cw_based_text(who, names[f->field], before);
    code = cw_based_hold(who, f->variety, err);
    set(&said, f);
    tell(&said, f->field, after);
    snprintf(what, sizeof what, "planting: %s", names[f->field]);
    if (code != CW_OK || strcmp(before, after) == 0)
        return code;
    code = cw_kept_say(n->db, &said, err);
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, what, f->variety, before, after, err)
                         : code;
}

cw_code cw_beds_say(cw_nursery *n, const cw_asker *who, const cw_beds_figure *figures, size_t count,
                    cw_error *err)
{
    if (cw_owner_only(who, "say what a variety's planting rests on", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    for (size_t i = 0; code == CW_OK && i < count; i++)
        code = say_one(n, who, &figures[i], err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}
