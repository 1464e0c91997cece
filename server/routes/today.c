/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/today/today.h"

#include "base/banned.h"

const cw_contract cw_contract_today_list = {
    .says = "What wants doing today at a desk (winter, orders, cellar), worst first; nothing waits: no row.",
    .answer = &cw_today_list_shape,
};

cw_code cw_route_today_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_today_list(n, cw_request_asker(q), cw_path_text(q, "desk"), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_contract cw_contract_begun_list = {
    .says = "How far the file has begun: rows of each kind on record, varieties with stock, people with an "
            "account.",
    .answer = &cw_today_begun_shape,
};

cw_code cw_route_begun_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_today_begun(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}
