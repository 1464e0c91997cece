/* SPDX-License-Identifier: MIT */
#include "routes/notices_inside.h"

#include "desk/orders/notices.h"
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape made_shape = { .parts = (const cw_part[]){
                                         { "made", CW_INT_T },
                                         { "kept", CW_INT_T },
                                         { "withdrawn", CW_INT_T },
                                         { 0 },
                                     } };

static const cw_shape timetable_shape = { .parts = (const cw_part[]){
                                              { "timetable", CW_TEXT_T },
                                              { "caution", CW_TEXT_T },
                                              { 0 },
                                          } };

struct list_query {
    const char *state;
    cw_day due_by;
};
static const cw_member list_shape[] = {
    { "state", CW_TEXT_T, offsetof(struct list_query, state), false, 0, 0, cw_words_notice_lists },
    { "due_by", CW_DAY_T, offsetof(struct list_query, due_by), false, 0, 0, NULL },
    { 0 },
};

static cw_code read_query(cw_request *q, struct list_query *in, cw_error *err)
{
    *in = (struct list_query){ "due", CW_NO_DAY };
    cw_code code = cw_query_read(q, in, err);
    if (strcmp(in->state, "all") == 0)
        in->state = NULL;
    return code;
}

static const cw_contract contract_notices_list = {
    .says = "What buyers must be told, by the day on which it is due.",
    .query = list_shape,
    .answer = &cw_notices_show_shape,
};

static cw_code route_notices_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct list_query in;
    cw_table t = { 0 };
    cw_code code = read_query(q, &in, err);
    if (code == CW_OK)
        code = cw_notices_show(n, cw_request_asker(q), in.state, in.due_by, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_timetable_get = {
    .says = "Which timetable notices follow, and the caution that goes with it.",
    .answer = &timetable_shape,
};

static cw_code route_timetable_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    char caution[256], timetable[32];
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_notices_caution(n, caution, sizeof caution, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "timetable", timetable, sizeof timetable, err);
    if (code != CW_OK)
        return code;
    return cw_reply_json_take(q, 200, json_pack("{s:s,s:s}", "timetable", timetable, "caution", caution),
                              err);
}

static const cw_contract contract_notices_csv = {
    .says = "The notices with their texts filled in, for a mail merge.",
    .query = list_shape,
    .type = "text/csv; charset=utf-8",
};

static cw_code route_notices_csv(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct list_query in;
    cw_table t = { 0 };
    cw_code code = read_query(q, &in, err);
    if (code == CW_OK)
        code = cw_notices_merge(n, cw_request_asker(q), in.state, in.due_by, &t, err);
    cw_reply_name(q, "notices.csv");
    if (code == CW_OK)
        code = cw_table_csv_sheet(&t, cw_reply_sink(q, 200, "text/csv; charset=utf-8"), err);
    cw_table_free(&t);
    return code;
}

static const cw_contract contract_notice_eml = {
    .says = "One notice as a message file: NUMBER.eml (RFC 5322). It is not sent by this.",
    .type = "message/rfc822",
};

/* /api/notices/12.eml */
static cw_code route_notice_eml(cw_request *q, cw_nursery *n, cw_error *err)
{
    const char *file = cw_path_text(q, "file");
    size_t length = strlen(file);
    int64_t id = 0;
    cw_text eml = CW_TEXT((size_t)1 << 20);
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK && (length < 5 || strcmp(file + length - 4, ".eml") != 0 ||
                          !cw_parse_int(file, length - 4, 1, INT64_MAX, &id)))
        code = cw_error_set(err, CW_NOT_FOUND, "a notice is NUMBER.eml");
    if (code == CW_OK)
        code = cw_notices_message(n, cw_request_asker(q), id, &eml, err);
    if (code == CW_OK) {
        cw_reply_name(q, file);
        code = cw_reply_text_take(q, 200, "message/rfc822", &eml, err);
    }
    cw_text_free(&eml);
    return code;
}

static const cw_contract contract_notices_make_post = {
    .says = "Work out which notices are due. Each fact gives one notice.",
    .answer = &made_shape,
};

static cw_code route_notices_make_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_notices_made m;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_notices_make(n, cw_request_asker(q), &m, err);
    if (code != CW_OK)
        return code;
    return cw_reply_json_take(q, 200,
                              json_pack("{s:I,s:I,s:I}", "made", (json_int_t)m.made, "kept",
                                        (json_int_t)m.kept, "withdrawn", (json_int_t)m.withdrawn),
                              err);
}

