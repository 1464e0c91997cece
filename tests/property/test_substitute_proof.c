/* SPDX-License-Identifier: MIT */
/* The proof that comes with a plan of substitutes: what passes and what does not, by the rules of model/substitute.h written a second
 * time. Invented data. */
#include "support/check.h"
#include "support/substitutes.h"

#include "model/substitute_inside.h"
#include <stdio.h>

#include "base/banned.h"

#define SEED 20310302u

/* A world of one stage: only named lines, or only assortments. */
static void make_one_stage(cw_rng *r, sub_world *w, int stage, bool units)
{
    sub_make(r, w, 2 + cw_rng_below(r, 4), 2 + cw_rng_below(r, 7), 1 + cw_rng_below(r, 3), 4);
    for (size_t i = 0; i < w->in.lines; i++) {
        cw_sub_line *l = &w->line[i];
        if (stage == 0 && l->consent == CW_CONSENT_ASSORTMENT) {
            l->consent = CW_CONSENT_ANY;
            l->wanted = 0;
        } else if (stage == 1 && l->consent != CW_CONSENT_ASSORTMENT) {
            l->consent = CW_CONSENT_NONE;
        }
    }
    if (units)
        sub_add_units(r, w);
    sub_add_bans(r, w);
    /* Something is left for the stage after, whatever becomes of the plan: its money is counted in the same unit. Nobody may have it. */
    w->variety[w->in.varieties] = (cw_sub_variety){ { 0, 0, 0 }, 100, 1, 0 };
    for (uint32_t o = 0; o < 3; o++)
        w->held[w->in.helds++] = (cw_sub_held){ o, (uint32_t)w->in.varieties, 0 };
    w->in.varieties++;
}

static int32_t limit_left(const sub_world *w, uint32_t order, uint32_t v)
{
    int32_t left = w->variety[v].limit_per_order;
    if (left == 0)
        return INT32_MAX;
    for (size_t i = 0; i < w->in.helds; i++)
        if (w->held[i].order == order && w->held[i].variety == v)
            left -= w->held[i].substituted;
    return left > 0 ? left : 0;
}

/* Most of v that a line may get by itself. */
static int32_t room_of(const sub_world *w, const cw_sub_line *l, uint32_t v)
{
    int distance;
    int64_t extra;
    int32_t most = l->missing, left = limit_left(w, l->order, v);
    if (!sub_permitted(w, l, v, &distance, &extra))
        return 0;
    if (l->consent == CW_CONSENT_ASSORTMENT && l->spread > 0 && l->spread < most)
        most = l->spread;
    return left < most ? left : most;
}

/* May this plan be, whether or not it is the best? */
static bool may_be(const sub_world *w, const cw_sub_choice *c, size_t n)
{
    int64_t got[MOST_LINES] = { 0 }, given[MOST_VARIETIES] = { 0 };
    for (size_t i = 0; i < n; i++) {
        const cw_sub_line *l = &w->line[c[i].line];
        int distance;
        int64_t extra, of_order = 0;
        if (c[i].quantity <= 0 || !sub_permitted(w, l, c[i].variety, &distance, &extra) ||
            distance != c[i].distance || extra != c[i].extra || c[i].quantity > room_of(w, l, c[i].variety))
            return false;
        for (size_t k = 0; k < n; k++) {
            if (k != i && c[k].line == c[i].line && c[k].variety == c[i].variety)
                return false;
            if (c[k].variety == c[i].variety && w->line[c[k].line].order == l->order)
                of_order += c[k].quantity;
        }
        got[c[i].line] += c[i].quantity;
        given[c[i].variety] += c[i].quantity;
        if (of_order > limit_left(w, l->order, c[i].variety) || got[c[i].line] > l->missing ||
            given[c[i].variety] > w->variety[c[i].variety].surplus)
            return false;
    }
    for (size_t a = 0; a < w->in.lines; a++)
        for (size_t b = 0; b < w->in.lines; b++)
            if (w->line[a].unit > 0 && w->line[a].unit == w->line[b].unit && got[a] > 0 &&
                got[b] < w->line[b].missing &&
                (w->line[b].consent == CW_CONSENT_ASSORTMENT) ==
                    (w->line[a].consent == CW_CONSENT_ASSORTMENT))
                return false;
    return true;
}

/* Distance and extra cost as they should be, where the pair is permitted. */
static void measure(const sub_world *w, cw_sub_choice *c)
{
    int distance;
    int64_t extra;
    if (sub_permitted(w, &w->line[c->line], c->variety, &distance, &extra)) {
        c->distance = distance;
        c->extra = extra;
    }
}

