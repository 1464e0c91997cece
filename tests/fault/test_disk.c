/* SPDX-License-Identifier: MIT */
/* The disk fails under the nursery: the n-th write or sync breaks (torn in the middle), or the disk is full from there on,
 * while orders are taken and picks are answered; some failures stay, some pass. Then the file is opened on a sound disk: all that
 * returned CW_OK is there, nothing is sold beyond its offer, every check holds, and work goes on.
 *
 * CW_SEED repeats a run; CW_DISK_RUNS=n makes n failing writes and n/4 full disks (200 and 50 unless told, fewer under the sanitizers). */
#include "support/disk.h"
#include "support/original.h"
#include "support/season.h"
#include "support/rounds.h"

#include "base/rng.h"
#include "desk/nursery/keeping.h"
#include "desk/offer/offering.h"

#include "base/banned.h"

#define ORDERS 14
#define PICKS  5

typedef struct did {
    bool order[ORDERS], pick[PICKS];
    int wave; /* 1: made */
    int kept, refused;
} did;

static test_original original;

/* Promised orders that wait to be pulled, and 25 AMB on offer of which 6 are sold: fewer than will be asked. */
static void make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    const cw_offering_item items[] = { { "AMB", 25 } };
    picking_make(t);
    cw_check_ok(cw_offering_release(t->n, &t->who, &ask, items, 1, "test", &out, &err), &err);
    cw_table_free(&out);
    cw_nursery_close(t->n);
    t->n = NULL;
    original = test_original_read(t->path);
}

static cw_code take_order(test_nursery *t, int i, cw_error *err)
{
    char number[16];
    json_t *answer = NULL;
    snprintf(number, sizeof number, "D%d", i);
    json_t *o = json_pack("{s:s,s:[{s:s,s:i,s:s}]}", "order", number, "lines", "variety", "AMB", "quantity",
                          1 + i % 3, "unit_price", "6.50");
    cw_code code = cw_intake_order(t->n, &t->who, o, &answer, err);
    json_decref(o);
    json_decref(answer);
    return code;
}

static cw_code answer_pick(test_nursery *t, int i, cw_error *err)
{
    char key[16];
    cw_table out = { 0 };
    snprintf(key, sizeof key, "key-%d", i);
    cw_picking_answer a = { .key = key, .pick = i + 1, .taken = 0, .reason = "missing", .at = CW_NO_INSTANT };
    cw_code code = cw_picking_answer_all(t->n, &t->who, &a, 1, &out, err);
    bool booked = code == CW_OK && strcmp(cw_table_text(&out, 0, 2), "done") == 0;
    cw_table_free(&out);
    return code == CW_OK && !booked ? CW_CONFLICT : code; /* there are fewer picks */
}

static void note(did *d, bool *kept, cw_code code, const cw_error *err)
{
    if (code != CW_OK && code != CW_MACHINE && code != CW_CONFLICT && code != CW_NOT_FOUND)
        fail_msg("code %d: %s", code, err->text);
    if (code == CW_MACHINE)
        assert_string_not_equal(err->text, "");
    *kept = code == CW_OK;
    d->kept += code == CW_OK;
    d->refused += code == CW_MACHINE;
}

/* A day's work; what was refused is not tried again. */
static void work_on(test_nursery *t, did *d)
{
    bool made = false;
    for (int i = 0; i < ORDERS; i++) {
        cw_error err = CW_ERROR_NONE;
        note(d, &d->order[i], take_order(t, i, &err), &err);
        if (i == ORDERS / 2) {
            cw_table notes = { 0 };
            int64_t wave = 0;
            cw_error own = CW_ERROR_NONE;
            cw_picking_ask ask = { .week = WEEK };
            note(d, &made, cw_picking_make(t->n, &t->who, &ask, &wave, &notes, &own), &own);
            cw_table_free(&notes);
        }
    }
    d->wave = made;
    for (int i = 0; made && i < PICKS; i++) {
        cw_error err = CW_ERROR_NONE;
        note(d, &d->pick[i], answer_pick(t, i, &err), &err);
    }
}

