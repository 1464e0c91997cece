/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "base/json.h"
#include "desk/share/allotting.h"
#include "desk/share/substituting.h"
#include <stddef.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape firm_shape = { .parts = (const cw_part[]){
                                         { "placed", CW_INT_T },
                                         { "distance", CW_INT_T },
                                         { "extra_cost", CW_MONEY_T },
                                         { "run", CW_INT_T },
                                         { "short", CW_INT_T },
                                         { "digest", CW_TEXT_T },
                                         { 0 },
                                     } };

static const cw_shape price_shape = { .parts = (const cw_part[]){
                                          { "placed", CW_INT_T },
                                          { "distance", CW_INT_T },
                                          { "extra_cost", CW_MONEY_T },
                                          { "sentence", CW_TEXT_T },
                                          { 0 },
                                      } };

struct sub_query {
    const char *supply, *digest, *order, *variety;
    double confidence;
    int64_t line;
};
static const cw_member preview_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct sub_query, supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct sub_query, confidence), false, 0.01, 0.9999, NULL },
    { 0 },
};
static const cw_member commit_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct sub_query, supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct sub_query, confidence), false, 0.01, 0.9999, NULL },
    { "digest", CW_TEXT_T, offsetof(struct sub_query, digest), false, 0, 64, NULL },
    { 0 },
};
static const cw_member forbid_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct sub_query, supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct sub_query, confidence), false, 0.01, 0.9999, NULL },
    { "order", CW_TEXT_T, offsetof(struct sub_query, order), true, 0, CW_MAX_CODE, NULL },
    { "line", CW_INT_T, offsetof(struct sub_query, line), true, 1, INT32_MAX, NULL },
    { "substitute", CW_TEXT_T, offsetof(struct sub_query, variety), true, 0, CW_MAX_CODE, NULL },
    { 0 },
};

/* Without a supply in the query or body: as the settings say. */
static cw_code ask_of(cw_nursery *n, const struct sub_query *s, cw_substituting_ask *out, cw_error *err)
{
    cw_allotting_ask set = { .projected = s->supply && strcmp(s->supply, "projected") == 0 };
    cw_code code = s->supply ? CW_OK : cw_allotting_default(n, &set, err);
    *out = (cw_substituting_ask){ set.projected, s->confidence };
    return code;
}

static const cw_contract contract_substitution_get = {
    .says = "Substitutes and assortments from surplus, within consent, proven the best there is.",
    .query = preview_shape,
    .answer = &cw_substituting_document_shape,
};

static cw_code route_substitution_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct sub_query in = { 0 };
    cw_substituting *s = NULL;
    json_t *document = NULL;
    cw_code code = cw_query_read(q, &in, err);
    cw_substituting_ask ask = { 0 };
    if (code == CW_OK)
        code = ask_of(n, &in, &ask, err);
    if (code == CW_OK)
        code = cw_substituting_preview(n, cw_request_asker(q), &ask, &s, err);
    if (code == CW_OK)
        code = cw_substituting_document(s, &document, err);
    cw_substituting_free(s);
    return code == CW_OK ? cw_reply_json_take(q, 200, document, err) : code;
}

static json_t *totals_json(const cw_substituting_totals *t)
{
    char money[24];
    cw_cents_format(t->extra, money);
    return json_pack("{s:I,s:I,s:s}", "placed", (json_int_t)t->placed, "distance", (json_int_t)t->distance,
                     "extra_cost", money);
}

static const cw_contract contract_substitution_post = {
    .says = "Make the substitutes firm. With the digest of a preview: 409 when anything that decides has "
            "changed since.",
    .body = commit_shape,
    .answer = &firm_shape,
    .status = 201,
};

