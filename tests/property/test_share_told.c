/* SPDX-License-Identifier: MIT */
/* Every member of what a line is told, against the three rules done slowly by the words of model/share.h: with all-or-none lines,
 * orders that leave complete, barred orders, what is firm, and tiers served one before the other. And who is hit when the counts
 * go down. */
#include "share_worlds.h"
#include "base/limits.h"
#include <stdio.h>
#include <stdlib.h>

typedef struct slow {
    const world *w;
    cw_share_rule rule;
    int tier; /* being served; -1: all together */
    int32_t need[MOST_LINES], award[MOST_LINES], part[MOST_LINES];
    int gone[MOST_LINES]; /* 1: gave back, 2: served after all */
    size_t service[MOST_LINES];
    int32_t cause[MOST_ORDERS];
    int64_t supply[MOST_VARIETIES], left[MOST_VARIETIES], sum[MOST_VARIETIES];
    int32_t level[MOST_VARIETIES];
    cw_share_outcome out[MOST_LINES];
} slow;

static const cw_share_line *line_of(const slow *s, size_t i)
{
    return &s->w->line[i];
}

static const cw_share_order *order_of(const slow *s, size_t i)
{
    return &s->w->order[line_of(s, i)->order];
}

static bool is_open(const slow *s, size_t i, size_t v)
{
    return line_of(s, i)->variety == v && s->need[i] > 0 && !s->gone[i] &&
           (s->tier < 0 || order_of(s, i)->tier == s->tier);
}

/* How high everyone open can be brought. */
static int64_t cost_of(const slow *s, size_t v, int32_t level)
{
    int64_t cost = 0;
    for (size_t i = 0; i < s->w->in.lines; i++) {
        int32_t firm = line_of(s, i)->firm, top = firm + s->need[i] < level ? firm + s->need[i] : level;
        cost += is_open(s, i, v) && top > firm ? top - firm : 0;
    }
    return cost;
}

static void award_slowly(slow *s, size_t v)
{
    int64_t sum = 0, most = 0;
    for (size_t i = 0; i < s->w->in.lines; i++)
        if (is_open(s, i, v)) {
            sum += s->need[i];
            most = line_of(s, i)->firm + s->need[i] > most ? line_of(s, i)->firm + s->need[i] : most;
        }
    int64_t over = s->supply[v];
    s->sum[v] = sum;
    s->level[v] = (int32_t)most;
    while (s->level[v] > 0 && cost_of(s, v, s->level[v]) > s->supply[v])
        s->level[v]--;
    for (size_t i = 0; i < s->w->in.lines; i++)
        if (is_open(s, i, v)) {
            s->award[i] = s->supply[v] >= sum            ? s->need[i]
                          : s->rule == CW_SHARE_PRO_RATA ? (int32_t)(s->need[i] * s->supply[v] / sum)
                                                         : 0;
            over -= s->award[i];
        }
    bool seat[MOST_LINES] = { false };
    for (; s->supply[v] < sum && over > 0; over--) {
        size_t best = SIZE_MAX;
        for (size_t k = 0; k < s->w->in.lines; k++) { /* in order of service: the earlier of equals stays */
            size_t i = s->service[k];
            if (!is_open(s, i, v) || s->award[i] >= s->need[i] || seat[i])
                continue;
            bool wins = best == SIZE_MAX;
            if (!wins && s->rule == CW_SHARE_PRO_RATA)
                wins = s->need[i] * s->supply[v] % sum > s->need[best] * s->supply[v] % sum;
            else if (!wins)
                wins = line_of(s, i)->firm + s->award[i] < line_of(s, best)->firm + s->award[best];
            best = wins ? i : best;
        }
        s->award[best]++;
        seat[best] = s->rule == CW_SHARE_PRO_RATA;
    }
}

static void leave(slow *s, size_t i)
{
    s->part[i] = s->award[i];
    s->award[i] = 0;
    s->gone[i] = 1;
}

/* The lines of an order, by number; those of one that is not served in this tier are none. */
static size_t lines_of(const slow *s, size_t order, size_t out[MOST_LINES])
{
    size_t n = 0;
    for (size_t k = 0; k < s->w->in.lines; k++)
        if (line_of(s, s->service[k])->order == order && (s->tier < 0 || s->w->order[order].tier == s->tier))
            out[n++] = s->service[k];
    return n;
}

