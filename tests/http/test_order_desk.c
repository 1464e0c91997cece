/* SPDX-License-Identifier: MIT */
/* A morning at the order desk over HTTP, on a small invented nursery: who is short, share out, substitute, cancel. */
#include "serving.h"

#include "desk/intake/intake.h"
#include "desk/orders/ordering.h"

#include "base/banned.h"

static const char *const season[][2] = {
    { "varieties.csv", "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n"
                       "CIN,Cinder,ball,small,red,7.00\n" },
    { "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\nL2,CIN,2031-10-20,0\n" },
    { "counts.csv", "lot,counted_on,stage,count\nL1,2032-01-20,division,3\nL2,2032-01-20,division,4\n" },
    { "orders.csv", "order,received_at,line,variety,quantity,unit_price,customer,consent\n"
                    "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50,Ada,none\n"
                    "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,Bo,none\n"
                    "1003,2032-01-05T12:00:00Z,1,AMB,3,6.50,Cy,same\n" },
};

static void load_season(serving *s)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    cw_intake_file files[4] = { { 0 } };
    for (size_t i = 0; i < 4; i++)
        files[i] =
            (cw_intake_file){ .name = season[i][0], .bytes = season[i][1], .length = strlen(season[i][1]) };
    cw_check_ok(cw_intake_load(s->t.n, &s->t.who, files, 4, &(cw_intake_options){ 0 }, &t, &errors, &err),
                &err);
    cw_table_free(&t);
    /* Nobody says below what there is. */
    cw_check_ok(cw_nursery_set(s->t.n, &s->t.who, "supply", "counted", &err), &err);
}

/* The answer as JSON (new reference); fails on another status. */
static json_t *ask(serving *s, const char *method, const char *target, const char *headers, const char *body,
                   int status)
{
    wire_reply r = wire_ask(s->port, method, target, headers, body);
    if (r.status != status)
        fail_msg("%s %s: %d, want %d: %s", method, target, r.status, status, r.body ? r.body : "");
    json_t *o = r.body && r.body[0] ? json_loads(r.body, 0, NULL) : NULL;
    wire_free(&r);
    return o;
}

static int64_t number(const json_t *o, const char *name)
{
    return json_integer_value(json_object_get(o, name));
}

static const char *text(const json_t *o, const char *name)
{
    const char *s = json_string_value(json_object_get(o, name));
    return s ? s : "";
}

/* The office forbids Cy's cinnabars and permits them again: each plan follows at once. */
static void forbidden_and_permitted(serving *s, const char *headers)
{
    static const char ban[] =
        "{\"order\":\"1003\",\"line\":1,\"substitute\":\"CIN\",\"why\":\"she had it last year\"}";
    json_t *o = ask(s, "GET", "/api/substitution", headers, NULL, 200);
    char body[300];
    snprintf(body, sizeof body, "{\"digest\":\"%s\"}", text(o, "digest"));
    json_decref(o);
    json_decref(ask(s, "POST", "/api/substitution/forbid", headers,
                    "{\"order\":\"1003\",\"line\":1,\"substitute\":\"CIN\",\"why\":\"\"}", 422));
    assert_null(ask(s, "POST", "/api/substitution/forbid", headers, ban, 204));
    o = ask(s, "GET", "/api/substitution", headers, NULL, 200);
    assert_int_equal(number(o, "placed"), 0);
    json_decref(o);
    json_decref(ask(s, "POST", "/api/substitution", headers, body, 409)); /* not what was shown */
    o = ask(s, "GET", "/api/substitution/banned", headers, NULL, 200);
    assert_string_equal(text(json_array_get(o, 0), "why"), "she had it last year");
    assert_string_equal(text(json_array_get(o, 0), "wanted"), "AMB");
    json_decref(o);
    assert_null(ask(s, "POST", "/api/substitution/permit", headers, ban, 204));
    json_decref(ask(s, "POST", "/api/substitution/permit", headers, ban, 404));
    o = ask(s, "GET", "/api/substitution", headers, NULL, 200);
    assert_int_equal(number(o, "placed"), 2);
    json_decref(o);
}

