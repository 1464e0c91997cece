/* SPDX-License-Identifier: MIT */
#include "support/giving_out.h"

#include "base/text.h"
#include "desk/cellar/cellar.h"
#include "desk/intake/intake.h"
#include "store/bulk.h"

#include "base/banned.h"

/* What comes in while the database gives out, at any step or allocation, or the disk is full. */

/* Invented data: one file of every kind that writes. */
static const struct {
    const char *name, *text;
} texts[] = {
    { "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.50\nBRI,Briar Song,8\n" },
    { "places.csv", "place,room,walk_order\nA1,north,10\nB1,south,30\n" },
    { "history.csv", "season,variety,clumps,divisions\n2029,AMB,20,90\n2030,BRI,10,31\n" },
    { "lots.csv", "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,40,A1\nL2,BRI,2031-10-21,30,\n" },
    { "divisions.csv",
      "lot,divided_on,clumps,saleable,rotten,place\nL1,2031-12-05,10,44,1,B1\nL2,2031-12-06,5,21,0,\n" },
    { "checks.csv", "lot,checked_on,stage,inspected,rotten\nL1,2032-01-10,division,44,3\n" },
    { "counts.csv", "lot,counted_on,stage,count\nL1,2032-01-16,division,39\n" },
    { "air.csv", "room,at,temp_c,rh\nnorth,2032-01-01T06:00:00Z,6,93\n" },
    { "orders.csv",
      "order,received_at,line,variety,quantity,unit_price\n1,2032-01-20T10:00:00Z,1,AMB,3,6.50\n"
      "1,2032-01-20T10:00:00Z,2,BRI,2,8\n" },
};
#define FILES (sizeof texts / sizeof texts[0])

