/* SPDX-License-Identifier: MIT */
#include "nursery.h"
#include "support/asked.h"
#include "support/season.h"

#include "desk/buyers/claims.h"
#include "desk/orders/notices.h"
#include <string.h>

/* A line "METHOD path", then any bytes as its body: every writing route but the tasks', asked by an owner who is signed in;
 * where a password is asked for, a right one may stand in the bytes. No crash; the answer is a reply or a sentence; what must
 * hold of the file still holds. */

static test_nursery t;
static asked by;

static const struct {
    const char *word;
    cw_method method;
} methods[] = { { "POST ", CW_POST }, { "PUT ", CW_PUT }, { "PATCH ", CW_PATCH }, { "DELETE ", CW_DELETE } };

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    asked_repeat();
    season_make(&t);
    cw_error err = CW_ERROR_NONE;
    cw_notices_made made = { 0 };
    cw_claim_ask claim = { .order = "1001", .line = 1, .quantity = 1, .why = "soft", .answer = "open" };
    int64_t id = 0;
    must(cw_notices_make(t.n, &t.who, &made, &err) == CW_OK);
    must(cw_claims_add(t.n, &t.who, &claim, &id, &err) == CW_OK);
    char key[CW_TOKEN_TEXT];
    must(cw_accounts_key_add(t.n, &t.who, "scales", CW_ROLE_OFFICE, CW_NO_DAY, key, &err) == CW_OK);
    asked_sign_in(&by, &t, "Olga", SEASON_PASSWORD);
    asked_factors(&t, "Pim", "Olga");
    nursery_to_memory(&t);
    return 0;
}

/* What follows the first line; NULL when there is no such route. */
static const char *read_line(const char *s, size_t n, cw_request *q)
{
    cw_error err = CW_ERROR_NONE;
    bool other = false;
    const char *end = memchr(s, '\n', n), *path = NULL;
    if (end == NULL)
        return NULL;
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++)
        if (strncmp(s, methods[i].word, strlen(methods[i].word)) == 0) {
            q->method = methods[i].method;
            path = s + strlen(methods[i].word);
        }
    if (path == NULL || cw_uri_parse(path, (size_t)(end - path), &q->uri, &err) != CW_OK)
        return NULL;
    q->route = cw_route_find(q->method, q->uri.path, q->params, &other);
    return q->route && q->route->access != CW_ROUTE_NOW ? end + 1 : NULL;
}

static void ask(cw_request *q, bool check)
{
    cw_error err = CW_ERROR_NONE;
    must(cw_nursery_batch_begin(t.n, &err) == CW_OK);
    cw_code code = asked_run(q, t.n, &err);
    must(code != CW_MACHINE && strpbrk(q->cookie, "\r\n") == NULL);
    if (code == CW_OK) {
        must((q->status >= 200 && q->status < 300) || q->status == 401);
        if (check)
            everything_holds(t.n);
    } else {
        must(err.code == code && err.text[0]);
        cw_reply_problem(q, &err);
        must(q->status >= 400 && q->status < 500 && q->reply.length > 0);
    }
    cw_nursery_batch_drop(t.n);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    cw_request *q = calloc(1, sizeof *q);
    must(q != NULL);
    asked_prepare(&by, q);
    const char *s = (const char *)bytes, *body = n > 8 ? read_line(s, n, q) : NULL;
    if (body) {
        size_t length = n - (size_t)(body - s);
        asked_body(q, body, length);
        ask(q, n % 16 == 0);
    }
    cw_request_free(q);
    return 0;
}
