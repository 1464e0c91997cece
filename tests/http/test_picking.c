/* SPDX-License-Identifier: MIT */
/* A packer's day over HTTP: who may, what is sent twice, what two people say of the same pick, and what comes back when a
 * parcel is packed, repeated and sent. */
#include "serving.h"
#include "support/picking.h"

#include "base/banned.h"

static json_t *ask(serving *s, const char *method, const char *target, const char *headers, const char *key,
                   const char *body, int status)
{
    char lines[800];
    snprintf(lines, sizeof lines, "%s%s%s%s", headers, key ? "Idempotency-Key: " : "", key ? key : "",
             key ? "\r\n" : "");
    wire_reply r = wire_ask(s->port, method, target, lines, body);
    if (r.status != status)
        fail_msg("%s %s: %d, want %d: %s", method, target, r.status, status, r.body ? r.body : "");
    json_t *o = r.body && r.body[0] ? json_loads(r.body, 0, NULL) : NULL;
    wire_free(&r);
    return o;
}

static const char *text(const json_t *o, const char *name)
{
    const char *s = json_string_value(json_object_get(o, name));
    return s ? s : "";
}

static int64_t number(const json_t *o, const char *name)
{
    return json_integer_value(json_object_get(o, name));
}

static void serve_small(serving *s)
{
    static const cw_role roles[] = { CW_ROLE_OWNER, CW_ROLE_OFFICE, CW_ROLE_PACKER, CW_ROLE_CELLAR };
    cw_error err = CW_ERROR_NONE;
    *s = (serving){ .server = NULL };
    picking_make(&s->t);
    for (size_t i = 0; i < 4; i++)
        cw_check_ok(
            cw_accounts_add(s->t.n, &s->t.who, cw_role_word(roles[i]), roles[i], OWNER_PASSWORD, &err), &err);
    s->how = (cw_serve){ .path = s->t.path, .listen = "127.0.0.1:0", .today = s->t.who.today };
    serving_start(s);
}

/* The outcome of one confirmation. */
static void confirm(serving *s, const char *headers, const char *http_key, const char *key, int64_t pick,
                    int64_t taken, const char *outcome)
{
    char body[300];
    snprintf(
        body, sizeof body,
        "{\"confirmations\":[{\"key\":\"%s\",\"pick\":%lld,\"taken\":%lld,\"at\":\"2032-01-31T09:15:00Z\"}]}",
        key, (long long)pick, (long long)taken);
    json_t *o = ask(s, "POST", "/api/picks", headers, http_key, body, 200);
    assert_string_equal(text(json_array_get(o, 0), "key"), key);
    assert_string_equal(text(json_array_get(o, 0), "outcome"), outcome);
    json_decref(o);
}

