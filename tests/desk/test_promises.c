/* SPDX-License-Identifier: MIT */
/* Random histories of a random order desk: runs, substitutes, stock-takes, taking back, cancelling, changing, new orders.
 * After every step all checks of sql/checks.sql hold, and so do the promises' own laws below. All data are invented;
 * the seed is printed. */
#include "support/promises.h"
#include "support/rounds.h"

#include "base/banned.h"

#define HISTORIES TEST_ROUNDS(24)
#define STEPS     22

/* What a run may do: nothing promised shrinks, and no variety is promised beyond what was free. */
static void check_run(const state *before, const state *after, const char *what)
{
    for (int l = 0; l < LINES; l++)
        for (int v = 0; v < VARIETIES; v++)
            if (after->promise[l][v] < before->promise[l][v])
                fail_msg("%s took %lld of variety %d back from line %d", what,
                         (long long)(before->promise[l][v] - after->promise[l][v]), v + 1, l);
    for (int v = 0; v < VARIETIES; v++)
        if (after->free[v] < before->free[v] && after->free[v] < 0)
            fail_msg("%s promised more of variety %d than there is", what, v + 1);
}

/* Undoes the run that was just made: all promises are again as they were, `held` (taken), and so is the preview. */
static void undo_at_once(test_nursery *t, int64_t run, const char *digest, char *held)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting_undone done;
    cw_substituting *s = NULL;
    cw_check_ok(cw_allotting_undo(t->n, &t->who, run, "a test", &done, &err), &err);
    char *now = all_promises(t);
    assert_string_equal(now, held);
    if (digest) {
        cw_check_ok(cw_substituting_preview(t->n, &t->who, &(cw_substituting_ask){ 0 }, &s, &err), &err);
        assert_string_equal(cw_substituting_digest(s), digest);
        cw_substituting_free(s);
    }
    assert_int_equal(cw_allotting_undo(t->n, &t->who, run, "again", &done, &err), CW_NOT_FOUND);
    free(now);
    free(held);
}

static void step_run(test_nursery *t, cw_rng *r, state *before, state *after)
{
    static const char *const rules[] = { "first-come", "pro-rata", "one-each-first" };
    cw_error err = CW_ERROR_NONE;
    cw_allotting_done done;
    cw_allotting *a = NULL;
    char code[8];
    snprintf(code, sizeof code, "V%u", 1 + cw_rng_below(r, VARIETIES));
    cw_allotting_ask ask = { .rule = pick(r, rules, 3),
                             .variety = cw_rng_below(r, 2) ? NULL : code,
                             .tiers_first = cw_rng_below(r, 2) };
    read_state(t, before);
    char *held = all_promises(t);
    cw_check_ok(cw_allotting_preview(t->n, &t->who, &ask, &a, &err), &err);
    cw_check_ok(cw_allotting_commit(t->n, &t->who, &ask, cw_allotting_digest(a), &done, NULL, &err), &err);
    cw_allotting_free(a);
    read_state(t, after);
    check_run(before, after, ask.rule);
    if (cw_rng_below(r, 3) == 0)
        undo_at_once(t, done.run, NULL, held);
    else
        free(held);
}

static void step_substitute(test_nursery *t, cw_rng *r, state *before, state *after)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    cw_substituting_ask ask = { 0 };
    read_state(t, before);
    char *held = all_promises(t);
    cw_check_ok(cw_substituting_commit(t->n, &t->who, &ask, NULL, &done, NULL, &err), &err);
    assert_true(done.totals.proven);
    read_state(t, after);
    check_run(before, after, "substituting");
    if (cw_rng_below(r, 3) == 0)
        undo_at_once(t, done.run, done.digest, held);
    else
        free(held);
}

static void step_person(test_nursery *t, cw_rng *r, uint32_t what)
{
    cw_error err = CW_ERROR_NONE;
    chosen c = choose(t, r, what == 0);
    if (c.order[0] == '\0')
        return;
    if (what == 0)
        cw_check_ok(cw_allotting_take_back(t->n, &t->who, c.order, c.line, c.code,
                                           1 + cw_rng_below(r, (uint32_t)c.promised), "a test", &err),
                    &err);
    else if (what == 1)
        cw_check_ok(
            cw_ordering_cancel(t->n, &t->who, c.order, cw_rng_below(r, 2) ? c.line : 0, "a test", &err),
            &err);
    else
        cw_check_ok(
            cw_ordering_change(t->n, &t->who, c.order, c.line, 1 + cw_rng_below(r, 8), "a test", &err), &err);
}

static void one_history(uint64_t seed, int number)
{
    static const char *const names[] = { "a run",       "a run",      "substituting", "a stock-take",
                                         "taking back", "cancelling", "changing",     "new orders" };
    test_nursery t;
    static state before, after;
    cw_rng r;
    int orders = 1, day = 2;
    char lot[8], on[24];
    cw_rng_init(&r, seed, (uint64_t)number);
    test_nursery_make(&t);
    make_varieties(&t, &r);
    add_orders(&t, &r, orders, 10);
    orders += 10;
    for (int i = 0; i < STEPS; i++) {
        uint32_t what = i < 3 ? 3 : cw_rng_below(&r, 8); /* some stock first */
        if (what <= 1)
            step_run(&t, &r, &before, &after);
        else if (what == 2)
            step_substitute(&t, &r, &before, &after);
        else if (what == 3) {
            snprintf(lot, sizeof lot, "L%u", 1 + cw_rng_below(&r, VARIETIES));
            snprintf(on, sizeof on, "2032-01-%02d", day++);
            count_lot(&t, lot, on, (int)cw_rng_below(&r, 25));
        } else if (what <= 6)
            step_person(&t, &r, what - 4);
        else {
            add_orders(&t, &r, orders, 2);
            orders += 2;
        }
        check_laws(&t, names[what]);
    }
    test_nursery_free(&t);
}

static void promises_keep_their_laws(void **unused)
{
    uint64_t seed = test_seed();
    (void)unused;
    for (int i = 0; i < HISTORIES; i++)
        one_history(seed, i);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(promises_keep_their_laws) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
