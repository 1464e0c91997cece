/* SPDX-License-Identifier: MIT */
/* A projection after an earlier one keeps the laws and draws of varieties of which nothing has moved, and of no others. */
#include "support/check.h"

#include "model/projection.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define N     8
#define DRAWS 200

typedef struct world {
    cw_latent *rate, *rot, *divisions;
    size_t lot_variety[N];
    cw_stock stock[N];
    double dead[N];
    cw_projection_input in;
} world;

static cw_latent *field(double mean)
{
    cw_latent *l = cw_latent_new_with_lots(N, 2, N, 2);
    assert_non_null(l);
    for (size_t p = 0; p < 2; p++) {
        l->point[p].weight = p == 0 ? 0.6 : 0.4;
        l->point[p].dispersion = 1.2;
        l->point[p].lot_sd = 0.1;
        for (size_t v = 0; v < N; v++) {
            l->point[p].mean[v] = mean + 0.05 * (double)v + 0.02 * (double)p;
            l->point[p].own_sd[v] = 0.2;
            l->point[p].loading[2 * v] = 0.1 + 0.01 * (double)v + 0.02 * (double)p;
            l->point[p].loading[2 * v + 1] = 0.05;
            l->point[p].lot_mean[v] = 0.01;
            l->point[p].lot_pull[v] = 0.3;
            l->point[p].lot_own_sd[v] = 0.08;
        }
    }
    return l;
}

static void begin(world *w)
{
    memset(w, 0, sizeof *w);
    w->rate = field(log(4.0));
    w->rot = field(log(0.01));
    w->divisions = field(log(0.006));
    for (size_t v = 0; v < N; v++) {
        w->lot_variety[v] = v;
        w->dead[v] = 0.01;
        w->stock[v] = (cw_stock){
            .lot = v, .stage = CW_CLUMP, .count = 60 + (int64_t)v, .clump_weeks = 4, .division_weeks = 5
        };
    }
    w->in = (cw_projection_input){ .varieties = N,
                                   .lots = N,
                                   .stocks = N,
                                   .lot_variety = w->lot_variety,
                                   .stock = w->stock,
                                   .weeks_to_ship = 9,
                                   .rate = w->rate,
                                   .clump_rot = w->rot,
                                   .division_rot = w->divisions,
                                   .dead = w->dead,
                                   .rot_tie = 0.01 };
}

static void copy(const world *from, world *to)
{
    *to = *from;
    to->in.rate = to->rate = cw_latent_copy(from->rate);
    to->in.clump_rot = to->rot = cw_latent_copy(from->rot);
    to->in.division_rot = to->divisions = cw_latent_copy(from->divisions);
    to->in.lot_variety = to->lot_variety;
    to->in.stock = to->stock;
    to->in.dead = to->dead;
}

static void end(world *w)
{
    cw_latent_free(w->rate);
    cw_latent_free(w->rot);
    cw_latent_free(w->divisions);
}

typedef struct made {
    cw_projection *p;
    cw_distribution law[N];
    cw_joint *joint;
    int64_t drawn[N][DRAWS];
    bool kept[N];
} made;

/* Uses up the draws of `before`. */
static void make(const world *w, made *before, made *out)
{
    cw_error err = CW_ERROR_NONE;
    const cw_go_on on = { 0 };
    cw_check_ok(cw_projection_new(&w->in, &out->p, &err), &err);
    assert_true(cw_projection_all_after(out->p, before ? before->p : NULL, before ? before->law : NULL, 1, on,
                                        out->law, out->kept));
    cw_check_ok(cw_joint_new_after(out->p, out->law, before ? before->joint : NULL, out->kept, DRAWS, 1, on,
                                   &out->joint, &err),
                &err);
    for (size_t v = 0; v < N; v++)
        for (size_t d = 0; d < DRAWS; d++)
            out->drawn[v][d] = cw_joint_value(out->joint, d, v);
}

static void unmake(made *m)
{
    cw_joint_free(m->joint);
    cw_projection_free(m->p);
}

static bool law_same(const cw_distribution *a, const cw_distribution *b)
{
    return a->first == b->first && a->cells == b->cells && a->mean == b->mean && a->variance == b->variance &&
           memcmp(a->cdf, b->cdf, a->cells * sizeof *a->cdf) == 0;
}

