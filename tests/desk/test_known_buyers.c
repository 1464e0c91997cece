/* SPDX-License-Identifier: MIT */
/* Buyers go along into the next season when the owner asks for it, each once and without an order; nobody who was forgotten is known
 * again, in whichever season that was. All data are invented. */
#include "support/intake.h"

#include "desk/closing/closing.h"
#include "desk/buyers/forgetting.h"
#include "desk/orders/ordering.h"
#include "store/season.h"
#include "desk/nursery/past.h"
#include <sqlite3.h>

#include "base/banned.h"

/* Fern ordered twice, once without her e-mail address, and moved in between; Ivo named his substitutes; Old is long ago. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    today(t, 2032, 3, 20);
    must_load(t, "varieties.csv", varieties);
    must_load(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,tier,customer,name2,email,phone,street,"
              "town,postcode,"
              "country,region,language,zone,consent,named\n"
              "1,2031-12-05T10:00:00Z,1,AMB,1,6.50,retail,Fern Amblow,,fern@example.org,1,Old Lane "
              "1,Elmton,54 321,US,,,z7,none,\n"
              "2,2032-02-06T10:00:00Z,1,AMB,1,6.50,retail,Fern Amblow,c/o Moss,Fern@Example.org,2,New Lane "
              "2,Elmton,54321,US,,de,,any,\n"
              "2,2032-02-06T10:00:00Z,2,BRI,1,8.00,retail,Fern Amblow,c/o Moss,Fern@Example.org,2,New Lane "
              "2,Elmton,54321,US,,de,,any,\n"
              "3,2032-02-07T10:00:00Z,1,BRI,1,8.00,wholesale,Ivo Brook,,,,,,999,DE,,,,named,AMB\n"
              "4,2031-11-01T10:00:00Z,1,BRI,1,8.00,retail,Old Hand,,old@example.org,,,,111,US,,,,same,\n"
              "5,2032-01-01T10:00:00Z,1,BRI,1,8.00,retail,FERN AMBLOW,,,,,,54321,US,,,,same,\n"
              "6,2032-02-01T10:00:00Z,1,CIN,1,7.25,retail,,,,,,,222,US,,,,same,\n");
}

static int64_t number(const char *path, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &s, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t v = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return v;
}

static bool in_bytes(const char *path, const char *needle)
{
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    assert_int_equal(fseek(f, 0, SEEK_END), 0);
    size_t n = (size_t)ftell(f);
    rewind(f);
    char *bytes = malloc(n + 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, n, f), n);
    fclose(f);
    bool is = memmem(bytes, n, needle, strlen(needle)) != NULL;
    free(bytes);
    return is;
}

static const char *path_of(const test_nursery *t, int season, char out[140])
{
    snprintf(out, 140, "%s/%d.db", t->folder, season);
    return out;
}

static cw_code next(test_nursery *t, int season, const cw_day *since, cw_table *out, cw_error *err)
{
    char path[140];
    const cw_next n = { .path = path_of(t, season, path),
                        .season = season,
                        .ship = cw_day_from_ymd(season + 1, 4, 18),
                        .leave_open = true,
                        .buyers_since = since };
    return cw_closing_next(t->n, &t->who, &n, true, out, err);
}

/* Closes the season and opens the next one from it, with buyers since a day. */
static test_nursery turn(test_nursery *t, int season, cw_day since)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char path[140];
    test_nursery u = *t;
    cw_check_ok(next(t, season, &since, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_nursery_open(path_of(t, season, path), CW_WORK, "test", &u.n, &err), &err);
    cw_copy(u.path, sizeof u.path, path);
    return u;
}

static long broken_of(test_nursery *u, test_nursery *past)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    long broken = 0;
    cw_check_ok(cw_closing_prove(u->n, past->n, &u->who, &out, &broken, &err), &err);
    cw_table_free(&out);
    return broken;
}

static size_t forget(test_nursery *t, const char *customer, cw_day before)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(
        cw_forgetting(t->n, &t->who, &(cw_forget_ask){ .customer = customer, .before = before }, &out, &err),
        &err);
    cw_check_ok(cw_forgetting_wipe(t->n, t->who.now, &err), &err);
    size_t rows = cw_table_rows(&out);
    cw_table_free(&out);
    return rows;
}

/* "Fern Amblow|New Lane 2|any|2031;" for each that the order desk finds. */
static void found(test_nursery *t, const char *text, char out[400])
{
    cw_error err = CW_ERROR_NONE;
    cw_table rows = { 0 };
    size_t used = 0;
    out[0] = '\0';
    cw_check_ok(cw_ordering_buyers(t->n, &t->who, text, &rows, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&rows); i++)
        used += (size_t)snprintf(out + used, 400 - used, "%s|%s|%s|%lld;", cw_table_text(&rows, i, 0),
                                 cw_table_text(&rows, i, 4), cw_table_text(&rows, i, 12),
                                 (long long)cw_table_int(&rows, i, 13));
    cw_table_free(&rows);
}

