/* SPDX-License-Identifier: MIT */
#include "http/request.h"

#include "base/json.h"
#include "http/http_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "base/banned.h"

#define CW_MAX_REPLY_BYTES ((size_t)256 << 20)
#define SQUEEZE_FROM       1400  /* bytes; below, a reply is one packet anyway */
#define SECRET_ROOM        16384 /* bytes of the largest reply with a secret in it */
#define JSON_TYPE          "application/json"

void cw_request_free(cw_request *q)
{
    if (q == NULL)
        return;
    cw_task_leave(q);
    cw_uri_free(&q->uri);
    cw_body_drop(q);
    cw_text_wipe(&q->reply);
    json_decref(q->errors);
    json_decref(q->with);
    json_decref(q->based.on);
    json_decref(q->based.now);
    free(q->then_keep);
    free(q);
}

const cw_asker *cw_request_asker(const cw_request *q)
{
    return &q->who;
}

const char *cw_path_text(const cw_request *q, const char *name)
{
    for (size_t i = 0; i < CW_MAX_PATH_PARAMS; i++)
        if (strlen(name) == q->params[i].name_length && strncmp(name, q->params[i].name, strlen(name)) == 0)
            return q->params[i].value;
    abort(); /* the route's pattern has no such {name} */
}

cw_code cw_path_int(const cw_request *q, const char *name, int64_t *out, cw_error *err)
{
    const char *s = cw_path_text(q, name);
    char shown[80];
    if (!cw_parse_int(s, strlen(s), 0, INT64_MAX, out))
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, name, "is not a number: %s",
                           cw_shown(s, strlen(s), shown));
    return CW_OK;
}

static void start_reply(cw_request *q, unsigned status, const char *type)
{
    cw_text_free(&q->reply);
    q->reply = CW_TEXT(CW_MAX_REPLY_BYTES);
    q->status = status;
    q->type = type;
    q->gzipped = false;
}

static cw_code add_bytes(void *self, const char *bytes, size_t n, cw_error *err)
{
    cw_request *q = self;
    cw_text_addn(&q->reply, bytes, n);
    return cw_text_check(&q->reply, err);
}

cw_sink cw_reply_sink(cw_request *q, unsigned status, const char *type)
{
    start_reply(q, status, type);
    return (cw_sink){ add_bytes, q };
}

cw_code cw_reply_table(cw_request *q, unsigned status, const cw_table *t, cw_error *err)
{
    cw_code code = cw_table_check(t, err);
    if (code == CW_OK && !cw_shape_has_rows(q->route->contract->answer, t))
        code = cw_error_set(err, CW_MACHINE, "%s answers with another table than its contract names",
                            q->route->path);
    if (code == CW_OK)
        code = cw_table_json(t, cw_reply_sink(q, status, JSON_TYPE), err);
    return code;
}

cw_code cw_reply_table_take(cw_request *q, cw_code code, unsigned status, cw_table *t, cw_error *err)
{
    if (code == CW_OK)
        code = cw_reply_table(q, status, t, err);
    cw_table_free(t);
    return code;
}

static int dump_piece(const char *bytes, size_t n, void *data)
{
    cw_text_addn(data, bytes, n);
    return 0;
}

cw_code cw_reply_json_take(cw_request *q, unsigned status, json_t *document, cw_error *err)
{
    if (document == NULL)
        return cw_error_memory(err);
    start_reply(q, status, JSON_TYPE);
    if (q->accounts_changed) /* growing would leave copies of a secret behind */
        cw_text_reserve(&q->reply, SECRET_ROOM);
    int rc = json_dump_callback(document, dump_piece, &q->reply, JSON_COMPACT | JSON_REAL_PRECISION(12));
    json_decref(document);
    return rc != 0 ? cw_error_memory(err) : cw_text_check(&q->reply, err);
}

cw_code cw_reply_json_rows_take(cw_request *q, unsigned status, json_t *head, const char *name,
                                const cw_table *rows, cw_error *err)
{
    cw_code code = cw_reply_json_take(q, status, head, err);
    if (code != CW_OK)
        return code;
    q->reply.length--; /* its closing brace */
    cw_text_addf(&q->reply, ",\"%s\":", name);
    code = cw_table_json(rows, (cw_sink){ add_bytes, q }, err);
    cw_text_add(&q->reply, "}");
    return code == CW_OK ? cw_text_check(&q->reply, err) : code;
}

cw_code cw_reply_text_take(cw_request *q, unsigned status, const char *type, cw_text *text, cw_error *err)
{
    cw_code code = cw_text_check(text, err);
    start_reply(q, status, type);
    q->reply = *text;
    *text = CW_TEXT(text->max);
    return code;
}

cw_code cw_reply_none(cw_request *q)
{
    start_reply(q, 204, NULL);
    return CW_OK;
}

void cw_reply_name(cw_request *q, const char *file_name)
{
    size_t n = 0;
    for (; *file_name && n + 1 < sizeof q->name; file_name++)
        if (strchr("-_.", *file_name) || (*file_name >= '0' && *file_name <= '9') ||
            (*file_name >= 'a' && *file_name <= 'z') || (*file_name >= 'A' && *file_name <= 'Z'))
            q->name[n++] = *file_name;
    q->name[n] = '\0';
}

