/* SPDX-License-Identifier: MIT */
#include "support/check.h"
#include "support/substitutes.h"

#include "base/limits.h"
#include <stdio.h>

/* Invented data throughout. */
#define SEED 20310301u

/* ---- every plan of a stage, one by one ---- */

typedef struct search {
    const sub_world *w;
    int stage;
    int64_t placed, distance, extra; /* so far */
    int64_t best[3];
    int32_t surplus[MOST_VARIETIES];
    int32_t given[8][MOST_VARIETIES]; /* by order: as substitutes */
    int32_t missing[MOST_LINES];
} search;

/* Has every unit of the stage all that it misses, or nothing? */
static bool all_whole(const search *s)
{
    const sub_world *w = s->w;
    for (size_t i = 0; i < w->in.lines; i++)
        for (size_t k = 0; k < w->in.lines; k++) {
            const cw_sub_line *a = &w->line[i], *b = &w->line[k];
            bool mine = (a->consent == CW_CONSENT_ASSORTMENT) == (s->stage == 1) &&
                        (b->consent == CW_CONSENT_ASSORTMENT) == (s->stage == 1);
            if (mine && a->unit > 0 && a->unit == b->unit && s->missing[i] < a->missing && s->missing[k] > 0)
                return false;
        }
    return true;
}

static void try_pairs(search *s, size_t line, uint32_t v)
{
    const sub_world *w = s->w;
    if (v == w->in.varieties) {
        v = 0;
        line++;
    }
    if (line == w->in.lines) {
        bool better = s->placed > s->best[0] ||
                      (s->placed == s->best[0] &&
                       (s->distance < s->best[1] || (s->distance == s->best[1] && s->extra < s->best[2])));
        if (better && all_whole(s)) {
            s->best[0] = s->placed;
            s->best[1] = s->distance;
            s->best[2] = s->extra;
        }
        return;
    }
    const cw_sub_line *l = &w->line[line];
    int distance = 0;
    int64_t extra = 0;
    int32_t most = 0, limit = w->variety[v].limit_per_order;
    if ((l->consent == CW_CONSENT_ASSORTMENT) == (s->stage == 1) &&
        sub_permitted(w, l, v, &distance, &extra)) {
        most = s->missing[line] < s->surplus[v] ? s->missing[line] : s->surplus[v];
        if (limit > 0 && limit - s->given[l->order][v] < most)
            most = limit - s->given[l->order][v];
        if (s->stage == 1 && l->spread > 0 && l->spread < most)
            most = l->spread;
    }
    for (int32_t q = 0; q <= most || q == 0; q++) {
        int64_t kept[3] = { s->placed, s->distance, s->extra };
        if (q > 0) {
            s->placed += q;
            s->distance += q * distance;
            s->extra += q * extra;
        }
        s->missing[line] -= q;
        s->surplus[v] -= q;
        s->given[l->order][v] += q;
        try_pairs(s, line, v + 1);
        s->missing[line] += q;
        s->surplus[v] += q;
        s->given[l->order][v] -= q;
        s->placed = kept[0];
        s->distance = kept[1];
        s->extra = kept[2];
    }
}

static void expect_best(const char *what, const sub_world *w, const cw_sub_plan *plan, int stage)
{
    search s = { .w = w, .stage = stage, .best = { -1, 0, 0 } };
    for (size_t v = 0; v < w->in.varieties; v++)
        s.surplus[v] = w->variety[v].surplus;
    for (size_t i = 0; i < w->in.lines; i++)
        s.missing[i] = w->line[i].missing;
    for (size_t i = 0; i < w->in.helds; i++)
        s.given[w->held[i].order][w->held[i].variety] += w->held[i].substituted;
    for (size_t i = 0; i < plan->choices && stage == 1; i++)
        if (w->line[plan->choice[i].line].consent != CW_CONSENT_ASSORTMENT) {
            s.surplus[plan->choice[i].variety] -= plan->choice[i].quantity;
            s.given[w->line[plan->choice[i].line].order][plan->choice[i].variety] += plan->choice[i].quantity;
        }
    try_pairs(&s, 0, 0);
    const cw_sub_total *t = &plan->stage[stage];
    if (t->placed != s.best[0] || t->distance != s.best[1] || t->extra != s.best[2])
        fail_msg(
            "%s stage %d: placed %lld, distance %lld, extra %lld; the best of all plans is %lld, %lld, %lld",
            what, stage, (long long)t->placed, (long long)t->distance, (long long)t->extra,
            (long long)s.best[0], (long long)s.best[1], (long long)s.best[2]);
}

