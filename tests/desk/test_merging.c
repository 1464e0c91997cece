/* SPDX-License-Identifier: MIT */
/* Two codes that are one variety: everything of the one becomes the other's, sums agree, every check holds, and undone it is as it
 * was, row by row. All data are invented. */
#include "support/intake.h"
#include "support/full.h"

#include "desk/forecast/forecast.h"
#include "store/offers.h"

#include "base/banned.h"

static cw_code merge_to(test_nursery *t, const char *code, const char *to, bool commit, cw_error *err)
{
    cw_table out = { 0 };
    cw_code done =
        cw_merging_merge(t->n, &t->who, code, to, commit ? "the same plant" : "", commit, &out, err);
    cw_table_free(&out);
    test_nursery_check(t);
    return done;
}

static cw_code part(test_nursery *t, const char *code, bool commit, cw_error *err)
{
    cw_table out = { 0 };
    cw_code done = cw_merging_undo(t->n, &t->who, code, commit ? "two plants" : "", commit, &out, err);
    cw_table_free(&out);
    test_nursery_check(t);
    return done;
}

static void merged(test_nursery *t, const char *code, const char *to)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(merge_to(t, code, to, true, &err), &err);
}

static void parted(test_nursery *t, const char *code)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(part(t, code, true, &err), &err);
}

/* A column of a table as text; a variety by its code, so that it may come back under another number. */
static void add_column(cw_text *sql, const char *table, const char *column)
{
    bool variety =
        strcmp(column, "variety_id") == 0 ||
        (strcmp(table, "relabelling") == 0 && (strcmp(column, "was") == 0 || strcmp(column, "became") == 0));
    cw_text_add(sql, " || '|' || quote(");
    if (variety)
        cw_text_addf(sql, "(SELECT code FROM variety WHERE id = \"%s\")", column);
    else
        cw_text_addf(sql, "\"%s\"", column);
    cw_text_add(sql, ")");
}

/* What a merge leaves alone, or leaves behind on purpose. */
static bool left_out(const char *table, const char *column)
{
    static const char *const tables[] = { "merging", "merged_row", "merging_stood",
                                          "audit",   "nursery",    "answered" };
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++)
        if (strcmp(table, tables[i]) == 0 || strncmp(table, "sqlite_", 7) == 0)
            return true;
    return column && (strcmp(table, "variety") == 0 || strcmp(table, "past_sale") == 0) &&
           (strcmp(column, "id") == 0 || strcmp(column, "version") == 0);
}

/* Every row of every table but those, in order. Free with free(). */
static char *all_rows(test_nursery *t)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *tables = NULL, *s = NULL;
    cw_text all = CW_TEXT(8000000);
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw,
                                        "SELECT m.name, group_concat(c.name, ' ') FROM sqlite_schema m, "
                                        "pragma_table_info(m.name) c WHERE m.type = 'table' GROUP BY m.name",
                                        -1, &tables, NULL),
                     SQLITE_OK);
    while (sqlite3_step(tables) == SQLITE_ROW) {
        const char *table = (const char *)sqlite3_column_text(tables, 0);
        char *columns = strdup((const char *)sqlite3_column_text(tables, 1)), *rest = NULL;
        cw_text sql = CW_TEXT(8000);
        if (!left_out(table, NULL)) {
            cw_text_addf(&sql, "SELECT '%s'", table);
            for (char *c = strtok_r(columns, " ", &rest); c; c = strtok_r(NULL, " ", &rest))
                if (!left_out(table, c))
                    add_column(&sql, table, c);
            cw_text_addf(&sql, " FROM \"%s\" ORDER BY 1", table);
            assert_int_equal(sqlite3_prepare_v2(raw, sql.data, -1, &s, NULL), SQLITE_OK);
            while (sqlite3_step(s) == SQLITE_ROW)
                cw_text_addf(&all, "%s\n", (const char *)sqlite3_column_text(s, 0));
            sqlite3_finalize(s);
        }
        cw_text_free(&sql);
        free(columns);
    }
    sqlite3_finalize(tables);
    sqlite3_close(raw);
    return all.data;
}

static void same_rows(const char *was, const char *is)
{
    const char *a = was, *b = is;
    while (*a && *a == *b)
        a++, b++;
    if (strcmp(was, is) != 0)
        print_error("was: ...%.300s\nis: ...%.300s\n", a - was > 80 ? a - 80 : was,
                    b - is > 80 ? b - 80 : is);
    assert_string_equal(a, b);
}