static void a_packers_day(void **state)
{
    serving s;
    char packer[512], office[512], cellar[512], target[80], body[200];
    (void)state;
    serve_small(&s);
    serving_sign_in(&s, "packer", packer);
    serving_sign_in(&s, "office", office);
    serving_sign_in(&s, "cellar", cellar);
    json_decref(ask(&s, "POST", "/api/waves", cellar, NULL, "{\"week\":\"2032-W16\"}", 403));
    json_t *made = ask(&s, "POST", "/api/waves", office, "make-wave-1", "{\"week\":\"2032-W16\"}", 201);
    json_t *again = ask(&s, "POST", "/api/waves", office, "make-wave-1", "{\"week\":\"2032-W16\"}", 201);
    assert_true(json_equal(made, again));
    assert_int_equal(json_array_size(json_object_get(made, "notes")), 2);
    snprintf(target, sizeof target, "/api/waves/%lld", (long long)number(made, "wave"));
    json_t *wave = ask(&s, "GET", target, cellar, NULL, NULL, 200);
    json_t *stop = json_array_get(json_object_get(wave, "stops"), 1);
    json_t *pick = json_array_get(json_object_get(stop, "picks"), 0);
    assert_string_equal(text(stop, "place"), "C2");
    assert_string_equal(text(pick, "order"), "1001");
    int64_t id = number(pick, "id"), two = number(json_array_get(json_object_get(stop, "picks"), 1), "id");

    snprintf(target, sizeof target, "/api/stops/%lld/take", (long long)number(stop, "id"));
    json_decref(ask(&s, "POST", target, packer, NULL, "{\"packer\":\"Marta\"}", 204));
    json_t *taken = ask(&s, "POST", target, office, NULL, "{\"packer\":\"Jon\"}", 409);
    assert_non_null(strstr(text(taken, "detail"), "Marta"));

    confirm(&s, packer, "pick-key-1", "pick-key-1", id, 2, "done");
    confirm(&s, packer, "pick-key-1", "pick-key-1", id, 2,
            "done"); /* the whole request again: its answer again */
    confirm(&s, packer, NULL, "pick-key-1", id, 2, "already");
    confirm(&s, office, NULL, "pick-key-2", id, 2, "clash");
    confirm(&s, packer, NULL, "pick-key-3", two, 3, "done");
    json_decref(ask(&s, "POST", "/api/picks", packer, NULL,
                    "{\"confirmations\":[{\"key\":\"k\",\"pick\":1,\"taken\":1,\"reason\":\"eaten\"}]}",
                    422));

    json_t *parcel = json_array_get(json_object_get(wave, "parcels"), 2);
    assert_string_equal(text(parcel, "order"), "1002");
    snprintf(target, sizeof target, "/api/parcels/%lld/pack", (long long)number(parcel, "id"));
    json_t *wrong = ask(&s, "POST", target, packer, NULL, "{\"count\":4}", 409);
    assert_non_null(strstr(text(wrong, "detail"), "too many"));
    snprintf(body, sizeof body, "{\"labels\":[\"L1 AMB\",\"L1 AMB\",\"L1 AMB\"],\"weight_g\":640}");
    json_decref(ask(&s, "POST", target, packer, "pack-key-1", body, 200));
    json_decref(
        ask(&s, "POST", target, packer, "pack-key-1", body, 200)); /* the answer had been lost on the way */
    snprintf(target, sizeof target, "/api/parcels/%lld/ship", (long long)number(parcel, "id"));
    json_t *sent =
        ask(&s, "POST", target, packer, "ship-key-1", "{\"carrier\":\"by road\",\"tracking\":\"T-7\"}", 200);
    assert_int_equal(number(sent, "rest"), 0);
    json_t *list = ask(&s, "GET", "/api/parcels?state=shipped", packer, NULL, NULL, 200);
    assert_int_equal(json_array_size(list), 1);
    assert_string_equal(text(json_array_get(list, 0), "shipped_on"), "2032-02-01");
    json_t *all[] = { made, again, wave, taken, wrong, sent, list };
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        json_decref(all[i]);
    serving_stop(&s);
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM wave"), 1);
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM pick WHERE state = 'done'"), 2);
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM orders WHERE state = 'shipped'"), 1);
    serving_free(&s);
}

/* Whoever sees that a lot is sick or mislabelled holds it back; that it may leave again, or is held for another reason, is
 * for the office to say. */
static void anybody_holds_a_lot_and_the_office_lets_it_go(void **state)
{
    static const struct {
        const char *who, *body;
        int status;
        const char *held; /* afterwards; "": it is not */
    } rows[] = {
        { "cellar", "{\"why\":\"\"}", 422, "" },
        { "cellar", "{\"why\":\"galls on every crown\"}", 204, "galls on every crown" },
        { "cellar", "{}", 403, "galls on every crown" },
        { "packer", "{}", 403, "galls on every crown" },
        { "packer", "{\"why\":\"nothing much\"}", 409, "galls on every crown" },
        { "office", "{\"why\":\"crown gall, seen by the inspector\"}", 204,
          "crown gall, seen by the inspector" },
        { "office", "{}", 204, "" },
        { "packer", "{\"why\":\"wrong label\"}", 204, "wrong label" },
        { "owner", "{}", 204, "" },
    };
    serving s;
    char headers[512];
    (void)state;
    serve_small(&s);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        serving_sign_in(&s, rows[i].who, headers);
        json_decref(ask(&s, "POST", "/api/lots/L1/hold", headers, NULL, rows[i].body, rows[i].status));
        json_t *lot = ask(&s, "GET", "/api/lots/L1", headers, NULL, NULL, 200);
        assert_string_equal(text(json_object_get(lot, "lot"), "held"), rows[i].held);
        json_decref(lot);
    }
    serving_stop(&s);
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM audit WHERE action IN ('hold lot', 'let lot go')"),
                     5);
    serving_free(&s);
}

