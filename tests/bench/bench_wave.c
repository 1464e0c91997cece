/* SPDX-License-Identifier: MIT */
/* What does a wave cost from the nursery file? 500 parcels, 2,000 lines, 800 places, 160 varieties in 1,600 lots, all promised
 * and scheduled; then a whole wave answered one by one, each answer its own durable transaction, and in one go. Prints
 * "name value unit" lines, the least of several runs. Invented data. */
#include "support/order_desk.h"

#include "base/rng.h"
#include "desk/pick/picking_inside.h"
#include "desk/ship/shipping.h"
#include <time.h>

#include "base/banned.h"

#define ORDERS    500
#define LINES     2000
#define PLACES    800
#define VARIETIES 160
#define LOTS      1600
#define RUNS      5

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static void load_rows(test_nursery *t, const char *name, cw_text *text)
{
    load_text(t, name, text->data);
    cw_text_free(text);
}

static void make(test_nursery *t)
{
    cw_rng r;
    cw_text varieties = CW_TEXT(1 << 22), places = CW_TEXT(1 << 22), lots = CW_TEXT(1 << 22),
            counts = CW_TEXT(1 << 22), orders = CW_TEXT(1 << 22);
    cw_rng_init(&r, 2032, 500);
    cw_text_add(&varieties, "code,name,price\n");
    for (int v = 0; v < VARIETIES; v++)
        cw_text_addf(&varieties, "V%03d,Variety %d,7.00\n", v, v);
    cw_text_add(&places, "place,room,walk_order\n");
    for (int p = 0; p < PLACES; p++)
        cw_text_addf(&places, "P%03d,cellar,%d\n", p, 10 * (p + 1));
    cw_text_add(&lots, "lot,variety,dug_on,clumps,place\n");
    cw_text_add(&counts, "lot,counted_on,stage,count\n");
    for (int l = 0; l < LOTS; l++) {
        cw_text_addf(&lots, "L%04d,V%03d,2031-10-%02u,0,P%03u\n", l, l % VARIETIES, 1 + cw_rng_below(&r, 28),
                     cw_rng_below(&r, PLACES));
        cw_text_addf(&counts, "L%04d,2032-01-%02u,division,%u\n", l, 1 + cw_rng_below(&r, 28),
                     3 + cw_rng_below(&r, 25));
    }
    cw_text_add(&orders, "order,received_at,line,variety,quantity,unit_price,country,zone\n");
    for (int i = 0; i < LINES; i++)
        cw_text_addf(&orders, "%04d,2032-01-05T%02d:%02d:00Z,%d,V%03u,%u,7.00,US,z\n",
                     1000 + i * ORDERS / LINES, (i * ORDERS / LINES) / 60 + 1, (i * ORDERS / LINES) % 60,
                     i % (LINES / ORDERS) + 1, (unsigned)(i % (LINES / ORDERS)) * 40 + cw_rng_below(&r, 40),
                     1 + cw_rng_below(&r, 4));
    test_nursery_make(t);
    load_rows(t, "varieties.csv", &varieties);
    load_rows(t, "places.csv", &places);
    load_rows(t, "lots.csv", &lots);
    load_rows(t, "counts.csv", &counts);
    load_rows(t, "orders.csv", &orders);
    load_text(t, "zones.csv", "zone,first_week\nz,2032-W16\n");
    make_firm(t, "first-come", NULL);
}

