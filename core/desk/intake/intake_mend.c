/* SPDX-License-Identifier: MIT */
/* Rows that somebody typed, changed and deleted in a grid, taken together. */
#include "desk/intake/intake_inside.h"

#include "base/text.h"
#include "desk/nursery/roles_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/stock.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST_ROWS 20000

static const cw_column mend_columns[] = {
    { "rows", CW_INT_T },
    { "note", CW_TEXT_T, .null = true, .says = "What wants to be known of them all the same." },
};
const cw_shape cw_intake_mend_shape = CW_ROWS(mend_columns);

static json_t *make_row(void)
{
    return json_pack("{s:[s,s],s:{s:s}}", "type", "object", "null", "additionalProperties", "type", "string");
}
static const cw_shape row_shape = { .make = make_row };
static const cw_shape changes_shape = {
    .list = true,
    .parts =
        (const cw_part[]){
            { "was", .shape = &row_shape, .says = "As it was seen, column by column; null: it is new." },
            { "now", .shape = &row_shape, .says = "As it shall be; null: it goes." },
            { 0 },
        }
};
const cw_shape cw_intake_mends_shape = { .parts = (const cw_part[]){ { "rows", .shape = &changes_shape },
                                                                     { 0 } } };

typedef struct cw_mending {
    cw_intake in;
    cw_row row;
    const json_t *rows;
    size_t at; /* index of the row under way */
} cw_mending;

static const json_t *half(const cw_mending *m, size_t i, const char *name)
{
    const json_t *v = json_object_get(json_array_get(m->rows, i), name);
    return json_is_object(v) ? v : NULL;
}

static const char *cell(const json_t *half, const char *name)
{
    const char *s = json_string_value(json_object_get(half, name));
    return s ? s : "";
}

/* Goes a row off as it was and in as it is? One without a key always does. */
static bool is_another(const cw_kind *kind, const json_t *was, const json_t *now)
{
    for (size_t c = 0; c < kind->width; c++)
        if (kind->columns[c].key &&
            strcmp(cell(was, kind->columns[c].name), cell(now, kind->columns[c].name)) != 0)
            return true;
    return !cw_kind_keyed(kind);
}

static bool is_renamed(const cw_mending *m, size_t i)
{
    const json_t *was = half(m, i, "was"), *now = half(m, i, "now");
    return m->row.kind == &cw_kinds[CW_PLACES] && was && now && is_another(m->row.kind, was, now);
}

static cw_code check_half(const cw_kind *kind, const json_t *v, long row, cw_error *err)
{
    const char *name;
    char shown[80];
    json_t *text;
    if (v == NULL || json_is_null(v))
        return CW_OK;
    if (!json_is_object(v))
        return cw_error_at(err, CW_REFUSED, NULL, row, NULL, "was and now must be objects or null");
    json_object_foreach((json_t *)(uintptr_t)v, name, text)
    {
        bool known = false;
        for (size_t c = 0; c < kind->width; c++)
            known = known || strcmp(kind->columns[c].name, name) == 0;
        if (!known)
            return cw_error_at(err, CW_REFUSED, NULL, row, NULL, "there is no such column: %s",
                               cw_shown(name, strlen(name), shown));
        if (!json_is_string(text))
            return cw_error_at(err, CW_REFUSED, NULL, row, name, "must be a text");
    }
    return CW_OK;
}

