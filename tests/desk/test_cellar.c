/* SPDX-License-Identifier: MIT */
#include "support/small_cellar.h"

#include "desk/cellar/cellar.h"
#include "desk/forecast/forecast.h"

#include "base/banned.h"

static int64_t value(const json_t *doc, const char *list, size_t row, const char *name)
{
    return json_integer_value(json_object_get(json_array_get(json_object_get(doc, list), row), name));
}

static void a_lots_sheet_tells_its_story(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    json_t *sheet = NULL;
    (void)state;
    small_cellar(&t);
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = "L0";
    e.day = on(12, 5);
    e.clumps = 10;
    e.saleable = 47;
    e.blind = 6;
    e.rotten = 1;
    e.place = "B1";
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &e, &out, &err), &err);
    assert_string_equal(cw_table_text(&out, 0, 0), "L0");
    assert_string_equal(cw_table_text(&out, 0, 1), "dividing");
    assert_int_equal(cw_table_int(&out, 0, 3), 30);
    assert_int_equal(cw_table_int(&out, 0, 4), 47);
    int64_t session = cw_table_int(&out, 0, 2);
    cw_table_free(&out);
    e = (cw_cellar_entry)CW_CELLAR_ENTRY;
    e.lot = "L0";
    e.place = "B1";
    e.to = "A2";
    e.divisions = 20;
    cw_check_ok(cw_cellar_move(t.n, &t.who, &e, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_cellar_lot(t.n, "L0", &sheet, &err), &err);
    assert_int_equal(json_array_size(json_object_get(sheet, "balances")), 3);
    assert_int_equal(value(sheet, "balances", 1, "divisions"), 20);
    assert_int_equal(value(sheet, "sessions", 0, "saleable"), 47);
    assert_int_equal(json_array_size(json_object_get(sheet, "movements")),
                     6); /* dug, divided, rotten, made, moved twice */
    json_decref(sheet);
    /* What was made has been moved since: the session cannot be undone before the move is. */
    assert_int_equal(cw_cellar_undo(t.n, &t.who, "dividing", session, "wrong lot", &out, &err), CW_CONFLICT);
    assert_string_equal(
        err.text,
        "lot L0 at place B1: what came has gone since, so it cannot be undone; undo what followed first");
    cw_table_free(&out);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void wrong_entries_name_their_column(void **state)
{
    static const struct {
        const char *name, *lot, *stage, *place, *reason;
        int64_t clumps, divisions, saleable, inspected, rotten, count;
        int what; /* 0 divide, 1 check, 2 count, 3 move, 4 enter */
        const char *column;
        cw_code code;
    } rows[] = {
        { "no such lot", "L9", NULL, NULL, NULL, 1, -1, 2, -1, -1, -1, 0, "lot", CW_REFUSED },
        { "no lot", NULL, NULL, NULL, NULL, 1, -1, 2, -1, -1, -1, 0, "lot", CW_REFUSED },
        { "no clumps said", "L0", NULL, NULL, NULL, -1, -1, 2, -1, -1, -1, 0, "clumps", CW_REFUSED },
        { "more than there are", "L0", NULL, NULL, NULL, 41, -1, 2, -1, -1, -1, 0, "clumps", CW_CONFLICT },
        { "no such stage", "L0", "bud", NULL, NULL, -1, -1, -1, 3, 0, -1, 1, "stage", CW_REFUSED },
        { "more rotten than seen", "L0", "clump", NULL, NULL, -1, -1, -1, 3, 4, -1, 1, "rotten", CW_REFUSED },
        { "more rotten than there are", "L0", "clump", NULL, NULL, -1, -1, -1, 50, 41, -1, 1, "rotten",
          CW_CONFLICT },
        { "no such place", "L0", "clump", "Z", NULL, -1, -1, -1, -1, -1, 4, 2, "place", CW_REFUSED },
        { "nothing moved", "L0", NULL, "A1", NULL, 0, 0, -1, -1, -1, -1, 3, "clumps", CW_REFUSED },
        { "more moved than lie there", "L0", NULL, "A1", NULL, 41, -1, -1, -1, -1, -1, 3, "from",
          CW_CONFLICT },
        { "no such reason", "L0", NULL, NULL, "eaten", 1, -1, -1, -1, -1, -1, 4, "reason", CW_REFUSED },
        { "clumps planted", "L0", NULL, NULL, "planted", 1, -1, -1, -1, -1, -1, 4, "clumps", CW_REFUSED },
        { "discarded that is not there", "L0", NULL, NULL, "discarded", -1, 1, -1, -1, -1, -1, 4, "divisions",
          CW_CONFLICT },
    };
    static cw_code (*const what[])(cw_nursery *, const cw_asker *, const cw_cellar_entry *, cw_table *,
                                   cw_error *) = { cw_cellar_divide, cw_cellar_check, cw_cellar_count,
                                                   cw_cellar_move, cw_cellar_enter };
    test_nursery t;
    (void)state;
    small_cellar(&t);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        cw_cellar_entry e = CW_CELLAR_ENTRY;
        print_message("%s\n", rows[i].name);
        e.lot = rows[i].lot;
        e.stage = rows[i].stage;
        e.place = rows[i].place;
        e.reason = rows[i].reason;
        e.to = "B1";
        e.clumps = rows[i].clumps;
        e.divisions = rows[i].divisions;
        e.saleable = rows[i].saleable;
        e.inspected = rows[i].inspected;
        e.rotten = rows[i].rotten;
        e.count = rows[i].count;
        assert_int_equal(what[rows[i].what](t.n, &t.who, &e, &out, &err), rows[i].code);
        assert_string_equal(err.column, rows[i].column);
        cw_table_free(&out);
        test_nursery_check(&t);
    }
    test_nursery_free(&t);
}

