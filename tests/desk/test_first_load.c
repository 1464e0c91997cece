/* SPDX-License-Identifier: MIT */
#include "support/intake.h"

#include "base/digest.h"
#include "store/bulk.h"
#include "store/db_inside.h"

#include "base/banned.h"

/* A first load of orders goes another way (store/bulk.h): indexes and parents at its end, no question after orders that cannot be on
 * record. What stands in the file afterwards is the same to the last byte. */

#define ORDERS 6000
#define HEAD                                                                                                 \
    "order,received_at,line,variety,quantity,unit_price,channel,tier,customer,email,postcode,country,"       \
    "consent,named,all_or_none,"                                                                             \
    "assortment\n"

static void add_order(cw_text *csv, int o)
{
    for (int line = 1; line <= 1 + o % 4; line++) {
        bool mixed = (o + line) % 9 == 0, named = (o + line) % 5 == 0;
        cw_text_addf(
            csv,
            "%06d,2032-01-%02dT10:%02d:00Z,%d,%s,%d,6.50,%s,retail,Buyer %d of Nowhere,b%d@example.org,"
            "%05d,US,%s,%s,%d,%s\n",
            o, 5 + o / 60 % 20, o % 60, line,
            mixed            ? ""
            : (o + line) % 3 ? "AMB"
                             : "BRI",
            1 + (o * line) % 5, o % 7 ? "web" : "", o * 37 % 5000, o * 37 % 5000, o * 91 % 99999,
            named   ? "named"
            : o % 2 ? "none"
                    : "same",
            named ? "BRI AMB" : "", line == 2, mixed ? "colour=pink form=ball" : "");
    }
}

/* All of it, with one order whose lines stand apart. */
static void add_all(cw_text *csv)
{
    cw_text_add(csv, HEAD);
    for (int o = 1; o <= ORDERS; o++)
        add_order(csv, o);
    cw_text_add(csv,
                "000002,2032-01-05T10:02:00Z,9,AMB,2,6.50,web,retail,Buyer 74 of Nowhere,b74@example.org,"
                "00182,US,same,,0,\n");
}

static loaded load_text(test_nursery *t, const cw_text *csv)
{
    return load_one(t, "orders.csv", csv->data);
}

/* Tables and indexes, as the file's pages give them: orders, lines, what is sold, and what the indexes say. */
static void content(test_nursery *t, char out[65])
{
    static const char *const asked[] = {
        "SELECT * FROM orders ORDER BY id",
        "SELECT * FROM line ORDER BY id",
        "SELECT * FROM offering ORDER BY variety_id",
        "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name",
        "SELECT variety_id, id FROM line INDEXED BY line_by_variety WHERE variety_id > 0 ORDER BY "
        "variety_id, id",
        "SELECT id FROM orders INDEXED BY orders_by_email WHERE lower(trim(email)) > '' ORDER BY "
        "lower(trim(email)), id",
        "SELECT id FROM orders INDEXED BY orders_to_find ORDER BY received_at, id",
    };
    cw_digest all;
    cw_digest_init(&all);
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++) {
        sqlite3_stmt *s = NULL;
        assert_int_equal(sqlite3_prepare_v2(t->n->db->raw, asked[i], -1, &s, NULL), SQLITE_OK);
        while (sqlite3_step(s) == SQLITE_ROW)
            for (int c = 0; c < sqlite3_column_count(s); c++) {
                const char *text = (const char *)sqlite3_column_text(s, c);
                cw_digest_add_int(&all, sqlite3_column_type(s, c));
                cw_digest_add_text(&all, text ? text : "");
            }
        sqlite3_finalize(s);
    }
    cw_digest_end(&all, out);
}

static void a_first_load_leaves_what_any_load_leaves(void **state)
{
    test_nursery a, b;
    char at_once[65], after_one[65];
    cw_text csv = CW_TEXT((size_t)8 << 20), one = CW_TEXT(4096);
    (void)state;
    add_all(&csv);
    cw_text_add(&one, HEAD);
    add_order(&one, 1);
    assert_true(csv.length > (1 << 20)); /* from here on a first load goes its own way */
    test_nursery_make(&a);
    test_nursery_make(&b);
    ok(load_one(&a, "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n"));
    ok(load_one(&b, "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n"));
    loaded l = load_text(&a, &csv);
    ok(l);
    assert_int_equal(l.made, ORDERS / 4 * (1 + 2 + 3 + 4) + 1);
    ok(load_text(&b, &one));
    loaded rest = load_text(&b, &csv);
    ok(rest);
    assert_int_equal(rest.unchanged, 2);
    content(&a, at_once);
    content(&b, after_one);
    assert_string_equal(at_once, after_one);
    test_nursery_check(&a);
    /* And once more: nothing is new, nothing is changed. */
    loaded again = load_text(&a, &csv);
    ok(again);
    assert_int_equal(again.unchanged, l.made);
    content(&a, after_one);
    assert_string_equal(at_once, after_one);
    cw_text_free(&csv);
    cw_text_free(&one);
    test_nursery_free(&a);
    test_nursery_free(&b);
}

