/* SPDX-License-Identifier: MIT */
/* A season is closed, and the next one's file made from it. */
#include "http/route.h"

#include "desk/closing/closing_desk.h"
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

struct turn_body {
    int64_t season;
    cw_day ship, buyers_since;
    const char *leave_open, *why;
};
static const cw_member turn_shape[] = {
    { "season", CW_INT_T, offsetof(struct turn_body, season), true, 1900, 2199,
      .says = "Year of digging of the next." },
    { "ship", CW_DAY_T, offsetof(struct turn_body, ship), true, 0, 0,
      .says = "Its planned first shipping day." },
    { "leave_open", CW_TEXT_T, offsetof(struct turn_body, leave_open), false, 0, 0, cw_words_yes_no,
      .says = "Open claims, notices and refunds stay in this file, and are answered there." },
    { "buyers_since", CW_DAY_T, offsetof(struct turn_body, buyers_since), false, 0, 0,
      .says = "Name, address and consent of who ordered on that day or later go along; absent: nobody's." },
    { 0 },
};

static cw_turning_ask ask_of(const struct turn_body *b)
{
    return (cw_turning_ask){ (int)b->season, b->ship, b->leave_open && strcmp(b->leave_open, "yes") == 0,
                             b->buyers_since == CW_NO_DAY ? NULL : &b->buyers_since };
}

static const cw_contract contract_next_look = {
    .says = "What would be carried into the next season's file, moved, and left behind. Nothing is made.",
    .query = turn_shape,
    .answer = &cw_closing_made_shape,
};

static cw_code route_next_look(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct turn_body b = { .buyers_since = CW_NO_DAY };
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, &b, err);
    const cw_turning_ask ask = ask_of(&b);
    if (code == CW_OK)
        code = cw_closing_look(n, cw_request_asker(q), &ask, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

static const cw_contract contract_next_make = {
    .says =
        "Make the next season's file beside this one, and prove that the sums agree. This season stays open.",
    .body = turn_shape,
    .answer = &cw_closing_made_shape,
};

static cw_code route_next_make(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct turn_body b = { .buyers_since = CW_NO_DAY };
    json_t *doc = NULL;
    cw_code code = cw_body_read(q, &b, err);
    const cw_turning_ask ask = ask_of(&b);
    if (code == CW_OK)
        code = cw_closing_make(n, cw_request_asker(q), &ask, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

static const cw_contract contract_season_close = {
    .says = "Close this season; the next one's file must be made, and nothing written since.",
    .body = turn_shape,
};

static cw_code route_season_close(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct turn_body b = { .buyers_since = CW_NO_DAY };
    cw_code code = cw_body_read(q, &b, err);
    const cw_turning_ask ask = ask_of(&b);
    if (code == CW_OK)
        code = cw_closing_mark(n, cw_request_asker(q), &ask, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_member why_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct turn_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_season_reopen = {
    .says = "Let a closed season take everything again, on record.",
    .body = why_shape,
};

static cw_code route_season_reopen(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct turn_body b = { .buyers_since = CW_NO_DAY };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_closing_reopen(n, cw_request_asker(q), b.why, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_season_closed = {
    .says = "Whether this season is closed, and into which it was.",
    .answer = &cw_closing_told_shape,
};

static cw_code route_season_closed(cw_request *q, cw_nursery *n, cw_error *err)
{
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_closing_told(n, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

const cw_route cw_routes_closing[] = {
    CW_ROUTE(GET, "/api/season/closed", LOOK, STAFF, CW_NO_BODY, season_closed),
    CW_ROUTE(GET, "/api/season/next", LOOK, OWNER, CW_NO_BODY, next_look),
    CW_ROUTE(POST, "/api/season/next", LOOK, OWNER, CW_SMALL_BODY, next_make),
    CW_ROUTE(POST, "/api/season/close", WORK, OWNER, CW_SMALL_BODY, season_close),
    CW_ROUTE(POST, "/api/season/reopen", WORK, OWNER, CW_SMALL_BODY, season_reopen),
    { 0 },
};
