/* SPDX-License-Identifier: MIT */
/* A person who is taken out is nowhere in the file's tables any more, and nothing else has changed. */
#include "base/json.h"
#include "desk/nursery/answers.h"
#include "desk/buyers/forgetting.h"
#include "desk/intake/intake.h"
#include "desk/buyers/claims.h"
#include "desk/orders/notices.h"
#include "desk/orders/ordering.h"
#include "desk/share/substituting.h"
#include "support/picking.h"

#include <sqlite3.h>

static void load(test_nursery *t, const char *orders)
{
    static const char varieties[] = "code,name,price\nBALL,Small Ball,5.00\n";
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table table = { 0 };
    cw_intake_file files[] = {
        { .name = "varieties.csv", .bytes = varieties, .length = sizeof varieties - 1 },
        { .name = "orders.csv", .bytes = orders, .length = strlen(orders) }
    };
    cw_check_ok(cw_intake_load(t->n, &t->who, files, 2, &(cw_intake_options){ 0 }, &table, &errors, &err),
                &err);
    cw_table_free(&table);
}

static void load_orders(test_nursery *t)
{
    static const char orders[] =
        "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,country\n"
        "A1,2032-01-05T10:00:00Z,1,BALL,2,5.00,Fern Amblow,fern@example.org,54321,US\n"
        "A2,2032-01-06T10:00:00Z,1,BALL,3,5.00,Fern Amblow,Fern@Example.org,54321,US\n"
        "B1,2032-01-06T11:00:00Z,1,BALL,1,5.00,Tess Zeldon,tess@example.org,12345,US\n";
    load(t, orders);
}

/* How many texts of any table hold the needle; letters' templates are the nursery's own words ("liefern"). */
static int texts_with(const char *path, const char *needle)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *tables = NULL, *rows = NULL;
    int found = 0;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(db, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name <> 'template'",
                           -1, &tables, NULL),
        SQLITE_OK);
    while (sqlite3_step(tables) == SQLITE_ROW) {
        char sql[200];
        snprintf(sql, sizeof sql, "SELECT * FROM \"%s\"", (const char *)sqlite3_column_text(tables, 0));
        assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &rows, NULL), SQLITE_OK);
        while (sqlite3_step(rows) == SQLITE_ROW)
            for (int c = 0; c < sqlite3_column_count(rows); c++) {
                const char *text = (const char *)sqlite3_column_text(rows, c);
                found += text && strcasestr(text, needle) != NULL;
            }
        sqlite3_finalize(rows);
    }
    sqlite3_finalize(tables);
    sqlite3_close(db);
    return found;
}

static void test_forget(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    const cw_forget_ask by_mail = { .customer = "FERN@example.org" },
                        tess = { .customer = "tess@example.org" };
    (void)state;
    test_nursery_make(&t);
    load_orders(&t);
    assert_true(texts_with(t.path, "fern") > 0);
    /* Open orders could not be shipped any more. */
    assert_int_equal(cw_forgetting(t.n, &t.who, &by_mail, &out, &err), CW_CONFLICT);
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "A1", 0, "Fern changed her mind", &err), &err);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "A2", 0, "Fern changed her mind", &err), &err);
    cw_check_ok(cw_forgetting(t.n, &t.who, &by_mail, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "fern"), 0);
    assert_int_equal(texts_with(t.path, "54321"), 0);
    assert_true(texts_with(t.path, "tess@example.org") > 0);
    assert_int_equal(cw_forgetting(t.n, &t.who, &by_mail, &out, &err), CW_NOT_FOUND);
    cw_table_free(&out);
    cw_asker office = t.who;
    office.role = CW_ROLE_OFFICE;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_forgetting(t.n, &office, &tess, &out, &err), CW_FORBIDDEN);
    cw_table_free(&out);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Two of one name, one of them without an e-mail address, and one who moved. */
