/* SPDX-License-Identifier: MIT */
#include "http/standby.h"

#include "base/banned.h"

static const cw_shape standby_shape = { .parts = (const cw_part[]){
                                            { "kept", CW_BOOL_T },
                                            { "behind", CW_INT_T },
                                            { 0 },
                                        } };

static const cw_contract contract_standby_get = {
    .says = "Whether the file is copied to a second place while it is served, and for how many seconds that "
            "place has "
            "lacked something that was written here (0: it has all).",
    .answer = &standby_shape,
};

static cw_code route_standby_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_standby_view v;
    cw_code code = cw_query_read(q, NULL, err);
    (void)n;
    if (code != CW_OK)
        return code;
    cw_standby_view_of(q, &v);
    return cw_reply_json_take(
        q, 200, json_pack("{s:b,s:I}", "kept", v.kept, "behind", (json_int_t)(v.behind_ms / 1000)), err);
}

#define METRICS_TYPE "text/plain; version=0.0.4; charset=utf-8"

static const cw_contract contract_metrics_get = {
    .says = "Figures of the running server, for a program that watches it: a line each, name and value.",
    .type = METRICS_TYPE,
};

static cw_code route_metrics_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_text out = CW_TEXT(16 * 1024);
    cw_code code = cw_query_read(q, NULL, err);
    (void)n;
    if (code != CW_OK)
        return code;
    cw_metrics_text(q, &out);
    return cw_reply_text_take(q, 200, METRICS_TYPE, &out, err);
}

const cw_route cw_routes_standby[] = {
    CW_ROUTE(GET, "/api/standby", NOW, STAFF, CW_NO_BODY, standby_get),
    CW_ROUTE(GET, "/api/metrics", NOW, OWNER, CW_NO_BODY, metrics_get),
    { 0 },
};
