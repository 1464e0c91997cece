/* SPDX-License-Identifier: MIT */
/* Each text that hangs on an order is thought of: it goes with the person, or it is named here as one that tells of nobody. The list
 * is made by the schema, so that a table or a column that comes later fails here by name. OWASP ASVS 4.0.3: 8.3.2, 8.3.4. */
#include "support/full.h"

#include "store/forgetting.h"

#include "base/banned.h"

/* Tables that lead to orders by their foreign keys, over however many steps, and their texts. */
#define TEXTS                                                                                                \
    "WITH RECURSIVE hang(t) AS (SELECT 'orders' UNION SELECT m.name FROM hang h, sqlite_schema m, "          \
    "pragma_foreign_key_list(m.name) f WHERE m.type = 'table' AND f.\"table\" = h.t) "                       \
    "SELECT h.t, p.name FROM hang h, pragma_table_info(h.t) p WHERE p.type = 'TEXT' ORDER BY 1, 2"

/* A parcel's number stays while a claim of the order is open. */
#define UNCLAIMED                                                                                            \
    "parcel_id IN (SELECT p.id FROM parcel p WHERE p.order_id NOT IN (SELECT c.order_id FROM claim c WHERE " \
    "c.answer = 'open'))"

/* Events that say what was corrected, or under which number a parcel left. */
#define NUMBERED "kind IN ('corrected', 'shipped', 'parcel put right', 'parcel not left')"

/* What goes: how it is marked, and of which rows. */
static const struct gone {
    const char *table, *column, *mark, *where;
} gone[] = {
    { "box", "tracking", "'zqx'", UNCLAIMED },
    { "brought_parcel", "more", "'zqx'", UNCLAIMED },
    { "brought_parcel", "said", "'zqx'", UNCLAIMED },
    { "brought_parcel", "tracking", "'zqx'", UNCLAIMED },
    { "claim", "reply", "'zqx'", "1" },
    { "claim", "why", "'zqx'", "1" },
    { "corrected", "first", "'zqx'", "1" },
    { "destination_overruled", "why", "'zqx'", "1" },
    { "forbidden", "why", "'zqx'", "1" },
    { "frost_hold", "why", "'zqx'", "order_id IS NOT NULL" },
    { "frost_overruled", "why", "'zqx'", "1" },
    { "notice", "detail",
      "'{\"customer\":\"zqx\",\"email\":\"zqx\",\"postcode\":\"zqx\",\"street\":\"zqx\",\"town\":\"zqx\","
      "\"phone\":\"zqx\",\"name\":\"zqx\",\"to\":\"zqx\",\"reason\":\"zqx\"}'",
      "1" },
    { "notice", "evidence", "'zqx'", "1" },
    { "order_event", "after", "'zqx'", NUMBERED },
    { "order_event", "before", "'zqx'", NUMBERED },
    { "order_event", "note", "'zqx'", "1" },
    { "orders", "customer", "'zqx'", "1" },
    { "orders", "email", "'zqx@example.org'", "1" },
    { "orders", "name2", "'zqx'", "1" },
    { "orders", "phone", "'zqx'", "1" },
    { "orders", "postcode", "'ZQX'", "1" },
    { "orders", "street", "'zqx'", "1" },
    { "orders", "town", "'zqx'", "1" },
    { "outbox", "body",
      "json_object('type', 'changed', 'data', json_object('orders', json_array(json_object('order', (SELECT "
      "o.number FROM orders o WHERE o.id NOT IN "
      "(SELECT c.order_id FROM claim c WHERE c.answer = 'open') ORDER BY o.id LIMIT 1), 'parcels', "
      "json_array(json_object('tracking', 'zqx'))))))",
      "kind = 'hook'" },
    { "outbox", "words", "'zqx'", "notice_id IS NOT NULL" },
    { "parcel", "tracking", "'zqx'",
      "order_id NOT IN (SELECT c.order_id FROM claim c WHERE c.answer = 'open')" },
    { "taken_back", "why", "'zqx'", "1" },
};

