/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "base/banned.h"

static json_t *revision_json(const cw_revision *r)
{
    return json_pack("{s:I,s:I}", "stock", (json_int_t)r->stock, "trade", (json_int_t)r->trade);
}

cw_code cw_route_revision_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_revision r = { 0 };
    cw_code code = cw_query_read(q, NULL, NULL, err);
    if (code == CW_OK)
        code = cw_nursery_revision(n, &r, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, revision_json(&r), err) : code;
}

cw_code cw_route_nursery_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    const cw_season *s = cw_nursery_season(n);
    cw_revision r = { 0 };
    char ship[11], today[11];
    cw_code code = cw_query_read(q, NULL, NULL, err);
    if (code == CW_OK)
        code = cw_nursery_revision(n, &r, err);
    if (code != CW_OK)
        return code;
    cw_day_format(s->ship, ship);
    cw_day_format(cw_request_asker(q)->today, today);
    return cw_reply_json_take(q, 200,
                              json_pack("{s:i,s:s,s:s,s:s,s:s,s:o}", "season", s->season, "ship", ship,
                                        "currency", s->currency, "timezone", s->timezone, "today", today,
                                        "revision", revision_json(&r)),
                              err);
}