struct done_body {
    const char *words;
};
static const cw_member sent_shape[] = {
    { "evidence", CW_TEXT_T, offsetof(struct done_body, words), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};
static const cw_member drop_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct done_body, words), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};

/* One notice, and a few words on record. */
static cw_code note(cw_request *q, cw_nursery *n,
                    cw_code (*what)(cw_nursery *n, const cw_asker *who, int64_t notice, const char *words,
                                    cw_error *err),
                    cw_error *err)
{
    struct done_body b = { NULL };
    int64_t id = 0;
    cw_code code = cw_path_int(q, "notice", &id, err);
    if (code == CW_OK)
        code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = what(n, cw_request_asker(q), id, b.words, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_notice_sent_post = {
    .says = "Record that a notice was sent, and how.",
    .body = sent_shape,
};

static cw_code route_notice_sent_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return note(q, n, cw_notices_sent, err);
}

struct one_notice {
    int64_t notice;
};
const cw_member cw_one_notice_shape[] = {
    { "notice", CW_INT_T, offsetof(struct one_notice, notice), true, 1, 1e15, NULL },
    { 0 },
};

cw_code cw_notice_ids_read(const json_t *list, int64_t **ids, size_t *count, cw_error *err)
{
    *count = json_array_size(list);
    *ids = calloc(*count + 1, sizeof **ids);
    if (*ids == NULL)
        return cw_error_memory(err);
    cw_code code = CW_OK;
    for (size_t i = 0; i < *count && code == CW_OK; i++) {
        struct one_notice one = { 0 };
        code = cw_object_read(json_array_get(list, i), (long)i + 1, cw_one_notice_shape, &one, err);
        (*ids)[i] = one.notice;
    }
    return code;
}

struct sent_body {
    const json_t *notices;
    const char *evidence;
};
static const cw_member all_sent_shape[] = {
    { "notices", CW_LIST_T, offsetof(struct sent_body, notices), true, 1, CW_NOTICES_MOST,
      .each = cw_one_notice_shape },
    { "evidence", CW_TEXT_T, offsetof(struct sent_body, evidence), true, 0, CW_MAX_NOTE, NULL },
    { 0 },
};
static const cw_shape all_sent_answer = { .parts = (const cw_part[]){ { "sent", CW_INT_T }, { 0 } } };

static const cw_contract contract_notices_sent_post = {
    .says = "Record that these notices were sent, and how: all of them, or none.",
    .body = all_sent_shape,
    .answer = &all_sent_answer,
};

static cw_code route_notices_sent_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct sent_body b = { NULL, NULL };
    cw_code code = cw_body_read(q, &b, err);
    size_t count = 0;
    int64_t *ids = NULL;
    if (code == CW_OK)
        code = cw_notice_ids_read(b.notices, &ids, &count, err);
    if (code == CW_OK)
        code = cw_notices_sent_all(n, cw_request_asker(q), ids, count, b.evidence, err);
    free(ids);
    return code == CW_OK ? cw_reply_json_take(q, 200, json_pack("{s:I}", "sent", (json_int_t)count), err)
                         : code;
}

static const cw_contract contract_notice_drop_post = {
    .says = "Record that a notice need not be sent, and why.",
    .body = drop_shape,
};

static cw_code route_notice_drop_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    return note(q, n, cw_notices_drop, err);
}

static const cw_contract contract_templates_list = {
    .says = "The texts of notices.",
    .answer = &cw_notices_templates_shape,
};