/* What stays: kinds and codes, who of the nursery did it, weeks and states. */
static const char *const stays[] = {
    "allocation.kind",
    "brought_parcel.carrier",
    "claim.actor",
    "claim.answer",
    "claim.answered_by",
    "corrected.field",
    "destination_overruled.actor",
    "destination_overruled.country",
    "destination_overruled.region",
    "forbidden.actor",
    "frost_hold.actor",
    "frost_hold.carrier",
    "frost_hold.country",
    "frost_hold.postcode_from",
    "frost_hold.postcode_to",
    "frost_hold.region",
    "frost_hold.zone",
    "frost_overruled.actor",
    "line.assortment",
    "line.consent",
    "line.named",
    "notice.actor",
    "notice.fact",
    "notice.kind",
    "notice.state",
    "order_event.actor",
    "order_event.kind",
    "orders.channel",
    "orders.country",
    "orders.language",
    "orders.number",
    "orders.region",
    "orders.state",
    "orders.tier",
    "orders.zone",
    "outbox.kind",
    "outbox.queued_by",
    "outbox.state",
    "parcel.carrier",
    "parcel.packed_by",
    "parcel.state",
    "pick.answered_by",
    "pick.short_reason",
    "pick.state",
    "put_back.actor",
    "put_back.because",
    "put_back.done_by",
    "run_before.kind",
    "taken_back.actor",
};

static bool thought_of(const char *table, const char *column)
{
    char name[100];
    snprintf(name, sizeof name, "%s.%s", table, column);
    for (size_t i = 0; i < sizeof gone / sizeof gone[0]; i++)
        if (strcmp(gone[i].table, table) == 0 && strcmp(gone[i].column, column) == 0)
            return true;
    for (size_t i = 0; i < sizeof stays / sizeof stays[0]; i++)
        if (strcmp(stays[i], name) == 0)
            return true;
    return false;
}

static void each_text_of_an_order_is_thought_of(void **state)
{
    test_nursery t;
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    size_t seen = 0;
    (void)state;
    test_nursery_make(&t);
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, TEXTS, -1, &s, NULL), SQLITE_OK);
    for (; sqlite3_step(s) == SQLITE_ROW; seen++) {
        const char *table = (const char *)sqlite3_column_text(s, 0),
                   *column = (const char *)sqlite3_column_text(s, 1);
        if (!thought_of(table, column))
            fail_msg("%s.%s: does it tell of the buyer? Then sql/queries/forgetting.sql; else name it here",
                     table, column);
    }
    sqlite3_finalize(s);
    sqlite3_close(raw);
    assert_int_equal(seen, sizeof gone / sizeof gone[0] + sizeof stays / sizeof stays[0]);
    test_nursery_free(&t);
}

/* The marked texts of one column; postcodes are written in capitals. */
static int64_t marked(test_nursery *t, const struct gone *g)
{
    char sql[300];
    snprintf(sql, sizeof sql, "SELECT COUNT(*) FROM %s WHERE lower(%s) LIKE '%%zqx%%'", g->table, g->column);
    return number_of(t, sql);
}

/* Each of those that go is marked in a nursery that has some of each, all orders are blanked, and no mark is left. */
static void what_tells_of_a_buyer_goes(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    char sql[600];
    (void)state;
    full_make(&t);
    assert_int_equal(sqlite3_open(t.path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(raw,
                     "INSERT INTO frost_hold (order_id, first_week, last_week, at, actor) SELECT MIN(id), "
                     "203216, 203217, 1, 'Olga' FROM orders;"
                     "INSERT INTO outbox (kind, body, next_at, queued_at, queued_by) VALUES ('hook', '{}', "
                     "1, 1, 'Olga');"
                     "INSERT INTO order_event (order_id, at, actor, kind) SELECT MIN(id), 1, 'Olga', "
                     "'corrected' FROM orders;",
                     NULL, NULL, NULL),
        SQLITE_OK);
    for (size_t i = 0; i < sizeof gone / sizeof gone[0]; i++) {
        snprintf(sql, sizeof sql, "UPDATE %s SET %s = %s WHERE %s", gone[i].table, gone[i].column,
                 gone[i].mark, gone[i].where);
        if (sqlite3_exec(raw, sql, NULL, NULL, NULL) != SQLITE_OK)
            fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
        if (marked(&t, &gone[i]) == 0)
            fail_msg("%s: no row of it here", sql);
    }
    sqlite3_close(raw);
    int64_t last = number_of(&t, "SELECT MAX(id) FROM orders");
    for (int64_t order = 1; order <= last; order++)
        cw_check_ok(cw_forgetting_blank(t.n->db, order, &err), &err);
    for (size_t i = 0; i < sizeof gone / sizeof gone[0]; i++)
        if (marked(&t, &gone[i]) > 0)
            fail_msg("%s.%s: still there", gone[i].table, gone[i].column);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(each_text_of_an_order_is_thought_of),
                                        cmocka_unit_test(what_tells_of_a_buyer_goes) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
