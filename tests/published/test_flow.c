/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/rng.h"
#include "model/flow.h"
#include <glpk.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* A problem read or built here. */
typedef struct problem {
    int32_t nodes;
    int64_t *supply;
    cw_flow_arc *arc;
    size_t arcs, room;
} problem;

static void problem_init(problem *p, int32_t nodes)
{
    *p = (problem){ .nodes = nodes, .supply = calloc((size_t)nodes, sizeof *p->supply) };
    assert_non_null(p->supply);
}

static void problem_arc(problem *p, int32_t from, int32_t to, int64_t capacity, int64_t cost)
{
    if (p->arcs == p->room) {
        p->room = p->room * 2 + 64;
        p->arc = realloc(p->arc, p->room * sizeof *p->arc);
        assert_non_null(p->arc);
    }
    p->arc[p->arcs++] = (cw_flow_arc){ from, to, capacity, cost };
}

static void problem_free(problem *p)
{
    free(p->supply);
    free(p->arc);
}

/* Solves, checks the proof, and returns the cost; false in *feasible if a cut proves that there is none. */
static int64_t solve(const char *what, const problem *p, bool *feasible)
{
    cw_error err = CW_ERROR_NONE;
    cw_flow *f = NULL;
    cw_flow_status status;
    int64_t cost = 0;
    const char *why = NULL;
    cw_check_ok(cw_flow_new(p->nodes, p->supply, &f, &err), &err);
    cw_check_ok(cw_flow_add(f, p->arc, p->arcs, &err), &err);
    cw_check_ok(cw_flow_solve(f, &status, &err), &err);
    *feasible = status == CW_FLOW_OPTIMAL;
    if (*feasible) {
        if (!cw_flow_verify(p->nodes, p->supply, p->arc, p->arcs, cw_flow_flows(f), cw_flow_potentials(f),
                            &why))
            fail_msg("%s: no proof: %s", what, why);
        assert_true(cw_flow_cost(p->arc, cw_flow_flows(f), p->arcs, &cost));
    } else {
        assert_int_equal(status, CW_FLOW_INFEASIBLE);
        if (!cw_flow_verify_cut(p->nodes, p->supply, p->arc, p->arcs, cw_flow_cut(f)))
            fail_msg("%s: the cut proves nothing", what);
    }
    cw_flow_free(f);
    return cost;
}

static void expect(const char *what, const problem *p, int64_t want)
{
    bool feasible = false;
    int64_t got = solve(what, p, &feasible);
    if (!feasible || got != want)
        fail_msg("%s: cost %lld (feasible %d), published %lld", what, (long long)got, feasible,
                 (long long)want);
}

/* Assignment problem by Christofides, Graph Theory (1975), as in the GLPK example assign.mod; optimum 76. */
static void test_christofides(void **state)
{
    (void)state;
    static const int cost[8][8] = {
        { 13, 21, 20, 12, 8, 26, 22, 11 },  { 12, 36, 25, 41, 40, 11, 4, 8 },
        { 35, 32, 13, 36, 26, 21, 13, 37 }, { 34, 54, 7, 8, 12, 22, 11, 40 },
        { 21, 6, 45, 18, 24, 34, 12, 48 },  { 42, 19, 39, 15, 14, 16, 28, 46 },
        { 16, 34, 38, 3, 34, 40, 22, 24 },  { 26, 20, 5, 17, 45, 31, 37, 43 },
    };
    problem p;
    problem_init(&p, 16);
    for (int i = 0; i < 8; i++) {
        p.supply[i] = 1;
        p.supply[8 + i] = -1;
        for (int j = 0; j < 8; j++)
            problem_arc(&p, i, 8 + j, 1, cost[i][j]);
    }
    expect("Christofides 8 x 8", &p, 76);
    problem_free(&p);
}

/* Transportation problem of Dantzig, Linear Programming and Extensions (1963), ch. 3-3, as in the GLPK
 * example transp.mod: optimum 153.675 thousand; distances in tenths, freight 90 per thousand. Plants may keep
 * some. */
