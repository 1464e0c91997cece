/* SPDX-License-Identifier: MIT */
#include "opening.h"

#include "desk/intake/intake.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/offer/offering.h"

#include <pthread.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define OFFERED 10000000

_Noreturn void opening_die(const char *what, const cw_error *err)
{
    fprintf(stderr, "%s: %s\n", what, err ? err->text : "");
    exit(1);
}

double opening_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

void opening_make(const char *path, const cw_asker *who)
{
    cw_error err = CW_ERROR_NONE;
    cw_season season = {
        .season = 2031, .ship = cw_day_from_ymd(2032, 4, 19), .currency = "USD", .timezone = "UTC"
    };
    cw_nursery *n = NULL;
    cw_text csv = CW_TEXT(1 << 20);
    cw_table t = { 0 };
    cw_error_list errors = { 0 };
    cw_offering_item *items = calloc(VARIETIES, sizeof *items);
    char(*codes)[8] = calloc(VARIETIES, sizeof *codes);
    cw_text_add(&csv, "code,name,form,colour,price\n");
    for (int i = 0; i < VARIETIES; i++) {
        snprintf(codes[i], sizeof codes[i], "V%04d", i + 1);
        cw_text_addf(&csv, "%s,Variety %d,ball,pink,5.00\n", codes[i], i + 1);
        items[i] = (cw_offering_item){ codes[i], OFFERED };
    }
    cw_intake_file file = { .name = "varieties.csv", .bytes = csv.data, .length = csv.length };
    if (cw_nursery_new(path, &season, who, &n, &err) != CW_OK ||
        cw_intake_load(n, who, &file, 1, &(cw_intake_options){ 0 }, &t, &errors, &err) != CW_OK)
        opening_die("making the nursery", &err);
    cw_table_free(&t);
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    if (cw_offering_release(n, who, &ask, items, VARIETIES, "bench", &t, &err) != CW_OK)
        opening_die("putting on offer", &err);
    cw_table_free(&t);
    cw_text_free(&csv);
    cw_nursery_close(n);
    free(items);
    free(codes);
}

size_t opening_ask_availability(void *context, unsigned connection, char *out, size_t size)
{
    (void)context;
    (void)connection;
    return (size_t)snprintf(
        out, size,
        "GET /api/availability HTTP/1.1\r\nHost: localhost\r\nAccept-Encoding: gzip\r\nUser-Agent: bench\r\n"
        "Accept: */*\r\n\r\n");
}

unsigned opening_variety(cw_rng *r)
{
    double u = cw_rng_uniform(r);
    return (unsigned)(u * u * VARIETIES) + 1;
}

static size_t opening_ask_order(void *context, unsigned connection, char *out, size_t size)
{
    opening_orders *o = context;
    char body[2048];
    uint64_t number = o->next++;
    o->of[connection] = number;
    size_t n =
        (size_t)snprintf(body, sizeof body,
                         "{\"order\":\"W%07llu\",\"channel\":\"web\",\"customer\":\"Customer "
                         "%llu\",\"email\":\"c%llu@example.org\","
                         "\"postcode\":\"12345\",\"country\":\"US\",\"lines\":[",
                         (unsigned long long)number, (unsigned long long)number, (unsigned long long)number);
    for (int k = 1; k <= LINES; k++)
        n += (size_t)snprintf(body + n, sizeof body - n,
                              "%s{\"line\":%d,\"variety\":\"V%04u\",\"quantity\":%u,\"unit_price\":\"5.00\","
                              "\"consent\":\"same\"}",
                              k > 1 ? "," : "", k, opening_variety(&o->rng), 1 + cw_rng_below(&o->rng, 3));
    n += (size_t)snprintf(body + n, sizeof body - n, "]}");
    return (size_t)snprintf(out, size,
                            "POST /api/orders HTTP/1.1\r\nHost: localhost\r\nContent-Type: "
                            "application/json\r\nContent-Length: %zu\r\n\r\n%s",
                            n, body);
}

static void opening_answered(void *context, unsigned connection, int status)
{
    opening_orders *o = context;
    if (status == 201 && o->of[connection] < MOST_ORDERS)
        o->acknowledged[o->of[connection]] = 1;
}

typedef struct poller {
    unsigned port;
    bool stop;
    load_result result;
} poller;

static void *poll_availability(void *self)
{
    poller *p = self;
    load_plan plan = { .port = p->port,
                       .connections = 8,
                       .seconds = 1e9,
                       .rate = 80,
                       .request = opening_ask_availability,
                       .stop = &p->stop };
    if (!load_run(&plan, &p->result))
        opening_die("asking", NULL);
    return NULL;
}

void opening_run(unsigned port, opening_orders *o, double seconds, load_result *orders, load_result *polls)
{
    pthread_t thread;
    poller polling = { .port = port };
    load_plan p = { .port = port,
                    .connections = CLIENTS,
                    .seconds = seconds,
                    .request = opening_ask_order,
                    .answer = opening_answered,
                    .context = o };
    if (pthread_create(&thread, NULL, poll_availability, &polling) != 0 || !load_run(&p, orders))
        opening_die("ordering", NULL);
    __atomic_store_n(&polling.stop, true, __ATOMIC_RELAXED);
    pthread_join(thread, NULL);
    *polls = polling.result;
}

static int64_t one_int(sqlite3 *db, const char *sql)
{
    sqlite3_stmt *s = NULL;
    int64_t v = -1;
    if (sqlite3_prepare_v2(db, sql, -1, &s, NULL) == SQLITE_OK && sqlite3_step(s) == SQLITE_ROW)
        v = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return v;
}

void opening_check(const char *path, const opening_orders *o)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *s = NULL;
    uint64_t acknowledged = 0, found = 0;
    cw_nursery *n = NULL;
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    for (uint64_t i = 0; i < o->next && i < MOST_ORDERS; i++)
        acknowledged += o->acknowledged[i];
    sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL);
    if (sqlite3_prepare_v2(db, "SELECT number FROM orders WHERE number LIKE 'W%'", -1, &s, NULL) != SQLITE_OK)
        opening_die("reading the orders", NULL);
    while (sqlite3_step(s) == SQLITE_ROW) {
        uint64_t number = strtoull((const char *)sqlite3_column_text(s, 0) + 1, NULL, 10);
        found += number < MOST_ORDERS && o->acknowledged[number];
    }
    sqlite3_finalize(s);
    int64_t over = one_int(db, "SELECT COUNT(*) FROM offering WHERE sold > offered + beyond");
    sqlite3_close(db);
    if (cw_nursery_open(path, CW_LOOK, NULL, &n, &err) != CW_OK ||
        cw_db_check(n->db, NULL, NULL, &broken, &err) != CW_OK)
        opening_die("checking", &err);
    cw_nursery_close(n);
    printf("orders_acknowledged %llu orders\norders_lost %llu orders\noversold %lld varieties\nchecks_broken "
           "%ld\n",
           (unsigned long long)acknowledged, (unsigned long long)(acknowledged - found), (long long)over,
           broken);
    if (acknowledged != found || over != 0 || broken != 0)
        exit(1);
}
