/* SPDX-License-Identifier: MIT */
/* What others do must not keep one out: guesses at one's password from elsewhere, and connections that ask nothing.
 *
 * Depends on the machine: each client has an address of its own out of 127.0.0.0/8, as Linux lets it. */
#include "serving.h"
#include "support/program.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>

#include "base/banned.h"

#define IDLE      2000
#define ADDRESSES 40
#define SOON_MS                                                                                              \
    5000 /* without room kept: 51 s; a first packet that finds a full queue is sent again after 1 and 3 s */

static int open_from(unsigned port, unsigned last)
{
    struct sockaddr_in to = { .sin_family = AF_INET,
                              .sin_port = htons((uint16_t)port),
                              .sin_addr = { htonl(INADDR_LOOPBACK) } };
    struct sockaddr_in from = { .sin_family = AF_INET, .sin_addr = { htonl(0x7F000000u + last) } };
    struct timeval limit = { WIRE_MS / 1000, 0 };
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return -1;
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &limit, sizeof limit);
    if (bind(fd, (struct sockaddr *)&from, sizeof from) != 0 ||
        connect(fd, (struct sockaddr *)&to, sizeof to) != 0) {
        close(fd);
        return -1;
    }
    return fd;
}

/* Status of one request from 127.0.0.`last`. */
static int ask_from(unsigned port, unsigned last, const char *method, const char *target, const char *headers,
                    const char *body)
{
    int fd = open_from(port, last);
    assert_true(fd >= 0);
    wire_reply r = wire_ask_on(fd, method, target, headers, body);
    int status = r.status;
    wire_free(&r);
    close(fd);
    return status;
}

#define SAYS(name, password) "{\"name\":\"" name "\",\"password\":\"" password "\"}"
#define WRONG                SAYS("owner", "wrong wrong wrong")
#define RIGHT                SAYS("owner", OWNER_PASSWORD)

static int sign_in_from(serving *s, unsigned last, const char *body)
{
    return ask_from(s->port, last, "POST", "/api/session", NULL, body);
}

/* Who guesses waits; the owner, in the same moment, elsewhere does not. */
static void test_guesses_lock_nobody_out(void **state)
{
    serving s;
    char owner[512];
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    serving_sign_in(&s, "owner", owner); /* at 127.0.0.1: a place where the owner works, from now on */
    for (int i = 0; i < 6; i++)
        assert_int_equal(sign_in_from(&s, 50, WRONG), i < 5 ? 401 : 429);
    assert_int_equal(sign_in_from(&s, 50, RIGHT), 429);
    assert_int_equal(sign_in_from(&s, 51, RIGHT), 200);
    /* From so many places that the account as such waits: not where the owner works, nor in an open session. */
    for (unsigned place = 60; place < 67; place++)
        for (int i = 0; i < 4; i++)
            sign_in_from(&s, place, WRONG);
    assert_int_equal(sign_in_from(&s, 90, RIGHT), 429);
    assert_int_equal(sign_in_from(&s, 1, RIGHT), 200);
    assert_int_equal(ask_from(s.port, 90, "PATCH", "/api/people/office", owner,
                              "{\"disabled\":true,\"current\":\"" OWNER_PASSWORD "\"}"),
                     204);
    /* Wrong tries within the session are its own affair. */
    for (int i = 0; i < 6; i++)
        assert_int_equal(ask_from(s.port, 91, "PATCH", "/api/people/office", owner,
                                  "{\"disabled\":false,\"current\":\"not that one\"}"),
                         i < 5 ? 403 : 429);
    assert_int_equal(sign_in_from(&s, 1, RIGHT), 200);
    serving_free(&s);
}

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1000 + (double)t.tv_nsec / 1e6;
}

static void allow_descriptors(void)
{
    struct rlimit most;
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &most), 0);
    most.rlim_cur = most.rlim_max < IDLE + 500 ? most.rlim_max : IDLE + 500;
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &most), 0);
    assert_true(most.rlim_cur >= IDLE + 200);
}

/* The words that each of the idle says, and then nothing more. */
static const char *const said[] = {
    "",
    "GET /api/session HTTP/1.1\r\nHost: loc",
    "POST /api/session HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: "
    "60000\r\n\r\n{",
};

static void test_idle_ones_make_room(void **state)
{
    static int fds[IDLE];
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    unsigned port = 0;
    (void)state;
    allow_descriptors();
    test_nursery_make(&t);
    cw_nursery_close(t.n);
    pid_t pid = start_program(t.path, &port);
    for (size_t k = 0; k < sizeof said / sizeof said[0]; k++) {
        double worst = 0;
        for (int i = 0; i < IDLE; i++) {
            fds[i] = open_from(port, 2 + (unsigned)(i % ADDRESSES));
            if (fds[i] >= 0)
                send(fds[i], said[k], strlen(said[k]), MSG_NOSIGNAL | MSG_DONTWAIT);
        }
        for (int i = 0; i < 10; i++) {
            double begun = now_ms();
            int status = ask_from(port, 1, "GET", "/api/revision", NULL, NULL);
            double took = now_ms() - begun;
            worst = took > worst ? took : worst;
            if (status != 200) {
                stop_program(pid);
                fail_msg("beside %d that say '%.20s': %d after %.0f ms", IDLE, said[k], status, took);
            }
        }
        for (int i = 0; i < IDLE; i++)
            if (fds[i] >= 0)
                close(fds[i]);
        print_message("beside %d that say '%.20s': %.0f ms at worst\n", IDLE, said[k], worst);
        if (worst >= SOON_MS)
            stop_program(pid);
        assert_true(worst < SOON_MS);
    }
    assert_int_equal(stop_program(pid), 0);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_guesses_lock_nobody_out),
                                        cmocka_unit_test(test_idle_ones_make_room) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