static void hold_against_all_plans(uint32_t seed, bool units, int64_t *placed, int64_t *left,
                                   int64_t *branches)
{
    for (uint64_t k = 0; k < 6000; k++) {
        cw_rng r;
        sub_world w;
        cw_sub_plan plan;
        cw_error err = CW_ERROR_NONE;
        const char *why = NULL;
        char what[64];
        cw_rng_init(&r, seed, k);
        sub_make(&r, &w, 2 + cw_rng_below(&r, 3), 1 + cw_rng_below(&r, 4), 1 + cw_rng_below(&r, 3), 2);
        if (units)
            sub_add_units(&r, &w);
        sub_add_bans(&r, &w);
        snprintf(what, sizeof what, "seed %u world %llu", seed, (unsigned long long)k);
        cw_check_ok(cw_substitute_solve(&w.in, &plan, &err), &err);
        if (!cw_substitute_verify(&w.in, &plan, &why))
            fail_msg("%s: %s", what, why);
        expect_best(what, &w, &plan, 0);
        expect_best(what, &w, &plan, 1);
        assert_true(cw_substitute_is_best(&plan));
        *placed += plan.total.placed;
        *left += plan.total.missing - plan.total.placed;
        *branches += (int64_t)(plan.branches[0] + plan.branches[1]) - 2;
        cw_sub_plan_free(&plan);
    }
}

static void test_best_of_all_plans(void **state)
{
    (void)state;
    int64_t placed = 0, left = 0, branches = 0;
    hold_against_all_plans(SEED, false, &placed, &left, &branches);
    assert_true(placed > 3000 && left > 3000);
    assert_int_equal(branches, 0);
}

/* The same with lines and orders that take all or nothing. */
static void test_best_of_all_whole_plans(void **state)
{
    (void)state;
    int64_t placed = 0, left = 0, branches = 0;
    hold_against_all_plans(SEED + 5, true, &placed, &left, &branches);
    assert_true(placed > 1500 && left > 3000 && branches > 300);
}

/* Larger worlds: the cap of branches is kept, the bound holds, and the proof goes through. */
static void test_whole_in_larger_worlds(void **state)
{
    (void)state;
    size_t cut = 0, given = 0;
    for (uint64_t k = 0; k < 600; k++) {
        cw_rng r;
        sub_world w;
        cw_sub_plan plan;
        cw_error err = CW_ERROR_NONE;
        const char *why = NULL;
        cw_rng_init(&r, SEED + 6, k);
        sub_make(&r, &w, 3 + cw_rng_below(&r, 8), 20 + cw_rng_below(&r, 20), 12, 5);
        sub_add_units(&r, &w);
        cw_check_ok(cw_substitute_solve(&w.in, &plan, &err), &err);
        if (!cw_substitute_verify(&w.in, &plan, &why))
            fail_msg("seed %u world %llu: %s", SEED + 6, (unsigned long long)k, why);
        assert_true(plan.at_most[0].placed >= plan.stage[0].placed);
        assert_true(plan.branches[0] <= 4001);
        cut += plan.branches[0] > 1;
        given += plan.choices;
        if (plan.branches[0] > 1) { /* a proof with a part cut off does not pass */
            plan.branches[0]--;
            assert_false(cw_substitute_verify(&w.in, &plan, &why));
            plan.branches[0]++;
        }
        cw_sub_plan_free(&plan);
    }
    assert_true(cut > 100 && given > 3000);
}

