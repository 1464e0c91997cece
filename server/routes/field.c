/* SPDX-License-Identifier: MIT */
/* The field: rows, walks, digging; and what is left at the season's end. */
#include "http/route.h"

#include "desk/field/field.h"
#include "desk/field/left.h"
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define AT(member) offsetof(cw_field_entry, member)

static const cw_member walk_shape[] = {
    { "row", CW_TEXT_T, AT(row), true, 0, CW_MAX_CODE, NULL },
    { "variety", CW_TEXT_T, AT(variety), false, 0, CW_MAX_CODE,
      .says = "Needed where the row holds several." },
    { "seen_on", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "alive", CW_INT_T, AT(alive), true, 0, CW_MAX_CLUMPS, NULL },
    { "rogued", CW_INT_T, AT(rogued), false, 0, CW_MAX_CLUMPS, .says = "Of those alive, taken out." },
    { "reason", CW_TEXT_T, AT(reason), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_member dug_shape[] = {
    { "row", CW_TEXT_T, AT(row), true, 0, CW_MAX_CODE, NULL },
    { "variety", CW_TEXT_T, AT(variety), false, 0, CW_MAX_CODE,
      .says = "Needed where the row holds several." },
    { "lot", CW_TEXT_T, AT(lot), false, 0, CW_MAX_CODE,
      .says = "The tag's code; not said: the row's, numbered." },
    { "dug_on", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "clumps", CW_INT_T, AT(clumps), true, 0, CW_MAX_CLUMPS, NULL },
    { "culled", CW_INT_T, AT(culled), false, 0, CW_MAX_CLUMPS, NULL },
    { "place", CW_TEXT_T, AT(place), false, 0, CW_MAX_CODE, NULL },
    { "done", CW_TEXT_T, AT(done), false, 0, 0, cw_words_yes_no,
      .says = "Nothing of the row is left to dig." },
    { 0 },
};

static const cw_member planting_shape[] = {
    { "row", CW_TEXT_T, AT(row), true, 0, CW_MAX_CODE, NULL },
    { "variety", CW_TEXT_T, AT(variety), true, 0, CW_MAX_CODE, NULL },
    { "plants", CW_INT_T, AT(plants), true, 1, CW_MAX_CLUMPS, NULL },
    { "planted_on", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "lot", CW_TEXT_T, AT(lot), false, 0, CW_MAX_CODE,
      .says = "The lot they came from, also of a past season." },
    { "spacing_cm", CW_INT_T, AT(spacing_cm), false, 1, 1000, NULL },
    { 0 },
};

typedef cw_code (*entering)(cw_nursery *, const cw_asker *, const cw_field_entry *, cw_table *, cw_error *);

static cw_code enter(cw_request *q, cw_nursery *n, entering desk, cw_error *err)
{
    cw_field_entry e = CW_FIELD_ENTRY;
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &e, err);
    if (code == CW_OK)
        code = desk(n, cw_request_asker(q), &e, &t, err);
    return cw_reply_table_take(q, code, 201, &t, err);
}

static const cw_contract contract_field_walk = {
    .says = "A walk that counts the plants of a row.",
    .body = walk_shape,
    .answer = &cw_field_entered_shape,
    .status = 201,
};

static cw_code route_field_walk(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_field_walk, err);
}

static const cw_contract contract_field_dig = {
    .says = "Clumps dug of a row: they become a lot.",
    .body = dug_shape,
    .answer = &cw_field_entered_shape,
    .status = 201,
};

static cw_code route_field_dig(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_field_dig, err);
}

static const cw_contract contract_field_plant = {
    .says = "Plants set out in a row, to be dug this season.",
    .body = planting_shape,
    .answer = &cw_field_entered_shape,
    .status = 201,
};

static cw_code route_field_plant(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_field_plant, err);
}

struct name_body {
    int64_t planting;
    const char *row, *variety, *take, *cause, *why;
    int64_t cause_id;
};
static const cw_member name_shape[] = {
    { "planting", CW_INT_T, offsetof(struct name_body, planting), true, 1, 1e15, NULL },
    { "row", CW_TEXT_T, offsetof(struct name_body, row), true, 0, CW_MAX_CODE, NULL },
    { 0 },
};

static const cw_contract contract_field_name_row = {
    .says = "Say in which row a planting stands of which nobody has said it.",
    .body = name_shape,
    .answer = &cw_field_entered_shape,
    .status = 201,
};

static cw_code route_field_name_row(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct name_body b = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_field_name_row(n, cw_request_asker(q), b.planting, b.row, &t, err);
    return cw_reply_table_take(q, code, 201, &t, err);
}

static const cw_member take_shape[] = {
    { "row", CW_TEXT_T, offsetof(struct name_body, row), true, 0, CW_MAX_CODE, NULL },
    { "variety", CW_TEXT_T, offsetof(struct name_body, variety), false, 0, CW_MAX_CODE, NULL },
    { "take", CW_TEXT_T, offsetof(struct name_body, take), true, 0, 0, cw_words_yes_no },
    { 0 },
};

static const cw_contract contract_field_take = {
    .says = "Say that you work a row, or leave it: the others see it.",
    .body = take_shape,
    .answer = &cw_field_entered_shape,
    .status = 201,
};

static cw_code route_field_take(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct name_body b = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code =
            cw_field_take_row(n, cw_request_asker(q), b.row, b.variety, strcmp(b.take, "yes") == 0, &t, err);
    return cw_reply_table_take(q, code, 201, &t, err);
}