/* What a phone kept without a network is its author's: under another name it is refused, or was handed over by name and
 * that is on record; and it is done once, whoever brings it. */
static void an_entry_is_its_authors(void **state)
{
#define FOUND(n) "{\"lot\":\"L1\",\"reason\":\"found\",\"divisions\":" n "}"
    static const struct {
        const char *who, *names, *key, *body;
        int status;
        int found, over; /* afterwards: divisions found in all, entries taken over */
    } rows[] = {
        { "owner", "X-Author: cellar\r\n", "entry-key-1", FOUND("1"), 409, 0, 0 },
        { "owner", "X-Author: cellar\r\nX-Handed-To: office\r\n", "entry-key-1", FOUND("1"), 409, 0, 0 },
        { "owner", "X-Author: %ZZ\r\n", "entry-key-1", FOUND("1"), 400, 0, 0 },
        { "cellar", "X-Author: cellar\r\n", "entry-key-1", FOUND("1"), 201, 1, 0 },
        /* its answer was lost, then it was handed over: it is not done again */
        { "owner", "X-Author: cellar\r\nX-Handed-To: owner\r\n", "entry-key-1", FOUND("1"), 201, 1, 0 },
        { "owner", "X-Author: cellar\r\nX-Handed-To: owner\r\n", "entry-key-2", FOUND("2"), 201, 3, 1 },
        { "owner", "X-Author: cellar\r\nX-Handed-To: owner\r\n", "entry-key-2", FOUND("2"), 201, 3, 1 },
        { "cellar", "X-Author: cellar\r\n", "entry-key-2", FOUND("2"), 201, 3, 1 },
        /* refused: nothing was taken over */
        { "owner", "X-Author: cellar\r\nX-Handed-To: owner\r\n", "entry-key-3", FOUND("0"), 422, 3, 1 },
        /* whose account is disabled, or was never here */
        { "owner", "X-Author: M%C3%A4rta\r\nX-Handed-To: owner\r\n", "entry-key-4", FOUND("4"), 201, 7, 2 },
    };
    serving s;
    char mine[512], headers[700];
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i == 0)
            serve_small(&s);
        else
            serving_start(&s);
        serving_sign_in(&s, rows[i].who, mine);
        snprintf(headers, sizeof headers, "%s%s", mine, rows[i].names);
        json_t *o = ask(&s, "POST", "/api/entries", headers, rows[i].key, rows[i].body, rows[i].status);
        if (rows[i].status == 409)
            assert_string_equal(text(o, "type"), "urn:clumpwise:problem:author");
        json_decref(o);
        serving_stop(&s);
        print_message("  row %zu\n", i);
        assert_int_equal(
            number_of(&s.t, "SELECT COALESCE(SUM(divisions), 0) FROM movement WHERE cause = 'entry'"),
            rows[i].found);
        assert_int_equal(
            number_of(&s.t, "SELECT COUNT(*) FROM audit WHERE action = 'take over' AND actor = 'owner'"),
            rows[i].over);
    }
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM audit WHERE subject = 'entry of M\xc3\xa4rta'"),
                     1);
    serving_free(&s);
#undef FOUND
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(a_packers_day),
                                        cmocka_unit_test(an_entry_is_its_authors),
                                        cmocka_unit_test(anybody_holds_a_lot_and_the_office_lets_it_go) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
