/* SPDX-License-Identifier: MIT */
#include "desk/cellar/cellar.h"

#include "base/json.h"
#include "base/limits.h"
#include "desk/nursery/nursery_inside.h"
#include "model/air.h"
#include "store/cellar.h"
#include "store/rows.h"
#include <string.h>

#include "base/banned.h"

/* What lies where, and how it got there. Reads only. */

#define WIDTH(columns) (columns), CW_WIDTH(columns)

static const cw_column cellar_lots_columns[] = {
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "row", CW_TEXT_T, .null = true },
    { "dug_on", CW_DAY_T },
    { "dug", CW_INT_T },
    { "culled", CW_INT_T },
    { "clumps", CW_INT_T },
    { "divisions", CW_INT_T },
    { "places", CW_TEXT_T },
    { "last_checked", CW_DAY_T, .null = true },
    { "held", CW_TEXT_T, .null = true },
};
const cw_shape cw_cellar_lots_shape = CW_ROWS(cellar_lots_columns);

cw_code cw_cellar_lots(cw_nursery *n, const char *variety, cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(cellar_lots_columns));
    return cw_rows_fill(n->db, "cellar.lots", out, err, "t", variety);
}

static const cw_column cellar_places_columns[] = {
    { "place", CW_TEXT_T }, { "room", CW_TEXT_T },  { "walk_order", CW_INT_T },
    { "lots", CW_INT_T },   { "clumps", CW_INT_T }, { "divisions", CW_INT_T },
};
const cw_shape cw_cellar_places_shape = CW_ROWS(cellar_places_columns);

cw_code cw_cellar_places(cw_nursery *n, cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(cellar_places_columns));
    return cw_rows_fill(n->db, "cellar.places", out, err, "");
}

static const cw_column movement_columns[] = {
    { "id", CW_INT_T },
    { "at", CW_INSTANT_T },
    { "day", CW_DAY_T },
    { "actor", CW_TEXT_T },
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "place", CW_TEXT_T, .null = true },
    { "clumps", CW_INT_T },
    { "divisions", CW_INT_T },
    { "reason", CW_TEXT_T },
    { "cause", CW_TEXT_T },
    { "cause_id", CW_INT_T },
    { "reverses", CW_INT_T, .null = true },
    { "note", CW_TEXT_T, .null = true },
};

const cw_shape cw_cellar_movements_shape = CW_ROWS(movement_columns);

cw_code cw_cellar_movements(cw_nursery *n, cw_day from, cw_day to, cw_table *out, cw_error *err)
{
    cw_table_init(out, WIDTH(movement_columns));
    return cw_rows_fill(n->db, "cellar.movements", out, err, "ii", (int64_t)from, (int64_t)to);
}

/* Sets a list into the document, if all went well so far, and frees it. */
static cw_code set_list(cw_code code, cw_table *t, const char *name, json_t *doc, cw_error *err)
{
    if (code == CW_OK && json_object_set_new(doc, name, cw_table_to_json(t)) != 0)
        code = cw_error_memory(err);
    cw_table_free(t);
    return code;
}

static const cw_column balance_columns[] = {
    { "place", CW_TEXT_T, .null = true },
    { "room", CW_TEXT_T, .null = true },
    { "clumps", CW_INT_T },
    { "divisions", CW_INT_T },
};
static const cw_column session_columns[] = {
    { "id", CW_INT_T },
    { "day", CW_DAY_T },
    { "clumps", CW_INT_T },
    { "rotten", CW_INT_T },
    { "saleable", CW_INT_T },
    { "blind", CW_INT_T },
    { "place", CW_TEXT_T, .null = true },
    { "minutes", CW_INT_T, .null = true },
    { "people", CW_INT_T, .null = true },
    { "undone", CW_BOOL_T },
};
static const cw_column check_columns[] = {
    { "id", CW_INT_T },
    { "day", CW_DAY_T },
    { "stage", CW_TEXT_T, .words = cw_words_stages },
    { "inspected", CW_INT_T },
    { "rotten", CW_INT_T },
    { "shrivelled", CW_INT_T, .null = true },
    { "why", CW_TEXT_T, .null = true, .words = cw_words_check_reasons },
    { "undone", CW_BOOL_T },
};
static const cw_column count_columns[] = {
    { "id", CW_INT_T },      { "day", CW_DAY_T },   { "stage", CW_TEXT_T, .words = cw_words_stages },
    { "before", CW_INT_T },  { "count", CW_INT_T }, { "place", CW_TEXT_T, .null = true },
    { "undone", CW_BOOL_T },
};
static const cw_column split_columns[] = {
    { "id", CW_INT_T },
    { "day", CW_DAY_T },
    { "lot", CW_TEXT_T, .says = "the other lot" },
    { "variety", CW_TEXT_T, .says = "of that one" },
    { "came", CW_BOOL_T,
      .says = "this lot was a part of the other one; else the other one is a part of this" },
    { "clumps", CW_INT_T },
    { "divisions", CW_INT_T },
    { "undone", CW_BOOL_T },
};
static const cw_shape splits_shape = CW_ROWS(split_columns);
static const cw_shape balances_shape = CW_ROWS(balance_columns), sessions_shape = CW_ROWS(session_columns),
                      checks_shape = CW_ROWS(check_columns), counts_shape = CW_ROWS(count_columns);

/* The parts of a lot's sheet that are lists. */
static const struct {
    const char *name, *statement;
    const cw_shape *rows;
} sheet[] = {
    { "balances", "cellar.balances", &balances_shape },
    { "sessions", "cellar.sessions", &sessions_shape },
    { "checks", "cellar.checks", &checks_shape },
    { "counts", "cellar.counts", &counts_shape },
    { "movements", "cellar.movements_of_lot", &cw_cellar_movements_shape },
    { "splits", "splitting.of_lot", &splits_shape },
};