/* Changes one thing of the list, which has room for one more. */
static void change(cw_rng *r, const sub_world *w, cw_sub_choice *c, size_t *n)
{
    uint32_t line = cw_rng_below(r, (uint32_t)w->in.lines),
             variety = cw_rng_below(r, (uint32_t)w->in.varieties);
    size_t i = *n > 0 ? cw_rng_below(r, (uint32_t)*n) : 0;
    switch (*n > 0 ? cw_rng_below(r, 8) : 0) {
    case 0:
        c[*n] = (cw_sub_choice){ .line = line, .variety = variety, .quantity = 1 + cw_rng_below(r, 3) };
        measure(w, &c[(*n)++]);
        break;
    case 1:
        c[i] = c[--*n];
        break;
    case 2:
        c[i].quantity++;
        break;
    case 3:
        c[i].quantity--;
        break;
    case 4:
        c[i].variety = variety;
        measure(w, &c[i]);
        break;
    case 5:
        c[i].line = line;
        measure(w, &c[i]);
        break;
    case 6:
        c[i].distance += cw_rng_below(r, 2) ? 10 : 0;
        c[i].extra += cw_rng_below(r, 2) ? 50 : 0;
        break;
    default: /* one of them in a row of its own */
        c[*n] = c[i];
        c[(*n)++].quantity = 1;
        c[i].quantity--;
    }
}

/* Plans that were changed a little pass just when they may be and their totals are right: to be worse is no fault. */
static void test_plans_pass_when_they_may_be(void **state)
{
    (void)state;
    int passed = 0, refused = 0;
    for (uint64_t k = 0; k < 12000; k++) {
        cw_rng r;
        sub_world w;
        cw_sub_plan plan;
        cw_error err = CW_ERROR_NONE;
        const char *why = NULL;
        cw_rng_init(&r, SEED, k);
        int stage = (int)(k % 2);
        make_one_stage(&r, &w, stage, k % 4 < 2);
        cw_check_ok(cw_substitute_solve(&w.in, &plan, &err), &err);
        assert_true(may_be(&w, plan.choice, plan.choices));
        cw_sub_choice other[MOST_LINES * MOST_VARIETIES + 3], *kept = plan.choice;
        for (size_t i = 0; i < plan.choices; i++)
            other[i] = plan.choice[i];
        plan.choice = other;
        for (uint32_t times = cw_rng_below(&r, 4); times > 0; times--)
            change(&r, &w, other, &plan.choices);
        cw_sub_total *said = &plan.stage[stage];
        said->placed = said->distance = said->extra = 0;
        for (size_t i = 0; i < plan.choices; i++) {
            said->placed += other[i].quantity;
            said->distance += (int64_t)other[i].quantity * other[i].distance;
            said->extra += other[i].quantity * other[i].extra;
        }
        bool may = may_be(&w, other, plan.choices);
        if (cw_substitute_verify(&w.in, &plan, &why) != may)
            fail_msg("seed %u world %llu: %s", SEED, (unsigned long long)k,
                     may ? why : "passes, and may not be");
        passed += may;
        refused += !may;
        int64_t *number[] = { &said->placed, &said->distance, &said->extra };
        ++*number[k % 3];
        assert_false(cw_substitute_verify(&w.in, &plan, NULL));
        plan.choice = kept;
        cw_sub_plan_free(&plan);
    }
    assert_true(passed > 3000 && refused > 3000);
}

__extension__ typedef __int128 wide;

/* sum missing * line - sum surplus * variety - sum limit * price - sum room * max(0, line - cost - variety - price) is no less than what
 * the plan costs, and no price is out of its range. */
