/* SPDX-License-Identifier: MIT */
/* Buyers' data only where the work needs it: every route that a packer or the cellar may ask is walked, with buyers whose
 * data cannot be mistaken; what the program logs is searched for them; and a person is taken out over HTTP. OWASP ASVS 4.0.3:
 * 4.1.3, 7.1.1, 7.1.2, 8.2.1, 8.3.2. */
#include "logged.h"
#include "serving.h"
#include "support/bytes.h"
#include "support/picking.h"

#include "http/route.h"

#include "base/banned.h"

/* Marks that stand nowhere else. */
#define NAME_MARK     "Zqxname"
#define MAIL_MARK     "zqxmail"
#define POSTCODE_MARK "ZQX77"
#define FIRM_MARK     "Zqxfirm"
#define PHONE_MARK    "zqxphone"
#define STREET_MARK   "Zqxstreet"
#define TOWN_MARK     "Zqxtown"
#define SECRET_MARK   "zqxsecret"
static const char *const buyer_marks[] = { NAME_MARK,  MAIL_MARK,   POSTCODE_MARK, FIRM_MARK,
                                           PHONE_MARK, STREET_MARK, TOWN_MARK };
#define MARKS (sizeof buyer_marks / sizeof buyer_marks[0])

static void mark_buyers(const char *path)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(db,
                     "UPDATE orders SET customer = '" NAME_MARK " ' || number, email = '" MAIL_MARK
                     "' || number || '@example.org', postcode = '" POSTCODE_MARK "', name2 = '" FIRM_MARK
                     "' || number, phone = '" PHONE_MARK "' || number, street = '" STREET_MARK
                     "' || number, town = '" TOWN_MARK "' || number",
                     NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(db);
}

/* Order 1002 is pulled and packed, so that the carrier's file has a line. */
static void pack_one(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_packing_count count = { .count = 3, .weight_g = 640 };
    char outcome[16];
    answer(t, "Pim", "pull-1002", pick_of(t, "1002", 1), 3, NULL, outcome);
    assert_string_equal(outcome, "done");
    cw_check_ok(cw_packing_pack(t->n, &t->who, parcel_of(t, "1002"), &count, &err), &err);
}

static void serve_marked(serving *s, void (*say)(const char *))
{
    static const cw_role roles[] = { CW_ROLE_OWNER, CW_ROLE_OFFICE, CW_ROLE_PACKER, CW_ROLE_CELLAR };
    cw_error err = CW_ERROR_NONE;
    *s = (serving){ .server = NULL };
    picking_make(&s->t);
    wave_make(&s->t);
    pack_one(&s->t);
    mark_buyers(s->t.path);
    for (size_t i = 0; i < 4; i++)
        cw_check_ok(
            cw_accounts_add(s->t.n, &s->t.who, cw_role_word(roles[i]), roles[i], OWNER_PASSWORD, &err), &err);
    s->how = (cw_serve){ .path = s->t.path, .listen = "127.0.0.1:0", .today = s->t.who.today, .say = say };
    serving_start(s);
}

static bool names_buyer(const wire_reply *r)
{
    for (size_t i = 0; i < MARKS; i++)
        if (strcasestr(r->body, buyer_marks[i]) || strcasestr(r->head, buyer_marks[i]))
            return true;
    return false;
}

/* The pattern with what there is in this nursery; some answer only when something is asked of them. */
static void real_target(const cw_route *r, char out[200])
{
    static const char *const values[][2] = { { "{code}", "AMB" },   { "{lot}", "L1" },
                                             { "{wave}", "1" },     { "{parcel}", "1" },
                                             { "{order}", "1001" }, { "{file}", "orders.csv" },
                                             { "{pick}", "1" },     { "{stop}", "1" },
                                             { "{desk}", "cellar" } };
    static const char *const queries[][2] = { { "/api/trace", "?lot=L1" },
                                              { "/api/lineage", "?lot=L1" },
                                              { "/print/tags", "?wave=1" },
                                              { "/print/walk", "?wave=1" },
                                              { "/api/waves/{wave}/stretches", "?packers=2" },
                                              { "/print/slips", "?wave=1" },
                                              { "/print/labels", "?wave=1" },
                                              { "/api/cellar/damper", "?room=cellar&points=2" } };
    snprintf(out, 200, "%s", r->path);
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        char *at = strstr(out, values[i][0]), rest[200];
        if (at) {
            snprintf(rest, sizeof rest, "%s", at + strlen(values[i][0]));
            snprintf(at, 200 - (size_t)(at - out), "%s%s", values[i][1], rest);
        }
    }
    for (size_t i = 0; i < sizeof queries / sizeof queries[0]; i++)
        if (strcmp(r->path, queries[i][0]) == 0)
            snprintf(out + strlen(out), 200 - strlen(out), "%s", queries[i][1]);
}

