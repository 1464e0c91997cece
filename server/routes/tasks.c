/* SPDX-License-Identifier: MIT */
#include "http/task.h"

#include "base/banned.h"

static const cw_shape task_shape = { .parts = (const cw_part[]){
                                         { "state", CW_TEXT_T, .words = "unknown|waiting|working|given-up" },
                                         { "what", CW_TEXT_T },
                                         { "done", CW_INT_T },
                                         { "all", CW_INT_T },
                                         { 0 },
                                     } };

static cw_code answer(cw_request *q, bool give_up, cw_error *err)
{
    cw_task_view t;
    cw_code code = cw_query_read(q, NULL, err);
    if (code != CW_OK)
        return code;
    cw_task_look(q, cw_path_text(q, "task"), give_up, &t);
    return cw_reply_json_take(q, 200,
                              json_pack("{s:s,s:s,s:I,s:I}", "state", t.state, "what", t.what, "done",
                                        (json_int_t)t.done, "all", (json_int_t)t.all),
                              err);
}

static const cw_contract contract_task_get = {
    .says = "How far a request is that was sent with this name in X-Task (8 to 100 bytes, made up by the "
            "sender). Unknown: not come yet, or done.",
    .answer = &task_shape,
};

static cw_code route_task_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    (void)n;
    return answer(q, false, err);
}

static const cw_contract contract_task_delete = {
    .says = "Ask a request to be given up: it then changes nothing and answers 409 of type given-up. Too "
            "late is harmless.",
    .answer = &task_shape,
};

static cw_code route_task_delete(cw_request *q, cw_nursery *n, cw_error *err)
{
    (void)n;
    return answer(q, true, err);
}

const cw_route cw_routes_tasks[] = {
    CW_ROUTE(GET, "/api/tasks/{task}", NOW, ANYKEY, CW_NO_BODY, task_get),
    CW_ROUTE(DELETE, "/api/tasks/{task}", NOW, ANYKEY, CW_NO_BODY, task_delete),
    { 0 },
};
