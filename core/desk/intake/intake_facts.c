/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_inside.h"

#include "base/day.h"
#include "base/digest.h"
#include "base/text.h"
#include "desk/stock/stock_inside.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Kinds without a natural key. Their rows are first gathered as facts (all whole numbers): a file that was
 * loaded before is known by the digest of its facts. One that holds everything that is on record is an export
 * of it, or a file that has grown since it was loaded: only its other rows are new. What happened to lots is
 * entered into the ledger after all files were read, by day, so that a check of one file that came before a
 * session of another is entered before it. */

#define DIVISION          1 /* of the stages */
#define DAY               1 /* the column of what happened to a lot: its day */
#define BIT(kind, column) (1u << CW_AT(kind, column))
#define UNTIMED           (BIT(divisions, minutes) | BIT(divisions, people))

_Static_assert(CW_AT(divisions, divided_on) == DAY && CW_AT(checks, checked_on) == DAY &&
                   CW_AT(counts, counted_on) == DAY,
               "facts of lots are entered by day");

/* Facts of the cellar in the order in which things happen on one day: divided, then checked, then counted. */
static int rank(const cw_intake *in, const cw_fact *f)
{
    return in->files[f->file].kind;
}

static bool of_lot(int kind)
{
    return kind == CW_DIVISIONS || kind == CW_CHECKS || kind == CW_COUNTS;
}

static cw_code next_fact(cw_intake *in, cw_fact **out, cw_error *err)
{
    if (in->fact_count == in->fact_room) {
        size_t room = in->fact_room ? in->fact_room * 2 : 1024;
        cw_fact *more = realloc(in->facts, room * sizeof *more);
        if (more == NULL)
            return cw_error_memory(err);
        in->facts = more;
        in->fact_room = room;
    }
    *out = &in->facts[in->fact_count++];
    return CW_OK;
}

/* What the column table cannot say: the figures must fit together. */
static void check_past_check(cw_intake *in, cw_row *row)
{
    const cw_past_checks_row *c = &row->is.past_checks;
    long long inspected = c->inspected.i, rotten = c->rotten.i, shrivelled = c->shrivelled.i;
    if (rotten > inspected)
        cw_row_wrong(in, row, CW_AT(past_checks, rotten), "more rotten than inspected (%lld): %lld",
                     inspected, rotten);
    else if (!c->shrivelled.null && shrivelled > inspected - rotten)
        cw_row_wrong(in, row, CW_AT(past_checks, shrivelled),
                     "more rotten and shrivelled together than inspected (%lld): %lld", inspected,
                     rotten + shrivelled);
    if (!c->shrivelled.null && shrivelled > 0 && c->stage.i != DIVISION)
        cw_row_wrong(in, row, CW_AT(past_checks, shrivelled),
                     "only divisions are counted as shrivelled, not clumps: %lld", shrivelled);
}

static void check_past(cw_intake *in, cw_row *row)
{
    const cw_history_row *h = &row->is.history; /* both kinds begin with the season */
    if (h->season.i >= in->n->season.season)
        cw_row_wrong(in, row, CW_AT(history, season),
                     "this file's season is %d, and history is of seasons before it: %lld",
                     in->n->season.season, (long long)h->season.i);
    if (row->kind == &cw_kinds[CW_PAST_CHECKS])
        check_past_check(in, row);
    else if (h->divisions.i > h->clumps.i * CW_MAX_DIVISIONS_PER_CLUMP)
        cw_row_wrong(in, row, CW_AT(history, divisions),
                     "more than %d divisions from each of %lld clumps: %lld", CW_MAX_DIVISIONS_PER_CLUMP,
                     (long long)h->clumps.i, (long long)h->divisions.i);
}

/* `lot` and `day` as each of the kinds begins. */
static void check_lot(cw_intake *in, cw_row *row, const cw_given *lot, const cw_given *on)
{
    cw_day dug_on = in->codes.lot[lot->i].dug_on;
    char dug[11], day[11];
    if (on->i >= dug_on)
        return;
    cw_day_format(dug_on, dug);
    cw_day_format((cw_day)on->i, day);
    cw_row_wrong(in, row, DAY, "lies before the lot was dug (%s): %s", dug, day);
}