static void test_dantzig(void **state)
{
    (void)state;
    static const int distance[2][3] = { { 25, 17, 18 }, { 25, 18, 14 } };
    static const int supply[2] = { 350, 600 }, demand[3] = { 325, 300, 275 };
    problem p;
    problem_init(&p, 6);
    for (int i = 0; i < 2; i++) {
        p.supply[i] = supply[i];
        problem_arc(&p, i, 5, CW_FLOW_INFINITE, 0);
        for (int j = 0; j < 3; j++)
            problem_arc(&p, i, 2 + j, CW_FLOW_INFINITE, 90 * distance[i][j]);
    }
    for (int j = 0; j < 3; j++)
        p.supply[2 + j] = -demand[j];
    p.supply[5] = -(350 + 600 - 325 - 300 - 275);
    expect("Dantzig 1963, scaled by 10,000", &p, 1536750);
    problem_free(&p);
}

static gzFile open_data(const char *name)
{
    char path[512];
    snprintf(path, sizeof path, "%s/published/data/flow/%s", CW_TEST_DIR, name);
    gzFile z = gzopen(path, "rb");
    if (!z)
        fail_msg("cannot read %s", path);
    return z;
}

static long next_number(gzFile z)
{
    int c = gzgetc(z);
    long v = 0;
    while (c == ' ' || c == '\n' || c == '\r' || c == '\t')
        c = gzgetc(z);
    for (; c >= '0' && c <= '9'; c = gzgetc(z))
        v = v * 10 + (c - '0');
    return v;
}

/* tests/published/data/flow/README.md names the origin. */
static void test_beasley_assignments(void **state)
{
    (void)state;
    static const struct {
        const char *file;
        int64_t optimum;
    } rows[] = { { "assign100.txt.gz", 305 }, { "assign200.txt.gz", 475 } };
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        gzFile z = open_data(rows[k].file);
        int32_t n = (int32_t)next_number(z);
        problem p;
        problem_init(&p, 2 * n);
        for (int32_t i = 0; i < n; i++) {
            p.supply[i] = 1;
            p.supply[n + i] = -1;
            for (int32_t j = 0; j < n; j++)
                problem_arc(&p, i, n + j, CW_FLOW_INFINITE, next_number(z));
        }
        gzclose(z);
        expect(rows[k].file, &p, rows[k].optimum);
        problem_free(&p);
    }
}

/* DIMACS "min" and "asn": in the latter the nodes named by n lines have one unit each for the rest. */
static void read_dimacs(const char *file, problem *p)
{
    gzFile z = open_data(file);
    char line[256];
    bool assignment = false;
    while (gzgets(z, line, sizeof line)) {
        int a, b;
        long low, high, cost, amount;
        if (sscanf(line, "p min %d %d", &a, &b) == 2) {
            problem_init(p, a);
        } else if (sscanf(line, "p asn %d %d", &a, &b) == 2) {
            problem_init(p, a);
            assignment = true;
            for (int v = 0; v < a; v++)
                p->supply[v] = -1;
        } else if (sscanf(line, "n %d %ld", &a, &amount) == 2) {
            p->supply[a - 1] = amount;
        } else if (assignment && sscanf(line, "n %d", &a) == 1) {
            p->supply[a - 1] = 1;
        } else if (sscanf(line, "a %d %d %ld %ld %ld", &a, &b, &low, &high, &cost) == 5) {
            assert_int_equal(low, 0);
            problem_arc(p, a - 1, b - 1, high, cost);
        } else if (assignment && sscanf(line, "a %d %d %ld", &a, &b, &cost) == 3) {
            problem_arc(p, a - 1, b - 1, 1, cost);
        }
    }
    gzclose(z);
}

