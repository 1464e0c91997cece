/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_FULL_H
#define CW_TESTS_SUPPORT_FULL_H

/* The nursery of support/season.h with a row in every table of the schema, for what is done to the file whole: checks, copies,
 * damage. A table that was added and is not filled here fails by name. All data are invented. */
#include "support/factor.h"
#include "support/season.h"

#include "desk/bench/dividing.h"
#include "desk/nursery/answers.h"
#include "desk/buyers/claims.h"
#include "desk/orders/notices.h"
#include "desk/beds/beds.h"
#include "desk/offer/offering.h"
#include "desk/sheets/sheets.h"
#include "desk/ship/overruling.h"
#include "desk/stock/merging.h"
#include "desk/stock/naming.h"
#include "desk/stock/splitting.h"
#include "desk/stock/tracing.h"

/* Every table has a row; those that have none are named. */
static inline void full_check(test_nursery *t)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    char sql[200];
    long tables = 0, empty = 0;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(raw, "SELECT name FROM sqlite_schema WHERE type = 'table'", -1, &s, NULL),
        SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW) {
        const char *table = (const char *)sqlite3_column_text(s, 0);
        snprintf(sql, sizeof sql, "SELECT COUNT(*) FROM \"%s\"", table);
        tables++;
        if (number_of(t, sql) == 0) {
            print_error("table %s is empty: let tests/support/full.h put a row into it\n", table);
            empty++;
        }
    }
    sqlite3_finalize(s);
    sqlite3_close(raw);
    assert_true(tables > 40);
    assert_int_equal(empty, 0);
}

/* A second factor with its recovery codes, somebody signed in, a program's key, an answer that is kept. */
static inline void full_people(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_asker pim = t->who;
    cw_factor_secret secret;
    cw_factor_codes codes;
    cw_identity olga = { .person = number_of(t, "SELECT id FROM person WHERE name = 'Olga'") };
    char token[CW_TOKEN_TEXT], code[CW_TOTP_DIGITS + 1];
    pim.actor = "Pim";
    pim.role = CW_ROLE_PACKER;
    cw_check_ok(cw_factor_begin(t->n, &pim, &secret, &err), &err);
    test_factor_code(t, "Pim", 0, code);
    cw_check_ok(cw_factor_turn_on(t->n, &pim, code, "", &codes, &err), &err);
    cw_check_ok(cw_accounts_open(t->n, &t->who, &olga, NULL, token, &err), &err);
    cw_check_ok(cw_accounts_key_add(t->n, &t->who, "till", CW_ROLE_SHOP, CW_NO_DAY, token, &err), &err);
    cw_check_ok(cw_answers_keep(t->n, "full-1", "digest", 201, "{}", t->who.now, &err), &err);
}