/* Each thing that a law hangs on, of one variety; what stays is 0 .. */
static void move_all(world *w)
{
    w->rate->point[1].mean[1] += 0.0006; /* little */
    w->rate->point[1].mean[2] += 0.01;
    w->rot->point[0].own_sd[3] += 0.01;
    w->divisions->point[0].loading[2 * 4 + 1] += 0.01;
    w->rot->point[1].lot_mean[5] += 0.01;
    w->dead[6] += 0.01;
    w->stock[7].count++;
}

static void test_what_moved(void **state)
{
    (void)state;
    world a, b, c;
    static made first, then, fresh, last;
    begin(&a);
    copy(&a, &b);
    move_all(&b);
    make(&a, NULL, &first);
    make(&b, &first, &then);
    make(&b, NULL, &fresh);
    for (size_t v = 0; v < N; v++) {
        assert_int_equal(then.kept[v], v < 2);
        assert_true(law_same(&then.law[v], v < 2 ? &first.law[v] : &fresh.law[v]));
        assert_memory_equal(then.drawn[v], (v < 2 ? &first : &fresh)->drawn[v], sizeof then.drawn[v]);
        assert_true(fabs(then.law[v].mean / fresh.law[v].mean - 1) < 2 * CW_PROJECTION_STILL);
    }
    /* little by little: the same step again is too much */
    copy(&b, &c);
    c.rate->point[1].mean[1] += 0.0006;
    make(&c, &then, &last);
    for (size_t v = 0; v < N; v++)
        assert_int_equal(last.kept[v], v != 1);
    unmake(&last);
    /* what all hang on */
    c.rot->point[0].weight = 0.5;
    c.rot->point[1].weight = 0.5;
    make(&c, &then, &last);
    for (size_t v = 0; v < N; v++)
        assert_false(last.kept[v]);
    unmake(&last);
    unmake(&fresh);
    unmake(&then);
    unmake(&first);
    end(&a);
    end(&b);
    end(&c);
}

/* A latent near another one has its own loadings of few units only. All that it says is what a whole copy says. */
static void test_near_is_as_whole(void **state)
{
    (void)state;
    const size_t of_its_own[] = { 2, 4 };
    world a, whole, near;
    static made first, again, by_whole, by_near;
    begin(&a);
    copy(&a, &whole);
    near = a;
    near.in.rate = near.rate = cw_latent_near(a.rate, of_its_own, 2);
    assert_non_null(near.rate);
    for (size_t p = 0; p < 2; p++) {
        for (size_t k = 0; k < 4; k++)
            near.rate->point[p].loading[k] = 0.02 * (double)(k + 1);
        for (size_t k = 0; k < 2; k++) {
            whole.rate->point[p].loading[2 * 2 + k] = 0.02 * (double)(k + 1);
            whole.rate->point[p].loading[2 * 4 + k] = 0.02 * (double)(k + 3);
        }
        near.rate->point[p].mean[5] = whole.rate->point[p].mean[5] = 1.5;
        near.rate->point[p].lot_own_sd[6] = whole.rate->point[p].lot_own_sd[6] = 0.3;
    }
    make(&a, NULL, &first);
    make(&a, NULL, &again);
    make(&whole, &again, &by_whole);
    make(&near, &first, &by_near);
    cw_latent *flat = cw_latent_copy(near.rate);
    assert_null(flat->of);
    for (size_t v = 0; v < N; v++) {
        assert_int_equal(by_near.kept[v], v != 2 && v != 4 && v != 5 && v != 6);
        assert_int_equal(by_near.kept[v], by_whole.kept[v]);
        assert_true(law_same(&by_near.law[v], &by_whole.law[v]));
        assert_memory_equal(by_near.drawn[v], by_whole.drawn[v], sizeof by_near.drawn[v]);
        for (size_t p = 0; p < 2; p++)
            assert_memory_equal(cw_latent_loading(flat, p, v), cw_latent_loading(whole.rate, p, v),
                                2 * sizeof(double));
    }
    cw_latent_free(flat);
    cw_latent_free(near.rate);
    unmake(&by_near);
    unmake(&by_whole);
    unmake(&again);
    unmake(&first);
    end(&whole);
    end(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_what_moved),
                                        cmocka_unit_test(test_near_is_as_whole) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