/* How many of the role's GETs answered, and how many of those named a buyer. */
static int walk(serving *s, cw_role role, const char *headers, bool may_name, int *answered)
{
    static const char *const for_packing[] = { "/print/slips", "/api/waves/{wave}/carrier.csv" };
    int named = 0;
    const cw_route *r;
    for (size_t place = 0; (r = cw_route_at(place)); place++) {
        char target[200];
        bool needed = may_name;
        if (r->method != CW_GET || !(r->may & CW_MAY(role)))
            continue;
        real_target(r, target);
        wire_reply reply = wire_ask(s->port, "GET", target, headers, NULL);
        for (size_t i = 0; i < 2; i++)
            needed = needed || (role == CW_ROLE_PACKER && strcmp(r->path, for_packing[i]) == 0);
        if (reply.status >= 500 || (!may_name && reply.status != 200 && reply.status != 404))
            fail_msg("GET %s as %s: %d %s", target, cw_role_word(role), reply.status, reply.body);
        /* 8.2.1: what any of them is told is kept by no cache, or asked for anew each time. */
        char cache[512];
        if (!wire_header(&reply, "Cache-Control", cache) ||
            (strcmp(cache, "no-store") != 0 && strcmp(cache, "private, no-cache") != 0))
            fail_msg("GET %s as %s may be cached", target, cw_role_word(role));
        *answered += reply.status == 200;
        named += names_buyer(&reply);
        if (names_buyer(&reply) && !needed)
            fail_msg("GET %s tells the %s who buys: %s", target, cw_role_word(role), reply.body);
        if (role == CW_ROLE_PACKER && strcasestr(reply.body, MAIL_MARK))
            fail_msg("GET %s tells the packer an e-mail address", target);
        wire_free(&reply);
    }
    return named;
}

static void test_only_where_needed(void **state)
{
    char packer[512], cellar[512], office[512];
    int answered = 0;
    serving s;
    (void)state;
    serve_marked(&s, NULL);
    serving_sign_in(&s, "packer", packer);
    serving_sign_in(&s, "cellar", cellar);
    serving_sign_in(&s, "office", office);
    /* One pick comes up short, so that the list of what is missing has a row. */
    char body[240];
    snprintf(body, sizeof body,
             "{\"confirmations\":[{\"key\":\"short-pick-1\",\"pick\":%lld,\"taken\":0,\"reason\":\"rotten\","
             "\"at\":"
             "\"2032-01-31T09:15:00Z\"}]}",
             (long long)number_of(&s.t, "SELECT MIN(id) FROM pick WHERE state = 'open'"));
    assert_int_equal(serving_status(&s, "POST", "/api/picks", packer, body), 200);
    assert_int_equal(walk(&s, CW_ROLE_CELLAR, cellar, false, &answered), 0);
    assert_true(answered >= 12);
    answered = 0;
    assert_int_equal(walk(&s, CW_ROLE_PACKER, packer, false, &answered),
                     2); /* slips and the carrier's file */
    assert_true(answered >= 14);
    /* The office does see them, on more pages, and no cache keeps those either. */
    answered = 0;
    assert_true(walk(&s, CW_ROLE_OFFICE, office, true, &answered) >= 4);
    assert_true(answered >= 20);
    static const char *const seen[] = { "/api/parcels", "/api/shorts", "/api/trace?lot=L1",
                                        "/api/lineage?lot=L1", "/api/orders/1001" };
    for (size_t i = 0; i < 5; i++) {
        wire_reply r = wire_ask(s.port, "GET", seen[i], office, NULL);
        if (r.status != 200 || !names_buyer(&r))
            fail_msg("%s as office: %d %s", seen[i], r.status, r.body);
        wire_free(&r);
    }
    serving_free(&s);
}

