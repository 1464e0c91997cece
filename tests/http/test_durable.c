/* SPDX-License-Identifier: MIT */
/* An order that was answered 201 is on the disk: the program is killed (SIGKILL) at random moments under load, again and
 * again on the same file, and after each time the file must hold every acknowledged order, keep its checks, and be
 * free to be opened. CW_KILLS=500 makes the long run of it. */
#include "offered.h"
#include "support/rounds.h"
#include "support/program.h"

#include "base/rng.h"
#include <pthread.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

#define CLIENTS 8
#define MOST    200000
#define PLENTY  1000000 /* of each variety on offer */

typedef struct client {
    unsigned port, number;
    int next;                  /* order to send next; goes on counting over the kills */
    int taken[MOST / CLIENTS]; /* numbers that were acknowledged */
    int count;
} client;

static void order_body(char out[300], unsigned client_number, int number)
{
    snprintf(out, 300,
             "{\"order\":\"D%u-%d\",\"lines\":[{\"line\":1,\"variety\":\"BALL\",\"quantity\":1,\"unit_"
             "price\":\"5.00\"},"
             "{\"line\":2,\"variety\":\"STAR\",\"quantity\":1,\"unit_price\":\"6.00\"}]}",
             client_number, number);
}

static void *order_until_it_dies(void *self)
{
    client *c = self;
    int fd = wire_open(c->port);
    while (fd >= 0 && c->next < MOST / CLIENTS) {
        char body[300];
        order_body(body, c->number, c->next);
        wire_reply r = wire_ask_on(fd, "POST", "/api/orders", NULL, body);
        int status = r.status;
        wire_free(&r);
        if (status == 201)
            c->taken[c->count++] = c->next;
        c->next++;
        if (status == 0)
            break;
    }
    if (fd >= 0)
        close(fd);
    return NULL;
}

static void pause_ms(long ms)
{
    nanosleep(&(struct timespec){ ms / 1000, (ms % 1000) * 1000000L }, NULL);
}