static cw_code route_templates_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_notices_templates(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

/* The desk checks the texts. */
struct template_body {
    const char *kind, *language;
    const json_t *subject, *body;
    int64_t notice;
};
static const cw_member template_shape[] = {
    { "kind", CW_TEXT_T, offsetof(struct template_body, kind), true, 0, 0, cw_words_notice_kinds },
    { "language", CW_TEXT_T, offsetof(struct template_body, language), false, 0, 0, cw_words_languages },
    { "subject", CW_LONG_T, offsetof(struct template_body, subject), true },
    { "body", CW_LONG_T, offsetof(struct template_body, body), true },
    { 0 },
};
static const cw_member preview_shape[] = {
    { "kind", CW_TEXT_T, offsetof(struct template_body, kind), true, 0, 0, cw_words_notice_kinds },
    { "language", CW_TEXT_T, offsetof(struct template_body, language), false, 0, 0, cw_words_languages },
    { "subject", CW_LONG_T, offsetof(struct template_body, subject), false },
    { "body", CW_LONG_T, offsetof(struct template_body, body), false },
    { "notice", CW_INT_T, offsetof(struct template_body, notice), false, 1, 9e15, NULL },
    { 0 },
};

static const cw_shape template_put_based = { .parts = (const cw_part[]){
                                                 { "subject", CW_TEXT_T, .lack = true },
                                                 { "body", CW_TEXT_T, .lack = true },
                                                 { 0 },
                                             } };

static const cw_contract contract_template_put = {
    .says = "Change the text of one kind in one language (the nursery's if none is named); {words} in braces "
            "are filled in, an unknown one is refused.",
    .body = template_shape,
    .based = &template_put_based,
};

static cw_code route_template_put(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct template_body b = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_notices_template_set(n, cw_request_asker(q), b.kind, b.language,
                                       json_string_value(b.subject), json_string_value(b.body), err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_template_preview_post = {
    .says = "How a text would read, for a notice on record or an invented one.",
    .body = preview_shape,
    .answer = &cw_notices_preview_shape,
};

static cw_code route_template_preview_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct template_body b = { 0 };
    json_t *doc = NULL;
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_notices_preview(n, cw_request_asker(q), b.kind, b.language, json_string_value(b.subject),
                                  json_string_value(b.body), b.notice, &doc, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

struct refunds_query {
    bool all;
};
static const cw_member refunds_shape[] = {
    { "all", CW_BOOL_T, offsetof(struct refunds_query, all), false, 0, 0, NULL },
    { 0 },
};

static cw_code refunds(cw_request *q, cw_nursery *n, cw_table *t, cw_error *err)
{
    struct refunds_query in = { false };
    cw_code code = cw_query_read(q, &in, err);
    return code == CW_OK ? cw_notices_refunds(n, cw_request_asker(q), in.all, t, err) : code;
}

static const cw_contract contract_refunds_list = {
    .says = "What is owed per order and why.",
    .query = refunds_shape,
    .answer = &cw_notices_refunds_shape,
};

static cw_code route_refunds_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = refunds(q, n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_refunds_csv = {
    .says = "The refund register as CSV.",
    .query = refunds_shape,
    .type = "text/csv; charset=utf-8",
};

static cw_code route_refunds_csv(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = refunds(q, n, &t, err);
    cw_reply_name(q, "refunds.csv");
    if (code == CW_OK)
        code = cw_table_csv_sheet(&t, cw_reply_sink(q, 200, "text/csv; charset=utf-8"), err);
    cw_table_free(&t);
    return code;
}

const cw_route cw_routes_notices[] = {
    CW_ROUTE(GET, "/api/notices", LOOK, OFFICE, CW_NO_BODY, notices_list),
    CW_ROUTE(GET, "/api/notices.csv", LOOK, OFFICE, CW_NO_BODY, notices_csv),
    CW_ROUTE(GET, "/api/notices/{file}", LOOK, OFFICE, CW_NO_BODY, notice_eml),
    CW_ROUTE(POST, "/api/notices/make", WORK, OFFICE, CW_SMALL_BODY, notices_make_post),
    CW_ROUTE(POST, "/api/notices/sent", WORK, OFFICE, CW_BIG_BODY, notices_sent_post),
    CW_ROUTE(POST, "/api/notices/{notice}/sent", WORK, OFFICE, CW_SMALL_BODY, notice_sent_post),
    CW_ROUTE(POST, "/api/notices/{notice}/drop", WORK, OFFICE, CW_SMALL_BODY, notice_drop_post),
    CW_ROUTE(GET, "/api/timetable", LOOK, OFFICE, CW_NO_BODY, timetable_get),
    CW_ROUTE(GET, "/api/templates", LOOK, OFFICE, CW_NO_BODY, templates_list),
    CW_ROUTE(PUT, "/api/templates", WORK, OFFICE, CW_BIG_BODY, template_put),
    CW_ROUTE(POST, "/api/templates/preview", LOOK, OFFICE, CW_BIG_BODY, template_preview_post),
    CW_ROUTE(GET, "/api/refunds", LOOK, OFFICE, CW_NO_BODY, refunds_list),
    CW_ROUTE(GET, "/api/refunds.csv", LOOK, OFFICE, CW_NO_BODY, refunds_csv),
    { 0 },
};
