/* SPDX-License-Identifier: MIT */
#include "support/check.h"
#include "support/rounds.h"

#include "share_worlds.h"
#include <stdio.h>
#include <stdlib.h>

/* Invented data. What each rule keeps and breaks: Thomson, "Axiomatic and game-theoretic analysis of bankruptcy and
 * taxation problems", Math. Soc. Sci. 45 (2003), and largest remainder as a whole-number rule; the counterexamples are
 * found by search here. */

/* Whatever the rule: bounds, nothing invented or lost, whole is whole, and nobody goes short beside stock that would
 * have fitted. */
static void check_run(const char *what, const world *w, const cw_share_outcome *out, const int64_t *left)
{
    int64_t given[MOST_VARIETIES] = { 0 };
    bool nothing[MOST_ORDERS], everything[MOST_ORDERS];
    memset(nothing, 1, sizeof nothing);
    memset(everything, 1, sizeof everything);
    for (size_t i = 0; i < w->in.lines; i++) {
        const cw_share_line *l = &w->line[i];
        int32_t need = l->asked - l->firm, got = out[i].allocated;
        char sentence[CW_SHARE_SENTENCE];
        if (got < 0 || got > need || out[i].need != need || out[i].firm != l->firm)
            fail_msg("%s line %zu gets %d of %d", what, i, got, need);
        if (w->order[l->order].barred) {
            if (got != 0 || (out[i].reason == CW_SHARE_BARRED) != (need > 0))
                fail_msg("%s line %zu of a barred order gets %d, reason %d", what, i, got, out[i].reason);
            nothing[l->order] = true;
            continue;
        }
        if (l->all_or_none && got != 0 && got != need)
            fail_msg("%s all-or-none line %zu gets %d of %d", what, i, got, need);
        given[l->variety] += got;
        nothing[l->order] = nothing[l->order] && got == 0;
        everything[l->order] = everything[l->order] && got == need;
        if (got < need && !l->all_or_none && !complete(w, l) && left[l->variety] > 0)
            fail_msg("%s line %zu is short beside %lld left", what, i, (long long)left[l->variety]);
        if (l->all_or_none && !complete(w, l) && got < need && left[l->variety] >= need)
            fail_msg("%s all-or-none line %zu would have fitted", what, i);
        cw_share_say(&out[i], "another", sentence);
        assert_true(strlen(sentence) > 20 && sentence[strlen(sentence) - 1] == '.');
        assert_true((out[i].reason == CW_SHARE_FULL || out[i].reason == CW_SHARE_WHOLE_LATER ||
                     out[i].reason == CW_SHARE_HELD) == (got == need));
    }
    for (size_t v = 0; v < w->in.varieties; v++)
        if (given[v] + left[v] != w->supply[v])
            fail_msg("%s variety %zu: %lld given, %lld left of %lld", what, v, (long long)given[v],
                     (long long)left[v], (long long)w->supply[v]);
    for (size_t o = 0; o < w->in.orders; o++)
        if (w->order[o].ship_complete && !nothing[o] && !everything[o])
            fail_msg("%s ship-complete order %zu is broken", what, o);
}

static void test_bounds_and_wholes(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(8000); k++) {
        cw_rng r;
        world w;
        cw_share_outcome out[MOST_LINES];
        int64_t left[MOST_VARIETIES];
        char what[80];
        cw_rng_init(&r, SEED, k);
        make(&r, &w, k % 4 != 0, k % 2 != 0);
        for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++)
            for (int tiers = 0; tiers < 2; tiers++) {
                snprintf(what, sizeof what, "seed %u world %llu %s tiers %d:", SEED, (unsigned long long)k,
                         cw_share_rule_name((cw_share_rule)rule), tiers);
                run(&w, (cw_share_rule)rule, tiers, out, left);
                check_run(what, &w, out, left);
            }
    }
}

/* ---- the rules done by hand, slowly, for ordinary lines ---- */

