/* SPDX-License-Identifier: MIT */
/* twin write FILE: the models' figures of the demo season, one "name value" a line. twin compare FILE: holds its own against them.
 *
 * It is built twice: with the models as they are released, which use the widest vector registers that the processor has (AVX2
 * beside SSE2 on x86-64, NEON on ARM), and as their plain twin, one number at a time (CW_PLAIN, no vectorizer). A path through
 * wide registers that comes to something else than its plain twin is named. Sums keep their order and nothing is fused, so figures
 * differ by the C library's exp and erfc alone, whose vector twins may be 4 units in the last place off (model/wide.h). */
#include "desk/forecast/forecast_inside.h"
#include "desk/beds/beds.h"
#include "desk/offer/offering.h"
#include "model/linear.h"
#include "support/demo.h"
#include "support/intake.h"

#include <math.h>

#include "base/banned.h"

#define NEAR 1e-9 /* relative, and of figures near 0 absolute */

static FILE *lines_file;
static bool compares; /* else the lines are written */
static long lines, off;
static double farthest;

static void tell(const char *name, double value)
{
    char theirs[80];
    double other = 0;
    lines++;
    if (!compares) {
        fprintf(lines_file, "%s %.17g\n", name, value);
        return;
    }
    if (fscanf(lines_file, "%79s %lf", theirs, &other) != 2 || strcmp(theirs, name) != 0)
        fail_msg("line %ld is '%s', not '%s'", lines, theirs, name);
    if (isnan(value) && isnan(other))
        return;
    double far = fabs(value - other) / fmax(1.0, fmax(fabs(value), fabs(other)));
    farthest = fmax(farthest, far);
    if (far <= NEAR)
        return;
    if (off++ < 20)
        print_error("%s: %.17g, by its twin %.17g\n", name, other, value);
}

static void tell_law(const char *code, const cw_distribution *d)
{
    char name[80];
    snprintf(name, sizeof name, "law.%s.mean", code);
    tell(name, d->mean);
    snprintf(name, sizeof name, "law.%s.variance", code);
    tell(name, d->variance);
    snprintf(name, sizeof name, "law.%s.cdf", code);
    for (size_t i = 0; i < d->cells; i += 1 + d->cells / 16)
        tell(name, d->cdf[i]);
}

/* Numbers only; whole ones as they are. */
static void tell_table(const char *what, const cw_table *t)
{
    char name[80];
    for (size_t r = 0; r < cw_table_rows(t); r++)
        for (size_t c = 0; c < t->width; c++) {
            if (t->columns[c].type == CW_TEXT_T || cw_table_cell(t, r, c)->null)
                continue;
            snprintf(name, sizeof name, "%s.%.30s", what, t->columns[c].name);
            tell(name, cw_table_real(t, r, c));
        }
}

static void tell_json(const char *what, const json_t *j)
{
    const char *key = NULL;
    json_t *value = NULL;
    char name[80];
    size_t i = 0;
    if (json_is_number(j))
        tell(what, json_number_value(j));
    json_array_foreach(j, i, value) tell_json(what, value);
    if (!json_is_object(j))
        return;
    json_object_foreach((json_t *)(uintptr_t)j, key, value)
    {
        snprintf(name, sizeof name, "%.40s.%.30s", what, key);
        tell_json(name, value);
    }
}

static void forecasts(test_nursery *t)
{
    const cw_forecast *f = NULL;
    const cw_joint *joint = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_forecast_get(t->n, &t->who, CW_NO_DAY, CW_NO_DAY, &f, &err), &err);
    for (size_t v = 0; v < f->data->varieties; v++)
        tell_law(f->data->snapshot->variety[v].code, &f->law[v]);
    cw_check_ok(cw_forecast_joint(f, (cw_go_on){ 0 }, &joint, &err), &err);
    double above[CW_JOINT_DRAWS];
    for (size_t v = 0; v < f->data->varieties; v++) {
        double sum = 0;
        cw_joint_above(joint, v, 3, above);
        for (size_t d = 0; d < CW_JOINT_DRAWS; d++)
            sum += above[d];
        /* A draw that falls on the other side of a step changes this mean by whole divisions of a thousand. */
        tell("draws.above", sum / CW_JOINT_DRAWS);
    }
}

static void offers(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    json_t *totals = NULL;
    cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    ask.margin_share = 0.6;
    ask.short_cost_share = 0.4;
    cw_check_ok(cw_offering_desk(t->n, &t->who, &ask, &out, &totals, &err), &err);
    tell_table("desk", &out);
    tell_json("totals", totals);
    json_decref(totals);
    cw_table_free(&out);
    cw_check_ok(cw_offering_curve(t->n, &t->who, &ask, &out, &err), &err);
    tell_table("curve", &out);
    cw_table_free(&out);
    cw_check_ok(cw_offering_measures(t->n, &t->who, &ask, &out, &err), &err);
    tell_table("measures", &out);
    cw_table_free(&out);
}

static void beds(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    json_t *told = NULL;
    cw_beds_ask ask = { .places = 900, .keep = -1 };
    cw_check_ok(cw_beds_plan(t->n, &t->who, &ask, &out, &told, &err), &err);
    tell_table("beds", &out);
    tell_json("beds", told);
    json_decref(told);
    cw_table_free(&out);
    ask.variety = "OSPLA";
    ask.keep = 12;
    cw_check_ok(cw_beds_variety(t->n, &t->who, &ask, &told, &err), &err);
    tell_json("bed", told);
    json_decref(told);
}

static void figures(void **state)
{
    static const char *const past[] = { "past_sales" };
    test_nursery t;
    (void)state;
    test_demo_make(&t);
    test_load(&t, past, 1, CW_SOURCE_DIR "/scripts/demo-season");
    /* So few that their laws are counted out, clump by clump. */
    must_load(&t, "varieties.csv",
              "code,name,form,size\nFEWER,Fewer,ball,small\nFEWEST,Fewest,cactus,large\n");
    must_load(
        &t, "lots.csv",
        "lot,variety,dug_on,clumps\nF1,FEWER,2031-10-20,3\nF2,FEWER,2031-11-03,2\nF3,FEWER,2031-11-10,2\n"
        "F4,FEWEST,2031-10-20,1\nF5,FEWEST,2031-11-12,2\n");
    double a[1003], b[1003];
    for (int i = 0; i < 1003; i++) {
        a[i] = 1.0 / (i + 1);
        b[i] = i * 0.37 - 100.0;
    }
    for (size_t n = 990; n <= 1003; n++)
        tell("dot", cw_dot(a, b, n));
    forecasts(&t);
    offers(&t);
    beds(&t);
    test_nursery_free(&t);
    assert_true(lines > 2000);
    if (!compares)
        return;
    print_message("twin: %ld figures, the farthest apart by %.1e\n", lines, farthest);
    assert_int_equal(off, 0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(figures) };
    compares = argc == 3 && strcmp(argv[1], "compare") == 0;
    lines_file = argc == 3 ? fopen(argv[2], compares ? "re" : "we") : NULL;
    if (lines_file == NULL)
        return 3;
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    return fclose(lines_file) == 0 ? failed : 3;
}
