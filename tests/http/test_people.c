/* SPDX-License-Identifier: MIT */
/* Who may in. The requirements in the rows are those of OWASP ASVS 4.0.3. */
#include "serving.h"

#include "auth/tries.h"

/* A path with every {name} filled in. */
static void fill_path(const char *pattern, char out[256])
{
    size_t n = 0;
    while (*pattern && n < 250) {
        if (*pattern == '{') {
            out[n++] = '1';
            pattern += strcspn(pattern, "}");
        } else {
            out[n++] = *pattern;
        }
        pattern++;
    }
    out[n] = '\0';
}

static void check_leave(serving *s, const cw_route *r, cw_role role, const char *headers)
{
    static const char *const methods[] = { "GET", "POST", "PUT", "PATCH", "DELETE" };
    char path[256];
    fill_path(r->path, path);
    wire_reply reply = wire_ask(s->port, methods[r->method], path, headers, r->body_cap ? "{}" : NULL);
    bool may = r->may == CW_MAY_ANYBODY || (role != CW_ROLE_NONE && (r->may & CW_MAY(role)));
    bool refused = role == CW_ROLE_NONE
                       ? reply.status == 401
                       : reply.status == 403 && strstr(reply.body, "this role may not do that");
    /* Signing in with nothing is refused by the body's shape, not for who asks. */
    if (reply.status == 0 || refused == may)
        fail_msg("%s %s as %s: %d %s", methods[r->method], path, cw_role_word(role), reply.status,
                 reply.body ? reply.body : "");
    wire_free(&reply);
}

/* 4.1.1, 4.1.3: the whole table of routes, with every role and with none. */
static void test_every_route_with_every_role(void **state)
{
    static const cw_role roles[] = { CW_ROLE_OWNER, CW_ROLE_OFFICE, CW_ROLE_PACKER, CW_ROLE_CELLAR,
                                     CW_ROLE_SHOP };
    char headers[5][128], key[CW_TOKEN_TEXT];
    cw_error err = CW_ERROR_NONE;
    serving s;
    (void)state;
    serving_make(&s, true);
    for (int i = 0; i < 5; i++) {
        char name[40];
        snprintf(name, sizeof name, "%s's", cw_role_word(roles[i]));
        cw_check_ok(cw_accounts_key_add(s.t.n, &s.t.who, name, roles[i], CW_NO_DAY, key, &err), &err);
        snprintf(headers[i], sizeof headers[i], "Authorization: Bearer %s\r\n", key);
    }
    serving_start(&s);
    size_t count = 0;
    const cw_route *r;
    for (; (r = cw_route_at(count)); count++) {
        check_leave(&s, r, CW_ROLE_NONE, NULL);
        for (int i = 0; i < 5; i++)
            check_leave(&s, r, roles[i], headers[i]);
    }
    print_message("%zu routes\n", count);
    assert_true(count >= 10);
    serving_free(&s);
}

/* 3.2, 3.3, 3.4: a session is a random token in a strict cookie, a new one at each sign-in whatever the browser brings; it ends by
 * signing out. */
static void test_session(void **state)
{
    char mine[512], cookie[512], set[512], brought[600];
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", NULL, NULL), 401);
    serving_sign_in(&s, "owner", mine);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", mine, NULL), 200);
    snprintf(cookie, sizeof cookie, "%.*s\r\n", (int)strcspn(mine, "\r"), mine);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", cookie, NULL), 200);
    static const char planted[] = "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
    snprintf(brought, sizeof brought, "Cookie: clumpwise=%s\r\n", planted);
    wire_reply r = wire_ask(s.port, "POST", "/api/session", brought,
                            "{\"name\":\"owner\",\"password\":\"" OWNER_PASSWORD "\"}");
    assert_int_equal(r.status, 200);
    assert_non_null(wire_header(&r, "Set-Cookie", set));
    const char *token = strchr(set, '=') + 1;
    assert_int_equal(strcspn(token, ";"), 43); /* 256 bits, six to a letter */
    assert_int_not_equal(strncmp(token, planted, 43), 0);
    assert_int_not_equal(strncmp(token, strchr(mine, '=') + 1, 43), 0);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", brought, NULL), 401);
    assert_non_null(strstr(set, "HttpOnly"));
    assert_non_null(strstr(set, "SameSite=Strict"));
    assert_non_null(strstr(r.body, "\"weak\":false"));
    wire_free(&r);
    assert_int_equal(serving_status(&s, "DELETE", "/api/session", mine, NULL), 204);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", mine, NULL), 401);
    serving_free(&s);
}

