/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "base/limits.h"
#include "desk/beds/beds.h"
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

struct beds_query {
    int64_t beds, keep;
    const char *try_text;
};
static const cw_member plan_shape[] = {
    { "beds", CW_INT_T, offsetof(struct beds_query, beds), false, 0, 1000000,
      .says = "Places in the beds; not said: by the settings." },
    { 0 },
};
static const cw_member variety_shape[] = {
    { "keep", CW_INT_T, offsetof(struct beds_query, keep), false, 0, CW_MAX_DIVISIONS,
      .says = "The years that follow if so many are kept; not said: the best figure." },
    { "try", CW_TEXT_T, offsetof(struct beds_query, try_text), false, 0, 4000,
      .says = "CODE:field:value, parted by commas: demand (40..90), growth, cost, least, price or reserve." },
    { 0 },
};

static const cw_contract contract_beds_get = {
    .says = "How many to keep of each variety for planting, and what the beds hold.",
    .query = plan_shape,
    .answer = &cw_beds_plan_shape,
};

static cw_code route_beds_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct beds_query in = { -1, -1, NULL };
    cw_table t = { 0 };
    json_t *beds = NULL;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK) {
        const cw_beds_ask ask = { .places = in.beds, .keep = -1 };
        code = cw_beds_plan(n, cw_request_asker(q), &ask, &t, &beds, err);
    }
    if (code == CW_OK)
        code = cw_reply_json_take(
            q, 200, json_pack("{s:o,s:o}", "beds", beds, "varieties", cw_table_to_json(&t)), err);
    cw_table_free(&t);
    return code;
}

static const cw_contract contract_beds_file = {
    .says = "The same as CSV, in the columns that files rely on.",
    .query = plan_shape,
    .type = "text/csv; charset=utf-8",
};

static cw_code route_beds_file(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct beds_query in = { -1, -1, NULL };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK) {
        const cw_beds_ask ask = { .brief = true, .places = in.beds, .keep = -1 };
        code = cw_beds_plan(n, cw_request_asker(q), &ask, &t, NULL, err);
    }
    if (code == CW_OK)
        code = cw_table_csv_sheet(&t, cw_reply_sink(q, 200, "text/csv; charset=utf-8"), err);
    if (code == CW_OK)
        cw_reply_name(q, "planting.csv");
    cw_table_free(&t);
    return code;
}

static const cw_contract contract_beds_variety = {
    .says = "One variety: what each figure kept is worth, the years that follow, and why.",
    .query = variety_shape,
    .answer = &cw_beds_variety_shape,
};

static cw_code route_beds_variety(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct beds_query in = { -1, -1, NULL };
    json_t *doc = NULL;
    cw_beds_figures *tries = calloc(1, sizeof *tries);
    cw_code code = tries ? cw_query_read(q, &in, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_beds_figures_read(in.try_text, tries, err);
    if (code == CW_OK) {
        const cw_beds_ask ask = { .places = -1,
                                  .variety = cw_path_text(q, "code"),
                                  .keep = in.keep,
                                  .tries = tries->item,
                                  .n_tries = tries->count };
        code = cw_beds_variety(n, cw_request_asker(q), &ask, &doc, err);
    }
    free(tries);
    return code == CW_OK ? cw_reply_json_take(q, 200, doc, err) : code;
}

struct item_body {
    const char *variety;
    int64_t keep;
};
static const cw_member item_shape[] = {
    { "variety", CW_TEXT_T, offsetof(struct item_body, variety), true, 0, CW_MAX_CODE, NULL },
    { "keep", CW_INT_T, offsetof(struct item_body, keep), false, 0, CW_MAX_DIVISIONS,
      .says = "Not said: the plan's figure." },
    { 0 },
};
struct commit_body {
    const json_t *items;
};
static const cw_member commit_shape[] = {
    { "items", CW_LIST_T, offsetof(struct commit_body, items), false, 1, CW_MAX_VARIETIES, .each = item_shape,
      .says = "Not said: every variety that has a figure." },
    { 0 },
};

static cw_code read_items(const json_t *list, cw_beds_item **out, size_t *count, cw_error *err)
{
    *count = 0;
    *out = NULL;
    if (list == NULL)
        return CW_OK;
    *out = calloc(json_array_size(list), sizeof **out);
    if (*out == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < json_array_size(list); i++) {
        struct item_body b = { NULL, -1 };
        cw_code code = cw_object_read(json_array_get(list, i), (long)i + 1, item_shape, &b, err);
        if (code != CW_OK)
            return code;
        (*out)[(*count)++] = (cw_beds_item){ b.variety, b.keep };
    }
    return CW_OK;
}

static cw_code reply_changes(cw_request *q, unsigned status, int64_t run, const cw_table *t, cw_error *err)
{
    return cw_reply_json_take(q, status,
                              json_pack("{s:o,s:o}", "run", run > 0 ? json_integer(run) : json_null(),
                                        "changes", cw_table_to_json(t)),
                              err);
}

static const cw_contract contract_beds_post = {
    .says = "Write figures of the plan as hold-back, on record.",
    .body = commit_shape,
    .answer = &cw_beds_changes_shape,
    .status = 201,
    .based = &cw_beds_based,
};

static cw_code route_beds_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct commit_body b = { NULL };
    const cw_beds_ask ask = { .places = -1, .keep = -1 };
    cw_beds_item *items = NULL;
    size_t count = 0;
    int64_t run = 0;
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = read_items(b.items, &items, &count, err);
    if (code == CW_OK)
        code = cw_beds_commit(n, cw_request_asker(q), &ask, items, count, &run, &t, err);
    if (code == CW_OK)
        code = reply_changes(q, 201, run, &t, err);
    cw_table_free(&t);
    free(items);
    return code;
}

