/* SPDX-License-Identifier: MIT */
/* The contract against the running server on four files: empty, sparse (one lot, one order, no prices, no zones), the demo
 * season, and a large one. Whatever is asked, the answer is what the contract says (held.h), and on the way every route is
 * answered well at least once. That the contract is whole needs no test: a route without one does not compile. */
#include "contract_season.h"
#include "contract_world.h"

#include "support/demo.h"

static void test_empty(void **state)
{
    world w;
    (void)state;
    world_begin(&w, false);
    serving_start(&w.s);
    look_around(&w);
    ask_all(&w, true);
    post(&w, 200, "/api/schedule", "{}");
    post(&w, 200, "/api/notices/make", "{}");
    post(&w, 201, "/api/releases", "{}");
    post(&w, 201, "/api/allocation", "{\"rule\":\"first-come\"}");
    post(&w, 201, "/api/substitution", "{}");
    post(&w, 0, "/api/waves", "{\"week\":\"2032-W17\"}");
    static const char turn[] = "{\"season\":2032,\"ship\":\"2033-04-18\",\"buyers_since\":\"2031-01-01\"}";
    json_decref(asked(&w, 200, "GET", "/api/season/next?season=2032&ship=2033-04-18&leave_open=yes", NULL));
    json_decref(asked(&w, 200, "GET", "/api/buyers?q=a", NULL));
    post(&w, 404, "/api/season/close", turn); /* nothing is made yet */
    post(&w, 200, "/api/season/next", turn);
    post(&w, 204, "/api/season/close", turn);
    json_t *closed = asked(&w, 200, "GET", "/api/season/closed", NULL);
    assert_true(json_is_true(json_object_get(closed, "closed")));
    json_decref(closed);
    post(&w, 409, "/api/schedule", "{}"); /* a closed season takes no more of this */
    post(&w, 204, "/api/season/reopen", "{\"why\":\"too early\"}");
    post(&w, 200, "/api/schedule", "{}");
    world_end(&w);
}

static void test_sparse(void **state)
{
    static const char *const files[][2] = {
        { "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n" },
        { "places.csv", "place,room,walk_order\nP1,north,1\n" },
        { "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,40\n" },
    };
    world w;
    (void)state;
    world_begin(&w, false);
    load_texts(&w, files, 3);
    serving_start(&w.s);
    look_around(&w);
    ask_all(&w, true);
    whole_season(&w);
    look_around(&w);
    ask_all(&w, true);
    world_end(&w);
}

/* What it would cost not to give the first substitute of the plan. */
static void without_a_substitute(world *w)
{
    char target[200], order[40], substitute[40];
    json_t *o = asked(w, 200, "GET", "/api/substitution", NULL), *lines = json_object_get(o, "lines");
    note_text(lines, "order", 0, order);
    note_text(lines, "substitute", 0, substitute);
    snprintf(target, sizeof target, "/api/substitution/forbidden?order=%s&line=%lld&substitute=%s", order,
             number(lines, "line"), substitute);
    json_decref(o);
    json_decref(asked(w, 200, "GET", target, NULL));
}

static void test_demo(void **state)
{
    static const char *const names[] = { "varieties", "history",      "past_checks", "places",    "lots",
                                         "divisions", "checks",       "counts",      "weighings", "air",
                                         "zones",     "destinations", "orders" };
    world w;
    (void)state;
    world_begin(&w, false);
    test_load(&w.s.t, names, sizeof names / sizeof names[0], CW_SOURCE_DIR "/scripts/demo-season");
    serving_start(&w.s);
    look_around(&w);
    post(&w, 200, "/api/schedule", "{}");
    post(&w, 201, "/api/allocation", "{\"rule\":\"one-each-first\"}");
    post(&w, 201, "/api/waves", "{\"week\":\"2032-W17\"}");
    w.wave = 1;
    post(&w, 200, "/api/notices/make", "{}");
    without_a_substitute(&w);
    ask_all(&w, true);
    world_end(&w);
}

/* So many varieties, lots and orders that lists are long and numbers wide. */
enum { VARIETIES = 120, LOTS = 360, ORDERS = 1000 };

static void grow(cw_text varieties[1], cw_text history[1], cw_text lots[1], cw_text divisions[1],
                 cw_text orders[1])
{
    cw_text_add(varieties, "code,name,price,limit_per_order\n");
    cw_text_add(history, "season,variety,clumps,divisions\n");
    for (int i = 0; i < VARIETIES; i++) {
        cw_text_addf(varieties, "V%03d,Variety %d,%s,%s\n", i, i, i % 3 ? "7.25" : "", i % 5 ? "" : "9");
        for (int season = 2027; season < 2031; season++)
            cw_text_addf(history, "%d,V%03d,40,%d\n", season, i, 160 + i % 60);
    }
    cw_text_add(lots, "lot,variety,dug_on,clumps,row\n");
    cw_text_add(divisions, "lot,divided_on,clumps,saleable\n");
    for (int i = 0; i < LOTS; i++) {
        cw_text_addf(lots, "L%04d,V%03d,2031-10-%02d,%d,%s\n", i, i % VARIETIES, 1 + i % 28, 30 + i % 7,
                     i % 2 ? "A" : "");
        cw_text_addf(divisions, "L%04d,2031-12-%02d,20,%d\n", i, 1 + i % 28, 80 + i % 30);
    }
    cw_text_add(orders, "order,received_at,line,variety,quantity,unit_price,customer,zone\n");
    for (int i = 0; i < ORDERS; i++)
        for (int line = 1; line <= 2; line++)
            cw_text_addf(orders, "O%05d,2032-01-05T%02d:00:00Z,%d,V%03d,%d,8,%s,\n", i, i % 24, line,
                         (i + line) % VARIETIES, 1 + i % 9, i % 4 ? "Ida Invented" : "");
}

