/* SPDX-License-Identifier: MIT */
#include "base/json.h"
#include "desk/intake/intake.h"
#include "desk/share/arriving.h"
#include "desk/sheets/sheets.h"
#include "http/route.h"
#include <sodium.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Spreadsheets of other makes. The page sends the file with each look and with the fit as far as it is told; the server keeps nothing of
 * it. Bytes come as Base64, because a workbook is no text. */
static const cw_shape look_takes = {
    .parts =
        (const cw_part[]){
            { "name", CW_TEXT_T, .says = "With its extension." },
            { "text", CW_TEXT_T, .null = true, .lack = true, .says = "Cells that were pasted; or" },
            { "base64", CW_TEXT_T, .null = true, .lack = true, .says = "the file's bytes (RFC 4648, 4)." },
            { "kind", CW_TEXT_T, .null = true, .lack = true },
            { "fit", .shape = &cw_sheets_fit_shape, .null = true, .lack = true },
            { 0 },
        }
};
static const cw_shape take_takes = { .parts = (const cw_part[]){
                                         { "name", CW_TEXT_T },
                                         { "text", CW_TEXT_T, .null = true, .lack = true },
                                         { "base64", CW_TEXT_T, .null = true, .lack = true },
                                         { "kind", CW_TEXT_T, .null = true, .lack = true },
                                         { "fit", .shape = &cw_sheets_fit_shape, .null = true, .lack = true },
                                         { "dry_run", CW_BOOL_T, .null = true, .lack = true },
                                         { "changes", CW_BOOL_T, .null = true, .lack = true,
                                           .says = "Order lines that differ change what is on record." },
                                         { "oversell", CW_TEXT_T, .null = true, .lack = true,
                                           .says = "Why more may be sold than is offered." },
                                         { "same_name", CW_TEXT_T, .null = true, .lack = true,
                                           .says = "new or code, as when CSV files are taken in." },
                                         { "keep", CW_TEXT_T, .null = true, .lack = true,
                                           .says = "Name under which the fit is kept." },
                                         { 0 },
                                     } };
static const cw_shape taken_shape = {
    .parts =
        (const cw_part[]){
            { "files", .shape = &cw_intake_load_shape },
            { "committed", CW_BOOL_T },
            { "firm", CW_INT_T, .says = "Divisions of late lines promised at once." },
            { "waiting", CW_INT_T, .says = "Late lines that wait for the next sharing." },
            { 0 },
        }
};

typedef struct upload {
    cw_sheets_file file;
    const json_t *fit;
    char *bytes; /* decoded; owned */
} upload;

static const char *text_in(const json_t *body, const char *name)
{
    const json_t *v = json_object_get(body, name);
    return json_is_string(v) ? json_string_value(v) : NULL;
}

/* Each member is of the contract, and of its kind. */
static cw_code check_members(const json_t *body, const cw_shape *takes, cw_error *err)
{
    const char *name;
    json_t *v;
    json_object_foreach((json_t *)(uintptr_t)body, name, v)
    {
        const cw_part *p = takes->parts;
        char shown[80];
        while (p->name && strcmp(p->name, name) != 0)
            p++;
        if (p->name == NULL)
            return cw_error_set(err, CW_REFUSED, "there is no such member: %s",
                                cw_shown(name, strlen(name), shown));
        bool good = p->shape               ? json_is_object(v)
                    : p->type == CW_BOOL_T ? json_is_boolean(v)
                                           : json_is_string(v);
        if (!good && !(p->null && json_is_null(v)))
            return cw_error_set(err, CW_REFUSED, "%s must be %s", p->name,
                                p->shape               ? "an object"
                                : p->type == CW_BOOL_T ? "true or false"
                                                       : "a text");
    }
    return CW_OK;
}