/* A day's traffic, right and wrong, full of marks; then the log is searched for them. */
static void test_nothing_in_the_log(void **state)
{
    static const struct {
        const char *method, *target, *body;
        bool as_packer;
    } rows[] = {
        { "POST", "/api/session", "{\"name\":\"" NAME_MARK "\",\"password\":\"" SECRET_MARK " and more\"}",
          false },
        { "POST", "/api/session", "{\"name\":\"office\",\"password\":\"" SECRET_MARK " and more\"}", false },
        { "POST", "/api/session", "{\"name\":\"office\",\"password\":\"" SECRET_MARK "\",", false },
        { "POST", "/api/people",
          "{\"name\":\"" NAME_MARK "\",\"role\":\"owner\",\"password\":\"" SECRET_MARK "\"}", true },
        { "GET", "/api/orders?q=" NAME_MARK, NULL, false },
        { "GET", "/api/orders?q=" NAME_MARK, NULL, true },
        { "GET", "/api/orders?nonsense=" MAIL_MARK, NULL, false },
        { "GET", "/api/orders/" NAME_MARK, NULL, false },
        { "GET", "/" NAME_MARK "/" POSTCODE_MARK, NULL, false },
        { "POST", "/api/orders",
          "{\"order\":\"W1\",\"customer\":\"" NAME_MARK "\",\"email\":\"" MAIL_MARK
          "@example.org\",\"postcode\":"
          "\"" POSTCODE_MARK "\",\"name2\":\"" FIRM_MARK "\",\"phone\":\"" PHONE_MARK
          "\",\"street\":\"" STREET_MARK "\",\"town\":\"" TOWN_MARK
          "\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}]}",
          false },
        { "POST", "/api/orders",
          "{\"order\":\"W2\",\"customer\":\"" NAME_MARK "\",\"lines\":[{\"variety\":\"" MAIL_MARK
          "\",\"quantity\":1,\"unit_price\":\"6.50\"}]}",
          false },
        { "POST", "/api/orders", "{\"order\":\"W3\",\"customer\":{\"x\":\"" NAME_MARK "\"}}", false },
        { "POST", "/api/load",
          "{\"files\":[{\"name\":\"orders.csv\",\"text\":\"order,customer\\n1,\\\"" NAME_MARK "\\n\"}]}",
          false },
        { "POST", "/api/forget", "{\"customer\":\"" NAME_MARK "\"}", true },
    };
    char office[512], packer[512], marked[700];
    serving s;
    (void)state;
    serve_marked(&s, keep_line);
    serving_sign_in(&s, "office", office);
    serving_sign_in(&s, "packer", packer);
    int refused = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        wire_reply r = wire_ask(s.port, rows[i].method, rows[i].target, rows[i].as_packer ? packer : office,
                                rows[i].body);
        assert_true(r.status > 0 && r.status < 500);
        refused += r.status >= 400;
        wire_free(&r);
    }
    /* Tokens of nobody, and headers with marks. */
    snprintf(marked, sizeof marked, "Authorization: Bearer " SECRET_MARK "\r\nX-Name: " NAME_MARK "\r\n");
    assert_int_equal(serving_status(&s, "GET", "/api/orders", marked, NULL), 401);
    assert_int_equal(serving_status(&s, "GET", "/api/orders", "X-(odd): " NAME_MARK "\r\n", NULL), 400);
    serving_stop(&s);
    assert_true(refused >= 8);
    assert_true(logged.lines >= 4); /* two sign-ins refused, requests beyond their role */
    assert_non_null(strstr(logged.text, "refused: password; POST /api/session; "));
    assert_non_null(strstr(logged.text, "refused: role; GET /api/orders; person "));
    static const char *const others[] = { SECRET_MARK, "127.0.0.1" };
    for (size_t i = 0; i < MARKS + 2; i++) {
        const char *mark = i < MARKS ? buyer_marks[i] : others[i - MARKS];
        if (strcasestr(logged.text, mark))
            fail_msg("the log holds %s: %s", mark, logged.text);
    }
    serving_free(&s);
}

