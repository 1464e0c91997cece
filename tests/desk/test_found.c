/* SPDX-License-Identifier: MIT */
#include "support/nursery.h"

#include "base/rng.h"
#include "store/db_inside.h"

#include "base/banned.h"

/* What is found by a shorter way is what the long way finds: a text within others, and the orders that go where nothing may be sent. */

static void run(test_nursery *t, const char *sql)
{
    if (sqlite3_exec(t->n->db->raw, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(t->n->db->raw));
}

static int64_t number_of(test_nursery *t, const char *sql)
{
    sqlite3_stmt *s = NULL;
    if (sqlite3_prepare_v2(t->n->db->raw, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(t->n->db->raw));
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t v = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return v;
}

/* Byte by byte, letters a to z without regard to their case. */
static bool plainly_in(const char *what, const char *in)
{
    size_t n = strlen(what), m = strlen(in);
    for (size_t i = 0; i + n <= m; i++) {
        size_t k = 0;
        while (k < n &&
               (in[i + k] == what[k] || ((what[k] | 32) >= 'a' && (what[k] | 32) <= 'z' &&
                                         (in[i + k] | 32) == (what[k] | 32) && (in[i + k] & 0x80) == 0)))
            k++;
        if (k == n)
            return true;
    }
    return false;
}

/* Of few letters, so that much nearly fits. */
static void draw(cw_rng *r, char *out, size_t most)
{
    static const char *const pieces[] = { "a", "A", "b", "B", "z", "[", "@", "\xC3\xA9", " ", "ab" };
    size_t n = cw_rng_below(r, (uint32_t)most + 1);
    for (out[0] = '\0'; n > 0; n--)
        out += snprintf(out, 4, "%s", pieces[cw_rng_below(r, 10)]);
}

static void a_text_is_found_where_it_stands(void **state)
{
    test_nursery t;
    cw_rng r;
    sqlite3_stmt *s = NULL;
    int found = 0;
    (void)state;
    test_nursery_make(&t);
    cw_rng_init(&r, 37, 0);
    assert_int_equal(sqlite3_prepare_v2(t.n->db->raw, "SELECT has_text(?1, ?2, ?3)", -1, &s, NULL),
                     SQLITE_OK);
    for (int i = 0; i < 20000; i++) {
        char what[32], one[64], two[64];
        draw(&r, what, 5);
        draw(&r, one, 12);
        draw(&r, two, 12);
        sqlite3_bind_text(s, 1, what, -1, SQLITE_STATIC);
        sqlite3_bind_text(s, 2, one, -1, SQLITE_STATIC);
        sqlite3_bind_text(s, 3, i % 3 ? two : NULL, -1, SQLITE_STATIC);
        assert_int_equal(sqlite3_step(s), SQLITE_ROW);
        bool is = sqlite3_column_int(s, 0) != 0;
        if (is != (plainly_in(what, one) || (i % 3 && plainly_in(what, two))))
            fail_msg("%s in %s or %s: %d", what, one, two, is);
        found += is;
        sqlite3_reset(s);
    }
    sqlite3_finalize(s);
    assert_in_range(found, 4000, 16000);
    test_nursery_free(&t);
}

/* Every country, spelled well and not, with every region, also in other letters and with blanks, under each set of rules; some
 * let through by hand. */
static void blocked_orders_are_those_whose_destination_is(void **state)
{
    static const char *const rules[] = {
        "DELETE FROM destination",
        "INSERT INTO destination (country, region, rule) VALUES ('AU', '', 'block')",
        "INSERT INTO destination (country, region, rule) VALUES ('US', 'HI', 'block'), ('US', '', 'allow')",
        "INSERT INTO destination (country, region, rule) VALUES ('CA', '', 'block'), ('CA', 'BC', 'allow')",
        "INSERT INTO destination (country, region, rule) VALUES ('US', 'hi', 'warn'), ('NZ', 'BC', 'block')",
        "DELETE FROM destination WHERE region = ''",
        "INSERT INTO destination_overruled (order_id, country, region, at, actor, why) "
        "SELECT id, country, COALESCE(region, ''), 0, 'x', 'asked' FROM orders WHERE id % 5 = 0 AND country "
        "IS NOT NULL",
    };
    test_nursery t;
    int64_t most = 0;
    (void)state;
    test_nursery_make(&t);
    run(&t, "WITH c (country) AS (VALUES ('AU'), ('US'), ('CA'), ('NZ'), ('Nowhere'), ('us'), (NULL)),"
            " r (region) AS (VALUES (NULL), (''), ('HI'), (' hi'), ('Hi '), ('BC'), ('bc'), ('  '), ('AK')), "
            " twice (k) AS (VALUES (1), (2))"
            "INSERT INTO orders (number, received_at, country, region) "
            "SELECT printf('%d', row_number() OVER ()), 0, country, region FROM c, r, twice");
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
        run(&t, rules[i]);
        int64_t differ = number_of(&t, "WITH plain AS (SELECT order_id, country, region, note FROM "
                                       "order_destination WHERE country IS NOT NULL AND "
                                       "rule = 'block' AND NOT overruled) SELECT (SELECT COUNT(*) FROM "
                                       "(SELECT * FROM plain EXCEPT SELECT * FROM "
                                       "blocked_order)) + (SELECT COUNT(*) FROM (SELECT * FROM blocked_order "
                                       "EXCEPT SELECT * FROM plain))");
        int64_t blocked = number_of(&t, "SELECT COUNT(*) FROM blocked_order");
        print_message("%lld blocked\n", (long long)blocked);
        assert_int_equal(differ, 0);
        most = blocked > most ? blocked : most;
    }
    assert_true(most > 60);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(a_text_is_found_where_it_stands),
                                        cmocka_unit_test(blocked_orders_are_those_whose_destination_is) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