static bool proves(const sub_world *w, int stage, const struct cw_sub_proof *p, const cw_sub_total *most)
{
    wide bound = 0, missing = 0;
    for (size_t i = 0; i < w->in.lines; i++) {
        const cw_sub_line *l = &w->line[i];
        if (l->missing == 0 || l->consent == CW_CONSENT_NONE ||
            (l->consent == CW_CONSENT_ASSORTMENT) != (stage == 1))
            continue;
        if (p->line[i] > p->unplaced)
            return false;
        missing += l->missing;
        bound += (wide)l->missing * p->line[i];
        for (uint32_t v = 0; v < w->in.varieties; v++) {
            int distance;
            int64_t extra;
            if (w->variety[v].surplus == 0 || !sub_permitted(w, l, v, &distance, &extra))
                continue;
            wide over = (wide)p->line[i] - p->variety[v] - (wide)distance * p->far - extra / p->unit;
            for (size_t k = 0; k < p->limits; k++)
                if (p->limit[k].order == l->order && p->limit[k].variety == v)
                    over -= p->limit[k].price;
            bound -= over > 0 ? over * room_of(w, l, v) : 0;
        }
    }
    for (size_t v = 0; v < w->in.varieties; v++) {
        if (w->variety[v].surplus > 0 && p->variety[v] < 0)
            return false;
        bound -= w->variety[v].surplus > 0 ? (wide)p->variety[v] * w->variety[v].surplus : 0;
    }
    for (size_t k = 0; k < p->limits; k++) {
        const cw_sub_limit_price *a = &p->limit[k], *b = k > 0 ? a - 1 : NULL;
        if (a->price < 0 ||
            (b && (b->order > a->order || (b->order == a->order && b->variety >= a->variety))))
            return false;
        bound -= (wide)a->price * limit_left(w, a->order, a->variety);
    }
    return bound >=
           (missing - most->placed) * p->unplaced + (wide)most->distance * p->far + most->extra / p->unit;
}

/* Prices that were changed prove a plan just when their bound says so. */
static void test_prices_prove_what_their_bound_says(void **state)
{
    (void)state;
    int passed = 0, refused = 0, limits = 0;
    for (uint64_t k = 0; k < 12000; k++) {
        cw_rng r;
        sub_world w;
        cw_sub_plan plan;
        cw_error err = CW_ERROR_NONE;
        const char *why = NULL;
        int stage = (int)(k % 2);
        cw_rng_init(&r, SEED + 1, k);
        make_one_stage(&r, &w, stage, false);
        cw_check_ok(cw_substitute_solve(&w.in, &plan, &err), &err);
        assert_int_equal(plan.branches[stage], 1);
        struct cw_sub_proof *p = plan.branch[stage][0].proof;
        cw_sub_limit_price *kept = p->limit, more[MOST_LINES + 1];
        size_t count = p->limits;
        limits += count > 0;
        for (size_t i = 0; i < count; i++)
            more[i] = kept[i];
        p->limit = more;
        for (uint32_t times = cw_rng_below(&r, 3); times > 0; times--) {
            static const int64_t steps[] = { -1, 1, -40, 40, -100000, 100000 };
            int64_t by = steps[cw_rng_below(&r, 6)];
            uint32_t v = cw_rng_below(&r, (uint32_t)w.in.varieties);
            switch (cw_rng_below(&r, 5)) {
            case 0:
                p->line[cw_rng_below(&r, (uint32_t)w.in.lines)] += by;
                break;
            case 1:
                p->variety[v] += by;
                break;
            case 2:
                if (p->limits > 0)
                    more[cw_rng_below(&r, (uint32_t)p->limits)].price += by;
                break;
            case 3:
                if (p->limits == count)
                    more[p->limits++] = (cw_sub_limit_price){ cw_rng_below(&r, 3), v, by };
                break;
            default:
                plan.at_most[stage].placed += by < 0 ? -1 : 1;
            }
        }
        bool does = proves(&w, stage, p, &plan.at_most[stage]);
        if (cw_substitute_verify(&w.in, &plan, &why) != does)
            fail_msg("seed %u world %llu: %s", SEED + 1, (unsigned long long)k,
                     does ? why : "passes, and proves nothing");
        passed += does;
        refused += !does;
        p->limit = kept;
        p->limits = count;
        cw_sub_plan_free(&plan);
    }
    assert_true(passed > 2000 && refused > 2000 && limits > 200);
}

/* ---- each thing that can be wrong has its sentence ---- */

typedef struct small {
    cw_sub_input in;
    cw_sub_variety variety[4];
    cw_sub_line line[4];
    cw_sub_held held[1];
    cw_sub_ban ban[1];
    uint32_t named[2];
} small;

