/* SPDX-License-Identifier: MIT */
#include "bench/keeping_desk.h"

#include "desk/cellar/cellar.h"
#include "desk/closing/closing.h"
#include "desk/field/field.h"
#include "desk/field/left.h"
#include "desk/intake/intake.h"
#include "desk/beds/beds.h"
#include "desk/offer/offering.h"

#include <math.h>

#include "base/banned.h"

#define MOST_BYTES ((size_t)1 << 24)
#define WEEKS      13 /* as a clump, and as a division: half each of 26 from digging to shipping */

void lived_must(cw_code code, const cw_error *err)
{
    char line[1600];
    if (code == CW_OK)
        return;
    cw_error_line(err, line, sizeof line);
    fprintf(stderr, "bench_keeping: %s\n", line);
    exit(3);
}

static void must_agree(const lived *l, const char *what, int variety, int64_t there, int64_t expected)
{
    if (there == expected)
        return;
    fprintf(stderr,
            "bench_keeping: seed %llu, season %d, V%02d: %s is %lld by the desk and %lld by the world\n",
            (unsigned long long)l->seed, l->season, variety, what, (long long)there, (long long)expected);
    exit(3);
}

void lived_today(lived *l, cw_day day)
{
    l->t.who.today = day;
    l->t.who.now = l->t.who.clock = day * CW_DAY_MS + 43200000;
}

cw_day lived_ship(int season)
{
    return cw_day_from_ymd(FIRST_SEASON + season + 1, 4, 19);
}

void lived_begin(lived *l, uint64_t seed, const double *price, int varieties)
{
    *l = (lived){ .seed = seed, .price = price, .varieties = varieties };
    l->history = l->plantings = l->checks = l->sales = l->bought = CW_TEXT(MOST_BYTES);
    cw_text_add(&l->history, "season,variety,clumps,divisions\n");
    cw_text_add(&l->plantings, "season,variety,plants,clumps\n");
    cw_text_add(&l->checks, "season,variety,stage,weeks,inspected,rotten,shrivelled\n");
    cw_text_add(&l->sales, "season,variety,sold,sold_out_on\n");
    cw_text_add(&l->bought, "season,variety,ordered_on,quantity\n");
}

void lived_past(lived *l, int variety, int season, const lived_grown *g, int64_t sold)
{
    int year = FIRST_SEASON + season;
    int64_t by_day[SHOP_DAYS] = { 0 };
    cw_text_addf(&l->plantings, "%d,V%02d,%lld,%lld\n", year, variety, (long long)g->plants,
                 (long long)g->clumps);
    if (g->clumps > 0) {
        cw_text_addf(&l->history, "%d,V%02d,%lld,%lld\n", year, variety, (long long)g->clumps,
                     (long long)g->divisions);
        cw_text_addf(&l->checks, "%d,V%02d,clump,%d,%lld,0,\n", year, variety, WEEKS, (long long)g->clumps);
    }
    if (g->divisions > 0)
        cw_text_addf(&l->checks, "%d,V%02d,division,%d,%lld,%lld,0\n", year, variety, WEEKS,
                     (long long)g->divisions, (long long)(g->divisions - g->sound));
    cw_text_addf(&l->sales, "%d,V%02d,%lld,\n", year, variety, (long long)sold);
    lived_buyers(l, variety, season, sold, by_day);
    for (int d = 0; d < SHOP_DAYS; d++) {
        char day[11];
        cw_day_format(lived_ship(season) + d, day);
        if (by_day[d] > 0)
            cw_text_addf(&l->bought, "%d,V%02d,%s,%lld\n", year, variety, day, (long long)by_day[d]);
    }
}

static void load(lived *l, const char *kind, cw_text *text)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    cw_intake_options o = { 0 };
    cw_intake_file f = { .name = kind, .kind = kind, .bytes = text->data, .length = text->length };
    lived_must(cw_intake_load(l->t.n, &l->t.who, &f, 1, &o, &answer, &errors, &err), &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    cw_text_free(text);
}

