/* SPDX-License-Identifier: MIT */
/* The second factor over HTTP: when the code is asked, how tries at it are slowed down, who may do what. The requirements in the
 * comments are those of OWASP ASVS 4.0.3. The server's clock for codes is the machine's, whatever day it is told. */
#include "serving.h"

#include "support/phone.h"

typedef struct phone {
    unsigned char secret[CW_TOTP_SECRET];
} phone;

static json_t *asked_json(serving *s, const char *method, const char *target, const char *headers,
                          const char *body, int *status)
{
    wire_reply r = wire_ask(s->port, method, target, headers, body);
    json_t *o = json_loads(r.body ? r.body : "", 0, NULL);
    *status = r.status;
    wire_free(&r);
    return o;
}

static void begin(serving *s, const char *headers, phone *p)
{
    int status = 0;
    json_t *o = asked_json(s, "POST", "/api/factor", headers, NULL, &status);
    assert_int_equal(status, 200);
    const char *secret = json_string_value(json_object_get(o, "secret"));
    phone_learn(p->secret, secret);
    assert_non_null(strstr(json_string_value(json_object_get(o, "uri")), secret));
    assert_true(json_integer_value(json_object_get(json_object_get(o, "qr"), "side")) > 20);
    json_decref(o);
}

static int turn(serving *s, const char *headers, const char *how, const char *code, const char *password,
                char recovery[10][32])
{
    char target[40], body[200];
    int status = 0;
    size_t i;
    json_t *one;
    snprintf(target, sizeof target, "/api/factor/%s", how);
    snprintf(body, sizeof body, "{\"code\":\"%s\",\"current\":\"%s\"}", code, password);
    json_t *o = asked_json(s, "POST", target, headers, body, &status);
    json_array_foreach(json_object_get(o, "recovery"), i, one) if (recovery)
        snprintf(recovery[i], 32, "%s", json_string_value(one));
    json_decref(o);
    return status;
}

/* Status, and whether a session came or a code is wanted. */
typedef struct entry {
    int status;
    bool in, wanted;
} entry;

static entry enter(serving *s, const char *name, const char *password, const char *code)
{
    char body[300], more[80] = "", cookie[512];
    entry e = { 0 };
    if (code)
        snprintf(more, sizeof more, ",\"code\":\"%s\"", code);
    snprintf(body, sizeof body, "{\"name\":\"%s\",\"password\":\"%s\"%s}", name, password, more);
    wire_reply r = wire_ask(s->port, "POST", "/api/session", NULL, body);
    json_t *o = json_loads(r.body ? r.body : "", 0, NULL);
    e.status = r.status;
    e.in = json_is_true(json_object_get(o, "signed_in"));
    e.wanted = json_is_true(json_object_get(o, "code_wanted"));
    bool session = wire_header(&r, "Set-Cookie", cookie) != NULL;
    if (session != e.in || (json_object_get(o, "csrf") && json_is_string(json_object_get(o, "csrf"))) != e.in)
        fail_msg("a cookie or token without signing in: %s", r.body);
    json_decref(o);
    wire_free(&r);
    return e;
}

static void must_be(const char *what, entry got, int status, bool in, bool wanted)
{
    if (got.status != status || got.in != in || got.wanted != wanted)
        fail_msg("%s: %d, in %d, wanted %d", what, got.status, got.in, got.wanted);
}

/* 4.3.1, 2.8.4: after the right password the code, once; without a factor nothing changes. */
static void test_sign_in(void **state)
{
    char office[512], code[CW_TOTP_DIGITS + 1], recovery[10][32] = { "" };
    phone p;
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "office", office);
    must_be("a code that nobody asked for", enter(&s, "packer", OWNER_PASSWORD, "123456"), 200, true, false);
    phone_early_in_a_step();
    begin(&s, office, &p);
    must_be("begun only", enter(&s, "office", OWNER_PASSWORD, NULL), 200, true, false);
    phone_shows(p.secret, 0, code);
    assert_int_equal(turn(&s, office, "on", code, "not that one", NULL), 403);
    assert_int_equal(turn(&s, office, "on", code, OWNER_PASSWORD, recovery), 200);
    assert_int_equal(strlen(recovery[9]), 19);
    must_be("no code", enter(&s, "office", OWNER_PASSWORD, NULL), 200, false, true);
    must_be("an empty code", enter(&s, "office", OWNER_PASSWORD, ""), 401, false, false);
    must_be("the code that turned it on", enter(&s, "office", OWNER_PASSWORD, code), 401, false, false);
    phone_shows(p.secret, 1, code);
    must_be("wrong password, right code", enter(&s, "office", "not that one", code), 401, false, false);
    must_be("wrong password", enter(&s, "office", "not that one", NULL), 401, false, false);
    must_be("right", enter(&s, "office", OWNER_PASSWORD, code), 200, true, false);
    must_be("again", enter(&s, "office", OWNER_PASSWORD, code), 401, false, false);
    must_be("a recovery code", enter(&s, "office", OWNER_PASSWORD, recovery[2]), 200, true, false);
    must_be("again", enter(&s, "office", OWNER_PASSWORD, recovery[2]), 401, false, false);
    must_be("somebody else", enter(&s, "cellar", OWNER_PASSWORD, NULL), 200, true, false);
    assert_int_equal(turn(&s, office, "off", "000000", OWNER_PASSWORD, NULL), 403);
    assert_int_equal(turn(&s, office, "off", recovery[3], "not that one", NULL), 403);
    assert_int_equal(turn(&s, office, "off", recovery[3], OWNER_PASSWORD, NULL), 204);
    must_be("off", enter(&s, "office", OWNER_PASSWORD, NULL), 200, true, false);
    serving_free(&s);
}