typedef cw_code entering(cw_nursery *, const cw_asker *, const cw_cellar_entry *, cw_table *, cw_error *);

/* What is entered happened between digging and today, both days included; L0 was dug on 20 October. */
static void days_lie_between_digging_and_today(void **state)
{
    static const struct {
        const char *name;
        entering *what;
        cw_cellar_entry e;
    } rows[] = {
        { "divided", cw_cellar_divide, { .clumps = 1, .saleable = 2, .blind = 0, .rotten = 0 } },
        { "checked", cw_cellar_check, { .stage = "clump", .inspected = 3, .rotten = 1, .shrivelled = -1 } },
        { "counted", cw_cellar_count, { .stage = "clump", .count = 30 } },
        { "moved", cw_cellar_move, { .place = "A1", .to = "B1", .clumps = 1, .divisions = -1 } },
        { "discarded", cw_cellar_enter, { .reason = "discarded", .clumps = 1, .divisions = -1 } },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        test_nursery t;
        cw_cellar_entry e = rows[i].e;
        (void)state;
        small_cellar(&t);
        e.lot = "L0";
        const struct {
            const char *name;
            cw_day day;
            bool taken;
        } days[] = { { "the day before digging", on(10, 19), false },
                     { "tomorrow", t.who.today + 1, false },
                     { "the day of digging", on(10, 20), true },
                     { "today", t.who.today, true } };
        for (size_t d = 0; d < sizeof days / sizeof days[0]; d++) {
            cw_error err = CW_ERROR_NONE;
            cw_table out = { 0 };
            e.day = days[d].day;
            cw_code code = rows[i].what(t.n, &t.who, &e, &out, &err);
            if ((code == CW_OK) != days[d].taken ||
                (code != CW_OK && strstr(err.column, "day") == NULL && strstr(err.column, "_on") == NULL))
                fail_msg("%s %s: %d %s: %s", rows[i].name, days[d].name, (int)code, err.column, err.text);
            cw_table_free(&out);
        }
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
}

static int64_t clumps_projected(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table p = { 0 };
    cw_forecast_ask ask = { CW_NO_DAY, CW_NO_DAY, "AMB" };
    cw_check_ok(cw_forecast_project(t->n, &t->who, &ask, &p, NULL, &err), &err);
    int64_t clumps = cw_table_int(&p, 0, (size_t)cw_table_column(&p, "clumps"));
    cw_table_free(&p);
    return clumps;
}

/* The projection is kept until the stock changes; whatever is entered changes it. 65 clumps of AMB are dug. */
static void what_is_entered_is_in_the_next_projection(void **state)
{
    static const struct {
        const char *name;
        entering *what; /* NULL: the entry before is taken back */
        cw_cellar_entry e;
        int64_t clumps;
    } rows[] = {
        { "divided", cw_cellar_divide, { .clumps = 5, .saleable = 2, .blind = 0, .rotten = 0 }, 60 },
        { "checked",
          cw_cellar_check,
          { .stage = "clump", .inspected = 3, .rotten = 2, .shrivelled = -1 },
          58 },
        { "counted", cw_cellar_count, { .stage = "clump", .count = 30 }, 55 },
        { "discarded", cw_cellar_enter, { .reason = "discarded", .clumps = 1, .divisions = -1 }, 54 },
        { "undone", NULL, { .lot = NULL }, 55 },
        { "moved", cw_cellar_move, { .place = "A1", .to = "B1", .clumps = 1, .divisions = -1 }, 55 },
    };
    test_nursery t;
    int64_t cause = 0;
    (void)state;
    small_cellar(&t);
    assert_int_equal(clumps_projected(&t), 65);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        cw_revision before, after;
        cw_cellar_entry e = rows[i].e;
        e.lot = "L0";
        e.day = t.who.today;
        cw_check_ok(cw_nursery_revision(t.n, &before, &err), &err);
        cw_code code = rows[i].what ? rows[i].what(t.n, &t.who, &e, &out, &err)
                                    : cw_cellar_undo(t.n, &t.who, "entry", cause, "not that lot", &out, &err);
        cw_check_ok(code, &err);
        cause = cw_table_int(&out, 0, 2);
        cw_table_free(&out);
        cw_check_ok(cw_nursery_revision(t.n, &after, &err), &err);
        if (after.stock <= before.stock || clumps_projected(&t) != rows[i].clumps)
            fail_msg("%s: revision %lld after %lld, %lld clumps projected", rows[i].name,
                     (long long)after.stock, (long long)before.stock, (long long)clumps_projected(&t));
    }
    test_nursery_free(&t);
}