/* 1e5 orders and more, in larger worlds with groups, shared limits and short lists. */
static void test_never_without_consent(void **state)
{
    (void)state;
    size_t orders_seen = 0, given = 0, refined = 0;
    for (uint64_t k = 0; orders_seen < 100000; k++) {
        cw_rng r;
        sub_world w;
        cw_sub_plan plan;
        cw_error err = CW_ERROR_NONE;
        const char *why = NULL;
        cw_rng_init(&r, SEED + 1, k);
        uint32_t orders = 1 + cw_rng_below(&r, 30);
        sub_make(&r, &w, 3 + cw_rng_below(&r, MOST_VARIETIES - 2), 10 + cw_rng_below(&r, MOST_LINES - 9),
                 orders, 5);
        sub_add_bans(&r, &w);
        cw_check_ok(cw_substitute_solve(&w.in, &plan, &err), &err);
        if (!cw_substitute_verify(&w.in, &plan, &why))
            fail_msg("seed %u world %llu: %s", SEED + 1, (unsigned long long)k, why);
        int32_t got[MOST_LINES] = { 0 }, taken[MOST_VARIETIES] = { 0 },
                by_order[30][MOST_VARIETIES] = { { 0 } };
        for (size_t i = 0; i < w.in.helds; i++)
            by_order[w.held[i].order][w.held[i].variety] += w.held[i].substituted;
        for (size_t i = 0; i < plan.choices; i++) {
            const cw_sub_choice *c = &plan.choice[i];
            const cw_sub_line *l = &w.line[c->line];
            int distance;
            int64_t extra;
            assert_true(l->consent != CW_CONSENT_NONE);
            assert_true(sub_permitted(&w, l, c->variety, &distance, &extra));
            assert_int_equal(distance, c->distance);
            assert_int_equal(extra, c->extra);
            assert_true(c->quantity > 0);
            assert_true(l->consent != CW_CONSENT_ASSORTMENT || l->spread == 0 || c->quantity <= l->spread);
            got[c->line] += c->quantity;
            taken[c->variety] += c->quantity;
            by_order[l->order][c->variety] += c->quantity;
            int32_t limit = w.variety[c->variety].limit_per_order;
            assert_true(limit == 0 || by_order[l->order][c->variety] <= limit);
            assert_true(got[c->line] <= l->missing && taken[c->variety] <= w.variety[c->variety].surplus);
        }
        bool has_line[30] = { false };
        for (size_t i = 0; i < w.in.lines; i++) {
            orders_seen += !has_line[w.line[i].order];
            has_line[w.line[i].order] = true;
        }
        given += plan.choices;
        refined += plan.rounds > 2;
        cw_sub_plan_free(&plan);
    }
    assert_true(given > 20000 && refined > 100);
}

/* The order of the rows does not matter: the same lines, shuffled, get the same. */
static void test_rows_in_any_order(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < 500; k++) {
        cw_rng r;
        sub_world w, x;
        cw_sub_plan a, b;
        cw_error err = CW_ERROR_NONE;
        cw_rng_init(&r, SEED + 2, k);
        sub_make(&r, &w, MOST_VARIETIES, MOST_LINES, 20, 5);
        x = w;
        x.in.variety = x.variety;
        x.in.line = x.line;
        x.in.held = x.held;
        x.in.named = x.named;
        for (size_t i = w.in.lines; i-- > 1;) {
            size_t j = cw_rng_below(&r, (uint32_t)i + 1);
            cw_sub_line swap = x.line[i];
            x.line[i] = x.line[j];
            x.line[j] = swap;
        }
        for (size_t i = w.in.helds; i-- > 1;) {
            size_t j = cw_rng_below(&r, (uint32_t)i + 1);
            cw_sub_held swap = x.held[i];
            x.held[i] = x.held[j];
            x.held[j] = swap;
        }
        cw_check_ok(cw_substitute_solve(&w.in, &a, &err), &err);
        cw_check_ok(cw_substitute_solve(&x.in, &b, &err), &err);
        assert_int_equal(a.choices, b.choices);
        for (size_t i = 0; i < a.choices; i++) {
            assert_int_equal(w.line[a.choice[i].line].line, x.line[b.choice[i].line].line);
            assert_int_equal(a.choice[i].variety, b.choice[i].variety);
            assert_int_equal(a.choice[i].quantity, b.choice[i].quantity);
        }
        cw_sub_plan_free(&a);
        cw_sub_plan_free(&b);
    }
}

