/* SPDX-License-Identifier: MIT */
/* The demo season's wave from promise to parcel, and random packers in the small nursery: whatever they answer, repeat, undo
 * and ship, the books must balance (sql/checks.sql after every step) and no key may count twice. */
#include "support/demo.h"
#include "support/picking.h"
#include "support/rounds.h"

#include "base/rng.h"

#include "base/banned.h"

static const char *const reasons[] = { "rotten", "shrivelled", "missing" };

static void a_season_is_pulled_packed_and_sent(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_picking_ask ask = { .week = 203218 };
    cw_table notes = { 0 }, parcels = { 0 }, picks = { 0 };
    cw_rng r;
    int64_t wave = 0, rest = 0;
    char outcome[16];
    (void)state;
    cw_rng_init(&r, 18, 2032);
    test_demo_make(&t);
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_picking_make(t.n, &t.who, &ask, &wave, &notes, &err), &err);
    test_nursery_check(&t);
    cw_check_ok(cw_picking_list(t.n, &t.who, wave, &picks, &err), &err);
    assert_true(cw_table_rows(&picks) > 100);
    /* Walking order, and no lot asked for more than it has. */
    assert_int_equal(
        number_of(&t,
                  "SELECT COUNT(*) FROM (SELECT p.walk_order - LAG(p.walk_order) OVER (ORDER BY s.stop) AS d "
                  "FROM stop s JOIN place p ON p.id = s.place_id) WHERE d <= 0"),
        0);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM (SELECT SUM(k.quantity) AS q, b.divisions AS d FROM pick k "
                      "JOIN stop s ON s.id = k.stop_id JOIN balance b ON b.lot_id = k.lot_id "
                      "AND b.place_id = s.place_id GROUP BY k.lot_id, s.place_id HAVING q > d)"),
        0);
    int64_t before = number_of(&t, "SELECT SUM(divisions) FROM balance");
    for (int64_t pick; (pick = number_of(&t, "SELECT MIN(id) FROM pick WHERE state = 'open'")) > 0;) {
        char sql[100], key[32];
        snprintf(sql, sizeof sql, "SELECT quantity FROM pick WHERE id = %lld", (long long)pick);
        int64_t asked = number_of(&t, sql);
        bool shorted = cw_rng_below(&r, 10) == 0;
        snprintf(key, sizeof key, "demo-%lld", (long long)pick);
        answer(&t, "Marta", key, pick, shorted ? (int64_t)cw_rng_below(&r, (uint32_t)asked) : asked,
               shorted ? reasons[cw_rng_below(&r, 3)] : NULL, outcome);
        assert_string_equal(outcome, "done");
    }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM wave WHERE state = 'closed'"), 1);
    cw_check_ok(cw_packing_list(t.n, &t.who, wave, NULL, &parcels, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&parcels); i++) {
        cw_packing_count count = { .count = cw_table_int(&parcels, i, 8) };
        int64_t id = cw_table_int(&parcels, i, 0);
        if (count.count == 0)
            continue; /* all short */
        cw_check_ok(cw_packing_pack(t.n, &t.who, id, &count, &err), &err);
        cw_check_ok(cw_packing_ship(t.n, &t.who, id, &(cw_packing_sent){ .on = t.who.today }, &rest, &err),
                    &err);
    }
    test_nursery_check(&t);
    int64_t sent = number_of(
        &t, "SELECT SUM(k.taken) FROM pick k JOIN parcel p ON p.id = k.parcel_id WHERE p.state = 'shipped'");
    int64_t lost =
        number_of(&t, "SELECT -SUM(divisions) FROM movement WHERE cause = 'pick' AND reason <> 'picked'");
    print_message("%zu picks, %zu parcels, %lld divisions sent, %lld lost\n", cw_table_rows(&picks),
                  cw_table_rows(&parcels), (long long)sent, (long long)lost);
    assert_int_equal(number_of(&t, "SELECT SUM(divisions) FROM balance"), before - sent - lost);
    assert_true(lost > 0);
    cw_table_free(&notes);
    cw_table_free(&parcels);
    cw_table_free(&picks);
    test_nursery_free(&t);
}

/* A row id at random, or INT64_MIN. */
static int64_t any_of(test_nursery *t, cw_rng *r, const char *table, const char *where)
{
    char sql[200];
    snprintf(sql, sizeof sql, "SELECT COUNT(*) FROM %s WHERE %s", table, where);
    int64_t n = number_of(t, sql);
    if (n == 0)
        return INT64_MIN;
    snprintf(sql, sizeof sql, "SELECT id FROM %s WHERE %s ORDER BY id LIMIT 1 OFFSET %u", table, where,
             cw_rng_below(r, (uint32_t)n));
    return number_of(t, sql);
}

