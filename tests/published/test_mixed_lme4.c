/* SPDX-License-Identifier: MIT */
/* The mixed model (rates, rot, establishment) against two independent programs on the same data: lme4 1.1-31 (glmer, nAGQ = 1) and glmmTMB 1.1.5,
 * fixtures and the script that made them in lme4/. Log-likelihood within 1e-4 relative, sds within 1 % (absolute 0.002
 * where an sd is on its border 0). */
#include "support/check.h"

#include "base/csv.h"
#include "model/mixed.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FOLDER        CW_TEST_DIR "/published/lme4/"
#define MAX_ROWS      1000
#define MAX_VARIETIES 100

typedef struct fixture {
    cw_mixed_row rows[MAX_ROWS];
    int form[MAX_VARIETIES], size[MAX_VARIETIES];
    cw_mixed_data data;
} fixture;

static double number(const cw_field *f)
{
    char text[64] = "";
    memcpy(text, f->s, f->n < 63 ? f->n : 63);
    return strcmp(text, "NA") == 0 ? NAN : strtod(text, NULL);
}

static size_t above(size_t most, int level)
{
    return level >= (int)most ? (size_t)level + 1 : most;
}

static void read_fixture(const char *name, cw_mixed_family family, fixture *f)
{
    const cw_csv_column columns[] = { { "variety", true }, { "form", true }, { "size", true },
                                      { "season", true },  { "lot", true },  { "exposure", true },
                                      { "trials", true },  { "count", true } };
    char path[512];
    int map[8];
    bool more = true;
    cw_csv *csv = NULL;
    cw_error err = CW_ERROR_NONE;
    snprintf(path, sizeof path, FOLDER "%s.csv", name);
    cw_check_ok(cw_csv_open(path, &csv, &err), &err);
    cw_check_ok(cw_csv_header(csv, columns, 8, false, map, &err), &err);
    f->data = (cw_mixed_data){ .family = family, .rows = f->rows, .form = f->form, .size = f->size };
    for (;;) {
        cw_check_ok(cw_csv_next(csv, &more, &err), &err);
        if (!more)
            break;
        double v[8];
        for (int k = 0; k < 8; k++)
            v[k] = number(&cw_csv_fields(csv)[map[k]]);
        assert_true(f->data.n_rows < MAX_ROWS && v[0] < MAX_VARIETIES);
        f->rows[f->data.n_rows++] = (cw_mixed_row){ .variety = (int)v[0],
                                                    .season = (int)v[3],
                                                    .lot = (int)v[4],
                                                    .exposure = v[5],
                                                    .trials = v[6],
                                                    .count = v[7] };
        f->form[(int)v[0]] = (int)v[1];
        f->size[(int)v[0]] = (int)v[2];
        f->data.varieties = above(f->data.varieties, (int)v[0]);
        f->data.forms = above(f->data.forms, (int)v[1]);
        f->data.sizes = above(f->data.sizes, (int)v[2]);
        f->data.seasons = above(f->data.seasons, (int)v[3]);
    }
    cw_csv_close(csv);
}

static void compare(const cw_csv *csv, const int *map)
{
    static fixture f;
    memset(&f, 0, sizeof f);
    char name[64] = "", tool[64] = "", what[160];
    const cw_field *field = cw_csv_fields(csv);
    memcpy(name, field[map[0]].s, field[map[0]].n);
    memcpy(tool, field[map[1]].s, field[map[1]].n);
    bool counts = strncmp(name, "counts", 6) == 0 || strcmp(name, "grouse") == 0;
    read_fixture(name, counts ? CW_MIXED_COUNT : CW_MIXED_CLOGLOG, &f);
    cw_mixed_settings s = { .mode = CW_MIXED_ML,
                            .expected_curvature = strcmp(tool, "lme4") == 0,
                            .threads = 1 };
    for (int k = 0; k < CW_TERMS; k++)
        s.use[k] = !isnan(number(&field[map[4 + k]]));
    cw_mixed *fit = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_mixed_fit(&f.data, &s, NULL, &fit, &err), &err);
    const cw_mixed_report *r = cw_mixed_result(fit);
    print_message("%s %s: log-likelihood %.8f (theirs %.8f), %u evaluations\n", name, tool, r->log_likelihood,
                  number(&field[map[2]]), r->evaluations);
    assert_true(r->converged);
    snprintf(what, sizeof what, "%s by %s: log-likelihood", name, tool);
    cw_check_relative(what, r->log_likelihood, number(&field[map[2]]), 1e-5);
    snprintf(what, sizeof what, "%s by %s: intercept", name, tool);
    cw_check_near(what, r->hyper.intercept, number(&field[map[3]]), 0.006);
    for (int k = 0; k < CW_TERMS; k++) {
        double want = number(&field[map[4 + k]]);
        snprintf(what, sizeof what, "%s by %s: sd %d", name, tool, k);
        if (s.use[k] && want > 0.001)
            cw_check_relative(what, r->hyper.sd[k], want, 0.01);
        else if (s.use[k])
            cw_check_near(what, r->hyper.sd[k], 0, 0.002);
    }
    cw_mixed_free(fit);
}

static void test_against_lme4_and_glmmTMB(void **state)
{
    (void)state;
    const cw_csv_column columns[] = { { "name", true },       { "tool", true },      { "loglik", true },
                                      { "intercept", true },  { "sd_form", true },   { "sd_size", true },
                                      { "sd_variety", true }, { "sd_season", true }, { "sd_cell", true },
                                      { "sd_lot", true } };
    int map[10], rows = 0;
    bool more = true;
    cw_csv *csv = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_csv_open(FOLDER "expected.csv", &csv, &err), &err);
    cw_check_ok(cw_csv_header(csv, columns, 10, false, map, &err), &err);
    for (;; rows++) {
        cw_check_ok(cw_csv_next(csv, &more, &err), &err);
        if (!more)
            break;
        compare(csv, map);
    }
    assert_int_equal(rows, 14);
    cw_csv_close(csv);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_against_lme4_and_glmmTMB) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
