/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/rng.h"
#include "model/substitute.h"
#include <glpk.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Substitution against GLPK's simplex on the whole problem, line by line and pair by pair: three linear programmes one
 * after another (most placed; of these least distance; of these least extra cost). Invented data. */
#define SEED 20310501u

enum { VARIETIES = 40, LINES = 120, ORDERS = 45, HELDS = 90 };

typedef struct world {
    cw_sub_input in;
    cw_sub_variety variety[VARIETIES];
    cw_sub_line line[LINES];
    cw_sub_held held[HELDS];
    uint32_t named[LINES * 3];
} world;

static void make(cw_rng *r, world *w)
{
    memset(w, 0, sizeof *w);
    w->in = (cw_sub_input){ .varieties = VARIETIES,
                            .lines = LINES,
                            .helds = HELDS,
                            .variety = w->variety,
                            .line = w->line,
                            .held = w->held,
                            .named = w->named };
    for (int v = 0; v < VARIETIES; v++)
        w->variety[v] = (cw_sub_variety){ { (int32_t)cw_rng_below(r, 4), (int32_t)cw_rng_below(r, 4),
                                            (int32_t)cw_rng_below(r, 4) },
                                          500 + 50 * (int64_t)cw_rng_below(r, 12),
                                          (int32_t)cw_rng_below(r, 9),
                                          (int32_t)cw_rng_below(r, 4) };
    for (int i = 0; i < LINES; i++) {
        cw_sub_line *l = &w->line[i];
        *l = (cw_sub_line){ .order = cw_rng_below(r, ORDERS),
                            .line = i,
                            .wanted = cw_rng_below(r, VARIETIES),
                            .missing = 1 + (int32_t)cw_rng_below(r, 5),
                            .consent = (uint8_t)(1 + cw_rng_below(r, 3)) };
        l->paid = w->variety[l->wanted].price;
        if (l->consent == CW_CONSENT_NAMED) {
            l->named_first = (uint32_t)w->in.named_total;
            l->named_count = 3;
            for (int k = 0; k < 3; k++)
                w->named[w->in.named_total++] = cw_rng_below(r, VARIETIES);
        }
    }
    for (int i = 0; i < HELDS; i++)
        w->held[i] = (cw_sub_held){ cw_rng_below(r, ORDERS), cw_rng_below(r, VARIETIES), 0 };
}

typedef struct programme {
    glp_prob *lp;
    int columns;
    double distance[LINES * VARIETIES + 1], extra[LINES * VARIETIES + 1];
} programme;

static void add_to_row(int *column, double *one, int *n, int c)
{
    (*n)++;
    column[*n] = c;
    one[*n] = 1;
}

static void add_row(programme *p, const int *column, const double *one, int n, double most)
{
    int row = glp_add_rows(p->lp, 1);
    glp_set_row_bnds(p->lp, row, GLP_UP, 0, most);
    glp_set_mat_row(p->lp, row, n, column, one);
}

/* Rows: a line's missing, a variety's surplus, an order's limit of a variety. */
static void build(const world *w, programme *p)
{
    static int of[LINES][VARIETIES], column[LINES * VARIETIES + 1];
    static double one[LINES * VARIETIES + 1];
    p->lp = glp_create_prob();
    p->columns = 0;
    for (uint32_t l = 0; l < LINES; l++)
        for (uint32_t v = 0; v < VARIETIES; v++) {
            cw_sub_choice c;
            of[l][v] = cw_substitute_allowed(&w->in, l, v, &c) ? ++p->columns : 0;
            if (of[l][v]) {
                p->distance[p->columns] = c.distance;
                p->extra[p->columns] = (double)c.extra;
            }
        }
    glp_add_cols(p->lp, p->columns);
    for (int c = 1; c <= p->columns; c++)
        glp_set_col_bnds(p->lp, c, GLP_LO, 0, 0);
    for (int l = 0; l < LINES; l++) {
        int n = 0;
        for (int v = 0; v < VARIETIES; v++)
            if (of[l][v])
                add_to_row(column, one, &n, of[l][v]);
        add_row(p, column, one, n, w->line[l].missing);
    }
    for (int v = 0; v < VARIETIES; v++) {
        int n = 0;
        for (int l = 0; l < LINES; l++)
            if (of[l][v])
                add_to_row(column, one, &n, of[l][v]);
        add_row(p, column, one, n, w->variety[v].surplus);
        for (uint32_t o = 0; o < ORDERS && w->variety[v].limit_per_order > 0; o++) {
            n = 0;
            for (int l = 0; l < LINES; l++)
                if (of[l][v] && w->line[l].order == o)
                    add_to_row(column, one, &n, of[l][v]);
            add_row(p, column, one, n, w->variety[v].limit_per_order);
        }
    }
}

