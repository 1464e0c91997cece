/* SPDX-License-Identifier: MIT */
/* Keys of programs: what they may, whose they are, and how their names stand on record. */
#include "serving.h"

#include "desk/intake/intake.h"
#include <sqlite3.h>

/* Keys: role, last day, disabling; the text is shown once and never kept. */
static void test_keys(void **state)
{
    char owner[512], key[CW_TOKEN_TEXT], headers[128];
    serving s;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "owner", owner);
    wire_reply r = wire_ask(s.port, "POST", "/api/keys", owner,
                            "{\"name\":\"web shop\",\"role\":\"shop\",\"current\":\"" OWNER_PASSWORD "\"}");
    assert_int_equal(r.status, 201);
    json_t *o = json_loads(r.body, 0, NULL);
    snprintf(key, sizeof key, "%s", json_string_value(json_object_get(o, "key")));
    json_decref(o);
    wire_free(&r);
    snprintf(headers, sizeof headers, "Authorization: Bearer %s\r\n", key);
    r = wire_ask(s.port, "GET", "/api/nursery", headers, NULL);
    assert_int_equal(r.status, 200);
    assert_null(strstr(r.body, "settings")); /* not the shop's business */
    wire_free(&r);
    assert_int_equal(serving_status(&s, "GET", "/api/people", headers, NULL), 403);
    /* A key is no session and a session's token no key, although the door has just seen both. */
    char other[128];
    const char *token = strchr(owner, '=') + 1;
    snprintf(other, sizeof other, "Cookie: clumpwise=%s\r\n", key);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", other, NULL), 401);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", headers, NULL), 200);
    snprintf(other, sizeof other, "Authorization: Bearer %.*s\r\n", (int)strcspn(token, "\r"), token);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", owner, NULL), 200);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", other, NULL), 401);
    r = wire_ask(s.port, "GET", "/api/keys", owner, NULL);
    assert_null(strstr(r.body, key));
    wire_free(&r);
    assert_int_equal(serving_status(&s, "DELETE", "/api/keys/web%20shop", owner, NULL), 204);
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", headers, NULL), 401);
    assert_int_equal(
        serving_status(
            &s, "POST", "/api/keys", owner,
            "{\"name\":\"old\",\"role\":\"shop\",\"expires_on\":\"2032-01-31\",\"current\":\"" OWNER_PASSWORD
            "\"}"),
        422);
    assert_int_equal(
        serving_status(
            &s, "POST", "/api/keys", owner,
            "{\"name\":\"old\",\"role\":\"shop\",\"expires_on\":\"2034-02-03\",\"current\":\"" OWNER_PASSWORD
            "\"}"),
        422);
    serving_free(&s);
}

/* Two people whose devices made up the same Idempotency-Key: each one's entry is made, and each once. */
static void test_same_key_of_two_people(void **state)
{
    static const char varieties[] = "code,name\nBALL,Small Ball\n",
                      lots[] = "lot,variety,dug_on,clumps\nL1,BALL,2031-10-20,9\n";
    const char *const names[] = { "owner", "cellar" };
    cw_intake_file files[] = {
        { .name = "varieties.csv", .bytes = varieties, .length = sizeof varieties - 1 },
        { .name = "lots.csv", .bytes = lots, .length = sizeof lots - 1 }
    };
    char mine[512], headers[600];
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    serving s;
    (void)state;
    serving_make(&s, true);
    cw_check_ok(cw_intake_load(s.t.n, &s.t.who, files, 2, &(cw_intake_options){ 0 }, &t, &errors, &err),
                &err);
    cw_table_free(&t);
    serving_start(&s);
    for (int i = 0; i < 4; i++) {
        serving_sign_in(&s, names[i / 2], mine);
        snprintf(headers, sizeof headers, "%sIdempotency-Key: 3f1c7a52-aaaa\r\n", mine);
        wire_reply r = wire_ask(s.port, "POST", "/api/entries", headers,
                                "{\"lot\":\"L1\",\"clumps\":2,\"reason\":\"discarded\"}");
        json_t *o = json_loads(r.body ? r.body : "", 0, NULL);
        assert_true(r.status == 200 || r.status == 201);
        assert_int_equal(json_integer_value(json_object_get(json_array_get(o, 0), "clumps")), i < 2 ? 7 : 5);
        json_decref(o);
        wire_free(&r);
    }
    serving_free(&s);
}

/* Runs SQL on the file beside the program; the first column of the first row, if there is one. */
static long beside(const serving *s, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    assert_int_equal(sqlite3_open(s->t.path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &q, NULL), SQLITE_OK);
    long n = sqlite3_step(q) == SQLITE_ROW ? (long)sqlite3_column_int64(q, 0) : 0;
    sqlite3_finalize(q);
    sqlite3_close(raw);
    return n;
}

/* 4.2.1: a key that has a person's name, as it could in a file of before, has nothing of that person: neither password nor
 * sessions nor the name in the record. */
static void test_key_named_as_a_person(void **state)
{
    char packer[512], key[CW_TOKEN_TEXT], headers[128];
    cw_error err = CW_ERROR_NONE;
    serving s;
    (void)state;
    serving_make(&s, true);
    cw_check_ok(cw_accounts_key_add(s.t.n, &s.t.who, "till", CW_ROLE_OWNER, CW_NO_DAY, key, &err), &err);
    snprintf(headers, sizeof headers, "Authorization: Bearer %s\r\n", key);
    beside(&s, "UPDATE program_key SET name = 'office' WHERE name = 'till'");
    serving_start(&s);
    assert_int_equal(serving_status(&s, "PATCH", "/api/settings", headers, "{\"confidence\":\"0.8\"}"), 200);
    serving_stop(&s);
    assert_int_equal(beside(&s, "SELECT COUNT(*) FROM audit WHERE actor = 'office'"), 0);
    assert_int_equal(beside(&s, "SELECT COUNT(*) FROM audit WHERE actor = 'key office'"), 1);
    cw_check_ok(cw_accounts_key_add(s.t.n, &s.t.who, "till", CW_ROLE_PACKER, CW_NO_DAY, key, &err), &err);
    snprintf(headers, sizeof headers, "Authorization: Bearer %s\r\n", key);
    beside(&s, "UPDATE program_key SET name = 'packer' WHERE name = 'till'");
    serving_start(&s);
    serving_sign_in(&s, "packer", packer);
    assert_int_equal(serving_status(&s, "PUT", "/api/people/packer/password", headers,
                                    "{\"password\":\"fourteen purple kettles\"}"),
                     403);
    wire_reply r = wire_ask(s.port, "GET", "/api/sessions", headers, NULL);
    assert_int_equal(r.status, 200);
    assert_null(strstr(r.body, "since"));
    wire_free(&r);
    serving_status(&s, "POST", "/api/sessions/end", headers, "{}");
    assert_int_equal(serving_status(&s, "GET", "/api/nursery", packer, NULL), 200);
    serving_sign_in(&s, "packer", packer); /* by the old password */
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_keys),
        cmocka_unit_test(test_same_key_of_two_people),
        cmocka_unit_test(test_key_named_as_a_person),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
