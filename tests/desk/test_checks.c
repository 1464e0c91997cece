/* SPDX-License-Identifier: MIT */
/* Every rule of sql/checks.sql is broken once, with a raw hand and no trigger in the way, and `check` must name it. A rule
 * without a row here fails the test, too. */
#include "support/picking.h"

#include "desk/buyers/claims.h"
#include "desk/nursery/keeping.h"

#include "base/banned.h"

static const struct {
    const char *rule, *sql, *finding;
} rows[] = {
    { "balances", "UPDATE balance SET divisions = divisions + 1 WHERE lot_id = 1",
      "the balance is not the sum" },
    { "balances_without_movements", "DELETE FROM movement WHERE lot_id = 3",
      "has a balance without movements" },
    { "stock_by_day", "UPDATE movement SET day = day + 400 WHERE lot_id = 1 AND divisions > 0",
      "less than nothing on hand" },
    { "clumps_dug", "UPDATE movement SET clumps = 2, reason = 'found' WHERE id = 1",
      "clumps dug and found are not" },
    { "divisions_made", "UPDATE movement SET reason = 'moved' WHERE lot_id = 2 AND divisions > 0",
      "divisions made and found are not" },
    { "lots_dug", "UPDATE lot SET clumps = clumps + 7 WHERE id = 2",
      "7 clumps on its tag, but the ledger has 0" },
    { "moves_cancel", "UPDATE movement SET reason = 'moved' WHERE lot_id = 2 AND divisions > 0",
      "does not put down what it took up" },
    { "splits_in_ledger",
      "INSERT INTO lot_split (lot_id, from_id, day, clumps, divisions, move_id) VALUES (3, 2, 1, 0, 1, 77)",
      "the part that was split off is not what the ledger moved" },
    { "reversals", "UPDATE movement SET reverses = 1 WHERE id = 2", "does not undo movement 1" },
    { "sold", "UPDATE offering SET sold = sold + 1 WHERE variety_id = 1", "sold says" },
    { "beyond", "UPDATE offering SET beyond = beyond + 1 WHERE variety_id = 1",
      "the leave to sell beyond the offer" },
    { "offered",
      "INSERT INTO release (variety_id, at, actor, before, offered, basis) VALUES (1, 0, 'x', 0, 77, '{}'); "
      "UPDATE offering SET "
      "released = 1",
      "the offer is not what its last release says" },
    { "promised_within_asked", "UPDATE line SET quantity = 1 WHERE quantity = 4", "4 promised, 1 asked" },
    { "own_is_own", "UPDATE allocation SET kind = 'assortment' WHERE line_id = 1",
      "an allocation says assortment" },
    { "substitutes_have_consent", "UPDATE allocation SET kind = 'substitute' WHERE line_id = 1",
      "a substitute without consent" },
    { "picks_in_ledger", "UPDATE pick SET taken = taken - 1 WHERE taken > 0", "taken, the ledger has" },
    { "picks_within_promise", "UPDATE allocation SET quantity = 0", "picked than promised" },
    { "packed_is_answered",
      "UPDATE pick SET state = 'open' WHERE parcel_id = (SELECT id FROM parcel WHERE state = 'shipped')",
      "with an open pick" },
    { "claims_in_ledger", "UPDATE claim SET answer = 'replace'", "replaced, the ledger has 0" },
    { "claims_leave_as_orders", "UPDATE claim SET replacement_id = order_id",
      "its replacement is not an order of what was claimed" },
    { "claims_within_received", "UPDATE claim SET quantity = 1000", "1000 claimed, more than it received" },
    { "claims_refund_the_price", "UPDATE claim SET amount = amount + 1", "the amount is not the price" },
    { "notices_settled",
      "INSERT INTO notice (order_id, kind, made_at, due_on, detail, state, fact) VALUES (1, 'delay', 0, 0, "
      "'{}', 'sent', 'x')",
      "is sent without who and when" },
    { "letters_told",
      "INSERT INTO notice (order_id, kind, made_at, due_on, detail, state, fact) VALUES (1, 'delay', 0, 0, "
      "'{}', 'due', 'y'); INSERT INTO outbox (kind, notice_id, state, next_at, queued_at, queued_by) "
      "SELECT 'letter', MAX(id), 'sent', 0, 0, 'x' FROM notice",
      "was sent, and its notice is due" },
    { "dug_of_its_planting",
      "INSERT INTO planting (variety_id, row, plants, planted_on) SELECT id, 'Q', 500, 22400 FROM variety "
      "WHERE id <> (SELECT variety_id FROM lot ORDER BY id LIMIT 1) LIMIT 1; "
      "UPDATE lot SET planting_id = (SELECT MAX(id) FROM planting) WHERE id = (SELECT MIN(id) FROM lot)",
      "was dug of a planting of another variety" },
    { "alive_within_planted",
      "INSERT INTO planting (variety_id, row, plants, planted_on) SELECT id, 'Q', 5, 22400 FROM variety "
      "LIMIT 1; "
      "INSERT INTO field_round (planting_id, day, alive, at, actor) SELECT MAX(id), 22450, 6, 0, 'x' FROM "
      "planting",
      "a walk finds 6 plants alive, more than can be" },
    { "dug_within_standing",
      "INSERT INTO planting (variety_id, row, plants, planted_on) SELECT variety_id, 'Q', 5, 22400 FROM lot "
      "ORDER BY id LIMIT 1; "
      "UPDATE lot SET planting_id = (SELECT MAX(id) FROM planting), culled = 9 WHERE id = (SELECT MIN(id) "
      "FROM lot)",
      "more was dug of row Q than stood" },
    { "planted_out_in_ledger",
      "INSERT INTO movement (at, day, actor, lot_id, place_id, divisions, reason, cause, cause_id) "
      "SELECT 0, 22690, 'x', lot_id, place_id, -1, 'planted', 'entry', 999 FROM balance WHERE divisions > 1 "
      "LIMIT 1; "
      "INSERT INTO planting (variety_id, plants, planted_on, entry_id) SELECT id, 3, 22690, 999 FROM variety "
      "LIMIT 1",
      "3 planted out, the ledger has 1" },
    { "recovery_of_a_factor",
      "INSERT INTO person (name, role, password, made_at) VALUES ('Robin', 'cellar', 'x', 0); "
      "INSERT INTO factor (person_id, secret, made_at) SELECT id, printf('%040d', 0), 0 FROM person; "
      "INSERT INTO recovery SELECT id, 'salt', 'digest' FROM person",
      "1 recovery codes; only a second factor that is on has any" },
};
#define ROWS (sizeof rows / sizeof rows[0])