/* Something in each column of the varieties, so that one which a merge does not keep is missed: a column that comes later, too. */
static void fill_varieties(test_nursery *t)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *columns = NULL;
    char sql[200];
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(raw, "SELECT name, cid FROM pragma_table_info('variety')", -1, &columns, NULL),
        SQLITE_OK);
    while (sqlite3_step(columns) == SQLITE_ROW) {
        snprintf(sql, sizeof sql, "UPDATE variety SET \"%s\" = %d WHERE \"%s\" IS NULL",
                 (const char *)sqlite3_column_text(columns, 0), sqlite3_column_int(columns, 1),
                 (const char *)sqlite3_column_text(columns, 0));
        if (sqlite3_exec(raw, sql, NULL, NULL, NULL) != SQLITE_OK)
            fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
    }
    sqlite3_finalize(columns);
    sqlite3_close(raw);
}

/* Whichever of the two is kept, in a file with a row in every table. */
static void undone_it_is_as_it_was(void **state)
{
    (void)state;
    static const char *const codes[] = { "AMB", "BRI", "CIN", "DOV" };
    test_nursery t;
    full_make(&t);
    fill_varieties(&t);
    char *was = all_rows(&t);
    assert_true(strlen(was) > 4000);
    for (size_t i = 0; i < 4; i++)
        for (size_t j = 0; j < 4; j++) {
            if (i == j)
                continue;
            merged(&t, codes[i], codes[j]);
            parted(&t, codes[i]);
            char *is = all_rows(&t);
            same_rows(was, is);
            free(is);
        }
    free(was);
    test_nursery_free(&t);
}

#define SUM_OF(what, from) "SELECT COALESCE(SUM(" what "), 0) FROM " from

/* Two halves are a whole: what was both's is the one's, and the nursery's sums stand. */
static void sums_are_added(void **state)
{
    (void)state;
    static const char *const sums[] = {
        SUM_OF("1", "lot"),
        SUM_OF("quantity", "line"),
        SUM_OF("offered", "offering"),
        SUM_OF("sold", "offering"),
        SUM_OF("quantity", "allocation"),
        SUM_OF("taken", "pick"),
        SUM_OF("sold", "past_sale"),
        SUM_OF("quantity", "past_order"),
        SUM_OF("plants", "past_planting"),
        SUM_OF("plants", "planting"),
        SUM_OF("clumps * 1000 + divisions", "history"),
        SUM_OF("inspected", "past_check"),
        SUM_OF("hold_back + reserve", "variety"),
    };
    int64_t was[sizeof sums / sizeof sums[0]];
    test_nursery t;
    full_make(&t);
    for (size_t i = 0; i < sizeof sums / sizeof sums[0]; i++)
        was[i] = number_of(&t, sums[i]);
    int64_t lines = number_of(&t, "SELECT COUNT(*) FROM line WHERE variety_id IN (SELECT id FROM variety "
                                  "WHERE code IN ('AMB', 'BRI'))");
    merged(&t, "BRI", "AMB");
    for (size_t i = 0; i < sizeof sums / sizeof sums[0]; i++)
        assert_int_equal(number_of(&t, sums[i]), was[i]);
    assert_int_equal(
        number_of(&t,
                  "SELECT COUNT(*) FROM line WHERE variety_id = (SELECT id FROM variety WHERE code = 'AMB')"),
        lines);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety WHERE code = 'BRI'"), 0);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'merge varieties' AND subject = 'BRI'"), 1);
    test_nursery_free(&t);
}

static void load(test_nursery *t, const char *name, const char *text)
{
    loaded l = load_one(t, name, text);
    assert_string_equal(l.first, "");
    assert_int_equal(l.code, CW_OK);
}

/* A nursery in which a variety came under two codes; what rests on each is known to the unit. */
static void two_of_one(test_nursery *t)
{
    test_nursery_make(t);
    ok(load_all(t));
    load(t, "varieties.csv",
         "code,name,form,size,colour,price,hold_back,reserve,limit_per_order\n"
         "AM2,Amber Lamp,ball,small,orange,7.00,3,1,4\n");
    load(t, "lots.csv", "lot,variety,dug_on,clumps\nX1,AM2,2031-10-20,8\n");
    load(t, "past_sales.csv",
         "season,variety,sold,sold_out_on\n2029,AMB,60,2030-02-11\n2029,AM2,10,2030-02-20\n"
         "2030,AMB,41,2031-03-01\n2030,AM2,7,\n2028,AM2,5,2029-02-01\n");
    load(t, "past_plantings.csv", "season,variety,plants,clumps\n2030,AMB,40,33\n2030,AM2,10,9\n");
    load(t, "plantings.csv", "row,variety,plants,planted_on\nR9,AMB,30,2031-05-12\nR9,AM2,12,2031-05-12\n");
    load(t, "orders.csv",
         "order,received_at,line,variety,quantity,unit_price,consent,named\n"
         "1009,2032-01-25T10:00:00Z,1,AM2,3,7.00,,\n"
         "1009,2032-01-25T10:00:00Z,2,CIN,2,7.25,named,AM2\n");
}