/* A run undone, a promise taken back, leave to sell, an order cancelled, a claim, a hold, a release, notices. */
static inline void full_office(test_nursery *t)
{
    static const cw_offering_item hand_picked[] = { { "CIN", 30 } };
    static const cw_offering_ask plan = {
        .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    cw_error err = CW_ERROR_NONE;
    cw_allotting_undone undone;
    cw_notices_made made;
    cw_table out = { 0 };
    int64_t id = 0;
    cw_allotting_done run = make_firm(t, "pro-rata", NULL);
    cw_check_ok(cw_allotting_undo(t->n, &t->who, run.run, "a run too many", &undone, &err), &err);
    make_firm(t, "first-come", NULL);
    count_lot(t, "L2", "2032-01-30",
              9); /* more came up: the next run adds to promises and keeps what they were */
    make_firm(t, "first-come", NULL);
    cw_check_ok(cw_allotting_take_back(t->n, &t->who, "1002", 1, "AMB", 1, "soft", &err), &err);
    cw_check_ok(cw_ordering_oversell(t->n, &t->who, "AMB", 5, "late lots", &id, &err), &err);
    cw_check_ok(cw_ordering_cancel(t->n, &t->who, "2001", 0, "changed their mind", &err), &err);
    cw_check_ok(cw_substituting_ban(t->n, &t->who, "2002", 1, "DOV", "never", &err), &err);
    cw_claim_ask failed = { .order = "1001", .line = 1, .quantity = 1, .why = "soft", .answer = "refund" };
    cw_check_ok(cw_claims_add(t->n, &t->who, &failed, &id, &err), &err);
    cw_check_ok(cw_shipping_hold(t->n, &t->who, "z7", NULL, 203216, 203217, "frost", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_overruling_set(t->n, &t->who, "2002", CW_OVERRULE_FROST, "goes by van", &err), &err);
    cw_check_ok(cw_overruling_set(t->n, &t->who, "1003", CW_OVERRULE_DESTINATION, "has a permit", &err),
                &err);
    cw_check_ok(cw_offering_release(t->n, &t->who, &plan, hand_picked, 1, "by hand", &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_beds_commit(t->n, &t->who, &(cw_beds_ask){ .places = -1, .keep = -1 },
                               &(cw_beds_item){ "CIN", 4 }, 1, &id, &out, &err),
                &err);
    cw_table_free(&out);
    cw_check_ok(
        cw_beds_say(t->n, &t->who, &(cw_beds_figure){ "CIN", CW_BEDS_DEMAND, false, 40, 90 }, 1, &err), &err);
    cw_check_ok(cw_nursery_set(t->n, &t->who, "confidence", "0.85", &err), &err);
    cw_check_ok(cw_notices_make(t->n, &t->who, &made, &err), &err);
}

/* What only a file has that was made from another one, and then closed and opened again; and an order that
 * was put right, and something that waits to be put back. */
static inline void full_past(test_nursery *t)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(
            raw,
            "INSERT INTO source (kind, name, digest, rows, actor, at) VALUES ('season', 'season 2030', 'd', "
            "2, 'Olga', 1);"
            "INSERT INTO past_shrivel (season, lot, from_pa_days, to_pa_days, inspected, shrivelled, "
            "source_id) "
            "VALUES (2030, 'K1', 0, 5000, 40, 2, last_insert_rowid());"
            "INSERT INTO past_weighing (season, sample, lot, pa_days, kg, source_id) "
            "SELECT 2030, 'P1', 'K1', 100, 2.0, id FROM source WHERE kind = 'season';"
            "INSERT INTO past_weighing (season, sample, lot, pa_days, kg, source_id) "
            "SELECT 2030, 'P1', 'K1', 3100, 1.9, id FROM source WHERE kind = 'season';"
            "INSERT INTO planting (variety_id, plants, planted_on, lot, of_season) "
            "SELECT id, 30, 22400, 'K1', 2030 FROM variety WHERE code = 'AMB';"
            "INSERT INTO origin (season, day, ship_day, pa, digest, at, actor) VALUES (2030, 22390, 22380, "
            "110.5, 'd', 1, 'Olga');"
            "INSERT INTO known_buyer (last_season, last_on, customer, email, tier, consent) VALUES (2030, "
            "22300, 'Nan', "
            "'nan@example.org', 'retail', 'any');"
            "INSERT INTO past_said (season, said_on, why, varieties, expected, came, held) VALUES (2030, "
            "22300, "
            "'release', 2, 280, 218, 1);"
            "INSERT INTO corrected (order_id, field, first) SELECT id, 'postcode', '111' FROM orders LIMIT 1;"
            "INSERT INTO put_back (wave_id, slot, order_id, variety_id, lot_id, place_id, quantity, because, "
            "at, "
            "actor) SELECT p.wave_id, p.slot, p.order_id, l.variety_id, l.id, l.place_id, 1, 'changed', 1, "
            "'Olga' "
            "FROM parcel p, lot l LIMIT 1;"
            "INSERT INTO box (parcel_id, number, weight_g, tracking) SELECT MIN(id), 2, 900, 'T-2' FROM "
            "parcel;"
            "INSERT INTO brought (kind, name, at, actor) VALUES ('tracking', 'carrier.csv', 1, 'Olga');"
            "INSERT INTO brought_parcel (brought_id, parcel_id, sent, carrier, tracking, shipped_on, said) "
            "SELECT (SELECT MAX(id) FROM brought), MIN(id), 0, 'Rook Carriage', 'T-1', 22500, 'T-1' FROM "
            "parcel;"
            "INSERT INTO outbox (kind, notice_id, state, next_at, queued_at, queued_by) SELECT 'letter', "
            "MIN(id), 'waits', "
            "1, 1, 'Olga' FROM notice WHERE state = 'due';"
            "INSERT INTO post (channel, stopped) VALUES ('mail', 1);"
            "INSERT INTO shop_told (kind, name, said) VALUES ('variety', 'AMB', '3 1');"
            "INSERT INTO closing (season, day, digest, at, actor, reopened_at, reopened_by, reopened_why) "
            "VALUES (2032, 22700, 'd', 1, 'Olga', 2, 'Olga', 'too early');",
            NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
}

/* A day with more hands, and lots whose days stand. */
static inline void full_bench(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_bench_crew(t->n, &t->who, cw_day_from_ymd(2032, 2, 5), 3, 1, 6.5, &out, &err), &err);
    cw_table_free(&out);
    cw_check_ok(cw_bench_washed(t->n, &t->who, "M2", CW_NO_DAY, &out, &err), &err);
    cw_table_free(&out);
}

/* A code that a variety had for a while, and a lot that was another variety for a while. */
static inline void full_names(test_nursery *t)
{
    static const char *const codes[] = { "DOV", "DOVE", "DOV" }, *const others[] = { "CIN", "DOV" };
    cw_error err = CW_ERROR_NONE;
    for (int i = 0; i < 2; i++) {
        cw_table a = { 0 }, b = { 0 };
        cw_check_ok(
            cw_naming_rename_variety(t->n, &t->who, codes[i], codes[i + 1], "a label", true, &a, &err), &err);
        cw_check_ok(cw_naming_relabel_lot(t->n, &t->who, "M4", others[i], "a stake", true, &b, &err), &err);
        cw_table_free(&a);
        cw_table_free(&b);
    }
    cw_table part = { 0 };
    cw_check_ok(cw_splitting_lot(t->n, &t->who, &(cw_split){ "M4", "CIN", "M4B", CW_NO_DAY, 1, 2, "a stake" },
                                 true, &part, &err),
                &err);
    cw_table_free(&part);
}

/* Two codes that proved to be one variety. */
static inline void full_merged(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    load_text(t, "varieties.csv", "code,name,form,size,colour\nDVB,Dove Chime,ball,small,white\n");
    cw_check_ok(cw_merging_merge(t->n, &t->who, "DVB", "DOV", "the same plant", true, &out, &err), &err);
    cw_table_free(&out);
}

/* A spreadsheet of another make, whose fit is kept. */
static inline void full_sheet(test_nursery *t)
{
    static const char racks[] = "Shelf;Cellar\nR-01;old cellar\n";
    cw_sheets_file f = { .name = "racks.csv", .bytes = racks, .length = sizeof racks - 1 };
    cw_error err = CW_ERROR_NONE;
    cw_table taken;
    json_t *document = NULL;
    cw_check_ok(cw_sheets_take(t->n, &t->who, &f, NULL, &(cw_sheets_options){ 0 }, &taken, &document, &err),
                &err);
    cw_table_free(&taken);
    json_decref(document);
}

static inline void full_make(test_nursery *t)
{
    season_make(t);
    load_text(t, "past_checks.csv", "season,variety,stage,weeks,inspected,rotten\n2030,AMB,clump,8,200,6\n");
    load_text(t, "zone_ranges.csv", "country,postcode_from,postcode_to,zone\nUS,550,559,z3\n");
    load_text(t, "past_plantings.csv", "season,variety,plants,clumps\n2030,AMB,40,33\n");
    load_text(t, "plantings.csv", "row,variety,plants,planted_on,lot\nR1,AMB,30,2031-05-12,K1\n");
    load_text(t, "field_rounds.csv", "row,seen_on,alive,rogued,reason\nR1,2031-07-10,28,1,virus\n");
    load_text(t, "past_orders.csv", "season,variety,ordered_on,quantity\n2029,AMB,2030-01-15,20\n");
    full_names(t);
    full_merged(t);
    full_people(t);
    full_office(t);
    full_past(t);
    full_bench(t);
    full_sheet(t);
    test_nursery_check(t);
    full_check(t);
}

#endif
