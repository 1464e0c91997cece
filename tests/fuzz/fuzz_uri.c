/* SPDX-License-Identifier: MIT */
#include "http/request.h"
#include "must.h"

#include "base/text.h"
#include <string.h>

/* Any bytes as a request's target: no crash, and a path and a query that are taken are UTF-8 without NUL, no parameter stands
 * twice, a route's {pieces} are whole, and values read by a shape are within its bounds. */

struct values {
    const char *text, *word;
    int64_t whole;
    double real;
    cw_cents money;
    cw_day day;
    cw_instant at;
    cw_week week;
    bool yes;
};
static const cw_member shape[] = {
    { "text", CW_TEXT_T, offsetof(struct values, text), false, 0, 40, NULL },
    { "word", CW_TEXT_T, offsetof(struct values, word), false, 0, 0, "counted|projected" },
    { "whole", CW_INT_T, offsetof(struct values, whole), false, -5, 100000, NULL },
    { "real", CW_REAL_T, offsetof(struct values, real), false, 0.5, 0.999, NULL },
    { "money", CW_MONEY_T, offsetof(struct values, money), false, 0, 0, NULL },
    { "day", CW_DAY_T, offsetof(struct values, day), false, 0, 0, NULL },
    { "at", CW_INSTANT_T, offsetof(struct values, at), false, 0, 0, NULL },
    { "week", CW_WEEK_T, offsetof(struct values, week), false, 0, 0, NULL },
    { "yes", CW_BOOL_T, offsetof(struct values, yes), false, 0, 0, NULL },
    { 0 },
};

static const cw_contract contract = { .query = shape };
static const cw_route taken = { .contract = &contract };

static void check_values(const struct values *v)
{
    must(v->text == NULL || (strlen(v->text) <= 40 && cw_utf8_valid(v->text, strlen(v->text), NULL)));
    must(v->word == NULL || strcmp(v->word, "counted") == 0 || strcmp(v->word, "projected") == 0);
    must(v->whole >= -5 && v->whole <= 100000);
    must(v->real >= 0.5 && v->real <= 0.999);
    must(v->money >= 0 && v->money <= CW_MAX_CENTS);
}

static void check_route(const cw_uri *u)
{
    for (int method = CW_GET; method <= CW_DELETE; method++) {
        cw_path_param params[CW_MAX_PATH_PARAMS];
        bool other = false;
        const cw_route *r = cw_route_find((cw_method)method, u->path, params, &other);
        for (size_t i = 0; r && i < CW_MAX_PATH_PARAMS; i++)
            must(params[i].name == NULL || (params[i].value[0] && strlen(params[i].value) <= CW_MAX_NAME &&
                                            cw_utf8_valid(params[i].value, strlen(params[i].value), NULL)));
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    cw_request q = { 0 };
    cw_error err = CW_ERROR_NONE;
    struct values v = { .real = 0.5 };
    cw_code code = cw_uri_parse((const char *)bytes, n, &q.uri, &err);
    if (code == CW_OK) {
        must(q.uri.path[0] == '/' && strlen(q.uri.path) <= n);
        for (size_t i = 0; i < q.uri.pair_count; i++) {
            must(cw_utf8_valid(q.uri.pairs[i].name, strlen(q.uri.pairs[i].name), NULL));
            must(cw_utf8_valid(q.uri.pairs[i].value, strlen(q.uri.pairs[i].value), NULL));
            must(cw_uri_value(&q.uri, q.uri.pairs[i].name) == q.uri.pairs[i].value);
        }
        check_route(&q.uri);
        q.route = &taken;
        if (cw_query_read(&q, &v, &err) == CW_OK)
            check_values(&v);
        else
            must(err.text[0]);
    } else {
        must(code == CW_USAGE && err.text[0]);
    }
    cw_uri_free(&q.uri);
    return 0;
}
