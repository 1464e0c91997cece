/* SPDX-License-Identifier: MIT */
/* What a program that has run for a while says, and what one that begins now does: after a refining the same, to the last bit. */
#include "desk/forecast/forecast_inside.h"
#include "desk/forecast/hindsight.h"
#include "desk/forecast/refining.h"
#include "support/grown.h"

#include <math.h>
#include <pthread.h>

static const cw_forecast *get(cw_nursery *n, const cw_asker *who, cw_day as_of)
{
    const cw_forecast *f = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_forecast_get(n, who, CW_NO_DAY, as_of, &f, &err), &err);
    return f;
}

static bool same_law(const cw_distribution *a, const cw_distribution *b)
{
    return a->first == b->first && a->step == b->step && a->lead == b->lead && a->cells == b->cells &&
           memcmp(&a->atom, &b->atom, sizeof a->atom) == 0 &&
           memcmp(&a->mean, &b->mean, sizeof a->mean) == 0 &&
           memcmp(&a->variance, &b->variance, sizeof a->variance) == 0 &&
           memcmp(a->cdf, b->cdf, a->cells * sizeof a->cdf[0]) == 0;
}

/* Varieties whose law differs in any bit, and draws of all together. */
static size_t unlike(const cw_forecast *a, const cw_forecast *b)
{
    const cw_joint *x = NULL, *y = NULL;
    cw_error err = CW_ERROR_NONE;
    size_t count = 0;
    cw_check_ok(cw_forecast_joint(a, (cw_go_on){ 0 }, &x, &err), &err);
    cw_check_ok(cw_forecast_joint(b, (cw_go_on){ 0 }, &y, &err), &err);
    assert_int_equal(a->data->varieties, GROWN_VARIETIES);
    for (size_t v = 0; v < GROWN_VARIETIES; v++) {
        bool differs = !same_law(&a->law[v], &b->law[v]);
        for (size_t draw = 0; draw < CW_JOINT_DRAWS && !differs; draw++)
            differs = cw_joint_value(x, draw, v) != cw_joint_value(y, draw, v);
        count += differs;
    }
    return count;
}

static int64_t figures(cw_nursery *n)
{
    cw_revision r;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_revision(n, &r, &err), &err);
    return r.figures;
}

typedef struct program {
    test_nursery t;
    cw_refined *refined;
    cw_nursery *look, *beside; /* that are asked, and that refines */
} program;

static void start(program *p)
{
    cw_error err = CW_ERROR_NONE;
    grown_make(&p->t);
    p->refined = cw_refined_new();
    assert_non_null(p->refined);
    cw_check_ok(cw_nursery_open(p->t.path, CW_LOOK, NULL, &p->look, &err), &err);
    cw_check_ok(cw_nursery_open(p->t.path, CW_LOOK, NULL, &p->beside, &err), &err);
    cw_forecast_share(p->t.n, p->refined);
    cw_forecast_share(p->look, p->refined);
    cw_forecast_share(p->beside, p->refined);
}

static void stop(program *p)
{
    cw_nursery_close(p->look);
    cw_nursery_close(p->beside);
    test_nursery_check(&p->t);
    test_nursery_free(&p->t);
    cw_refined_free(p->refined);
}

static bool refine(program *p, const cw_refine_want *want)
{
    cw_error err = CW_ERROR_NONE;
    bool learned = false;
    cw_check_ok(cw_forecast_refine(p->beside, &p->t.who, want, &learned, &err), &err);
    return learned;
}

/* How far what is asked of `look` is from what a program says that begins now. */
static size_t unlike_fresh(program *p, cw_day as_of)
{
    cw_nursery *fresh = NULL;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(p->t.path, CW_LOOK, NULL, &fresh, &err), &err);
    size_t count = unlike(get(p->look, &p->t.who, as_of), get(fresh, &p->t.who, as_of));
    cw_nursery_close(fresh);
    return count;
}

