/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/rng.h"
#include "model/schedule.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ORDERS = 40, ZONES = 4, HOLDS = 6, LEAVES = 5, WEEKS = 7, WORLDS = 3000 };
static const uint64_t seed = 20320416;

typedef struct world {
    cw_schedule_zone zones[ZONES];
    cw_schedule_hold holds[HOLDS];
    cw_schedule_leave leaves[LEAVES];
    cw_schedule_order orders[ORDERS];
    char numbers[ORDERS][12];
    int capacity[WEEKS];
    cw_schedule s;
} world;

static int pick(cw_rng *r, int low, int high)
{
    return low + (int)cw_rng_below(r, (uint32_t)(high - low + 1));
}

static cw_week week(int t)
{
    return cw_week_add(203250, t); /* the schedule crosses a year's end of 53 weeks */
}

static void make(world *w, cw_rng *r)
{
    for (int z = 0; z < ZONES; z++)
        w->zones[z] = (cw_schedule_zone){ "z", pick(r, 0, 3) ? week(pick(r, -2, WEEKS)) : 0 };
    for (int t = 0; t < WEEKS; t++)
        w->capacity[t] = pick(r, 0, 5) ? pick(r, 0, 12) : -1;
    for (int i = 0; i < ORDERS; i++) {
        cw_schedule_fix fix = pick(r, 0, 9) == 0 ? (cw_schedule_fix)pick(r, 1, 3) : CW_SCHEDULE_FREE;
        snprintf(w->numbers[i], sizeof w->numbers[i], "%03d", i);
        w->orders[i] = (cw_schedule_order){ .number = w->numbers[i],
                                            .received_at = pick(r, 0, 15),
                                            .zone = pick(r, -1, ZONES - 1),
                                            .wish_week = pick(r, 0, 2) ? 0 : week(pick(r, -2, WEEKS)),
                                            .parcels = pick(r, 0, 3),
                                            .barred = pick(r, 0, 11) ? NULL : "nothing may be sent there",
                                            .fix = fix,
                                            .fixed_week = fix ? week(pick(r, -1, WEEKS)) : 0 };
    }
    for (int h = 0; h < HOLDS; h++) {
        bool zone = pick(r, 0, 1);
        int from = pick(r, -1, WEEKS);
        w->holds[h] = (cw_schedule_hold){ zone ? pick(r, 0, ZONES - 1) : -1,
                                          zone ? -1 : pick(r, 0, ORDERS - 1), pick(r, 0, 3) ? week(from) : 0,
                                          pick(r, 0, 2) ? week(from + pick(r, 0, 3)) : 0, NULL };
    }
    w->s = (cw_schedule){ week(0), WEEKS,     w->capacity, w->zones,  ZONES, w->holds,
                          HOLDS,   w->leaves, LEAVES,      w->orders, ORDERS };
    for (int i = 0; i < LEAVES; i++)
        w->leaves[i] = (cw_schedule_leave){ (size_t)pick(r, 0, HOLDS - 1), (size_t)pick(r, 0, ORDERS - 1) };
}

/* The rules again, written apart from the product: may order i leave in week t at all, capacity aside? */
static bool may(const world *w, int i, cw_week t)
{
    const cw_schedule_order *o = &w->orders[i];
    cw_week zone = 0;
    for (int z = 0; z < ZONES; z++)
        if ((o->zone == z || o->zone < 0) && w->zones[z].first_week > zone)
            zone = w->zones[z].first_week;
    if (t < zone || t < o->wish_week || o->barred)
        return false;
    for (int h = 0; h < HOLDS; h++) {
        const cw_schedule_hold *d = &w->holds[h];
        bool leave = false;
        for (int k = 0; k < LEAVES; k++)
            leave = leave || (w->leaves[k].hold == (size_t)h && w->leaves[k].order == (size_t)i);
        if (leave)
            continue;
        bool mine = d->order == i || (d->order < 0 && d->zone == o->zone);
        if (mine && t >= d->from && (d->to == 0 || t <= d->to))
            return false;
    }
    return true;
}

static bool before(const world *w, int a, int b)
{
    if (w->orders[a].fix != CW_SCHEDULE_FREE)
        return true;
    if (w->orders[a].received_at != w->orders[b].received_at)
        return w->orders[a].received_at < w->orders[b].received_at;
    return strcmp(w->orders[a].number, w->orders[b].number) < 0;
}

/* Every rule kept; and every admissible earlier week was full with fixed orders and orders that came before.
 */
static void check_order(const world *w, const cw_ship *ship, int i)
{
    if (w->orders[i].fix != CW_SCHEDULE_FREE) {
        assert_int_equal(ship[i].week, w->orders[i].fixed_week);
        return;
    }
    if (ship[i].week)
        assert_true(w->orders[i].parcels > 0 && ship[i].week >= week(0) && ship[i].week <= week(WEEKS - 1) &&
                    may(w, i, ship[i].week));
    for (int t = 0; t < WEEKS && (ship[i].week == 0 || week(t) < ship[i].week); t++) {
        int taken = w->orders[i].parcels;
        for (int k = 0; k < ORDERS; k++)
            if (k != i && ship[k].week == week(t) && before(w, k, i))
                taken += w->orders[k].parcels;
        if (w->orders[i].parcels > 0 && may(w, i, week(t)) && (w->capacity[t] < 0 || taken <= w->capacity[t]))
            fail_msg("order %d waits although week %d had room for it", i, t);
    }
}

