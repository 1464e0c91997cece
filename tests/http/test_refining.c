/* SPDX-License-Identifier: MIT */
/* A server that has run for a while tells, once it is at rest, what one tells that begins now; and says so to who polls. */
#include "serving.h"

#include "desk/nursery/keeping.h"
#include "support/grown.h"
#include <time.h>

static const char *const targets[] = { "/api/projection", "/api/projection/V10", "/api/projection/V77",
                                       "/api/plan", "/api/changes?since=2032-01-20" };
#define TARGETS (sizeof targets / sizeof targets[0])

static char *body_of(unsigned port, const char *target)
{
    wire_reply r = wire_ask(port, "GET", target, NULL, NULL);
    assert_int_equal(r.status, 200);
    char *body = strdup(r.body);
    assert_non_null(body);
    wire_free(&r);
    return body;
}

static json_int_t figures(serving *s)
{
    char *body = body_of(s->port, "/api/revision");
    json_t *o = json_loads(body, 0, NULL);
    assert_non_null(o);
    json_int_t n = json_integer_value(json_object_get(o, "figures"));
    json_decref(o);
    free(body);
    return n;
}

static void divide(serving *s, int lot, int saleable)
{
    char body[120];
    snprintf(body, sizeof body, "{\"lot\":\"L%d\",\"clumps\":10,\"saleable\":%d}", lot, saleable);
    assert_int_equal(serving_status(s, "POST", "/api/dividing", NULL, body), 201);
}

static void rest(void)
{
    nanosleep(&(struct timespec){ 0, 50000000L }, NULL);
}

/* How many of the targets are told otherwise than by the server at `port`. */
static size_t unlike(serving *s, unsigned port)
{
    size_t count = 0;
    for (size_t i = 0; i < TARGETS; i++) {
        char *mine = body_of(s->port, targets[i]), *fresh = body_of(port, targets[i]);
        count += strcmp(mine, fresh) != 0;
        free(mine);
        free(fresh);
    }
    return count;
}

/* An entry, and who looks at the plan. */
static void enter(serving *s, int lot)
{
    divide(s, lot, 28 + lot % 5);
    free(body_of(s->port, "/api/plan"));
}

/* Whoever holds the answer from before is told that there is another one, though nothing was written. False: the machine was so
 * slow that the figures were whole before they were asked for. */
static bool told_of_another(serving *s, int lot)
{
    char tag[512], headers[600];
    enter(s, lot);
    json_int_t before = figures(s);
    wire_reply r = wire_ask(s->port, "GET", "/api/projection", NULL, NULL);
    assert_non_null(wire_header(&r, "ETag", tag));
    wire_free(&r);
    if (figures(s) != before)
        return false;
    for (int i = 0; i < 200 && figures(s) == before; i++)
        rest();
    if (figures(s) == before)
        return false;
    snprintf(headers, sizeof headers, "If-None-Match: %s\r\n", tag);
    assert_int_equal(serving_status(s, "GET", "/api/projection", headers, NULL), 200);
    return true;
}

static void at_rest_as_one_that_begins_now(void **state)
{
    serving s;
    char copy[128];
    cw_nursery *look = NULL;
    cw_server *fresh = NULL;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    serving_make(&s, false);
    grown_fill(&s.t);
    s.how.refine_ms = 100;
    serving_start(&s);
    for (size_t i = 0; i < TARGETS; i++)
        free(body_of(s.port, targets[i]));
    for (int i = 0; i < 3; i++)
        enter(&s, 10 + i);
    int tries = 0;
    while (tries < 5 && !told_of_another(&s, 20 + tries))
        tries++;
    assert_true(tries < 5);

    snprintf(copy, sizeof copy, "%s/copy.db", s.t.folder);
    cw_check_ok(cw_nursery_open(s.t.path, CW_LOOK, NULL, &look, &err), &err);
    cw_check_ok(cw_keeping_backup(look, &s.t.who, copy, &err), &err);
    cw_nursery_close(look);
    cw_serve how = s.how;
    how.path = copy;
    cw_check_ok(cw_server_start(&how, &fresh, &err), &err);
    size_t other = TARGETS;
    for (int i = 0; i < 600 && other > 0; i++) {
        other = unlike(&s, cw_server_port(fresh));
        rest();
    }
    assert_int_equal(other, 0);
    cw_server_stop(fresh);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(at_rest_as_one_that_begins_now) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
