/* SPDX-License-Identifier: MIT */
/* Three seasons in three files, each made from the one before: what a lot came from, what came of it, and everybody who received of
 * it, in one list. Invented data; the lots of all three years bear the same code, and the variety's changes on the way. */
#include "support/intake.h"

#include "desk/cellar/cellar.h"
#include "desk/closing/closing.h"
#include "desk/nursery/past.h"
#include "desk/buyers/forgetting.h"
#include "desk/orders/notices.h"
#include "desk/stock/lineage.h"
#include "desk/stock/naming.h"
#include "desk/stock/tracing.h"
#include <sqlite3.h>

#include "base/banned.h"

typedef struct chain {
    test_nursery t; /* t.n is the newest file */
    char path[3][120];
} chain;

static void sql(const char *path, const char *text)
{
    sqlite3 *raw = NULL;
    char *why = NULL;
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_exec(raw, text, NULL, NULL, &why) != SQLITE_OK)
        fail_msg("%s", why);
    sqlite3_close(raw);
}

/* An order of one line, and a parcel that left with so many of the lot. */
static void send(test_nursery *t, const char *path, const char *order, const char *variety, const char *buyer,
                 const char *lot, int quantity)
{
    char text[2000], received[40];
    cw_day_format(t->who.today - 60, received);
    snprintf(text, sizeof text,
             "order,received_at,line,variety,quantity,unit_price,customer,email,country\n"
             "%s,%sT10:00:00Z,1,%s,%d,6.50,%s,%s@example.org,US\n",
             order, received, variety, quantity, buyer, buyer);
    must_load(t, "orders.csv", text);
    snprintf(
        text, sizeof text,
        "INSERT INTO wave (week, at, actor, state) VALUES (203210, 1, 't', 'closed');"
        "INSERT INTO stop (wave_id, stop, place_id) SELECT MAX(id), 1, 0 FROM wave;"
        "INSERT INTO parcel (wave_id, order_id, slot, state, shipped_on) SELECT (SELECT MAX(id) FROM wave), "
        "id, 1, "
        "'shipped', %d FROM orders WHERE number = '%s';"
        "INSERT INTO pick (wave_id, stop_id, parcel_id, line_id, variety_id, lot_id, quantity, state, taken) "
        "SELECT (SELECT MAX(id) FROM wave), (SELECT MAX(id) FROM stop), (SELECT MAX(id) FROM parcel), n.id, "
        "n.variety_id, l.id, %d, 'done', %d FROM line n JOIN orders o ON o.id = n.order_id, lot l "
        "WHERE o.number = '%s' AND l.code = '%s'; UPDATE orders SET state = 'shipped' WHERE number = '%s';"
        "INSERT INTO run (at, actor, what, rule, supply, digest, lines, placed) VALUES (1, 't', 'allocate', "
        "'first-come', 'counted', 'x', 1, 1);"
        "INSERT INTO allocation (line_id, variety_id, quantity, kind, run_id, reason) SELECT line_id, "
        "variety_id, "
        "taken, 'own', (SELECT MAX(id) FROM run), 1 FROM pick ORDER BY id DESC LIMIT 1;"
        "INSERT INTO movement (at, day, actor, lot_id, place_id, divisions, reason, cause, cause_id) SELECT "
        "1, %d, "
        "'t', lot_id, 0, -taken, 'picked', 'pick', id FROM pick ORDER BY id DESC LIMIT 1",
        (int)t->who.today, order, quantity, quantity, order, lot, order, (int)t->who.today);
    sql(path, text);
}

static void plant(test_nursery *t, const char *lot, int count)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot;
    e.place = "";
    e.reason = "planted";
    e.divisions = count;
    cw_check_ok(cw_cellar_enter(t->n, &t->who, &e, &out, &err), &err);
    cw_table_free(&out);
}