/* On the failing disk. Not even opening has to succeed. */
static did on_bad_disk(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    did d = { 0 };
    test_original_put(&original, t->path);
    disk_install();
    cw_code code = cw_nursery_open(t->path, CW_WORK, "test", &t->n, &err);
    if (code == CW_OK) {
        work_on(t, &d);
        cw_nursery_close(t->n);
    } else {
        assert_int_equal(code, CW_MACHINE);
        d.refused++;
    }
    disk_remove();
    t->n = NULL;
    return d;
}

static bool order_stands(test_nursery *t, int i)
{
    char sql[160];
    snprintf(sql, sizeof sql,
             "SELECT COUNT(*) FROM line l JOIN orders o ON o.id = l.order_id WHERE o.number = 'D%d'", i);
    return number_of(t, sql) == 1;
}

static bool pick_stands(test_nursery *t, int i)
{
    char sql[160];
    snprintf(sql, sizeof sql, "SELECT COUNT(*) FROM pick WHERE state = 'done' AND id = %d", i + 1);
    return number_of(t, sql) == 1;
}

/* On a sound disk again. */
static void all_is_there(test_nursery *t, const did *d, const char *what, long at)
{
    cw_error err = CW_ERROR_NONE;
    cw_table found = { 0 };
    char last[65];
    int lost = 0;
    cw_check_ok(cw_nursery_open(t->path, CW_WORK, "test", &t->n, &err), &err);
    for (int i = 0; i < ORDERS; i++)
        lost += d->order[i] && !order_stands(t, i);
    for (int i = 0; i < PICKS; i++)
        lost += d->pick[i] && !pick_stands(t, i);
    lost += d->wave && number_of(t, "SELECT COUNT(*) FROM wave") != 1;
    int64_t over =
        number_of(t, "SELECT (SELECT SUM(l.quantity) FROM line l JOIN variety v ON v.id = l.variety_id WHERE "
                     "v.code = 'AMB') - 25");
    cw_check_ok(cw_keeping_check(t->n, &found, last, &err), &err);
    if (lost || over > 0 || cw_table_rows(&found))
        fail_msg("%s at %ld: %d acknowledged lost, %lld oversold, %zu findings (%s)", what, at, lost,
                 (long long)over, cw_table_rows(&found),
                 cw_table_rows(&found) ? cw_table_text(&found, 0, 1) : "");
    cw_table_free(&found);
    did again = { 0 };
    if (number_of(t, "SELECT COUNT(*) FROM wave") == 0) {
        work_on(t, &again);
        assert_int_equal(again.refused, 0);
    }
    test_nursery_check(t);
    cw_nursery_close(t->n);
    t->n = NULL;
}

static void the_disk_fails_at_random(void **state)
{
    const char *many = getenv("CW_DISK_RUNS");
    uint64_t seed = test_seed();
    int breaks = many ? (int)strtol(many, NULL, 10) : TEST_ROUNDS(200), full = breaks / 4;
    long kept = 0, refused = 0, hit = 0;
    test_nursery t;
    cw_rng rng;
    (void)state;
    cw_rng_init(&rng, seed, 0);
    make(&t);
    disk_arm(-1, 0, false);
    did plain = on_bad_disk(&t);
    long all = the_disk.seen;
    assert_int_equal(plain.refused, 0);
    assert_true(all > 50);
    all_is_there(&t, &plain, "a sound disk", 0);
    for (int i = 0; i < breaks + full; i++) {
        long at = (long)cw_rng_below(&rng, (uint32_t)all);
        bool is_full = i >= breaks, stays = is_full || i % 2;
        disk_arm(at, is_full ? SQLITE_FULL : SQLITE_IOERR, stays);
        did d = on_bad_disk(&t);
        hit += the_disk.failed > 0;
        kept += d.kept;
        refused += d.refused;
        disk_arm(-1, 0, false);
        all_is_there(&t, &d, is_full ? "disk full" : stays ? "broken for good" : "one failure", at);
    }
    print_message(
        "%d failing writes or syncs, %d full disks (%ld hit): %ld acknowledged, none lost; %ld refused\n",
        breaks, full, hit, kept, refused);
    assert_true(hit > breaks / 2 && refused > 0 && kept > 0);
    free(original.bytes);
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    test_nursery_free(&t);
}

