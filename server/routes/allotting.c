/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/share/allotting.h"
#include <stddef.h>
#include <stdlib.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape firm_shape = { .parts = (const cw_part[]){
                                         { "run", CW_INT_T },
                                         { "lines", CW_INT_T },
                                         { "placed", CW_INT_T },
                                         { "short", CW_INT_T },
                                         { "digest", CW_TEXT_T },
                                         { 0 },
                                     } };

/* Who gets what of a short variety. */
struct share_query {
    const char *variety, *supply, *rule, *digest;
    double confidence;
    bool tiers_first;
};
static const cw_member basis_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct share_query, supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct share_query, confidence), false, 0.01, 0.9999, NULL },
    { 0 },
};
static const cw_member preview_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct share_query, supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct share_query, confidence), false, 0.01, 0.9999, NULL },
    { "variety", CW_TEXT_T, offsetof(struct share_query, variety), false, 0, CW_MAX_CODE, NULL },
    { "tiers_first", CW_BOOL_T, offsetof(struct share_query, tiers_first), false, 0, 0, NULL },
    { 0 },
};
static const cw_member commit_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct share_query, supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct share_query, confidence), false, 0.01, 0.9999, NULL },
    { "variety", CW_TEXT_T, offsetof(struct share_query, variety), false, 0, CW_MAX_CODE, NULL },
    { "tiers_first", CW_BOOL_T, offsetof(struct share_query, tiers_first), false, 0, 0, NULL },
    { "rule", CW_TEXT_T, offsetof(struct share_query, rule), true, 0, 0, CW_ALLOTTING_RULES },
    { "digest", CW_TEXT_T, offsetof(struct share_query, digest), false, 0, 64, NULL },
    { 0 },
};

/* What is not said is as the settings say; read before the query or the body. */
static cw_code as_set(cw_nursery *n, struct share_query *s, cw_error *err)
{
    cw_allotting_ask set;
    cw_code code = cw_allotting_default(n, &set, err);
    s->supply = set.projected ? "projected" : "counted";
    s->tiers_first = set.tiers_first;
    return code;
}

static cw_allotting_ask ask_of(const struct share_query *s)
{
    return (cw_allotting_ask){ s->variety, s->rule, strcmp(s->supply, "projected") == 0, s->confidence,
                               s->tiers_first };
}

typedef cw_code (*basis_list)(cw_nursery *n, const cw_asker *who, const cw_allotting_basis *basis,
                              cw_table *out, cw_error *err);

/* A list that rests on a supply. */
static cw_code reply_list(cw_request *q, cw_nursery *n, basis_list list, cw_error *err)
{
    struct share_query s = { 0 };
    cw_table t = { 0 };
    cw_code code = as_set(n, &s, err);
    if (code == CW_OK)
        code = cw_query_read(q, &s, err);
    cw_allotting_ask ask = ask_of(&s);
    cw_allotting_basis basis = { ask.projected, ask.confidence };
    if (code == CW_OK)
        code = list(n, cw_request_asker(q), &basis, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_short_list = {
    .says = "Short varieties, most harm first. Without a supply the setting decides.",
    .query = basis_shape,
    .answer = &cw_allotting_short_shape,
};

static cw_code route_short_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    return reply_list(q, n, cw_allotting_short, err);
}

static const cw_contract contract_hit_list = {
    .says = "Stock fell below what is promised: the lines that would be hit, least harm first. Nothing moves "
            "by itself.",
    .query = basis_shape,
    .answer = &cw_allotting_hit_shape,
};

static cw_code route_hit_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    return reply_list(q, n, cw_allotting_hit, err);
}

static const cw_contract contract_allocation_get = {
    .says = "The three sharing rules side by side. For one variety: its lines, and what each rule adds to "
            "what is firm (first_come and so on). Without a variety: the totals of all short varieties.",
    .query = preview_shape,
    .answer = &cw_allotting_document_shape,
};

static cw_code route_allocation_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct share_query s = { 0 };
    cw_allotting *a = NULL;
    cw_code code = as_set(n, &s, err);
    if (code == CW_OK)
        code = cw_query_read(q, &s, err);
    cw_allotting_ask ask = ask_of(&s);
    if (code == CW_OK)
        code = cw_allotting_preview(n, cw_request_asker(q), &ask, &a, err);
    if (code == CW_OK)
        code = cw_allotting_document(n, a, cw_reply_sink(q, 200, "application/json"), err);
    cw_allotting_free(a);
    return code;
}

static const cw_contract contract_allocation_post = {
    .says = "Make the outcome of a sharing rule firm. With the digest of a preview it is refused (409) if "
            "the inputs have changed since.",
    .body = commit_shape,
    .answer = &firm_shape,
    .status = 201,
};