/* Gives one division at a time to the line that the rule puts first. */
static void by_hand(const world *w, cw_share_rule rule, int32_t *got)
{
    memset(got, 0, MOST_LINES * sizeof *got);
    for (size_t v = 0; v < w->in.varieties; v++) {
        int64_t sum = 0, supply = w->supply[v], left = supply;
        for (size_t i = 0; i < w->in.lines; i++)
            sum += w->line[i].variety == v ? w->line[i].asked - w->line[i].firm : 0;
        if (rule == CW_SHARE_PRO_RATA && supply < sum)
            for (size_t i = 0; i < w->in.lines; i++)
                if (w->line[i].variety == v) {
                    got[i] = (int32_t)((w->line[i].asked - w->line[i].firm) * supply / sum);
                    left -= got[i];
                }
        bool seat[MOST_LINES] = { false };
        for (; left > 0; left--) {
            size_t best = SIZE_MAX;
            for (size_t i = 0; i < w->in.lines; i++) {
                const cw_share_line *l = &w->line[i];
                if (l->variety != v || l->firm + got[i] >= l->asked || seat[i])
                    continue;
                int64_t rest = sum > 0 ? (l->asked - l->firm) * supply % sum : 0, other = 0;
                bool wins = best == SIZE_MAX;
                if (!wins && rule == CW_SHARE_FIRST_COME)
                    wins = before(w, i, best, true);
                else if (!wins && rule == CW_SHARE_PRO_RATA && supply < sum) {
                    other = (w->line[best].asked - w->line[best].firm) * supply % sum;
                    wins = rest > other || (rest == other && before(w, i, best, false));
                } else if (!wins && rule == CW_SHARE_ONE_EACH) {
                    int32_t a = l->firm + got[i], b = w->line[best].firm + got[best];
                    wins = a < b || (a == b && before(w, i, best, false));
                }
                best = wins ? i : best;
            }
            if (best == SIZE_MAX)
                break;
            got[best]++;
            seat[best] = rule == CW_SHARE_PRO_RATA && supply < sum;
        }
    }
}

static void test_rules_by_hand(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(3000); k++) {
        cw_rng r;
        world w;
        cw_share_outcome out[MOST_LINES];
        int32_t want[MOST_LINES];
        cw_rng_init(&r, SEED + 1, k);
        make(&r, &w, false, k % 2);
        for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++) {
            run(&w, (cw_share_rule)rule, false, out, NULL);
            by_hand(&w, (cw_share_rule)rule, want);
            for (size_t i = 0; i < w.in.lines; i++)
                if (out[i].allocated != want[i])
                    fail_msg("seed %u world %llu %s line %zu: %d, by hand %d", SEED + 1,
                             (unsigned long long)k, cw_share_rule_name((cw_share_rule)rule), i,
                             out[i].allocated, want[i]);
        }
    }
}

/* All-or-none lines and complete orders in first-come, by hand. */
static void test_first_come_wholes_by_hand(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(3000); k++) {
        cw_rng r;
        world w;
        cw_share_outcome out[MOST_LINES];
        int64_t left[MOST_VARIETIES];
        size_t queue[MOST_LINES];
        cw_rng_init(&r, SEED + 2, k);
        make(&r, &w, true, true);
        run(&w, CW_SHARE_FIRST_COME, false, out, NULL);
        memcpy(left, w.supply, sizeof left);
        for (size_t i = 0; i < w.in.lines; i++) {
            size_t j = i;
            for (; j > 0 && before(&w, i, queue[j - 1], true); j--)
                queue[j] = queue[j - 1];
            queue[j] = i;
        }
        for (size_t i = 0, end = 0; i < w.in.lines; i = end) {
            const cw_share_line *first = &w.line[queue[i]];
            int64_t need[MOST_VARIETIES] = { 0 };
            bool fits = true;
            for (end = i; end < w.in.lines && w.line[queue[end]].order == first->order; end++)
                need[w.line[queue[end]].variety] +=
                    w.order[first->order].barred ? 0 : w.line[queue[end]].asked - w.line[queue[end]].firm;
            for (size_t v = 0; v < w.in.varieties; v++)
                fits = fits && need[v] <= left[v];
            for (size_t j = i; j < end; j++) {
                const cw_share_line *l = &w.line[queue[j]];
                int64_t want = w.order[l->order].barred ? 0 : l->asked - l->firm;
                if (complete(&w, first))
                    want = fits ? want : 0;
                else if (want > left[l->variety])
                    want = l->all_or_none ? 0 : left[l->variety];
                assert_int_equal(out[queue[j]].allocated, want);
                left[l->variety] -= want;
            }
        }
    }
}