/* 4.2.2, 13.2.3: a write needs the session's CSRF token and comes from the own page. */
static void test_cross_site(void **state)
{
    char mine[512], cookie[600];
    const char *body = "{\"confidence\":\"0.8\"}";
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "owner", mine);
    snprintf(cookie, sizeof cookie, "%.*s\r\n", (int)strcspn(mine, "\r"), mine);
    static const struct {
        const char *name, *more;
        bool token;
        int status;
    } rows[] = {
        { "token", "", true, 200 },
        { "no token", "", false, 403 },
        { "another token", "X-CSRF-Token: AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA\r\n", false, 403 },
        { "own origin", "Origin: http://localhost\r\n", true, 200 },
        { "foreign origin", "Origin: http://evil.example\r\n", true, 403 },
        { "no origin (sandboxed)", "Origin: null\r\n", true, 403 },
        { "other scheme", "Origin: https://localhost\r\n", true, 403 },
        { "fetched by the own page", "Sec-Fetch-Site: same-origin\r\n", true, 200 },
        { "fetched by another site", "Sec-Fetch-Site: cross-site\r\n", true, 403 },
        { "fetched by a sister site", "Sec-Fetch-Site: same-site\r\n", true, 403 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char headers[1200];
        snprintf(headers, sizeof headers, "%s%s", rows[i].token ? mine : cookie, rows[i].more);
        int status = serving_status(&s, "PATCH", "/api/settings", headers, body);
        if (status != rows[i].status)
            fail_msg("%s: %d, want %d", rows[i].name, status, rows[i].status);
    }
    serving_free(&s);
}

/* Without accounts there is no token to ask for; the origin and the body's type still guard. */
static void test_cross_site_without_accounts(void **state)
{
    static const char plain[] = "PATCH /api/settings HTTP/1.1\r\nHost: localhost\r\nContent-Type: "
                                "text/plain\r\nContent-Length: 2\r\n\r\n{}";
    serving s;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    assert_int_equal(serving_status(&s, "PATCH", "/api/settings", NULL, "{}"), 200);
    assert_int_equal(serving_status(&s, "PATCH", "/api/settings", "Origin: http://evil.example\r\n", "{}"),
                     403);
    int fd = wire_open(s.port);
    wire_send(fd, plain, sizeof plain - 1);
    wire_reply r = wire_read(fd);
    assert_int_equal(r.status, 415);
    wire_free(&r);
    close(fd);
    serving_free(&s);
}

/* 2.2.1: wrong tries are slowed down, for the account and without telling whether it exists. */
static void test_throttle(void **state)
{
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    static const char *const bodies[] = { "{\"name\":\"office\",\"password\":\"wrong wrong wrong\"}",
                                          "{\"name\":\"nobody\",\"password\":\"wrong wrong wrong\"}" };
    for (size_t k = 0; k < 2; k++) {
        int status = 401, tries = 0;
        while (status == 401 && tries++ < 10)
            status = serving_status(&s, "POST", "/api/session", NULL, bodies[k]);
        assert_int_equal(status, 429);
        assert_int_equal(tries, 6);
        if (k == 0) /* the right password has to wait too (asked at once: the wait is 4 s) */
            assert_int_equal(serving_status(&s, "POST", "/api/session", NULL,
                                            "{\"name\":\"office\",\"password\":\"" OWNER_PASSWORD "\"}"),
                             429);
    }
    /* Another account does not wait. */
    assert_int_equal(serving_status(&s, "POST", "/api/session", NULL,
                                    "{\"name\":\"cellar\",\"password\":\"" OWNER_PASSWORD "\"}"),
                     200);
    serving_free(&s);
}

