/* SPDX-License-Identifier: MIT */
/* The disk fails under the running server: while four clients send orders, the n-th write or sync breaks (torn in the
 * middle), once or for good, or the disk is full from there on. Then the server is stopped and the file opened on a sound
 * disk: every order that was answered 201 is whole on record, nothing is sold beyond its offer, every check holds, and
 * orders are taken again. Invented data.
 *
 * CW_SEED repeats a run; CW_DISK_RUNS=n makes n failing writes and n/4 full disks (24 and 6 unless told). */
#include "offered.h"
#include "support/rounds.h"
#include "support/disk.h"
#include "support/original.h"

#include "base/rng.h"
#include "desk/nursery/keeping.h"
#include <pthread.h>

#define CLIENTS 4
#define ORDERS  12 /* of each client */
#define OFFERED 40 /* of BALL, fewer than are asked */

typedef struct client {
    unsigned port, number;
    bool taken[ORDERS];
    int kept, refused, sold_out, other;
} client;

static test_original original;

static int send_order(unsigned port, unsigned client_number, int number)
{
    char body[300];
    snprintf(
        body, sizeof body,
        "{\"order\":\"D%u-%d\",\"lines\":[{\"variety\":\"BALL\",\"quantity\":%d,\"unit_price\":\"5.00\"},"
        "{\"variety\":\"STAR\",\"quantity\":1,\"unit_price\":\"6.00\"}]}",
        client_number, number, 1 + number % 3);
    wire_reply r = wire_ask(port, "POST", "/api/orders", NULL, body);
    int status = r.status;
    wire_free(&r);
    return status;
}

static void *send_orders(void *self)
{
    client *c = self;
    for (int i = 0; i < ORDERS; i++) {
        int status = send_order(c->port, c->number, i);
        c->taken[i] = status == 201;
        c->kept += status == 201;
        c->refused += status == 503;
        c->sold_out += status == 409;
        c->other += status != 201 && status != 503 && status != 409;
    }
    return NULL;
}

/* Serves on the disk as it is armed; not even starting has to succeed. What was kept, refused by the machine, and odd. */
static void serve_a_while(serving *s, client clients[CLIENTS], client *sum)
{
    cw_error err = CW_ERROR_NONE;
    pthread_t threads[CLIENTS];
    test_original_put(&original, s->t.path);
    memset(clients, 0, CLIENTS * sizeof *clients);
    *sum = (client){ 0 };
    disk_install();
    cw_code code = cw_server_start(&s->how, &s->server, &err);
    if (code == CW_OK) {
        for (unsigned i = 0; i < CLIENTS; i++) {
            clients[i].port = cw_server_port(s->server);
            clients[i].number = i;
            assert_int_equal(pthread_create(&threads[i], NULL, send_orders, &clients[i]), 0);
        }
        for (unsigned i = 0; i < CLIENTS; i++)
            pthread_join(threads[i], NULL);
        cw_server_stop(s->server);
    } else {
        assert_int_equal(code, CW_MACHINE);
        assert_string_not_equal(err.text, "");
        sum->refused++;
    }
    s->server = NULL;
    disk_remove();
    for (int i = 0; i < CLIENTS; i++) {
        sum->kept += clients[i].kept;
        sum->refused += clients[i].refused;
        sum->sold_out += clients[i].sold_out;
        sum->other += clients[i].other;
    }
}

static int64_t number_in(const serving *s, const char *sql)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    assert_int_equal(sqlite3_open_v2(s->t.path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, sql, -1, &q, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(q), SQLITE_ROW);
    int64_t v = sqlite3_column_int64(q, 0);
    sqlite3_finalize(q);
    sqlite3_close(raw);
    return v;
}

/* On a sound disk again. */
static void all_is_there(serving *s, const client clients[CLIENTS], const char *what, long at)
{
    cw_error err = CW_ERROR_NONE;
    cw_table found = { 0 };
    char last[65], sql[200];
    int lost = 0;
    cw_check_ok(cw_nursery_open(s->t.path, CW_WORK, "test", &s->t.n, &err), &err);
    for (int c = 0; c < CLIENTS; c++)
        for (int i = 0; i < ORDERS; i++) {
            snprintf(
                sql, sizeof sql,
                "SELECT COUNT(*) FROM line l JOIN orders o ON o.id = l.order_id WHERE o.number = 'D%d-%d'", c,
                i);
            lost += clients[c].taken[i] && number_in(s, sql) != 2;
        }
    snprintf(sql, sizeof sql,
             "SELECT SUM(l.quantity) - %d FROM line l JOIN variety v ON v.id = l.variety_id "
             "WHERE v.code = 'BALL'",
             OFFERED);
    int64_t over = number_in(s, sql);
    cw_check_ok(cw_keeping_check(s->t.n, &found, last, &err), &err);
    if (lost || over > 0 || cw_table_rows(&found))
        fail_msg("%s at %ld: %d acknowledged lost, %lld oversold, %zu findings", what, at, lost,
                 (long long)(over > 0 ? over : 0), cw_table_rows(&found));
    cw_table_free(&found);
    cw_nursery_close(s->t.n);
    s->t.n = NULL;
}

static void works_again(serving *s)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_server_start(&s->how, &s->server, &err), &err);
    int status = send_order(cw_server_port(s->server), 9, 0);
    assert_true(status == 201 || status == 409); /* BALL may be sold out */
    cw_server_stop(s->server);
    s->server = NULL;
}

static void the_disk_fails_under_the_server(void **state)
{
    const char *many = getenv("CW_DISK_RUNS");
    uint64_t seed = test_seed();
    int breaks = many ? (int)strtol(many, NULL, 10) : 24, full = breaks / 4;
    long kept = 0, refused = 0, sold_out = 0, hit = 0;
    client clients[CLIENTS], sum;
    serving s;
    cw_rng rng;
    (void)state;
    cw_rng_init(&rng, seed, 0);
    serving_make_offered(&s, OFFERED, 100000);
    original = test_original_read(s.t.path);
    disk_arm(-1, 0, false);
    test_original_put(&original, s.t.path);
    serve_a_while(&s, clients, &sum);
    long all = the_disk.seen; /* about: the writer's groups differ from run to run */
    assert_int_equal(sum.refused + sum.other, 0);
    assert_true(all > 50);
    assert_true(sum.kept > 0 && sum.sold_out > 0);
    all_is_there(&s, clients, "a sound disk", 0);
    for (int i = 0; i < breaks + full; i++) {
        long at = (long)cw_rng_below(&rng, (uint32_t)all);
        bool is_full = i >= breaks, stays = is_full || i % 2;
        disk_arm(at, is_full ? SQLITE_FULL : SQLITE_IOERR, stays);
        serve_a_while(&s, clients, &sum);
        hit += the_disk.failed > 0;
        disk_arm(-1, 0, false);
        kept += sum.kept;
        refused += sum.refused;
        sold_out += sum.sold_out;
        const char *what = is_full ? "disk full" : stays ? "broken for good" : "one failure";
        if (sum.other)
            fail_msg("%s at %ld: %d answers are neither 201, 409 nor 503", what, at, sum.other);
        all_is_there(&s, clients, what, at);
        works_again(&s);
    }
    print_message("%d failing writes or syncs, %d full disks under the server (%ld hit): %ld acknowledged, "
                  "none lost; %ld refused, %ld sold out\n",
                  breaks, full, hit, kept, refused, sold_out);
    assert_true(hit > breaks / 3 && kept > 0);
    free(original.bytes);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(the_disk_fails_under_the_server) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