/* Forbidding a choice never makes things better, and the pair is not used again. */
static void test_forbidding(void **state)
{
    (void)state;
    for (uint64_t k = 0; k < 300; k++) {
        cw_rng r;
        sub_world w;
        cw_sub_plan plan;
        cw_sub_total change;
        cw_error err = CW_ERROR_NONE;
        cw_rng_init(&r, SEED + 4, k);
        sub_make(&r, &w, 8, 15, 8, 4);
        for (size_t i = 0; i < w.in.lines; i++) /* one stage: else more may be left for assortments */
            w.line[i].consent =
                w.line[i].consent == CW_CONSENT_ASSORTMENT ? CW_CONSENT_ANY : w.line[i].consent;
        for (size_t i = 0; i < w.in.lines; i++)
            w.line[i].wanted = w.line[i].wanted == CW_SUB_NONE_WANTED ? 0 : w.line[i].wanted;
        cw_check_ok(cw_substitute_solve(&w.in, &plan, &err), &err);
        if (plan.choices > 0) {
            const cw_sub_choice *c = &plan.choice[k % plan.choices];
            cw_check_ok(cw_substitute_forbid(&w.in, &plan, c->line, c->variety, &change, &err), &err);
            assert_true(
                change.placed < 0 ||
                (change.placed == 0 && (change.distance > 0 || (change.distance == 0 && change.extra >= 0))));
        }
        cw_sub_plan_free(&plan);
    }
}

typedef enum limited {
    CONSENT,
    WANTED,
    WANTED_BY_CLASS,
    MISSING,
    PAID,
    SPREAD,
    UNIT,
    NAMED_FIRST,
    NAMED_COUNT,
    NAMED,
    SURPLUS,
    LIMIT,
    PRICE,
    SIZE,
    HELD,
    SUBSTITUTED,
    BAN_LINE,
    BAN_VARIETY,
    VARIETIES
} limited;

