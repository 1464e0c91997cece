/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/intake/brought.h"
#include "desk/intake/intake.h"
#include "desk/share/arriving.h"
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_shape loaded_shape = {
    .parts =
        (const cw_part[]){
            { "files", .shape = &cw_intake_load_shape },
            { "committed", CW_BOOL_T },
            { "firm", CW_INT_T, .says = "Divisions of late lines promised at once." },
            { "waiting", CW_INT_T, .says = "Late lines that wait for the next sharing." },
            { 0 },
        }
};

#define MOST_FILES 50

struct file_body {
    const char *name, *kind;
    const json_t *text;
};
static const cw_member file_shape[] = {
    { "name", CW_TEXT_T, offsetof(struct file_body, name), true, 0, CW_MAX_NAME, NULL },
    { "kind", CW_TEXT_T, offsetof(struct file_body, kind), false, 0, CW_MAX_NAME, NULL },
    { "text", CW_LONG_T, offsetof(struct file_body, text), true },
    { 0 },
};

struct load_body {
    const json_t *files;
    bool dry_run, ignore_extra, changes;
    const char *oversell;
    const char *same_name;
};
static const cw_member load_shape[] = {
    { "files", CW_LIST_T, offsetof(struct load_body, files), true, 1, MOST_FILES, .each = file_shape },
    { "dry_run", CW_BOOL_T, offsetof(struct load_body, dry_run), false, 0, 0, NULL },
    { "ignore_extra", CW_BOOL_T, offsetof(struct load_body, ignore_extra), false, 0, 0, NULL },
    { "changes", CW_BOOL_T, offsetof(struct load_body, changes), false, 0, 0, NULL },
    { "oversell", CW_TEXT_T, offsetof(struct load_body, oversell), false, 0, CW_MAX_NOTE, NULL },
    { "same_name", CW_TEXT_T, offsetof(struct load_body, same_name), false, 0, 0, "new|code" },
    { 0 },
};

static cw_code read_files(const json_t *list, cw_intake_file files[MOST_FILES], size_t *count, cw_error *err)
{
    *count = json_array_size(list);
    for (size_t i = 0; i < *count; i++) {
        struct file_body b = { NULL, NULL, NULL };
        cw_code code = cw_object_read(json_array_get(list, i), (long)i + 1, file_shape, &b, err);
        if (code != CW_OK)
            return code;
        files[i] = (cw_intake_file){ .name = b.name,
                                     .kind = b.kind,
                                     .bytes = json_string_value(b.text),
                                     .length = json_string_length(b.text) };
    }
    return CW_OK;
}

static const cw_contract contract_load_post = {
    .says = "Take CSV files in, all or nothing.",
    .body = load_shape,
    .answer = &loaded_shape,
    .status = 201,
};

static cw_code route_load_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct load_body b = { NULL, false, false, false, NULL, NULL };
    cw_intake_file files[MOST_FILES];
    size_t count = 0;
    int64_t mark = -1;
    cw_arriving_done late = { 0 };
    cw_table t = { 0 };
    cw_error_list errors = { NULL, 0, 0 };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = read_files(b.files, files, &count, err);
    if (code == CW_OK) {
        cw_intake_options o = { b.dry_run, b.ignore_extra, b.changes, b.oversell,
                                cw_same_name_of(b.same_name) };
        code = cw_arriving_mark(n, &mark, err);
        if (code == CW_OK)
            code = cw_intake_load(n, cw_request_asker(q), files, count, &o, &t, &errors, err);
        if (code == CW_OK && !b.dry_run)
            code = cw_arriving_promise(n, cw_request_asker(q), mark, -1, NULL, &late, err);
    }
    if (errors.count > 0)
        cw_reply_errors(q, &errors);
    if (code == CW_OK)
        code = cw_reply_json_take(q, 201,
                                  json_pack("{s:o,s:b,s:I,s:I}", "files", cw_table_to_json(&t), "committed",
                                            !b.dry_run, "firm", (json_int_t)late.firm, "waiting",
                                            (json_int_t)late.waiting),
                                  err);
    cw_table_free(&t);
    cw_error_list_free(&errors);
    return code;
}

