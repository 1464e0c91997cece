/* SPDX-License-Identifier: MIT */
/* A season is closed, and the next one opened from it: nothing learned is lost, nobody's name goes along, what was promised
 * stays where it was. All data are invented; the calendar's cases are those of ISO 8601 (53 weeks in 2026 and 2032) and of the
 * Gregorian leap year. */
#include "support/intake.h"

#include "desk/closing/closing.h"
#include "desk/forecast/forecast_inside.h"
#include "desk/buyers/claims.h"
#include "desk/buyers/forgetting.h"
#include "desk/orders/notices.h"
#include "desk/orders/ordering.h"
#include "desk/cellar/cellar.h"
#include "store/turning.h"
#include <math.h>
#include <sqlite3.h>

#include "base/banned.h"

/* A whole winter: two lots of a variety cut in several sessions, looks of every kind, weighed crates, drying, orders. */
static void make(test_nursery *t)
{
    test_nursery_make(t);
    must_load(t, "varieties.csv", varieties);
    must_load(t, "places.csv", places);
    must_load(t, "zones.csv", "zone,first_week\nnorth,2032-W18\nsouth,2032-W53\n");
    must_load(t, "destinations.csv", "country,region,rule,note\nAU,,block,no\n");
    must_load(t, "history.csv",
              "season,variety,clumps,divisions\n2029,AMB,60,260\n2030,AMB,55,231\n2030,BRI,40,120\n");
    must_load(t, "past_checks.csv",
              "season,variety,stage,weeks,inspected,rotten,shrivelled\n2030,AMB,division,9,200,7,4\n");
    must_load(t, "air.csv",
              "room,at,temp_c,rh\nsouth,2031-11-01T06:00:00Z,6,88\nsouth,2031-12-20T06:00:00Z,7,84\n"
              "south,2032-02-01T06:00:00Z,6,90\n");
    must_load(t, "lots.csv", lots);
    must_load(t, "divisions.csv", divisions);
    must_load(t, "checks.csv", checks);
    today(t, 2032, 3, 20);
    must_load(t, "divisions.csv",
              "lot,divided_on,clumps,saleable,rotten,place\nL1,2032-02-11,15,58,2,B1\n"
              "L2,2032-02-12,12,33,0,B1\nL1,2032-03-01,9,31,1,B1\n");
    must_load(t, "checks.csv",
              "lot,checked_on,stage,inspected,rotten,shrivelled,why\n"
              "L2,2032-02-20,division,20,2,0,round\nL1,2032-03-05,division,60,9,3,suspicion\n"
              "L2,2032-03-06,clump,10,1,,suspicion\n");
    must_load(t, "weighings.csv",
              "sample,weighed_on,lot,kg\nS1,2031-12-06,L1,2.0000\nS1,2032-01-25,L1,1.9000\n"
              "S2,2031-12-06,L2,3.1\nS2,2032-02-25,L2,2.9\n");
    must_load(t, "counts.csv", "lot,counted_on,stage,count,place\nL2,2032-03-10,division,40,\n");
    must_load(t, "orders.csv", orders);
}

static void open_as(test_nursery *t, const char *path, test_nursery *out)
{
    cw_error err = CW_ERROR_NONE;
    *out = *t;
    cw_check_ok(cw_nursery_open(path, CW_WORK, "test", &out->n, &err), &err);
}

static cw_code next(test_nursery *t, const char *path, bool commit, bool leave, cw_error *err)
{
    cw_table out = { 0 };
    const cw_next n = { path, 2032, cw_day_from_ymd(2033, 4, 18), leave };
    cw_code code = cw_closing_next(t->n, &t->who, &n, commit, &out, err);
    cw_table_free(&out);
    return code;
}

/* Refused so; `err` tells the last of them. */
static void refused(cw_code code, cw_code as)
{
    assert_int_equal(code, as);
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

static void a_preview_leaves_nothing(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120], making[140];
    make(&t);
    snprintf(path, sizeof path, "%s/next.db", t.folder);
    snprintf(making, sizeof making, "%s.making", path);
    cw_check_ok(next(&t, path, false, true, &err), &err);
    assert_int_not_equal(access(path, F_OK), 0);
    assert_int_not_equal(access(making, F_OK), 0);
    must_load(&t, "lots.csv",
              "lot,variety,dug_on,clumps\nL9,CIN,2031-10-20,3\n"); /* and the season is open */
    test_nursery_free(&t);
}

/* The season is closed after this. */
static void close_it(test_nursery *t, char path[120])
{
    cw_error err = CW_ERROR_NONE;
    snprintf(path, 120, "%s/next.db", t->folder);
    cw_check_ok(next(t, path, true, true, &err), &err);
}