/* Loads the text on so many threads; what was said of each row that was refused becomes `said`. */
static cw_code load_on(test_nursery *t, const cw_text *csv, unsigned threads, cw_text *said, cw_error *err)
{
    cw_error_list errors = { NULL, 0, 0 };
    cw_intake_file f = { .name = "orders.csv", .bytes = csv->data, .length = csv->length };
    cw_intake_options o = { .threads = threads };
    cw_table answer;
    cw_code code = cw_intake_load(t->n, &t->who, &f, 1, &o, &answer, &errors, err);
    for (size_t i = 0; i < errors.kept; i++) {
        char line[1600];
        cw_error_line(&errors.items[i], line, sizeof line);
        cw_text_addf(said, "%s\n", line);
    }
    cw_text_addf(said, "%ld refused\n", errors.count);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    return code;
}

static void with_two_varieties(test_nursery *t)
{
    test_nursery_make(t);
    ok(load_one(t, "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n"));
}

/* A thread of its own writes while the next rows are read, unless there is but one: to the same rows. */
static void a_first_load_is_the_same_on_any_number_of_threads(void **state)
{
    char content_of[3][65];
    cw_text csv = CW_TEXT((size_t)8 << 20);
    (void)state;
    add_all(&csv);
    for (unsigned threads = 1; threads <= 3; threads++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_text said = CW_TEXT(1 << 20);
        with_two_varieties(&t);
        cw_check_ok(load_on(&t, &csv, threads, &said, &err), &err);
        assert_string_equal(said.data, "0 refused\n");
        content(&t, content_of[threads - 1]);
        assert_string_equal(content_of[threads - 1], content_of[0]);
        test_nursery_check(&t);
        cw_text_free(&said);
        test_nursery_free(&t);
    }
    cw_text_free(&csv);
}

/* What is wrong with a messy file is said in the file's order, in the same words, whoever writes meanwhile, and as of a file that is
 * not the first. */
