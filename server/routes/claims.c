/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/buyers/claims.h"
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape claim_made_shape = { .parts = (const cw_part[]){
                                               { "claim", CW_INT_T },
                                               { 0 },
                                           } };

struct list_query {
    const char *answer;
};
static const cw_member list_shape[] = {
    { "answer", CW_TEXT_T, offsetof(struct list_query, answer), false, 0, 0, cw_words_claim_answers },
    { 0 },
};

static const cw_contract contract_claims_list = {
    .says = "Guarantee claims, open ones first.",
    .query = list_shape,
    .answer = &cw_claims_list_shape,
};

static cw_code route_claims_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct list_query in = { NULL };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_claims_list(n, cw_request_asker(q), in.answer, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct claim_body {
    const char *order, *why, *answer, *lot, *reply;
    int64_t line, quantity;
};
static const cw_member claim_shape[] = {
    { "order", CW_TEXT_T, offsetof(struct claim_body, order), true, 0, CW_MAX_CODE, NULL },
    { "line", CW_INT_T, offsetof(struct claim_body, line), true, 1, 100000, NULL },
    { "quantity", CW_INT_T, offsetof(struct claim_body, quantity), true, 1, CW_MAX_LINE_QUANTITY, NULL },
    { "why", CW_TEXT_T, offsetof(struct claim_body, why), true, 0, CW_MAX_NOTE, NULL },
    { "answer", CW_TEXT_T, offsetof(struct claim_body, answer), false, 0, 0, cw_words_claim_answers },
    { "lot", CW_TEXT_T, offsetof(struct claim_body, lot), false, 0, CW_MAX_CODE, NULL },
    { "reply", CW_TEXT_T, offsetof(struct claim_body, reply), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_claims_post = {
    .says = "Take a claim, and answer it if an answer is given.",
    .body = claim_shape,
    .answer = &claim_made_shape,
    .status = 201,
};

static cw_code route_claims_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct claim_body b = { .order = NULL };
    int64_t id = 0;
    cw_code code = cw_body_read(q, &b, err);
    cw_claim_ask ask = { b.order, (int)b.line, b.quantity, b.why, b.answer, b.lot, b.reply };
    if (code == CW_OK)
        code = cw_claims_add(n, cw_request_asker(q), &ask, &id, err);
    return code == CW_OK ? cw_reply_json_take(q, 201, json_pack("{s:I}", "claim", (json_int_t)id), err)
                         : code;
}

static const cw_member answer_shape[] = {
    { "answer", CW_TEXT_T, offsetof(struct claim_body, answer), true, 0, 0, cw_words_claim_settled },
    { "lot", CW_TEXT_T, offsetof(struct claim_body, lot), false, 0, CW_MAX_CODE, NULL },
    { "reply", CW_TEXT_T, offsetof(struct claim_body, reply), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_claim_answer_post = {
    .says = "Answer an open claim.",
    .body = answer_shape,
};

static cw_code route_claim_answer_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct claim_body b = { .order = NULL };
    int64_t id = 0;
    cw_code code = cw_path_int(q, "claim", &id, err);
    if (code == CW_OK)
        code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_claims_answer(n, cw_request_asker(q), id, b.answer, b.lot, b.reply, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_member parcel_claim_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct claim_body, why), true, 0, CW_MAX_NOTE, NULL },
    { "answer", CW_TEXT_T, offsetof(struct claim_body, answer), false, 0, 0, cw_words_claim_answers },
    { "reply", CW_TEXT_T, offsetof(struct claim_body, reply), false, 0, CW_MAX_NOTE, NULL },
    { 0 },
};
static const cw_shape parcel_claimed_shape = { .parts = (const cw_part[]){
                                                   { "claims", CW_INT_T },
                                                   { "divisions", CW_INT_T },
                                                   { "replacement", CW_TEXT_T, .null = true,
                                                     .says = "The order that brings it again." },
                                                   { 0 },
                                               } };

static const cw_contract contract_parcel_claim = {
    .says = "All that a parcel brought has failed: one claim for each of its lines, answered alike, replaced "
            "in one order.",
    .body = parcel_claim_shape,
    .answer = &parcel_claimed_shape,
    .status = 201,
};

static cw_code route_parcel_claim(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct claim_body b = { .order = NULL };
    cw_claims_done done = { 0 };
    int64_t parcel = 0;
    cw_code code = cw_path_int(q, "parcel", &parcel, err);
    if (code == CW_OK)
        code = cw_body_read(q, &b, err);
    cw_claim_ask as = { .why = b.why, .answer = b.answer, .reply = b.reply };
    if (code == CW_OK)
        code = cw_claims_parcel(n, cw_request_asker(q), parcel, &as, &done, err);
    if (code != CW_OK)
        return code;
    return cw_reply_json_take(q, 201,
                              json_pack("{s:I,s:I,s:s?}", "claims", (json_int_t)done.claims, "divisions",
                                        (json_int_t)done.divisions, "replacement",
                                        done.replacement[0] ? done.replacement : NULL),
                              err);
}

const cw_route cw_routes_claims[] = {
    CW_ROUTE(POST, "/api/parcels/{parcel}/claim", WORK, OFFICE, CW_SMALL_BODY, parcel_claim),
    CW_ROUTE(GET, "/api/claims", LOOK, OFFICE, CW_NO_BODY, claims_list),
    CW_ROUTE(POST, "/api/claims", WORK, OFFICE, CW_SMALL_BODY, claims_post),
    CW_ROUTE(POST, "/api/claims/{claim}/answer", WORK, OFFICE, CW_SMALL_BODY, claim_answer_post),
    { 0 },
};