static const cw_column lot_columns[] = {
    { "id", CW_INT_T },
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "row", CW_TEXT_T, .null = true },
    { "dug_on", CW_DAY_T },
    { "dug", CW_INT_T },
    { "culled", CW_INT_T },
    { "place", CW_TEXT_T, .null = true },
    { "held", CW_TEXT_T, .null = true },
};

static const cw_shape head_shape = CW_ROW(lot_columns);
const cw_shape cw_cellar_lot_shape = { .parts = (const cw_part[]){
                                           { "lot", .shape = &head_shape },
                                           { "balances", .shape = &balances_shape },
                                           { "sessions", .shape = &sessions_shape },
                                           { "checks", .shape = &checks_shape },
                                           { "counts", .shape = &counts_shape },
                                           { "movements", .shape = &cw_cellar_movements_shape },
                                           { "splits", .shape = &splits_shape },
                                           { 0 },
                                       } };

cw_code cw_cellar_lot(cw_nursery *n, const char *lot, json_t **out, cw_error *err)
{
    cw_table head;
    char shown[80];
    *out = NULL;
    json_t *doc = json_object();
    cw_table_init(&head, WIDTH(lot_columns));
    cw_code code = cw_rows_fill(n->db, "cellar.lot", &head, err, "t", lot);
    if (code == CW_OK && cw_table_rows(&head) == 0)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lot", "there is no such lot: %s",
                           cw_shown(lot, strlen(lot), shown));
    int64_t id = code == CW_OK ? cw_table_int(&head, 0, 0) : 0;
    if (code == CW_OK) {
        json_t *rows = cw_table_to_json(&head);
        if (json_object_set(doc, "lot", json_array_get(rows, 0)) != 0)
            code = cw_error_memory(err);
        json_decref(rows);
    }
    for (size_t i = 0; code == CW_OK && i < sizeof sheet / sizeof sheet[0]; i++) {
        cw_table t;
        cw_table_init(&t, sheet[i].rows->columns, sheet[i].rows->width);
        code = cw_rows_fill(n->db, sheet[i].statement, &t, err, "i", id);
        code = set_list(code, &t, sheet[i].name, doc, err);
    }
    cw_table_free(&head);
    if (code == CW_OK)
        *out = doc;
    else
        json_decref(doc);
    return code;
}

typedef struct rooms {
    json_t *list;
    const char **chosen; /* the first, if none was asked for */
    char *keep;
} rooms;

static void put_room(void *context, const char *room)
{
    rooms *r = context;
    if (*r->chosen == NULL) {
        cw_copy(r->keep, CW_MAX_NAME + 1, room);
        *r->chosen = r->keep;
    }
    cw_json_append_take(&r->list, json_string(room));
}

static cw_code set_rooms(cw_nursery *n, const char **room, char keep[CW_MAX_NAME + 1], json_t *doc,
                         cw_error *err)
{
    rooms r = { json_array(), room, keep };
    cw_code code = cw_air_rooms(n->db, put_room, &r, err);
    if (json_object_set_new(doc, "rooms", r.list) != 0 ||
        json_object_set_new(doc, "room", *room ? json_string(*room) : json_null()) != 0)
        code = cw_error_memory(err);
    return code;
}

static const cw_column point_columns[] = {
    { "at", CW_INSTANT_T },
    { "temp_c", CW_REAL_T, 2 },
    { "rh", CW_REAL_T, 2 },
    { "vpd_pa", CW_REAL_T, 1 },
};
static const cw_shape points_shape = CW_ROWS(point_columns);

static void put_point(void *context, cw_instant at, double temp_c, double rh)
{
    cw_table *t = context;
    cw_put_int(t, at);
    cw_put_real(t, temp_c);
    cw_put_real(t, rh);
    cw_put_real(t, cw_air_vpd_pa(temp_c, rh));
}

static cw_code set_points(cw_nursery *n, const char *room, json_t *doc, cw_error *err)
{
    cw_table t;
    cw_table_init(&t, WIDTH(point_columns));
    cw_code code = cw_air_points(n->db, room, put_point, &t, err);
    if (code == CW_OK)
        code = cw_table_check(&t, err);
    return set_list(code, &t, "points", doc, err);
}

static const cw_column weighing_columns[] = {
    { "sample", CW_TEXT_T }, { "lot", CW_TEXT_T }, { "day", CW_DAY_T }, { "kg", CW_REAL_T, 4 }
};
static const cw_shape weighings_shape = CW_ROWS(weighing_columns);
const cw_shape cw_cellar_air_shape = { .parts = (const cw_part[]){
                                           { "rooms", .shape = &cw_shape_texts },
                                           { "room", CW_TEXT_T, .null = true },
                                           { "points", .shape = &points_shape },
                                           { "weighings", .shape = &weighings_shape },
                                           { 0 },
                                       } };

cw_code cw_cellar_air(cw_nursery *n, const char *room, json_t **out, cw_error *err)
{
    char keep[CW_MAX_NAME + 1];
    cw_table weighings;
    json_t *doc = json_object();
    *out = NULL;
    cw_code code = set_rooms(n, &room, keep, doc, err);
    if (code == CW_OK)
        code = set_points(n, room, doc, err);
    cw_table_init(&weighings, WIDTH(weighing_columns));
    if (code == CW_OK)
        code = cw_rows_fill(n->db, "cellar.weighings", &weighings, err, "t", room);
    code = set_list(code, &weighings, "weighings", doc, err);
    if (code == CW_OK)
        *out = doc;
    else
        json_decref(doc);
    return code;
}
