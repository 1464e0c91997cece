/* SPDX-License-Identifier: MIT */
/* Notices, refunds and claims over HTTP, on a small invented nursery. */
#include "serving.h"

#include "desk/share/allotting.h"
#include "desk/intake/intake.h"

#include "base/banned.h"

static const char *const season[][2] = {
    { "varieties.csv", "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n" },
    { "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\n" },
    { "counts.csv", "lot,counted_on,stage,count\nL1,2032-01-20,division,3\n" },
    { "orders.csv", "order,received_at,line,variety,quantity,unit_price,customer,email,wish_week\n"
                    "1001,2032-01-05T10:00:00Z,1,AMB,2,6.50,Ada,ada@example.org,2032-W17\n"
                    "1002,2032-01-05T11:00:00Z,1,AMB,4,6.50,Bo,,2032-W17\n" },
};

static void make(serving *s)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    cw_intake_file files[4] = { { 0 } };
    cw_allotting_ask rule = { .rule = "first-come" };
    cw_allotting_done done;
    serving_make(s, true);
    for (size_t i = 0; i < 4; i++)
        files[i] =
            (cw_intake_file){ .name = season[i][0], .bytes = season[i][1], .length = strlen(season[i][1]) };
    cw_check_ok(cw_intake_load(s->t.n, &s->t.who, files, 4, &(cw_intake_options){ 0 }, &t, &errors, &err),
                &err);
    cw_table_free(&t);
    cw_check_ok(cw_allotting_commit(s->t.n, &s->t.who, &rule, NULL, &done, NULL, &err), &err);
    cw_check_ok(cw_nursery_set(s->t.n, &s->t.who, "sender", "office@example.com", &err), &err);
    serving_start(s);
}

/* The answer's body (to be freed); fails on another status. */
static char *ask(serving *s, const char *method, const char *target, const char *headers, const char *body,
                 int status)
{
    wire_reply r = wire_ask(s->port, method, target, headers, body);
    if (r.status != status)
        fail_msg("%s %s: %d, want %d: %s", method, target, r.status, status, r.body ? r.body : "");
    char *text = strdup(r.body ? r.body : "");
    wire_free(&r);
    if (text == NULL)
        abort();
    return text;
}

static void holds(serving *s, const char *method, const char *target, const char *headers, const char *body,
                  int status, const char *words)
{
    char *text = ask(s, method, target, headers, body, status);
    if (strstr(text, words) == NULL)
        fail_msg("%s %s: %s, without %s", method, target, text, words);
    free(text);
}

static void notices_are_made_shown_and_settled(void **state)
{
    serving s;
    char h[512];
    (void)state;
    make(&s);
    serving_sign_in(&s, "office", h);
    holds(&s, "POST", "/api/notices/make", h, "{}", 200, "\"made\":2,\"kept\":0");
    holds(&s, "POST", "/api/notices/make", h, "{}", 200, "\"made\":0,\"kept\":2");
    holds(&s, "GET", "/api/notices?due_by=2032-02-09", h, NULL, 200,
          "[\n]"); /* due on the 10th, seven working days */
    holds(&s, "GET", "/api/notices?due_by=2032-02-10", h, NULL, 200, "\"amount\":\"19.50\"");
    holds(&s, "GET", "/api/timetable", h, NULL, 200, "435.3(a) excludes seeds and growing plants");
    holds(&s, "GET", "/api/notices.csv", h, NULL, 200, "Dear Bo,");
    holds(&s, "GET", "/api/notices/1.eml", h, NULL, 422, "no e-mail address");
    holds(&s, "GET", "/api/notices/99.eml", h, NULL, 404, "no notice 99");
    holds(&s, "GET", "/api/notices/1.txt", h, NULL, 404, "NUMBER.eml");
    holds(&s, "GET", "/api/refunds.csv", h, NULL, 200,
          "1002,Bo,,1,AMB,not delivered,0,3,6.50,19.50,0.00,19.50");
    holds(&s, "POST", "/api/notices/2/sent", h, "{}", 422, "evidence");
    holds(&s, "POST", "/api/notices/2/sent", h, "{\"evidence\":\"bank, 19.50\"}", 204, "");
    holds(&s, "POST", "/api/notices/2/drop", h, "{\"why\":\"x\"}", 409, "sent already");
    holds(&s, "POST", "/api/notices/1/drop", h, "{\"why\":\"by telephone\"}", 204, "");
    holds(&s, "GET", "/api/refunds", h, NULL, 200, "[\n]");
    holds(&s, "GET", "/api/notices?state=all", h, NULL, 200, "by telephone");
    serving_free(&s);
}

static void texts_are_changed_and_previewed(void **state)
{
    serving s;
    char h[512];
    (void)state;
    make(&s);
    serving_sign_in(&s, "office", h);
    holds(&s, "GET", "/api/templates", h, NULL, 200, "{refund_by}");
    holds(&s, "POST", "/api/templates/preview", h,
          "{\"kind\":\"refund\",\"body\":\"a\\nb {amount} {currency}\"}", 200, "a\\nb 17.50 USD");
    holds(&s, "PUT", "/api/templates", h, "{\"kind\":\"short\",\"subject\":\"Short\",\"body\":\"{wrong}\"}",
          422, "{wrong}");
    holds(&s, "PUT", "/api/templates", h, "{\"kind\":\"short\",\"subject\":\"Short\",\"body\":[]}", 422,
          "must be a text, not a list");
    holds(&s, "PUT", "/api/templates", h,
          "{\"kind\":\"short\",\"subject\":\"Short\",\"body\":\"{quantity} short\\n\"}", 204, "");
    holds(&s, "POST", "/api/notices/make", h, "{}", 200, "\"made\":2");
    holds(&s, "GET", "/api/notices.csv", h, NULL, 200, "Short,\"3 short");
    serving_free(&s);
}

static void claims_are_held_to_what_was_received(void **state)
{
    static const char *const looks[] = { "/api/notices",  "/api/notices.csv", "/api/notices/1.eml",
                                         "/api/refunds",  "/api/claims",      "/api/templates",
                                         "/api/timetable" };
    serving s;
    char h[512];
    (void)state;
    make(&s);
    serving_sign_in(&s, "office", h);
    holds(&s, "POST", "/api/claims", h,
          "{\"order\":\"1001\",\"line\":1,\"quantity\":1,\"why\":\"soft\",\"answer\":\"refund\"}", 409,
          "received 0");
    holds(&s, "POST", "/api/claims", h,
          "{\"order\":\"1001\",\"line\":1,\"quantity\":1,\"why\":\"soft\",\"answer\":\"gift\"}", 422,
          "answer");
    holds(&s, "POST", "/api/claims/7/answer", h, "{\"answer\":\"refund\"}", 404, "no claim 7");
    holds(&s, "GET", "/api/claims", h, NULL, 200, "[\n]");
    serving_sign_in(&s, "packer", h);
    for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++)
        holds(&s, "GET", looks[i], h, NULL, 403, "");
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(notices_are_made_shown_and_settled),
        cmocka_unit_test(texts_are_changed_and_previewed),
        cmocka_unit_test(claims_are_held_to_what_was_received),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
