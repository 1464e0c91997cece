/* SPDX-License-Identifier: MIT */
#include "support/check.h"
#include "support/folder.h"

#include "store/ledger.h"
#include <dirent.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

/* A file with lots L1 (at place A) and L2 (nowhere), and places A and B; lot and place ids are 1 and 2. */
typedef struct shelf {
    char folder[64], path[96];
    cw_db *db;
} shelf;

static void make_shelf(shelf *s)
{
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    *s = (shelf){ 0 };
    test_folder_make(s->folder, sizeof s->folder);
    snprintf(s->path, sizeof s->path, "%s/n.db", s->folder);
    cw_check_ok(cw_db_open(s->path, CW_DB_NEW, "test", &s->db, &err), &err);
    cw_db_close(s->db);
    assert_int_equal(sqlite3_open(s->path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(
            raw,
            "INSERT INTO variety (id, code, name) VALUES (1, 'V', 'Vane');"
            "INSERT INTO place (id, code, room, walk_order) VALUES (1, 'A', 'r', 20), (2, 'B', 'r', 10),"
            " (3, 'C', 'r', 5);"
            "INSERT INTO lot (id, code, variety_id, dug_on, clumps, place_id)"
            " VALUES (1, 'L1', 1, 100, 10, 1), (2, 'L2', 1, 100, 0, 0);",
            NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    cw_check_ok(cw_db_open(s->path, CW_DB_WRITE, "test", &s->db, &err), &err);
    cw_check_ok(cw_db_begin(s->db, &err), &err);
}

static void drop_shelf(shelf *s)
{
    char path[400];
    struct dirent *entry = NULL;
    cw_db_rollback(s->db);
    cw_db_close(s->db);
    DIR *folder = opendir(s->folder);
    while (folder && (entry = readdir(folder)) != NULL) {
        snprintf(path, sizeof path, "%s/%s", s->folder, entry->d_name);
        unlink(path);
    }
    if (folder)
        closedir(folder);
    rmdir(s->folder);
}

static cw_code add(shelf *s, int64_t lot, int64_t place, cw_day day, int64_t clumps, int64_t divisions,
                   const char *reason, const char *cause, int64_t id, cw_error *err)
{
    cw_movement m = { .at = 1,
                      .day = day,
                      .actor = "t",
                      .lot = lot,
                      .place = place,
                      .clumps = clumps,
                      .divisions = divisions,
                      .reason = reason,
                      .cause = cause,
                      .cause_id = id };
    return cw_ledger_add(s->db, &m, err);
}

static void ok(shelf *s, int64_t lot, int64_t place, cw_day day, int64_t clumps, int64_t divisions,
               const char *reason, const char *cause, int64_t id)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(add(s, lot, place, day, clumps, divisions, reason, cause, id, &err), &err);
}

static void reasons_have_their_signs(void **state)
{
    static const struct {
        const char *name, *reason;
        int64_t clumps, divisions;
        bool good;
    } rows[] = {
        { "dug", "dug", 3, 0, true },
        { "dug away", "dug", -3, 0, false },
        { "dug divisions", "dug", 0, 3, false },
        { "divided", "divided", -1, 0, true },
        { "divided into", "divided", 1, 0, false },
        { "made", "made", 0, 4, true },
        { "made away", "made", 0, -1, false },
        { "made clumps", "made", 1, 0, false },
        { "rotten", "rotten", -1, -1, true },
        { "rotten back", "rotten", 1, 0, false },
        { "found", "found", 1, 1, true },
        { "found away", "found", -1, 0, false },
        { "missing", "missing", -1, 0, true },
        { "shrivelled", "shrivelled", 0, -1, true },
        { "shrivelled clumps", "shrivelled", -1, 0, false },
        { "planted", "planted", 0, -1, true },
        { "picked", "picked", 0, -1, true },
        { "picked back", "picked", 0, 1, false },
        { "returned", "returned", 0, 1, true },
        { "stolen", "stolen", -1, 0, false },
    };
    shelf s;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    ok(&s, 1, 1, 101, 0, 10, "made", "dividing", 1);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        print_message("%s\n", rows[i].name);
        cw_code code =
            add(&s, 1, 1, 110, rows[i].clumps, rows[i].divisions, rows[i].reason, "entry", 9, &err);
        assert_int_equal(code, rows[i].good ? CW_OK : CW_CONFLICT);
    }
    drop_shelf(&s);
}

static void where_nothing_ever_lay_there_is_nothing(void **state)
{
    shelf s;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make_shelf(&s);
    for (int64_t lot = 1; lot <= 2; lot++) {
        cw_on_hand at = { 9, 9 }, all = { 9, 9 };
        cw_check_ok(cw_ledger_at(s.db, lot, 2, &at, &err), &err);
        cw_check_ok(cw_ledger_lot(s.db, lot, &all, &err), &err);
        assert_int_equal(at.clumps, 0);
        assert_int_equal(at.divisions, 0);
        assert_int_equal(all.clumps, 0);
        assert_int_equal(all.divisions, 0);
    }
    drop_shelf(&s);
}

static void no_place_and_no_day_holds_less_than_nothing(void **state)
{
    shelf s;
    cw_error err = CW_ERROR_NONE;
    cw_on_hand on;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    ok(&s, 1, 1, 110, -6, 0, "divided", "dividing", 1);
    ok(&s, 1, 1, 120, 3, 0, "found", "stock_take", 1);
    assert_int_equal(add(&s, 1, 2, 120, -1, 0, "rotten", "check", 1, &err), CW_CONFLICT);
    assert_string_equal(err.text, "lot L1 at place B has 0 clumps, 1 cannot go");
    err = (cw_error)CW_ERROR_NONE;
    /* 7 are there now, but only 4 were between the sessions and the find. */
    cw_check_ok(cw_db_savepoint(s.db, &err), &err);
    assert_int_equal(add(&s, 1, 1, 112, -5, 0, "rotten", "check", 2, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "1 more than there were then"));
    cw_db_undo(s.db);
    ok(&s, 1, 1, 112, -4, 0, "rotten", "check", 3);
    cw_check_ok((err = (cw_error)CW_ERROR_NONE, cw_ledger_on(s.db, 1, 111, &on, &err)), &err);
    assert_int_equal(on.clumps, 4);
    cw_check_ok(cw_ledger_on(s.db, 1, 112, &on, &err), &err);
    assert_int_equal(on.clumps, 0);
    cw_check_ok(cw_ledger_on(s.db, 1, 99, &on, &err), &err);
    assert_int_equal(on.clumps, 0);
    cw_check_ok(cw_ledger_free_on(s.db, 1, 120, &on, &err), &err);
    assert_int_equal(on.clumps, 3);
    cw_check_ok(cw_ledger_free_on(s.db, 1, 105, &on, &err), &err);
    assert_int_equal(on.clumps, 0);
    drop_shelf(&s);
}

static void taking_goes_from_the_own_place_along_the_walk(void **state)
{
    shelf s;
    cw_error err = CW_ERROR_NONE;
    cw_on_hand at;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    ok(&s, 1, 1, 101, 0, 5, "made", "dividing", 1);
    ok(&s, 1, 2, 101, 0, 5, "made", "dividing", 2);
    ok(&s, 2, 3, 101, 0, 9, "made", "dividing", 3); /* another lot's, at a place that comes before */
    cw_movement m = { .at = 1,
                      .day = 110,
                      .actor = "t",
                      .lot = 1,
                      .place = -1,
                      .divisions = 7,
                      .reason = "rotten",
                      .cause = "check",
                      .cause_id = 1 };
    cw_check_ok(cw_ledger_take(s.db, &m, &err), &err);
    cw_check_ok(cw_ledger_at(s.db, 1, 1, &at, &err), &err);
    assert_int_equal(at.divisions, 0);
    cw_check_ok(cw_ledger_at(s.db, 1, 2, &at, &err), &err);
    assert_int_equal(at.divisions, 3);
    m.divisions = 4;
    assert_int_equal(cw_ledger_take(s.db, &m, &err), CW_CONFLICT);
    assert_string_equal(err.text, "lot L1 has 3 divisions, 4 cannot go");
    drop_shelf(&s);
}

/* A lies before B for a lot of its own place, unless B is where it is said to be; clumps and divisions go alike. */
static void the_wished_place_comes_first(void **state)
{
    static const struct {
        const char *name;
        int64_t place, clumps, divisions, left[2][2]; /* clumps and divisions at A and at B */
    } rows[] = {
        { "nothing wished", -1, 0, 3, { { 10, 2 }, { 4, 5 } } },
        { "B wished", 2, 0, 3, { { 10, 5 }, { 4, 2 } } },
        { "more than lies there", 2, 0, 7, { { 10, 3 }, { 4, 0 } } },
        { "clumps of both", 2, 6, 0, { { 8, 5 }, { 0, 5 } } },
        { "clumps and divisions", -1, 11, 6, { { 0, 0 }, { 3, 4 } } },
        { "where nobody wrote down a place", 0, 0, 3, { { 10, 5 }, { 4, 5 } } },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        shelf s;
        cw_error err = CW_ERROR_NONE;
        make_shelf(&s);
        ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
        ok(&s, 1, 2, 101, 4, 0, "found", "stock_take", 1);
        ok(&s, 1, 1, 101, 0, 5, "made", "dividing", 1);
        ok(&s, 1, 2, 101, 0, 5, "made", "dividing", 2);
        ok(&s, 1, 0, 101, 0, 3, "made", "dividing", 3);
        cw_movement m = { .at = 1,
                          .day = 110,
                          .actor = "t",
                          .lot = 1,
                          .place = rows[i].place,
                          .clumps = rows[i].clumps,
                          .divisions = rows[i].divisions,
                          .reason = "rotten",
                          .cause = "check",
                          .cause_id = 1 };
        cw_check_ok(cw_ledger_take(s.db, &m, &err), &err);
        for (int64_t place = 1; place <= 2; place++) {
            cw_on_hand at;
            cw_check_ok(cw_ledger_at(s.db, 1, place, &at, &err), &err);
            if (at.clumps != rows[i].left[place - 1][0] || at.divisions != rows[i].left[place - 1][1])
                fail_msg("%s: %lld clumps and %lld divisions at %s", rows[i].name, (long long)at.clumps,
                         (long long)at.divisions, place == 1 ? "A" : "B");
        }
        drop_shelf(&s);
    }
}

/* 3 clumps were found before 12 rotted, and 5 after: without the 3, 2 too many rotted then, though 3 would be left now. The
 * same with divisions. */
static void no_undo_leaves_a_day_below_nothing(void **state)
{
    shelf s;
    cw_error err = CW_ERROR_NONE;
    cw_on_hand now;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    ok(&s, 1, 1, 110, 3, 0, "found", "stock_take", 1);
    ok(&s, 1, 1, 112, -12, 0, "rotten", "check", 1);
    ok(&s, 1, 1, 120, 5, 0, "found", "stock_take", 2);
    cw_check_ok(cw_db_savepoint(s.db, &err), &err);
    assert_int_equal(cw_ledger_reverse(s.db, "stock_take", 1, 2, "t", "why", &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "lot L1: 3 clumps cannot have gone on"));
    assert_non_null(strstr(err.text, "that is 2 more than there were then"));
    cw_db_undo(s.db);
    err = (cw_error)CW_ERROR_NONE;
    ok(&s, 1, 1, 110, 0, 6, "made", "dividing", 1);
    ok(&s, 1, 1, 112, 0, -4, "shrivelled", "check", 2);
    ok(&s, 1, 1, 120, 0, 9, "made", "dividing", 2);
    cw_check_ok(cw_db_savepoint(s.db, &err), &err);
    assert_int_equal(cw_ledger_reverse(s.db, "dividing", 1, 2, "t", "why", &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "lot L1: 6 divisions cannot have gone on"));
    cw_db_undo(s.db);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_ledger_reverse(s.db, "stock_take", 2, 2, "t", "why", &err), &err);
    cw_check_ok(cw_ledger_lot(s.db, 1, &now, &err), &err);
    assert_int_equal(now.clumps, 1);
    drop_shelf(&s);
}