static double log_rate(const cw_rate *r, size_t variety)
{
    const cw_latent *l = cw_rate_latent(r);
    double sum = 0;
    for (size_t p = 0; p < l->points; p++)
        sum += l->point[p].weight * l->point[p].mean[variety];
    return sum;
}

static double log_hazard(const cw_rot *r, cw_rot_stage stage, size_t variety)
{
    const cw_latent *l = cw_rot_latent(r, stage);
    double sum = 0;
    for (size_t p = 0; p < l->points; p++)
        sum += l->point[p].weight * l->point[p].mean[variety];
    return sum;
}

/* The old file's rows, said of a past season to the same models. */
static void learn_as_past(const cw_forecast_data *d, cw_learned *out)
{
    cw_error err = CW_ERROR_NONE;
    size_t seasons = (size_t)(d->season - d->first_season + 2);
    cw_rot_look *look = calloc(d->rot_rows + 1, sizeof *look);
    assert_non_null(look);
    for (size_t i = 0; i < d->rot_rows; i++) {
        look[i] = d->rot_look[i];
        look[i].room = -1; /* rooms are of this season's lots */
    }
    cw_lessons from = { .rate = { .rows = d->rate_row,
                                  .n_rows = d->rate_rows,
                                  .varieties = d->varieties,
                                  .seasons = seasons,
                                  .forms = d->forms,
                                  .sizes = d->sizes,
                                  .season = (int)seasons - 1,
                                  .form = d->form,
                                  .size = d->size,
                                  .cut = d->rate_cut },
                        .rot = { .rows = d->rot_row,
                                 .n_rows = d->rot_rows,
                                 .varieties = d->varieties,
                                 .seasons = seasons,
                                 .season = (int)seasons - 1,
                                 .look = look },
                        .weighing = d->weighing,
                        .weighings = d->weighings,
                        .crates = d->snapshot->samples + d->snapshot->past->samples,
                        .check = d->shrivel_check,
                        .checks = d->shrivel_checks,
                        .lots = d->lots + d->snapshot->past->lots };
    cw_check_ok(cw_learn(&from, NULL, out, &err), &err);
    free(look);
}

static void the_new_file_knows_what_the_old_one_knew(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t, u;
    char path[120];
    cw_learned past = { 0 };
    cw_forecast_data *d = NULL;
    const cw_forecast *f = NULL;
    make(&t);
    cw_check_ok(cw_forecast_data_load(t.n, t.who.today, t.n->season.ship, &d, &err), &err);
    assert_true(d->rate_rows > 6 && d->rot_rows > 10 && d->shrivel_checks > 3 && d->weighings == 4);
    learn_as_past(d, &past);
    close_it(&t, path);
    open_as(&t, path, &u);
    cw_check_ok(cw_forecast_get(u.n, &u.who, CW_NO_DAY, CW_NO_DAY, &f, &err), &err);
    assert_int_equal(f->data->rate_rows, d->rate_rows);
    assert_int_equal(f->data->rot_rows, d->rot_rows);
    for (size_t v = 0; v < d->varieties; v++) {
        double a = log_rate(past.rate, v), b = log_rate(f->learned.rate, v);
        cw_check_near("rate", b, a, 1e-9 * (1 + fabs(a)));
        for (int s = 0; s < CW_ROT_STAGES; s++) {
            a = log_hazard(past.rot, (cw_rot_stage)s, v);
            b = log_hazard(f->learned.rot, (cw_rot_stage)s, v);
            cw_check_near("hazard", b, a, 1e-9 * (1 + fabs(a)));
        }
    }
    cw_check_near("k", f->learned.shrink->log_k, past.shrink->log_k, 1e-9 * fabs(past.shrink->log_k));
    cw_check_near("limit", f->learned.shrink->log_w50, past.shrink->log_w50, 1e-9);
    assert_int_equal(f->learned.shrink->crates, 2);
    cw_learned_free(&past);
    cw_forecast_data_free(d);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

static void the_sums_are_proved_and_a_change_shows(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t, u;
    char path[120];
    cw_table out = { 0 };
    long broken = 0;
    sqlite3 *raw = NULL;
    make(&t);
    close_it(&t, path);
    open_as(&t, path, &u);
    cw_check_ok(cw_closing_prove(u.n, t.n, &u.who, &out, &broken, &err), &err);
    assert_int_equal(broken, 0);
    cw_table_free(&out);
    cw_nursery_close(u.n);
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(raw, "UPDATE past_check SET weeks = weeks * 1.0001 WHERE lot = 'L2' AND stage = 'clump'",
                     NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    open_as(&t, path, &u);
    cw_check_ok(cw_closing_prove(u.n, t.n, &u.who, &out, &broken, &err), &err);
    assert_int_equal(broken, 1); /* no sum tells, the digest does */
    cw_table_free(&out);
    err = (cw_error)CW_ERROR_NONE;
    refused(cw_closing_prove(t.n, u.n, &u.who, &out, &broken, &err), CW_NOT_FOUND);
    cw_table_free(&out);
    cw_nursery_close(u.n);
    test_nursery_free(&t);
}

static void nothing_of_the_buyers_goes_along(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120];
    char *bytes = NULL;
    size_t n = 0;
    make(&t);
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,customer,email\n"
              "1009,2032-03-01T10:00:00Z,1,CIN,2,7.25,Zacharina Unlikely,zacharina@example.org\n");
    cw_text many = CW_TEXT((size_t)1 << 20); /* so that whole pages are theirs */
    cw_text_add(&many, "order,received_at,line,variety,quantity,unit_price,customer\n");
    for (int i = 0; i < 400; i++)
        cw_text_addf(&many, "%d,2032-03-01T10:00:00Z,1,CIN,1,7.25,Buyer of a long name number %d\n", 3000 + i,
                     i);
    must_load(&t, "orders.csv", many.data);
    cw_text_free(&many);
    close_it(&t, path);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    assert_int_equal(fseek(f, 0, SEEK_END), 0);
    n = (size_t)ftell(f);
    rewind(f);
    bytes = malloc(n);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, n, f), n);
    fclose(f);
    assert_null(memmem(bytes, n, "Unlikely", 8));
    assert_null(memmem(bytes, n, "zacharina@", 10));
    assert_non_null(memmem(bytes, n, "Amber Lantern", 13));
    free(bytes);
    assert_int_equal(number(path, "PRAGMA freelist_count"),
                     0); /* written anew: no page stands that was theirs */
    assert_int_equal(number(path, "SELECT COUNT(*) FROM orders"), 0);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM movement"), 0);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM audit"), 1);
    (void)err;
    test_nursery_free(&t);
}