static void set(lived *l, const char *name, double value)
{
    char text[40];
    cw_error err = CW_ERROR_NONE;
    snprintf(text, sizeof text, "%.10g", value);
    lived_must(cw_nursery_set(l->t.n, &l->t.who, name, text, &err), &err);
}

static void load_stock(lived *l, const int64_t *have)
{
    cw_text varieties = CW_TEXT(MOST_BYTES), lots = CW_TEXT(MOST_BYTES), counts = CW_TEXT(MOST_BYTES);
    char day[11];
    cw_day_format(l->t.who.today, day);
    cw_text_add(&varieties, "code,name,price,hold_back,reserve\n");
    cw_text_add(&lots, "lot,variety,dug_on,clumps\n");
    cw_text_add(&counts, "lot,counted_on,stage,count\n");
    for (int v = 0; v < l->varieties; v++) {
        cw_text_addf(&varieties, "V%02d,Variety %d,%.2f,0,0\n", v, v, l->price[v] / 100);
        cw_text_addf(&lots, "L%02d,V%02d,%d-10-20,0\n", v, v, FIRST_SEASON + l->season);
        if (have[v] > 0)
            cw_text_addf(&counts, "L%02d,%s,division,%lld\n", v, day, (long long)have[v]);
    }
    load(l, "varieties", &varieties);
    load(l, "lots", &lots);
    load(l, "counts", &counts);
}

void lived_open(lived *l, int season, const lived_terms *terms, const int64_t *have)
{
    cw_error err = CW_ERROR_NONE;
    cw_season s = { FIRST_SEASON + season, lived_ship(season), "USD", "UTC" };
    test_nursery *t = &l->t;
    l->season = season;
    /* what the bench waits for is not the disk */
    cw_copy(t->folder, sizeof t->folder,
            access("/dev/shm", W_OK) == 0 ? "/dev/shm/cw-bench-XXXXXX" : "/tmp/cw-bench-XXXXXX");
    if (mkdtemp(t->folder) == NULL)
        exit(3);
    snprintf(t->path, sizeof t->path, "%s/%d.db", t->folder, s.season);
    t->who = (cw_asker){ .actor = "bench", .role = CW_ROLE_OWNER };
    lived_today(l, s.ship);
    lived_must(cw_nursery_new(t->path, &s, &t->who, &t->n, &err), &err);
    load_stock(l, have);
    load(l, "history", &l->history);
    load(l, "past_plantings", &l->plantings);
    load(l, "past_checks", &l->checks);
    load(l, "past_sales", &l->sales);
    load(l, "past_orders", &l->bought);
    set(l, "margin_share", 1);
    set(l, "plant_cost", terms->cost / 100);
    set(l, "plant_discount", terms->discount);
    set(l, "plant_seasons", terms->ahead);
    set(l, "parcels_per_week", 10000);
    if (terms->places >= 0)
        set(l, "beds_places", fmax(1, floor(terms->places)));
}

/* An estimate is half of it to twice it, 8 in 10 sure, by its standard deviation. */
void lived_estimate(lived *l, const double *estimate)
{
    cw_error err = CW_ERROR_NONE;
    for (int v = 0; v < l->varieties; v++) {
        char code[16];
        snprintf(code, sizeof code, "V%02d", v);
        const cw_beds_figure f = { .variety = code,
                                   .field = CW_BEDS_DEMAND,
                                   .learned = estimate[v] <= 0,
                                   .value = floor(0.36 * estimate[v]),
                                   .high = ceil(1.64 * estimate[v]) };
        if (estimate[v] != l->estimate[v])
            lived_must(cw_beds_say(l->t.n, &l->t.who, &f, 1, &err), &err);
        l->estimate[v] = estimate[v];
    }
}

static int variety_of(const char *code)
{
    return (int)strtol(code + 1, NULL, 10);
}