static const cw_contract contract_records_post = {
    .says = "Mend the rows of a kind as a grid shows them: what is new, changed and gone, all or nothing. A "
            "row that somebody else "
            "changed since is not written over. Errors tell the row's place in the list, from 1.",
    .takes = &cw_intake_mends_shape,
    .answer = &cw_intake_mend_shape,
};

static cw_code route_records_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    const json_t *body = NULL;
    cw_table t = { 0 };
    cw_error_list errors = { NULL, 0, 0 };
    cw_code code = cw_body_json(q, &body, err);
    if (code == CW_OK)
        code = cw_intake_mend(n, cw_request_asker(q), cw_path_text(q, "kind"), json_object_get(body, "rows"),
                              &t, &errors, err);
    if (errors.count > 0)
        cw_reply_errors(q, &errors);
    cw_error_list_free(&errors);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_kinds_list = {
    .says = "Every column of every kind of file: whether it is needed, what it holds, whether it is part of "
            "the key.",
    .answer = &cw_intake_columns_shape,
};

static cw_code route_kinds_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    (void)n;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_intake_columns(NULL, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_sample_get = {
    .says =
        "A file of a kind with invented rows of this season (varieties.csv), to be filled with one's own.",
    .type = "text/csv; charset=utf-8",
};

static cw_code route_sample_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    const char *file = cw_path_text(q, "file");
    size_t length = strlen(file);
    char kind[64];
    cw_text out = CW_TEXT(8192);
    bool csv = length > 4 && length < sizeof kind && strcmp(file + length - 4, ".csv") == 0;
    snprintf(kind, sizeof kind, "%.*s", csv ? (int)length - 4 : 0, file);
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_intake_sample(n, cw_request_asker(q), kind, &out, err);
    if (code == CW_OK) {
        cw_reply_name(q, file);
        cw_sink to = cw_reply_sink(q, 200, "text/csv; charset=utf-8");
        code = to.write(to.self, out.data, out.length, err);
    }
    cw_text_free(&out);
    return code;
}

static const cw_contract contract_brought_list = {
    .says = "Files of holds and of tracking numbers that were taken in, newest first, and whether they were "
            "taken "
            "back.",
    .answer = &cw_brought_files_shape,
};

static cw_code route_brought_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_brought_files(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct undo_body {
    const char *why;
};
static const cw_member undo_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct undo_body, why), true, 1, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_contract contract_brought_undo = {
    .says =
        "Take such a file back whole: holds that it set are lifted, parcels that it sent are packed again, "
        "numbers that it gave are gone.",
    .body = undo_shape,
};

static cw_code route_brought_undo(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct undo_body b = { NULL };
    int64_t brought = 0;
    cw_code code = cw_path_int(q, "brought", &brought, err);
    if (code == CW_OK)
        code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_brought_take_back(n, cw_request_asker(q), brought, b.why, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_intake[] = {
    CW_ROUTE(POST, "/api/load", WORK, OFFICE, CW_MAX_BODY_BYTES, load_post),
    CW_ROUTE(GET, "/api/load/brought", LOOK, OFFICE, CW_NO_BODY, brought_list),
    CW_ROUTE(POST, "/api/load/brought/{brought}/undo", WORK, OFFICE, CW_SMALL_BODY, brought_undo),
    CW_ROUTE(POST, "/api/records/{kind}", WORK, OFFICE, CW_MAX_BODY_BYTES, records_post),
    CW_ROUTE(GET, "/api/kinds", LOOK, OFFICE, CW_NO_BODY, kinds_list),
    CW_ROUTE(GET, "/api/samples/{file}", LOOK, OFFICE, CW_NO_BODY, sample_get),
    { 0 },
};