static void turn(chain *c, int i, int season)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char path[120];
    snprintf(path, sizeof path, "%s/%d.db", c->t.folder, season);
    cw_copy(c->path[i], sizeof c->path[i], path);
    const cw_next n = { c->path[i], season, cw_day_from_ymd(season + 1, 4, 18), true, false };
    cw_check_ok(cw_closing_next(c->t.n, &c->t.who, &n, true, &out, &err), &err);
    cw_table_free(&out);
    cw_nursery_close(c->t.n);
    cw_check_ok(cw_nursery_open(c->path[i], CW_WORK, "test", &c->t.n, &err), &err);
}

static void lot(chain *c, const char *code, const char *variety, int year, const char *row, int made)
{
    char text[300];
    snprintf(text, sizeof text, "lot,variety,dug_on,clumps,row\n%s,%s,%d-10-20,20,%s\n", code, variety, year,
             row);
    must_load(&c->t, "lots.csv", text);
    snprintf(text, sizeof text, "lot,divided_on,clumps,saleable\n%s,%d-12-05,10,%d\n", code, year, made);
    must_load(&c->t, "divisions.csv", text);
}

/* 2031: L1 of AMB in row r1, 24 planted out, two sent to Ada. 2032: AMB is AMBER; L1 was dug of those, L5 of nobody knows
 * what; three of L1 to Bo, one of L5 to Cy, 23 of L1 planted out. 2033: L1 was dug of those, and L7 of a planting that a file
 * said to be of L1, without a year; Dee and Eli got of them, and Fay of BRI, which has nothing to do with it. */
static void make(chain *c)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    test_nursery_make(&c->t);
    cw_copy(c->path[0], sizeof c->path[0], c->t.path);
    must_load(&c->t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\nBRI,Briar Song,8\n");
    today(&c->t, 2032, 4, 1);
    lot(c, "L1", "AMB", 2031, "r1", 44);
    lot(c, "L2", "BRI", 2031, "r2", 30);
    send(&c->t, c->path[0], "1001", "AMB", "Ada", "L1", 2);
    plant(&c->t, "L1", 24);
    turn(c, 1, 2032);
    today(&c->t, 2033, 4, 1);
    cw_check_ok(cw_naming_rename_variety(c->t.n, &c->t.who, "AMB", "AMBER", "the label", true, &out, &err),
                &err);
    cw_table_free(&out);
    sql(c->path[1], "UPDATE planting SET row = 'r9' WHERE lot = 'L1'");
    lot(c, "L1", "AMB", 2032, "r9", 40);
    lot(c, "L5", "AMBER", 2032, "", 30);
    lot(c, "L2", "BRI", 2032, "", 30);
    send(&c->t, c->path[1], "2001", "AMBER", "Bo", "L1", 3);
    send(&c->t, c->path[1], "2002", "AMBER", "Cy", "L5", 1);
    plant(&c->t, "L1", 23);
    turn(c, 2, 2033);
    today(&c->t, 2034, 4, 1);
    sql(c->path[2], "UPDATE planting SET row = 'r3' WHERE lot = 'L1'");
    must_load(&c->t, "plantings.csv", "row,variety,plants,planted_on,lot\nr4,AMBER,25,2033-05-10,L1\n");
    sql(c->path[2],
        "UPDATE planting SET of_season = NULL WHERE row = 'r4'"); /* as of a file that nothing was made from */
    lot(c, "L1", "AMBER", 2033, "r3", 40);
    lot(c, "L7", "AMBER", 2033, "r4", 40);
    lot(c, "L2", "BRI", 2033, "", 30);
    send(&c->t, c->path[2], "3001", "AMBER", "Dee", "L1", 5);
    send(&c->t, c->path[2], "3002", "AMBER", "Eli", "L7", 1);
    send(&c->t, c->path[2], "3003", "BRI", "Fay", "L2", 1);
}

static void beside(chain *c, int first, int last)
{
    cw_error err = CW_ERROR_NONE;
    for (int i = last; i >= first; i--) /* in any order */
        cw_check_ok(cw_past_open(c->t.n, c->path[i], &err), &err);
}