static void what_is_wrong_with_a_first_load_is_said_as_ever(void **state)
{
    cw_text csv = CW_TEXT((size_t)8 << 20), one = CW_TEXT(4096), said[3];
    (void)state;
    cw_text_add(&csv, HEAD);
    cw_text_add(&one, HEAD);
    add_order(&one, ORDERS + 1);
    for (int o = 1; o <= ORDERS; o++) {
        add_order(&csv, o);
        if (o % 500 == 0)
            cw_text_addf(
                &csv,
                "%06d,2032-01-05T10:00:00Z,1,NIX,x,6.50,web,retail,A,a,1,US,named,,0,\n"
                "%06d,2032-01-05T10:00:00Z,1,AMB,2,6.50,shop,retail,Somebody,b@example.org,1,US,same,,0,\n"
                "torn\"row,1\n"
                "%06d,2032-01-05T10:00:00Z,99,NIX,2,6.50,web,retail,A,a@example.org,1,US,same,,0,\n",
                o, o - 250, 900000 + o);
    }
    assert_true(csv.length > (1 << 20));
    for (unsigned i = 0; i < 3; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        said[i] = CW_TEXT(1 << 20);
        with_two_varieties(&t);
        if (i == 2)
            ok(load_text(&t, &one));
        assert_int_equal(load_on(&t, &csv, i + 1, &said[i], &err), CW_REFUSED);
        assert_string_equal(said[i].data, said[0].data);
        assert_non_null(strstr(said[i].data, "there is no variety of this code: NIX"));
        assert_non_null(strstr(said[i].data, "stands twice in the file, first on line"));
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
    for (unsigned i = 0; i < 3; i++)
        cw_text_free(&said[i]);
    cw_text_free(&csv);
    cw_text_free(&one);
}

static int run(test_nursery *t, const char *sql)
{
    return sqlite3_exec(t->n->db->raw, sql, NULL, NULL, NULL);
}

/* Parents are looked for at the end: a row without one does not get through, and from then on each row is looked at again. */
static void a_row_without_its_parent_stops_a_first_load(void **state)
{
    static const char *const orphans[] = {
        "INSERT INTO line (order_id, line, variety_id, quantity, unit_price) VALUES (1, 1, 99, 1, 100)",
        "INSERT INTO line (order_id, line, assortment, quantity, unit_price) VALUES (77, 1, 'form=ball', 1, "
        "100)",
        "INSERT INTO orders (number, received_at, replaces) VALUES ('2', 0, 55)",
    };
    (void)state;
    for (size_t i = 0; i <= sizeof orphans / sizeof orphans[0]; i++) {
        const char *orphan = i < sizeof orphans / sizeof orphans[0] ? orphans[i] : NULL;
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_bulk *bulk = NULL;
        test_nursery_make(&t);
        cw_check_ok(cw_db_begin(t.n->db, &err), &err);
        cw_check_ok(cw_bulk_begin(t.n->db, &bulk, &err), &err);
        assert_int_equal(run(&t, "INSERT INTO orders (number, received_at) VALUES ('1', 0)"), SQLITE_OK);
        if (orphan)
            assert_int_equal(run(&t, orphan), SQLITE_OK);
        assert_int_equal(cw_bulk_end(t.n->db, bulk, &err), orphan ? CW_CONFLICT : CW_OK);
        for (size_t k = 0; k < sizeof orphans / sizeof orphans[0]; k++)
            assert_int_equal(run(&t, orphans[k]) & 0xFF, SQLITE_CONSTRAINT);
        cw_db_rollback(t.n->db);
        test_nursery_free(&t);
    }
}

/* Given up in the middle, too. */
static void parents_are_looked_for_after_a_load_that_failed(void **state)
{
    test_nursery t;
    cw_text csv = CW_TEXT((size_t)8 << 20);
    (void)state;
    test_nursery_make(&t);
    ok(load_one(&t, "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n"));
    add_all(&csv);
    cw_text_add(&csv, "000001,2032-01-05T10:01:00Z,8,AMB,2,6.50,web,retail,Somebody "
                      "Else,b37@example.org,00091,US,none,,0,\n");
    loaded l = load_text(&t, &csv);
    assert_true(l.code != CW_OK);
    assert_int_equal(run(&t, "INSERT INTO line (order_id, line, assortment, quantity, unit_price) VALUES "
                             "(77, 1, 'x', 1, 100)") &
                         0xFF,
                     SQLITE_CONSTRAINT);
    cw_text_free(&csv);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static int64_t rows_of(test_nursery *t, const char *sql)
{
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_prepare_v2(t->n->db->raw, sql, -1, &s, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t n = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return n;
}

/* What the database refuses to the thread that writes is told by the load, at an order and at a line in the middle, at the last row,
 * and where an order is not numbered as it must be; and nothing of it stays. */
static void what_cannot_be_written_stops_a_first_load(void **state)
{
    static const char *const troubles[] = {
        "CREATE TEMP TRIGGER no BEFORE INSERT ON orders WHEN NEW.number = '003000' BEGIN SELECT RAISE(ABORT, "
        "'no more'); END",
        "CREATE TEMP TRIGGER no BEFORE INSERT ON line WHEN NEW.order_id = 3000 BEGIN SELECT RAISE(ABORT, 'no "
        "more'); END",
        "CREATE TEMP TRIGGER no BEFORE INSERT ON line WHEN NEW.order_id = 2 AND NEW.line = 9 BEGIN SELECT "
        "RAISE(ABORT, 'no more'); END",
        "CREATE TEMP TRIGGER no AFTER INSERT ON orders WHEN NEW.number = '003000' BEGIN UPDATE orders SET id "
        "= "
        "7777 WHERE number = '003000'; END",
    };
    static const char there[] = "SELECT (SELECT COUNT(*) FROM orders) + (SELECT COUNT(*) FROM line)";
    cw_text csv = CW_TEXT((size_t)8 << 20);
    (void)state;
    add_all(&csv);
    for (size_t i = 0; i < 2 * sizeof troubles / sizeof troubles[0]; i++) {
        test_nursery t;
        cw_error err = CW_ERROR_NONE;
        cw_text said = CW_TEXT(1 << 20);
        bool moved = i / 2 == 3;
        with_two_varieties(&t);
        assert_int_equal(run(&t, troubles[i / 2]), SQLITE_OK);
        cw_code code = load_on(&t, &csv, 1 + i % 2, &said, &err);
        assert_int_equal(code, moved ? CW_MACHINE : CW_CONFLICT);
        assert_string_equal(err.text,
                            moved ? "orders are not numbered in turn: 7778 instead of 3001" : "no more");
        assert_int_equal(rows_of(&t, there), 0);
        assert_int_equal(run(&t, "DROP TRIGGER no"), SQLITE_OK);
        test_nursery_check(&t);
        cw_check_ok(load_on(&t, &csv, 2, &said, &err), &err);
        cw_text_free(&said);
        test_nursery_free(&t);
    }
    cw_text_free(&csv);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_first_load_leaves_what_any_load_leaves),
        cmocka_unit_test(a_row_without_its_parent_stops_a_first_load),
        cmocka_unit_test(parents_are_looked_for_after_a_load_that_failed),
        cmocka_unit_test(a_first_load_is_the_same_on_any_number_of_threads),
        cmocka_unit_test(what_is_wrong_with_a_first_load_is_said_as_ever),
        cmocka_unit_test(what_cannot_be_written_stops_a_first_load),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