/* One order of two lines that share a limit of 2, one line that takes both or none, and an assortment of which one of a kind is enough. */
static void make_small(small *s)
{
    *s = (small){
        .variety = { { { 1, 1, 1 }, 100, 0, 0 },
                     { { 1, 1, 1 }, 120, 6, 2 },
                     { { 1, 2, 1 }, 100, 4, 0 },
                     { { 9, 1, 1 }, -1, 3, 0 } },
        .line = { { .order = 0,
                    .line = 1,
                    .wanted = 0,
                    .missing = 3,
                    .paid = 100,
                    .consent = CW_CONSENT_ANY },
                  { .order = 0,
                    .line = 2,
                    .wanted = 0,
                    .missing = 2,
                    .paid = 100,
                    .consent = CW_CONSENT_ANY },
                  { .order = 1,
                    .line = 1,
                    .wanted = 0,
                    .missing = 2,
                    .paid = 100,
                    .consent = CW_CONSENT_NAMED,
                    .named_count = 2,
                    .unit = 3 },
                  { .order = 2,
                    .line = 1,
                    .wanted = CW_SUB_NONE_WANTED,
                    .missing = 2,
                    .paid = 100,
                    .consent = CW_CONSENT_ASSORTMENT,
                    .class = { 9, CW_SUB_UNKNOWN, CW_SUB_UNKNOWN },
                    .spread = 1 } },
        .held = { { .order = 1, .variety = 3 } },
        .ban = { { .line = 1, .variety = 2 } },
        .named = { 2, 3 },
    };
    s->in = (cw_sub_input){ .varieties = 4,
                            .lines = 4,
                            .helds = 1,
                            .named_total = 2,
                            .variety = s->variety,
                            .line = s->line,
                            .held = s->held,
                            .named = s->named,
                            .ban = s->ban,
                            .bans = 1 };
}

static void test_what_is_wrong_with_a_plan(void **state)
{
    static const char range[] = "a choice is out of range",
                      consent[] = "a substitute is given that the buyer did not consent to",
                      room[] = "an order gets a variety that it holds, or more of one than its limit";
    static const struct {
        const char *why; /* NULL: nothing is */
        size_t n;
        cw_sub_choice c[3]; /* line, variety, quantity, distance, extra */
    } rows[] = {
        { NULL, 0, { { 0 } } },
        { NULL, 1, { { 0, 1, 2, 0, 20 } } },
        { NULL, 2, { { 0, 1, 1, 0, 20 }, { 1, 1, 1, 0, 20 } } },
        { NULL, 2, { { 2, 2, 2, 0, 0 }, { 3, 3, 1, 0, 0 } } },
        { range, 1, { { 4, 2, 1, 0, 0 } } },
        { range, 1, { { 0, 4, 1, 0, 0 } } },
        { consent, 1, { { 0, 0, 1, 0, 0 } } },
        { consent, 1, { { 0, 1, 0, 0, 20 } } },
        { consent, 1, { { 2, 1, 2, 0, 20 } } },
        { "a distance or extra cost is wrong", 1, { { 0, 1, 1, 10, 20 } } },
        { "a distance or extra cost is wrong", 1, { { 0, 1, 1, 0, 0 } } },
        { room, 1, { { 0, 1, 3, 0, 20 } } },
        { room, 1, { { 2, 3, 2, 1, 0 } } },
        { room, 1, { { 1, 2, 1, 30, 0 } } },
        { room, 1, { { 3, 3, 2, 0, 0 } } },
        { "a line gets more than it misses", 2, { { 0, 1, 1, 0, 20 }, { 0, 2, 3, 30, 0 } } },
        { "more of a variety is given than is left", 2, { { 0, 2, 3, 30, 0 }, { 2, 2, 2, 0, 0 } } },
        { "a line has the same substitute in two rows", 2, { { 0, 2, 1, 30, 0 }, { 0, 2, 1, 30, 0 } } },
        { "an order gets more of a variety than its limit", 2, { { 0, 1, 1, 0, 20 }, { 1, 1, 2, 0, 20 } } },
        { "what takes all or nothing gets a part", 1, { { 2, 2, 1, 0, 0 } } },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        small s;
        cw_sub_plan plan;
        cw_error err = CW_ERROR_NONE;
        const char *why = NULL;
        make_small(&s);
        if (rows[i].why && strstr(rows[i].why, "more of a variety is given"))
            s.variety[2].surplus = 4;
        cw_check_ok(cw_substitute_solve(&s.in, &plan, &err), &err);
        cw_sub_choice *kept = plan.choice, mine[3];
        size_t count = plan.choices;
        memset(plan.stage, 0, sizeof plan.stage);
        for (size_t k = 0; k < rows[i].n; k++) {
            mine[k] = rows[i].c[k];
            cw_sub_total *t = &plan.stage[mine[k].line == 3];
            t->placed += mine[k].quantity;
            t->distance += (int64_t)mine[k].quantity * mine[k].distance;
            t->extra += mine[k].quantity * mine[k].extra;
        }
        plan.choice = mine;
        plan.choices = rows[i].n;
        if (cw_substitute_verify(&s.in, &plan, &why) != !rows[i].why || !why != !rows[i].why ||
            (why && strcmp(why, rows[i].why)))
            fail_msg("row %zu: %s, want %s", i, why ? why : "nothing", rows[i].why ? rows[i].why : "nothing");
        plan.choice = kept;
        plan.choices = count;
        cw_sub_plan_free(&plan);
    }
}