static void lists_show_what_lies_where(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    json_t *air = NULL;
    (void)state;
    small_cellar(&t);
    cw_check_ok(cw_cellar_lots(t.n, "AMB", &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 2);
    assert_string_equal(cw_table_text(&out, 0, 9), "A1");
    cw_table_free(&out);
    cw_check_ok(cw_cellar_places(t.n, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 4); /* and the one that nobody wrote down, last */
    assert_int_equal(cw_table_int(&out, 3, 4), 60);
    cw_table_free(&out);
    cw_check_ok(cw_cellar_movements(t.n, on(10, 22), on(10, 22), &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    cw_table_free(&out);
    load_text(&t, "air.csv",
              "room,at,temp_f,rh\nnorth,2032-01-01T06:00:00Z,42,94\nsouth,2032-01-01T06:00:00Z,43,95\n");
    cw_check_ok(cw_cellar_air(t.n, NULL, &air, &err), &err);
    assert_int_equal(json_array_size(json_object_get(air, "rooms")), 2);
    const json_t *point = json_array_get(json_object_get(air, "points"), 0);
    cw_check_near("42 F", json_real_value(json_object_get(point, "temp_c")), 5.56, 1e-9);
    /* e_s(5.56 C) = 908.5 Pa by the formula of IAPWS R7-97 (tests/published holds it to the tables); 6 % of it. */
    cw_check_near("vpd", json_real_value(json_object_get(point, "vpd_pa")), 54.5, 0.01);
    json_decref(air);
    test_nursery_free(&t);
}

/* What each entry answers and puts on record: what the lot holds now, the figures as they were typed, and what was undone. */
static void each_entry_is_on_record(void **state)
{
    static const struct {
        entering *what;
        cw_cellar_entry e;
    } rows[] = {
        { cw_cellar_divide,
          { .lot = "L0", .clumps = 5, .saleable = 20, .blind = 2, .rotten = 1, .place = "B1" } },
        { cw_cellar_check,
          { .lot = "L0",
            .stage = "division",
            .inspected = 20,
            .rotten = 1,
            .shrivelled = 2,
            .why = "suspicion" } },
        { cw_cellar_count, { .lot = "L1", .stage = "clump", .count = 24, .place = "A2", .looked = "yes" } },
        { cw_cellar_move, { .lot = "L2", .clumps = 1, .divisions = CW_NOT_SAID, .to = "A1" } },
        { cw_cellar_move, { .lot = "L0", .clumps = 1, .divisions = 16, .place = "B1", .to = "A2" } },
        { cw_cellar_move,
          { .lot = "L0", .clumps = CW_NOT_SAID, .divisions = 16, .place = "B1", .to = "A2" } },
        { cw_cellar_enter,
          { .lot = "L0",
            .reason = "planted",
            .clumps = CW_NOT_SAID,
            .divisions = 3,
            .place = "A2",
            .note = "row 9" } },
        { cw_cellar_enter, { .lot = "L2", .reason = "discarded", .clumps = 2, .divisions = CW_NOT_SAID } },
    };
    test_nursery t;
    cw_text said = CW_TEXT(1 << 16);
    char sql[160];
    (void)state;
    small_cellar(&t);
    int64_t since = number_of(&t, "SELECT MAX(id) FROM audit"), undo = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        cw_cellar_entry e = rows[i].e;
        e.day = CW_NO_DAY;
        cw_code code = rows[i].what(t.n, &t.who, &e, &out, &err);
        cw_text_addf(&said, "%d %s %s\n", (int)code, err.column, err.text);
        for (size_t c = 0; code == CW_OK && c < 5; c++) {
            if (c == 0 || c == 1)
                cw_text_addf(&said, " %s", cw_table_text(&out, 0, c));
            else
                cw_text_addf(&said, " %lld", (long long)cw_table_int(&out, 0, c));
        }
        cw_text_addf(&said, "\n");
        undo = i == 3 && code == CW_OK ? cw_table_int(&out, 0, 2) : undo;
        cw_table_free(&out);
    }
    is_text(said.data, "0  \n"
                       " L0 dividing 1 35 20\n"
                       "0  \n"
                       " L0 check 1 35 17\n"
                       "0  \n"
                       " L1 stock_take 1 24 0\n"
                       "0  \n"
                       " L2 move 10 60 0\n"
                       "3 from lot L0 at place B1 has 0 clumps, 1 cannot go\n"
                       "\n"
                       "0  \n"
                       " L0 move 12 35 17\n"
                       "0  \n"
                       " L0 entry 14 35 14\n"
                       "0  \n"
                       " L2 entry 15 58 0\n");
    cw_text_free(&said);
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_cellar_undo(t.n, &t.who, "move", undo, "the wrong one", &out, &err), &err);
    csv_is(&out, "lot,cause,cause_id,clumps,divisions\n"
                 "L2,move,10,58,0\n");
    snprintf(sql, sizeof sql, "SELECT actor, action, subject, before, after FROM audit WHERE id > %lld",
             (long long)since);
    rows_are(&t, sql,
             "tester|dividing session|lot L0||divided_on 2032-02-01, clumps 5, saleable 20, blind 2, rotten "
             "1, place B1\n"
             "tester|check|lot L0||checked_on 2032-02-01, stage division, inspected 20, rotten 1, shrivelled "
             "2, why suspicion\n"
             "tester|stock-take|lot L1||counted_on 2032-02-01, stage clump, count 24, place A2, looked yes\n"
             "tester|move|lot L2||from nowhere to A1, clumps 1, divisions 0\n"
             "tester|move|lot L0||from B1 to A2, clumps 0, divisions 16\n"
             "tester|entry|lot L0||planted, clumps 0, divisions 3\n"
             "tester|entry|lot L2||discarded, clumps 2, divisions 0\n"
             "tester|undo|lot L2||the wrong one\n");
    rows_are(&t,
             "SELECT l.code, m.day, p.code, m.clumps, m.divisions, m.reason, m.cause, m.reverses, m.note "
             "FROM movement m "
             "JOIN lot l ON l.id = m.lot_id JOIN place p ON p.id = m.place_id WHERE m.reason <> 'dug' ORDER "
             "BY m.id",
             "L0|22676|A1|-4|0|divided|dividing||\n"
             "L0|22676|A1|-1|0|rotten|dividing||\n"
             "L0|22676|B1|0|20|made|dividing||\n"
             "L0|22676|B1|0|-1|rotten|check||\n"
             "L0|22676|B1|0|-2|shrivelled|check||\n"
             "L1|22676|A2|-1|0|missing|stock_take||\n"
             "L2|22676||-1|0|moved|move||\n"
             "L2|22676|A1|1|0|moved|move||\n"
             "L0|22676|B1|0|-16|moved|move||\n"
             "L0|22676|A2|0|16|moved|move||\n"
             "L0|22676|A2|0|-3|planted|entry||row 9\n"
             "L2|22676||-2|0|discarded|entry||\n"
             "L2|22676||1|0|moved|move|10|the wrong one\n"
             "L2|22676|A1|-1|0|moved|move|11|the wrong one\n");
    cw_check_ok(cw_cellar_places(t.n, &out, &err), &err);
    csv_is(&out, "place,room,walk_order,lots,clumps,divisions\n"
                 "A1,north,10,1,35,0\n"
                 "A2,north,20,2,24,13\n"
                 "B1,south,30,1,0,1\n"
                 ",,1000000000,1,58,0\n");
    assert_int_equal(cw_cellar_undo(t.n, &t.who, "move", undo, "again", &out, &err), CW_NOT_FOUND);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* One clump, one division: lists show a place or a lot that holds no more. */
static void one_is_shown_as_many_are(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    (void)state;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", "code,name\nAMB,Amber Lantern\n");
    load_text(&t, "places.csv", "place,room,walk_order\nA1,north,10\nA2,north,20\nA3,north,30\n");
    load_text(
        &t, "lots.csv",
        "lot,variety,dug_on,clumps,place\nL0,AMB,2031-10-20,2,A1\nL1,AMB,2031-10-21,1,A2\nL2,AMB,2031-10-22,"
        "1,\n");
    cw_cellar_entry cut = {
        .lot = "L0", .day = CW_NO_DAY, .clumps = 2, .saleable = 1, .blind = 0, .rotten = 0, .place = "A1"
    };
    cw_check_ok(cw_cellar_divide(t.n, &t.who, &cut, &out, &err), &err);
    cw_table_free(&out);
    cw_cellar_entry look = {
        .lot = "L1", .day = CW_NO_DAY, .stage = "clump", .inspected = 1, .rotten = 0, .shrivelled = -1
    };
    cw_check_ok(cw_cellar_check(t.n, &t.who, &look, &out, &err), &err);
    int64_t check = cw_table_int(&out, 0, 2);
    cw_table_free(&out);
    cw_check_ok(cw_cellar_undo(t.n, &t.who, "check", check, "not looked at", &out, &err),
                &err); /* so it was never checked */
    cw_table_free(&out);
    load_text(&t, "weighings.csv", "sample,weighed_on,lot,kg\nS1,2031-12-06,L0,2.0\nS2,2031-12-06,L2,3.0\n");
    load_text(&t, "air.csv",
              "room,at,temp_c,rh\nnorth,2032-01-01T06:00:00Z,6,94\nsouth,2032-01-01T06:00:00Z,6,95\n");
    for (int south = 0; south < 2; south++) { /* what lies nowhere may be in any room */
        json_t *air = NULL;
        cw_check_ok(cw_cellar_air(t.n, south ? "south" : "north", &air, &err), &err);
        assert_int_equal(json_array_size(json_object_get(air, "weighings")), south ? 1 : 2);
        assert_int_equal(json_array_size(json_object_get(air, "points")), 1);
        json_decref(air);
    }
    cw_check_ok(cw_cellar_places(t.n, &out, &err), &err);
    csv_is(&out, "place,room,walk_order,lots,clumps,divisions\nA1,north,10,1,0,1\nA2,north,20,1,1,0\nA3,"
                 "north,30,0,0,0\n"
                 ",,1000000000,1,1,0\n");
    cw_check_ok(cw_cellar_lots(t.n, NULL, &out, &err), &err);
    csv_is(&out,
           "lot,variety,name,row,dug_on,dug,culled,clumps,divisions,places,last_checked,held\n"
           "L0,AMB,Amber Lantern,,2031-10-20,2,0,0,1,A1,,\nL1,AMB,Amber Lantern,,2031-10-21,1,0,1,0,A2,,\n"
           "L2,AMB,Amber Lantern,,2031-10-22,1,0,1,0,,,\n");
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_lots_sheet_tells_its_story),
        cmocka_unit_test(wrong_entries_name_their_column),
        cmocka_unit_test(days_lie_between_digging_and_today),
        cmocka_unit_test(what_is_entered_is_in_the_next_projection),
        cmocka_unit_test(each_entry_is_on_record),
        cmocka_unit_test(one_is_shown_as_many_are),
        cmocka_unit_test(lists_show_what_lies_where),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
