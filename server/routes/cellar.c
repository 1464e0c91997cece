/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/cellar/cellar.h"
#include <stddef.h>

#include "base/banned.h"

#define AT(member) offsetof(cw_cellar_entry, member)

static const cw_member dividing_shape[] = {
    { "lot", CW_TEXT_T, AT(lot), true, 0, CW_MAX_CODE, NULL },
    { "divided_on", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "clumps", CW_INT_T, AT(clumps), true, 0, CW_MAX_CLUMPS, NULL },
    { "saleable", CW_INT_T, AT(saleable), true, 0, CW_MAX_DIVISIONS, NULL },
    { "blind", CW_INT_T, AT(blind), false, 0, CW_MAX_DIVISIONS, NULL },
    { "rotten", CW_INT_T, AT(rotten), false, 0, CW_MAX_CLUMPS, NULL },
    { "place", CW_TEXT_T, AT(place), false, 0, CW_MAX_CODE, NULL },
    { "minutes", CW_INT_T, AT(minutes), false, 1, CW_MAX_MINUTES, .says = "From begin to end." },
    { "people", CW_INT_T, AT(people), false, 1, CW_MAX_PEOPLE, .says = "Who cut; one, if it is not said." },
    { 0 },
};

static const cw_member check_shape[] = {
    { "lot", CW_TEXT_T, AT(lot), true, 0, CW_MAX_CODE, NULL },
    { "checked_on", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "stage", CW_TEXT_T, AT(stage), true, 0, 0, cw_words_stages },
    { "inspected", CW_INT_T, AT(inspected), true, 0, CW_MAX_DIVISIONS, NULL },
    { "rotten", CW_INT_T, AT(rotten), true, 0, CW_MAX_DIVISIONS, NULL },
    { "shrivelled", CW_INT_T, AT(shrivelled), false, 0, CW_MAX_DIVISIONS, NULL },
    { "why", CW_TEXT_T, AT(why), false, 0, 0, cw_words_check_reasons },
    { 0 },
};

static const cw_member count_shape[] = {
    { "lot", CW_TEXT_T, AT(lot), true, 0, CW_MAX_CODE, NULL },
    { "counted_on", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "stage", CW_TEXT_T, AT(stage), true, 0, 0, cw_words_stages },
    { "count", CW_INT_T, AT(count), true, 0, CW_MAX_DIVISIONS, NULL },
    { "place", CW_TEXT_T, AT(place), false, 0, CW_MAX_CODE, NULL },
    { "looked", CW_TEXT_T, AT(looked), false, 0, 0, cw_words_yes_no },
    { 0 },
};

static const cw_member move_shape[] = {
    { "lot", CW_TEXT_T, AT(lot), true, 0, CW_MAX_CODE, NULL },
    { "day", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "from", CW_TEXT_T, AT(place), false, 0, CW_MAX_CODE, NULL },
    { "to", CW_TEXT_T, AT(to), true, 0, CW_MAX_CODE, NULL },
    { "clumps", CW_INT_T, AT(clumps), false, 0, CW_MAX_CLUMPS, NULL },
    { "divisions", CW_INT_T, AT(divisions), false, 0, CW_MAX_DIVISIONS, NULL },
    { 0 },
};

static const cw_member entry_shape[] = {
    { "lot", CW_TEXT_T, AT(lot), true, 0, CW_MAX_CODE, NULL },
    { "day", CW_DAY_T, AT(day), false, 0, 0, NULL },
    { "place", CW_TEXT_T, AT(place), false, 0, CW_MAX_CODE, NULL },
    { "clumps", CW_INT_T, AT(clumps), false, 0, CW_MAX_CLUMPS, NULL },
    { "divisions", CW_INT_T, AT(divisions), false, 0, CW_MAX_DIVISIONS, NULL },
    { "reason", CW_TEXT_T, AT(reason), true, 0, 0, cw_words_entry_reasons },
    { "note", CW_TEXT_T, AT(note), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

typedef cw_code (*entering)(cw_nursery *, const cw_asker *, const cw_cellar_entry *, cw_table *, cw_error *);

/* All entries are alike: a body by its shape, one desk call, the row that undo is asked with. */
static cw_code enter(cw_request *q, cw_nursery *n, entering desk, cw_error *err)
{
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &e, err);
    if (code == CW_OK)
        code = desk(n, cw_request_asker(q), &e, &t, err);
    return cw_reply_table_take(q, code, 201, &t, err);
}

static const cw_contract contract_dividing_post = {
    .says = "A dividing session.",
    .body = dividing_shape,
    .answer = &cw_cellar_entered_shape,
    .status = 201,
};

static cw_code route_dividing_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_cellar_divide, err);
}

static const cw_contract contract_checks_post = {
    .says = "A check for rot and shrivelling.",
    .body = check_shape,
    .answer = &cw_cellar_entered_shape,
    .status = 201,
};

static cw_code route_checks_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_cellar_check, err);
}

