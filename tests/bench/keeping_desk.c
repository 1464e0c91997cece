/* SPDX-License-Identifier: MIT */
#include "bench/keeping_desk.h"

#include "support/nursery.h"

#include "desk/intake/intake.h"
#include "desk/offer/beds.h"
#include "desk/offer/beds_inside.h"
#include "model/orders_curve.h"

#include <math.h>

#include "base/banned.h"

#define MOST_BYTES ((size_t)1 << 24)
#define WEEKS      13 /* as a clump, and as a division: half each of 26 from digging to shipping */

static void must(cw_code code, const cw_error *err)
{
    char line[1600];
    if (code == CW_OK)
        return;
    cw_error_line(err, line, sizeof line);
    fprintf(stderr, "bench_keeping: %s\n", line);
    exit(3);
}

void lived_begin(lived *l)
{
    *l = (lived){ CW_TEXT(MOST_BYTES), CW_TEXT(MOST_BYTES), CW_TEXT(MOST_BYTES), CW_TEXT(MOST_BYTES) };
    cw_text_add(&l->history, "season,variety,clumps,divisions\n");
    cw_text_add(&l->plantings, "season,variety,plants,clumps\n");
    cw_text_add(&l->checks, "season,variety,stage,weeks,inspected,rotten,shrivelled\n");
    cw_text_add(&l->sales, "season,variety,sold,sold_out_on\n");
}

void lived_free(lived *l)
{
    cw_text_free(&l->history);
    cw_text_free(&l->plantings);
    cw_text_free(&l->checks);
    cw_text_free(&l->sales);
}

void lived_grew(lived *l, int variety, int season, int64_t plants, int64_t clumps, int64_t divisions,
                int64_t sound)
{
    int year = FIRST_SEASON + season;
    if (plants > 0)
        cw_text_addf(&l->plantings, "%d,V%02d,%lld,%lld\n", year, variety, (long long)plants,
                     (long long)clumps);
    if (clumps <= 0)
        return;
    cw_text_addf(&l->history, "%d,V%02d,%lld,%lld\n", year, variety, (long long)clumps, (long long)divisions);
    cw_text_addf(&l->checks, "%d,V%02d,clump,%d,%lld,0,\n", year, variety, WEEKS, (long long)clumps);
    if (divisions > 0)
        cw_text_addf(&l->checks, "%d,V%02d,division,%d,%lld,%lld,0\n", year, variety, WEEKS,
                     (long long)divisions, (long long)(divisions - sound));
}

static cw_day ship_of(int season)
{
    return cw_day_from_ymd(FIRST_SEASON + season + 1, 4, 19);
}

/* The day by which so much of a season's orders has come: orders come as the program takes it until past orders teach otherwise. */
static cw_day day_of_share(int season, double share)
{
    cw_orders_curve curve;
    int day = CW_CURVE_FIRST;
    cw_orders_curve_learn(NULL, 0, &curve);
    while (day < CW_CURVE_FIRST + CW_CURVE_DAYS - 1 && cw_orders_curve_at(&curve, day) < share)
        day++;
    return ship_of(season) + day;
}

void lived_sold(lived *l, int variety, int season, int64_t sold, double share)
{
    char day[11] = "";
    if (share < 1)
        cw_day_format(day_of_share(season, share), day);
    cw_text_addf(&l->sales, "%d,V%02d,%lld,%s\n", FIRST_SEASON + season, variety, (long long)sold, day);
}

static void load(test_nursery *t, const char *kind, const cw_text *text)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    cw_intake_options o = { 0 };
    cw_intake_file f = { .name = kind, .kind = kind, .bytes = text->data, .length = text->length };
    must(cw_intake_load(t->n, &t->who, &f, 1, &o, &answer, &errors, &err), &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
}

static void set(test_nursery *t, const char *name, double value)
{
    char text[40];
    cw_error err = CW_ERROR_NONE;
    snprintf(text, sizeof text, "%.10g", value);
    must(cw_nursery_set(t->n, &t->who, name, text, &err), &err);
}