cw_code cw_intake_fact(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_fact *f = NULL;
    int kind = (int)(row->kind - cw_kinds);
    if (!row->bad && !row->quiet && of_lot(kind))
        check_lot(in, row, &row->is.divisions.lot, &row->is.v[DAY]);
    else if (!row->bad && !row->quiet)
        check_past(in, row);
    if (row->bad || row->quiet)
        return CW_OK;
    cw_code code = next_fact(in, &f, err);
    if (code != CW_OK)
        return code;
    *f = (cw_fact){ .file = in->current, .line = row->line };
    for (size_t c = 0; c < row->kind->width; c++) {
        const cw_given *v = &row->is.v[c];
        cw_must is = row->kind->columns[c].must;
        f->nulls |= v->null ? 1u << c : 0;
        f->is.v[c] = v->null                  ? 0
                     : is == CW_KNOWN_VARIETY ? in->codes.variety[v->i].id
                     : is == CW_KNOWN_LOT     ? in->codes.lot[v->i].id
                                              : v->i;
    }
    /* Divisions without a place are put where the lot lies; the fact says so, as the record will. */
    if (kind == CW_DIVISIONS && row->is.divisions.place.null) {
        f->is.divisions.place = in->codes.lot[row->is.divisions.lot.i].place;
        f->nulls &= ~BIT(divisions, place);
    }
    return CW_OK;
}

/* Sessions, counts and checks got columns more: where they lack, the digest is what it was before, so that an old file is known again. */
static void digest_of(const cw_intake *in, const cw_taken *file, char hex[65])
{
    cw_digest d;
    cw_digest_init(&d);
    for (size_t i = in->fact_first; i < in->fact_count; i++) {
        const cw_fact *f = &in->facts[i];
        unsigned newer = file->kind == CW_COUNTS      ? BIT(counts, looked)
                         : file->kind == CW_CHECKS    ? BIT(checks, why)
                         : file->kind == CW_DIVISIONS ? UNTIMED
                                                      : 0;
        bool old = newer && (f->nulls & newer) == newer;
        size_t width = cw_kinds[file->kind].width - (old ? (size_t)__builtin_popcount(newer) : 0);
        for (size_t c = 0; c < width; c++)
            cw_digest_add_int(&d, f->is.v[c]);
        cw_digest_add_int(&d, old ? f->nulls & ~newer : f->nulls);
    }
    cw_digest_end(&d, hex);
}

/* How many columns tell a fact from another: how long a session took is not what happened. */
static size_t telling(int kind)
{
    return kind == CW_DIVISIONS ? CW_AT(divisions, minutes) : cw_kinds[kind].width;
}

typedef struct on_record {
    cw_map times; /* each fact to how often it is there */
    size_t width;
    long rows;
} on_record;

static bool take_record(void *context, const int64_t *values, unsigned nulls)
{
    on_record *r = context;
    int64_t key[CW_FACT_COLUMNS + 1] = { 0 };
    memcpy(key, values, r->width * sizeof key[0]);
    key[CW_FACT_COLUMNS] = nulls;
    int64_t *times = cw_map_put(&r->times, key, sizeof key, NULL);
    r->rows++;
    if (times)
        ++*times;
    return times != NULL;
}

/* Marks the file's facts that equal one on record, each of those used once, and counts them. */
static cw_code count_known(cw_intake *in, const cw_taken *file, long *known, long *recorded, cw_error *err)
{
    char name[64];
    size_t width = telling(file->kind);
    on_record record = { .width = width };
    snprintf(name, sizeof name, "kinds.facts_%s", cw_kinds[file->kind].name);
    cw_code code = cw_record_each(in->db, name, width, take_record, &record, err);
    *known = 0;
    *recorded = record.rows;
    for (size_t i = in->fact_first; code == CW_OK && i < in->fact_count && record.times.used; i++) {
        int64_t key[CW_FACT_COLUMNS + 1] = { 0 };
        memcpy(key, in->facts[i].is.v, width * sizeof key[0]);
        key[CW_FACT_COLUMNS] = in->facts[i].nulls & ((1u << width) - 1);
        int64_t *times = cw_map_get(&record.times, key, sizeof key)
                             ? cw_map_put(&record.times, key, sizeof key, NULL)
                             : NULL;
        in->facts[i].known = times && *times > 0;
        if (in->facts[i].known) {
            --*times;
            ++*known;
        }
    }
    cw_map_free(&record.times);
    return code;
}