/* Every table is either one that lives on, or it is emptied: whoever adds a table decides here, too. */
static void every_table_is_kept_or_emptied(void **state)
{
    (void)state;
    static const char *const emptied[] = {
        "outbox",
        "post",
        "shop_told",
        "lot",
        "dividing",
        "storage_check",
        "stock_take",
        "movement",
        "balance",
        "weighing",
        "air",
        "orders",
        "line",
        "order_event",
        "offering",
        "release",
        "oversell",
        "run",
        "allocation",
        "taken_back",
        "frost_hold",
        "wave",
        "stop",
        "parcel",
        "pick",
        "notice",
        "claim",
        "audit",
        "answered",
        "signed_in",
        "forbidden",
        "run_before",
        "run_undone",
        "said",
        "said_of",
        "destination_overruled",
        "frost_overruled",
        "closing",
        "corrected",
        "put_back",
        "box",
        "dividing_day",
        "relabelling",
        "lot_split",
        "merging",
        "merged_row",
        "merging_stood",
        "crew_day",
        "keep_run",
        "keep_change",
        "field_round",
        "brought",
        "brought_parcel",
    };
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    long unknown = 0;
    test_nursery_make(&t);
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw,
                                        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT "
                                        "LIKE 'sqlite\\_%' ESCAPE '\\'",
                                        -1, &s, NULL),
                     SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW) {
        const char *name = (const char *)sqlite3_column_text(s, 0);
        bool is = false;
        for (size_t i = 0; i < sizeof emptied / sizeof emptied[0]; i++)
            is = is || strcmp(emptied[i], name) == 0;
        if (is == cw_turning_keeps(name)) {
            print_error("does table %s live on into the next season's file? Say so in core/store/turning.c, "
                        "or here\n",
                        name);
            unknown++;
        }
    }
    sqlite3_finalize(s);
    sqlite3_close(raw);
    assert_int_equal(unknown, 0);
    (void)err;
    test_nursery_free(&t);
}