/* A person is looked up, refused while an order is open, told when two are meant, and taken out with the own password. */
static void test_forget_over_http(void **state)
{
    static const char two[] = "{\"customer\":\"" NAME_MARK " twin\"}";
    static const char one[] = "{\"customer\":\"" MAIL_MARK "1005@example.org\"}";
    static const char one_proven[] =
        "{\"customer\":\"" MAIL_MARK "1005@example.org\",\"current\":\"" OWNER_PASSWORD "\"}";
    char owner[512], office[512];
    serving s;
    (void)state;
    serve_marked(&s, NULL);
    serving_stop(&s);
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(s.t.path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(db, "UPDATE orders SET customer = '" NAME_MARK " twin' WHERE number IN ('1003', '1005')",
                     NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(db);
    serving_start(&s);
    serving_sign_in(&s, "owner", owner);
    serving_sign_in(&s, "office", office);
    assert_int_equal(serving_status(&s, "POST", "/api/forget/preview", office, one), 403);
    wire_reply r = wire_ask(s.port, "POST", "/api/forget/preview", owner, two);
    assert_int_equal(r.status, 409);
    assert_non_null(strstr(r.body, "\"1003\""));
    assert_non_null(strstr(r.body, "\"1005\""));
    wire_free(&r);
    r = wire_ask(s.port, "POST", "/api/forget/preview", owner, one);
    assert_int_equal(r.status, 200);
    assert_non_null(strstr(r.body, "1005"));
    assert_non_null(strstr(r.body, "\"open\""));
    wire_free(&r);
    assert_int_equal(serving_status(&s, "POST", "/api/forget", owner, one),
                     422); /* without the own password */
    assert_int_equal(serving_status(&s, "POST", "/api/forget", owner, one_proven), 409); /* open */
    assert_int_equal(
        serving_status(&s, "POST", "/api/orders/1005/cancel", office, "{\"why\":\"" NAME_MARK " rang\"}"),
        200);
    r = wire_ask(s.port, "POST", "/api/forget", owner, one_proven);
    assert_int_equal(r.status, 200);
    assert_non_null(strstr(r.body, "\"1005\""));
    assert_false(names_buyer(&r));
    wire_free(&r);
    /* Nor in old bytes, of the log either, when it is answered. */
    static const char *const gone[] = { MAIL_MARK, FIRM_MARK, PHONE_MARK, STREET_MARK, TOWN_MARK };
    for (size_t i = 0; i < sizeof gone / sizeof gone[0]; i++) {
        char mark[40];
        snprintf(mark, sizeof mark, "%s1005", gone[i]);
        if (files_hold(&s.t, "n.db", mark))
            fail_msg("the file holds %s", mark);
        snprintf(mark, sizeof mark, "%s1004", gone[i]);
        assert_true(files_hold(&s.t, "n.db", mark));
    }
    r = wire_ask(s.port, "GET", "/api/orders/1005", office, NULL);
    if (r.status != 200 || names_buyer(&r))
        fail_msg("the order's sheet: %d %s", r.status, r.body);
    wire_free(&r);
    static const struct {
        const char *body;
        int status;
    } rows[] = { { "{}", 422 },
                 { "{\"customer\":\"x\",\"before\":\"2031-01-01\"}", 422 },
                 { "{\"postcode\":\"x\",\"before\":\"2031-01-01\"}", 422 },
                 { "{\"before\":\"2099-01-01\"}", 422 },
                 { "{\"before\":\"2031-01-01\"}", 200 } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(serving_status(&s, "POST", "/api/forget/preview", owner, rows[i].body),
                         rows[i].status);
    serving_free(&s); /* with every check of the file */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_only_where_needed),
        cmocka_unit_test(test_nothing_in_the_log),
        cmocka_unit_test(test_forget_over_http),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