/* An order pulled, packed, sent and complained of. */
static void a_season(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_packing_count count = { .count = 3, .weight_g = 640 };
    cw_claim_ask claim = { .order = "1002", .line = 1, .quantity = 1, .why = "soft", .answer = "refund" };
    char outcome[16];
    int64_t rest = 0, id = 0;
    picking_make(t);
    wave_make(t);
    answer(t, "Pim", "pull-1002", pick_of(t, "1002", 1), 3, NULL, outcome);
    int64_t parcel = parcel_of(t, "1002");
    cw_check_ok(cw_packing_pack(t->n, &t->who, parcel, &count, &err), &err);
    cw_check_ok(cw_packing_ship(t->n, &t->who, parcel,
                                &(cw_packing_sent){ .carrier = "by road", .on = t->who.today }, &rest, &err),
                &err);
    cw_check_ok(cw_claims_add(t->n, &t->who, &claim, &id, &err), &err);
    test_nursery_check(t);
}

/* The sentence that drops every trigger; their own rules would undo or refuse the raw hand. */
static void drop_triggers(sqlite3 *db)
{
    sqlite3_stmt *q = NULL;
    char sql[4000] = "";
    assert_int_equal(
        sqlite3_prepare_v2(db, "SELECT name FROM sqlite_schema WHERE type = 'trigger'", -1, &q, NULL),
        SQLITE_OK);
    while (sqlite3_step(q) == SQLITE_ROW)
        snprintf(sql + strlen(sql), sizeof sql - strlen(sql), "DROP TRIGGER %s;",
                 (const char *)sqlite3_column_text(q, 0));
    sqlite3_finalize(q);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
}

static void break_rule(const char *path, const char *sql)
{
    sqlite3 *db = NULL;
    char *message = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(db, "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON", NULL, NULL, NULL),
        SQLITE_OK);
    drop_triggers(db);
    if (sqlite3_exec(db, sql, NULL, NULL, &message) != SQLITE_OK)
        fail_msg("%s: %s", sql, message);
    sqlite3_close(db);
}

static bool check_names(const char *path, const char *finding, char all[2000])
{
    cw_nursery *n = NULL;
    cw_table found = { 0 };
    cw_error err = CW_ERROR_NONE;
    char last[65];
    bool named = false;
    all[0] = '\0';
    cw_check_ok(cw_nursery_open(path, CW_LOOK, NULL, &n, &err), &err);
    cw_check_ok(cw_keeping_check(n, &found, last, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&found); r++) {
        named = named || strstr(cw_table_text(&found, r, 1), finding);
        snprintf(all + strlen(all), 2000 - strlen(all), "%s\n", cw_table_text(&found, r, 1));
    }
    cw_table_free(&found);
    cw_nursery_close(n);
    return named;
}

static void each_rule_is_named_when_broken(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char copy[128], all[2000];
    (void)state;
    a_season(&t);
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    for (size_t i = 0; i < ROWS; i++) {
        cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
        assert_false(check_names(copy, "", all)); /* sound before */
        break_rule(copy, rows[i].sql);
        if (!check_names(copy, rows[i].finding, all))
            fail_msg("%s: check says only: %s", rows[i].rule, all);
    }
    unlink(copy);
    test_nursery_free(&t);
}

static void each_rule_has_a_row(void **state)
{
    char line[400];
    size_t rules = 0;
    (void)state;
    FILE *f = fopen(CW_SOURCE_DIR "/sql/checks.sql", "re");
    assert_non_null(f);
    while (fgets(line, sizeof line, f)) {
        bool found = false;
        if (strncmp(line, "-- name: ", 9) != 0)
            continue;
        line[strcspn(line, "\r\n")] = '\0';
        for (size_t i = 0; i < ROWS; i++)
            found = found || strcmp(rows[i].rule, line + 9) == 0;
        if (!found)
            fail_msg("the rule %s is never broken here", line + 9);
        rules++;
    }
    fclose(f);
    print_message("%zu rules\n", rules);
    assert_int_equal(rules, ROWS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_rule_is_named_when_broken),
        cmocka_unit_test(each_rule_has_a_row),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