/* 2.2.1: tries at the code are slowed down as those at the password are, and the password, which whoever tries codes has, does
 * not let them begin anew. */
static void test_throttle(void **state)
{
    char office[512], code[CW_TOTP_DIGITS + 1], recovery[10][32] = { "" };
    phone p;
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "office", office);
    phone_early_in_a_step();
    begin(&s, office, &p);
    phone_shows(p.secret, 0, code);
    assert_int_equal(turn(&s, office, "on", code, OWNER_PASSWORD, recovery), 200);
    int tries = 0, status = 401;
    while (status == 401 && tries++ < 10) {
        if (tries < 6) /* the last one at once: the wait is 4 s */
            must_be("between", enter(&s, "office", OWNER_PASSWORD, NULL), 200, false, true);
        status = enter(&s, "office", OWNER_PASSWORD, "AAAA-AAAA-AAAA-AAAA").status;
    }
    assert_int_equal(status, 429);
    assert_int_equal(tries, 6);
    assert_int_equal(enter(&s, "office", OWNER_PASSWORD, recovery[0]).status,
                     429); /* the right one waits, too */
    assert_int_equal(turn(&s, office, "off", recovery[0], OWNER_PASSWORD, NULL), 429); /* by any way */
    must_be("somebody else", enter(&s, "packer", OWNER_PASSWORD, NULL), 200, true, false);
    sleep(5);
    must_be("waited", enter(&s, "office", OWNER_PASSWORD, recovery[0]), 200, true, false);
    serving_free(&s);
}

/* 2.5.7: cleared by the owner with the own password, not the owner's own; a key's owner may; who was cleared is out at once. */
static void test_clear(void **state)
{
    static const char mine[] = "{\"current\":\"" OWNER_PASSWORD "\"}";
    char owner[512], packer[512], code[CW_TOTP_DIGITS + 1], recovery[10][32] = { "" };
    phone p;
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "packer", packer);
    phone_early_in_a_step();
    begin(&s, packer, &p);
    phone_shows(p.secret, 0, code);
    assert_int_equal(turn(&s, packer, "on", code, OWNER_PASSWORD, recovery), 200);
    serving_sign_in(&s, "owner", owner);
    assert_int_equal(serving_status(&s, "POST", "/api/people/packer/clear-factor", packer, mine), 403);
    assert_int_equal(serving_status(&s, "POST", "/api/people/packer/clear-factor", owner, "{}"), 422);
    assert_int_equal(serving_status(&s, "POST", "/api/people/packer/clear-factor", owner,
                                    "{\"current\":\"not that one\"}"),
                     403);
    assert_int_equal(serving_status(&s, "POST", "/api/people/office/clear-factor", owner, mine), 409);
    assert_int_equal(serving_status(&s, "POST", "/api/people/packer/clear-factor", owner, mine), 204);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", packer, NULL), 401);
    must_be("cleared", enter(&s, "packer", OWNER_PASSWORD, NULL), 200, true, false);
    begin(&s, owner, &p);
    phone_shows(p.secret, 0, code);
    assert_int_equal(turn(&s, owner, "on", code, OWNER_PASSWORD, recovery), 200);
    assert_int_equal(serving_status(&s, "POST", "/api/people/owner/clear-factor", owner, mine), 409);
    must_be("still on", enter(&s, "owner", OWNER_PASSWORD, NULL), 200, false, true);
    serving_free(&s);
}

/* Where nobody signs in, and for a key, there is none. */
static void test_nobody(void **state)
{
    serving s;
    int status = 0;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    json_t *o = asked_json(&s, "GET", "/api/factor", NULL, NULL, &status);
    assert_int_equal(status, 200);
    assert_true(json_is_false(json_object_get(o, "person")));
    json_decref(o);
    assert_int_equal(serving_status(&s, "POST", "/api/factor", NULL, NULL), 403);
    assert_int_equal(serving_status(&s, "POST", "/api/factor/on", NULL, "{\"code\":\"123456\"}"), 403);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sign_in),
        cmocka_unit_test(test_throttle),
        cmocka_unit_test(test_clear),
        cmocka_unit_test(test_nobody),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