static void test_netgen(void **state)
{
    (void)state;
    static const struct {
        const char *file;
        int64_t optimum;
    } rows[] = { { "netgen01.dimacs.gz", 2054059 },
                 { "netgen11.dimacs.gz", 4991 },
                 { "netgen16.dimacs.gz", 66644957 } };
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        problem p = { 0 };
        read_dimacs(rows[k].file, &p);
        assert_true(p.arcs > 0);
        expect(rows[k].file, &p, rows[k].optimum);
        problem_free(&p);
    }
}

/* Small whole networks of every temper: parallel arcs, loops, arcs of no capacity, negative costs, supplies
 * that cannot be sent, many equal costs (degenerate). */
static void make_random(cw_rng *r, problem *p)
{
    int32_t nodes = 2 + (int32_t)cw_rng_below(r, 12);
    uint32_t arcs = cw_rng_below(r, 50), span = cw_rng_below(r, 2) ? 3 : 40, room = 1 + cw_rng_below(r, 12);
    int64_t low = cw_rng_below(r, 3) == 0 ? -(int64_t)(span / 3) : 0;
    problem_init(p, nodes);
    for (uint32_t k = 0; k < 6; k++) {
        int64_t q = cw_rng_below(r, 6);
        p->supply[cw_rng_below(r, (uint32_t)nodes)] += q;
        p->supply[cw_rng_below(r, (uint32_t)nodes)] -= q;
    }
    for (uint32_t k = 0; k < arcs; k++)
        problem_arc(p, (int32_t)cw_rng_below(r, (uint32_t)nodes), (int32_t)cw_rng_below(r, (uint32_t)nodes),
                    cw_rng_below(r, room + 1), low + (int64_t)cw_rng_below(r, span));
}

/* The same by GLPK's out-of-kilter code: true and the cost if feasible. */
static bool glpk_cost(const problem *p, int64_t *cost)
{
    typedef struct node {
        double rhs;
    } node;
    typedef struct edge {
        double low, cap, cost, flow;
    } edge;
    glp_graph *g = glp_create_graph(sizeof(node), sizeof(edge));
    double sum = 0;
    glp_add_vertices(g, p->nodes);
    for (int32_t v = 0; v < p->nodes; v++)
        ((node *)g->v[v + 1]->data)->rhs = (double)p->supply[v];
    for (size_t a = 0; a < p->arcs; a++) {
        const cw_flow_arc *arc = &p->arc[a];
        if (arc->from == arc->to) { /* GLPK takes no loops; one carries all it can if that pays */
            sum += arc->cost < 0 ? (double)(arc->cost * arc->capacity) : 0;
            continue;
        }
        glp_arc *e = glp_add_arc(g, arc->from + 1, arc->to + 1);
        *(edge *)e->data = (edge){ 0, (double)arc->capacity, (double)arc->cost, 0 };
    }
    double best = 0;
    int code = glp_mincost_okalg(g, offsetof(node, rhs), offsetof(edge, low), offsetof(edge, cap),
                                 offsetof(edge, cost), &best, offsetof(edge, flow), -1);
    assert_true(code == 0 || code == GLP_ENOPFS);
    glp_delete_graph(g);
    *cost = (int64_t)(best + sum);
    return code == 0;
}

static void test_against_glpk(void **state)
{
    (void)state;
    const uint64_t seed = 20310104;
    int feasibles = 0, infeasibles = 0;
    glp_term_out(GLP_OFF);
    for (uint64_t k = 0; k < 20000; k++) {
        cw_rng r;
        problem p;
        char what[64];
        int64_t want = 0;
        bool feasible = false;
        cw_rng_init(&r, seed, k);
        make_random(&r, &p);
        snprintf(what, sizeof what, "seed %llu instance %llu", (unsigned long long)seed,
                 (unsigned long long)k);
        int64_t got = solve(what, &p, &feasible);
        bool glpk = glpk_cost(&p, &want);
        if (glpk != feasible || (feasible && got != want))
            fail_msg("%s: %lld (feasible %d), GLPK %lld (%d)", what, (long long)got, feasible,
                     (long long)want, glpk);
        feasibles += feasible;
        infeasibles += !feasible;
        problem_free(&p);
    }
    assert_true(feasibles > 2000 && infeasibles > 2000);
}