static cw_code check_rows(const cw_kind *kind, const json_t *rows, cw_error *err)
{
    size_t i;
    json_t *v;
    if (!json_is_array(rows) || json_array_size(rows) > MOST_ROWS)
        return cw_error_set(err, CW_REFUSED, "rows must be a list of at most %d", MOST_ROWS);
    json_array_foreach((json_t *)(uintptr_t)rows, i, v)
    {
        cw_code code = check_half(kind, json_object_get(v, "was"), (long)i + 1, err);
        if (code == CW_OK)
            code = check_half(kind, json_object_get(v, "now"), (long)i + 1, err);
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}

/* Reads one half of a row by the kind's columns. */
static cw_code say(cw_mending *m, const json_t *half, cw_error *err)
{
    cw_code code = CW_OK;
    cw_row_begin(&m->row);
    m->row.line = (long)m->at + 1;
    m->row.fresh = false;
    for (size_t c = 0; code == CW_OK && c < m->row.kind->width; c++) {
        const json_t *v = json_object_get(half, m->row.kind->columns[c].name);
        const cw_saying s = { .t = json_string_value(v), .n = json_string_length(v) };
        code = cw_row_say(&m->in, &m->row, c, v ? &s : NULL, err);
    }
    return code;
}

/* Out of the way, so that places may get each other's names: no code that can be typed holds a control character. */
static cw_code move_aside(cw_mending *m, const char *from, char as[40], cw_error *err)
{
    snprintf(as, 40, "\x01%zu", m->at);
    return from ? cw_stock_place_rename(m->in.db, from, as, err) : CW_OK;
}

/* What was: is it still so, and does it go? */
static cw_code take_was(cw_mending *m, cw_error *err)
{
    const json_t *was = half(m, m->at, "was"), *now = half(m, m->at, "now");
    char aside[40];
    if (was == NULL)
        return CW_OK;
    cw_code code = say(m, was, err);
    if (code == CW_OK && cw_kind_keyed(m->row.kind))
        code = cw_intake_stands(&m->in, &m->row, err);
    if (code != CW_OK || m->row.bad || m->row.quiet)
        return code;
    if (is_renamed(m, m->at))
        return move_aside(m, m->row.is.places.place.t, aside, err);
    return now == NULL || is_another(m->row.kind, was, now) ? cw_intake_off(&m->in, &m->row, err) : CW_OK;
}

/* The row has been read as it shall be. */
static cw_code name_place(cw_mending *m, cw_error *err)
{
    const char *from = cell(half(m, m->at, "was"), "place"), *to = m->row.is.places.place.t;
    const cw_asker *who = m->in.who;
    char aside[40], shown[80];
    bool taken = false;
    cw_code code = cw_stock_place_known(m->in.db, to, &taken, err);
    if (code == CW_OK && taken) {
        cw_row_clash(&m->in, &m->row, CW_AT(places, place), "another place has this code: %s",
                     cw_shown(to, strlen(to), shown));
        return CW_OK;
    }
    if (code == CW_OK)
        code = move_aside(m, NULL, aside, err);
    if (code == CW_OK)
        code = cw_stock_place_rename(m->in.db, aside, to, err);
    m->in.files[0].changed++;
    return code == CW_OK ? cw_audit_add(m->in.db, who->now, who->actor, "rename place", from, from, to, err)
                         : code;
}

static cw_code take_now(cw_mending *m, cw_error *err)
{
    const json_t *was = half(m, m->at, "was"), *now = half(m, m->at, "now");
    if (now == NULL)
        return CW_OK;
    cw_code code = say(m, now, err);
    const bool renamed = is_renamed(m, m->at);
    m->row.fresh = !renamed && (was == NULL || is_another(m->row.kind, was, now));
    if (code == CW_OK && renamed && !m->row.bad && !m->row.quiet)
        code = name_place(m, err);
    if (code != CW_OK)
        return code;
    return cw_kind_keyed(m->row.kind) ? cw_intake_plain(&m->in, &m->row, err)
                                      : cw_intake_fact(&m->in, &m->row, err);
}

/* What is wrong of what was is told alone: what shall be would only complain of the same again. */
static cw_code take_all(cw_mending *m, cw_error *err)
{
    cw_code code = CW_OK;
    const size_t rows = json_array_size(m->rows);
    for (m->at = 0; code == CW_OK && m->at < rows; m->at++)
        code = take_was(m, err);
    if (code == CW_OK && m->in.errors->count > 0)
        return cw_intake_listed(m->in.errors, err);
    for (m->at = 0; code == CW_OK && m->at < rows; m->at++)
        code = take_now(m, err);
    if (code == CW_OK)
        code = cw_intake_kind_end(&m->in, m->row.kind, err);
    if (code == CW_OK && m->in.errors->count == 0)
        code = cw_intake_field_end(&m->in, err);
    return code == CW_OK && m->in.errors->count > 0 ? cw_intake_listed(m->in.errors, err) : code;
}

static cw_code close_books(cw_mending *m, cw_error *err)
{
    const cw_taken *t = &m->in.files[0];
    const cw_asker *who = m->in.who;
    char after[120];
    if (t->made + t->changed == 0)
        return CW_OK;
    snprintf(after, sizeof after, "%zu rows: %ld new, %ld changed or removed", json_array_size(m->rows),
             t->made, t->changed);
    cw_code code = cw_audit_add(m->in.db, who->now, who->actor, "mend", m->row.kind->name, NULL, after, err);
    return code == CW_OK ? cw_season_touch(m->in.db, m->row.kind->raises & CW_RAISES_STOCK,
                                           m->row.kind->raises & CW_RAISES_TRADE, err)
                         : code;
}

static cw_code mend(cw_mending *m, cw_table *answer, cw_error *err)
{
    cw_code code = cw_work_begin(m->in.n, err);
    if (code != CW_OK)
        return code;
    code = take_all(m, err);
    if (code == CW_OK)
        code = close_books(m, err);
    cw_put_int(answer, (int64_t)json_array_size(m->rows));
    cw_put_text(answer, m->in.files[0].note[0] ? m->in.files[0].note : NULL);
    if (code == CW_OK)
        code = cw_table_check(answer, err);
    return cw_work_end(m->in.n, code, err);
}

cw_code cw_intake_mend(cw_nursery *n, const cw_asker *who, const char *kind, const json_t *rows,
                       cw_table *answer, cw_error_list *errors, cw_error *err)
{
    const int id = cw_kind_named(kind);
    char shown[80];
    cw_table_init(answer, mend_columns, CW_WIDTH(mend_columns));
    if (id < 0)
        return cw_error_set(err, CW_NOT_FOUND, "there is no such kind of row: %s",
                            cw_shown(kind, strlen(kind), shown));
    if (id == CW_HOLDS || id == CW_TRACKING)
        return cw_error_set(err, CW_REFUSED, "%s are not mended in a grid: %s",
                            id == CW_HOLDS ? "holds" : "tracking numbers",
                            id == CW_HOLDS ? "they are set and lifted with the ship weeks"
                                           : "a parcel's own page puts them right");
    if (id == CW_DIVISIONS || id == CW_CHECKS || id == CW_COUNTS || id == CW_ORDERS)
        return cw_error_set(err, CW_REFUSED, "%s are not mended in a grid: %s", cw_kinds[id].name,
                            id == CW_ORDERS ? "the order desk changes them"
                                            : "the cellar enters and undoes them");
    cw_taken form = { .name = cw_kinds[id].name, .kind = id };
    cw_copy(form.base, sizeof form.base, cw_kinds[id].name);
    cw_asker quiet = *who;
    quiet.progress = NULL;
    cw_mending m = { .in = { .n = n,
                             .db = n->db,
                             .who = &quiet,
                             .codes = { .db = n->db },
                             .grid = true,
                             .errors = errors,
                             .files = &form,
                             .file_count = 1 },
                     .row = { .kind = &cw_kinds[id] },
                     .rows = rows };
    cw_code code = cw_office_only(who, "mend what is on record", err);
    if (code == CW_OK)
        code = check_rows(m.row.kind, rows, err);
    if (code == CW_OK)
        code = cw_season_look(n, err);
    if (code == CW_OK)
        code = mend(&m, answer, err);
    cw_map_free(&m.in.seen);
    cw_codes_free(&m.in.codes);
    free(m.in.facts);
    free(m.in.touched);
    return code;
}