static cw_code route_allocation_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct share_query s = { 0 };
    cw_allotting_done done;
    cw_code code = as_set(n, &s, err);
    if (code == CW_OK)
        code = cw_body_read(q, &s, err);
    cw_allotting_ask ask = ask_of(&s);
    if (code == CW_OK)
        code = cw_allotting_commit(n, cw_request_asker(q), &ask, s.digest, &done, NULL, err);
    if (code != CW_OK)
        return code;
    return cw_reply_json_take(q, 201,
                              json_pack("{s:I,s:I,s:I,s:I,s:s}", "run", (json_int_t)done.run, "lines",
                                        (json_int_t)done.lines, "placed", (json_int_t)done.placed, "short",
                                        (json_int_t)done.short_, "digest", done.digest),
                              err);
}

#define MOST_BEFORE 1000000 /* the cap of the body comes before it */

struct before_body {
    const char *variety, *order, *rule;
    int64_t line, allocated;
};
static const cw_member before_shape[] = {
    { "variety", CW_TEXT_T, offsetof(struct before_body, variety), true, 0, CW_MAX_CODE, NULL },
    { "order", CW_TEXT_T, offsetof(struct before_body, order), true, 0, CW_MAX_CODE, NULL },
    { "line", CW_INT_T, offsetof(struct before_body, line), true, 1, INT32_MAX, NULL },
    { "rule", CW_TEXT_T, offsetof(struct before_body, rule), true, 0, 0, CW_ALLOTTING_RULES },
    { "allocated", CW_INT_T, offsetof(struct before_body, allocated), true, 0, CW_MAX_LINE_QUANTITY, NULL },
    { 0 },
};
struct changes_body {
    struct share_query ask;
    const json_t *before;
};
static const cw_member changes_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct changes_body, ask.supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct changes_body, ask.confidence), false, 0.01, 0.9999, NULL },
    { "variety", CW_TEXT_T, offsetof(struct changes_body, ask.variety), false, 0, CW_MAX_CODE, NULL },
    { "tiers_first", CW_BOOL_T, offsetof(struct changes_body, ask.tiers_first), false, 0, 0, NULL },
    { "before", CW_LIST_T, offsetof(struct changes_body, before), true, 0, MOST_BEFORE,
      .each = before_shape },
    { 0 },
};

static cw_code read_earlier(const json_t *list, cw_allotting_before **out, size_t *count, cw_error *err)
{
    *count = 0;
    *out = calloc(json_array_size(list) + 1, sizeof **out);
    if (*out == NULL)
        return cw_error_memory(err);
    cw_code code = CW_OK;
    for (size_t i = 0; i < json_array_size(list) && code == CW_OK; i++) {
        struct before_body b = { 0 };
        code = cw_object_read(json_array_get(list, i), (long)i + 1, before_shape, &b, err);
        if (code == CW_OK)
            code = cw_allotting_before_set(&(*out)[(*count)++], b.variety, b.order, b.line, b.rule,
                                           b.allocated, err);
    }
    return code;
}

static const cw_contract contract_allocation_changes = {
    .says = "What changed since an earlier preview, whose lines the caller sends: lines that now get more or "
            "less, new lines, and lines that no longer ask. Writes nothing.",
    .body = changes_shape,
    .answer = &cw_allotting_changes_shape,
};

/* What changed since an earlier preview, which the caller has kept. */
static cw_code route_allocation_changes(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct changes_body b = { 0 };
    cw_allotting *a = NULL;
    cw_allotting_before *before = NULL;
    cw_table t = { 0 };
    size_t count = 0, same = 0;
    cw_code code = as_set(n, &b.ask, err);
    if (code == CW_OK)
        code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = read_earlier(b.before, &before, &count, err);
    cw_allotting_ask ask = ask_of(&b.ask);
    if (code == CW_OK)
        code = cw_allotting_preview(n, cw_request_asker(q), &ask, &a, err);
    if (code == CW_OK)
        code = cw_allotting_changes(a, before, count, &t, &same, err);
    code = cw_reply_table_take(q, code, 200, &t, err);
    cw_allotting_free(a);
    free(before);
    return code;
}

static const cw_member small_shape[] = {
    { "supply", CW_TEXT_T, offsetof(struct share_query, supply), false, 0, 0, cw_words_supplies },
    { "confidence", CW_REAL_T, offsetof(struct share_query, confidence), false, 0.01, 0.9999, NULL },
    { "tiers_first", CW_BOOL_T, offsetof(struct share_query, tiers_first), false, 0, 0, NULL },
    { "rule", CW_TEXT_T, offsetof(struct share_query, rule), true, 0, 0, CW_ALLOTTING_RULES },
    { 0 },
};