static void what_both_have_is_added_up(void **state)
{
    (void)state;
    test_nursery t;
    two_of_one(&t);
    int64_t sold = number_of(&t, "SELECT sold FROM offering WHERE variety_id = 1");
    merged(&t, "AM2", "AMB");
    assert_int_equal(number_of(&t, "SELECT sold FROM offering WHERE variety_id = 1"), sold + 3);
    assert_int_equal(number_of(&t, "SELECT hold_back FROM variety WHERE code = 'AMB'"), 8);
    assert_int_equal(number_of(&t, "SELECT reserve FROM variety WHERE code = 'AMB'"), 3);
    assert_int_equal(number_of(&t, "SELECT price FROM variety WHERE code = 'AMB'"), 650);
    assert_int_equal(number_of(&t, "SELECT unit_price FROM line WHERE order_id = (SELECT id FROM orders "
                                   "WHERE number = '1009') AND line = 1"),
                     700);
    /* Sold out when both were, on the later day; one of them still to be had: not sold out. */
    assert_int_equal(number_of(&t, "SELECT sold FROM past_sale WHERE season = 2029"), 70);
    assert_int_equal(number_of(&t, "SELECT sold_out_on FROM past_sale WHERE season = 2029"),
                     cw_day_from_ymd(2030, 2, 20));
    assert_int_equal(number_of(&t, "SELECT sold_out_on IS NULL FROM past_sale WHERE season = 2030"), 1);
    assert_int_equal(number_of(&t, "SELECT sold_out_on FROM past_sale WHERE season = 2028"),
                     cw_day_from_ymd(2029, 2, 1));
    assert_int_equal(number_of(&t, "SELECT plants * 100 + clumps FROM past_planting WHERE season = 2030"),
                     5042);
    /* Two stretches of one row keep apart. */
    assert_int_equal(number_of(&t, "SELECT plants FROM planting WHERE row = 'R9-AM2'"), 12);
    assert_int_equal(number_of(&t, "SELECT plants FROM planting WHERE row = 'R9'"), 30);
    test_nursery_free(&t);
}

static void its_code_still_finds_it(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    cw_table out = { 0 };
    const cw_forecast_ask ask = { CW_NO_DAY, CW_NO_DAY, "AM2" };
    two_of_one(&t);
    merged(&t, "AM2", "AMB");
    cw_check_ok(cw_forecast_project(t.n, &t.who, &ask, &out, NULL, &err), &err);
    assert_string_equal(cw_table_text(&out, 0, 0), "AMB");
    cw_table_free(&out);
    int64_t sold = number_of(&t, "SELECT sold FROM offering WHERE variety_id = 1");
    load(&t, "orders.csv",
         "order,received_at,line,variety,quantity,unit_price\n1010,2032-01-26T10:00:00Z,1,AM2,2,6.50\n");
    assert_int_equal(number_of(&t, "SELECT sold FROM offering WHERE variety_id = 1"), sold + 2);
    /* The same lots and orders again say nothing new. */
    loaded l = load_one(&t, "lots.csv", "lot,variety,dug_on,clumps\nX1,AM2,2031-10-20,8\n");
    assert_int_equal(l.code, CW_OK);
    assert_int_equal(l.made + l.changed, 0);
    /* What half of it was says nothing of the whole: it is not taken for it. */
    static const struct {
        const char *name, *text;
    } halves[] = { { "varieties.csv", "code,name,price\nAM2,Amber Lantern,7.00\n" },
                   { "past_sales.csv", "season,variety,sold,sold_out_on\n2029,AM2,10,2030-02-20\n" },
                   { "past_orders.csv", "season,variety,ordered_on,quantity\n2029,AM2,2030-01-15,20\n" },
                   { "past_plantings.csv", "season,variety,plants,clumps\n2030,AM2,10,9\n" } };
    for (size_t i = 0; i < 4; i++) {
        l = load_one(&t, halves[i].name, halves[i].text);
        assert_int_equal(l.code, CW_CONFLICT);
        assert_non_null(strstr(l.first, "AM2"));
        assert_non_null(strstr(l.first, "AMB"));
    }
    assert_int_equal(number_of(&t, "SELECT sold FROM past_sale WHERE season = 2029"), 70);
    assert_int_equal(number_of(&t, "SELECT price FROM variety WHERE code = 'AMB'"), 650);
    test_nursery_free(&t);
}