static bool give_back_slowly(slow *s)
{
    bool any = false;
    for (size_t o = 0; o < s->w->in.orders; o++) {
        size_t at[MOST_LINES], n = lines_of(s, o, at), bad = SIZE_MAX;
        for (size_t k = 0; k < n && s->cause[o] < 0; k++) {
            bool is_short = s->award[at[k]] < s->need[at[k]];
            if (s->w->order[o].ship_complete && is_short && bad == SIZE_MAX)
                bad = at[k];
            if (!s->w->order[o].ship_complete && line_of(s, at[k])->all_or_none && is_short &&
                s->award[at[k]] > 0) {
                leave(s, at[k]);
                any = true;
            }
        }
        if (bad == SIZE_MAX)
            continue;
        s->cause[o] = (int32_t)line_of(s, bad)->variety;
        for (size_t k = 0; k < n; k++)
            if (s->need[at[k]] > 0)
                leave(s, at[k]);
        any = true;
    }
    return any;
}

/* Whole or not at all, in order of service. */
static void offer_slowly(slow *s)
{
    bool asked[MOST_ORDERS] = { false };
    for (size_t k = 0; k < s->w->in.lines; k++) {
        size_t o = line_of(s, s->service[k])->order, at[MOST_LINES], n = lines_of(s, o, at);
        int64_t need[MOST_VARIETIES] = { 0 };
        bool fits = true;
        if (asked[o])
            continue;
        asked[o] = true;
        for (size_t j = 0; j < n; j++)
            need[line_of(s, at[j])->variety] += s->need[at[j]];
        for (size_t v = 0; v < s->w->in.varieties; v++)
            fits = fits && need[v] <= s->left[v];
        for (size_t j = 0; j < n; j++) {
            int64_t *left = &s->left[line_of(s, at[j])->variety];
            if (s->cause[o] >= 0 ? !fits : s->gone[at[j]] != 1 || s->need[at[j]] > *left)
                continue;
            s->gone[at[j]] = 2;
            s->award[at[j]] = s->need[at[j]];
            *left -= s->need[at[j]];
        }
    }
}

static cw_share_reason why(const slow *s, size_t i, size_t v)
{
    int64_t supply = s->supply[v], sum = s->sum[v];
    if (s->need[i] == 0)
        return CW_SHARE_HELD;
    if (s->gone[i] == 2)
        return CW_SHARE_WHOLE_LATER;
    if (s->gone[i] == 1)
        return s->cause[line_of(s, i)->order] >= 0 ? CW_SHARE_NOT_COMPLETE : CW_SHARE_NOT_WHOLE;
    if (s->award[i] == s->need[i])
        return CW_SHARE_FULL;
    if (supply == 0)
        return CW_SHARE_RAN_OUT;
    if (s->rule == CW_SHARE_PRO_RATA)
        return s->need[i] * supply % sum == 0            ? CW_SHARE_EXACT
               : s->award[i] > s->need[i] * supply / sum ? CW_SHARE_ROUNDED_UP
                                                         : CW_SHARE_ROUNDED_DOWN;
    int32_t firm = line_of(s, i)->firm, level = s->level[v];
    return firm > level                 ? CW_SHARE_OVER_LEVEL
           : firm + s->award[i] > level ? CW_SHARE_LEVEL_ONE_MORE
                                        : CW_SHARE_LEVEL;
}

static void tell(slow *s, bool tiers)
{
    int32_t place[MOST_VARIETIES] = { 0 }, lines[MOST_VARIETIES] = { 0 };
    for (int pass = 0; pass < 2; pass++)
        for (size_t k = 0; k < s->w->in.lines; k++) {
            size_t i = s->service[k], v = line_of(s, i)->variety;
            if (s->tier >= 0 && order_of(s, i)->tier != s->tier)
                continue;
            bool needs = s->need[i] > 0;
            if (pass == 0) {
                lines[v] += needs;
                continue;
            }
            place[v] += needs;
            cw_share_reason reason = why(s, i, v);
            int32_t part = s->gone[i]                     ? s->part[i]
                           : s->sum[v] == 0               ? 0
                           : s->rule == CW_SHARE_ONE_EACH ? s->level[v]
                           : s->supply[v] >= s->sum[v]    ? s->need[i]
                                                          : (int32_t)(s->need[i] * s->supply[v] / s->sum[v]);
            s->out[i] =
                (cw_share_outcome){ .allocated = s->award[i],
                                    .need = s->need[i],
                                    .firm = line_of(s, i)->firm,
                                    .place = needs ? place[v] : 0,
                                    .lines = lines[v],
                                    .part = part,
                                    .supply = s->supply[v],
                                    .claimed = s->sum[v],
                                    .cause =
                                        reason == CW_SHARE_NOT_COMPLETE ? s->cause[line_of(s, i)->order] : -1,
                                    .reason = (uint8_t)reason,
                                    .rule = (uint8_t)s->rule,
                                    .tier = order_of(s, i)->tier,
                                    .tiers_first = tiers };
        }
}