/* Two packers, a handful of keys that come again and again. */
static void random_answer(test_nursery *t, cw_rng *r)
{
    static const char *const people[] = { "Marta", "Jon" };
    cw_asker who = t->who;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char sql[120], key[16];
    int64_t pick = any_of(t, r, "pick", "1");
    snprintf(sql, sizeof sql, "SELECT quantity FROM pick WHERE id = %lld", (long long)pick);
    int64_t asked = number_of(t, sql), taken = (int64_t)cw_rng_below(r, (uint32_t)asked + 1);
    snprintf(key, sizeof key, "key-%u", cw_rng_below(r, 40));
    who.actor = people[cw_rng_below(r, 2)];
    who.role = CW_ROLE_PACKER;
    cw_picking_answer a = { key,           pick, taken, taken < asked ? reasons[cw_rng_below(r, 3)] : NULL,
                            CW_NO_INSTANT, NULL, false };
    int64_t done = number_of(t, "SELECT COUNT(*) FROM audit WHERE action = 'answer pick'");
    cw_check_ok(cw_picking_answer_all(t->n, &who, &a, 1, &out, &err), &err);
    bool now = strcmp(cw_table_text(&out, 0, 2), "done") == 0;
    assert_int_equal(number_of(t, "SELECT COUNT(*) FROM audit WHERE action = 'answer pick'"), done + now);
    cw_table_free(&out);
}

static void random_step(test_nursery *t, cw_rng *r)
{
    cw_error err = CW_ERROR_NONE;
    int64_t id, added = 0, rest = 0, wave = 0;
    cw_table notes = { 0 };
    cw_picking_ask ask = { .week = WEEK };
    cw_code code = CW_OK;
    switch (cw_rng_below(r, 12)) {
    case 0:
        code = cw_picking_make(t->n, &t->who, &ask, &wave, &notes, &err);
        break;
    case 1:
    case 2:
        if ((id = any_of(t, r, "pick", "state = 'done'")) > 0)
            code = cw_picking_undo(t->n, &t->who, id, "at random", &err);
        break;
    case 3:
        if ((id = any_of(t, r, "parcel", "1")) > 0)
            code = cw_picking_fill(t->n, &t->who, id, &(cw_picking_from){ NULL, NULL }, &added, &err);
        break;
    case 4:
        if ((id = any_of(t, r, "parcel", "state = 'open'")) > 0) {
            char sql[120];
            snprintf(sql, sizeof sql, "SELECT COALESCE(SUM(taken), 0) FROM pick WHERE parcel_id = %lld",
                     (long long)id);
            cw_packing_count count = { .count = number_of(t, sql) };
            code = cw_packing_pack(t->n, &t->who, id, &count, &err);
        }
        break;
    case 5:
        if (cw_rng_below(r, 3) == 0 && (id = any_of(t, r, "parcel", "state = 'packed'")) > 0)
            code = cw_packing_ship(t->n, &t->who, id, &(cw_packing_sent){ .on = t->who.today }, &rest, &err);
        else if ((id = any_of(t, r, "parcel", "state = 'packed'")) > 0)
            code = cw_packing_unpack(t->n, &t->who, id, "at random", &err);
        break;
    case 6:
        if (cw_rng_below(r, 3) == 0 && (id = any_of(t, r, "wave", "state <> 'dropped'")) > 0)
            code = cw_picking_drop(t->n, &t->who, id, "at random", &err);
        break;
    default:
        if (any_of(t, r, "pick", "1") > 0)
            random_answer(t, r);
    }
    cw_table_free(&notes);
    if (code == CW_MACHINE)
        fail_msg("%s", err.text);
}

static void random_packers_keep_the_books(void **state)
{
    int64_t answers = 0, shipped = 0;
    (void)state;
    for (uint64_t seed = 1; seed <= TEST_ROUNDS(12); seed++) {
        test_nursery t;
        cw_rng r;
        cw_rng_init(&r, seed, 7);
        picking_make(&t);
        for (int step = 0; step < 80; step++) {
            random_step(&t, &r);
            cw_error err = CW_ERROR_NONE;
            long broken = 0;
            cw_check_ok(cw_db_check(t.n->db, test_report, NULL, &broken, &err), &err);
            if (broken)
                fail_msg("seed %llu, step %d", (unsigned long long)seed, step);
        }
        /* Nothing came from nowhere: what there was is on hand, gone, or in the open. */
        assert_int_equal(number_of(&t, "SELECT SUM(divisions) FROM movement"),
                         number_of(&t, "SELECT SUM(divisions) FROM balance"));
        /* Every answer that was booked used up a key of its own. */
        assert_true(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'answer pick'") <=
                    number_of(&t, "SELECT COUNT(*) FROM answered WHERE status = 200 AND key LIKE 'pick:%'"));
        answers += number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'answer pick'");
        shipped += number_of(&t, "SELECT COUNT(*) FROM parcel WHERE state = 'shipped'");
        test_nursery_free(&t);
    }
    print_message("%lld answers booked, %lld parcels sent\n", (long long)answers, (long long)shipped);
    assert_true(answers > TEST_ROUNDS(50));
    assert_true(shipped > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_season_is_pulled_packed_and_sent),
        cmocka_unit_test(random_packers_keep_the_books),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