static cw_dividing_row session(const cw_fact *f, const int64_t *source)
{
    const cw_divisions_fact *d = &f->is.divisions;
    return (cw_dividing_row){ .lot = d->lot,
                              .day = (cw_day)d->divided_on,
                              .clumps = d->clumps,
                              .saleable = d->saleable,
                              .blind = d->blind,
                              .rotten = d->rotten,
                              .place = d->place,
                              .minutes = f->nulls & BIT(divisions, minutes) ? NULL : &d->minutes,
                              .people = f->nulls & BIT(divisions, people) ? NULL : &d->people,
                              .source = source };
}

/* Sessions on record that were not timed get the minutes that the file knows: how many. */
static cw_code time_known(cw_intake *in, const cw_taken *file, long *timed, cw_error *err)
{
    cw_code code = CW_OK;
    *timed = 0;
    for (size_t i = in->fact_first; code == CW_OK && i < in->fact_count; i++) {
        const cw_fact *f = &in->facts[i];
        bool found = false;
        if (file->kind != CW_DIVISIONS || !f->known || f->nulls & BIT(divisions, minutes))
            continue;
        cw_dividing_row row = session(f, NULL);
        code = cw_stock_time_dividing(in->db, &row, &found, err);
        *timed += found;
    }
    return code;
}

static void drop_known(cw_intake *in)
{
    size_t kept = in->fact_first;
    for (size_t i = in->fact_first; i < in->fact_count; i++)
        if (!in->facts[i].known)
            in->facts[kept++] = in->facts[i];
    in->fact_count = kept;
}

/* *again: these very facts were loaded before, and some of them still stand. *id is the source then. */
static cw_code loaded_before(cw_intake *in, cw_taken *file, bool *again, cw_error *err)
{
    bool found = false;
    cw_source_found was;
    char at[25];
    *again = false;
    cw_code code = cw_source_find(in->db, cw_kinds[file->kind].name, file->digest, &found, &was, err);
    if (code != CW_OK || !found)
        return code;
    file->source = was.id;
    code = cw_source_stands(in->db, file->source, again, err);
    cw_instant_format(was.at, at);
    if (*again)
        snprintf(file->note, sizeof file->note,
                 "loaded before, as %s on %.10s at %.5s UTC: nothing was added", was.name, at, at + 11);
    return code;
}

static cw_code record_source(cw_intake *in, cw_taken *file, cw_error *err)
{
    if (file->source != 0)
        return CW_OK;
    cw_source_row row = {
        cw_kinds[file->kind].name, file->base, file->digest, file->rows, in->who->actor, in->who->now
    };
    return cw_source_add(in->db, &row, &file->source, err);
}

static cw_code insert_past(cw_intake *in, const cw_taken *file, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = in->fact_first; i < in->fact_count && code == CW_OK; i++) {
        const cw_history_fact *h = &in->facts[i].is.history;
        const cw_past_checks_fact *c = &in->facts[i].is.past_checks;
        const int64_t *shrivelled = in->facts[i].nulls & BIT(past_checks, shrivelled) ? NULL : &c->shrivelled;
        if (file->kind == CW_HISTORY)
            code = cw_past_add_divided(in->db, h->season, h->variety, h->clumps, h->divisions, file->source,
                                       err);
        else
            code =
                cw_past_add_check(in->db,
                                  &(cw_past_check_row){ .season = c->season,
                                                        .variety = c->variety,
                                                        .stage = c->stage == DIVISION ? "division" : "clump",
                                                        .weeks = (double)c->weeks / 10000,
                                                        .inspected = c->inspected,
                                                        .rotten = c->rotten,
                                                        .shrivelled = shrivelled,
                                                        .source = file->source },
                                  err);
    }
    return code;
}