static void test_large(void **state)
{
    cw_text t[5];
    const char *files[5][2] = {
        { "varieties.csv" }, { "history.csv" }, { "lots.csv" }, { "divisions.csv" }, { "orders.csv" },
    };
    world w;
    (void)state;
    for (size_t i = 0; i < 5; i++)
        t[i] = CW_TEXT((size_t)1 << 24);
    grow(&t[0], &t[1], &t[2], &t[3], &t[4]);
    for (size_t i = 0; i < 5; i++)
        files[i][1] = t[i].data;
    world_begin(&w, false);
    load_texts(&w, (const char *const(*)[2])files, 5);
    serving_start(&w.s);
    look_around(&w);
    post(&w, 201, "/api/allocation", "{\"rule\":\"pro-rata\"}");
    post(&w, 200, "/api/schedule", "{}");
    ask_all(&w, false);
    world_end(&w);
    for (size_t i = 0; i < 5; i++)
        cw_text_free(&t[i]);
}

#define CURRENT "\"current\":\"" OWNER_PASSWORD "\""

static void others_let_in(world *w)
{
    post(w, 200, "/api/password-verdict", "{\"password\":\"rather short\"}");
    post(w, 201, "/api/people",
         "{\"name\":\"Ida\",\"role\":\"packer\",\"password\":\"four words are enough\"," CURRENT "}");
    json_decref(asked(w, 204, "PATCH", "/api/people/Ida", "{\"disabled\":true," CURRENT "}"));
    json_decref(asked(w, 204, "PUT", "/api/people/Ida/role", "{\"role\":\"cellar\"," CURRENT "}"));
    json_decref(asked(w, 204, "PUT", "/api/people/Ida/password",
                      "{\"password\":\"five words are more still\"," CURRENT "}"));
    post(w, 201, "/api/keys", "{\"name\":\"shop\",\"role\":\"shop\"," CURRENT "}");
    json_decref(asked(w, 200, "GET", "/api/keys", NULL));
    json_decref(asked(w, 204, "DELETE", "/api/keys/shop", NULL));
}

/* Begins a second factor and turns it on. */
static void factor_begun(world *w, unsigned char secret[CW_TOTP_SECRET])
{
    char body[200], code[CW_TOTP_DIGITS + 1];
    json_t *o = asked(w, 200, "POST", "/api/factor", NULL);
    phone_learn(secret, json_string_value(json_object_get(o, "secret")));
    json_decref(o);
    phone_early_in_a_step();
    phone_shows(secret, 0, code);
    snprintf(body, sizeof body, "{\"code\":\"%s\"," CURRENT "}", code);
    json_decref(asked(w, 200, "POST", "/api/factor/on", body));
    json_decref(asked(w, 200, "GET", "/api/factor", NULL));
}

static void second_factors(world *w)
{
    char body[200], code[CW_TOTP_DIGITS + 1], owner[512];
    unsigned char secret[CW_TOTP_SECRET];
    snprintf(owner, sizeof owner, "%s", w->headers);
    serving_sign_in(&w->s, "office", w->headers);
    factor_begun(w, secret);
    snprintf(w->headers, sizeof w->headers, "%s", owner);
    post(w, 200, "/api/session",
         "{\"name\":\"office\",\"password\":\"" OWNER_PASSWORD "\"}"); /* a code is wanted */
    post(w, 204, "/api/people/office/clear-factor", "{" CURRENT "}");
    factor_begun(w, secret);
    phone_shows(secret, 1, code);
    snprintf(body, sizeof body, "{\"code\":\"%s\"," CURRENT "}", code);
    json_decref(asked(w, 204, "POST", "/api/factor/off", body));
}

static void test_people(void **state)
{
    world w;
    (void)state;
    world_begin(&w, true);
    serving_start(&w.s);
    json_decref(asked(&w, 200, "GET", "/api/session", NULL));
    serving_sign_in(&w.s, "owner", w.headers);
    json_decref(asked(&w, 200, "GET", "/api/session", NULL));
    ask_all(&w, false);
    others_let_in(&w);
    second_factors(&w);
    post(&w, 204, "/api/sessions/end", "{" CURRENT "}");
    json_decref(asked(&w, 204, "DELETE", "/api/session", NULL));
    world_end(&w);
}

/* After all the others. */
static void test_every_route(void **state)
{
    int missing = 0;
    (void)state;
    for (size_t i = 0; cw_route_at(i); i++)
        if (!good[i]) {
            print_error("%s was never answered well here\n", cw_route_at(i)->name);
            missing++;
        }
    assert_int_equal(missing, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_empty), cmocka_unit_test(test_sparse), cmocka_unit_test(test_demo),
        cmocka_unit_test(test_large), cmocka_unit_test(test_people), cmocka_unit_test(test_every_route),
    };
    if (getenv("ONLY"))
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