static void test_rows_in_any_order(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(1500); k++) {
        cw_rng r;
        world w, x;
        cw_share_outcome a[MOST_LINES], b[MOST_LINES];
        size_t at[MOST_LINES];
        cw_rng_init(&r, SEED + 3, k);
        make(&r, &w, true, true);
        x = w;
        x.in.supply = x.supply;
        x.in.order = x.order;
        x.in.line = x.line;
        for (size_t i = 0; i < w.in.lines; i++)
            at[i] = i;
        for (size_t i = w.in.lines; i-- > 1;) {
            size_t j = cw_rng_below(&r, (uint32_t)i + 1), swap = at[i];
            at[i] = at[j];
            at[j] = swap;
        }
        for (size_t i = 0; i < w.in.lines; i++)
            x.line[i] = w.line[at[i]];
        for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++) {
            memset(a, 0, sizeof a);
            memset(b, 0, sizeof b);
            run(&w, (cw_share_rule)rule, k % 2, a, NULL);
            run(&x, (cw_share_rule)rule, k % 2, b, NULL);
            for (size_t i = 0; i < w.in.lines; i++)
                assert_memory_equal(&a[at[i]], &b[i], sizeof a[0]);
        }
    }
}

/* ---- who is next ---- */

static void make_firm(world *w, const cw_share_outcome *out)
{
    for (size_t i = 0; i < w->in.lines; i++)
        w->line[i].firm += out[i].allocated;
}

/* The order in which the lines of variety 0 are first reached when its divisions come free one by one, each made firm. */
static size_t reached_one_by_one(world *w, cw_share_rule rule, bool tiers, size_t *order)
{
    size_t count = 0;
    bool seen[MOST_LINES] = { false };
    for (int more = 0; more < 400; more++) {
        cw_share_outcome out[MOST_LINES];
        int64_t left[MOST_VARIETIES];
        memset(w->supply, 0, sizeof w->supply);
        w->supply[0] = 1;
        run(w, rule, tiers, out, left);
        make_firm(w, out);
        for (size_t i = 0; i < w->in.lines; i++)
            if (out[i].allocated > 0 && !seen[i]) {
                assert_int_equal(w->line[i].variety, 0);
                seen[i] = true;
                order[count++] = i;
            }
        if (left[0] == 1)
            break;
    }
    return count;
}

static void test_the_waiting_list_is_what_happens(void **state)
{
    size_t seen = 0, passed = 0;
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(2000); k++)
        for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++)
            for (int tiers = 0; tiers < 2; tiers++) {
                cw_rng r;
                world w;
                cw_error err = CW_ERROR_NONE;
                cw_share *s = NULL;
                cw_share_outcome out[MOST_LINES];
                cw_share_waiting list[MOST_LINES];
                size_t count = 0, order[MOST_LINES], at = 0;
                cw_rng_init(&r, SEED + 7, k);
                make(&r, &w, k % 2, k % 4 < 2);
                for (size_t v = 1; v < w.in.varieties; v++)
                    w.supply[v] = 0;
                w.supply[0] = (int64_t)cw_rng_below(&r, 2) * cw_rng_below(&r, 12);
                cw_check_ok(cw_share_new(&w.in, &s, &err), &err);
                cw_check_ok(cw_share_run(s, (cw_share_rule)rule, tiers, out, NULL, &err), &err);
                cw_check_ok(cw_share_queue(s, (cw_share_rule)rule, tiers, 0, out, list, &count, &err), &err);
                cw_share_free(s);
                make_firm(&w, out);
                size_t reached = reached_one_by_one(&w, (cw_share_rule)rule, tiers, order);
                for (size_t i = 0; i < count; i++) {
                    if (list[i].place == 0) { /* never served by single ones */
                        passed++;
                        for (size_t j = 0; j < reached; j++)
                            assert_int_not_equal(order[j], list[i].line);
                        continue;
                    }
                    assert_int_equal(list[i].place, i + 1);
                    if (list[i].now > 0)
                        continue;
                    while (at < reached && out[order[at]].allocated > 0)
                        at++; /* got some in the run and more later */
                    if (at == reached || order[at] != list[i].line)
                        fail_msg("seed %u world %llu %s tiers %d: place %zu is line %u, reached is %zu",
                                 SEED + 7, (unsigned long long)k, cw_share_rule_name((cw_share_rule)rule),
                                 tiers, i + 1, list[i].line, at < reached ? order[at] : SIZE_MAX);
                    at++;
                    seen++;
                }
            }
    assert_true(seen > TEST_ROUNDS(10000) - 1 && passed > TEST_ROUNDS(1000) - 1); /* the worlds hold both */
}