static void serve_tier_slowly(slow *s, bool tiers)
{
    memcpy(s->supply, s->left, sizeof s->supply);
    bool again = true, anyone = false;
    while (again) {
        for (size_t v = 0; v < s->w->in.varieties; v++)
            award_slowly(s, v);
        again = give_back_slowly(s);
        anyone = anyone || again;
    }
    for (size_t v = 0; v < s->w->in.varieties; v++)
        for (size_t i = 0; i < s->w->in.lines; i++)
            s->left[v] -= line_of(s, i)->variety == v && (s->tier < 0 || order_of(s, i)->tier == s->tier)
                              ? s->award[i]
                              : 0;
    if (anyone)
        offer_slowly(s);
    tell(s, tiers);
}

/* One after the other, by tiers. */
static void in_turn_slowly(slow *s)
{
    int32_t place[MOST_VARIETIES] = { 0 }, lines[MOST_VARIETIES] = { 0 };
    for (size_t i = 0; i < s->w->in.lines; i++) {
        lines[line_of(s, i)->variety] += s->need[i] > 0;
        s->sum[line_of(s, i)->variety] += s->need[i];
    }
    for (size_t k = 0, end = 0; k < s->w->in.lines; k = end) {
        size_t o = line_of(s, s->service[k])->order;
        int64_t had[MOST_VARIETIES];
        bool whole = s->w->order[o].ship_complete;
        memcpy(had, s->left, sizeof had);
        for (end = k; end < s->w->in.lines && line_of(s, s->service[end])->order == o; end++) {
            size_t i = s->service[end], v = line_of(s, i)->variety;
            if (whole && s->cause[o] < 0 && s->need[i] > s->left[v])
                s->cause[o] = (int32_t)v;
            else if (whole)
                s->left[v] -= s->need[i];
        }
        if (s->cause[o] >= 0)
            memcpy(s->left, had, sizeof had);
        for (size_t j = k; j < end; j++) {
            size_t i = s->service[j], v = line_of(s, i)->variety;
            bool needs = s->need[i] > 0;
            int64_t part = s->left[v], give = s->need[i];
            if (whole)
                give = s->cause[o] < 0 ? give : 0;
            else if (give > part)
                give = line_of(s, i)->all_or_none ? 0 : part;
            cw_share_reason reason = !needs               ? CW_SHARE_HELD
                                     : give == s->need[i] ? CW_SHARE_FULL
                                     : whole              ? CW_SHARE_NOT_COMPLETE
                                     : give > 0           ? CW_SHARE_LAST_OF_IT
                                     : part > 0           ? CW_SHARE_NOT_WHOLE
                                                          : CW_SHARE_RAN_OUT;
            s->left[v] -= whole ? 0 : give;
            s->out[i] = (cw_share_outcome){ .allocated = (int32_t)give,
                                            .need = s->need[i],
                                            .firm = line_of(s, i)->firm,
                                            .place = needs ? ++place[v] : 0,
                                            .lines = lines[v],
                                            .part = (int32_t)part,
                                            .supply = s->w->supply[v],
                                            .claimed = s->sum[v],
                                            .cause = reason == CW_SHARE_NOT_COMPLETE ? s->cause[o] : -1,
                                            .reason = (uint8_t)reason,
                                            .rule = (uint8_t)s->rule,
                                            .tier = s->w->order[o].tier,
                                            .tiers_first = true };
        }
    }
}

