/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "base/json.h"
#include "desk/closing/letter.h"
#include "desk/forecast/forecast.h"
#include "desk/forecast/hindsight.h"
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape projected_shape = { .parts = (const cw_part[]){
                                              { "as_of", CW_DAY_T },
                                              { "ship", CW_DAY_T },
                                              { "notes", .shape = &cw_shape_texts },
                                              { "varieties", .shape = &cw_forecast_project_shape },
                                              { 0 },
                                          } };

struct projection_query {
    cw_day ship, as_of;
};
static const cw_member projection_shape[] = {
    { "ship", CW_DAY_T, offsetof(struct projection_query, ship), false, 0, 0, NULL },
    { "as_of", CW_DAY_T, offsetof(struct projection_query, as_of), false, 0, 0, NULL },
    { 0 },
};

/* Sentences a line become a JSON list. */
static json_t *lines_json(const cw_text *t)
{
    json_t *list = json_array();
    for (const char *at = t->data ? t->data : ""; *at;) {
        size_t n = strcspn(at, "\n");
        cw_json_append_take(&list, json_stringn(at, n));
        at += n + (at[n] == '\n');
    }
    return list;
}

static const cw_contract contract_projection_list = {
    .says = "Sound divisions on the shipping day, every variety.",
    .query = projection_shape,
    .answer = &projected_shape,
};

static cw_code route_projection_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct projection_query in = { CW_NO_DAY, CW_NO_DAY };
    cw_table t = { 0 };
    cw_text notes = CW_TEXT(4096);
    char as_of[11], ship[11];
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK) {
        const cw_forecast_ask ask = { in.ship, in.as_of, NULL };
        code = cw_forecast_project(n, cw_request_asker(q), &ask, &t, &notes, err);
    }
    if (code == CW_OK) {
        cw_day_format(in.as_of == CW_NO_DAY ? cw_request_asker(q)->today : in.as_of, as_of);
        cw_day_format(in.ship == CW_NO_DAY ? cw_nursery_season(n)->ship : in.ship, ship);
        code = cw_reply_json_take(q, 200,
                                  json_pack("{s:s,s:s,s:o,s:o}", "as_of", as_of, "ship", ship, "notes",
                                            lines_json(&notes), "varieties", cw_table_to_json(&t)),
                                  err);
    }
    cw_text_free(&notes);
    cw_table_free(&t);
    return code;
}

static const cw_contract contract_projection_get = {
    .says = "One variety: its distribution, its lots, and why.",
    .query = projection_shape,
    .answer = &cw_forecast_sheet_shape,
};

static cw_code route_projection_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct projection_query in = { CW_NO_DAY, CW_NO_DAY };
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK) {
        const cw_forecast_ask ask = { in.ship, in.as_of, cw_path_text(q, "code") };
        code = cw_forecast_sheet(n, cw_request_asker(q), &ask, &doc, err);
    }
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

struct changes_query {
    cw_day since;
};
static const cw_member changes_shape[] = {
    { "since", CW_DAY_T, offsetof(struct changes_query, since), false, 0, 0, NULL },
    { 0 },
};

static const cw_contract contract_changes_list = {
    .says = "What moved since yesterday, and why.",
    .query = changes_shape,
    .answer = &cw_forecast_changes_shape,
};

static cw_code route_changes_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct changes_query in = { cw_request_asker(q)->today - 1 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_forecast_changes(n, cw_request_asker(q), in.since, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct hindsight_query {
    cw_day as_of;
};
static const cw_member hindsight_shape[] = {
    { "as_of", CW_DAY_T, offsetof(struct hindsight_query, as_of), false, 0, 0, NULL },
    { 0 },
};

static const cw_contract contract_hindsight_get = {
    .says = "Past projections against what came.",
    .query = hindsight_shape,
    .answer = &cw_hindsight_report_shape,
};

static cw_code route_hindsight_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct hindsight_query in = { CW_NO_DAY };
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK) {
        const cw_hindsight_ask ask = { &in.as_of, in.as_of != CW_NO_DAY };
        code = cw_hindsight_report(n, cw_request_asker(q), &ask, &doc, err);
    }
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

static const cw_contract contract_hindsight_rot = {
    .says = "What the owner said of rot in a usual winter against what this season's checks found, once its "
            "shipping day has come.",
    .answer = &cw_hindsight_rot_shape,
};

static cw_code route_hindsight_rot(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_hindsight_rot(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_letter_get = {
    .says = "The season in sentences.",
    .answer = &cw_letter_rows_shape,
};

static cw_code route_letter_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_letter_rows(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_forecast[] = {
    CW_ROUTE(GET, "/api/projection", TAGGED, STAFF, CW_NO_BODY, projection_list),
    CW_ROUTE(GET, "/api/projection/{code}", TAGGED, STAFF, CW_NO_BODY, projection_get),
    CW_ROUTE(GET, "/api/changes", TAGGED, OFFICE, CW_NO_BODY, changes_list),
    CW_ROUTE(GET, "/api/hindsight", TAGGED, OFFICE, CW_NO_BODY, hindsight_get),
    CW_ROUTE(GET, "/api/hindsight/rot", TAGGED, OFFICE, CW_NO_BODY, hindsight_rot),
    CW_ROUTE(GET, "/api/letter", TAGGED, OFFICE, CW_NO_BODY, letter_get),
    { 0 },
};