static json_t *error_json(const cw_error *e)
{
    json_t *o = json_object();
    if (e->file[0])
        cw_json_put_take(&o, "file", json_string(e->file));
    if (e->row > 0)
        cw_json_put_take(&o, "row", json_integer(e->row));
    if (e->column[0])
        cw_json_put_take(&o, "column", json_string(e->column));
    cw_json_put_take(&o, "detail", json_string(e->text));
    return o;
}

void cw_reply_errors(cw_request *q, const cw_error_list *errors)
{
    json_decref(q->errors);
    q->errors = json_array();
    for (size_t i = 0; i < errors->kept; i++)
        cw_json_append_take(&q->errors, error_json(&errors->items[i]));
    q->starved = q->starved || q->errors == NULL;
}

void cw_reply_with(cw_request *q, const char *name, json_t *value)
{
    if (q->with == NULL && !q->starved)
        q->with = json_object();
    cw_json_put_take(&q->with, name, value);
    q->starved = q->starved || q->with == NULL;
}

static const struct {
    cw_code code;
    unsigned status;
    const char *type, *title;
} problems[] = {
    { CW_REFUSED, 422, "refused", "The data is not acceptable" },
    { CW_NOT_FOUND, 404, "not-found", "There is no such thing" },
    { CW_CONFLICT, 409, "conflict", "It clashes with what is on record" },
    { CW_FORBIDDEN, 403, "forbidden", "This role may not do that" },
    { CW_USAGE, 400, "bad-request", "The request is not well formed" },
    { CW_MACHINE, 503, "machine", "The machine could not do it" },
};

static json_t *problem_json(const cw_request *q, unsigned status, const char *type, const char *title,
                            const char *detail, const cw_error *place)
{
    const char *name = NULL;
    json_t *value = NULL;
    char uri[64];
    snprintf(uri, sizeof uri, "urn:clumpwise:problem:%s", type);
    json_t *o = json_object();
    cw_json_put_take(&o, "type", json_string(uri));
    cw_json_put_take(&o, "title", json_string(title));
    cw_json_put_take(&o, "status", json_integer(status));
    cw_json_put_take(&o, "detail", json_string(detail));
    if (q->errors) {
        cw_json_put_take(&o, "errors", json_incref(q->errors));
    } else if (place && (place->column[0] || place->row > 0 || place->file[0])) {
        json_t *list = json_array();
        cw_json_append_take(&list, error_json(place));
        cw_json_put_take(&o, "errors", list);
    }
    if (q->based.now && place && place->code == CW_CONFLICT)
        cw_json_put_take(&o, "current", json_incref(q->based.now));
    /* Not json_object_update_missing, which does not tell when it failed. */
    json_object_foreach(q->with, name, value)
    {
        if (json_object_get(o, name) == NULL)
            cw_json_put_take(&o, name, json_incref(value));
    }
    if (q->starved) {
        json_decref(o);
        return NULL;
    }
    return o;
}

/* Whole, or when there is no memory for it a bare 503: never with a part missing. */
static void problem(cw_request *q, unsigned status, const char *type, const char *title, const char *detail,
                    const cw_error *place)
{
    cw_error scratch = CW_ERROR_NONE;
    json_t *o = problem_json(q, status, type, title, detail, place);
    if (cw_reply_json_take(q, status, o, &scratch) == CW_OK)
        q->type = "application/problem+json";
    else
        start_reply(q, 503, NULL);
    q->etag[0] = q->name[0] = q->cookie[0] = '\0';
    q->problem = type;
}

void cw_reply_problem(cw_request *q, const cw_error *err)
{
    char line[1600];
    cw_error_line(err, line, sizeof line);
    for (size_t i = 0; i < sizeof problems / sizeof problems[0]; i++)
        if (problems[i].code == err->code) {
            problem(q, problems[i].status, problems[i].type, problems[i].title, line, err);
            return;
        }
    abort(); /* CW_OK is not an error */
}

void cw_reply_problem_as(cw_request *q, unsigned status, const char *type, const char *detail)
{
    problem(q, status, type, detail, detail, NULL);
}

bool cw_gzip(const char *bytes, size_t n, int level, cw_text *out)
{
    z_stream z = { 0 };
    unsigned char piece[16384];
    int rc = Z_OK;
    if (n > UINT32_MAX || deflateInit2(&z, level, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY) != Z_OK)
        return false;
    z.next_in = (unsigned char *)(uintptr_t)bytes;
    z.avail_in = (unsigned)n;
    while (rc == Z_OK) {
        z.next_out = piece;
        z.avail_out = sizeof piece;
        rc = deflate(&z, Z_FINISH);
        cw_text_addn(out, (char *)piece, sizeof piece - z.avail_out);
    }
    deflateEnd(&z);
    return rc == Z_STREAM_END && !out->failed;
}

void cw_reply_squeeze(cw_request *q)
{
    bool worth = q->reply.length >= SQUEEZE_FROM && q->type &&
                 (strncmp(q->type, "text/", 5) == 0 || strstr(q->type, "json") || strstr(q->type, "svg"));
    if (!q->gzip_ok || q->gzipped || q->accounts_changed || !worth)
        return;
    cw_text squeezed = CW_TEXT(CW_MAX_REPLY_BYTES);
    if (!cw_gzip(q->reply.data, q->reply.length, 1, &squeezed)) {
        cw_text_free(&squeezed);
        return;
    }
    cw_text_free(&q->reply);
    q->reply = squeezed;
    q->gzipped = true;
}