static const cw_member undo_shape[] = {
    { "cause", CW_TEXT_T, offsetof(struct name_body, cause), true, 0, 0, cw_words_field_undone },
    { "cause_id", CW_INT_T, offsetof(struct name_body, cause_id), true, 1, 1e15, NULL },
    { "why", CW_TEXT_T, offsetof(struct name_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_field_undo = {
    .says = "Take a walk back, or a lot that was dug and not touched since.",
    .body = undo_shape,
    .answer = &cw_field_entered_shape,
    .status = 201,
};

static cw_code route_field_undo(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct name_body b = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_field_undo(n, cw_request_asker(q), b.cause, b.cause_id, b.why, &t, err);
    return cw_reply_table_take(q, code, 201, &t, err);
}

static const cw_contract contract_field_rows = {
    .says = "What stands in each row, what was dug and lost, and who works it.",
    .answer = &cw_field_rows_shape,
};

static cw_code route_field_rows(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_field_rows(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct day_query {
    cw_day day;
};
static const cw_member day_query[] = {
    { "day", CW_DAY_T, offsetof(struct day_query, day), false, 0, 0,
      .says = "From this day on; not said: today." },
    { 0 },
};

static const cw_contract contract_field_dug = {
    .says = "Lots dug from a day on, newest first.",
    .query = day_query,
    .answer = &cw_field_dug_shape,
};

static cw_code route_field_dug(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct day_query ask = { cw_request_asker(q)->today };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &ask, err);
    if (code == CW_OK)
        code = cw_field_dug(n, ask.day, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_left_list = {
    .says = "What is left of each lot, and what of it is still to go to the beds.",
    .answer = &cw_left_list_shape,
};

static cw_code route_left_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_left_list(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_left_planted = {
    .says = "What was planted out of this season's lots, and in which rows.",
    .answer = &cw_left_planted_shape,
};

static cw_code route_left_planted(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_left_planted(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

#define MOST_ITEMS 20000

static const cw_member left_item_shape[] = {
    { "lot", CW_TEXT_T, offsetof(cw_left_item, lot), true, 0, CW_MAX_CODE, NULL },
    { "row", CW_TEXT_T, offsetof(cw_left_item, row), false, 0, CW_MAX_CODE, NULL },
    { "planted", CW_INT_T, offsetof(cw_left_item, planted), false, 0, CW_MAX_DIVISIONS, NULL },
    { "discarded", CW_INT_T, offsetof(cw_left_item, discarded), false, 0, CW_MAX_DIVISIONS, NULL },
    { "clumps_discarded", CW_INT_T, offsetof(cw_left_item, clumps_discarded), false, 0, CW_MAX_CLUMPS, NULL },
    { 0 },
};
struct left_body {
    cw_day day;
    const json_t *items;
};
static const cw_member left_shape[] = {
    { "day", CW_DAY_T, offsetof(struct left_body, day), false, 0, 0, NULL },
    { "items", CW_LIST_T, offsetof(struct left_body, items), true, 1, MOST_ITEMS, .each = left_item_shape },
    { 0 },
};

static const cw_contract contract_left_post = {
    .says = "The season's end: what goes to the beds and what is thrown out, of all lots at once.",
    .body = left_shape,
    .answer = &cw_left_entered_shape,
    .status = 201,
};

static cw_code route_left_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct left_body b = { CW_NO_DAY, NULL };
    cw_table t = { 0 };
    cw_left_item *items = NULL;
    cw_code code = cw_body_read(q, &b, err);
    size_t count = code == CW_OK ? json_array_size(b.items) : 0;
    if (code == CW_OK && (items = calloc(count + 1, sizeof *items)) == NULL)
        code = cw_error_memory(err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = cw_object_read(json_array_get(b.items, i), (long)i + 1, left_item_shape, &items[i], err);
    if (code == CW_OK)
        code = cw_left_enter(n, cw_request_asker(q), b.day, items, count, &t, err);
    free(items);
    return cw_reply_table_take(q, code, 201, &t, err);
}

const cw_route cw_routes_field[] = {
    CW_ROUTE(GET, "/api/field", LOOK, STAFF, CW_NO_BODY, field_rows),
    CW_ROUTE(GET, "/api/field/dug", LOOK, STAFF, CW_NO_BODY, field_dug),
    CW_ROUTE(POST, "/api/field/plantings", WORK, CELLAR, CW_SMALL_BODY, field_plant),
    CW_ROUTE(POST, "/api/field/name", WORK, CELLAR, CW_SMALL_BODY, field_name_row),
    CW_ROUTE(POST, "/api/field/rounds", WORK, CELLAR, CW_SMALL_BODY, field_walk),
    CW_ROUTE(POST, "/api/field/dug", WORK, CELLAR, CW_SMALL_BODY, field_dig),
    CW_ROUTE(POST, "/api/field/take", WORK, CELLAR, CW_SMALL_BODY, field_take),
    CW_ROUTE(POST, "/api/field/undo", WORK, CELLAR, CW_SMALL_BODY, field_undo),
    CW_ROUTE(GET, "/api/season/left", LOOK, STAFF, CW_NO_BODY, left_list),
    CW_ROUTE(GET, "/api/season/planted", LOOK, STAFF, CW_NO_BODY, left_planted),
    CW_ROUTE(POST, "/api/season/left", WORK, CELLAR, CW_BIG_BODY, left_post),
    { 0 },
};