/* 2.2.1: whoever tries one name after the other waits for the address; from elsewhere nobody does. */
static void test_wait_per_address(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_door *door = NULL;
    char name[16];
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_door_open(t.path, &door, &err), &err);
    for (int i = 0; i < 20; i++) {
        snprintf(name, sizeof name, "name %d", i);
        if (cw_throttle_wait(door, &(cw_try){ name, "192.0.2.7", "", false }, 1000) != 0)
            fail_msg("waits before try %d", i + 1);
        assert_int_equal(cw_throttle_failed(door, &(cw_try){ name, "192.0.2.7", "", false }, 1000), i == 19);
    }
    assert_true(cw_throttle_wait(door, &(cw_try){ "another", "192.0.2.7", "", false }, 1000) > 0);
    /* One address in a thousand shares the slot, by a secret of the run. */
    int wait = 0;
    for (int i = 0; i < 8; i++) {
        snprintf(name, sizeof name, "192.0.2.%d", 8 + i);
        wait += cw_throttle_wait(door, &(cw_try){ "another", name, "", false }, 1000) > 0;
    }
    assert_true(wait <= 1);
    assert_int_equal(
        cw_throttle_wait(door, &(cw_try){ "another", "192.0.2.7", "", false }, 1000 + 300 * 1000), 0);
    cw_door_close(door);
    test_nursery_free(&t);
}

/* Wrong tries at one name within some hour, from ever new addresses, by somebody who tries as soon as they may, goes on at that pace
 * for so long, and then is silent for so long, so that it is forgotten. */
static long most_in_an_hour(cw_door *door, int64_t slow_ms, int64_t silent_ms)
{
    enum { HOUR = 3600 * 1000, MOST = 2000 };
    static int64_t at[MOST];
    long count = 0, first = 0, most = 0;
    cw_tries_init(cw_door_tries_lock(door));
    cw_door_tries_unlock(door);
    int64_t burst = 0;
    for (int64_t now = 1; now < 4LL * HOUR && count < MOST; now += 1000) {
        char address[40];
        snprintf(address, sizeof address, "192.0.2.%ld", count);
        const cw_try t = { "owner", address, "", false };
        if (cw_throttle_wait(door, &t, now) > 0) {
            if (now - burst > slow_ms && silent_ms > 0)
                burst = now += silent_ms;
            continue;
        }
        (void)cw_throttle_failed(door, &t, now);
        at[count++] = now;
        while (at[first] <= now - HOUR)
            first++;
        most = count - first > most ? count - first : most;
    }
    return most;
}

/* 2.2.1: at most a hundred in any hour. */
static void test_a_hundred_an_hour(void **state)
{
    long worst = 0;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_door *door = NULL;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_door_open(t.path, &door, &err), &err);
    for (int64_t slow = 0; slow <= 60; slow += 5)
        for (int64_t silent = 0; silent <= 60; silent += 5) {
            long most = most_in_an_hour(door, slow * 60000, silent * 60000 + (silent > 0));
            worst = most > worst ? most : worst;
            if (most > 100)
                fail_msg("%ld tries in an hour: slow for %lld min, silent for %lld", most, (long long)slow,
                         (long long)silent);
        }
    print_message("%ld tries in an hour at most\n", worst);
    cw_door_close(door);
    test_nursery_free(&t);
}

/* 3.3.3, 2.1.6: who is disabled, or got a new password, is out at once. */
static void test_ended_at_once(void **state)
{
    char owner[512], office[512], packer[512];
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "owner", owner);
    serving_sign_in(&s, "office", office);
    serving_sign_in(&s, "packer", packer);
    assert_int_equal(serving_status(&s, "PATCH", "/api/people/office", owner,
                                    "{\"disabled\":true,\"current\":\"" OWNER_PASSWORD "\"}"),
                     204);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", office, NULL), 401);
    assert_int_equal(serving_status(&s, "PUT", "/api/people/packer/password", packer,
                                    "{\"password\":\"another long one\"}"),
                     422);
    assert_int_equal(serving_status(&s, "PUT", "/api/people/packer/password", packer,
                                    "{\"password\":\"another long one\",\"current\":\"not that one\"}"),
                     403);
    assert_int_equal(serving_status(&s, "PUT", "/api/people/packer/password", packer,
                                    "{\"password\":\"another long one\",\"current\":\"" OWNER_PASSWORD "\"}"),
                     204);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", packer, NULL), 401);
    assert_int_equal(serving_status(&s, "PATCH", "/api/people/owner", owner,
                                    "{\"disabled\":true,\"current\":\"" OWNER_PASSWORD "\"}"),
                     409);
    /* The last owner stays one; a second may go to another desk, and is signed out. */
    assert_int_equal(serving_status(&s, "PUT", "/api/people/owner/role", owner,
                                    "{\"role\":\"office\",\"current\":\"" OWNER_PASSWORD "\"}"),
                     409);
    assert_int_equal(serving_status(&s, "PUT", "/api/people/packer/role", owner,
                                    "{\"role\":\"shop\",\"current\":\"" OWNER_PASSWORD "\"}"),
                     422);
    assert_int_equal(serving_status(&s, "PUT", "/api/people/packer/role", owner,
                                    "{\"role\":\"owner\",\"current\":\"" OWNER_PASSWORD "\"}"),
                     204);
    assert_int_equal(serving_status(&s, "PUT", "/api/people/owner/role", owner,
                                    "{\"role\":\"cellar\",\"current\":\"" OWNER_PASSWORD "\"}"),
                     204);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", owner, NULL), 401);
    serving_free(&s);
}