static void a_cause_is_reversed_once(void **state)
{
    shelf s;
    cw_error err = CW_ERROR_NONE;
    cw_on_hand now;
    long broken = 0;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    ok(&s, 1, 1, 110, -6, 0, "divided", "dividing", 1);
    ok(&s, 1, 2, 110, 0, 20, "made", "dividing", 1);
    cw_check_ok(cw_ledger_reverse(s.db, "dividing", 1, 2, "t", "wrong lot", &err), &err);
    cw_check_ok(cw_ledger_lot(s.db, 1, &now, &err), &err);
    assert_int_equal(now.clumps, 10);
    assert_int_equal(now.divisions, 0);
    cw_check_ok(cw_ledger_on(s.db, 1, 110, &now, &err), &err); /* as if it had never been, on every day */
    assert_int_equal(now.clumps, 10);
    assert_int_equal(cw_ledger_reverse(s.db, "dividing", 1, 3, "t", "again", &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_db_check(s.db, NULL, NULL, &broken, &err), &err);
    assert_int_equal(broken, 0);
    drop_shelf(&s);
}

/* Each says where, how much is there, and how much cannot go. */
static void what_cannot_go_is_said(void **state)
{
    static const struct {
        int64_t lot, place, clumps, divisions;
        const char *reason, *sentence; /* NULL: it goes */
    } rows[] = {
        { 1, 1, -1, 0, "rotten", NULL },
        { 1, 1, 0, -1, "rotten", NULL },
        { 1, 1, -9, -4, "rotten", NULL },
        { 1, 1, -11, 0, "rotten", "lot L1 at place A has 10 clumps, 11 cannot go" },
        { 1, 1, 0, -6, "rotten", "lot L1 at place A has 5 divisions, 6 cannot go" },
        { 1, 1, -10, -6, "rotten", "lot L1 at place A has 5 divisions, 6 cannot go" },
        { 1, 1, -10, -5, "rotten", NULL },
        { 1, 2, 0, -3, "rotten", "lot L1 at place B has 2 divisions, 3 cannot go" },
        { 2, 0, -1, 0, "rotten", "lot L2 has 0 clumps, 1 cannot go" },
        { 1, 1, 0, 0, "rotten", NULL },
        { 1, 1, 0, 0, "no such reason", NULL }, /* nothing is no movement */
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        shelf s;
        cw_error err = CW_ERROR_NONE;
        make_shelf(&s);
        ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
        ok(&s, 1, 1, 101, 0, 5, "made", "dividing", 1);
        ok(&s, 1, 2, 101, 0, 2, "made", "dividing", 2);
        cw_code code = add(&s, rows[i].lot, rows[i].place, 105, rows[i].clumps, rows[i].divisions,
                           rows[i].reason, "check", 1, &err);
        assert_int_equal(code, rows[i].sentence ? CW_CONFLICT : CW_OK);
        assert_string_equal(err.text, rows[i].sentence ? rows[i].sentence : "");
        drop_shelf(&s);
    }
}

/* What lies in one place alone is taken, be it one clump or one division; of several kinds the rest is said. */
static void one_is_taken_as_many_are(void **state)
{
    static const struct {
        int64_t clumps, divisions;
        const char *sentence;
        cw_on_hand left;
    } rows[] = {
        { 1, 0, NULL, { 0, 1 } },
        { 0, 1, NULL, { 1, 0 } },
        { 1, 1, NULL, { 0, 0 } },
        { 0, 0, NULL, { 1, 1 } },
        { 2, 0, "lot L1 has 1 clumps, 2 cannot go", { 1, 1 } },
        { 1, 3, "lot L1 has 1 divisions, 3 cannot go", { 1, 1 } },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        shelf s;
        cw_error err = CW_ERROR_NONE;
        cw_on_hand left;
        make_shelf(&s);
        ok(&s, 1, 1, 100, 1, 0, "dug", "lot", 1);
        ok(&s, 1, 2, 101, 0, 1, "made", "dividing", 1);
        cw_movement m = { .at = 1,
                          .day = 110,
                          .actor = "t",
                          .lot = 1,
                          .place = -1,
                          .clumps = rows[i].clumps,
                          .divisions = rows[i].divisions,
                          .reason = "rotten",
                          .cause = "check",
                          .cause_id = 1 };
        cw_check_ok(cw_db_savepoint(s.db, &err), &err);
        assert_int_equal(cw_ledger_take(s.db, &m, &err), rows[i].sentence ? CW_CONFLICT : CW_OK);
        assert_string_equal(err.text, rows[i].sentence ? rows[i].sentence : "");
        if (rows[i].sentence)
            cw_db_undo(s.db);
        err = (cw_error)CW_ERROR_NONE;
        cw_check_ok(cw_ledger_lot(s.db, 1, &left, &err), &err);
        assert_int_equal(left.clumps, rows[i].left.clumps);
        assert_int_equal(left.divisions, rows[i].left.divisions);
        drop_shelf(&s);
    }
}

/* A day counts as a whole: what goes and comes on it may be written down in any order. What changes its place is still there. */
static void a_day_counts_as_a_whole(void **state)
{
    shelf s;
    cw_error err = CW_ERROR_NONE;
    cw_on_hand low;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    ok(&s, 1, 1, 110, 0, 4, "made", "dividing", 1);
    ok(&s, 1, 1, 112, -10, -4, "moved", "move", 1);
    ok(&s, 1, 2, 112, 10, 4, "moved", "move", 1);
    cw_check_ok(cw_ledger_free_on(s.db, 1, 100, &low, &err), &err);
    assert_int_equal(low.clumps, 10);
    assert_int_equal(low.divisions, 0);
    cw_check_ok(cw_ledger_free_on(s.db, 1, 110, &low, &err), &err);
    assert_int_equal(low.divisions, 4);
    /* All moves back on a day before: the place had it, and the lot has lost nothing. */
    ok(&s, 1, 2, 111, -10, -4, "moved", "move", 2);
    ok(&s, 1, 1, 111, 10, 4, "moved", "move", 2);
    ok(&s, 1, 1, 112, -2, 0, "divided", "dividing", 2);
    ok(&s, 1, 1, 113, 0, -4, "picked", "pick", 1);
    cw_check_ok(cw_ledger_on(s.db, 1, 111, &low, &err), &err);
    assert_int_equal(low.clumps, 10);
    assert_int_equal(low.divisions, 4);
    cw_check_ok(cw_ledger_free_on(s.db, 1, 111, &low, &err), &err);
    assert_int_equal(low.clumps, 8);
    assert_int_equal(low.divisions, 0);
    drop_shelf(&s);
}

/* What came is gone: it cannot be undone before what followed is; what is undone is a counter-entry of that day. */
static void what_is_undone_is_a_counter_entry(void **state)
{
    shelf s;
    cw_error err = CW_ERROR_NONE;
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    ok(&s, 1, 2, 110, 0, 4, "made", "dividing", 1);
    ok(&s, 1, 2, 112, 0, -3, "picked", "pick", 1);
    cw_check_ok(cw_db_savepoint(s.db, &err), &err);
    assert_int_equal(cw_ledger_reverse(s.db, "dividing", 1, 2, "t", "why", &err), CW_CONFLICT);
    assert_string_equal(err.text,
                        "lot L1 at place B: what came has gone since, so it cannot be undone; undo what "
                        "followed first");
    cw_db_undo(s.db);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_ledger_reverse(s.db, "dividing", 7, 2, "t", "why", &err), CW_NOT_FOUND);
    assert_string_equal(err.text, "there is nothing to undo of dividing 7");
    err = (cw_error)CW_ERROR_NONE;
    /* What came and went by one entry goes back whole, though less lies there than came. */
    cw_check_ok(cw_db_savepoint(s.db, &err), &err);
    ok(&s, 1, 1, 110, 0, 6, "made", "dividing", 5);
    ok(&s, 1, 1, 110, 0, -2, "rotten", "dividing", 5);
    cw_check_ok(cw_ledger_reverse(s.db, "dividing", 5, 2, "t", "why", &err), &err);
    cw_db_undo(s.db);
    cw_check_ok(cw_ledger_reverse(s.db, "pick", 1, 2, "u", "wrong slot", &err), &err);
    cw_check_ok(cw_ledger_reverse(s.db, "dividing", 1, 3, "v", "wrong lot", &err), &err);
    cw_check_ok(cw_db_commit(s.db, &err), &err);
    assert_int_equal(sqlite3_open(s.path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(raw,
                           "SELECT group_concat(at || ' ' || day || ' ' || actor || ' ' || lot_id || ' ' || "
                           "place_id || ' ' || clumps || ' ' || divisions || ' ' || reason || ' ' || cause "
                           "|| ' ' || cause_id || ' ' || reverses || ' ' || note, '; ') "
                           "FROM (SELECT * FROM movement WHERE reverses IS NOT NULL ORDER BY id)",
                           -1, &q, NULL),
        SQLITE_OK);
    assert_int_equal(sqlite3_step(q), SQLITE_ROW);
    assert_string_equal(
        (const char *)sqlite3_column_text(q, 0),
        "2 112 u 1 2 0 3 picked pick 1 3 wrong slot; 3 110 v 1 2 0 -4 made dividing 1 2 wrong lot");
    sqlite3_finalize(q);
    sqlite3_close(raw);
    drop_shelf(&s);
}

/* What no function does, the database refuses as well. */
static void the_ledger_is_only_added_to(void **state)
{
    static const char *const tries[] = {
        "UPDATE movement SET clumps = 11 WHERE id = 1",
        "DELETE FROM movement WHERE id = 1",
        "INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, reason, cause, cause_id)"
        " VALUES (1, 1, 'x', 1, 1, -11, 'rotten', 'check', 1)",
        "INSERT INTO movement (at, day, actor, lot_id, place_id, clumps, reason, cause, cause_id)"
        " VALUES (1, 1, 'x', 1, 1, 0, 'rotten', 'check', 1)",
    };
    shelf s;
    sqlite3 *raw = NULL;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    make_shelf(&s);
    ok(&s, 1, 1, 100, 10, 0, "dug", "lot", 1);
    cw_check_ok(cw_db_commit(s.db, &err), &err);
    assert_int_equal(sqlite3_open(s.path, &raw), SQLITE_OK);
    for (size_t i = 0; i < sizeof tries / sizeof tries[0]; i++) {
        print_message("%s\n", tries[i]);
        assert_int_equal(sqlite3_exec(raw, tries[i], NULL, NULL, NULL), SQLITE_CONSTRAINT);
    }
    sqlite3_close(raw);
    drop_shelf(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reasons_have_their_signs),
        cmocka_unit_test(where_nothing_ever_lay_there_is_nothing),
        cmocka_unit_test(no_place_and_no_day_holds_less_than_nothing),
        cmocka_unit_test(taking_goes_from_the_own_place_along_the_walk),
        cmocka_unit_test(the_wished_place_comes_first),
        cmocka_unit_test(no_undo_leaves_a_day_below_nothing),
        cmocka_unit_test(a_cause_is_reversed_once),
        cmocka_unit_test(what_cannot_go_is_said),
        cmocka_unit_test(one_is_taken_as_many_are),
        cmocka_unit_test(a_day_counts_as_a_whole),
        cmocka_unit_test(what_is_undone_is_a_counter_entry),
        cmocka_unit_test(the_ledger_is_only_added_to),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
