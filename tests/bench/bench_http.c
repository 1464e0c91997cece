/* SPDX-License-Identifier: MIT */
/* The opening hour over HTTP, on 1,500 varieties, with everything in one process on one machine:
 *
 *   availability  requests/s of GET /api/availability (gzip) beside a bare libmicrohttpd program in the same mode that
 *                 returns the same bytes, in turns; p99 at 80 % of that load, sent at a fixed rate
 *   orders        64 clients post orders of 5 lines each while 8 ask for the availability; beside bare SQLite with the same
 *                 rows, indexes and triggers, in batches of the size that the server's groups had
 *
 * Afterwards: every acknowledged order is on record, nothing is oversold, the file's checks hold. Prints "name value unit";
 * exits 1 if an order is lost, oversold, or a check fails. Orders are invented, by a fixed seed. */
#include "http/server.h"
#include "opening.h"
#include "support/wire.h"

#include <microhttpd.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

#define ROUNDS 3

typedef struct bare {
    struct MHD_Daemon *daemon;
    struct MHD_Response *response;
} bare;

static enum MHD_Result bare_answer(void *self, struct MHD_Connection *c, const char *url, const char *method,
                                   const char *version, const char *bytes, size_t *n, void **seen)
{
    bare *b = self;
    (void)url;
    (void)method;
    (void)version;
    (void)bytes;
    (void)n;
    if (*seen == NULL) {
        *seen = b;
        return MHD_YES;
    }
    return MHD_queue_response(c, 200, b->response);
}

static unsigned start_bare(bare *b, const wire_reply *same)
{
    b->response = MHD_create_response_from_buffer(same->body_length, same->body, MHD_RESPMEM_MUST_COPY);
    MHD_add_response_header(b->response, "Content-Type", "application/json");
    MHD_add_response_header(b->response, "Content-Encoding", "gzip");
    b->daemon =
        MHD_start_daemon(MHD_USE_EPOLL_INTERNAL_THREAD | MHD_USE_TURBO, 0, NULL, NULL, bare_answer, b,
                         MHD_OPTION_THREAD_POOL_SIZE, 2u, MHD_OPTION_CONNECTION_LIMIT, 512u, MHD_OPTION_END);
    const union MHD_DaemonInfo *port =
        b->daemon ? MHD_get_daemon_info(b->daemon, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    return port ? port->port : 0;
}

static double median3(double a, double b, double c)
{
    double low = a < b ? a : b, high = a < b ? b : a;
    return c < low ? low : c > high ? high : c;
}

static void bench_availability(unsigned port)
{
    bare b = { 0 };
    load_result r;
    double ours[3], theirs[3];
    wire_reply same = wire_ask(port, "GET", "/api/availability", "Accept-Encoding: gzip\r\n", NULL);
    unsigned bare_port = same.status == 200 ? start_bare(&b, &same) : 0;
    if (bare_port == 0)
        opening_die("starting the bare server", NULL);
    printf("availability_bytes %zu B\n", same.body_length);
    uint64_t failed = 0;
    for (int i = 0; i < 3; i++) {
        load_plan p = {
            .port = port, .connections = CLIENTS, .seconds = 2, .request = opening_ask_availability
        };
        if (!load_run(&p, &r))
            opening_die("asking", NULL);
        ours[i] = (double)r.answered / r.seconds;
        failed += r.failed;
        p.port = bare_port;
        if (!load_run(&p, &r))
            opening_die("asking", NULL);
        theirs[i] = (double)r.answered / r.seconds;
    }
    double rate = median3(ours[0], ours[1], ours[2]), bare_rate = median3(theirs[0], theirs[1], theirs[2]);
    printf("availability_rate %.0f 1/s\navailability_bare_rate %.0f 1/s\n", rate, bare_rate);
    printf("availability_share %.3f of_bare\n",
           median3(ours[0] / theirs[0], ours[1] / theirs[1], ours[2] / theirs[2]));
    load_plan p = { .port = port,
                    .connections = CLIENTS,
                    .seconds = 4,
                    .rate = 0.8 * rate,
                    .request = opening_ask_availability };
    if (!load_run(&p, &r))
        opening_die("asking", NULL);
    failed += r.failed;
    printf("availability_at80_rate %.0f 1/s\navailability_at80_p50 %.2f ms\navailability_at80_p99 %.2f ms\n",
           (double)r.answered / r.seconds, r.p50_ms, r.p99_ms);
    printf("availability_failed %llu requests\n", (unsigned long long)failed);
    MHD_stop_daemon(b.daemon);
    MHD_destroy_response(b.response);
    wire_free(&same);
}

typedef struct round {
    double rate, group, bare_rate;
    load_result orders, polls;
} round_t;

static void bench_orders(cw_server *server, opening_orders *o, double seconds, round_t *out)
{
    cw_served before = cw_server_served(server);
    opening_run(cw_server_port(server), o, seconds, &out->orders, &out->polls);
    cw_served after = cw_server_served(server);
    out->rate = (double)out->orders.answered / out->orders.seconds;
    out->group = (double)(after.written - before.written) / (double)(after.groups - before.groups);
}

/* Bare SQLite: the same rows into the same tables (indexes, triggers, constraints), `group` orders in a transaction: order,
 * lines, what is sold, the revision, and a row of the audit (with a hash that is not computed). */
static void exec(sqlite3 *db, const char *sql)
{
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK) {
        fprintf(stderr, "bench_http: %s: %s\n", sql, sqlite3_errmsg(db));
        exit(1);
    }
}

