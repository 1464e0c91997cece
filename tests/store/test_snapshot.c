/* SPDX-License-Identifier: MIT */
/* What past seasons taught and what stood in the field is read once and shared by snapshots, until something of it is written. */
#include "support/check.h"
#include "support/folder.h"
#include "support/unasked.h"

#include "store/season.h"
#include "store/snapshot.h"
#include <stdlib.h>
#include <unistd.h>

#include "base/banned.h"

#define DAY 23000

/* Each is another write of what stood in the field; they build on one another. */
static const char *const writes[] = {
    "INSERT INTO past_planting (season, variety_id, plants, clumps) VALUES (2030, 1, 20, 15)",
    "UPDATE past_planting SET clumps = 16",
    "DELETE FROM past_planting",
    "INSERT INTO planting (id, variety_id, plants, planted_on) VALUES (1, 1, 40, 22700), (2, 1, 9, 22700)",
    "UPDATE planting SET plants = 41 WHERE id = 1",
    "INSERT INTO field_round (id, planting_id, day, alive, at, actor) VALUES (1, 1, 22800, 38, 1, 'test')",
    "UPDATE field_round SET reversed = 1 WHERE id = 1",
    "DELETE FROM field_round",
    "INSERT INTO lot (id, code, variety_id, dug_on, clumps, planting_id) VALUES (1, 'L1', 1, 22900, 30, 1)",
    "UPDATE lot SET culled = 2",
    "UPDATE lot SET clumps = 29",
    "UPDATE lot SET dug_on = 22901",
    "UPDATE lot SET planting_id = 2",
    "UPDATE lot SET variety_id = 2",
    "DELETE FROM lot",
    "DELETE FROM planting WHERE id = 2",
};

/* And of what past seasons taught. */
static const char *const taught[] = {
    "INSERT INTO source (id, kind, name, digest, rows, actor, at) VALUES (1, 'history', 'h', 'd', 1, 'test', "
    "1);"
    "INSERT INTO history (id, season, variety_id, clumps, divisions, source_id) VALUES (7, 2030, 1, 10, 50, "
    "1)",
    "UPDATE history SET divisions = 51",
    "DELETE FROM history WHERE id = 7;"
    "INSERT INTO history (season, variety_id, clumps, divisions, source_id) VALUES (2030, 1, 10, 52, 1);"
    "UPDATE nursery SET stock_revision = stock_revision",
    "INSERT INTO past_check (season, variety_id, stage, weeks, inspected, rotten, source_id, age) VALUES "
    "(2030, 1, 'clump', 4, 20, 1, 1, 2)",
    "UPDATE past_check SET rotten = 2",
    "DELETE FROM past_check",
};

static const char *const others[] = {
    "INSERT INTO lot (id, code, variety_id, dug_on, clumps) VALUES (5, 'L5', 1, 22900, 30)",
    "UPDATE lot SET held = 'sick'",
    "UPDATE variety SET price = 500",
};

static char path[300];

static void write_file(const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    unasked_sql(raw, sql);
    sqlite3_close(raw);
}

static cw_snapshot *look(cw_db *db, cw_day day, cw_snap_kept *kept)
{
    cw_error err = CW_ERROR_NONE;
    cw_snapshot *s = NULL;
    cw_check_ok(cw_snapshot_read(db, day, kept, &s, &err), &err);
    return s;
}

/* Reads before and after the write, and whether each part was read anew. */
static void read_after(cw_db *db, cw_snap_kept *kept, const char *sql, bool field, bool past)
{
    cw_snapshot *before = look(db, DAY, kept), *after = NULL, *again = NULL;
    write_file(sql);
    after = look(db, DAY, kept);
    again = look(db, DAY, kept);
    if ((after->field != before->field) != field || (after->past != before->past) != past)
        fail_msg("after: %s", sql);
    assert_ptr_equal(again->field, after->field);
    assert_ptr_equal(again->past, after->past);
    cw_snapshot_free(before);
    cw_snapshot_free(after);
    cw_snapshot_free(again);
}

static void test_shared_until_written(void **state)
{
    char folder[256], lock[400];
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    cw_snap_kept kept = { 0 };
    cw_season_row row = { 2031, 22745, "USD", "UTC" };
    (void)state;
    test_folder_make(folder, sizeof folder);
    snprintf(path, sizeof path, "%s/n.db", folder);
    cw_check_ok(cw_db_open(path, CW_DB_NEW, "test", &db, &err), &err);
    cw_check_ok(cw_db_begin(db, &err), &err);
    cw_check_ok(cw_season_make(db, &row, 0, &err), &err);
    cw_check_ok(cw_db_commit(db, &err), &err);
    write_file("INSERT INTO variety (id, code, name) VALUES (1, 'V', 'Vane'), (2, 'W', 'Wick')");
    for (size_t i = 0; i < sizeof writes / sizeof writes[0]; i++)
        read_after(db, &kept, writes[i], true, false);
    for (size_t i = 0; i < sizeof taught / sizeof taught[0]; i++)
        read_after(db, &kept, taught[i], false, true);
    read_after(db, &kept, others[0], true, false);
    for (size_t i = 1; i < sizeof others / sizeof others[0]; i++)
        read_after(db, &kept, others[i], false, false);
    /* another day is another field */
    cw_snapshot *now = look(db, DAY, &kept), *then = look(db, 22000, &kept);
    assert_ptr_not_equal(now->field, then->field);
    assert_int_equal(now->field->plantings, 1);
    assert_int_equal(then->field->plantings, 0);
    cw_snapshot_free(now);
    cw_snapshot_free(then);
    cw_snap_kept_free(&kept);
    cw_db_close(db);
    unlink(path);
    snprintf(lock, sizeof lock, "%s.lock", path);
    unlink(lock);
    rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_shared_until_written) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