static void ship_all(test_nursery *t)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "UPDATE orders SET state = 'shipped'", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
}

static void each_goes_once_as_of_the_last_order(void **state)
{
    (void)state;
    test_nursery t, u;
    char rows[400];
    make(&t);
    u = turn(&t, 2032, cw_day_from_ymd(2031, 12, 1));
    /* Fern as of February (with and without her address, and in other letters, one person); Ivo; who has no name is nobody. */
    assert_int_equal(number(u.path, "SELECT COUNT(*) FROM known_buyer"), 2);
    found(&u, "fern", rows);
    assert_string_equal(rows, "Fern Amblow|New Lane 2|any|2031;");
    found(&u, "999", rows); /* what he named were those of that order */
    assert_string_equal(rows, "Ivo Brook||none|2031;");
    assert_int_equal(number(u.path,
                            "SELECT COUNT(*) FROM known_buyer WHERE name2 = 'c/o Moss' AND phone = '2' "
                            "AND town = 'Elmton' AND postcode = '54321' AND country = 'US' AND "
                            "language = 'de' AND email = 'Fern@Example.org' AND zone IS NULL"),
                     1);
    assert_int_equal(number(u.path, "SELECT COUNT(*) FROM known_buyer WHERE tier = 'wholesale'"), 1);
    assert_int_equal(number(u.path, "SELECT COUNT(*) FROM orders"), 0);
    assert_false(in_bytes(u.path, "Old Lane")); /* an order's address of before */
    assert_false(in_bytes(u.path, "old@example.org"));
    assert_int_equal(broken_of(&u, &t), 0);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

static void nobody_goes_unless_it_is_asked(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t, u, v;
    cw_table out = { 0 };
    char path[140];
    make(&t);
    u = turn(&t, 2032, cw_day_from_ymd(2031, 1, 1));
    assert_int_equal(number(u.path, "SELECT COUNT(*) FROM known_buyer"), 3);
    /* Those who were known stay behind, too, when nobody asks for them again. */
    today(&u, 2033, 3, 20);
    cw_check_ok(next(&u, 2033, NULL, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number(path_of(&u, 2033, path), "SELECT COUNT(*) FROM known_buyer"), 0);
    assert_false(in_bytes(path, "Ivo Brook"));
    /* A day to come is a slip of the pen. */
    const cw_day tomorrow = u.who.today + 1;
    v = u;
    cw_check_ok(cw_closing_reopen(u.n, &u.who, "try", &err), &err);
    assert_int_equal(next(&v, 2034, &tomorrow, &out, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "is a day to come"));
    cw_table_free(&out);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

static void over_the_years_each_is_as_of_the_last_order(void **state)
{
    (void)state;
    test_nursery t, u, v;
    char rows[400];
    make(&t);
    u = turn(&t, 2032, cw_day_from_ymd(2031, 1, 1));
    today(&u, 2033, 3, 20);
    must_load(
        &u, "orders.csv",
        "order,received_at,line,variety,quantity,unit_price,customer,email,street,postcode,country,consent\n"
        "7,2033-02-06T10:00:00Z,1,AMB,1,6.50,Fern Amblow,fern@example.org,Third Lane 3,54321,US,same\n");
    found(&u, "fern", rows); /* this season's first */
    assert_string_equal(rows, "Fern Amblow|Third Lane 3|same|2032;Fern Amblow|New Lane 2|any|2031;");
    v = turn(&u, 2033, cw_day_from_ymd(2031, 12, 1)); /* who ordered last in November 2031 is too long ago */
    found(&v, "a", rows);
    assert_string_equal(rows, "Fern Amblow|Third Lane 3|same|2032;");
    found(&v, "o", rows); /* example.org, Brook */
    assert_string_equal(rows, "Fern Amblow|Third Lane 3|same|2032;Ivo Brook||none|2031;");
    assert_int_equal(number(v.path, "SELECT COUNT(*) FROM known_buyer"), 2);
    assert_int_equal(broken_of(&v, &u), 0);
    assert_int_equal(broken_of(&v, &t), 0);
    cw_nursery_close(v.n);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

static void who_was_forgotten_stays_forgotten(void **state)
{
    (void)state;
    test_nursery t, u, v;
    char rows[400];
    make(&t);
    ship_all(&t);
    assert_int_equal(forget(&t, "fern@example.org", CW_NO_DAY), 2);
    assert_int_equal(forget(&t, "Fern Amblow", CW_NO_DAY), 1); /* the order without an address */
    u = turn(&t, 2032, cw_day_from_ymd(2031, 1, 1));
    assert_int_equal(number(u.path, "SELECT COUNT(*) FROM known_buyer"), 2);
    assert_false(in_bytes(u.path, "Fern"));
    /* Forgotten in the season that knows them from before: gone from its bytes, and from all that is made of it. */
    today(&u, 2033, 3, 20);
    assert_true(in_bytes(u.path, "Ivo Brook"));
    assert_int_equal(forget(&u, "ivo brook", CW_NO_DAY), 1);
    assert_false(in_bytes(u.path, "Ivo Brook"));
    found(&u, "brook", rows);
    assert_string_equal(rows, "");
    v = turn(&u, 2033, cw_day_from_ymd(2031, 1, 1));
    assert_int_equal(number(v.path, "SELECT COUNT(*) FROM known_buyer"), 1); /* Old Hand */
    assert_int_equal(broken_of(&v, &u), 0);
    assert_int_equal(broken_of(&v, &t), 0);
    cw_nursery_close(v.n);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

/* Forgotten in a closed season whose buyers went along: the proof tells that the next one still knows them. */
static void a_closed_seasons_forgetting_is_told(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t, u;
    cw_closed closed = { 0 };
    bool is = false;
    make(&t);
    ship_all(&t);
    u = turn(&t, 2032, cw_day_from_ymd(2031, 1, 1));
    cw_check_ok(cw_closing_state(t.n, &is, &closed, &err), &err);
    assert_true(is);
    assert_int_equal(closed.buyers, 3);
    assert_int_equal(forget(&t, "Ivo Brook", CW_NO_DAY), 1);
    assert_int_equal(broken_of(&u, &t), 1);
    assert_int_equal(forget(&u, "Ivo Brook", CW_NO_DAY), 1);
    assert_int_equal(broken_of(&u, &t), 0);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

/* The power went before the mark; then somebody was forgotten. The file that was made still knows them, so it is not taken. */
static void a_file_made_before_a_forgetting_is_not_taken(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t, u;
    cw_table out = { 0 };
    const cw_day since = cw_day_from_ymd(2031, 1, 1);
    char path[140];
    sqlite3 *raw = NULL;
    make(&t);
    ship_all(&t);
    u = turn(&t, 2032, since);
    cw_nursery_close(u.n);
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "DELETE FROM closing", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
    assert_int_equal(forget(&t, "Ivo Brook", CW_NO_DAY), 1);
    assert_int_equal(next(&t, 2032, &since, &out, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "2032.db was made; remove that file"));
    cw_table_free(&out);
    assert_int_equal(unlink(path_of(&t, 2032, path)), 0);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(next(&t, 2032, &since, &out, &err), &err);
    cw_table_free(&out);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM known_buyer"), 2);
    test_nursery_free(&t);
}

/* The rule of keeping reaches those who are known, too: whoever ordered since is kept, and all that is known of them. */
static void out_of_date(void **state)
{
    (void)state;
    test_nursery t, u;
    make(&t);
    u = turn(&t, 2032, cw_day_from_ymd(2031, 1, 1));
    today(&u, 2033, 3, 20);
    must_load(&u, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,postcode\n"
              "7,2033-02-06T10:00:00Z,1,AMB,1,6.50,old hand,1 11\n");
    assert_int_equal(forget(&u, NULL, cw_day_from_ymd(2031, 11, 2)), 0); /* Old Hand is Old Hand */
    assert_int_equal(forget(&u, NULL, cw_day_from_ymd(2032, 2, 7)), 1);  /* Fern, of the day before */
    assert_int_equal(forget(&u, NULL, cw_day_from_ymd(2032, 2, 8)), 1);  /* Ivo */
    assert_int_equal(number(u.path, "SELECT COUNT(*) FROM known_buyer"), 1);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

/* Nobody went along, but the season's file is served: the order desk finds them there, and packers look nobody up. */
static void past_files_know_buyers(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t, u;
    cw_table out = { 0 };
    char path[140], rows[400];
    make(&t);
    cw_check_ok(next(&t, 2032, NULL, &out, &err), &err);
    cw_table_free(&out);
    u = t;
    cw_check_ok(cw_nursery_open(path_of(&t, 2032, path), CW_WORK, "test", &u.n, &err), &err);
    found(&u, "fern", rows);
    assert_string_equal(rows, "");
    cw_check_ok(cw_past_open(u.n, t.path, &err), &err);
    found(&u, "new lane", rows); /* streets are not looked through */
    assert_string_equal(rows, "");
    found(&u, "54321", rows);
    assert_string_equal(rows, "Fern Amblow|New Lane 2|any|2031;FERN AMBLOW||same|2031;");
    found(&u, "_ern", rows); /* a letter, not a pattern */
    assert_string_equal(rows, "");
    cw_asker packer = u.who;
    packer.role = CW_ROLE_PACKER;
    assert_int_equal(cw_ordering_buyers(u.n, &packer, "fern", &out, &err), CW_FORBIDDEN);
    cw_table_free(&out);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_goes_once_as_of_the_last_order),
        cmocka_unit_test(nobody_goes_unless_it_is_asked),
        cmocka_unit_test(over_the_years_each_is_as_of_the_last_order),
        cmocka_unit_test(who_was_forgotten_stays_forgotten),
        cmocka_unit_test(a_closed_seasons_forgetting_is_told),
        cmocka_unit_test(a_file_made_before_a_forgetting_is_not_taken),
        cmocka_unit_test(out_of_date),
        cmocka_unit_test(past_files_know_buyers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