/* ---- what the rules keep and break ---- */

static void share_few(cw_share_rule rule, const int32_t *asked, const int32_t *firm, size_t n, int64_t supply,
                      int32_t *got)
{
    world w = { .in = { 1, n, n, w.supply, w.order, w.line }, .supply = { supply } };
    cw_share_outcome out[MOST_LINES];
    for (size_t i = 0; i < n; i++) {
        w.order[i] = (cw_share_order){ (cw_instant)i, CW_TIER_RETAIL, false, false };
        w.line[i] = (cw_share_line){ 0, (uint32_t)i, 1, asked[i], firm ? firm[i] : 0, false };
    }
    run(&w, rule, false, out, NULL);
    for (size_t i = 0; i < n; i++)
        got[i] = out[i].allocated;
}

static void test_order_and_own_claim(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(20000); k++) {
        cw_rng r;
        int32_t asked[6], got[6], more[6];
        cw_rng_init(&r, SEED + 4, k);
        size_t n = 1 + cw_rng_below(&r, 6), raised = cw_rng_below(&r, (uint32_t)n);
        int64_t supply = cw_rng_below(&r, 60);
        cw_share_rule rule = k % 2 ? CW_SHARE_PRO_RATA : CW_SHARE_ONE_EACH;
        for (size_t i = 0; i < n; i++)
            asked[i] = (int32_t)cw_rng_below(&r, 20);
        share_few(rule, asked, NULL, n, supply, got);
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                if (asked[i] > asked[j]) /* who asks more gets no less and misses no less */
                    if (got[i] + (rule == CW_SHARE_ONE_EACH) < got[j] ||
                        asked[i] - got[i] < asked[j] - got[j])
                        fail_msg("seed %u case %llu: %d of %d beside %d of %d", SEED + 4,
                                 (unsigned long long)k, got[i], asked[i], got[j], asked[j]);
        asked[raised]++;
        share_few(rule, asked, NULL, n, supply, more);
        assert_true(more[raised] >= got[raised]);
    }
}

/* One more division in store takes one from a customer under pro-rata (asked 1, 3, 3); what is firm protects him. */
static void test_more_stock_never_takes_what_is_firm(void **state)
{
    (void)state;
    const int32_t asked[3] = { 1, 3, 3 };
    int32_t three[3], four[3], added[3];
    share_few(CW_SHARE_PRO_RATA, asked, NULL, 3, 3, three);
    share_few(CW_SHARE_PRO_RATA, asked, NULL, 3, 4, four);
    assert_true(three[0] == 1 && four[0] == 0);
    share_few(CW_SHARE_PRO_RATA, asked, three, 3, 1, added);
    assert_true(three[0] + added[0] == 1 && three[1] + added[1] == 2 && three[2] + added[2] == 1);
}