static const cw_contract contract_counts_post = {
    .says = "A stock-take.",
    .body = count_shape,
    .answer = &cw_cellar_entered_shape,
    .status = 201,
};

static cw_code route_counts_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_cellar_count, err);
}

static const cw_contract contract_moves_post = {
    .says = "Move clumps or divisions.",
    .body = move_shape,
    .answer = &cw_cellar_entered_shape,
    .status = 201,
};

static cw_code route_moves_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_cellar_move, err);
}

static const cw_contract contract_entries_post = {
    .says = "A ledger entry with its reason.",
    .body = entry_shape,
    .answer = &cw_cellar_entered_shape,
    .status = 201,
};

static cw_code route_entries_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return enter(q, n, cw_cellar_enter, err);
}

struct undo_body {
    const char *cause, *why;
    int64_t cause_id;
};
static const cw_member undo_shape[] = {
    { "cause", CW_TEXT_T, offsetof(struct undo_body, cause), true, 0, 0, cw_words_causes },
    { "cause_id", CW_INT_T, offsetof(struct undo_body, cause_id), true, 1, 1e15, NULL },
    { "why", CW_TEXT_T, offsetof(struct undo_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_undo_post = {
    .says = "Undo by counter-entries.",
    .body = undo_shape,
    .answer = &cw_cellar_entered_shape,
    .status = 201,
};

static cw_code route_undo_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct undo_body b = { NULL, NULL, 0 };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_cellar_undo(n, cw_request_asker(q), b.cause, b.cause_id, b.why, &t, err);
    return cw_reply_table_take(q, code, 201, &t, err);
}

struct list_query {
    const char *variety, *room;
    cw_day day;
};
static const cw_member lots_query[] = {
    { "variety", CW_TEXT_T, offsetof(struct list_query, variety), false, 0, CW_MAX_CODE, NULL },
    { 0 },
};
static const cw_member day_query[] = {
    { "day", CW_DAY_T, offsetof(struct list_query, day), false, 0, 0, NULL },
    { 0 },
};
static const cw_member room_query[] = {
    { "room", CW_TEXT_T, offsetof(struct list_query, room), false, 0, CW_MAX_NAME, NULL },
    { 0 },
};

static const cw_contract contract_lots_list = {
    .says = "Lots with what is on hand.",
    .query = lots_query,
    .answer = &cw_cellar_lots_shape,
};

static cw_code route_lots_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct list_query ask = { NULL, NULL, CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &ask, err);
    if (code == CW_OK)
        code = cw_cellar_lots(n, ask.variety, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_lot_get = {
    .says = "A lot and all that happened to it.",
    .answer = &cw_cellar_lot_shape,
};

static cw_code route_lot_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_cellar_lot(n, cw_path_text(q, "lot"), &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

static const cw_contract contract_places_list = {
    .says = "Places in walking order.",
    .answer = &cw_cellar_places_shape,
};

static cw_code route_places_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_cellar_places(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_movements_list = {
    .says = "The ledger of a day.",
    .query = day_query,
    .answer = &cw_cellar_movements_shape,
};

static cw_code route_movements_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct list_query ask = { NULL, NULL, cw_request_asker(q)->today };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &ask, err);
    if (code == CW_OK)
        code = cw_cellar_movements(n, ask.day, ask.day, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_air_get = {
    .says = "Readings of a room, and weighings.",
    .query = room_query,
    .answer = &cw_cellar_air_shape,
};

static cw_code route_air_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct list_query ask = { NULL, NULL, CW_NO_DAY };
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, &ask, err);
    if (code == CW_OK)
        code = cw_cellar_air(n, ask.room, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

const cw_route cw_routes_cellar[] = {
    CW_ROUTE(POST, "/api/dividing", WORK, CELLAR, CW_SMALL_BODY, dividing_post),
    CW_ROUTE(POST, "/api/checks", WORK, CELLAR, CW_SMALL_BODY, checks_post),
    CW_ROUTE(POST, "/api/counts", WORK, CELLAR, CW_SMALL_BODY, counts_post),
    CW_ROUTE(POST, "/api/moves", WORK, CELLAR, CW_SMALL_BODY, moves_post),
    CW_ROUTE(POST, "/api/entries", WORK, CELLAR, CW_SMALL_BODY, entries_post),
    CW_ROUTE(POST, "/api/undo", WORK, CELLAR, CW_SMALL_BODY, undo_post),
    CW_ROUTE(GET, "/api/lots", LOOK, STAFF, CW_NO_BODY, lots_list),
    CW_ROUTE(GET, "/api/lots/{lot}", LOOK, STAFF, CW_NO_BODY, lot_get),
    CW_ROUTE(GET, "/api/places", LOOK, STAFF, CW_NO_BODY, places_list),
    CW_ROUTE(GET, "/api/movements", LOOK, STAFF, CW_NO_BODY, movements_list),
    CW_ROUTE(GET, "/api/air", LOOK, STAFF, CW_NO_BODY, air_get),
    { 0 },
};