/* What the desk has left of each variety, and what of it it would send to the beds. */
static void left(lived *l, int64_t *there, int64_t *to_beds)
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    lived_must(cw_left_list(l->t.n, &t, &err), &err);
    for (int v = 0; v < l->varieties; v++)
        there[v] = to_beds[v] = 0;
    for (size_t r = 0; r < cw_table_rows(&t); r++) {
        int v = variety_of(cw_table_text(&t, r, 1));
        there[v] += cw_table_int(&t, r, 5);
        to_beds[v] += cw_table_int(&t, r, 9);
    }
    cw_table_free(&t);
}

/* Hold-backs as the plan has them, or none, put on record as the owner does. */
static void hold(lived *l, const cw_beds_ask *ask, bool none)
{
    cw_error err = CW_ERROR_NONE;
    cw_table changed = { 0 };
    cw_beds_item item[MOST_VARIETIES];
    char code[MOST_VARIETIES][16];
    int64_t run = 0;
    for (int v = 0; v < l->varieties; v++) {
        snprintf(code[v], sizeof code[v], "V%02d", v);
        item[v] = (cw_beds_item){ code[v], 0 };
    }
    lived_must(
        cw_beds_commit(l->t.n, &l->t.who, ask, item, none ? (size_t)l->varieties : 0, &run, &changed, &err),
        &err);
    for (size_t r = 0; r < cw_table_rows(&changed); r++)
        l->hold[variety_of(cw_table_text(&changed, r, 0))] = cw_table_int(&changed, r, 2);
    cw_table_free(&changed);
}

/* All that is not held back, as the catalogue's plan has it. */
static void offer(lived *l)
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    const cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    lived_must(cw_offering_release(l->t.n, &l->t.who, &ask, NULL, 0, "counted", &t, &err), &err);
    cw_table_free(&t);
}

void lived_plan(lived *l, const int64_t *have, int64_t *keep)
{
    const cw_beds_ask ask = { .places = -1, .keep = -1 };
    int64_t there[MOST_VARIETIES], beds[MOST_VARIETIES];
    left(l, there, beds);
    for (int v = 0; v < l->varieties; v++)
        must_agree(l, "what is sound", v, there[v], have[v]);
    hold(l, &ask, keep == NULL);
    offer(l);
    left(l, there, beds);
    for (int v = 0; keep && v < l->varieties; v++) {
        keep[v] = l->hold[v] < have[v] ? l->hold[v] : have[v];
        must_agree(l, "what goes to the beds", v, beds[v], keep[v]);
    }
}

void lived_worth(lived *l, int64_t *upto)
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    const cw_beds_ask ask = { .places = -1, .keep = -1 };
    lived_today(l, lived_ship(l->season) + SHOP_DAYS + 7);
    lived_must(cw_beds_plan(l->t.n, &l->t.who, &ask, &t, NULL, &err), &err);
    int c = cw_table_column(&t, "up_to");
    for (size_t r = 0; r < cw_table_rows(&t); r++)
        upto[variety_of(cw_table_text(&t, r, 0))] = cw_table_int(&t, r, (size_t)c);
    cw_table_free(&t);
}

/* What is planted, and what is thrown out of the rest, lot by lot. */
static void clear(lived *l, const lived_grown *g)
{
    cw_error err = CW_ERROR_NONE;
    cw_table list = { 0 }, out = { 0 };
    cw_left_item item[MOST_VARIETIES];
    char row[MOST_VARIETIES][16];
    size_t count = 0;
    lived_must(cw_left_list(l->t.n, &list, &err), &err);
    for (size_t r = 0; r < cw_table_rows(&list); r++) {
        int v = variety_of(cw_table_text(&list, r, 1));
        int64_t there = cw_table_int(&list, r, 5);
        snprintf(row[v], sizeof row[v], "R%02d", v);
        item[count++] = (cw_left_item){ .lot = cw_table_text(&list, r, 0),
                                        .row = row[v],
                                        .planted = g[v].plants,
                                        .discarded = there - g[v].plants };
    }
    if (count > 0)
        lived_must(cw_left_enter(l->t.n, &l->t.who, CW_NO_DAY, item, count, &out, &err), &err);
    cw_table_free(&list);
    cw_table_free(&out);
}