static void plan(test_nursery *t, const cw_picking_ask *ask)
{
    double least_all = 1e9, least_walk = 1e9;
    for (int k = 0; k < RUNS; k++) {
        cw_error err = CW_ERROR_NONE;
        cw_wave_plan p;
        double t0 = now_ms();
        cw_check_ok(cw_wave_plan_make(t->n, &t->who, ask, &p, &err), &err);
        double t1 = now_ms();
        cw_check_ok(cw_wave_plan_walk(&p, t->who.today, &err), &err);
        double t2 = now_ms();
        least_all = t1 - t0 < least_all ? t1 - t0 : least_all;
        least_walk = t2 - t1 < least_walk ? t2 - t1 : least_walk;
        if (k == 0) {
            printf("wave_picks %zu picks\n", p.walk->pick_count);
            printf("wave_stops %zu stops\n", p.walk->stop_count);
            printf("wave_shorts %zu lines\n", p.walk->short_count);
        }
        cw_wave_plan_free(&p);
    }
    printf("wave_model %.2f ms\n", least_walk);
    printf("wave_read_and_plan %.2f ms\n", least_all);
}

/* Makes the wave and drops it again; the last one stands. */
static int64_t whole(test_nursery *t, const cw_picking_ask *ask)
{
    double least = 1e9;
    int64_t wave = 0;
    for (int k = 0; k < RUNS; k++) {
        cw_error err = CW_ERROR_NONE;
        cw_table notes = { 0 };
        double t0 = now_ms();
        cw_check_ok(cw_picking_make(t->n, &t->who, ask, &wave, &notes, &err), &err);
        double t1 = now_ms();
        least = t1 - t0 < least ? t1 - t0 : least;
        cw_table_free(&notes);
        if (k + 1 < RUNS)
            cw_check_ok(cw_picking_drop(t->n, &t->who, wave, "again", &err), &err);
    }
    printf("wave_made_and_durable %.2f ms\n", least);
    return wave;
}

static void answer(test_nursery *t, size_t from, size_t count, const int64_t *ids, const int64_t *quantity)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_picking_answer *a = calloc(count, sizeof *a);
    char(*keys)[24] = calloc(count, sizeof *keys);
    assert_non_null(a);
    assert_non_null(keys);
    for (size_t i = 0; i < count; i++) {
        snprintf(keys[i], sizeof keys[i], "bench-%zu", from + i);
        a[i] = (cw_picking_answer){ keys[i], ids[from + i], quantity[from + i], NULL, CW_NO_INSTANT,
                                    NULL,    false };
    }
    cw_check_ok(cw_picking_answer_all(t->n, &t->who, a, count, &out, &err), &err);
    cw_table_free(&out);
    free(keys);
    free(a);
}

static void answers(test_nursery *t, int64_t wave)
{
    cw_error err = CW_ERROR_NONE;
    json_t *doc = NULL, *stop, *pick;
    size_t i, k, n = 0;
    static int64_t ids[2 * LINES], quantity[2 * LINES];
    double t0 = now_ms();
    cw_check_ok(cw_picking_document(t->n, &t->who, wave, &doc, &err), &err);
    printf("wave_document %.2f ms\n", now_ms() - t0);
    json_array_foreach(json_object_get(doc, "stops"), i, stop)
    {
        json_array_foreach(json_object_get(stop, "picks"), k, pick)
        {
            assert_true(n < 2 * LINES);
            ids[n] = json_integer_value(json_object_get(pick, "id"));
            quantity[n++] = json_integer_value(json_object_get(pick, "quantity"));
        }
    }
    json_decref(doc);
    t0 = now_ms();
    for (i = 0; i < 300; i++)
        answer(t, i, 1, ids, quantity);
    printf("answer_one_durable %.3f ms\n", (now_ms() - t0) / 300);
    t0 = now_ms();
    answer(t, 300, 1000, ids, quantity);
    printf("answer_1000_together %.1f ms\n", now_ms() - t0);
}

int main(void)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table weeks = { 0 };
    cw_picking_ask ask = { .week = 203216 };
    make(&t);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "parcels_per_week", "1000", &err), &err);
    cw_check_ok(cw_shipping_schedule(t.n, &t.who, true, &weeks, &err), &err);
    cw_table_free(&weeks);
    plan(&t, &ask);
    answers(&t, whole(&t, &ask));
    test_nursery_check(&t);
    test_nursery_free(&t);
    return 0;
}