/* A tree in words, a line a node: its depth in dots, season, kind, code, variety, sure or ?, and whether its file is beside. */
static void words(chain *c, const cw_lineage_ask *ask, char out[3000])
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    size_t used = 0;
    cw_check_ok(cw_lineage_tree(c->t.n, &c->t.who, ask, &t, &err), &err);
    assert_true(cw_shape_has_rows(&cw_lineage_tree_shape, &t));
    for (size_t r = 0; r < cw_table_rows(&t); r++) {
        for (int64_t up = cw_table_int(&t, r, 1); up > 0; up = cw_table_int(&t, (size_t)up - 1, 1))
            used += (size_t)snprintf(out + used, 3000 - used, ".");
        used += (size_t)snprintf(
            out + used, 3000 - used, "%lld %s %s%s%s %s%s%s\n", (long long)cw_table_int(&t, r, 2),
            cw_table_text(&t, r, 3), cw_table_text(&t, r, 5), cw_table_text(&t, r, 5)[0] ? " " : "",
            cw_table_text(&t, r, 7), cw_table_text(&t, r, 4), cw_table_int(&t, r, 13) ? "" : "?",
            cw_table_text(&t, r, 15)[0] ? "" : " (no file)");
    }
    cw_table_free(&t);
}

static const char whole[] = "2030 variety AMB from (no file)\n"
                            ".2031 lot L1 AMB asked\n"
                            "..2032 planting AMBER came\n"
                            "...2032 lot L1 AMBER came\n"
                            "....2033 planting AMBER came\n"
                            ".....2033 lot L1 AMBER came\n"
                            "....2033 planting AMBER came\n"
                            ".....2033 lot L7 AMBER came\n"
                            "..2032 lot L5 AMBER came?\n";

static void down_over_three_files(void **state)
{
    (void)state;
    chain c;
    char tree[3000];
    make(&c);
    beside(&c, 0, 1);
    words(&c, &(cw_lineage_ask){ .lot = "L1", .season = 2031 }, tree);
    assert_string_equal(tree, whole);
    words(&c, &(cw_lineage_ask){ .row = "r1", .season = 2031 }, tree);
    assert_string_equal(tree, whole);
    words(&c, &(cw_lineage_ask){ .order = "1001", .season = 2031 }, tree);
    assert_string_equal(tree, whole);
    test_nursery_free(&c.t);
}

/* Upwards a code of a former year is told as it was borne then, and nothing beside the way is. */
static void up_over_three_files(void **state)
{
    (void)state;
    chain c;
    char tree[3000];
    make(&c);
    beside(&c, 0, 1);
    words(&c, &(cw_lineage_ask){ .lot = "L7" }, tree);
    assert_string_equal(tree, "2030 variety AMB from (no file)\n"
                              ".2031 lot L1 AMB from\n"
                              "..2032 planting AMBER from\n"
                              "...2032 lot L1 AMBER from\n"
                              "....2033 planting AMBER from\n"
                              ".....2033 lot L7 AMBER asked\n");
    words(&c, &(cw_lineage_ask){ .lot = "L5", .season = 2032 }, tree);
    assert_non_null(strstr(tree, "2031 variety AMB from\n.2032 lot L5 AMBER asked\n"));
    test_nursery_free(&c.t);
}

/* What stands in a file that is not beside is named, and said to be. */
static void a_file_that_is_missing_is_said(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE, unknown = CW_ERROR_NONE;
    cw_table t = { 0 };
    chain c;
    char tree[3000];
    make(&c);
    words(&c, &(cw_lineage_ask){ .lot = "L1" }, tree);
    assert_string_equal(tree, "2032 lot L1 AMBER from (no file)\n"
                              ".2033 planting AMBER from\n"
                              "..2033 lot L1 AMBER asked\n");
    assert_int_equal(
        cw_lineage_tree(c.t.n, &c.t.who, &(cw_lineage_ask){ .lot = "L1", .season = 2031 }, &t, &err),
        CW_REFUSED);
    cw_table_free(&t);
    assert_int_equal(cw_lineage_tree(c.t.n, &c.t.who, &(cw_lineage_ask){ .lot = "L99" }, &t, &unknown),
                     CW_NOT_FOUND);
    assert_non_null(strstr(unknown.text, "L99"));
    cw_table_free(&t);
    test_nursery_free(&c.t);
}