/* The last run is undone whole, an earlier one not before it. */
static void made_firm_and_undone(serving *s, const char *headers)
{
    json_t *o;
    char body[96];
    json_decref(ask(s, "POST", "/api/allocation/undo", headers, "{\"run\":0,\"why\":\"x\"}", 422));
    json_decref(ask(s, "POST", "/api/allocation/undo", headers, "{\"run\":99,\"why\":\"a slip\"}", 404));
    o = ask(s, "GET", "/api/runs", headers, NULL, 200);
    int64_t last = number(json_array_get(o, 0), "run");
    json_decref(o);
    snprintf(body, sizeof body, "{\"run\":%lld,\"why\":\"a slip\"}", (long long)last - 1);
    json_decref(ask(s, "POST", "/api/allocation/undo", headers, body, 409));
    snprintf(body, sizeof body, "{\"run\":%lld,\"why\":\"a slip\"}", (long long)last);
    assert_null(ask(s, "POST", "/api/allocation/undo", headers, body, 204));
    o = ask(s, "GET", "/api/substitution", headers, NULL, 200);
    assert_int_equal(number(o, "placed"), 2);
    json_decref(o);
    json_decref(ask(s, "POST", "/api/substitution", headers, "{}", 201));
}

static void a_morning_at_the_order_desk(void **state)
{
    serving s;
    char headers[512], body[300];
    (void)state;
    serving_make(&s, true);
    load_season(&s);
    serving_start(&s);
    serving_sign_in(&s, "office", headers);

    json_t *o = ask(&s, "GET", "/api/short", headers, NULL, 200);
    assert_int_equal(json_array_size(o), 1);
    assert_int_equal(number(json_array_get(o, 0), "short"), 4);
    assert_string_equal(text(json_array_get(o, 0), "harm"), "26.00");
    json_decref(o);

    o = ask(&s, "GET", "/api/allocation?variety=AMB", headers, NULL, 200);
    const json_t *second = json_array_get(json_object_get(o, "lines"), 1);
    assert_string_equal(text(second, "customer"), "Bo");
    assert_int_equal(number(second, "first_come"), 2);
    assert_int_equal(number(second, "pro_rata"), 1);
    snprintf(body, sizeof body, "{\"variety\":\"AMB\",\"rule\":\"pro-rata\",\"digest\":\"%s\"}",
             text(o, "digest"));
    json_decref(o);
    json_t *done = ask(&s, "POST", "/api/allocation", headers, body, 201);
    assert_int_equal(number(done, "placed"), 3);
    assert_int_equal(number(done, "short"), 4);
    json_decref(done);
    json_decref(ask(&s, "POST", "/api/allocation", headers, body, 409)); /* the preview is out of date */
    o = ask(&s, "POST", "/api/allocation/changes", headers,
            "{\"variety\":\"AMB\",\"before\":[{\"variety\":\"AMB\",\"order\":\"1002\",\"line\":1,\"rule\":"
            "\"first-come\",\"allocated\":2},{\"variety\":\"AMB\",\"order\":\"1001\",\"line\":1,\"rule\":"
            "\"first-come\",\"allocated\":1},{\"variety\":\"AMB\",\"order\":\"1003\",\"line\":1,\"rule\":"
            "\"first-come\",\"allocated\":0}]}",
            200);
    assert_int_equal(json_array_size(o), 2); /* pro-rata was made firm instead: 1, 1, 1 */
    assert_int_equal(number(json_array_get(o, 0), "change"), -1);
    assert_int_equal(number(json_array_get(o, 1), "change"), 1);
    json_decref(o);
    json_decref(ask(&s, "POST", "/api/allocation/changes", headers, "{\"before\":3}", 422));
    json_decref(ask(&s, "POST", "/api/allocation", headers, "{\"rule\":\"by-favour\"}", 422));

    o = ask(&s, "GET", "/api/substitution", headers, NULL, 200);
    assert_int_equal(number(o, "placed"), 2); /* only Cy lets us */
    assert_true(json_is_true(json_object_get(o, "proven")));
    json_decref(o);
    o = ask(&s, "GET", "/api/substitution/forbidden?order=1003&line=1&substitute=CIN", headers, NULL, 200);
    assert_int_equal(number(o, "placed"), -2);
    json_decref(o);
    forbidden_and_permitted(&s, headers);
    json_decref(ask(&s, "POST", "/api/substitution", headers, "{}", 201));
    made_firm_and_undone(&s, headers);

    o = ask(&s, "GET", "/api/orders/1003", headers, NULL, 200);
    const json_t *line = json_array_get(json_object_get(o, "lines"), 0);
    assert_int_equal(number(line, "firm"), 3);
    assert_int_equal(number(line, "own"), 1);
    assert_string_equal(text(json_array_get(json_object_get(line, "substitutes"), 0), "variety"), "CIN");
    json_decref(o);

    o = ask(&s, "POST", "/api/orders/1001/cancel", headers, "{\"why\":\"moved away\"}", 200);
    assert_string_equal(text(json_object_get(o, "order"), "state"), "cancelled");
    json_decref(o);
    o = ask(&s, "GET", "/api/waitlist?variety=AMB", headers, NULL, 200);
    assert_string_equal(text(json_array_get(o, 0), "order"), "1002");
    assert_int_equal(number(json_array_get(o, 0), "now"), 1);
    json_decref(o);
    o = ask(&s, "PATCH", "/api/orders/1002/lines/1", headers, "{\"quantity\":2,\"why\":\"two will do\"}",
            200);
    assert_int_equal(number(json_array_get(json_object_get(o, "lines"), 0), "quantity"), 2);
    json_decref(o);
    ask(&s, "POST", "/api/allocation/take-back", headers,
        "{\"order\":\"1003\",\"line\":1,\"variety\":\"CIN\",\"quantity\":1,\"why\":\"rot\"}", 204);
    o = ask(&s, "GET", "/api/runs", headers, NULL, 200);
    assert_int_equal(json_array_size(o), 3);
    json_decref(o);
    json_decref(ask(&s, "GET", "/api/orders/none", headers, NULL, 404));
    json_decref(
        ask(&s, "POST", "/api/oversell", headers, "{\"variety\":\"AMB\",\"quantity\":1,\"why\":\"x\"}", 403));
    serving_free(&s);
}