/* Arcs added in three helpings, with a solve after each, end at the optimum of the whole. */
static void test_arcs_added_later(void **state)
{
    (void)state;
    const uint64_t seed = 20310105;
    for (uint64_t k = 0; k < 3000; k++) {
        cw_rng r;
        problem p;
        cw_error err = CW_ERROR_NONE;
        cw_flow *f = NULL;
        cw_flow_status status = CW_FLOW_INFEASIBLE;
        bool feasible = false;
        int64_t cost = 0;
        cw_rng_init(&r, seed, k);
        make_random(&r, &p);
        int64_t want = solve("whole", &p, &feasible);
        cw_check_ok(cw_flow_new(p.nodes, p.supply, &f, &err), &err);
        for (size_t at = 0, part = p.arcs / 3 + 1; at < p.arcs || part == 0; at += part) {
            cw_check_ok(cw_flow_add(f, &p.arc[at], at + part < p.arcs ? part : p.arcs - at, &err), &err);
            cw_check_ok(cw_flow_solve(f, &status, &err), &err);
        }
        cw_check_ok(cw_flow_solve(f, &status, &err), &err);
        if ((status == CW_FLOW_OPTIMAL) != feasible)
            fail_msg("seed %llu instance %llu", (unsigned long long)seed, (unsigned long long)k);
        assert_true(cw_flow_cost(p.arc, cw_flow_flows(f), p.arcs, &cost));
        if (feasible && cost != want)
            fail_msg("seed %llu instance %llu: %lld for %lld", (unsigned long long)seed,
                     (unsigned long long)k, (long long)cost, (long long)want);
        cw_flow_free(f);
        problem_free(&p);
    }
}

/* Adds the cheapest flow at other costs, of a problem that has one. */
static void add_some_flow(cw_rng *r, const problem *p, int64_t *flow)
{
    cw_error err = CW_ERROR_NONE;
    cw_flow *f = NULL;
    cw_flow_status status;
    cw_flow_arc *arc = malloc((p->arcs + 1) * sizeof *arc);
    assert_non_null(arc);
    for (size_t a = 0; a < p->arcs; a++) {
        arc[a] = p->arc[a];
        arc[a].cost = cw_rng_below(r, 50);
    }
    cw_check_ok(cw_flow_new(p->nodes, p->supply, &f, &err), &err);
    cw_check_ok(cw_flow_add(f, arc, p->arcs, &err), &err);
    cw_check_ok(cw_flow_solve(f, &status, &err), &err);
    assert_int_equal(status, CW_FLOW_OPTIMAL);
    for (size_t a = 0; a < p->arcs; a++)
        flow[a] += cw_flow_flows(f)[a];
    cw_flow_free(f);
    free(arc);
}

/* From a flow that is no corner (two cheapest ones at other costs, of a problem twice as large) and any potentials, the
 * way ends at the same optimum; what is no flow is refused. */