/* first-come and one-each-first are monotone in the supply, and sharing in two steps is sharing at once. */
static void test_monotone_and_in_two_steps(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(20000); k++) {
        cw_rng r;
        int32_t asked[6], first[6], then[6], whole[6];
        cw_rng_init(&r, SEED + 5, k);
        size_t n = 1 + cw_rng_below(&r, 6);
        int64_t a = cw_rng_below(&r, 40), b = cw_rng_below(&r, 20);
        cw_share_rule rule = k % 2 ? CW_SHARE_FIRST_COME : CW_SHARE_ONE_EACH;
        for (size_t i = 0; i < n; i++)
            asked[i] = (int32_t)cw_rng_below(&r, 15);
        share_few(rule, asked, NULL, n, a, first);
        share_few(rule, asked, first, n, b, then);
        share_few(rule, asked, NULL, n, a + b, whole);
        for (size_t i = 0; i < n; i++) {
            assert_true(whole[i] >= first[i]);
            assert_int_equal(first[i] + then[i], whole[i]);
        }
    }
}

static void test_who_is_hit(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < TEST_ROUNDS(3000); k++) {
        cw_rng r;
        world w;
        cw_error err = CW_ERROR_NONE;
        int32_t take[MOST_LINES];
        int64_t firm = 0, found = 0;
        cw_rng_init(&r, SEED + 6, k);
        make(&r, &w, true, true);
        for (size_t i = 0; i < w.in.lines; i++)
            firm += w.line[i].firm;
        int64_t over = cw_rng_below(&r, (uint32_t)firm + 3), sum = 0;
        cw_check_ok(cw_share_hit(w.order, w.in.orders, w.line, w.in.lines, over, take, &found, &err), &err);
        bool whole_hit = false, plain_spared = false;
        for (size_t i = 0; i < w.in.lines; i++) {
            bool whole = w.line[i].all_or_none || complete(&w, &w.line[i]);
            assert_true(take[i] >= 0 && take[i] <= w.line[i].firm);
            assert_true(!w.line[i].all_or_none || take[i] == 0 || take[i] == w.line[i].firm);
            whole_hit = whole_hit || (whole && take[i] > 0);
            plain_spared = plain_spared || (!whole && take[i] < w.line[i].firm);
            sum += take[i];
        }
        assert_int_equal(sum, found);
        assert_true(found >= over || found == firm);
        assert_false(whole_hit && plain_spared);
    }
}

static void test_refusals(void **state)
{
    (void)state;
    int64_t supply[1] = { 5 };
    const cw_share_order order[1] = { { 0, CW_TIER_RETAIL, false, false } };
    const cw_share_line wrong[][2] = {
        { { 1, 0, 1, 2, 0, false }, { 0, 0, 2, 1, 0, false } },  /* no such variety */
        { { 0, 1, 1, 2, 0, false }, { 0, 0, 2, 1, 0, false } },  /* no such order */
        { { 0, 0, 1, -2, 0, false }, { 0, 0, 2, 1, 0, false } }, /* asks less than nothing */
        { { 0, 0, 1, 2, 3, false }, { 0, 0, 2, 1, 0, false } },  /* more firm than asked */
        { { 0, 0, 7, 2, 0, false }, { 0, 0, 7, 1, 0, false } },  /* a line number twice */
    };
    for (size_t k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
        cw_error err = CW_ERROR_NONE;
        cw_share *s = NULL;
        const cw_share_input in = { 1, 1, 2, supply, order, wrong[k] };
        assert_int_equal(cw_share_new(&in, &s, &err), CW_REFUSED);
        assert_null(s);
        assert_true(err.text[0] != 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bounds_and_wholes),
        cmocka_unit_test(test_rules_by_hand),
        cmocka_unit_test(test_first_come_wholes_by_hand),
        cmocka_unit_test(test_rows_in_any_order),
        cmocka_unit_test(test_the_waiting_list_is_what_happens),
        cmocka_unit_test(test_order_and_own_claim),
        cmocka_unit_test(test_more_stock_never_takes_what_is_firm),
        cmocka_unit_test(test_monotone_and_in_two_steps),
        cmocka_unit_test(test_who_is_hit),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
