/* SPDX-License-Identifier: MIT */
#include "http/task.h"

#include "base/banned.h"

static cw_code answer(cw_request *q, bool give_up, cw_error *err)
{
    cw_task_view t;
    cw_code code = cw_query_read(q, NULL, NULL, err);
    if (code != CW_OK)
        return code;
    cw_task_look(q, cw_path_text(q, "task"), give_up, &t);
    return cw_reply_json_take(q, 200,
                              json_pack("{s:s,s:s,s:I,s:I}", "state", t.state, "what", t.what, "done",
                                        (json_int_t)t.done, "all", (json_int_t)t.all),
                              err);
}

cw_code cw_route_task_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    (void)n;
    return answer(q, false, err);
}

cw_code cw_route_task_delete(cw_request *q, cw_nursery *n, cw_error *err)
{
    (void)n;
    return answer(q, true, err);
}