static void at_rest_all_say_the_same(void **state)
{
    program p;
    cw_refine_want want[CW_REFINE_MOST];
    (void)state;
    start(&p);
    assert_int_equal(unlike_fresh(&p, CW_NO_DAY), 0);
    assert_int_equal(cw_forecast_near(p.look, want), 0); /* the first one is whole */
    for (int i = 0; i < 3; i++) {
        grown_divide(&p.t, 10 + i, 3 * i);
        assert_true(unlike_fresh(&p, CW_NO_DAY) >
                    0); /* else there is nothing to refine, and nothing tried here */
        assert_int_equal(cw_forecast_near(p.look, want), 1);
        assert_true(refine(&p, &want[0]));
        assert_int_equal(figures(p.look), i + 1);
        assert_int_equal(cw_forecast_near(p.look, want), 0);
        assert_true(unlike_fresh(&p, CW_NO_DAY) > 0); /* within a request nothing moves */
        cw_forecast_take_refined(p.look);
        assert_int_equal(unlike_fresh(&p, CW_NO_DAY), 0);
        assert_int_equal(cw_forecast_near(p.look, want), 0);
        /* and whoever asks first now, though it had another stock's before: the writer */
        assert_true(get(p.t.n, &p.t.who, CW_NO_DAY)->whole);
        assert_int_equal(cw_forecast_near(p.t.n, want), 0);
        assert_int_equal(unlike(get(p.t.n, &p.t.who, CW_NO_DAY), get(p.look, &p.t.who, CW_NO_DAY)), 0);
        assert_false(refine(&p, &want[0])); /* it is there */
    }
    stop(&p);
}

static bool no(void *context, const char *what, uint64_t done, uint64_t all)
{
    (void)context;
    (void)what;
    (void)done;
    (void)all;
    return false;
}

/* A newer entry, or a stop: what was begun leaves nothing. What is learned of an older stock is nobody's any more. */
static void given_up(void **state)
{
    program p;
    cw_refine_want want[CW_REFINE_MOST];
    cw_error err = CW_ERROR_NONE;
    bool learned = true;
    (void)state;
    start(&p);
    get(p.look, &p.t.who, CW_NO_DAY);
    grown_divide(&p.t, 10, 2);
    get(p.look, &p.t.who, CW_NO_DAY);
    assert_int_equal(cw_forecast_near(p.look, want), 1);
    cw_asker who = p.t.who;
    who.progress = no;
    assert_int_equal(cw_forecast_refine(p.beside, &who, &want[0], &learned, &err), CW_REFUSED);
    assert_false(learned);
    assert_int_equal(figures(p.look), 0);
    assert_int_equal(cw_forecast_near(p.look, want), 1);
    grown_divide(&p.t, 11, 4);
    assert_false(refine(&p, &want[0]));
    assert_int_equal(figures(p.look), 0);
    get(p.look, &p.t.who, CW_NO_DAY);
    assert_int_equal(cw_forecast_near(p.look, want), 1);
    assert_true(refine(&p, &want[0]));
    cw_forecast_take_refined(p.look);
    assert_int_equal(unlike_fresh(&p, CW_NO_DAY), 0);
    stop(&p);
}

/* A past day is told from what was learned of today, so it is refined, too; a verb tells each by itself. */
static void past_days(void **state)
{
    program p;
    cw_refine_want want[CW_REFINE_MOST];
    cw_nursery *verb = NULL;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    start(&p);
    grown_divide(&p.t, 110, 2); /* of a lot that was begun earlier */
    cw_day past = p.t.who.today - 1;
    get(p.look, &p.t.who, CW_NO_DAY);
    assert_true(unlike_fresh(&p, past) > 0);
    assert_int_equal(cw_forecast_near(p.look, want), 1);
    assert_int_equal(want[0].as_of, past);
    assert_true(refine(&p, &want[0]));
    cw_forecast_take_refined(p.look);
    assert_int_equal(unlike_fresh(&p, past), 0);
    cw_check_ok(cw_nursery_open(p.t.path, CW_LOOK, NULL, &verb, &err), &err);
    get(verb, &p.t.who, past);
    assert_int_equal(unlike(get(verb, &p.t.who, CW_NO_DAY), get(p.look, &p.t.who, CW_NO_DAY)), 0);
    cw_nursery_close(verb);
    stop(&p);
}

