/* SPDX-License-Identifier: MIT */
/* Long work that is watched and given up while it runs. */
#include "serving.h"

#include <pthread.h>
#include <time.h>

#define ROWS 150000 /* a second of work or so; more under the sanitizers */

typedef struct sender {
    serving *s;
    const char *headers, *target, *body;
    wire_reply reply;
} sender;

static void *send_it(void *self)
{
    sender *one = self;
    one->reply = wire_ask(one->s->port, "POST", one->target, one->headers, one->body);
    return NULL;
}

/* A load of so many air readings, a minute apart, a week for each room. */
static char *air_body(int rows)
{
    cw_text csv = CW_TEXT((size_t)64 << 20);
    cw_text_add(&csv, "room,at,temp_c,rh\n");
    for (int i = 0; i < rows; i++)
        cw_text_addf(&csv, "room %d,2031-11-%02dT%02d:%02d:00Z,5.0,91\n", i / 10080, 1 + i / 1440 % 7,
                     i / 60 % 24, i % 60);
    assert_false(csv.failed);
    json_t *body = json_pack("{s:[{s:s,s:s}]}", "files", "name", "air.csv", "text", csv.data);
    char *text = json_dumps(body, JSON_COMPACT);
    assert_non_null(text);
    json_decref(body);
    cw_text_free(&csv);
    return text;
}

static json_t *ask(serving *s, const char *method, const char *task, const char *headers)
{
    char target[160];
    snprintf(target, sizeof target, "/api/tasks/%s", task);
    wire_reply r = wire_ask(s->port, method, target, headers, NULL);
    assert_int_equal(r.status, 200);
    json_t *o = json_loads(r.body, 0, NULL);
    assert_non_null(o);
    wire_free(&r);
    return o;
}

static bool is_state(const json_t *o, const char *state)
{
    return strcmp(json_string_value(json_object_get(o, "state")), state) == 0;
}

static json_int_t number(const json_t *o, const char *name)
{
    return json_integer_value(json_object_get(o, name));
}

/* Asks until the task has told how far it is; the last of its answers. Fails after a minute. */
static json_t *until_it_tells(serving *s, const char *task, const char *headers)
{
    for (int i = 0; i < 200000; i++) {
        json_t *o = ask(s, "GET", task, headers);
        if (is_state(o, "working") && number(o, "done") > 0)
            return o;
        json_decref(o);
        nanosleep(&(struct timespec){ 0, 200000 }, NULL);
    }
    fail_msg("the load told nothing");
    return NULL;
}

static long stored(serving *s)
{
    wire_reply r = wire_ask(s->port, "GET", "/api/export/air.csv", NULL, NULL);
    assert_int_equal(r.status, 200);
    long n = 0;
    for (const char *at = r.body; (at = strchr(at, '\n')) != NULL; at++)
        n++;
    wire_free(&r);
    return n;
}

static void test_progress_is_seen(void **state)
{
    serving s;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    char *body = air_body(ROWS);
    sender one = { .s = &s, .headers = "X-Task: watched-load\r\n", .target = "/api/load", .body = body };
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, send_it, &one), 0);
    json_t *first = until_it_tells(&s, "watched-load", NULL);
    assert_string_equal(json_string_value(json_object_get(first, "what")), "air.csv");
    json_int_t seen = number(first, "done"), all = number(first, "all");
    assert_true(all > ROWS * 20 && seen < all);
    /* It grows, never shrinks, and asking does not wait for the writer. */
    int grown = 0;
    for (;;) {
        json_t *o = ask(&s, "GET", "watched-load", NULL);
        if (is_state(o, "unknown")) {
            json_decref(o);
            break;
        }
        assert_true(number(o, "done") >= seen && number(o, "all") == all);
        grown += number(o, "done") > seen;
        seen = number(o, "done");
        json_decref(o);
    }
    pthread_join(thread, NULL);
    assert_true(grown >= 3);
    assert_int_equal(one.reply.status, 201);
    wire_free(&one.reply);
    json_decref(first);
    free(body);
    serving_free(&s);
}

static void test_given_up_leaves_nothing(void **state)
{
    serving s;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    long before = stored(&s);
    char *body = air_body(ROWS);
    sender one = { .s = &s, .headers = "X-Task: dropped-load\r\n", .target = "/api/load", .body = body };
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, send_it, &one), 0);
    json_decref(until_it_tells(&s, "dropped-load", NULL));
    /* What waits behind it can be given up too, and is then never begun. */
    sender two = { .s = &s, .headers = "X-Task: waiting-load\r\n", .target = "/api/load", .body = body };
    pthread_t second;
    assert_int_equal(pthread_create(&second, NULL, send_it, &two), 0);
    for (int i = 0; i < 200000; i++) {
        json_t *o = ask(&s, "DELETE", "waiting-load", NULL);
        bool there = is_state(o, "given-up");
        json_decref(o);
        if (there)
            break;
        nanosleep(&(struct timespec){ 0, 200000 }, NULL);
    }
    json_decref(ask(&s, "DELETE", "dropped-load", NULL));
    pthread_join(thread, NULL);
    pthread_join(second, NULL);
    const wire_reply *replies[] = { &one.reply, &two.reply };
    for (int i = 0; i < 2; i++) {
        assert_int_equal(replies[i]->status, 409);
        assert_non_null(strstr(replies[i]->body, "given-up"));
        assert_non_null(strstr(replies[i]->body, "nothing was changed"));
    }
    assert_int_equal(stored(&s), before);
    /* The writer goes on with the next. */
    char *small = air_body(3);
    assert_int_equal(serving_status(&s, "POST", "/api/load", "X-Task: another-load\r\n", small), 201);
    assert_int_equal(stored(&s), before + 3);
    free(small);
    free(body);
    wire_free(&one.reply);
    wire_free(&two.reply);
    serving_free(&s);
}

/* A name is its sender's: nobody else sees the task or stops it. */
static void test_of_another(void **state)
{
    serving s;
    char owner[512], office[512], with_task[600];
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "owner", owner);
    serving_sign_in(&s, "office", office);
    char *body = air_body(ROWS);
    snprintf(with_task, sizeof with_task, "%sX-Task: owners-load\r\n", owner);
    sender one = { .s = &s, .headers = with_task, .target = "/api/load", .body = body };
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, send_it, &one), 0);
    json_decref(until_it_tells(&s, "owners-load", owner));
    json_t *o = ask(&s, "DELETE", "owners-load", office);
    assert_true(is_state(o, "unknown"));
    json_decref(o);
    pthread_join(thread, NULL);
    assert_int_equal(one.reply.status, 201);
    wire_free(&one.reply);
    free(body);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_progress_is_seen),
        cmocka_unit_test(test_given_up_leaves_nothing),
        cmocka_unit_test(test_of_another),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