/* After the shares were made firm an order is told at once what it gets and what it waits for. */
static void a_late_order_is_told_what_it_gets(void **state)
{
    static const char late[] =
        "[{\"order\":\"2001\",\"lines\":[{\"variety\":\"CIN\",\"quantity\":2,\"unit_price\":\"7.00\"},"
        "{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}]}]";
    serving s;
    cw_error err = CW_ERROR_NONE;
    char headers[512];
    int64_t left = 0;
    (void)state;
    serving_make(&s, true);
    load_season(&s);
    cw_check_ok(cw_ordering_oversell(s.t.n, &s.t.who, "CIN", 9, "a test sells", &left, &err), &err);
    cw_check_ok(cw_ordering_oversell(s.t.n, &s.t.who, "AMB", 9, "a test sells", &left, &err), &err);
    serving_start(&s);
    serving_sign_in(&s, "office", headers);
    json_decref(
        ask(&s, "POST", "/api/orders", headers,
            "{\"order\":\"2000\",\"lines\":[{\"variety\":\"CIN\",\"quantity\":1,\"unit_price\":\"7.00\"}]}",
            201));
    json_decref(ask(&s, "POST", "/api/allocation", headers, "{\"rule\":\"first-come\"}", 201));
    json_t *o = ask(&s, "POST", "/api/orders", headers, late, 201);
    const json_t *fate = json_array_get(o, 0);
    assert_int_equal(number(fate, "firm"), 2);
    assert_string_equal(json_string_value(json_array_get(json_object_get(fate, "waits"), 0)),
                        "Line 2 waits for the next sharing of AMB.");
    json_decref(o);
    o = ask(&s, "GET", "/api/orders/2001", headers, NULL, 200);
    const json_t *lines = json_object_get(o, "lines");
    assert_int_equal(number(json_array_get(lines, 0), "firm"), 2);
    assert_non_null(
        strstr(text(json_array_get(lines, 1), "sentence"), "the next sharing of AMB: number 3 of 3."));
    json_decref(o);
    /* The same order again is known, and gets no more. */
    o = ask(&s, "POST", "/api/orders", headers, late, 201);
    assert_null(json_object_get(json_array_get(o, 0), "firm"));
    json_decref(o);
    serving_free(&s);
}