static void share_slowly(slow *s, const world *w, cw_share_rule rule, bool tiers)
{
    memset(s, 0, sizeof *s);
    s->w = w;
    s->rule = rule;
    memset(s->cause, 0xff, sizeof s->cause);
    memcpy(s->left, w->supply, sizeof s->left);
    for (size_t i = 0; i < w->in.lines; i++) {
        size_t j = i;
        s->need[i] = order_of(s, i)->barred ? 0 : w->line[i].asked - w->line[i].firm;
        for (; j > 0 && before(w, i, s->service[j - 1], rule == CW_SHARE_FIRST_COME); j--)
            s->service[j] = s->service[j - 1];
        s->service[j] = i;
    }
    if (rule == CW_SHARE_FIRST_COME)
        in_turn_slowly(s);
    else
        for (s->tier = tiers ? 0 : -1; s->tier < (tiers ? (int)CW_TIERS : 0); s->tier++)
            serve_tier_slowly(s, tiers);
    for (size_t i = 0; i < w->in.lines; i++)
        if (order_of(s, i)->barred && w->line[i].asked > w->line[i].firm) {
            s->out[i].need = w->line[i].asked - w->line[i].firm;
            s->out[i].reason = CW_SHARE_BARRED;
        }
}

static bool same(const cw_share_outcome *a, const cw_share_outcome *b)
{
    return a->allocated == b->allocated && a->need == b->need && a->firm == b->firm && a->place == b->place &&
           a->lines == b->lines && a->part == b->part && a->supply == b->supply && a->claimed == b->claimed &&
           a->cause == b->cause && a->reason == b->reason && a->rule == b->rule && a->tier == b->tier &&
           a->tiers_first == b->tiers_first;
}

static void test_all_that_a_line_is_told(void **state)
{
    static long reasons[CW_SHARE_REASONS];
    (void)state;
    for (uint64_t k = 0; k < 3000; k++)
        for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++)
            for (int tiers = 0; tiers < 2; tiers++) {
                cw_rng r;
                world w;
                slow s;
                cw_share_outcome out[MOST_LINES];
                int64_t left[MOST_VARIETIES] = { 0 };
                cw_rng_init(&r, SEED + 8, k);
                make(&r, &w, k % 5 != 0, k % 2);
                run(&w, (cw_share_rule)rule, tiers, out, left);
                share_slowly(&s, &w, (cw_share_rule)rule, tiers);
                for (size_t i = 0; i < w.in.lines; i++) {
                    const cw_share_outcome *o = &out[i], *x = &s.out[i];
                    reasons[o->reason]++;
                    if (!same(o, x))
                        fail_msg("seed %u world %llu %s tiers %d line %zu: %d for %d (place %d of %d, part "
                                 "%d, %lld "
                                 "over %lld, cause %d), by hand %d for %d (%d of %d, %d, %lld over %lld, %d)",
                                 SEED + 8, (unsigned long long)k, cw_share_rule_name((cw_share_rule)rule),
                                 tiers, i, o->allocated, o->reason, o->place, o->lines, o->part,
                                 (long long)o->supply, (long long)o->claimed, o->cause, x->allocated,
                                 x->reason, x->place, x->lines, x->part, (long long)x->supply,
                                 (long long)x->claimed, x->cause);
                }
                for (size_t v = 0; v < w.in.varieties; v++)
                    assert_int_equal(left[v], s.left[v]);
            }
    for (int i = 0; i < (int)CW_SHARE_REASONS; i++)
        if (i != CW_SHARE_BY_RULE && reasons[i] < 20)
            fail_msg("reason %d came %ld times: the worlds are too plain", i, reasons[i]);
}

/* Ordinary lines before what would break a whole wish, and each time the other tiers first, then the latest. */
static bool hit_before(const world *w, size_t i, size_t j)
{
    bool a = w->line[i].all_or_none || complete(w, &w->line[i]),
         b = w->line[j].all_or_none || complete(w, &w->line[j]);
    return a != b ? b : before(w, j, i, true);
}