static cw_code route_substitution_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct sub_query in = { 0 };
    cw_substituting_done done;
    cw_code code = cw_body_read(q, &in, err);
    cw_substituting_ask ask = { 0 };
    if (code == CW_OK)
        code = ask_of(n, &in, &ask, err);
    if (code == CW_OK)
        code = cw_substituting_commit(n, cw_request_asker(q), &ask, in.digest, &done, NULL, err);
    if (code != CW_OK)
        return code;
    json_t *o = totals_json(&done.totals);
    cw_json_put_take(&o, "run", json_integer(done.run));
    cw_json_put_take(&o, "short", json_integer(done.totals.short_));
    cw_json_put_take(&o, "digest", json_string(done.digest));
    return cw_reply_json_take(q, 201, o, err);
}

static const cw_contract contract_substitution_forbid = {
    .says = "What it would cost not to give a line this substitute: the change of the totals.",
    .query = forbid_shape,
    .answer = &price_shape,
};

/* What it would cost not to give a line its substitute. */
static cw_code route_substitution_forbid(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct sub_query in = { 0 };
    cw_substituting *s = NULL;
    cw_substituting_totals change;
    char sentence[CW_SUBSTITUTING_SENTENCE];
    cw_code code = cw_query_read(q, &in, err);
    cw_substituting_ask ask = { 0 };
    if (code == CW_OK)
        code = ask_of(n, &in, &ask, err);
    if (code == CW_OK)
        code = cw_substituting_preview(n, cw_request_asker(q), &ask, &s, err);
    if (code == CW_OK)
        code = cw_substituting_forbid(s, in.order, (int)in.line, in.variety, &change, sentence, err);
    cw_substituting_free(s);
    if (code != CW_OK)
        return code;
    json_t *o = totals_json(&change);
    cw_json_put_take(&o, "sentence", json_string(sentence));
    return cw_reply_json_take(q, 200, o, err);
}

struct ban_body {
    const char *order, *substitute, *why;
    int64_t line;
};
static const cw_member ban_shape[] = {
    { "order", CW_TEXT_T, offsetof(struct ban_body, order), true, 0, CW_MAX_CODE, NULL },
    { "line", CW_INT_T, offsetof(struct ban_body, line), true, 1, INT32_MAX, NULL },
    { "substitute", CW_TEXT_T, offsetof(struct ban_body, substitute), true, 0, CW_MAX_CODE, NULL },
    { "why", CW_TEXT_T, offsetof(struct ban_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static cw_code ban(cw_request *q, cw_nursery *n,
                   cw_code (*what)(cw_nursery *n, const cw_asker *who, const char *order, int line,
                                   const char *substitute, const char *why, cw_error *err),
                   cw_error *err)
{
    struct ban_body b = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = what(n, cw_request_asker(q), b.order, (int)b.line, b.substitute, b.why, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_forbid_post = {
    .says = "Forbid a line this substitute, with a reason on record; every later plan leaves it out.",
    .body = ban_shape,
};

static cw_code route_forbid_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return ban(q, n, cw_substituting_ban, err);
}

static const cw_contract contract_permit_post = {
    .says = "Permit a line again a substitute that was forbidden.",
    .body = ban_shape,
};

static cw_code route_permit_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return ban(q, n, cw_substituting_permit, err);
}

static const cw_contract contract_banned_list = {
    .says = "Substitutes that are forbidden to lines of open orders.",
    .answer = &cw_substituting_banned_shape,
};

static cw_code route_banned_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_substituting_banned(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_substituting[] = {
    CW_ROUTE(GET, "/api/substitution", TAGGED, OFFICE, CW_NO_BODY, substitution_get),
    CW_ROUTE(POST, "/api/substitution", WORK, OFFICE, CW_SMALL_BODY, substitution_post),
    CW_ROUTE(GET, "/api/substitution/forbidden", TAGGED, OFFICE, CW_NO_BODY, substitution_forbid),
    CW_ROUTE(POST, "/api/substitution/forbid", WORK, OFFICE, CW_SMALL_BODY, forbid_post),
    CW_ROUTE(POST, "/api/substitution/permit", WORK, OFFICE, CW_SMALL_BODY, permit_post),
    CW_ROUTE(GET, "/api/substitution/banned", LOOK, OFFICE, CW_NO_BODY, banned_list),
    { 0 },
};
