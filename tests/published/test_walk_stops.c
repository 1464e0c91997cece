/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/rng.h"
#include "model/walk.h"
#include <glpk.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* The number of stops of a wave against the least possible, as the reference library GLPK finds it (branch and cut):
 * minimise the places visited so that those visited hold what the wave wants of every variety. */

enum { MAX_PLACES = 80, MAX_STOCK = 400, MAX_VARIETIES = 40, MAX_LINES = 120 };

typedef struct world {
    int walk_order[MAX_PLACES];
    cw_walk_stock stock[MAX_STOCK];
    cw_walk_line lines[MAX_LINES];
    cw_wave w;
} world;

static size_t pick(cw_rng *r, size_t low, size_t high)
{
    return low + cw_rng_below(r, (uint32_t)(high - low + 1));
}

static void make(world *m, cw_rng *r, size_t places, size_t stock, size_t varieties, size_t lines)
{
    for (size_t p = 0; p < places; p++)
        m->walk_order[p] = (int)p + 1;
    for (size_t i = 0; i < stock; i++)
        m->stock[i] = (cw_walk_stock){ pick(r, 0, places - 1), i, pick(r, 0, varieties - 1),
                                       (int64_t)pick(r, 1, 12), (double)pick(r, 0, 9) };
    for (size_t i = 0; i < lines; i++)
        m->lines[i] = (cw_walk_line){ i, pick(r, 0, varieties - 1), (int64_t)pick(r, 1, 5) };
    m->w = (cw_wave){ m->walk_order, places, m->stock, stock, m->lines, lines, lines, varieties, 0, 0, 0 };
}

/* Rows = varieties (stock in visited places >= what is wanted and there), columns = places (0 or 1). */
static int least_stops(const world *m)
{
    int row[1 + MAX_STOCK], column[1 + MAX_STOCK], n = 0;
    double value[1 + MAX_STOCK], cell[MAX_VARIETIES][MAX_PLACES] = { 0 }, asked[MAX_VARIETIES] = { 0 },
                                 all[MAX_VARIETIES] = { 0 };
    for (size_t i = 0; i < m->w.line_count; i++)
        asked[m->lines[i].variety] += (double)m->lines[i].quantity;
    for (size_t i = 0; i < m->w.stock_count; i++) {
        cell[m->stock[i].variety][m->stock[i].place] += (double)m->stock[i].quantity;
        all[m->stock[i].variety] += (double)m->stock[i].quantity;
    }
    glp_prob *lp = glp_create_prob();
    glp_set_obj_dir(lp, GLP_MIN);
    glp_add_rows(lp, (int)m->w.variety_count);
    glp_add_cols(lp, (int)m->w.place_count);
    for (int p = 0; p < (int)m->w.place_count; p++) {
        glp_set_col_kind(lp, p + 1, GLP_BV);
        glp_set_obj_coef(lp, p + 1, 1);
    }
    for (int v = 0; v < (int)m->w.variety_count; v++) {
        glp_set_row_bnds(lp, v + 1, GLP_LO, asked[v] < all[v] ? asked[v] : all[v], 0);
        for (int p = 0; p < (int)m->w.place_count; p++)
            if (cell[v][p] > 0) {
                n++;
                row[n] = v + 1;
                column[n] = p + 1;
                value[n] = cell[v][p];
            }
    }
    glp_load_matrix(lp, n, row, column, value);
    glp_iocp how;
    glp_init_iocp(&how);
    how.presolve = GLP_ON;
    how.msg_lev = GLP_MSG_OFF;
    assert_int_equal(glp_intopt(lp, &how), 0);
    assert_int_equal(glp_mip_status(lp), GLP_OPT);
    int stops = (int)(glp_mip_obj_val(lp) + 0.5);
    glp_delete_prob(lp);
    return stops;
}

static void test_stops_against_glpk(void **state)
{
    (void)state;
    static const struct {
        const char *row;
        size_t places, stock, varieties, lines;
        int worlds;
        int more; /* waves with more stops than the least, reached as measured */
    } rows[] = {
        { "small", 15, 36, 10, 30, 60, 0 },
        { "many sources", 30, 120, 20, 40, 40, 0 },
        { "many varieties", 40, 120, 40, 80, 30, 0 },
        { "wide", 80, 160, 40, 120, 20, 0 },
        { "wide, many sources", 80, 400, 40, 80, 10, 1 },
    };
    const uint64_t seed = 4350;
    glp_term_out(GLP_OFF);
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        long stops = 0, least = 0;
        int exact = 0;
        for (int n = 0; n < rows[k].worlds; n++) {
            world m;
            cw_rng r;
            cw_walk *walk = NULL;
            cw_rng_init(&r, seed + k, (uint64_t)n);
            make(&m, &r, rows[k].places, rows[k].stock, rows[k].varieties, rows[k].lines);
            cw_check_ok(cw_walk_plan(&m.w, &walk, NULL), NULL);
            int best = least_stops(&m);
            if (rows[k].more == 0 && (int)walk->stop_count != best)
                fail_msg("%s, seed %llu world %d: %zu stops, the least is %d", rows[k].row,
                         (unsigned long long)(seed + k), n, walk->stop_count, best);
            assert_true((int)walk->stop_count >= best);
            stops += (long)walk->stop_count;
            least += best;
            exact += (int)walk->stop_count == best;
            cw_walk_free(walk);
        }
        assert_true(exact >= rows[k].worlds - rows[k].more && stops * 100 <= least * 102);
        print_message("%s: seed %llu, %d waves, %ld stops, least possible %ld, %d waves exact\n", rows[k].row,
                      (unsigned long long)(seed + k), rows[k].worlds, stops, least, exact);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_stops_against_glpk) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