static void stock(test_nursery *t, const lived_now *now)
{
    cw_text varieties = CW_TEXT(MOST_BYTES), lots = CW_TEXT(MOST_BYTES), counts = CW_TEXT(MOST_BYTES);
    char day[11];
    int year = FIRST_SEASON + now->season;
    cw_day_format(t->who.today, day);
    cw_text_add(&varieties, "code,name,price,hold_back,reserve\n");
    cw_text_add(&lots, "lot,variety,dug_on,clumps\n");
    cw_text_add(&counts, "lot,counted_on,stage,count\n");
    for (int v = 0; v < now->varieties; v++) {
        cw_text_addf(&varieties, "V%02d,Variety %d,%.2f,0,0\n", v, v, now->price[v] / 100);
        cw_text_addf(&lots, "L%02d,V%02d,%d-10-20,0\n", v, v, year);
        if (now->have[v] > 0)
            cw_text_addf(&counts, "L%02d,%s,division,%lld\n", v, day, (long long)now->have[v]);
    }
    load(t, "varieties", &varieties);
    load(t, "lots", &lots);
    load(t, "counts", &counts);
    cw_text_free(&varieties);
    cw_text_free(&lots);
    cw_text_free(&counts);
}

/* An estimate is half of it to twice it, 8 in 10 sure, by its standard deviation. */
static void say(test_nursery *t, const lived_now *now)
{
    cw_error err = CW_ERROR_NONE;
    for (int v = 0; v < now->varieties; v++) {
        char code[16];
        if (now->estimate[v] <= 0)
            continue;
        snprintf(code, sizeof code, "V%02d", v);
        const cw_beds_figure f = { .variety = code,
                                   .field = CW_BEDS_DEMAND,
                                   .value = floor(0.36 * now->estimate[v]),
                                   .high = ceil(1.64 * now->estimate[v]) };
        must(cw_beds_say(t->n, &t->who, &f, 1, &err), &err);
    }
}

/* Writes the plan's hold-backs on record, as the owner does, and reads them there: keep[varieties]. */
static void commit(test_nursery *t, const cw_beds_ask *ask, const lived_now *now, int64_t *keep)
{
    cw_error err = CW_ERROR_NONE;
    cw_table changed = { 0 };
    int64_t run = 0;
    must(cw_beds_commit(t->n, &t->who, ask, NULL, 0, &run, &changed, &err), &err);
    for (int v = 0; v < now->varieties; v++)
        keep[v] = 0;
    for (size_t r = 0; r < cw_table_rows(&changed); r++) {
        int v = (int)strtol(cw_table_text(&changed, r, 0) + 1, NULL, 10);
        int64_t after = cw_table_int(&changed, r, 2);
        keep[v] = after < now->have[v] ? after : now->have[v];
    }
    cw_table_free(&changed);
}

void lived_plan(const lived *l, const lived_now *now, int64_t *keep, int64_t *upto)
{
    cw_error err = CW_ERROR_NONE;
    cw_beds *b = NULL;
    const cw_beds_ask ask = { .places = -1, .keep = -1 };
    cw_season season = { .season = FIRST_SEASON + now->season,
                         .ship = ship_of(now->season),
                         .currency = "USD",
                         .timezone = "UTC" };
    test_nursery t = { .folder = "/tmp/cw-bench-XXXXXX" };
    if (mkdtemp(t.folder) == NULL)
        exit(3);
    snprintf(t.path, sizeof t.path, "%s/n.db", t.folder);
    t.who = (cw_asker){ .actor = "bench", .role = CW_ROLE_OWNER, .today = season.ship };
    t.who.now = t.who.clock = t.who.today * CW_DAY_MS + 43200000;
    must(cw_nursery_new(t.path, &season, &t.who, &t.n, &err), &err);
    stock(&t, now);
    load(&t, "history", &l->history);
    load(&t, "past_plantings", &l->plantings);
    load(&t, "past_checks", &l->checks);
    load(&t, "past_sales", &l->sales);
    set(&t, "margin_share", 1);
    set(&t, "plant_cost", now->cost / 100);
    set(&t, "plant_discount", now->discount);
    set(&t, "plant_seasons", now->ahead);
    if (now->places >= 0)
        set(&t, "beds_places", fmax(1, floor(now->places)));
    say(&t, now);
    must(cw_beds_make(t.n, &t.who, &ask, &b, &err), &err);
    for (int v = 0; v < now->varieties; v++) /* rows are in the order of the codes */
        upto[v] = b->row[v].keep.plant_up_to;
    cw_beds_free(b);
    commit(&t, &ask, now, keep);
    test_nursery_free(&t);
}