static void check_loads(const world *w, const cw_ship *ship, const int *load)
{
    for (int t = 0; t < WEEKS; t++) {
        int all = 0, fixed = 0;
        for (int i = 0; i < ORDERS; i++) {
            int here = ship[i].week == week(t) ? w->orders[i].parcels : 0;
            all += here;
            fixed += w->orders[i].fix != CW_SCHEDULE_FREE ? here : 0;
        }
        assert_int_equal(all, load[t]);
        assert_true(w->capacity[t] < 0 || all <= w->capacity[t] || all == fixed);
    }
}

static void check_same_when_shuffled(world *w, const cw_ship *ship, cw_rng *r)
{
    world other = *w;
    int at[ORDERS];
    for (int i = 0; i < ORDERS; i++)
        at[i] = i;
    for (int i = ORDERS - 1; i > 0; i--) {
        int k = pick(r, 0, i), keep = at[i];
        at[i] = at[k];
        at[k] = keep;
    }
    for (int i = 0; i < ORDERS; i++)
        other.orders[i] = w->orders[at[i]];
    for (int h = 0; h < HOLDS; h++)
        for (int i = 0; i < ORDERS && w->holds[h].order >= 0; i++)
            if (at[i] == w->holds[h].order)
                other.holds[h].order = i;
    for (int k = 0; k < LEAVES; k++)
        for (int i = 0; i < ORDERS; i++)
            if (at[i] == (int)w->leaves[k].order)
                other.leaves[k].order = (size_t)i;
    other.s.leaves = other.leaves;
    other.s.orders = other.orders;
    other.s.holds = other.holds;
    cw_ship again[ORDERS];
    cw_check_ok(cw_schedule_place(&other.s, again, NULL, NULL), NULL);
    for (int i = 0; i < ORDERS; i++)
        assert_memory_equal(&again[i], &ship[at[i]], sizeof(cw_ship));
}

static void check_moves(const world *w, const cw_ship *ship, cw_rng *r)
{
    cw_week now[ORDERS];
    cw_schedule_break b[CW_SCHEDULE_RULES];
    for (int i = 0; i < ORDERS; i++)
        now[i] = ship[i].week;
    for (int i = 0; i < ORDERS; i++) {
        if (w->orders[i].fix == CW_SCHEDULE_FREE && now[i])
            assert_int_equal(cw_schedule_check_move(&w->s, now, (size_t)i, now[i], b), 0);
        int t = pick(r, 0, WEEKS - 1), parcels = w->orders[i].parcels;
        for (int k = 0; k < ORDERS; k++)
            parcels += k != i && now[k] == week(t) ? w->orders[k].parcels : 0;
        bool over = w->capacity[t] >= 0 && parcels > w->capacity[t];
        bool gone = w->orders[i].fix >= CW_SCHEDULE_IN_WAVE && now[i] != week(t);
        size_t n = cw_schedule_check_move(&w->s, now, (size_t)i, week(t), b);
        assert_int_equal(n > 0, over || gone || !may(w, i, week(t)));
        for (size_t k = 0; k < n; k++) {
            assert_true(b[k].amount > 0 && b[k].sentence[0] && (k == 0 || b[k].rule > b[k - 1].rule));
            if (b[k].rule == CW_RULE_CAPACITY)
                assert_int_equal(b[k].amount, parcels - w->capacity[t]);
        }
    }
}

static void test_random_seasons(void **state)
{
    (void)state;
    print_message("seed %llu, %d seasons\n", (unsigned long long)seed, WORLDS);
    long placed = 0, moved = 0;
    for (int n = 0; n < WORLDS; n++) {
        world w;
        cw_rng r;
        cw_ship ship[ORDERS];
        int load[WEEKS];
        char sentence[CW_SCHEDULE_SENTENCE];
        memset(ship, 0, sizeof ship);
        cw_rng_init(&r, seed, (uint64_t)n);
        make(&w, &r);
        cw_check_ok(cw_schedule_place(&w.s, ship, load, NULL), NULL);
        for (int i = 0; i < ORDERS; i++) {
            check_order(&w, ship, i);
            cw_schedule_say(&w.s, (size_t)i, &ship[i], sentence);
            assert_true(strlen(sentence) > 10 && sentence[strlen(sentence) - 1] == '.');
            placed += ship[i].week != 0;
            moved += ship[i].weeks_full > 0 && ship[i].week != 0;
        }
        check_loads(&w, ship, load);
        check_same_when_shuffled(&w, ship, &r);
        check_moves(&w, ship, &r);
    }
    print_message("%ld placed, %ld of them past full weeks\n", placed, moved);
    assert_true(moved > WORLDS); /* the worlds are tight enough to say something */
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_random_seasons) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
