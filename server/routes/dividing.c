/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/bench/dividing.h"
#include "desk/bench/rota.h"
#include <stddef.h>

#include "base/banned.h"

struct board_query {
    cw_day from;
    int64_t days;
};
static const cw_member board_query[] = {
    { "from", CW_DAY_T, offsetof(struct board_query, from), false, 0, 0, NULL },
    { "days", CW_INT_T, offsetof(struct board_query, days), false, 1, 400, NULL },
    { 0 },
};

static const cw_contract contract_bench_get = {
    .says = "What is washed and cut on which day, and what it costs.",
    .query = board_query,
    .answer = &cw_bench_board_shape,
};

static cw_code route_bench_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct board_query in = { CW_NO_DAY, 0 };
    json_t *doc = NULL;
    cw_code code = cw_query_read(q, &in, err);
    cw_bench_ask ask = { in.from, in.days };
    if (code == CW_OK)
        code = cw_bench_board(n, cw_request_asker(q), &ask, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

struct lot_day {
    const char *lot;
    cw_day day;
};
static const cw_member lot_day[] = {
    { "lot", CW_TEXT_T, offsetof(struct lot_day, lot), true, 0, CW_MAX_CODE, NULL },
    { "day", CW_DAY_T, offsetof(struct lot_day, day), true, 0, 0, NULL },
    { 0 },
};
static const cw_member lot_only[] = {
    { "lot", CW_TEXT_T, offsetof(struct lot_day, lot), true, 0, CW_MAX_CODE, NULL },
    { 0 },
};

static const cw_contract contract_bench_price = {
    .says =
        "What would it cost to cut this lot on that day, all others planned around it? Nothing is written.",
    .query = lot_day,
    .answer = &cw_bench_move_shape,
};

static cw_code route_bench_price(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct lot_day in = { NULL, CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_bench_move(n, cw_request_asker(q), in.lot, in.day, false, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_bench_move = {
    .says = "Cut this lot on that day, whatever the plan says.",
    .body = lot_day,
    .answer = &cw_bench_move_shape,
};

static cw_code route_bench_move(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct lot_day in = { NULL, CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    if (code == CW_OK)
        code = cw_bench_move(n, cw_request_asker(q), in.lot, in.day, true, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_bench_let_go = {
    .says = "The plan is free again to choose this lot's day.",
    .body = lot_only,
    .answer = &cw_bench_kept_shape,
};

static cw_code route_bench_let_go(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct lot_day in = { NULL, CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    if (code == CW_OK)
        code = cw_bench_let_go(n, cw_request_asker(q), in.lot, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_member washed_body[] = {
    { "lot", CW_TEXT_T, offsetof(struct lot_day, lot), true, 0, CW_MAX_CODE, NULL },
    { "washed_on", CW_DAY_T, offsetof(struct lot_day, day), false, 0, 0,
      .says = "Today, if it is not said." },
    { 0 },
};

static const cw_contract contract_bench_washed = {
    .says = "A lot is washed: it is cut on the next working day.",
    .body = washed_body,
    .answer = &cw_bench_kept_shape,
};

static cw_code route_bench_washed(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct lot_day in = { NULL, CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    if (code == CW_OK)
        code = cw_bench_washed(n, cw_request_asker(q), in.lot, in.day, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_bench_freeze = {
    .says = "Put the lists of the first two working days, or of so many days, on record, so that they stay.",
    .body = board_query,
    .answer = &cw_bench_kept_shape,
};

static cw_code route_bench_freeze(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct board_query in = { CW_NO_DAY, 0 };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    cw_bench_ask ask = { in.from, in.days };
    if (code == CW_OK)
        code = cw_bench_freeze(n, cw_request_asker(q), &ask, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct crew_body {
    cw_day day;
    int64_t cutters, washers;
    double hours;
};
static const cw_member crew_body[] = {
    { "day", CW_DAY_T, offsetof(struct crew_body, day), true, 0, 0, NULL },
    { "cutters", CW_INT_T, offsetof(struct crew_body, cutters), true, 0, 100, NULL },
    { "washers", CW_INT_T, offsetof(struct crew_body, washers), true, 0, 100, NULL },
    { "hours", CW_REAL_T, offsetof(struct crew_body, hours), true, 0, 24, NULL },
    { 0 },
};

static const cw_contract contract_bench_crew = {
    .says = "Who is at the bench on a day, other than the settings say.",
    .body = crew_body,
    .answer = &cw_bench_crew_shape,
};

static cw_code route_bench_crew(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct crew_body in = { .day = CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    if (code == CW_OK)
        code = cw_bench_crew(n, cw_request_asker(q), in.day, in.cutters, in.washers, in.hours, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct rota_query {
    double minutes;
};
static const cw_member rota_query[] = {
    { "minutes", CW_REAL_T, offsetof(struct rota_query, minutes), false, 0, CW_MAX_MINUTES,
      .says = "That there are; the setting check_minutes, if it is not said." },
    { 0 },
};

static const cw_contract contract_rota_get = {
    .says = "Which crates to open this week, and how many to look at in each.",
    .query = rota_query,
    .answer = &cw_rota_shape,
};

static cw_code route_rota_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct rota_query in = { -1 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_rota_list(n, cw_request_asker(q), in.minutes, &t, NULL, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_dividing[] = {
    CW_ROUTE(GET, "/api/bench", TAGGED, STAFF, CW_NO_BODY, bench_get),
    CW_ROUTE(GET, "/api/rota", TAGGED, STAFF, CW_NO_BODY, rota_get),
    CW_ROUTE(GET, "/api/bench/price", TAGGED, OFFICE, CW_NO_BODY, bench_price),
    CW_ROUTE(POST, "/api/bench/move", WORK, OFFICE, CW_SMALL_BODY, bench_move),
    CW_ROUTE(POST, "/api/bench/freeze", WORK, OFFICE, CW_SMALL_BODY, bench_freeze),
    CW_ROUTE(POST, "/api/bench/let-go", WORK, OFFICE, CW_SMALL_BODY, bench_let_go),
    CW_ROUTE(POST, "/api/bench/crew", WORK, OFFICE, CW_SMALL_BODY, bench_crew),
    CW_ROUTE(POST, "/api/bench/washed", WORK, CELLAR, CW_SMALL_BODY, bench_washed),
    { 0 },
};