/* 3.7.1: what a page left open must not do asks for the own password once more, and counts wrong ones as tries. */
static void test_asked_once_more(void **state)
{
    static const struct {
        const char *method, *target, *members;
        int done;
    } rows[] = {
        { "POST", "/api/people", "\"name\":\"Robin\",\"role\":\"owner\",\"password\":\"another long one\"",
          201 },
        { "PATCH", "/api/people/office", "\"disabled\":true", 204 },
        { "PUT", "/api/people/packer/role", "\"role\":\"cellar\"", 204 },
        { "PUT", "/api/people/packer/password", "\"password\":\"another long one\"", 204 },
        { "POST", "/api/keys", "\"name\":\"shop\",\"role\":\"shop\"", 201 },
        { "POST", "/api/forget", "\"before\":\"2031-01-01\"", 200 },
        { "PUT", "/api/hook", "\"address\":\"https://shop.example.org/told\"", 200 },
        { "POST", "/api/hook/forget", "", 204 },
        { "PUT", "/api/post/account", "\"server\":\"smtps://mail.example.org\"", 204 },
        { "POST", "/api/post/account/forget", "", 204 },
        { "POST", "/api/sessions/end", "\"session\":null", 204 },
    };
    char owner[512], body[400], key[CW_TOKEN_TEXT], headers[128];
    serving s;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    serving_make(&s, true);
    cw_check_ok(cw_accounts_key_add(s.t.n, &s.t.who, "owner's", CW_ROLE_OWNER, CW_NO_DAY, key, &err), &err);
    snprintf(headers, sizeof headers, "Authorization: Bearer %s\r\n", key);
    serving_start(&s);
    serving_sign_in(&s, "owner", owner);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        static const struct {
            const char *current;
            int status; /* 0: the row's */
        } tries[] = { { "", 422 },
                      { ",\"current\":null", 422 },
                      { ",\"current\":\"not that one\"", 403 },
                      { ",\"current\":\"" OWNER_PASSWORD "\"", 0 } };
        for (size_t k = 0; k < sizeof tries / sizeof tries[0]; k++) {
            snprintf(body, sizeof body, "{%s%s}", rows[i].members,
                     tries[k].current + (rows[i].members[0] == '\0' && tries[k].current[0] == ','));
            int status = serving_status(&s, rows[i].method, rows[i].target, owner, body);
            int want = tries[k].status ? tries[k].status : rows[i].done;
            if (status != want)
                fail_msg("%s %s with {%s}: %d, want %d", rows[i].method, rows[i].target, tries[k].current,
                         status, want);
        }
    }
    /* A key is shown with each request: it has nothing more to prove. */
    assert_int_equal(serving_status(&s, "PATCH", "/api/people/office", headers, "{\"disabled\":false}"), 204);
    int status = 403, tries = 0;
    while (status == 403 && tries++ < 10)
        status = serving_status(&s, "PATCH", "/api/people/office", owner,
                                "{\"disabled\":true,\"current\":\"not that one\"}");
    assert_int_equal(status, 429);
    assert_int_equal(tries, 6);
    serving_free(&s);
}

/* The list of sessions as the server tells it; `here` gets this session's name, `other` another's. */
static size_t list_sessions(serving *s, const char *headers, char here[16], char other[16])
{
    wire_reply r = wire_ask(s->port, "GET", "/api/sessions", headers, NULL);
    json_t *list = json_loads(r.body, 0, NULL), *one;
    size_t i, n = json_array_size(list);
    assert_int_equal(r.status, 200);
    json_array_foreach(list, i, one) snprintf(json_is_true(json_object_get(one, "here")) ? here : other, 16,
                                              "%s", json_string_value(json_object_get(one, "session")));
    json_decref(list);
    wire_free(&r);
    return n;
}