static void a_file_that_may_only_be_read(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    test_nursery t;
    (void)state;
    make(&t);
    free(original.bytes);
    disk_arm(-1, 0, false);
    the_disk.read_only = true;
    disk_install();
    cw_code code = cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err);
    if (code == CW_OK)
        code = take_order(&t, 1, &err);
    assert_int_equal(code, CW_MACHINE);
    assert_non_null(strstr(err.text, "may only be read here"));
    cw_nursery_close(t.n);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(t.path, CW_LOOK, NULL, &t.n, &err), &err);
    cw_check_ok(cw_offering_availability(t.n, &out, &err), &err);
    cw_table_free(&out);
    cw_nursery_close(t.n);
    disk_remove();
    the_disk.read_only = false;
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    cw_check_ok(take_order(&t, 1, &err), &err);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

/* Pages overwritten with noise: told by the check or by whoever reads them, never a crash; the backup brings all back. */
static void damaged_pages(void **state)
{
    cw_error err = CW_ERROR_NONE;
    char copy[128], last[65], noise[4096];
    int told = 0;
    test_nursery t;
    cw_rng rng;
    (void)state;
    make(&t);
    cw_rng_init(&rng, 7, 0);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
    cw_nursery_close(t.n);
    t.n = NULL;
    long pages = (long)(original.length / sizeof noise);
    for (int round = 0; round < 30; round++) {
        cw_table found = { 0 };
        err = (cw_error)CW_ERROR_NONE;
        test_original_put(&original, t.path);
        for (size_t i = 0; i < sizeof noise; i++)
            noise[i] = (char)cw_rng_below(&rng, 256);
        FILE *f = fopen(t.path, "r+b");
        assert_non_null(f);
        fseek(f, (long)sizeof noise * (1 + (long)cw_rng_below(&rng, (uint32_t)(pages - 1))), SEEK_SET);
        assert_int_equal(fwrite(noise, 1, sizeof noise, f), sizeof noise);
        fclose(f);
        cw_code code = cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err);
        if (code == CW_OK)
            code = cw_keeping_check(t.n, &found, last, &err);
        if (code != CW_OK && code != CW_MACHINE && code != CW_REFUSED)
            fail_msg("code %d: %s", code, err.text);
        told += code != CW_OK || cw_table_rows(&found) > 0;
        err = (cw_error)CW_ERROR_NONE;
        if (t.n && take_order(&t, round % ORDERS, &err) != CW_OK)
            assert_string_not_equal(err.text, "");
        cw_table_free(&found);
        cw_nursery_close(t.n);
        t.n = NULL;
    }
    print_message("30 damaged pages, %d told\n", told);
    assert_int_equal(told, 30);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_keeping_restore(copy, t.path, &err), &err);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    cw_check_ok(take_order(&t, 1, &err), &err);
    test_nursery_check(&t);
    free(original.bytes);
    test_nursery_free(&t);
}

/* The machine's clock goes back a day in the middle: everything is taken, in the order in which it came. */
static void the_clock_steps_back(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_table found = { 0 };
    char last[65];
    test_nursery t;
    (void)state;
    make(&t);
    free(original.bytes);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    cw_check_ok(take_order(&t, 0, &err), &err);
    t.who.now -= CW_DAY_MS;
    t.who.today--;
    did d = { 0 };
    work_on(&t, &d);
    assert_int_equal(d.refused, 0);
    assert_true(d.wave && d.kept > 5);
    cw_check_ok(cw_keeping_check(t.n, &found, last, &err), &err);
    assert_int_equal(cw_table_rows(&found), 0);
    cw_table_free(&found);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_disk_fails_at_random),
        cmocka_unit_test(a_file_that_may_only_be_read),
        cmocka_unit_test(damaged_pages),
        cmocka_unit_test(the_clock_steps_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