/* Optimises `weight` (NULL = 1 each) and then holds it there. */
static double step(programme *p, const double *weight, int direction)
{
    static int column[LINES * VARIETIES + 1];
    static double value[LINES * VARIETIES + 1];
    glp_smcp how;
    glp_init_smcp(&how);
    how.msg_lev = GLP_MSG_OFF;
    glp_set_obj_dir(p->lp, direction);
    for (int c = 1; c <= p->columns; c++) {
        column[c] = c;
        value[c] = weight ? weight[c] : 1;
        glp_set_obj_coef(p->lp, c, value[c]);
    }
    assert_int_equal(glp_simplex(p->lp, &how), 0);
    assert_int_equal(glp_get_status(p->lp), GLP_OPT);
    double best = round(glp_get_obj_val(p->lp)); /* the corner points are whole */
    cw_check_near("a whole optimum", glp_get_obj_val(p->lp), best, 1e-6);
    int row = glp_add_rows(p->lp, 1);
    glp_set_row_bnds(p->lp, row, GLP_FX, best, best);
    glp_set_mat_row(p->lp, row, p->columns, column, value);
    return best;
}

static void test_against_simplex(void **state)
{
    (void)state;
    static programme p;
    int64_t placed = 0, distance = 0, extra = 0;
    glp_term_out(GLP_OFF);
    for (uint64_t k = 0; k < 12; k++) {
        cw_rng r;
        world w;
        cw_sub_plan plan;
        cw_error err = CW_ERROR_NONE;
        char what[64];
        cw_rng_init(&r, SEED, k);
        make(&r, &w);
        cw_check_ok(cw_substitute_solve(&w.in, &plan, &err), &err);
        assert_true(cw_substitute_verify(&w.in, &plan, NULL));
        build(&w, &p);
        snprintf(what, sizeof what, "seed %u world %llu", SEED, (unsigned long long)k);
        cw_check_near(what, (double)plan.total.placed, step(&p, NULL, GLP_MAX), 0);
        cw_check_near(what, (double)plan.total.distance, step(&p, p.distance, GLP_MIN), 0);
        cw_check_near(what, (double)plan.total.extra, step(&p, p.extra, GLP_MIN), 0);
        glp_delete_prob(p.lp);
        placed += plan.total.placed;
        distance += plan.total.distance;
        extra += plan.total.extra;
        cw_sub_plan_free(&plan);
    }
    assert_true(placed > 1000 && distance > 1000 && extra > 1000);
}

static void test_sentences(void **state)
{
    (void)state;
    char out[CW_SUB_SENTENCE];
    cw_sub_choice c = {
        .form_differs = false, .colour_differs = true, .size_steps = 1, .extra = 150, .named_place = -1
    };
    assert_string_equal(
        cw_substitute_say(&c, out),
        "The same form, another colour, one size step away; it is 1.50 dearer apiece, at our expense.");
    c = (cw_sub_choice){ .named_place = 1 };
    assert_string_equal(cw_substitute_say(&c, out),
                        "It is number 2 on the buyer's own list; it costs no more.");
    c = (cw_sub_choice){ .assortment = true, .named_place = -1 };
    assert_string_equal(cw_substitute_say(&c, out), "It is of the kind asked for; it costs no more.");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_against_simplex),
        cmocka_unit_test(test_sentences),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