static void check_record(serving *s, client *clients, int round)
{
    cw_error err = CW_ERROR_NONE;
    int acknowledged = 0, missing = 0;
    sqlite3 *db = NULL;
    sqlite3_stmt *q = NULL;
    cw_check_ok(cw_nursery_open(s->t.path, CW_WORK, "test", &s->t.n, &err), &err);
    test_nursery_check(&s->t);
    assert_int_equal(sqlite3_open_v2(s->t.path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(
                         db,
                         "SELECT COUNT(*) FROM line l JOIN orders o ON o.id = l.order_id WHERE o.number = ?1",
                         -1, &q, NULL),
                     SQLITE_OK);
    for (int i = 0; i < CLIENTS; i++) {
        for (int k = 0; k < clients[i].count; k++, acknowledged++) {
            char number[32];
            snprintf(number, sizeof number, "D%d-%d", i, clients[i].taken[k]);
            sqlite3_bind_text(q, 1, number, -1, SQLITE_STATIC);
            assert_int_equal(sqlite3_step(q), SQLITE_ROW);
            missing += sqlite3_column_int(q, 0) != 2;
            sqlite3_reset(q);
        }
    }
    sqlite3_finalize(q);
    sqlite3_close(db);
    cw_nursery_close(s->t.n);
    s->t.n = NULL;
    if (missing)
        fail_msg("after kill %d: %d of %d acknowledged orders are not whole on record", round, missing,
                 acknowledged);
}

static void test_kill(void **state)
{
    const char *many = getenv("CW_KILLS");
    int kills = many ? (int)strtol(many, NULL, 10) : 6;
    uint64_t seed = test_seed();
    client *clients = calloc(CLIENTS, sizeof *clients);
    serving s;
    cw_rng rng;
    (void)state;
    print_message("%d kills\n", kills);
    cw_rng_init(&rng, seed, 0);
    serving_make_offered(&s, PLENTY, PLENTY);
    int acknowledged = 0;
    for (int round = 0; round < kills; round++) {
        pthread_t threads[CLIENTS];
        unsigned port = 0;
        pid_t pid = start_program(s.t.path, &port);
        for (unsigned i = 0; i < CLIENTS; i++) {
            clients[i].port = port;
            clients[i].number = i;
            assert_int_equal(pthread_create(&threads[i], NULL, order_until_it_dies, &clients[i]), 0);
        }
        pause_ms(20 + (long)cw_rng_below(&rng, 300));
        assert_int_equal(kill(pid, SIGKILL), 0);
        waitpid(pid, NULL, 0);
        for (int i = 0; i < CLIENTS; i++)
            pthread_join(threads[i], NULL);
        check_record(&s, clients, round + 1);
    }
    for (int i = 0; i < CLIENTS; i++)
        acknowledged += clients[i].count;
    print_message("%d orders acknowledged over %d kills, none lost\n", acknowledged, kills);
    assert_true(acknowledged > kills);
    free(clients);
    serving_free(&s);
}

/* The file may not grow beyond a limit, as on a full disk (RLIMIT_FSIZE): orders are refused with 503, reads go on, what was
 * acknowledged stays, and with room again work goes on. */
static void test_no_room(void **state)
{
    struct rlimit before, small;
    unsigned port = 0;
    client *c = calloc(1, sizeof *c);
    int status = 201, refused = 0;
    serving s;
    (void)state;
    serving_make_offered(&s, PLENTY, PLENTY);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small = before;
    small.rlim_cur = 1400 * 1024;
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    pid_t pid = start_program(s.t.path, &port);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    for (c->next = 0; c->next < 20000 && refused < 5; c->next++) {
        char body[300];
        order_body(body, 0, c->next);
        wire_reply r = wire_ask(port, "POST", "/api/orders", NULL, body);
        status = r.status;
        wire_free(&r);
        if (status == 201)
            c->taken[c->count++] = c->next;
        else
            refused += status == 503;
        assert_true(status == 201 || status == 503);
    }
    assert_int_equal(refused, 5);
    wire_reply r = wire_ask(port, "GET", "/api/availability", NULL, NULL);
    assert_int_equal(r.status, 200);
    wire_free(&r);
    kill(pid, SIGTERM);
    waitpid(pid, &status, 0);
    client *clients = calloc(CLIENTS, sizeof *clients);
    clients[0] = *c;
    print_message("%d orders taken before there was no room\n", c->count);
    check_record(&s, clients, 0);
    pid = start_program(s.t.path, &port);
    char body[300];
    order_body(body, 0, 99999);
    r = wire_ask(port, "POST", "/api/orders", NULL, body);
    assert_int_equal(r.status, 201);
    wire_free(&r);
    kill(pid, SIGTERM);
    waitpid(pid, &status, 0);
    free(clients);
    free(c);
    serving_free(&s);
}

/* While it serves, a verb that writes is refused with a sentence that names the server; a verb that reads works. After
 * SIGTERM the program ends with 0 and the lock is free. */
static void test_beside_the_command_line(void **state)
{
    char command[512], line[512] = "";
    serving s;
    unsigned port = 0;
    int status = 0;
    (void)state;
    serving_make(&s, false);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    pid_t pid = start_program(s.t.path, &port);
    snprintf(command, sizeof command, "echo %s | %s user %s add Marta --role owner 2>&1", "'a long password'",
             CW_PROGRAM, s.t.path);
    FILE *f = popen(command, "r");
    assert_non_null(fgets(line, sizeof line, f));
    assert_int_equal(WEXITSTATUS(pclose(f)), 3);
    assert_non_null(strstr(line, "clumpwise serve at http://127.0.0.1:"));
    snprintf(command, sizeof command, "%s user %s list --csv 2>&1", CW_PROGRAM, s.t.path);
    f = popen(command, "r");
    assert_non_null(fgets(line, sizeof line, f));
    assert_int_equal(pclose(f), 0);
    assert_string_equal(line, "name,role,disabled,made_at,second_factor\n");
    kill(pid, SIGTERM);
    waitpid(pid, &status, 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kill),
        cmocka_unit_test(test_no_room),
        cmocka_unit_test(test_beside_the_command_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
