/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/today/today.h"

#include "base/banned.h"

static const cw_contract contract_today_list = {
    .says = "What wants doing today at a desk (winter, orders, cellar), worst first; nothing waits: no row.",
    .answer = &cw_today_list_shape,
};

static cw_code route_today_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_today_list(n, cw_request_asker(q), cw_path_text(q, "desk"), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_begun_list = {
    .says = "How far the file has begun: rows of each kind on record, varieties with stock, people with an "
            "account.",
    .answer = &cw_today_begun_shape,
};

static cw_code route_begun_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_today_begun(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_today[] = {
    CW_ROUTE(GET, "/api/today/{desk}", TAGGED, STAFF, CW_NO_BODY, today_list),
    CW_ROUTE(GET, "/api/begun", LOOK, OFFICE, CW_NO_BODY, begun_list),
    { 0 },
};