static void step(sqlite3 *db, sqlite3_stmt *s)
{
    if (sqlite3_step(s) != SQLITE_DONE) {
        fprintf(stderr, "bench_http: %s\n", sqlite3_errmsg(db));
        exit(1);
    }
    sqlite3_reset(s);
}

static void bare_order(sqlite3 *db, sqlite3_stmt *const s[5], uint64_t number, cw_rng *rng)
{
    char text[3][40];
    snprintf(text[0], 40, "B%07llu", (unsigned long long)number);
    snprintf(text[1], 40, "Customer %llu", (unsigned long long)number);
    snprintf(text[2], 40, "c%llu@example.org", (unsigned long long)number);
    for (int i = 0; i < 3; i++)
        sqlite3_bind_text(s[0], i + 1, text[i], -1, SQLITE_STATIC);
    step(db, s[0]);
    sqlite3_int64 id = sqlite3_last_insert_rowid(db);
    for (int k = 1; k <= LINES; k++) {
        unsigned v = opening_variety(rng), quantity = 1 + cw_rng_below(rng, 3);
        sqlite3_bind_int64(s[1], 1, id);
        sqlite3_bind_int(s[1], 2, k);
        sqlite3_bind_int(s[1], 3, (int)v);
        sqlite3_bind_int(s[1], 4, (int)quantity);
        step(db, s[1]);
        sqlite3_bind_int(s[2], 1, (int)quantity);
        sqlite3_bind_int(s[2], 2, (int)v);
        step(db, s[2]);
    }
    step(db, s[3]);
    sqlite3_bind_text(s[4], 1, text[0], -1, SQLITE_STATIC);
    step(db, s[4]);
}