/* The next season's file, proved against this one, which is then thrown away. */
static void next(lived *l)
{
    cw_error err = CW_ERROR_NONE;
    cw_nursery *made = NULL;
    cw_table t = { 0 };
    char path[96];
    long broken = 0;
    const cw_next n = { path, FIRST_SEASON + l->season + 1, lived_ship(l->season + 1), true, false };
    snprintf(path, sizeof path, "%s/%d.db", l->t.folder, n.season);
    lived_must(cw_closing_next(l->t.n, &l->t.who, &n, true, &t, &err), &err);
    cw_table_free(&t);
    lived_must(cw_nursery_open(path, CW_WORK, "bench", &made, &err), &err);
    lived_must(cw_closing_prove(made, l->t.n, &l->t.who, &t, &broken, &err), &err);
    must_agree(l, "sums that the next season has otherwise", 0, broken, 0);
    cw_table_free(&t);
    cw_nursery_close(l->t.n);
    unlink(l->t.path);
    l->t.n = made;
    cw_copy(l->t.path, sizeof l->t.path, path);
    l->season++;
}

/* Clumps are lifted of a row; of one in which nothing came, a walk says so. */
static void dig(lived *l, int v, const lived_grown *g, const char *lot)
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    char row[16];
    cw_field_entry e = CW_FIELD_ENTRY;
    snprintf(row, sizeof row, "R%02d", v);
    e.row = row;
    if (g->clumps > 0) {
        e.clumps = g->clumps;
        e.lot = lot;
        e.done = "yes";
        lived_must(cw_field_dig(l->t.n, &l->t.who, &e, &t, &err), &err);
    } else {
        e.alive = 0;
        lived_must(cw_field_walk(l->t.n, &l->t.who, &e, &t, &err), &err);
    }
    cw_table_free(&t);
}

static void cut(lived *l, const lived_grown *g, const char *lot)
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot;
    e.clumps = g->clumps;
    e.saleable = g->divisions;
    e.blind = e.rotten = 0;
    lived_must(cw_cellar_divide(l->t.n, &l->t.who, &e, &t, &err), &err);
    cw_table_free(&t);
}

static void look_over(lived *l, const lived_grown *g, const char *lot)
{
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot;
    e.stage = "division";
    e.inspected = g->divisions;
    e.rotten = g->divisions - g->sound;
    e.shrivelled = 0;
    e.why = "round";
    lived_must(cw_cellar_check(l->t.n, &l->t.who, &e, &t, &err), &err);
    cw_table_free(&t);
}

void lived_turn(lived *l, const lived_grown *g)
{
    char lot[MOST_VARIETIES][16];
    clear(l, g);
    next(l);
    cw_day ship = lived_ship(l->season);
    lived_today(l, ship - 14 * WEEKS);
    for (int v = 0; v < l->varieties; v++) {
        snprintf(lot[v], sizeof lot[v], "L%02d", v);
        if (g[v].plants > 0)
            dig(l, v, &g[v], lot[v]);
    }
    lived_today(l, ship - 7 * WEEKS);
    for (int v = 0; v < l->varieties; v++)
        if (g[v].clumps > 0)
            cut(l, &g[v], lot[v]);
    lived_today(l, ship);
    for (int v = 0; v < l->varieties; v++)
        if (g[v].divisions > 0)
            look_over(l, &g[v], lot[v]);
}

void lived_end(lived *l)
{
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    lived_must(cw_db_check(l->t.n->db, NULL, NULL, &broken, &err), &err);
    must_agree(l, "checks of the last file that do not hold", 0, broken, 0);
    test_nursery_free(&l->t);
}