static void a_closed_season_takes_what_is_still_owed(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120], other[120];
    cw_notices_made made = { 0 };
    make(&t);
    close_it(&t, path);
    loaded l = load_one(&t, "lots.csv", "lot,variety,dug_on,clumps\nL9,CIN,2031-10-20,3\n");
    assert_int_equal(l.code, CW_CONFLICT);
    assert_non_null(strstr(l.first, "this season was closed on 20 March 2032, and 2032 was opened from it"));
    err = (cw_error)CW_ERROR_NONE;
    refused(cw_nursery_set(t.n, &t.who, "confidence", "0.8", &err), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    refused(cw_ordering_cancel(t.n, &t.who, "1001", 0, "late", &err), CW_CONFLICT);
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    cw_forget_ask forget = { .customer = "Ada" };
    cw_table out = { 0 };
    err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_forgetting(t.n, &t.who, &forget, &out, &err);
    assert_int_not_equal(code, CW_MACHINE);
    assert_null(strstr(err.text, "season was closed")); /* what refuses it are its own open orders */
    cw_table_free(&out);
    /* Once only, until an owner reopens it. */
    snprintf(other, sizeof other, "%s/other.db", t.folder);
    err = (cw_error)CW_ERROR_NONE;
    refused(next(&t, other, true, true, &err), CW_CONFLICT);
    cw_asker office = t.who;
    office.role = CW_ROLE_OFFICE;
    err = (cw_error)CW_ERROR_NONE;
    refused(cw_closing_reopen(t.n, &office, "a lot was forgotten", &err), CW_FORBIDDEN);
    err = (cw_error)CW_ERROR_NONE;
    refused(cw_closing_reopen(t.n, &t.who, "", &err), CW_REFUSED);
    cw_check_ok(cw_closing_reopen(t.n, &t.who, "a lot was forgotten", &err), &err);
    must_load(&t, "lots.csv", "lot,variety,dug_on,clumps\nL9,CIN,2031-10-20,3\n");
    err = (cw_error)CW_ERROR_NONE;
    refused(cw_closing_reopen(t.n, &t.who, "again", &err), CW_CONFLICT);
    cw_check_ok(next(&t, other, true, true, &err), &err);
    test_nursery_free(&t);
}

static void open_ends_are_named_and_wait_for_a_word(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120];
    cw_notices_made made = { 0 };
    make(&t);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1001", 0, "changed their mind", &err), &err);
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    snprintf(path, sizeof path, "%s/next.db", t.folder);
    err = (cw_error)CW_ERROR_NONE;
    refused(next(&t, path, true, false, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "--leave-open"));
    assert_int_not_equal(access(path, F_OK), 0);
    cw_check_ok(next(&t, path, true, true, &err), &err);
    test_nursery_free(&t);
}

/* The power goes between the new file and the mark in the old one. */
static void made_again_it_is_the_same(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120];
    sqlite3 *raw = NULL;
    make(&t);
    close_it(&t, path);
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "DELETE FROM closing", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
    int64_t rows = number(path, "SELECT COUNT(*) FROM past_check");
    cw_check_ok(next(&t, path, true, true, &err), &err);
    assert_int_equal(number(t.path, "SELECT COUNT(*) FROM closing"), 1);
    assert_int_equal(number(path, "SELECT COUNT(*) FROM past_check"), rows);
    /* Another file of that name is nobody's next season. */
    cw_check_ok(cw_closing_reopen(t.n, &t.who, "try", &err), &err);
    today(&t, 2032, 3, 21);
    err = (cw_error)CW_ERROR_NONE;
    refused(next(&t, path, true, true, &err), CW_REFUSED);
    test_nursery_free(&t);
}

static void weeks_and_days_move_by_the_calendar(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120];
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    make(&t);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "holidays", "2032-02-29 2032-12-25", &err), &err);
    close_it(&t, path);
    assert_int_equal(number(path, "SELECT first_week FROM zone WHERE code = 'north'"), 203318);
    /* 2032 has 53 weeks, 2033 has 52 (ISO 8601-1:2019, 3.1.1.23; years that begin on a Thursday, or leap ones on a Wednesday). */
    assert_int_equal(number(path, "SELECT first_week FROM zone WHERE code = 'south'"), 203352);
    assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(raw, "SELECT value FROM setting WHERE name = 'holidays'", -1, &s, NULL),
        SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    assert_string_equal((const char *)sqlite3_column_text(s, 0), "2033-02-28 2033-12-25");
    sqlite3_finalize(s);
    sqlite3_close(raw);
    test_nursery_free(&t);
}

