/* SPDX-License-Identifier: MIT */
#include "support/rounds.h"
#include "support/intake.h"

#include "base/rng.h"

#include "base/banned.h"

/* Files as they come from the world: good ones with a few bytes, fields or lines changed at random. Whatever comes, a
 * load either does all of it and every rule holds, or says what is wrong and changes nothing. */

#define ROUNDS 400

static const struct {
    const char *name, *text;
} sources[] = {
    { "varieties.csv", varieties }, { "places.csv", places }, { "lots.csv", lots },
    { "divisions.csv", divisions }, { "checks.csv", checks }, { "counts.csv", counts },
    { "orders.csv", orders },
};
#define SOURCES (sizeof sources / sizeof sources[0])

static const char *const pieces[] = {
    ",",          "\n",         "\r\n",     "\"",       "-1",  "0", "999999999999999999999",
    "2032-02-30", "\xFF",       "\xC3\xA9", "AMB",      "L1",  ";", " ",
    "1e9",        "2031-12-31", "clump",    "division", "yes", "A1"
};

/* Takes out, doubles or puts in a piece at a random place. */
static void mutate(cw_text *t, cw_rng *r)
{
    cw_text out = CW_TEXT(t->max);
    size_t at = t->length ? cw_rng_below(r, (uint32_t)t->length) : 0;
    size_t n = cw_rng_below(r, 6);
    n = n > t->length - at ? t->length - at : n;
    cw_text_addn(&out, t->data, at);
    switch (cw_rng_below(r, 3)) {
    case 0: /* take out */
        break;
    case 1: /* double */
        cw_text_addn(&out, t->data + at, n);
        cw_text_addn(&out, t->data + at, n);
        break;
    default:
        cw_text_add(&out, pieces[cw_rng_below(r, sizeof pieces / sizeof pieces[0])]);
        break;
    }
    cw_text_addn(&out, t->data + at + n, t->length - at - n);
    cw_text_free(t);
    *t = out;
}

static cw_revision revision(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_revision r;
    cw_check_ok(cw_nursery_revision(t->n, &r, &err), &err);
    return r;
}

static void whatever_comes_is_taken_whole_or_refused(void **state)
{
    uint64_t seed = test_seed();
    cw_rng r;
    long taken = 0, refused = 0;
    test_nursery t;
    (void)state;
    cw_rng_init(&r, seed, 0);
    test_nursery_make(&t);
    for (int round = 0; round < ROUNDS; round++) {
        cw_text texts[SOURCES];
        cw_intake_file files[SOURCES];
        for (size_t i = 0; i < SOURCES; i++) {
            texts[i] = CW_TEXT(1 << 20);
            cw_text_add(&texts[i], sources[i].text);
        }
        for (unsigned m = cw_rng_below(&r, 3); m > 0; m--)
            mutate(&texts[cw_rng_below(&r, SOURCES)], &r);
        for (size_t i = 0; i < SOURCES; i++)
            files[i] = (cw_intake_file){ .name = sources[i].name,
                                         .bytes = texts[i].data ? texts[i].data : "",
                                         .length = texts[i].length };
        cw_revision before = revision(&t);
        loaded l = load_with(&t, files, SOURCES, (cw_intake_options){ .changes = cw_rng_below(&r, 2) != 0 });
        cw_revision after = revision(&t);
        if (l.code == CW_OK) {
            taken++;
        } else {
            refused++;
            assert_int_not_equal(l.code, CW_MACHINE);
            assert_string_not_equal(l.first, "");
            assert_int_equal(before.stock, after.stock);
            assert_int_equal(before.trade, after.trade);
        }
        for (size_t i = 0; i < SOURCES; i++)
            cw_text_free(&texts[i]);
    }
    print_message("%ld taken, %ld refused\n", taken, refused);
    assert_true(taken > 20);
    assert_true(refused > 20);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(whatever_comes_is_taken_whole_or_refused) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