/* 3.3.4: everybody sees where they are signed in, and ends it; nobody another's. */
static void test_own_sessions(void **state)
{
    char first[512], second[512], third[512], packer[512], here[16] = "", other[16] = "", body[200];
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "office", first);
    serving_sign_in(&s, "office", second);
    serving_sign_in(&s, "packer", packer);
    assert_int_equal(list_sessions(&s, first, here, other), 2);
    assert_int_equal(strlen(here), 12);
    snprintf(body, sizeof body, "{\"session\":\"%s\",\"current\":\"" OWNER_PASSWORD "\"}", other);
    assert_int_equal(serving_status(&s, "POST", "/api/sessions/end", packer, body), 404);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", second, NULL), 200);
    assert_int_equal(serving_status(&s, "POST", "/api/sessions/end", first, body), 204);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", second, NULL), 401);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", first, NULL), 200);
    serving_sign_in(&s, "office", second);
    serving_sign_in(&s, "office", third);
    assert_int_equal(list_sessions(&s, third, here, other), 3);
    assert_int_equal(
        serving_status(&s, "POST", "/api/sessions/end", third, "{\"current\":\"" OWNER_PASSWORD "\"}"), 204);
    assert_int_equal(list_sessions(&s, third, here, other), 1);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", first, NULL), 401);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", packer, NULL), 200);
    serving_free(&s);
}

/* 2.1.7, 2.1.8: the verdict, before anything is set. */
static void test_verdict(void **state)
{
    char cellar[512];
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "cellar", cellar);
    static const struct {
        const char *body, *says;
    } rows[] = {
        { "{\"password\":\"password1234\"}", "\"good\": false" },
        { "{\"password\":\"short\"}", "must have 12 to 128 characters" },
        { "{\"name\":\"Robin\",\"password\":\"Robin and the hood\"}", "own name" },
        { "{\"password\":\"seven green tubers in May\"}", "\"good\": true" },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        wire_reply r = wire_ask(s.port, "POST", "/api/password-verdict", cellar, rows[i].body);
        assert_int_equal(r.status, 200);
        json_t *o = json_loads(r.body, 0, NULL);
        char *text = json_dumps(o, 0);
        if (strstr(text, rows[i].says) == NULL)
            fail_msg("%s: %s", rows[i].body, text);
        free(text);
        json_decref(o);
        wire_free(&r);
    }
    serving_free(&s);
}

static void test_where_it_listens(void **state)
{
    serving s;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    serving_make(&s, false);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    s.how.listen = "0.0.0.0:0";
    s.how.insecure_lan = true;
    assert_int_equal(cw_server_start(&s.how, &s.server, &err), CW_REFUSED); /* no account */
    assert_null(s.server);
    s.how.listen = "127.0.0.1:0";
    s.how.trusted_proxy = "127.0.0.1"; /* behind which everybody would be the owner */
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_server_start(&s.how, &s.server, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "nobody has an account yet"));
    serving_free(&s);

    serving_make(&s, true);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    s.how.listen = "0.0.0.0:0";
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_server_start(&s.how, &s.server, &err), CW_REFUSED); /* no TLS */
    assert_non_null(strstr(err.text, "--insecure-lan"));
    err = (cw_error)CW_ERROR_NONE;
    s.how.cert = "nothing.pem";
    assert_int_equal(cw_server_start(&s.how, &s.server, &err), CW_USAGE); /* a certificate without its key */
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_route_with_every_role),
        cmocka_unit_test(test_session),
        cmocka_unit_test(test_cross_site),
        cmocka_unit_test(test_cross_site_without_accounts),
        cmocka_unit_test(test_throttle),
        cmocka_unit_test(test_wait_per_address),
        cmocka_unit_test(test_a_hundred_an_hour),
        cmocka_unit_test(test_ended_at_once),
        cmocka_unit_test(test_asked_once_more),
        cmocka_unit_test(test_own_sessions),
        cmocka_unit_test(test_verdict),
        cmocka_unit_test(test_where_it_listens),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