static cw_code load(test_nursery *t, cw_error *err)
{
    cw_intake_file files[FILES];
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    cw_intake_options o = { 0 };
    for (size_t i = 0; i < FILES; i++)
        files[i] = (cw_intake_file){ .name = texts[i].name,
                                     .bytes = texts[i].text,
                                     .length = strlen(texts[i].text) };
    cw_code code = cw_intake_load(t->n, &t->who, files, FILES, &o, &answer, &errors, err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    return code;
}

static cw_code order(test_nursery *t, cw_error *err)
{
    json_t *answer = NULL;
    json_t *o = json_pack("{s:s,s:[{s:s,s:i,s:s},{s:s,s:i,s:i}]}", "order", "W1", "lines", "assortment",
                          "colour=pink", "quantity", 2, "unit_price", "5", "assortment", "form=ball",
                          "quantity", 1, "unit_price", 5);
    cw_code code = cw_intake_order(t->n, &t->who, o, &answer, err);
    json_decref(answer);
    json_decref(o);
    return code;
}

static cw_code divide(test_nursery *t, cw_error *err)
{
    cw_table out = { 0 };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = "L1";
    e.clumps = 4;
    e.saleable = 17;
    e.rotten = 1;
    cw_code code = cw_cellar_divide(t->n, &t->who, &e, &out, err);
    cw_table_free(&out);
    return code;
}

static cw_code undo(test_nursery *t, cw_error *err)
{
    cw_table out = { 0 };
    cw_code code = cw_cellar_undo(t->n, &t->who, "stock_take", 1, "counted twice", &out, err);
    cw_table_free(&out);
    return code;
}

static int64_t sum_of(test_nursery *t, const char *sql)
{
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_prepare_v2(t->n->db->raw, sql, -1, &s, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t v = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return v;
}

/* A sum over everything that a write could leave behind. */
static int64_t traces(test_nursery *t)
{
    static const char sql[] =
        "SELECT (SELECT COUNT(*) FROM variety) + (SELECT COUNT(*) FROM place) + (SELECT COUNT(*) FROM lot)"
        " + (SELECT COUNT(*) FROM movement) + (SELECT COUNT(*) FROM orders) + (SELECT COUNT(*) FROM line)"
        " + (SELECT COUNT(*) FROM audit) + (SELECT COUNT(*) FROM source) + (SELECT COUNT(*) FROM offering)"
        " + (SELECT COUNT(*) FROM dividing) + (SELECT TOTAL(reversed) FROM stock_take)"
        " + (SELECT 1000 * (stock_revision + trade_revision) FROM nursery)";
    return sum_of(t, sql);
}

/* A first load, as far as its indexes go: they are taken away and made again, or all stand as before. */
static cw_code indexes_made_again(test_nursery *t, cw_error *err)
{
    cw_db *db = t->n->db;
    cw_bulk *bulk = NULL;
    cw_code code = cw_db_begin(db, err);
    if (code == CW_OK)
        code = cw_bulk_begin(db, &bulk, err);
    if (code == CW_OK) {
        assert_non_null(bulk);
        code = cw_bulk_end(db, bulk, err);
    }
    if (code == CW_OK)
        return cw_db_commit(db, err);
    cw_db_rollback(db);
    return code;
}

static int64_t index_traces(test_nursery *t)
{
    return sum_of(t, "SELECT COUNT(*) FROM sqlite_schema WHERE type = 'index'");
}

static void nothing_there(test_nursery *t)
{
    (void)t;
}

static void season_loaded(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(load(t, &err), &err);
}

static const giving_out works[] = {
    { "load", nothing_there, load, traces, 4 },
    { "order", season_loaded, order, traces, 4 },
    { "divide", season_loaded, divide, traces, 4 },
    { "undo", season_loaded, undo, traces, 4 },
};
#define WORKS (sizeof works / sizeof works[0])

static void the_database_stops_at_any_step(void **state)
{
    (void)state;
    give_out_everywhere(works, WORKS, true);
}

static void memory_ends_at_any_allocation(void **state)
{
    (void)state;
    give_out_everywhere(works, WORKS, false);
}

static void indexes_come_back_at_any_step(void **state)
{
    static const giving_out indexes = { "indexes", nothing_there, indexes_made_again, index_traces, 0 };
    (void)state;
    give_out_everywhere(&indexes, 1, true);
}

/* In a group of works, which are committed together: the one that fails is taken back alone. */
static cw_code indexes_in_a_group(test_nursery *t, cw_error *err)
{
    cw_db *db = t->n->db;
    cw_bulk *bulk = NULL;
    cw_code code = cw_db_savepoint(db, err);
    if (code != CW_OK)
        return code;
    code = cw_bulk_begin(db, &bulk, err);
    if (code == CW_OK)
        code = cw_bulk_end(db, bulk, err);
    if (code == CW_OK)
        return cw_db_release(db, err);
    cw_db_undo(db);
    return code;
}

/* With no memory left not even the end of a transaction may be told: then the next one begins by it, and a group that holds what
 * could not be taken back is not committed. */
static void indexes_come_back_with_memory(void **state)
{
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    int64_t before = index_traces(&t);
    for (int group = 0; group < 2; group++) {
        cw_code code = CW_MACHINE;
        long failures = 0, stuck = 0;
        for (long n = 0; code != CW_OK; n++) {
            cw_error err = CW_ERROR_NONE;
            if (group)
                cw_check_ok(cw_db_begin(t.n->db, &err), &err);
            giving_out_memory.left = n;
            code = group ? indexes_in_a_group(&t, &err) : indexes_made_again(&t, &err);
            giving_out_memory.left = -1;
            assert_true(code == CW_OK || code == CW_MACHINE);
            failures += code != CW_OK;
            err = (cw_error)CW_ERROR_NONE;
            if (group)
                stuck += cw_db_commit(t.n->db, &err) != CW_OK;
            else
                stuck += cw_db_in_transaction(t.n->db);
            cw_check_ok(cw_db_begin(t.n->db, &err), &err);
            assert_int_equal(index_traces(&t), before);
            cw_check_ok(cw_db_commit(t.n->db, &err), &err);
        }
        print_message("indexes%s: %ld allocations failed in turn, %ld could not be taken back at once\n",
                      group ? " in a group" : "", failures, stuck);
        assert_true(stuck > 0 && failures > stuck);
    }
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* More than fits into the pages that an empty file has. */
static cw_code load_much(test_nursery *t, cw_error *err)
{
    cw_text air = CW_TEXT((size_t)4 << 20);
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    cw_intake_options o = { 0 };
    cw_text_add(&air, "room,at,temp_c,rh\n");
    for (int i = 0; i < 20000; i++)
        cw_text_addf(&air, "room %d,2032-01-01T%02d:%02d:%02dZ,6,93\n", i / 10000, i / 3600 % 24, i / 60 % 60,
                     i % 60);
    cw_intake_file f = { .name = "air.csv", .bytes = air.data, .length = air.length };
    cw_code code = cw_intake_load(t->n, &t->who, &f, 1, &o, &answer, &errors, err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    cw_text_free(&air);
    return code;
}

static void the_disk_is_full(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    test_nursery_make(&t);
    int64_t before = traces(&t);
    assert_int_equal(sqlite3_exec(t.n->db->raw, "PRAGMA max_page_count = 1", NULL, NULL, NULL), SQLITE_OK);
    cw_code code = load_much(&t, &err);
    is_as_before(&t, code, &err, traces(&t), before);
    test_nursery_check(&t);
    assert_non_null(strstr(err.text, "the disk is full"));
    assert_int_equal(sqlite3_exec(t.n->db->raw, "PRAGMA max_page_count = 1000000", NULL, NULL, NULL),
                     SQLITE_OK);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(load_much(&t, &err), &err);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_database_stops_at_any_step),
        cmocka_unit_test(memory_ends_at_any_allocation),
        cmocka_unit_test(indexes_come_back_at_any_step),
        cmocka_unit_test(indexes_come_back_with_memory),
        cmocka_unit_test(the_disk_is_full),
    };
    return cmocka_run_group_tests(tests, giving_out_install, NULL);
}
