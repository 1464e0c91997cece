/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "base/limits.h"
#include "desk/bench/lying.h"
#include <stddef.h>

#include "base/banned.h"

static const cw_contract contract_lying_get = {
    .says = "How the cellar stands, place by place, today and on days until shipping.",
    .answer = &cw_lying_shape,
};

static cw_code route_lying_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_lying_look(n, cw_request_asker(q), &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

struct damper_query {
    const char *room;
    double points;
};
static const cw_member damper_query[] = {
    { "room", CW_TEXT_T, offsetof(struct damper_query, room), true, 0, CW_MAX_NAME, NULL },
    { "points", CW_REAL_T, offsetof(struct damper_query, points), true, -20, 20,
      .says = "Of relative humidity; below 0: drier." },
    { 0 },
};

static const cw_contract contract_lying_damper = {
    .says = "What if a room were so many points damper from today on?",
    .query = damper_query,
    .answer = &cw_lying_damper_shape,
};

static cw_code route_lying_damper(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct damper_query in = { NULL, 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_lying_damper(n, cw_request_asker(q), in.room, in.points, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_lying[] = {
    CW_ROUTE(GET, "/api/cellar", TAGGED, STAFF, CW_NO_BODY, lying_get),
    CW_ROUTE(GET, "/api/cellar/damper", TAGGED, STAFF, CW_NO_BODY, lying_damper),
    { 0 },
};