/* Before the next file is made, what was planted out stands in this one's tree; after it, in that one's. */
static void planted_out_before_the_next_file_is_made(void **state)
{
    (void)state;
    chain c;
    char tree[3000];
    test_nursery_make(&c.t);
    must_load(&c.t, "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\n");
    lot(&c, "L1", "AMB", 2031, "r1", 44);
    plant(&c.t, "L1", 7);
    words(&c, &(cw_lineage_ask){ .lot = "L1" }, tree);
    assert_string_equal(
        tree, "2030 variety AMB from (no file)\n.2031 lot L1 AMB asked\n..2031 planting AMB came\n");
    test_nursery_free(&c.t);
}

static void buyers_in_words(chain *c, const cw_lineage_ask *ask, char out[800])
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    size_t used = 0;
    out[0] = '\0';
    cw_check_ok(cw_lineage_buyers(c->t.n, &c->t.who, ask, &t, &err), &err);
    assert_true(cw_shape_has_rows(&cw_lineage_buyers_shape, &t));
    for (size_t r = 0; r < cw_table_rows(&t); r++)
        used += (size_t)snprintf(out + used, 800 - used, "%lld%s %s %s %s %lld %s\n",
                                 (long long)cw_table_int(&t, r, 0), cw_table_int(&t, r, 1) ? "" : "?",
                                 cw_table_text(&t, r, 2), cw_table_text(&t, r, 6), cw_table_text(&t, r, 8),
                                 (long long)cw_table_int(&t, r, 16), cw_table_text(&t, r, 18));
    cw_table_free(&t);
}

/* Everybody who received of the row, in one list: Ada of the lot itself, the others of what descends from it. In the closed season
 * the lot can be held, which is what its recall notices rest on, and how far they are stands beside each buyer. */
static void one_list_of_buyers_with_notices(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_notices_made made;
    chain c;
    char list[800];
    make(&c);
    test_nursery old = c.t;
    cw_check_ok(cw_nursery_open(c.path[0], CW_WORK, "test", &old.n, &err), &err);
    cw_check_ok(cw_tracing_hold(old.n, &old.who, "L1", "gall", &err), &err);
    cw_check_ok(cw_notices_make(old.n, &old.who, &made, &err), &err);
    cw_nursery_close(old.n);
    beside(&c, 0, 1);
    buyers_in_words(&c, &(cw_lineage_ask){ .row = "r1", .season = 2031 }, list);
    assert_string_equal(list, "2031 L1 1001 Ada 2 due\n"
                              "2032 L1 2001 Bo 3 \n"
                              "2033 L1 3001 Dee 5 \n"
                              "2033 L7 3002 Eli 1 \n"
                              "2032? L5 2002 Cy 1 \n");
    c.t.who.role = CW_ROLE_PACKER; /* who bought is not for packers, in whichever year */
    buyers_in_words(&c, &(cw_lineage_ask){ .row = "r1", .season = 2031 }, list);
    assert_null(strstr(list, "Ada"));
    assert_null(strstr(list, "Bo"));
    assert_non_null(strstr(list, "1001"));
    test_nursery_free(&c.t);
}

static int64_t named(const char *path)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(raw, "SELECT COUNT(*) FROM orders WHERE email = 'Ada@example.org'", -1, &s, NULL),
        SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t n = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return n;
}

/* Ada bought in the first year and the last: both are shown first, and taken out of both files; and of none while one of them cannot
 * be written, or still has an open order of hers. */