static void load_namesakes(test_nursery *t)
{
    static const char orders[] =
        "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,country\n"
        "A1,2032-01-05T10:00:00Z,1,BALL,2,5.00,Fern Amblow,fern@example.org,54321,US\n"
        "A2,2032-01-06T10:00:00Z,1,BALL,3,5.00,Fern Amblow,fern@example.org,60601,US\n"
        "A3,2032-01-06T11:00:00Z,1,BALL,1,5.00,fern amblow,,54 321,US\n"
        "B1,2032-01-06T12:00:00Z,1,BALL,1,5.00,Fern Amblow,,99999,US\n"
        "C1,2032-01-06T12:00:00Z,1,BALL,1,5.00,Tess Zeldon,tess@example.org,12345,US\n";
    load(t, orders);
}

static void list_orders(const cw_table *t, char out[64])
{
    size_t n = 0;
    out[0] = '\0';
    for (size_t i = 0; i < cw_table_rows(t); i++)
        n += (size_t)snprintf(out + n, 64 - n, "%s%s", i ? " " : "", cw_table_text(t, i, 0));
}

static void test_who_is_meant(void **state)
{
    static const struct {
        const char *name, *customer, *postcode;
        cw_code code;
        const char *orders;
    } rows[] = {
        { "by e-mail, any case", "FERN@Example.org", NULL, CW_OK, "A1 A2" },
        { "a name of two persons", "Fern Amblow", NULL, CW_CONFLICT, "A1 A2 A3 B1" },
        { "a name of one person", "tess zeldon", NULL, CW_OK, "C1" },
        { "name and postcode, with and without e-mail", "Fern Amblow", "54321", CW_OK, "A1 A3" },
        { "name and postcode of the other", "Fern Amblow", "99999", CW_OK, "B1" },
        { "name and postcode of nobody", "Fern Amblow", "11111", CW_NOT_FOUND, "" },
        { "with a postcode it is a name only", "fern@example.org", "54321", CW_NOT_FOUND, "" },
        { "one order", "A3", NULL, CW_OK, "A3" },
        { "nobody", "Nobody", NULL, CW_NOT_FOUND, "" },
    };
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    load_namesakes(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        char orders[64];
        cw_forget_ask ask = { .customer = rows[i].customer, .postcode = rows[i].postcode };
        cw_code code = cw_forgetting_preview(t.n, &t.who, &ask, &out, &err);
        list_orders(&out, orders);
        if (code != rows[i].code || strcmp(orders, rows[i].orders) != 0)
            fail_msg("%s: %d %s: %s", rows[i].name, code, err.text, orders);
        cw_table_free(&out);
    }
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* An answer that is kept for repeats writes the order's number as JSON does. */
static void test_kept_answers(void **state)
{
    static const char odd[] = "A\"7\\b", number[] = "A7";
    static const char orders[] =
        "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,country\n"
        "\"A\"\"7\\b\",2032-01-05T10:00:00Z,1,BALL,2,5.00,Fern Amblow,fern@example.org,54321,US\n"
        "A7,2032-01-05T10:00:00Z,1,BALL,2,5.00,Tess Zeldon,tess@example.org,12345,US\n";
    const char *const keys[] = { "key-odd-1", "key-plain-1" };
    const char *const asked[] = { odd, number }, *const names[] = { "Fern Amblow", "Tess Zeldon" };
    const cw_forget_ask fern = { .customer = "fern@example.org" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    test_nursery_make(&t);
    load(&t, orders);
    for (size_t i = 0; i < 2; i++) {
        json_t *o = json_pack("{s:s,s:s}", "order", asked[i], "customer", names[i]);
        char *body = cw_json_text(o, JSON_COMPACT);
        assert_non_null(body);
        cw_check_ok(cw_answers_keep(t.n, keys[i], "digest", 200, body, t.who.now, &err), &err);
        free(body);
        json_decref(o);
    }
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, odd, 0, "rang", &err), &err);
    cw_check_ok(cw_forgetting(t.n, &t.who, &fern, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "fern"), 0);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM answered"), 1);
    test_nursery_free(&t);
}