/* Every way in which somebody touches the variety bars the way back, and says what it was. */
static void touched_it_stays_one(void **state)
{
    (void)state;
    static const struct {
        const char *file, *text, *part;
    } touches[] = {
        { "orders.csv",
          "order,received_at,line,variety,quantity,unit_price\n1010,2032-01-26T10:00:00Z,1,AMB,2,6.50\n",
          "orders" },
        { "history.csv", "season,variety,clumps,divisions\n2029,AMB,20,90\n", "past seasons" },
        { "counts.csv", "lot,counted_on,stage,count\nX1,2032-01-20,clump,7\n", "stock" },
        { "checks.csv", "lot,checked_on,stage,inspected,rotten\nX1,2032-01-20,clump,4,0\n", "checks" },
        { "varieties.csv", "code,name,price\nAMB,Amber Lantern,6.60\n", "its own row" },
        { "field_rounds.csv", "row,seen_on,alive\nR9-AM2,2031-07-10,11\n", "plantings" },
    };
    for (size_t i = 0; i < sizeof touches / sizeof touches[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        test_nursery t;
        two_of_one(&t);
        merged(&t, "AM2", "AMB");
        cw_check_ok(part(&t, "AM2", false, &err), &err);
        load(&t, touches[i].file, touches[i].text);
        assert_int_equal(part(&t, "AM2", true, &err), CW_CONFLICT);
        assert_non_null(strstr(err.text, touches[i].part));
        test_nursery_free(&t);
    }
}

/* The number of the row that is gone may be another variety's by then. */
static void its_number_was_given_away(void **state)
{
    (void)state;
    test_nursery t;
    two_of_one(&t);
    char *was = all_rows(&t);
    merged(&t, "AM2", "AMB");
    load(&t, "varieties.csv", "code,name\nNEW,New One\n");
    assert_int_equal(number_of(&t, "SELECT id FROM variety WHERE code = 'NEW'"), 4);
    parted(&t, "AM2");
    assert_int_equal(
        number_of(&t,
                  "SELECT COUNT(*) FROM lot l JOIN variety v ON v.id = l.variety_id WHERE v.code = 'NEW'"),
        0);
    char *is = all_rows(&t), *row = strstr(is, "variety|'NEW'|");
    assert_non_null(row);
    memmove(row, strchr(row, '\n') + 1, strlen(strchr(row, '\n') + 1) + 1);
    same_rows(was, is);
    free(was);
    free(is);
    test_nursery_free(&t);
}

static void refused_in_words(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    two_of_one(&t);
    assert_int_equal(merge_to(&t, "AMB", "AMB", true, &err), CW_REFUSED);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(merge_to(&t, "AM2", "NONE", true, &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(part(&t, "AM2", true, &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(merge_to(&t, "AM2", "AMB", false, &err), &err); /* a preview */
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM variety WHERE code = 'AM2'"), 1);
    /* One that was merged into another itself is parted from that first. */
    merged(&t, "AM2", "AMB");
    merged(&t, "AMB", "CIN");
    assert_int_equal(part(&t, "AM2", true, &err), CW_CONFLICT);
    parted(&t, "AMB");
    err = (cw_error)CW_ERROR_NONE;
    t.who.role = CW_ROLE_OFFICE;
    assert_int_equal(merge_to(&t, "CIN", "BRI", true, &err), CW_FORBIDDEN);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(part(&t, "AM2", true, &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

/* What was on offer of both, release by release. */
static void offers_are_added_release_by_release(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    two_of_one(&t);
    const struct {
        int64_t variety, offered;
    } steps[] = { { 1, 20 }, { 4, 9 }, { 1, 25 }, { 4, 5 } };
    assert_int_equal(number_of(&t, "SELECT id FROM variety WHERE code = 'AM2'"), 4);
    for (size_t i = 0; i < 4; i++) {
        int64_t before = 0;
        const cw_release r = { .variety_id = steps[i].variety,
                               .at = t.who.now + (cw_instant)i,
                               .actor = "owner",
                               .offered = steps[i].offered,
                               .confidence = 0.9,
                               .p_short = 0.1,
                               .basis = "{}" };
        cw_check_ok(cw_work_begin(t.n, &err), &err);
        cw_check_ok(cw_offer_release(t.n->db, &r, &before, &err), &err);
        cw_check_ok(cw_work_end(t.n, CW_OK, &err), &err);
    }
    merged(&t, "AM2", "AMB");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM release WHERE variety_id = 1"), 4);
    static const int64_t offered[] = { 20, 29, 34, 30 };
    for (int i = 0; i < 4; i++) {
        char sql[120];
        snprintf(sql, sizeof sql, "SELECT offered FROM release ORDER BY id LIMIT 1 OFFSET %d", i);
        assert_int_equal(number_of(&t, sql), offered[i]);
    }
    assert_int_equal(number_of(&t, "SELECT offered FROM offering WHERE variety_id = 1"), 30);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(undone_it_is_as_it_was),     cmocka_unit_test(sums_are_added),
        cmocka_unit_test(what_both_have_is_added_up), cmocka_unit_test(its_code_still_finds_it),
        cmocka_unit_test(touched_it_stays_one),       cmocka_unit_test(its_number_was_given_away),
        cmocka_unit_test(refused_in_words),           cmocka_unit_test(offers_are_added_release_by_release),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