static void a_buyer_is_forgotten_in_all_years(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE, held = CW_ERROR_NONE, open = CW_ERROR_NONE;
    cw_table out = { 0 };
    chain c;
    const cw_forget_ask ada = { .customer = "ada@example.org" };
    make(&c);
    const char *const past[] = { c.path[1], c.path[0] };
    send(&c.t, c.path[2], "3009", "BRI", "Ada", "L2", 1);
    sql(c.path[0], "UPDATE orders SET state = 'open' WHERE number = '1001'");
    assert_int_equal(cw_forgetting_years(c.t.n, &c.t.who, &ada, past, 2, &out, &open), CW_CONFLICT);
    assert_non_null(strstr(open.text, "1001"));
    cw_table_free(&out);
    assert_int_equal(named(c.path[0]) + named(c.path[2]), 2);
    sql(c.path[0], "UPDATE orders SET state = 'shipped' WHERE number = '1001'");
    cw_nursery_close(c.t.n);
    cw_check_ok(cw_nursery_open(c.path[2], CW_WORK, "test", &c.t.n, &err), &err);
    cw_nursery *other = NULL;
    cw_check_ok(cw_nursery_open(c.path[0], CW_WORK, "another program", &other, &err), &err);
    assert_int_equal(cw_forgetting_years(c.t.n, &c.t.who, &ada, past, 2, &out, &held), CW_MACHINE);
    assert_non_null(strstr(held.text, "another program"));
    cw_table_free(&out);
    cw_nursery_close(other);
    assert_int_equal(named(c.path[0]) + named(c.path[2]), 2);
    cw_nursery_close(c.t.n);
    cw_check_ok(cw_nursery_open(c.path[2], CW_WORK, "test", &c.t.n, &err), &err);
    beside(&c, 0, 1);
    cw_check_ok(cw_forgetting_preview(c.t.n, &c.t.who, &ada, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    assert_int_equal(cw_table_int(&out, 1, 8), 2031);
    cw_table_free(&out);
    cw_nursery_close(c.t.n);
    cw_check_ok(cw_nursery_open(c.path[2], CW_WORK, "test", &c.t.n, &err), &err);
    cw_check_ok(cw_forgetting_years(c.t.n, &c.t.who, &ada, past, 2, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    assert_string_equal(cw_table_text(&out, 1, 0), "1001");
    assert_string_equal(cw_table_text(&out, 1, 3), "n.db");
    cw_table_free(&out);
    assert_int_equal(named(c.path[0]) + named(c.path[1]) + named(c.path[2]), 0);
    test_nursery_free(&c.t);
}

static void refused(chain *c, const char *path, const char *says)
{
    cw_error err = CW_ERROR_NONE;
    assert_int_equal(cw_past_open(c->t.n, path, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, says));
}

static void only_files_that_this_one_was_made_from(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    chain c, other;
    make(&c);
    make(&other);
    sql(other.path[0], "UPDATE closing SET digest = 'another'");
    refused(&c, other.path[0], "was made from");
    refused(&c, other.path[2], "not before");
    beside(&c, 0, 1);
    refused(&c, c.path[0], "name one of them");
    cw_check_ok(cw_past_files(c.t.n, &t, &err), &err);
    assert_int_equal(cw_table_rows(&t), 3);
    for (size_t r = 0; r < 3; r++) {
        assert_int_equal(cw_table_int(&t, r, 0), 2033 - (int)r);
        assert_int_equal(cw_table_int(&t, r, 3), r > 0);
    }
    cw_table_free(&t);
    test_nursery_free(&other.t);
    test_nursery_free(&c.t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(down_over_three_files),
        cmocka_unit_test(up_over_three_files),
        cmocka_unit_test(a_file_that_is_missing_is_said),
        cmocka_unit_test(planted_out_before_the_next_file_is_made),
        cmocka_unit_test(one_list_of_buyers_with_notices),
        cmocka_unit_test(a_buyer_is_forgotten_in_all_years),
        cmocka_unit_test(only_files_that_this_one_was_made_from),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
