/* SPDX-License-Identifier: MIT */
/* A season's orders: who comes when, what is taken and what is refused, and how it is sent. */
#include "bench/keeping_desk.h"

#include "base/rng.h"
#include "desk/intake/intake.h"
#include "desk/share/allotting.h"
#include "desk/pack/packing.h"
#include "desk/pick/picking.h"

#include <math.h>

#include "base/banned.h"

#define MOST_BUYS 20000
#define MOST_OF   4 /* of a variety in one order */
#define LINES     5 /* of one order */

typedef struct buy { /* a line of somebody's order */
    int day, variety;
    int64_t quantity;
} buy;

/* Buyers want one to MOST_OF of a variety each; most come soon after the shop opens. Every policy's nursery has the same. */
static size_t buyers(const lived *l, int variety, int season, int64_t asked, buy *out)
{
    cw_rng r;
    size_t n = 0;
    cw_rng_init(&r, l->seed, 5000017ULL + 1009ULL * (uint64_t)variety + (uint64_t)season);
    while (asked > 0 && n < MOST_BUYS) {
        int64_t quantity = 1 + cw_rng_below(&r, MOST_OF);
        quantity = quantity < asked ? quantity : asked;
        int day = (int)(SHOP_DAYS * (1 - sqrt(cw_rng_uniform(&r))));
        out[n++] = (buy){ day, variety, quantity };
        asked -= quantity;
    }
    return n;
}

void lived_buyers(const lived *l, int variety, int season, int64_t asked, int64_t *by_day)
{
    static buy list[MOST_BUYS];
    size_t n = buyers(l, variety, season, asked, list);
    for (size_t i = 0; i < n; i++)
        by_day[list[i].day] += list[i].quantity;
}

static int by_day(const void *a, const void *b)
{
    const buy *x = a, *y = b;
    return x->day != y->day ? x->day - y->day : x->variety - y->variety;
}

static json_t *order_of(const lived *l, const buy *line, size_t count, unsigned number)
{
    char text[24];
    json_t *lines = json_array();
    for (size_t i = 0; i < count; i++) {
        char code[16];
        if (line[i].quantity <= 0)
            continue;
        snprintf(code, sizeof code, "V%02d", line[i].variety);
        snprintf(text, sizeof text, "%.2f", l->price[line[i].variety] / 100);
        json_array_append_new(lines, json_pack("{s:i,s:s,s:I,s:s}", "line", (int)i + 1, "variety", code,
                                               "quantity", (json_int_t)line[i].quantity, "unit_price", text));
    }
    snprintf(text, sizeof text, "%u", number);
    return json_pack("{s:s,s:s,s:o}", "order", text, "customer", "Somebody", "lines", lines);
}

/* An order is taken whole or not at all: of what is sold out the buyer takes what is left, and asks again. */
static void order(lived *l, buy *line, size_t count, unsigned number, int64_t *sold)
{
    cw_code code = CW_CONFLICT;
    for (size_t tries = 0; code == CW_CONFLICT && tries <= 2 * count; tries++) {
        cw_error err = CW_ERROR_NONE;
        json_t *answer = NULL, *o = order_of(l, line, count, number);
        bool any = json_array_size(json_object_get(o, "lines")) > 0;
        code = any ? cw_intake_order(l->t.n, &l->t.who, o, &answer, &err) : CW_NOT_FOUND;
        if (code == CW_CONFLICT) {
            size_t at = (size_t)json_integer_value(json_object_get(answer, "line")) - 1;
            int64_t there = (int64_t)json_integer_value(json_object_get(answer, "left"));
            if (at >= count)
                lived_must(code, &err);
            line[at].quantity = there > 0 && there < line[at].quantity ? there : 0;
        } else if (any) {
            lived_must(code, &err);
        }
        json_decref(answer);
        json_decref(o);
    }
    for (size_t i = 0; code == CW_OK && i < count; i++)
        sold[line[i].variety] += line[i].quantity;
}