static double bench_bare(const char *path, unsigned group, double seconds, uint64_t first)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *s[5] = { NULL };
    static const char *const sql[] = {
        "INSERT INTO orders (number, received_at, channel, tier, customer, email, postcode, country) "
        "VALUES (?1, 1961000000000, 'web', 'retail', ?2, ?3, '12345', 'US')",
        "INSERT INTO line (order_id, line, variety_id, quantity, unit_price, consent) VALUES (?1, ?2, ?3, "
        "?4, 500, 'same')",
        "UPDATE offering SET sold = sold + ?1 WHERE variety_id = ?2",
        "UPDATE nursery SET trade_revision = trade_revision + 1",
        "INSERT INTO audit (at, actor, action, subject, after, hash) VALUES (1961000000000, 'local', "
        "'order', ?1, '5 lines', "
        "'0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef')",
    };
    cw_rng rng;
    uint64_t count = 0;
    cw_rng_init(&rng, 7, 1 + first);
    sqlite3_open(path, &db);
    exec(
        db,
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; PRAGMA cache_size=-65536; "
        "PRAGMA wal_autocheckpoint=2000; PRAGMA temp_store=MEMORY; PRAGMA recursive_triggers=OFF");
    for (int i = 0; i < 5; i++)
        if (sqlite3_prepare_v2(db, sql[i], -1, &s[i], NULL) != SQLITE_OK)
            opening_die(sqlite3_errmsg(db), NULL);
    double begun = opening_now();
    while (opening_now() - begun < seconds) {
        exec(db, "BEGIN IMMEDIATE");
        for (unsigned k = 0; k < group; k++)
            bare_order(db, s, first + count++, &rng);
        exec(db, "COMMIT");
    }
    double rate = (double)count / (opening_now() - begun);
    for (int i = 0; i < 5; i++)
        sqlite3_finalize(s[i]);
    sqlite3_close(db);
    return rate;
}

static void print_rounds(const round_t r[ROUNDS])
{
    uint64_t failed = 0;
    for (int i = 0; i < ROUNDS; i++)
        failed += r[i].orders.failed + r[i].polls.failed;
    printf("orders_rate %.0f 1/s\norders_group %.1f orders\norders_bare_sqlite %.0f 1/s\n",
           median3(r[0].rate, r[1].rate, r[2].rate), median3(r[0].group, r[1].group, r[2].group),
           median3(r[0].bare_rate, r[1].bare_rate, r[2].bare_rate));
    printf("orders_share %.3f of_bare\n",
           median3(r[0].rate / r[0].bare_rate, r[1].rate / r[1].bare_rate, r[2].rate / r[2].bare_rate));
    printf("orders_p50 %.2f ms\norders_p99 %.2f ms\npolls_p99 %.2f ms\norders_failed %llu requests\n",
           median3(r[0].orders.p50_ms, r[1].orders.p50_ms, r[2].orders.p50_ms),
           median3(r[0].orders.p99_ms, r[1].orders.p99_ms, r[2].orders.p99_ms),
           median3(r[0].polls.p99_ms, r[1].polls.p99_ms, r[2].polls.p99_ms), (unsigned long long)failed);
}

static int clean(const char *folder)
{
    char command[128];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command) != 0;
}

int main(void)
{
    char folder[] = "/var/tmp/cw-bench-XXXXXX", ours[64], bare_file[64];
    cw_error err = CW_ERROR_NONE;
    cw_server *server = NULL;
    cw_asker who = { .actor = "bench", .role = CW_ROLE_OWNER, .today = cw_day_from_ymd(2032, 2, 1) };
    opening_orders o = { .acknowledged = calloc(MOST_ORDERS, 1) };
    who.now = (cw_instant)who.today * CW_DAY_MS;
    if (mkdtemp(folder) == NULL || o.acknowledged == NULL)
        opening_die("making a folder", NULL);
    snprintf(ours, sizeof ours, "%s/ours.db", folder);
    snprintf(bare_file, sizeof bare_file, "%s/bare.db", folder);
    cw_rng_init(&o.rng, 7, 0);
    opening_make(ours, &who);
    opening_make(bare_file, &who);
    cw_serve how = { .path = ours, .listen = "127.0.0.1:0", .today = who.today, .per_address = 400 };
    if (cw_server_start(&how, &server, &err) != CW_OK)
        opening_die("starting", &err);
    bench_availability(cw_server_port(server));
    /* In turns, since a disk's mood changes by the second. */
    round_t r[ROUNDS];
    for (int i = 0; i < ROUNDS; i++) {
        bench_orders(server, &o, 4, &r[i]);
        r[i].bare_rate = bench_bare(bare_file, r[i].group < 1 ? 1 : (unsigned)(r[i].group + 0.5), 4,
                                    (uint64_t)i * 10000000);
    }
    cw_server_stop(server);
    print_rounds(r);
    opening_check(ours, &o);
    return clean(folder);
}
