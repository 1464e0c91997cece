/* SPDX-License-Identifier: MIT */
#include "http/request.h"
#include "auth/door.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Any bytes as what a client may send: target with query, JSON body read by a shape, cookie and key. No crash, and:
 * a path and a query that are taken are UTF-8 without NUL; no pair stands twice; a shape's values are within its bounds; no
 * cookie or key of chance lets anybody in. */

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerInitialize(int *argc, char ***argv);

static cw_door *door;

static void must(bool fine)
{
    if (!fine)
        abort();
}

/* A nursery with one person, so that being let in would be a find. */
int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    static char path[] = "/tmp/cw-fuzz-XXXXXX";
    char file[64];
    cw_error err = CW_ERROR_NONE;
    cw_season season = {
        .season = 2031, .ship = cw_day_from_ymd(2032, 4, 19), .currency = "USD", .timezone = "UTC"
    };
    cw_asker who = { .actor = "fuzz", .role = CW_ROLE_OWNER, .today = cw_day_from_ymd(2032, 2, 1) };
    cw_nursery *nursery = NULL;
    (void)argc;
    (void)argv;
    must(mkdtemp(path) != NULL);
    snprintf(file, sizeof file, "%s/n.db", path);
    must(cw_nursery_new(file, &season, &who, &nursery, &err) == CW_OK);
    must(cw_accounts_add(nursery, &who, "Marta", CW_ROLE_OWNER, "correct horse staple", &err) == CW_OK);
    cw_nursery_close(nursery);
    must(cw_door_open(file, &door, &err) == CW_OK);
    return 0;
}

struct values {
    const char *text, *word;
    int64_t whole;
    double real;
    cw_cents money;
    cw_day day;
    cw_instant at;
    cw_week week;
    bool yes;
    const json_t *any;
};
static const cw_member shape[] = {
    { "text", CW_M_TEXT, offsetof(struct values, text), false, 0, 40, NULL },
    { "word", CW_M_WORD, offsetof(struct values, word), false, 0, 0, "counted|projected" },
    { "whole", CW_M_INT, offsetof(struct values, whole), false, -5, 100000, NULL },
    { "real", CW_M_REAL, offsetof(struct values, real), false, 0.5, 0.999, NULL },
    { "money", CW_M_MONEY, offsetof(struct values, money), false, 0, 0, NULL },
    { "day", CW_M_DAY, offsetof(struct values, day), false, 0, 0, NULL },
    { "at", CW_M_INSTANT, offsetof(struct values, at), false, 0, 0, NULL },
    { "week", CW_M_WEEK, offsetof(struct values, week), false, 0, 0, NULL },
    { "yes", CW_M_BOOL, offsetof(struct values, yes), false, 0, 0, NULL },
    { "any", CW_M_JSON, offsetof(struct values, any), false, 0, 0, NULL },
    { 0 },
};

static void check_values(const struct values *v)
{
    must(v->text == NULL || (strlen(v->text) <= 40 && cw_utf8_valid(v->text, strlen(v->text), NULL)));
    must(v->word == NULL || strcmp(v->word, "counted") == 0 || strcmp(v->word, "projected") == 0);
    must(v->whole >= -5 && v->whole <= 100000);
    must(v->real >= 0.5 && v->real <= 0.999);
    must(v->money >= 0 && v->money <= CW_MAX_CENTS);
}

static void target(const char *s, size_t n)
{
    cw_request q = { 0 };
    cw_error err = CW_ERROR_NONE;
    struct values v = { .real = 0.5 };
    cw_path_param params[CW_MAX_PATH_PARAMS];
    bool other = false;
    if (cw_uri_parse(s, n, &q.uri, &err) == CW_OK) {
        must(q.uri.path[0] == '/' && strlen(q.uri.path) <= n);
        for (size_t i = 0; i < q.uri.pair_count; i++) {
            must(cw_utf8_valid(q.uri.pairs[i].name, strlen(q.uri.pairs[i].name), NULL));
            must(cw_utf8_valid(q.uri.pairs[i].value, strlen(q.uri.pairs[i].value), NULL));
            must(cw_uri_value(&q.uri, q.uri.pairs[i].name) == q.uri.pairs[i].value);
        }
        const cw_route *r = cw_route_find(CW_GET, q.uri.path, params, &other);
        must(r == NULL || r->handler != NULL);
        if (cw_query_read(&q, shape, &v, &err) == CW_OK)
            check_values(&v);
    }
    cw_uri_free(&q.uri);
}

static void body(const char *s, size_t n)
{
    cw_request q = { 0 };
    cw_error err = CW_ERROR_NONE;
    struct values v = { .real = 0.5 };
    json_error_t where;
    q.json = json_loadb(s, n, JSON_REJECT_DUPLICATES, &where);
    if (q.json && cw_body_read(&q, shape, &v, &err) == CW_OK)
        check_values(&v);
    json_decref(q.json);
}

static void headers(const char *s, size_t n)
{
    cw_identity who;
    cw_error err = CW_ERROR_NONE;
    char digest[65], *copy = strndup(s, n);
    bool stale = false;
    cw_visit v = { .host = "localhost", .writes = n % 2 };
    must(copy != NULL);
    if (n % 3 == 0)
        v.authorization = copy;
    else
        v.cookie = copy;
    cw_code code = cw_door_ask(door, &v, 0, 0, &who, digest, &stale, &err);
    must(code != CW_OK || who.role == CW_ROLE_NONE);
    free(copy);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    if (n == 0)
        return 0;
    const char *s = (const char *)bytes + 1;
    switch (bytes[0] % 3) {
    case 0:
        target(s, n - 1);
        break;
    case 1:
        body(s, n - 1);
        break;
    default:
        headers(s, n - 1);
        break;
    }
    return 0;
}