/* A look changes nothing; what is done touches that one person only, and the ledger and money not at all. */
/* Free words of the office about an order, wherever they were typed: promises taken back, a hold, a list, a changed file. */
static void test_free_words(void **state)
{
    static const char changed[] =
        "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,country,zone\n"
        "1005,2032-01-05T14:00:00Z,1,BRI,1,8.00,Zqx Person,zqx@example.org,ZQX77,US,z3\n";
    const cw_forget_ask ask = { .customer = "1005" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table out = { 0 };
    (void)state;
    picking_make(&t);
    cw_intake_file file = { .name = "orders.csv", .bytes = changed, .length = sizeof changed - 1 };
    cw_check_ok(
        cw_intake_load(t.n, &t.who, &file, 1, &(cw_intake_options){ .changes = true }, &out, &errors, &err),
        &err);
    cw_table_free(&out);
    cw_check_ok(cw_shipping_hold(t.n, &t.who, NULL, "1005", 203216, 203217, "zqx is away", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_shipping_move(t.n, &t.who, "1005", 203221, "zqx asked", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_substituting_ban(t.n, &t.who, "1005", 1, "AMB", "zqx hates orange", &err), &err);
    cw_check_ok(cw_allotting_take_back(t.n, &t.who, "1005", 1, "BRI", 1, "zqx rang", &err), &err);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1005", 0, "zqx rang again", &err), &err);
    cw_notices_made made;
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err); /* with the reason, for the letter */
    cw_check_ok(
        cw_notices_sent(t.n, &t.who,
                        number_of(&t, "SELECT n.id FROM notice n JOIN orders o ON o.id = n.order_id WHERE "
                                      "o.number = '1005' AND n.kind = 'cancelled'"),
                        "zqx answered: fine", &err),
        &err);
    assert_true(texts_with(t.path, "zqx") >= 8);
    cw_check_ok(cw_forgetting(t.n, &t.who, &ask, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "zqx"), 0);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Words about two orders stand in each table that may hold words; one is taken out, and the other's are all still there. */
static void test_words_of_others_stay(void **state)
{
    static const char *const words =
        "UPDATE orders SET email = 'word.of.' || number || '@example.org', customer = 'word of ' || number;"
        "INSERT INTO order_event (order_id, at, actor, kind, note) SELECT id, 0, 'x', 'moved', 'word of ' || "
        "number FROM orders;"
        "INSERT INTO notice (order_id, kind, made_at, due_on, detail, fact, state, done_at, actor, evidence)"
        " SELECT id, 'delay', 0, 0, '{\"customer\":\"word of ' || number || '\"}', 'f' || id, 'sent', 0, "
        "'x', 'word of ' || number"
        " FROM orders;"
        "INSERT INTO claim (order_id, line_id, quantity, at, actor, why, answer, reply) SELECT o.id, l.id, "
        "1, 0, 'x',"
        " 'word of ' || o.number, 'refused', 'word of ' || o.number FROM orders o JOIN line l ON l.order_id "
        "= o.id;"
        "INSERT INTO taken_back (line_id, variety_id, quantity, at, actor, why) SELECT l.id, l.variety_id, "
        "1, 0, 'x',"
        " 'word of ' || o.number FROM orders o JOIN line l ON l.order_id = o.id;"
        "INSERT INTO forbidden (line_id, variety_id, at, actor, why) SELECT l.id, l.variety_id, 0, 'x', "
        "'word of ' || o.number"
        " FROM orders o JOIN line l ON l.order_id = o.id;"
        "INSERT INTO frost_hold (order_id, first_week, last_week, why, at, actor) SELECT id, 203216, 203217, "
        "'word of ' || number,"
        " 0, 'x' FROM orders;"
        "INSERT INTO frost_overruled (hold_id, order_id, at, actor, why) SELECT h.id, o.id, 0, 'x', 'word of "
        "' || o.number"
        " FROM frost_hold h JOIN orders o ON o.id = h.order_id;"
        "INSERT INTO destination_overruled (order_id, country, region, at, actor, why) SELECT id, 'US', '', "
        "0, 'x',"
        " 'word of ' || number FROM orders;"
        "INSERT INTO answered (key, request, status, body, at) SELECT 'k' || id, 'd', 200, '{\"order\":\"' "
        "|| number ||"
        " '\",\"said\":\"word of ' || number || '\"}', 0 FROM orders;";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    sqlite3 *raw = NULL;
    (void)state;
    picking_make(&t);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1005", 0, "rang", &err), &err);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1003", 0, "rang", &err), &err);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    if (sqlite3_exec(raw, words, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(raw));
    assert_int_equal(
        sqlite3_exec(
            raw,
            "UPDATE orders SET email = 'word.of.1005@example.org', replaces = (SELECT id FROM orders "
            "WHERE number = '1005') WHERE number = '1003'",
            NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    int others = texts_with(t.path, "word of 1002"), all = texts_with(t.path, "word of");
    assert_int_equal(others, 12);
    assert_int_equal(texts_with(t.path, "word of 1005"), others);
    cw_check_ok(cw_forgetting(t.n, &t.who, &(cw_forget_ask){ .customer = "1005" }, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "word of 1005") + texts_with(t.path, "word.of.1005"), 0);
    assert_int_equal(texts_with(t.path, "word of 1003"), 0); /* what replaced it is the same person's */
    assert_int_equal(texts_with(t.path, "word of"), all - 2 * others);
    rows_are(&t, "SELECT why FROM claim WHERE order_id = (SELECT id FROM orders WHERE number = '1005')",
             "removed\n");
    test_nursery_free(&t);
}

/* What a buyer says of divisions that failed, and what the office answers, are words about that person. */
static void test_words_of_claims(void **state)
{
    const cw_forget_ask ask = { .customer = "1002" };
    const cw_claim_ask claim = {
        "1002", 1, 1, "zqx found it soft", "refused", NULL, "zqx planted too early"
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char outcome[16];
    int64_t rest = 0, id = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "key-1002", pick_of(&t, "1002", 1), 3, NULL, outcome);
    cw_packing_count count = { .count = 3, .weight_g = 500 };
    int64_t parcel = parcel_of(&t, "1002");
    cw_check_ok(cw_packing_pack(t.n, &t.who, parcel, &count, &err), &err);
    cw_packing_sent road = { "road", "T-1", false, t.who.today };
    cw_check_ok(cw_packing_ship(t.n, &t.who, parcel, &road, &rest, &err), &err);
    cw_check_ok(cw_claims_add(t.n, &t.who, &claim, &id, &err), &err);
    assert_true(texts_with(t.path, "zqx") >= 2);
    cw_check_ok(cw_forgetting(t.n, &t.who, &ask, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "zqx"), 0);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM claim"), 1); /* what became of the goods stays */
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Order 1002 has left under T-7, a second box under T-8, and one division of it is claimed. */
static int64_t sent_and_claimed(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    char outcome[16];
    int64_t rest = 0, id = 0;
    picking_make(t);
    wave_make(t);
    answer(t, "Marta", "key-1002", pick_of(t, "1002", 1), 3, NULL, outcome);
    int64_t parcel = parcel_of(t, "1002");
    cw_check_ok(
        cw_packing_pack(t->n, &t->who, parcel, &(cw_packing_count){ .count = 3, .weight_g = 500 }, &err),
        &err);
    cw_check_ok(cw_packing_ship(t->n, &t->who, parcel,
                                &(cw_packing_sent){ "road", "T-7", .on = t->who.today, .more = "T-8" }, &rest,
                                &err),
                &err);
    cw_check_ok(cw_claims_add(t->n, &t->who,
                              &(cw_claim_ask){ .order = "1002", .line = 1, .quantity = 1, .why = "soft" },
                              &id, &err),
                &err);
    return id;
}

/* A parcel's number leads to a person at the carrier's. It stays while the carrier may have to be asked, and then goes by itself. */
static void test_numbers_wait_for_claims(void **state)
{
    const cw_forget_ask ask = { .customer = "1002" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    int64_t claim = sent_and_claimed(&t);
    cw_check_ok(cw_forgetting(t.n, &t.who, &ask, &out, &err), &err);
    cw_table_free(&out);
    rows_are(&t, "SELECT tracking FROM parcel WHERE state = 'shipped' UNION ALL SELECT tracking FROM box",
             "T-7\nT-8\n");
    cw_check_ok(cw_forgetting_wipe(t.n, t.who.now, &err), &err);
    cw_check_ok(cw_claims_answer(t.n, &t.who, claim, "refused", NULL, "planted too early", &err), &err);
    assert_int_equal(texts_with(t.path, "T-7"), 0);
    assert_int_equal(texts_with(t.path, "T-8"), 0);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* The claim of somebody who is still on record takes nothing away, whatever its words are. */
static void test_numbers_of_others_stay(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    (void)state;
    int64_t claim = sent_and_claimed(&t);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "UPDATE claim SET why = 'removed'", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_claims_answer(t.n, &t.who, claim, "refused", NULL, "planted too early", &err), &err);
    rows_are(&t, "SELECT tracking FROM parcel WHERE state = 'shipped' UNION ALL SELECT tracking FROM box",
             "T-7\nT-8\n");
    test_nursery_free(&t);
}

/* What a shop was told of the order is as it is now: that the number is gone is no news. What it has yet to hear, it hears. */
static void test_no_news_for_a_shop(void **state)
{
    static const char told[] =
        "SELECT name, said = '', said = (SELECT s.said FROM shop_order s WHERE s.name = t.name) FROM "
        "shop_told t ORDER BY name";
    const cw_forget_ask one = { .customer = "1002" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    sqlite3 *raw = NULL;
    (void)state;
    int64_t claim = sent_and_claimed(&t);
    cw_check_ok(cw_claims_answer(t.n, &t.who, claim, "refused", NULL, "planted too early", &err), &err);
    for (int stale = 0; stale < 2; stale++) {
        assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
        assert_int_equal(
            sqlite3_exec(
                raw,
                stale
                    ? "UPDATE shop_told SET said = 'open T-7'; UPDATE parcel SET tracking = 'T-7' WHERE "
                      "state = 'shipped'"
                    : "INSERT INTO shop_told SELECT 'order', name, said FROM shop_order WHERE name = '1002'",
                NULL, NULL, NULL),
            SQLITE_OK);
        sqlite3_close(raw);
        cw_check_ok(cw_forgetting(t.n, &t.who, &one, &out, &err), &err);
        cw_table_free(&out);
        rows_are(&t, told, stale ? "1002|1|0\n" : "1002|0|1\n");
        assert_int_equal(texts_with(t.path, "T-7"), 0);
    }
    test_nursery_free(&t);
}

static void test_look_then_do(void **state)
{
    static const char *const numbers[] = { "A1", "A2", "A3", "B1" };
    const cw_forget_ask name = { .customer = "Fern Amblow" },
                        other = { .customer = "Fern Amblow", .postcode = "99999" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_revision before, after;
    char orders[64];
    (void)state;
    test_nursery_make(&t);
    load_namesakes(&t);
    for (size_t i = 0; i < 4; i++)
        cw_check_ok(cw_ordering_cancel(t.n, &t.who, numbers[i], 0, "Fern rang", &err), &err);
    cw_check_ok(cw_nursery_revision(t.n, &before, &err), &err);
    cw_check_ok(cw_forgetting_preview(t.n, &t.who, &other, &out, &err), &err);
    assert_string_equal(cw_table_text(&out, 0, 2), "Fern Amblow");
    assert_true(cw_table_int(&out, 0, 5) > 0); /* "Fern rang" */
    cw_table_free(&out);
    cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
    assert_int_equal(before.trade, after.trade);
    int all = texts_with(t.path, "fern");
    assert_int_equal(cw_forgetting(t.n, &t.who, &name, &out, &err), CW_CONFLICT);
    list_orders(&out, orders);
    assert_string_equal(orders, "A1 A2 A3 B1"); /* told, so that the asker can name one of them */
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "fern"), all);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_forgetting(t.n, &t.who, &other, &out, &err), &err);
    list_orders(&out, orders);
    assert_string_equal(orders, "B1");
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "99999"), 0);
    assert_true(texts_with(t.path, "fern@example.org") > 0);
    assert_true(texts_with(t.path, "tess@example.org") > 0);
    test_nursery_check(&t); /* chain, ledger, foreign keys, balances */
    test_nursery_free(&t);
}

/* Retention: who bought last before a day, and has nothing open, goes; by person, not by order. */
static void load_summer(test_nursery *t)
{
    static const char orders[] =
        "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,country\n"
        "A1,2031-07-05T10:00:00Z,1,BALL,2,5.00,Fern Amblow,fern@example.org,54321,US\n"
        "A2,2031-09-06T10:00:00Z,1,BALL,3,5.00,Fern Amblow,FERN@example.org,60601,US\n"
        "A3,2031-05-06T11:00:00Z,1,BALL,1,5.00,fern amblow,,54 321,US\n"
        "B1,2031-05-06T12:00:00Z,1,BALL,1,5.00,Fern Amblow,,99999,US\n"
        "C1,2031-05-06T12:00:00Z,1,BALL,1,5.00,Tess Zeldon,tess@example.org,12345,US\n"
        "C2,2031-05-20T12:00:00Z,1,BALL,1,5.00,Tess Zeldon,tess@example.org,12345,US\n"
        "D1,2031-08-31T23:59:59Z,1,BALL,1,5.00,Ilse Quorn,ilse@example.org,22222,US\n"
        "E1,2031-09-01T00:00:00Z,1,BALL,1,5.00,Otto Varn,otto@example.org,33333,US\n";
    static const char *const cancelled[] = { "A1", "A2", "A3", "B1", "C1", "D1", "E1" };
    cw_error err = CW_ERROR_NONE;
    load(t, orders);
    for (size_t i = 0; i < sizeof cancelled / sizeof cancelled[0]; i++)
        cw_check_ok(cw_ordering_cancel(t->n, &t->who, cancelled[i], 0, "too late", &err), &err);
}

static void test_out_of_date(void **state)
{
    static const struct {
        const char *name, *before, *orders;
    } rows[] = {
        { "nobody is so old", "2031-05-01", "" },
        { "without e-mail, another postcode", "2031-06-01", "B1" },
        { "the second before the day", "2031-09-01", "B1 D1" },
        { "a later order keeps the one before it", "2031-09-06", "B1 D1 E1" },
        { "and goes with it", "2031-09-07", "A1 A2 A3 B1 D1 E1" }, /* C has an open order */
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char orders[64];
    (void)state;
    test_nursery_make(&t);
    load_summer(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_forget_ask ask = { .before = CW_NO_DAY };
        assert_true(cw_day_parse(rows[i].before, strlen(rows[i].before), &ask.before));
        cw_check_ok(cw_forgetting_preview(t.n, &t.who, &ask, &out, &err), &err);
        list_orders(&out, orders);
        if (strcmp(orders, rows[i].orders) != 0)
            fail_msg("%s: %s", rows[i].name, orders);
        cw_table_free(&out);
    }
    cw_forget_ask late = { .before = t.who.today + 1 }, last = { .before = t.who.today };
    assert_int_equal(cw_forgetting(t.n, &t.who, &late, &out, &err), CW_REFUSED);
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_forgetting(t.n, &t.who, &last, &out, &err), &err);
    list_orders(&out, orders);
    assert_string_equal(orders, "A1 A2 A3 B1 D1 E1");
    cw_table_free(&out);
    assert_int_equal(texts_with(t.path, "fern"), 0);
    assert_int_equal(texts_with(t.path, "otto"), 0);
    assert_true(texts_with(t.path, "tess@example.org") > 0);
    cw_check_ok(cw_forgetting(t.n, &t.who, &last, &out, &err),
                &err); /* again: nobody is left, and that is no error */
    assert_int_equal(cw_table_rows(&out), 0);
    cw_table_free(&out);
    test_nursery_check(&t); /* chain, ledger, foreign keys, balances */
    test_nursery_free(&t);
}

/* One order more than can be taken out at once: refused, and nobody is told half of them. */
static void test_too_many_at_once(void **state)
{
    enum { MANY = 10001 };
    test_nursery t;
    cw_text orders = CW_TEXT(4 << 20);
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    const cw_forget_ask fern = { .customer = "fern@example.org" };
    (void)state;
    test_nursery_make(&t);
    cw_text_addf(&orders, "order,received_at,line,variety,quantity,unit_price,customer,email\n");
    for (int i = 0; i < MANY; i++)
        cw_text_addf(&orders, "%d,2032-01-05T10:00:00Z,1,BALL,1,5.00,Fern Amblow,fern@example.org\n", i);
    load(&t, orders.data);
    assert_int_equal(cw_forgetting_preview(t.n, &t.who, &fern, &out, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "more than 10000 orders fit"));
    cw_table_free(&out);
    cw_text_free(&orders);
    test_nursery_free(&t);
}

/* What is open keeps a person, and ledger and totals stay as they were. */
static void test_nothing_open_is_lost(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    picking_make(&t);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1005", 0, "rang", &err), &err);
    int64_t moved = number_of(&t, "SELECT COUNT(*) * 1000003 + SUM(clumps * 7 + divisions) FROM movement");
    int64_t money = number_of(&t, "SELECT SUM(quantity * unit_price) FROM line");
    int64_t open = number_of(&t, "SELECT COUNT(*) FROM orders WHERE state = 'open'");
    cw_asker later = t.who;
    later.today += 400;
    later.now += 400 * CW_DAY_MS;
    const cw_forget_ask all = { .before = later.today };
    cw_check_ok(cw_forgetting(t.n, &later, &all, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    assert_string_equal(cw_table_text(&out, 0, 0), "1005");
    cw_table_free(&out);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM orders WHERE state = 'open' AND customer IS NOT NULL"), open);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) * 1000003 + SUM(clumps * 7 + divisions) FROM movement"),
                     moved);
    assert_int_equal(number_of(&t, "SELECT SUM(quantity * unit_price) FROM line"), money);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_forget),
                                        cmocka_unit_test(test_who_is_meant),
                                        cmocka_unit_test(test_look_then_do),
                                        cmocka_unit_test(test_kept_answers),
                                        cmocka_unit_test(test_free_words),
                                        cmocka_unit_test(test_words_of_others_stay),
                                        cmocka_unit_test(test_words_of_claims),
                                        cmocka_unit_test(test_numbers_wait_for_claims),
                                        cmocka_unit_test(test_numbers_of_others_stay),
                                        cmocka_unit_test(test_no_news_for_a_shop),
                                        cmocka_unit_test(test_out_of_date),
                                        cmocka_unit_test(test_too_many_at_once),
                                        cmocka_unit_test(test_nothing_open_is_lost) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