/* Each number at the last value that may be, and at the first that may not: two varieties and three lines. */
static void test_what_is_out_of_range_is_refused(void **state)
{
    static const struct {
        limited what;
        int64_t value;
        const char *refused; /* a part of the sentence; NULL: taken */
    } rows[] = {
        { CONSENT, CW_CONSENT_NONE, NULL },
        { CONSENT, CW_CONSENT_ASSORTMENT + 1, "line 0 has an unknown consent, 5" },
        { WANTED, 1, NULL },
        { WANTED, 2, "line 0 asks for a variety that is not there" },
        { WANTED, CW_SUB_NONE_WANTED, "line 0 asks for a variety" },
        { WANTED_BY_CLASS, 1, "line 1 asks for a variety that is not there" },
        { MISSING, 0, NULL },
        { MISSING, -1, "line 0 has a quantity, price, spread or unit out of range" },
        { MISSING, CW_MAX_LINE_QUANTITY, NULL },
        { MISSING, CW_MAX_LINE_QUANTITY + 1, "line 0 has a quantity" },
        { PAID, 0, NULL },
        { PAID, -1, "line 0 has a quantity" },
        { PAID, CW_MAX_CENTS, NULL },
        { PAID, CW_MAX_CENTS + 1, "line 0 has a quantity" },
        { SPREAD, 0, NULL },
        { SPREAD, -1, "line 1 has a quantity" },
        { UNIT, 0, NULL },
        { UNIT, 3, NULL },
        { UNIT, 4, "line 0 has a quantity" },
        { NAMED_FIRST, 1, "line 2 has a list of substitutes that is out of range" },
        { NAMED_COUNT, 1, NULL },
        { NAMED_COUNT, 3, "line 2 has a list of substitutes" },
        { NAMED, 1, NULL },
        { NAMED, 2, "line 2 names a substitute that is not there" },
        { SURPLUS, 0, NULL },
        { SURPLUS, -1, "variety 1 has a surplus, price, size or limit out of range" },
        { SURPLUS, CW_MAX_DIVISIONS, NULL },
        { SURPLUS, CW_MAX_DIVISIONS + 1, "variety 1 has a surplus" },
        { LIMIT, 0, NULL },
        { LIMIT, -1, "variety 1 has a surplus" },
        { PRICE, -1, NULL },
        { PRICE, CW_MAX_CENTS, NULL },
        { PRICE, CW_MAX_CENTS + 1, "variety 1 has a surplus" },
        { SIZE, 1000, NULL },
        { SIZE, 1001, "variety 1 has a surplus" },
        { HELD, 1, NULL },
        { HELD, 2, "entry 0 of what orders hold is out of range" },
        { SUBSTITUTED, 0, NULL },
        { SUBSTITUTED, -1, "entry 0 of what orders hold" },
        { BAN_LINE, 2, NULL },
        { BAN_LINE, 3, "entry 0 of the forbidden pairs is out of range" },
        { BAN_VARIETY, 1, NULL },
        { BAN_VARIETY, 2, "entry 0 of the forbidden pairs" },
        { VARIETIES, CW_MAX_VARIETIES + 1, "too many lines or varieties" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_sub_variety variety[2] = { { { 1, 1, 1 }, 100, 5, 0 }, { { 1, 2, 1 }, 120, 5, 0 } };
        cw_sub_line line[3] = {
            { .order = 0, .line = 1, .wanted = 0, .missing = 2, .paid = 100, .consent = CW_CONSENT_ANY },
            { .order = 1,
              .line = 1,
              .wanted = CW_SUB_NONE_WANTED,
              .missing = 2,
              .paid = 100,
              .consent = CW_CONSENT_ASSORTMENT,
              .class = { CW_SUB_UNKNOWN, CW_SUB_UNKNOWN, CW_SUB_UNKNOWN } },
            { .order = 2,
              .line = 1,
              .wanted = 0,
              .missing = 2,
              .paid = 100,
              .consent = CW_CONSENT_NAMED,
              .named_count = 2 },
        };
        cw_sub_held held = { .order = 0, .variety = 0 };
        cw_sub_ban ban = { .line = 1, .variety = 0 };
        uint32_t named[2] = { 1, 0 };
        cw_sub_input in = { .varieties = 2,
                            .lines = 3,
                            .helds = 1,
                            .named_total = 2,
                            .variety = variety,
                            .line = line,
                            .held = &held,
                            .named = named,
                            .ban = &ban,
                            .bans = 1 };
        const int64_t x = rows[i].value;
        switch (rows[i].what) {
        case CONSENT:
            line[0].consent = (uint8_t)x;
            break;
        case WANTED:
            line[0].wanted = (uint32_t)x;
            break;
        case WANTED_BY_CLASS:
            line[1].wanted = (uint32_t)x;
            break;
        case MISSING:
            line[0].missing = (int32_t)x;
            break;
        case PAID:
            line[0].paid = x;
            break;
        case SPREAD:
            line[1].spread = (int32_t)x;
            break;
        case UNIT:
            line[0].unit = (uint32_t)x;
            break;
        case NAMED_FIRST:
            line[2].named_first = (uint32_t)x;
            break;
        case NAMED_COUNT:
            line[2].named_count = (uint32_t)x;
            break;
        case NAMED:
            named[1] = (uint32_t)x;
            break;
        case SURPLUS:
            variety[1].surplus = (int32_t)x;
            break;
        case LIMIT:
            variety[1].limit_per_order = (int32_t)x;
            break;
        case PRICE:
            variety[1].price = x;
            break;
        case SIZE:
            variety[1].class.size = (int32_t)x;
            break;
        case HELD:
            held.variety = (uint32_t)x;
            break;
        case SUBSTITUTED:
            held.substituted = (int32_t)x;
            break;
        case BAN_LINE:
            ban.line = (uint32_t)x;
            break;
        case BAN_VARIETY:
            ban.variety = (uint32_t)x;
            break;
        case VARIETIES:
            in.varieties = (size_t)x;
            break;
        }
        cw_error err = CW_ERROR_NONE;
        cw_sub_plan plan = { 0 };
        cw_code code = cw_substitute_solve(&in, &plan, &err);
        if (rows[i].refused ? code != CW_REFUSED || strstr(err.text, rows[i].refused) == NULL : code != CW_OK)
            fail_msg("row %zu, %lld: %d %s", i, (long long)x, code, err.text);
        cw_sub_plan_free(&plan);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_is_out_of_range_is_refused),
        cmocka_unit_test(test_best_of_all_plans),
        cmocka_unit_test(test_best_of_all_whole_plans),
        cmocka_unit_test(test_whole_in_larger_worlds),
        cmocka_unit_test(test_never_without_consent),
        cmocka_unit_test(test_rows_in_any_order),
        cmocka_unit_test(test_forbidding),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