static void take_orders(lived *l, const int64_t *asked, int64_t *sold)
{
    static buy list[MOST_BUYS * 2];
    cw_error err = CW_ERROR_NONE;
    size_t n = 0;
    unsigned number = 1000;
    for (int v = 0; v < l->varieties; v++) {
        sold[v] = 0;
        if (n < MOST_BUYS)
            n += buyers(l, v, l->season, asked[v], list + n);
    }
    qsort(list, n, sizeof *list, by_day);
    lived_must(cw_nursery_batch_begin(l->t.n, &err), &err);
    for (size_t i = 0, end = 0; i < n; i = end) {
        while (end < n && end < i + LINES && list[end].day == list[i].day)
            end++;
        lived_today(l, lived_ship(l->season) + list[i].day);
        order(l, list + i, end - i, number++, sold);
    }
    lived_must(cw_nursery_batch_commit(l->t.n, &err), &err);
}

static int64_t pull(lived *l)
{
    cw_error err = CW_ERROR_NONE;
    cw_table notes = { 0 }, out = { 0 };
    static cw_picking_answer answer[CW_PICKING_MAX_ANSWERS];
    static char key[CW_PICKING_MAX_ANSWERS][24];
    json_t *doc = NULL, *stop = NULL, *pick = NULL;
    size_t i = 0, k = 0, n = 0;
    int64_t wave = 0;
    const cw_picking_ask ask = { .week = cw_week_of(l->t.who.today) };
    lived_must(cw_picking_make(l->t.n, &l->t.who, &ask, &wave, &notes, &err), &err);
    lived_must(cw_picking_document(l->t.n, &l->t.who, wave, &doc, &err), &err);
    json_array_foreach(json_object_get(doc, "stops"), i, stop)
        json_array_foreach(json_object_get(stop, "picks"), k, pick)
    {
        if (n == CW_PICKING_MAX_ANSWERS)
            exit(3);
        snprintf(key[n], sizeof key[n], "p%zu", n);
        answer[n] = (cw_picking_answer){ .key = key[n],
                                         .pick = json_integer_value(json_object_get(pick, "id")),
                                         .taken = json_integer_value(json_object_get(pick, "quantity")),
                                         .at = CW_NO_INSTANT };
        n++;
    }
    lived_must(cw_picking_answer_all(l->t.n, &l->t.who, answer, n, &out, &err), &err);
    json_decref(doc);
    cw_table_free(&notes);
    cw_table_free(&out);
    return wave;
}

static void pack_and_send(lived *l, int64_t wave)
{
    cw_error err = CW_ERROR_NONE;
    cw_table parcels = { 0 };
    lived_must(cw_packing_list(l->t.n, &l->t.who, wave, NULL, &parcels, &err), &err);
    for (size_t i = 0; i < cw_table_rows(&parcels); i++) {
        cw_packing_count count = { .count = cw_table_int(&parcels, i, 8) };
        int64_t id = cw_table_int(&parcels, i, 0), rest = 0;
        lived_must(cw_packing_pack(l->t.n, &l->t.who, id, &count, &err), &err);
        lived_must(
            cw_packing_ship(l->t.n, &l->t.who, id, &(cw_packing_sent){ .on = l->t.who.today }, &rest, &err),
            &err);
        if (rest != 0)
            exit(3);
    }
    cw_table_free(&parcels);
}

void lived_sell(lived *l, const int64_t *asked, int64_t *sold)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting_ask ask = { .rule = "first-come" };
    cw_allotting_done done = { 0 };
    int64_t all = 0;
    take_orders(l, asked, sold);
    for (int v = 0; v < l->varieties; v++)
        all += sold[v];
    if (all == 0)
        return;
    lived_today(l, lived_ship(l->season) + SHOP_DAYS);
    lived_must(cw_allotting_commit(l->t.n, &l->t.who, &ask, NULL, &done, NULL, &err), &err);
    if (done.placed != all || done.short_ != 0) {
        fprintf(stderr, "bench_keeping: %lld sold and %lld promised\n", (long long)all,
                (long long)done.placed);
        exit(3);
    }
    lived_must(cw_nursery_batch_begin(l->t.n, &err), &err);
    pack_and_send(l, pull(l));
    lived_must(cw_nursery_batch_commit(l->t.n, &err), &err);
}