static cw_code decode(upload *u, const json_t *base64, cw_error *err)
{
    size_t n = json_string_length(base64), length = 0;
    u->bytes = malloc(n / 4 * 3 + 4);
    if (u->bytes == NULL)
        return cw_error_memory(err);
    if (sodium_base642bin((unsigned char *)u->bytes, n / 4 * 3 + 4, json_string_value(base64), n, NULL,
                          &length, NULL, sodium_base64_VARIANT_ORIGINAL) != 0)
        return cw_error_set(err, CW_REFUSED, "base64 is not the bytes of a file as RFC 4648 writes them");
    u->file.bytes = u->bytes;
    u->file.length = length;
    return CW_OK;
}

static cw_code read_upload(cw_request *q, const cw_shape *takes, const json_t **body, upload *u,
                           cw_error *err)
{
    cw_code code = cw_body_json(q, body, err);
    *u = (upload){ .bytes = NULL };
    if (code == CW_OK && !json_is_object(*body))
        code = cw_error_set(err, CW_REFUSED, "the body must be an object");
    if (code == CW_OK)
        code = check_members(*body, takes, err);
    if (code != CW_OK)
        return code;
    const json_t *text = json_object_get(*body, "text"), *base64 = json_object_get(*body, "base64");
    u->file.name = text_in(*body, "name");
    u->file.kind = text_in(*body, "kind");
    u->fit = json_object_get(*body, "fit");
    if (u->file.name == NULL || u->file.name[0] == '\0' || strlen(u->file.name) > CW_MAX_NAME)
        return cw_error_set(err, CW_REFUSED, "name must be a text of 1 to %d bytes", CW_MAX_NAME);
    if (json_is_string(text) == json_is_string(base64))
        return cw_error_set(err, CW_REFUSED, "either text or base64 must hold the cells");
    if (json_is_string(base64))
        return decode(u, base64, err);
    u->file.bytes = json_string_value(text);
    u->file.length = json_string_length(text);
    return CW_OK;
}

static const cw_shape ours_shape = { .parts = (const cw_part[]){ { "ours", CW_BOOL_T }, { 0 } } };
static const cw_contract contract_sheet_ours = {
    .says = "By its name and the first bytes: is it a file of our own kind, for POST /api/load?",
    .takes = &look_takes,
    .answer = &ours_shape,
};

static cw_code route_sheet_ours(cw_request *q, cw_nursery *n, cw_error *err)
{
    const json_t *body = NULL;
    upload u;
    (void)n;
    cw_code code = read_upload(q, &look_takes, &body, &u, err);
    if (code == CW_OK)
        code = cw_reply_json_take(
            q, 200,
            json_pack("{s:b}", "ours", cw_sheets_ours(u.file.name, u.file.kind, u.file.bytes, u.file.length)),
            err);
    free(u.bytes);
    return code;
}

static const cw_contract contract_sheet_look = {
    .says = "Look at a spreadsheet of another make: how it would be fitted, what is in doubt, what is wrong. "
            "Changes nothing.",
    .takes = &look_takes,
    .answer = &cw_sheets_look_shape,
};

static cw_code route_sheet_look(cw_request *q, cw_nursery *n, cw_error *err)
{
    const json_t *body = NULL;
    json_t *document = NULL;
    upload u;
    cw_code code = read_upload(q, &look_takes, &body, &u, err);
    if (code == CW_OK)
        code = cw_sheets_look(n, cw_request_asker(q), &u.file, u.fit, &document, err);
    if (code == CW_OK)
        code = cw_reply_json_take(q, 200, document, err);
    free(u.bytes);
    return code;
}

static const cw_contract contract_sheet_take = {
    .says = "Take a spreadsheet of another make, whole or not at all: refused while anything is in doubt or "
            "wrong.",
    .takes = &take_takes,
    .answer = &taken_shape,
    .status = 201,
    .refusal =
        (const cw_part[]){ { "look", .shape = &cw_sheets_look_shape, .says = "What is in doubt or wrong." },
                           { 0 } },
};