cw_code cw_intake_facts_end(cw_intake *in, cw_error *err)
{
    cw_taken *file = &in->files[in->current];
    long known = 0, recorded = 0, rows = (long)(in->fact_count - in->fact_first);
    bool again = false;
    if (rows == 0 || in->errors->count > 0)
        return CW_OK;
    digest_of(in, file, file->digest);
    cw_code code = loaded_before(in, file, &again, err);
    if (code == CW_OK && !again)
        code = count_known(in, file, &known, &recorded, err);
    if (code != CW_OK)
        return code;
    if (again) {
        known = rows;
        in->fact_count = in->fact_first;
    } else if (known > 0 && known == recorded) {
        code = time_known(in, file, &file->changed, err);
        drop_known(in);
        snprintf(file->note, sizeof file->note, "%ld rows are all that is on record: %s", known,
                 file->changed ? "only their minutes were taken" : "they were passed over");
    } else if (known > 0) {
        snprintf(file->note, sizeof file->note,
                 "%ld rows equal rows on record and were added again: is part of it known?", known);
        known = 0;
    }
    file->made = rows - known;
    file->unchanged = known - file->changed;
    if (file->made == 0 || code != CW_OK)
        return code;
    code = record_source(in, file, err);
    if (code == CW_OK && !of_lot(file->kind)) {
        code = insert_past(in, file, err);
        in->fact_count = in->fact_first;
    }
    in->fact_first = in->fact_count;
    return code;
}

typedef struct ordered {
    int64_t day;
    int rank;
    size_t index;
} ordered;

static int by_day(const void *a, const void *b)
{
    const ordered *x = a, *y = b;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    if (x->rank != y->rank)
        return x->rank < y->rank ? -1 : 1;
    return x->index < y->index ? -1 : x->index > y->index;
}

static cw_code enter(cw_intake *in, const cw_fact *f, cw_error *err)
{
    static const char *const stages[] = { "clump", "division" }, *const reasons[] = { "round", "suspicion" };
    const int64_t *source = in->files[f->file].source ? &in->files[f->file].source : NULL;
    const cw_checks_fact *c = &f->is.checks;
    const cw_counts_fact *t = &f->is.counts;
    cw_dividing_row cut;
    switch (in->files[f->file].kind) {
    case CW_DIVISIONS:
        cut = session(f, source);
        return cw_stock_divide(in->n, in->who, &cut, &in->last_id, err);
    case CW_CHECKS:
        return cw_stock_check(
            in->n, in->who,
            &(cw_check_row){ .lot = c->lot,
                             .day = (cw_day)c->checked_on,
                             .stage = stages[c->stage],
                             .inspected = c->inspected,
                             .rotten = c->rotten,
                             .shrivelled = f->nulls & BIT(checks, shrivelled) ? NULL : &c->shrivelled,
                             .why = f->nulls & BIT(checks, why) ? NULL : reasons[c->why],
                             .source = source },
            &in->last_id, err);
    default:
        assert(in->files[f->file].kind == CW_COUNTS);
        return cw_stock_count(in->n, in->who,
                              &(cw_count_row){ .lot = t->lot,
                                               .day = (cw_day)t->counted_on,
                                               .stage = stages[t->stage],
                                               .count = t->count,
                                               .place = f->nulls & BIT(counts, place) ? NULL : &t->place,
                                               .looked = f->nulls & BIT(counts, looked) ? NULL : &t->looked,
                                               .source = source },
                              &in->last_id, err);
    }
}

/* A refusal of the ledger gets the place of the row that brought it about. */
static void place_error(cw_intake *in, const cw_fact *f, cw_code code, const cw_error *why)
{
    cw_error e = CW_ERROR_NONE;
    cw_error_at(&e, code, in->files[f->file].base, f->line, why->column, "%s", why->text);
    cw_error_list_add(in->errors, &e);
}

cw_code cw_intake_facts_enter(cw_intake *in, cw_error *err)
{
    ordered *order = calloc(in->fact_count ? in->fact_count : 1, sizeof *order);
    cw_code code = order ? CW_OK : cw_error_memory(err);
    for (size_t i = 0; code == CW_OK && i < in->fact_count; i++)
        order[i] = (ordered){ in->facts[i].is.v[DAY], rank(in, &in->facts[i]), i };
    if (code == CW_OK)
        qsort(order, in->fact_count, sizeof *order, by_day);
    for (size_t i = 0; code == CW_OK && i < in->fact_count; i++) {
        const cw_fact *f = &in->facts[order[i].index];
        cw_error why = CW_ERROR_NONE;
        cw_code one = enter(in, f, &why);
        if (one == CW_MACHINE)
            code = cw_error_set(err, one, "%s", why.text);
        else if (one != CW_OK)
            place_error(in, f, one, &why);
        if (code == CW_OK && i % CW_TELL_EVERY == 0)
            code = cw_asker_tell(in->who, "entering the ledger", i, in->fact_count, err);
    }
    free(order);
    return code;
}