static const cw_contract contract_small_orders_list = {
    .says = "Orders that reach the order minimum (a setting) as asked, and fall below it by what this rule "
            "leaves short.",
    .query = small_shape,
    .answer = &cw_allotting_below_minimum_shape,
};

/* Orders that a rule's shorts would bring below the order minimum. */
static cw_code route_small_orders_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct share_query s = { 0 };
    cw_allotting *a = NULL;
    cw_table t = { 0 };
    int64_t count = 0;
    cw_cents minimum = 0;
    cw_code code = as_set(n, &s, err);
    if (code == CW_OK)
        code = cw_query_read(q, &s, err);
    cw_allotting_ask ask = ask_of(&s);
    if (code == CW_OK)
        code = cw_allotting_preview(n, cw_request_asker(q), &ask, &a, err);
    if (code == CW_OK)
        code = cw_allotting_below_minimum(n, a, &t, &count, &minimum, err);
    code = cw_reply_table_take(q, code, 200, &t, err);
    cw_allotting_free(a);
    return code;
}

struct take_back_body {
    const char *order, *variety, *why;
    int64_t line, quantity;
};
static const cw_member take_back_shape[] = {
    { "order", CW_TEXT_T, offsetof(struct take_back_body, order), true, 0, CW_MAX_CODE, NULL },
    { "line", CW_INT_T, offsetof(struct take_back_body, line), true, 1, INT32_MAX, NULL },
    { "variety", CW_TEXT_T, offsetof(struct take_back_body, variety), true, 0, CW_MAX_CODE, NULL },
    { "quantity", CW_INT_T, offsetof(struct take_back_body, quantity), true, 1, CW_MAX_LINE_QUANTITY, NULL },
    { "why", CW_TEXT_T, offsetof(struct take_back_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_take_back_post = {
    .says = "Take back part of what a line is promised, with a reason on record.",
    .body = take_back_shape,
};

static cw_code route_take_back_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct take_back_body b = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_allotting_take_back(n, cw_request_asker(q), b.order, (int)b.line, b.variety, b.quantity,
                                      b.why, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

struct undo_body {
    int64_t run;
    const char *why;
};
static const cw_member undo_shape[] = {
    { "run", CW_INT_T, offsetof(struct undo_body, run), true, 1, 1e15, NULL },
    { "why", CW_TEXT_T, offsetof(struct undo_body, why), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_allocation_undo_post = {
    .says = "Undo the whole last run, of sharing or of substitution, with a reason on record.",
    .body = undo_shape,
};

/* Undoes the last run that was made firm, whole. */
static cw_code route_allocation_undo_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct undo_body b = { 0 };
    cw_allotting_undone done;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_allotting_undo(n, cw_request_asker(q), b.run, b.why, &done, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_member waitlist_shape[] = {
    { "variety", CW_TEXT_T, offsetof(struct share_query, variety), true, 0, CW_MAX_CODE, NULL }, { 0 }
};

static const cw_contract contract_waitlist_get = {
    .says = "Who waits for a variety, in the order in which the rule of the last run would serve them.",
    .query = waitlist_shape,
    .answer = &cw_allotting_waitlist_shape,
};

static cw_code route_waitlist_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct share_query s = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &s, err);
    if (code == CW_OK)
        code = cw_allotting_waitlist(n, cw_request_asker(q), s.variety, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_runs_list = {
    .says = "Runs that were made firm, the latest first.",
    .answer = &cw_allotting_runs_shape,
};

static cw_code route_runs_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_allotting_runs(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_allotting[] = {
    CW_ROUTE(GET, "/api/short", TAGGED, OFFICE, CW_NO_BODY, short_list),
    CW_ROUTE(GET, "/api/allocation", TAGGED, OFFICE, CW_NO_BODY, allocation_get),
    CW_ROUTE(POST, "/api/allocation", WORK, OFFICE, CW_SMALL_BODY, allocation_post),
    CW_ROUTE(POST, "/api/allocation/changes", LOOK, OFFICE, CW_BIG_BODY, allocation_changes),
    CW_ROUTE(POST, "/api/allocation/take-back", WORK, OFFICE, CW_SMALL_BODY, take_back_post),
    CW_ROUTE(POST, "/api/allocation/undo", WORK, OFFICE, CW_SMALL_BODY, allocation_undo_post),
    CW_ROUTE(GET, "/api/allocation/small", TAGGED, OFFICE, CW_NO_BODY, small_orders_list),
    CW_ROUTE(GET, "/api/hit", TAGGED, OFFICE, CW_NO_BODY, hit_list),
    CW_ROUTE(GET, "/api/waitlist", TAGGED, OFFICE, CW_NO_BODY, waitlist_get),
    CW_ROUTE(GET, "/api/runs", LOOK, OFFICE, CW_NO_BODY, runs_list),
    { 0 },
};