static cw_code take(cw_request *q, cw_nursery *n, const upload *u, const cw_sheets_options *o,
                    json_t **answer, cw_error *err)
{
    const cw_asker *who = cw_request_asker(q);
    cw_arriving_done late = { 0 };
    cw_table t = { 0 };
    json_t *document = NULL;
    int64_t mark = -1;
    cw_code code = cw_arriving_mark(n, &mark, err);
    if (code == CW_OK)
        code = cw_sheets_take(n, who, &u->file, u->fit, o, &t, &document, err);
    if (code == CW_OK && !o->dry_run)
        code = cw_arriving_promise(n, who, mark, -1, NULL, &late, err);
    if (code == CW_OK)
        *answer = json_pack("{s:o,s:b,s:I,s:I}", "files", cw_table_to_json(&t), "committed", !o->dry_run,
                            "firm", (json_int_t)late.firm, "waiting", (json_int_t)late.waiting);
    if (code != CW_OK && code != CW_MACHINE && document)
        cw_reply_with(q, "look", json_incref(document));
    json_decref(document);
    cw_table_free(&t);
    return code;
}

static cw_code route_sheet_take(cw_request *q, cw_nursery *n, cw_error *err)
{
    const json_t *body = NULL;
    json_t *answer = NULL;
    upload u;
    cw_code code = read_upload(q, &take_takes, &body, &u, err);
    const cw_sheets_options o = { .dry_run = json_is_true(json_object_get(body, "dry_run")),
                                  .changes = json_is_true(json_object_get(body, "changes")),
                                  .oversell = text_in(body, "oversell"),
                                  .same_name = cw_same_name_of(text_in(body, "same_name")),
                                  .keep = text_in(body, "keep") };
    if (code == CW_OK && o.keep && (o.keep[0] == '\0' || strlen(o.keep) > CW_MAX_NAME))
        code = cw_error_set(err, CW_REFUSED, "keep must be a text of 1 to %d bytes", CW_MAX_NAME);
    if (code == CW_OK)
        code = take(q, n, &u, &o, &answer, err);
    if (code == CW_OK)
        code = cw_reply_json_take(q, 201, answer, err);
    free(u.bytes);
    return code;
}

static const cw_contract contract_fits_list = {
    .says = "How spreadsheets were fitted: what is kept for the next ones with the same headings.",
    .answer = &cw_sheets_fits_shape
};

static cw_code route_fits_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_sheets_fits(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_fit_get = { .says = "A kept fit.", .answer = &cw_sheets_fit_shape };

static cw_code route_fit_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    json_t *fit = NULL;
    cw_code code = cw_sheets_fit(n, cw_path_text(q, "fit"), &fit, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, fit, err) : code;
}

struct rename_body {
    const char *to;
};
static const cw_member rename_shape[] = {
    { "to", CW_TEXT_T, offsetof(struct rename_body, to), true, 1, CW_MAX_NAME, NULL },
    { 0 },
};
static const cw_contract contract_fit_rename = { .says = "Give a kept fit another name.",
                                                 .body = rename_shape };

static cw_code route_fit_rename(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct rename_body b = { NULL };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_sheets_rename(n, cw_request_asker(q), cw_path_text(q, "fit"), b.to, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_fit_delete = { .says = "Forget a kept fit." };

static cw_code route_fit_delete(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_sheets_forget(n, cw_request_asker(q), cw_path_text(q, "fit"), err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_sheets[] = {
    CW_ROUTE(POST, "/api/sheets/ours", LOOK, OFFICE, CW_SMALL_BODY, sheet_ours),
    CW_ROUTE(POST, "/api/sheets/look", LOOK, OFFICE, CW_MAX_BODY_BYTES, sheet_look),
    CW_ROUTE(POST, "/api/sheets/take", WORK, OFFICE, CW_MAX_BODY_BYTES, sheet_take),
    CW_ROUTE(GET, "/api/fits", LOOK, OFFICE, CW_NO_BODY, fits_list),
    CW_ROUTE(GET, "/api/fits/{fit}", LOOK, OFFICE, CW_NO_BODY, fit_get),
    CW_ROUTE(POST, "/api/fits/{fit}/rename", WORK, OFFICE, CW_SMALL_BODY, fit_rename),
    CW_ROUTE(DELETE, "/api/fits/{fit}", WORK, OFFICE, CW_NO_BODY, fit_delete),
    { 0 },
};