static void test_begins_from_a_flow(void **state)
{
    (void)state;
    const uint64_t seed = 20310106;
    int begun = 0;
    for (uint64_t k = 0; k < 6000; k++) {
        cw_rng r;
        problem p;
        cw_error err = CW_ERROR_NONE;
        cw_flow *f = NULL;
        cw_flow_status status;
        bool feasible = false;
        int64_t cost = 0;
        const char *why = NULL;
        cw_rng_init(&r, seed, k);
        make_random(&r, &p);
        solve("single", &p, &feasible);
        if (!feasible || p.arcs == 0) {
            problem_free(&p);
            continue;
        }
        begun++;
        int64_t *flow = calloc(p.arcs + 1, sizeof *flow);
        int64_t *guess = calloc((size_t)p.nodes + 1, sizeof *guess);
        assert_true(flow && guess);
        add_some_flow(&r, &p, flow);
        add_some_flow(&r, &p, flow);
        for (int32_t v = 0; v < p.nodes; v++) {
            p.supply[v] *= 2;
            guess[v] = (int64_t)cw_rng_below(&r, 100) - 50;
        }
        for (size_t a = 0; a < p.arcs; a++)
            p.arc[a].capacity *= p.arc[a].capacity == CW_FLOW_INFINITE ? 1 : 2;
        int64_t want = solve("twice", &p, &feasible);
        for (int wrong = 1; wrong >= 0; wrong--) {
            flow[0] += wrong;
            bool loop = p.arc[0].from == p.arc[0].to && flow[0] <= p.arc[0].capacity;
            cw_check_ok(cw_flow_new(p.nodes, p.supply, &f, &err), &err);
            cw_check_ok(cw_flow_add(f, p.arc, p.arcs, &err), &err);
            cw_code code = cw_flow_begin(f, flow, guess, &err);
            assert_int_equal(code, wrong && !loop ? CW_REFUSED : CW_OK);
            flow[0] -= wrong;
            err = (cw_error)CW_ERROR_NONE;
            if (wrong) {
                cw_flow_free(f);
                continue;
            }
            cw_check_ok(cw_flow_solve(f, &status, &err), &err);
            if (status != CW_FLOW_OPTIMAL || !cw_flow_verify(p.nodes, p.supply, p.arc, p.arcs,
                                                             cw_flow_flows(f), cw_flow_potentials(f), &why))
                fail_msg("seed %llu instance %llu: %s", (unsigned long long)seed, (unsigned long long)k,
                         why ? why : "no flow");
            assert_true(cw_flow_cost(p.arc, cw_flow_flows(f), p.arcs, &cost));
            assert_int_equal(cost, want);
            cw_flow_free(f);
        }
        free(flow);
        free(guess);
        problem_free(&p);
    }
    assert_true(begun > 600);
}

static void test_no_cheapest_flow(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_flow *f = NULL;
    cw_flow_status status;
    const int64_t supply[2] = { 1, -1 };
    const cw_flow_arc arc[] = { { 0, 1, CW_FLOW_INFINITE, 2 }, { 1, 0, CW_FLOW_INFINITE, -3 } };
    cw_check_ok(cw_flow_new(2, supply, &f, &err), &err);
    cw_check_ok(cw_flow_add(f, arc, 2, &err), &err);
    cw_check_ok(cw_flow_solve(f, &status, &err), &err);
    assert_int_equal(status, CW_FLOW_UNBOUNDED);
    cw_flow_free(f);
}

static void test_refusals(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_flow *f = NULL;
    const int64_t odd[2] = { 2, -1 }, even[2] = { 1, -1 };
    assert_int_equal(cw_flow_new(2, odd, &f, &err), CW_REFUSED);
    cw_flow_status status;
    const cw_flow_arc wrong[] = { { 0, 2, 1, 1 }, { 0, 1, -1, 1 }, { 0, 1, 1, INT64_MAX }, { -1, 1, 1, 1 } };
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_flow_new(2, even, &f, &err), &err);
    for (size_t k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_flow_add(f, &wrong[k], 1, &err), CW_REFUSED);
    }
    err = (cw_error)CW_ERROR_NONE;
    const cw_flow_arc dear = { 0, 1, 1, INT64_MAX / 32 };
    cw_check_ok(cw_flow_add(f, &dear, 1, &err), &err);
    assert_int_equal(cw_flow_solve(f, &status, &err), CW_REFUSED);
    cw_flow_free(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_christofides),
        cmocka_unit_test(test_dantzig),
        cmocka_unit_test(test_beasley_assignments),
        cmocka_unit_test(test_netgen),
        cmocka_unit_test(test_against_glpk),
        cmocka_unit_test(test_arcs_added_later),
        cmocka_unit_test(test_begins_from_a_flow),
        cmocka_unit_test(test_no_cheapest_flow),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