struct undo_body {
    int64_t run;
};
static const cw_member undo_shape[] = {
    { "run", CW_INT_T, offsetof(struct undo_body, run), true, 1, 1e15, NULL },
    { 0 },
};

static const cw_contract contract_beds_undo = {
    .says = "Take such a writing back whole; 409 if one of its hold-backs was changed since.",
    .body = undo_shape,
    .answer = &cw_beds_changes_shape,
};

static cw_code route_beds_undo(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct undo_body b = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_beds_undo(n, cw_request_asker(q), b.run, &t, err);
    if (code == CW_OK)
        code = reply_changes(q, 200, b.run, &t, err);
    cw_table_free(&t);
    return code;
}

static const cw_contract contract_beds_runs = {
    .says = "Which hold-backs were written at once, when and by whom.",
    .answer = &cw_beds_runs_shape,
};

static cw_code route_beds_runs(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_beds_runs(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct say_body {
    const char *demand, *growth, *cost, *least;
};
static const cw_member say_shape[] = {
    { "demand", CW_TEXT_T, offsetof(struct say_body, demand), false, 0, 60,
      .says = "Asked for in a usual season, as 40..90 (8 in 10 sure); empty: past sales alone." },
    { "growth", CW_TEXT_T, offsetof(struct say_body, growth), false, 0, 60,
      .says = "Divisions next spring of one planted; empty: what is learned." },
    { "cost", CW_TEXT_T, offsetof(struct say_body, cost), false, 0, 60,
      .says = "Of growing one plant; empty: the setting." },
    { "least", CW_TEXT_T, offsetof(struct say_body, least), false, 0, 60,
      .says = "Keep so many at least; empty: none." },
    { 0 },
};
static const cw_shape say_based = { .parts = (const cw_part[]){
                                        { "demand", CW_TEXT_T, .lack = true, .null = true },
                                        { "growth", CW_TEXT_T, .lack = true, .null = true },
                                        { "cost", CW_TEXT_T, .lack = true, .null = true },
                                        { "least", CW_TEXT_T, .lack = true, .null = true },
                                        { 0 },
                                    } };

static const cw_contract contract_beds_patch = {
    .says = "Say your own figures of a variety, on record: of demand as knowledge beside past sales, else in "
            "the place of what is learned.",
    .body = say_shape,
    .based = &say_based,
};

static cw_code route_beds_patch(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct say_body b = { NULL, NULL, NULL, NULL };
    char text[400] = "";
    size_t used = 0;
    cw_beds_figures *said = calloc(1, sizeof *said);
    cw_code code = said ? cw_body_read(q, &b, err) : cw_error_memory(err);
    const struct {
        const char *name, *value;
    } parts[] = { { "demand", b.demand }, { "growth", b.growth }, { "cost", b.cost }, { "least", b.least } };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (parts[i].value)
            used += (size_t)snprintf(text + used, sizeof text - used, "%s%s:%s:%s", used ? "," : "",
                                     cw_path_text(q, "code"), parts[i].name, parts[i].value);
    if (code == CW_OK)
        code = cw_beds_figures_read(text, said, err);
    if (code == CW_OK)
        code = cw_beds_say(n, cw_request_asker(q), said->item, said->count, err);
    free(said);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_beds[] = {
    CW_ROUTE(GET, "/api/keep", TAGGED, OFFICE, CW_NO_BODY, beds_get),
    CW_ROUTE(GET, "/api/keep.csv", TAGGED, OFFICE, CW_NO_BODY, beds_file),
    CW_ROUTE(GET, "/api/keep/{code}", TAGGED, OFFICE, CW_NO_BODY, beds_variety),
    CW_ROUTE(PATCH, "/api/keep/{code}", WORK, OWNER, CW_SMALL_BODY, beds_patch),
    CW_ROUTE(POST, "/api/keep", WORK, OWNER, CW_BIG_BODY, beds_post),
    CW_ROUTE(POST, "/api/keep-runs/undo", WORK, OWNER, CW_SMALL_BODY, beds_undo),
    CW_ROUTE(GET, "/api/keep-runs", LOOK, OFFICE, CW_NO_BODY, beds_runs),
    { 0 },
};