static char *hindsight(cw_nursery *n, const cw_asker *who)
{
    cw_error err = CW_ERROR_NONE;
    json_t *out = NULL;
    cw_check_ok(cw_hindsight_report(n, who, &(cw_hindsight_ask){ 0 }, &out, &err), &err);
    char *text = json_dumps(out, JSON_INDENT(1));
    assert_non_null(text);
    json_decref(out);
    return text;
}

/* What hindsight says does not hang on what was asked before it, nor does it take what is kept away. */
static void hindsight_stands_alone(void **state)
{
    program p;
    cw_nursery *fresh = NULL;
    cw_error err = CW_ERROR_NONE;
    (void)state;
    start(&p);
    for (int i = 0; i < 5; i++)
        grown_divide(&p.t, 10 + i, i);
    grown_load(&p.t, "counts.csv", /* what came of these is known */
               "lot,counted_on,stage,count\nL150,2032-02-01,clump,0\nL150,2032-02-01,division,31\n"
               "L160,2032-02-01,clump,0\nL160,2032-02-01,division,44\n");
    const cw_forecast *today = get(p.look, &p.t.who, CW_NO_DAY);
    char *had = hindsight(p.look, &p.t.who);
    assert_ptr_equal(get(p.look, &p.t.who, CW_NO_DAY), today);
    cw_check_ok(cw_nursery_open(p.t.path, CW_LOOK, NULL, &fresh, &err), &err);
    char *alone = hindsight(fresh, &p.t.who);
    assert_string_equal(had, alone);
    assert_non_null(strstr(had, "\"projections\": 12,")); /* else nothing was compared */
    free(had);
    free(alone);
    cw_nursery_close(fresh);
    stop(&p);
}

typedef struct asking {
    cw_nursery *n;
    const cw_asker *who;
} asking;

static void *ask_sheets(void *self)
{
    const asking *a = self;
    cw_error err = CW_ERROR_NONE;
    for (int v = 0; v < 20; v++) {
        char code[16];
        json_t *out = NULL;
        snprintf(code, sizeof code, "V%d", v);
        if (cw_forecast_sheet(a->n, a->who, &(cw_forecast_ask){ CW_NO_DAY, CW_NO_DAY, code }, &out, &err) !=
            CW_OK)
            return self;
        json_decref(out);
    }
    return NULL;
}

/* Several hold what was learned once: they may ask it at the same time (ThreadSanitizer looks on). */
static void asked_by_several(void **state)
{
    program p;
    pthread_t other;
    cw_refine_want want[CW_REFINE_MOST];
    void *failed = NULL;
    (void)state;
    start(&p);
    get(p.look, &p.t.who, CW_NO_DAY);
    grown_divide(&p.t, 10, 2);
    get(p.look, &p.t.who, CW_NO_DAY);
    assert_int_equal(cw_forecast_near(p.look, want), 1);
    assert_true(refine(&p, &want[0]));
    cw_forecast_take_refined(p.look);
    asking one = { p.look, &p.t.who }, two = { p.beside, &p.t.who };
    assert_int_equal(pthread_create(&other, NULL, ask_sheets, &one), 0);
    assert_null(ask_sheets(&two));
    pthread_join(other, &failed);
    assert_null(failed);
    stop(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(at_rest_all_say_the_same),
        cmocka_unit_test(given_up),
        cmocka_unit_test(past_days),
        cmocka_unit_test(hindsight_stands_alone),
        cmocka_unit_test(asked_by_several),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
