/* SPDX-License-Identifier: MIT */
/* What stands in each row, and what was dug. Reads only. */
#include "base/grow.h"
#include "base/map.h"
#include "base/text.h"
#include "desk/field/field.h"
#include "desk/nursery/nursery_inside.h"
#include "model/stand.h"
#include "store/field.h"
#include "store/rows.h"
#include <stdlib.h>

#include "base/banned.h"

#define WIDTH(columns) (columns), CW_WIDTH(columns)

static const cw_column rows_columns[] = {
    { "planting", CW_INT_T },
    { "row", CW_TEXT_T, .null = true },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "plants", CW_INT_T },
    { "planted_on", CW_DAY_T },
    { "lot", CW_TEXT_T, .null = true, .says = "the lot that they came from" },
    { "spacing_cm", CW_INT_T, .null = true },
    { "standing", CW_INT_T },
    { "dug", CW_INT_T },
    { "culled", CW_INT_T },
    { "rogued", CW_INT_T },
    { "dead", CW_INT_T },
    { "walked_on", CW_DAY_T, .null = true },
    { "walked_by", CW_TEXT_T, .null = true },
    { "dug_on", CW_DAY_T, .null = true },
    { "taken_by", CW_TEXT_T, .null = true },
    { "loose", CW_BOOL_T, .says = "lots of the variety were dug of no planting" },
};
const cw_shape cw_field_rows_shape = CW_ROWS(rows_columns);

/* All events of all plantings, found again by planting. */
typedef struct found {
    int64_t planting;
    cw_stand_event event;
} found;

typedef struct book {
    found *at;
    size_t n, room;
    cw_stand_event *of_one;
    cw_map first; /* planting -> its first event + 1: they stand together */
    cw_table *out;
    bool failed;
} book;

static void take_event(void *context, int64_t planting, bool dug, int64_t id, cw_day day, int64_t a,
                       int64_t b)
{
    book *k = context;
    bool is_new = false;
    int64_t *first = cw_map_put(&k->first, &planting, sizeof planting, &is_new);
    if (first == NULL || !cw_grow(&k->at, k->n, &k->room, sizeof *k->at)) {
        k->failed = true;
        return;
    }
    if (is_new)
        *first = (int64_t)k->n + 1;
    k->at[k->n++] = (found){ planting,
                             { .day = day,
                               .dug = dug,
                               .alive = dug ? 0 : a,
                               .rogued = dug ? 0 : b,
                               .clumps = dug ? a : 0,
                               .culled = dug ? b : 0,
                               .id = id } };
}

static cw_stand stand_of(const book *k, const cw_field_listed *p)
{
    cw_stand s;
    const int64_t *first = cw_map_get(&k->first, &p->id, sizeof p->id);
    size_t n = 0;
    for (size_t i = first ? (size_t)*first - 1 : k->n; i < k->n && k->at[i].planting == p->id; i++)
        k->of_one[n++] = k->at[i].event;
    cw_stand_sort(k->of_one, n);
    cw_stand_play(p->plants, k->of_one, n, &s);
    return s;
}

static void put_day(cw_table *t, cw_day day)
{
    if (day == CW_NO_DAY)
        cw_put_null(t);
    else
        cw_put_int(t, day);
}

static void put_known(cw_table *t, const char *text)
{
    cw_put_text(t, text[0] ? text : NULL);
}

static void take_planting(void *context, const cw_field_listed *p)
{
    book *k = context;
    cw_table *t = k->out;
    cw_stand s = stand_of(k, p);
    cw_put_int(t, p->id);
    put_known(t, p->row);
    cw_put_text(t, p->variety);
    cw_put_text(t, p->name);
    cw_put_int(t, p->plants);
    cw_put_int(t, p->planted_on);
    put_known(t, p->lot);
    if (p->spacing_cm < 0)
        cw_put_null(t);
    else
        cw_put_int(t, p->spacing_cm);
    cw_put_int(t, s.standing);
    cw_put_int(t, s.dug);
    cw_put_int(t, s.culled);
    cw_put_int(t, s.rogued);
    cw_put_int(t, s.dead);
    put_day(t, s.walked);
    put_known(t, p->walked_by);
    put_day(t, s.last_dug);
    put_known(t, p->taken_by);
    cw_put_bool(t, p->loose);
}

cw_code cw_field_rows(cw_nursery *n, cw_table *out, cw_error *err)
{
    book k = { .out = out };
    cw_table_init(out, WIDTH(rows_columns));
    cw_code code = cw_field_all_events(n->db, take_event, &k, err);
    if (code == CW_OK && (k.failed || (k.of_one = calloc(k.n + 1, sizeof *k.of_one)) == NULL))
        code = cw_error_memory(err);
    if (code == CW_OK)
        code = cw_field_list(n->db, take_planting, &k, err);
    free(k.at);
    free(k.of_one);
    cw_map_free(&k.first);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_column dug_columns[] = {
    { "cause_id", CW_INT_T }, { "lot", CW_TEXT_T },   { "row", CW_TEXT_T, .null = true },
    { "variety", CW_TEXT_T }, { "name", CW_TEXT_T },  { "dug_on", CW_DAY_T },
    { "clumps", CW_INT_T },   { "culled", CW_INT_T }, { "place", CW_TEXT_T, .null = true },
    { "by", CW_TEXT_T },
};
const cw_shape cw_field_dug_shape = CW_ROWS(dug_columns);

cw_code cw_field_dug(cw_nursery *n, cw_day from, cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(dug_columns));
    return cw_rows_fill(n->db, "field.dug", out, err, "i", (int64_t)from);
}
