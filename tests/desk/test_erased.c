/* SPDX-License-Identifier: MIT */
/* Who was forgotten is in no byte of the nursery file, of its write-ahead log, or of a copy made afterwards, though their
 * row was moved and written again many times. All data are invented. */
#include "desk/nursery/answers.h"
#include "desk/buyers/forgetting.h"
#include "desk/nursery/keeping.h"
#include "support/bytes.h"
#include "support/picking.h"

#include "base/limits.h"
#include "base/rng.h"

#include "base/banned.h"

#define BUYERS 1200

/* The name and e-mail address, or the postcode. */
static bool in_bytes_of(const test_nursery *t, const char *name)
{
    bool person = files_hold(t, name, "zqx"), postcode = files_hold(t, name, "QX77");
    return person || postcode;
}

/* Every third buyer is the one who will be forgotten: their rows lie on every page. In later rounds names grow by random
 * lengths, so that pages are parted and rows leave copies of themselves behind. */
static void load_buyers(test_nursery *t, int round, cw_rng *r)
{
    cw_text text = CW_TEXT(1 << 20);
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    cw_intake_options how = { .changes = round > 0 };
    char more[CW_MAX_NAME];
    cw_text_add(&text,
                "order,received_at,line,variety,quantity,unit_price,customer,email,postcode,country,zone\n");
    for (int i = 0; i < BUYERS; i++) {
        size_t n = round == 0 ? 0 : cw_rng_below(r, 150);
        memset(more, 'm', n);
        more[n] = '\0';
        if (i % 3 == 0)
            cw_text_addf(&text,
                         "Z%04d,2031-07-05T10:00:00Z,1,AMB,1,6.50,Zqx Person%s,zqx@example.org,ZQX77,US,z7\n",
                         i, more);
        else
            cw_text_addf(&text,
                         "Z%04d,2031-07-05T10:00:00Z,1,AMB,1,6.50,Buyer %d%s,b%d@example.org,%05d,US,z7\n", i,
                         i, more, i, i);
    }
    cw_intake_file file = { .name = "orders.csv", .bytes = text.data, .length = text.length };
    cw_check_ok(cw_intake_load(t->n, &t->who, &file, 1, &how, &answer, &errors, &err), &err);
    cw_table_free(&answer);
    cw_text_free(&text);
}

/* Answers kept for repeats, by keys that are in no order: pages in the middle are parted. */
static void keep_answers(test_nursery *t, cw_rng *r)
{
    cw_error batch = CW_ERROR_NONE; /* one wait for the disk */
    cw_check_ok(cw_nursery_batch_begin(t->n, &batch), &batch);
    for (int i = 0; i < BUYERS; i++) {
        char key[32], words[1000];
        cw_text body = CW_TEXT(2000);
        cw_error err = CW_ERROR_NONE;
        size_t n = cw_rng_below(r, sizeof words);
        memset(words, 'w', n);
        words[n] = '\0';
        snprintf(key, sizeof key, "%08x-%d", cw_rng_below(r, UINT32_MAX), i);
        cw_text_addf(&body, "{\"order\":\"Z%04d\",\"customer\":\"%s\",\"sentence\":\"%s\"}", i,
                     i % 3 ? "Buyer" : "Zqx Person", words);
        cw_check_ok(cw_answers_keep(t->n, key, "digest", 200, body.data, t->who.now, &err), &err);
        cw_text_free(&body);
    }
    cw_check_ok(cw_nursery_batch_commit(t->n, &batch), &batch);
}

static void cancel_theirs(test_nursery *t)
{
    cw_error batch = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_batch_begin(t->n, &batch), &batch);
    for (int i = 0; i < BUYERS; i += 3) {
        cw_error err = CW_ERROR_NONE;
        char number[8];
        snprintf(number, sizeof number, "Z%04d", i);
        cw_check_ok(cw_ordering_cancel(t->n, &t->who, number, 0,
                                       "zqx rang: moved away, and has no garden any more", &err),
                    &err);
    }
    cw_check_ok(cw_nursery_batch_commit(t->n, &batch), &batch);
}

static void check_gone(bool by_day)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char copy[128];
    cw_rng r;
    picking_make(&t);
    cw_rng_init(&r, 20, by_day);
    for (int round = 0; round < 4; round++)
        load_buyers(&t, round, &r);
    keep_answers(&t, &r);
    cancel_theirs(&t);
    assert_true(in_bytes_of(&t, "n.db"));
    cw_forget_ask ask = { .customer = by_day ? NULL : "zqx@example.org",
                          .before = by_day ? t.who.today : CW_NO_DAY };
    cw_check_ok(cw_forgetting(t.n, &t.who, &ask, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), BUYERS / 3);
    cw_table_free(&out);
    cw_check_ok(cw_forgetting_wipe(t.n, t.who.now, &err), &err);
    assert_false(in_bytes_of(&t, "n.db")); /* and its log, while it is open */
    snprintf(copy, sizeof copy, "%s/copy.db", t.folder);
    cw_check_ok(cw_keeping_backup(t.n, &t.who, copy, &err), &err);
    assert_false(in_bytes_of(&t, "copy.db"));
    test_nursery_check(&t);
    cw_nursery_close(t.n);
    t.n = NULL;
    assert_false(in_bytes_of(&t, "n.db"));
    test_nursery_free(&t);
}

static void a_person_is_in_no_byte(void **state)
{
    (void)state;
    check_gone(false);
}

static void nor_is_who_was_out_of_date(void **state)
{
    (void)state;
    check_gone(true);
}

/* Somebody reads on while a person is forgotten: the log cannot be emptied then, which is said, and done an hour later. */
static void what_a_reader_hinders_is_done_later(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    sqlite3 *reader = NULL;
    cw_rng r;
    (void)state;
    picking_make(&t);
    cw_rng_init(&r, 20, 2);
    load_buyers(&t, 0, &r);
    cancel_theirs(&t);
    assert_int_equal(sqlite3_open_v2(t.path, &reader, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(reader, "BEGIN; SELECT COUNT(*) FROM orders", NULL, NULL, NULL), SQLITE_OK);
    cw_check_ok(cw_forgetting(t.n, &t.who, &(cw_forget_ask){ .customer = "zqx@example.org" }, &out, &err),
                &err);
    cw_table_free(&out);
    assert_int_equal(cw_forgetting_wipe(t.n, t.who.now, &err), CW_MACHINE);
    print_message("  %s\n", err.text);
    err = (cw_error)CW_ERROR_NONE;
    sqlite3_close(reader);
    cw_check_ok(cw_forgetting_wipe(t.n, t.who.now + 3599999, &err), &err); /* not yet */
    assert_true(in_bytes_of(&t, "n.db"));
    cw_check_ok(cw_forgetting_wipe(t.n, t.who.now + 3600000, &err), &err);
    assert_false(in_bytes_of(&t, "n.db"));
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(a_person_is_in_no_byte),
                                        cmocka_unit_test(nor_is_who_was_out_of_date),
                                        cmocka_unit_test(what_a_reader_hinders_is_done_later) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