static bool never(void *context, uint32_t rounds)
{
    (void)rounds;
    ++*(int *)context;
    return false;
}

/* As it is made, a plan passes; then one number of it, or of its proof, is made wrong. */
static void test_what_is_wrong_with_a_proof(void **state)
{
    static const char *const whys[] = {
        NULL,
        "the totals are wrong",
        "the totals are wrong",
        "the totals are wrong",
        "there is no proof",
        "the weights are wrong",
        "the weights are wrong",
        "the weights are wrong",
        "the weights are wrong",
        "the weights are wrong",
        "a line's price is above that of leaving it",
        "a variety has a negative price",
        "the prices of limits are wrong",
        "the prices of limits are wrong",
        "the prices do not prove that no plan is better",
        "a branch of the proof is missing",
        "the proof has branches too many",
        cw_sub_left_off,
    };
    (void)state;
    for (int stage = 0; stage < 2; stage++)
        for (size_t i = 0; i < sizeof whys / sizeof whys[0]; i++) {
            small s;
            cw_sub_plan plan;
            cw_error err = CW_ERROR_NONE;
            const char *why = cw_sub_no_memory;
            int asked = 0;
            make_small(&s);
            cw_check_ok(cw_substitute_solve(&s.in, &plan, &err), &err);
            assert_int_equal(plan.branches[stage], 1);
            cw_sub_branch *kept = plan.branch[stage], two[2] = { kept[0], { 0, NULL } };
            struct cw_sub_proof *p = kept[0].proof, was = *p;
            cw_sub_limit_price prices[2] = { { 0, 1, was.limits ? was.limit[0].price : 0 }, { 0, 1, 0 } };
            p->limit = prices;
            plan.branch[stage] = two;
            size_t line = stage == 0 ? 0 : 3, variety = stage == 0 ? 2 : 3;
            cw_sub_total *said = &plan.stage[stage];
            int64_t *number[] = { NULL,     &said->placed, &said->distance, &said->extra, NULL,
                                  &p->unit, &p->far,       &p->unplaced,    &p->unfilled };
            int64_t before = i < 9 && number[i] ? *number[i] : 0, *price = &p->line[line];
            if (i < 9 && number[i])
                ++*number[i];
            two[0].proof = i == 4 ? NULL : p;
            p->blank = i == 9;
            int64_t at_line = *price, at_variety = p->variety[variety];
            *price = i == 10 ? p->unplaced + 1 : *price;
            plan.at_most[stage].placed -= i == 14;
            p->variety[variety] = i == 11 ? -1 : p->variety[variety];
            p->limits = i == 12 ? 1 : i == 13 ? 2 : p->limits;
            prices[0].price = i == 12 ? -1 : prices[0].price;
            plan.branches[stage] = i == 15 ? 0 : i == 16 ? 2 : 1;
            s.in.go_on = i == 17 ? never : NULL;
            s.in.context = &asked;
            bool passes = cw_substitute_verify(&s.in, &plan, &why);
            if (passes != !whys[i] || !why != !whys[i] || (why && strcmp(why, whys[i])))
                fail_msg("stage %d, %zu: %s, want %s", stage, i, why ? why : "nothing",
                         whys[i] ? whys[i] : "nothing");
            assert_int_equal(asked, i == 17);
            if (i < 9 && number[i])
                *number[i] = before;
            p->line[line] = at_line;
            p->variety[variety] = at_variety;
            *p = was;
            plan.branch[stage] = kept;
            plan.branches[stage] = 1;
            cw_sub_plan_free(&plan);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plans_pass_when_they_may_be),
        cmocka_unit_test(test_prices_prove_what_their_bound_says),
        cmocka_unit_test(test_what_is_wrong_with_a_plan),
        cmocka_unit_test(test_what_is_wrong_with_a_proof),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