static void test_who_is_hit_by_hand(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < 4000; k++) {
        cw_rng r;
        world w;
        cw_error err = CW_ERROR_NONE;
        int32_t take[MOST_LINES];
        int64_t found = 0, all = 0, want = 0;
        bool hit[MOST_LINES] = { false };
        cw_rng_init(&r, SEED + 9, k);
        make(&r, &w, true, true);
        for (size_t i = 0; i < w.in.lines; i++)
            all += w.line[i].firm;
        int64_t over = cw_rng_below(&r, (uint32_t)all + 3);
        cw_check_ok(cw_share_hit(w.order, w.in.orders, w.line, w.in.lines, over, take, &found, &err), &err);
        for (size_t n = 0; n < w.in.lines; n++) {
            size_t first = SIZE_MAX;
            for (size_t i = 0; i < w.in.lines; i++)
                if (!hit[i] && (first == SIZE_MAX || hit_before(&w, i, first)))
                    first = i;
            int64_t rest = over - want > 0 ? over - want : 0, firm = w.line[first].firm;
            int64_t lost = rest == 0 ? 0 : rest >= firm || w.line[first].all_or_none ? firm : rest;
            hit[first] = true;
            want += lost;
            if (take[first] != lost)
                fail_msg("seed %u world %llu: line %zu loses %d of %lld, by hand %lld", SEED + 9,
                         (unsigned long long)k, first, take[first], (long long)firm, (long long)lost);
        }
        assert_int_equal(found, want);
    }
}

/* An order of many lines is sorted in another way than one of few; each number is there once. */
static void test_an_order_of_many_lines(void **state)
{
    enum { LINES = 60 };
    static cw_share_line line[LINES];
    cw_share_outcome out[LINES];
    const cw_share_order order[1] = { { 0, CW_TIER_RETAIL, false, false } };
    (void)state;
    for (size_t n = 1; n <= LINES; n++) {
        int64_t supply = (int64_t)n, left = 0;
        cw_error err = CW_ERROR_NONE;
        cw_share *s = NULL;
        for (size_t i = 0; i < n; i++)
            line[i] = (cw_share_line){ 0, 0, (int32_t)((i * 37 + 11) % 61), 2, 0, false };
        const cw_share_input in = { 1, 1, n, &supply, order, line };
        cw_check_ok(cw_share_new(&in, &s, &err), &err);
        cw_check_ok(cw_share_run(s, CW_SHARE_FIRST_COME, false, out, &left, &err), &err);
        cw_share_free(s);
        assert_int_equal(left, 0);
        for (size_t i = 0; i < n; i++) {
            int32_t earlier = 0;
            for (size_t j = 0; j < n; j++)
                earlier += line[j].line < line[i].line;
            int64_t here = supply - 2 * (int64_t)earlier;
            assert_int_equal(out[i].place, earlier + 1);
            assert_int_equal(out[i].allocated, here < 0 ? 0 : here > 2 ? 2 : here);
        }
        if (n < 2)
            continue;
        line[n - 1].line = line[n / 2 - 1].line;
        assert_int_equal(cw_share_new(&in, &s, &err), CW_REFUSED);
    }
}

/* Each number at its last good value, and one beyond. */
static void test_bounds_of_the_input(void **state)
{
    static const struct {
        int64_t supply;
        int32_t asked, firm;
        uint8_t tier;
        bool good;
    } rows[] = {
        { 0, 0, 0, CW_TIER_OTHER, true },
        { CW_MAX_DIVISIONS, CW_MAX_LINE_QUANTITY, CW_MAX_LINE_QUANTITY, CW_TIER_WHOLESALE, true },
        { CW_MAX_DIVISIONS + 1LL, 1, 0, CW_TIER_RETAIL, false },
        { -1, 1, 0, CW_TIER_RETAIL, false },
        { 1, CW_MAX_LINE_QUANTITY + 1, 0, CW_TIER_RETAIL, false },
        { 1, -1, -1, CW_TIER_RETAIL, false },
        { 1, 1, -1, CW_TIER_RETAIL, false },
        { 1, 1, 2, CW_TIER_RETAIL, false },
        { 1, 1, 0, CW_TIERS, false },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_share *s = NULL;
        const cw_share_order order = { 0, rows[i].tier, false, false };
        const cw_share_line line = { 0, 0, 1, rows[i].asked, rows[i].firm, false };
        const cw_share_input in = { 1, 1, 1, &rows[i].supply, &order, &line };
        if (cw_share_new(&in, &s, &err) != (rows[i].good ? CW_OK : CW_REFUSED))
            fail_msg("row %zu: %s", i, err.text);
        cw_share_free(s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_all_that_a_line_is_told),
        cmocka_unit_test(test_who_is_hit_by_hand),
        cmocka_unit_test(test_an_order_of_many_lines),
        cmocka_unit_test(test_bounds_of_the_input),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