static void packers_do_not_share_out(void **state)
{
    static const char *const looks[] = { "/api/short",        "/api/allocation",
                                         "/api/substitution", "/api/hit",
                                         "/api/orders",       "/api/orders/1001",
                                         "/api/runs",         "/api/waitlist?variety=AMB" };
    serving s;
    char headers[512];
    (void)state;
    serving_make(&s, true);
    load_season(&s);
    serving_start(&s);
    serving_sign_in(&s, "packer", headers);
    for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++)
        json_decref(ask(&s, "GET", looks[i], headers, NULL, 403));
    json_decref(ask(&s, "POST", "/api/allocation", headers, "{\"rule\":\"pro-rata\"}", 403));
    json_decref(ask(&s, "POST", "/api/orders/1001/cancel", headers, "{\"why\":\"x\"}", 403));
    json_decref(ask(&s, "GET", "/api/orders", NULL, NULL, 401));
    serving_free(&s);
}

/* A list is made once for whoever asks for it again, and anew as soon as something changed that it rests on, when another asks, and
 * when another thing is asked. */
static void a_list_is_given_again_while_nothing_changed(void **state)
{
    serving s;
    char headers[512], owner[512];
    (void)state;
    serving_make(&s, true);
    load_season(&s);
    s.how.again_ms = -1;
    serving_start(&s);
    serving_sign_in(&s, "office", headers);
    serving_sign_in(&s, "owner", owner);

    json_t *first = ask(&s, "GET", "/api/short", headers, NULL, 200);
    assert_int_equal(cw_server_served(s.server).again, 0);
    json_t *second = ask(&s, "GET", "/api/short", headers, NULL, 200);
    assert_int_equal(cw_server_served(s.server).again, 1);
    assert_true(json_equal(first, second));
    json_decref(second);
    json_decref(ask(&s, "GET", "/api/short?supply=counted", headers, NULL, 200));
    json_decref(ask(&s, "GET", "/api/short", owner, NULL, 200));
    json_decref(ask(&s, "GET", "/api/hit", headers, NULL, 200));
    assert_int_equal(cw_server_served(s.server).again, 1);

    int status =
        serving_status(&s, "PATCH", "/api/orders/1002/lines/1", headers, "{\"quantity\":1,\"why\":\"rang\"}");
    assert_int_equal(status, 200);
    second = ask(&s, "GET", "/api/short", headers, NULL, 200);
    assert_int_equal(cw_server_served(s.server).again, 1);
    assert_false(json_equal(first, second));
    json_decref(second);
    json_decref(first);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_morning_at_the_order_desk),
        cmocka_unit_test(a_late_order_is_told_what_it_gets),
        cmocka_unit_test(packers_do_not_share_out),
        cmocka_unit_test(a_list_is_given_again_while_nothing_changed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