/* What was asked for becomes past sales, with the day on which the last of it went; what was planted stands in the rows. */
static void sales_and_plants_go_along(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120];
    make(&t);
    cw_cellar_entry planted = CW_CELLAR_ENTRY;
    cw_table out = { 0 };
    planted.lot = "L1";
    planted.place = "B1";
    planted.reason = "planted";
    planted.divisions = 7;
    cw_check_ok(cw_cellar_enter(t.n, &t.who, &planted, &out, &err), &err);
    cw_table_free(&out);
    /* An order that was called off was asked for by nobody; three of AMB were on offer, and the third went on 20 January. */
    sqlite3 *raw = NULL;
    must_load(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price\n1005,2032-02-01T10:00:00Z,1,BRI,4,8\n");
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1005", 0, "changed their mind", &err), &err);
    assert_int_equal(sqlite3_open_v2(t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(raw,
                     "INSERT INTO offering (variety_id, released, offered, sold) SELECT id, 1, 3, 3 FROM "
                     "variety WHERE code = 'AMB' "
                     "ON CONFLICT (variety_id) DO UPDATE SET released = 1, offered = 3, sold = 3, beyond = 0",
                     NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
    close_it(&t, path);
    assert_int_equal(
        number(path,
               "SELECT sold FROM past_sale p JOIN variety v ON v.id = p.variety_id WHERE v.code = 'AMB' "
               "AND season = 2031"),
        3);
    assert_int_equal(
        number(path, "SELECT quantity FROM past_order p JOIN variety v ON v.id = p.variety_id WHERE v.code = "
                     "'BRI' AND season = 2031"),
        2);
    assert_int_equal(
        number(path,
               "SELECT sold_out_on FROM past_sale p JOIN variety v ON v.id = p.variety_id WHERE v.code = "
               "'AMB' AND season = 2031"),
        cw_day_from_ymd(2032, 1, 20));
    assert_int_equal(
        number(path,
               "SELECT COALESCE(SUM(sold), 0) FROM past_sale p JOIN variety v ON v.id = p.variety_id WHERE "
               "v.code = 'BRI' AND season = 2031"),
        2);
    assert_int_equal(number(path, "SELECT plants FROM planting WHERE lot = 'L1' AND of_season = 2031"), 7);
    test_nursery_free(&t);
}

/* Ten winters in a chain, each made from the one before. */
static void ten_seasons_in_a_chain(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    test_nursery t;
    char path[120];
    make(&t);
    cw_nursery *first = t.n, *at = t.n;
    for (int year = 2032; year < 2042; year++) {
        cw_table out = { 0 };
        char lots_text[200], cut[200];
        snprintf(path, sizeof path, "%s/%d.db", t.folder, year);
        const cw_next n = { path, year, cw_day_from_ymd(year + 1, 4, 18), true };
        cw_check_ok(cw_closing_next(t.n, &t.who, &n, true, &out, &err), &err);
        cw_table_free(&out);
        if (at != first)
            cw_nursery_close(at);
        test_nursery u;
        open_as(&t, path, &u);
        at = t.n = u.n;
        today(&t, year + 1, 2, 1);
        snprintf(lots_text, sizeof lots_text,
                 "lot,variety,dug_on,clumps\nL1,AMB,%d-10-20,30\nL2,BRI,%d-10-20,20\n", year, year);
        snprintf(cut, sizeof cut,
                 "lot,divided_on,clumps,saleable\nL1,%d-12-10,10,%d\nL1,%d-12-20,10,42\nL2,%d-12-20,20,51\n",
                 year, 38 + year % 7, year, year);
        must_load(&t, "lots.csv", lots_text);
        must_load(&t, "divisions.csv", cut);
        long broken = 0;
        cw_check_ok(cw_db_integrity(t.n->db, test_report, NULL, &broken, &err), &err);
        assert_int_equal(broken, 0);
    }
    assert_int_equal(number(path, "SELECT COUNT(DISTINCT season) FROM history"), 12); /* 2029 to 2040 */
    assert_int_equal(number(path, "SELECT COUNT(*) FROM origin"), 10);
    cw_nursery_close(at);
    t.n = first;
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_preview_leaves_nothing),
        cmocka_unit_test(the_new_file_knows_what_the_old_one_knew),
        cmocka_unit_test(the_sums_are_proved_and_a_change_shows),
        cmocka_unit_test(nothing_of_the_buyers_goes_along),
        cmocka_unit_test(every_table_is_kept_or_emptied),
        cmocka_unit_test(a_closed_season_takes_what_is_still_owed),
        cmocka_unit_test(open_ends_are_named_and_wait_for_a_word),
        cmocka_unit_test(made_again_it_is_the_same),
        cmocka_unit_test(weeks_and_days_move_by_the_calendar),
        cmocka_unit_test(sales_and_plants_go_along),
        cmocka_unit_test(ten_seasons_in_a_chain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
