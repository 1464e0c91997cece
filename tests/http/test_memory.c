/* SPDX-License-Identifier: MIT */
/* Whatever is sent, the running program takes at most 8 times the bodies' bytes (and 8 MB for each that is at work), 512 MB in
 * all, gives memory back when it is over, and a reader beside it is answered within 100 ms, 99 times of 100.
 *
 * It depends on the machine: what pieces of memory cost is the allocator's (glibc on 64 bits); how soon a reader is answered
 * depends on what else the machine does, so it is first looked how soon it is in peace. */
#include "serving.h"
#include "support/program.h"

#include <pthread.h>
#include <time.h>

#include "base/banned.h"

#define MB      (1024L * 1024)
#define SENDERS 8
#define AT_WORK 4 /* three readers and the writer */
#define EACH_MB 8
#define READS   2000
#define SOON_MS 100.0
#define BACK_MB 64 /* may stay when all is over; statements that were prepared meanwhile, too */
#define ALL_MB  512

/* A line of /proc/PID/status, in bytes. */
static long status_of(pid_t pid, const char *name)
{
    char path[64], line[256];
    long kb = -1;
    snprintf(path, sizeof path, "/proc/%d/status", (int)pid);
    FILE *f = fopen(path, "re");
    assert_non_null(f);
    while (fgets(line, sizeof line, f))
        if (strncmp(line, name, strlen(name)) == 0 && line[strlen(name)] == ':')
            kb = strtol(line + strlen(name) + 1, NULL, 10);
    fclose(f);
    assert_true(kb >= 0);
    return kb * 1024;
}

/* From here on the highest is looked for anew. */
static void forget_peak(pid_t pid)
{
    char path[64];
    snprintf(path, sizeof path, "/proc/%d/clear_refs", (int)pid);
    FILE *f = fopen(path, "we");
    assert_non_null(f);
    assert_true(fputs("5", f) >= 0);
    assert_int_equal(fclose(f), 0);
}

/* "[" and so many of `piece` as fit, and "]"; or what is said before and after it. */
static char *filled(const char *before, const char *piece, const char *after, size_t bytes)
{
    char *body = malloc(bytes + 1);
    size_t n = strlen(piece), at = strlen(before);
    assert_non_null(body);
    memcpy(body, before, at);
    while (at + n + strlen(after) < bytes) {
        memcpy(body + at, piece, n);
        at += n;
    }
    at -= piece[n - 1] == ','; /* no comma after the last */
    memcpy(body + at, after, strlen(after) + 1);
    return body;
}

typedef struct sender {
    pthread_t thread;
    unsigned port;
    const char *method, *target, *body;
    int status;
} sender;

static void *send_one(void *self)
{
    sender *s = self;
    wire_reply r = wire_ask(s->port, s->method, s->target, NULL, s->body);
    s->status = r.status;
    wire_free(&r);
    return NULL;
}

typedef struct row {
    const char *name, *method, *target, *before, *piece, *after;
    size_t bytes;
    int senders;
} row;

#define FOUR (4 * 1024 * 1024 - 16)
static const row rows[] = {
    { "objects for orders", "POST", "/api/orders", "[", "{},", "]", FOUR, 1 },
    { "eight times at once", "POST", "/api/orders", "[", "{},", "]", FOUR, SENDERS },
    { "lists for orders", "POST", "/api/orders", "[", "[],", "]", FOUR, SENDERS },
    { "an order of lines", "POST", "/api/orders", "{\"order\":\"M1\",\"lines\":[", "{},", "]}", FOUR,
      SENDERS },
    { "orders of lines", "POST", "/api/orders", "[{\"order\":\"M1\",\"lines\":[", "{},", "]},{}]", FOUR,
      SENDERS },
    { "numbers", "POST", "/api/releases", "{\"items\":[", "1,", "]}", FOUR, SENDERS },
    { "nested", "POST", "/api/picks", "{\"confirmations\":[", "[[[[{}]]]],", "]}", FOUR, SENDERS },
    { "half of it", "POST", "/api/releases", "{\"items\":[", "{\"a\":[]},", "]}", FOUR / 2, SENDERS },
    { "names", "POST", "/api/releases", "{\"items\":[", "{\"a\":1},", "]}", FOUR / 8, SENDERS },
    { "small ones", "PATCH", "/api/settings", "{\"a\":[", "{},", "]}", 65000, SENDERS },
    { "a load of nothing", "POST", "/api/load", "{\"files\":[", "{},", "]}", 47000000, 1 },
    { "three loads of it", "POST", "/api/load", "[", "[],", "]", 47000000, 3 },
    { "a load of a long text", "POST", "/api/load", "{\"files\":[{\"name\":\"zones.csv\",\"text\":\"",
      "zone,name\\n", "\"}]}", 47000000, 2 },
    { "a text that ends nowhere", "POST", "/api/load", "{\"files\":[{\"name\":\"zones.csv\",\"text\":\"",
      "\\u0041", "", 47000000, 2 },
};

static void send_all(unsigned port, const row *r, sender senders[SENDERS])
{
    char *body = filled(r->before, r->piece, r->after, r->bytes);
    for (int i = 0; i < r->senders; i++) {
        senders[i] = (sender){ 0, port, r->method, r->target, body, 0 };
        assert_int_equal(pthread_create(&senders[i].thread, NULL, send_one, &senders[i]), 0);
    }
    for (int i = 0; i < r->senders; i++)
        pthread_join(senders[i].thread, NULL);
    free(body);
}

static void make_file(test_nursery *t)
{
    test_nursery_make(t);
    cw_nursery_close(t->n);
}

static void free_file(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(t->path, CW_WORK, "test", &t->n, &err), &err);
    test_nursery_check(t);
    test_nursery_free(t);
}

/* The keeper gives back within a second or two. */
static long settled(pid_t pid, long want)
{
    long now = status_of(pid, "VmRSS");
    for (int i = 0; now > want && i < 60; i++) {
        usleep(100000);
        now = status_of(pid, "VmRSS");
    }
    return now;
}

static void test_bodies_cost_little(void **state)
{
    test_nursery t;
    unsigned port = 0;
    sender senders[SENDERS];
    (void)state;
    make_file(&t);
    pid_t pid = start_program(t.path, &port);
    wire_reply first = wire_ask(port, "GET", "/api/nursery", NULL, NULL);
    assert_int_equal(first.status, 200);
    wire_free(&first);
    long base = status_of(pid, "VmRSS");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const row *r = &rows[i];
        forget_peak(pid);
        long before = status_of(pid, "VmRSS");
        send_all(port, r, senders);
        long peak = status_of(pid, "VmHWM"), grown = peak - before;
        int at_work = r->senders < AT_WORK ? r->senders : AT_WORK;
        long may = 8 * r->senders * (long)r->bytes + at_work * EACH_MB * MB;
        long stays = settled(pid, base + BACK_MB * MB);
        print_message("%-24s %3ld MB sent, grown by %3ld MB, peak %3ld MB, after it %3ld MB, told %d\n",
                      r->name, r->senders * (long)r->bytes / MB, grown / MB, peak / MB, stays / MB,
                      senders[0].status);
        bool told = true;
        for (int k = 0; k < r->senders; k++)
            told = told && senders[k].status >= 400;
        if (!told || grown > may || peak > ALL_MB * MB || stays > base + BACK_MB * MB) {
            stop_program(pid);
            fail_msg("%s: grown by %ld bytes, may %ld; peak %ld; stays %ld over %ld; told %d", r->name, grown,
                     may, peak, stays, base, senders[0].status);
        }
    }
    assert_int_equal(stop_program(pid), 0);
    free_file(&t);
}

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1000 + (double)t.tv_nsec / 1e6;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The time within which 99 of 100 reads on one connection are answered. */
static double read_p99(unsigned port, const bool *go_on, int most)
{
    static double took[READS];
    int n = 0, fd = wire_open(port);
    assert_true(fd >= 0);
    for (; n < most && (go_on == NULL || __atomic_load_n(go_on, __ATOMIC_RELAXED)); n++) {
        double begun = now_ms();
        wire_reply r = wire_ask_on(fd, "GET", "/api/nursery", NULL, NULL);
        took[n] = now_ms() - begun;
        assert_int_equal(r.status, 200);
        wire_free(&r);
        usleep(2000);
    }
    close(fd);
    assert_true(n >= 100);
    qsort(took, (size_t)n, sizeof took[0], by_size);
    return took[n * 99 / 100];
}

typedef struct attack {
    unsigned port;
    bool on;
} attack;

static void *send_for_a_while(void *self)
{
    attack *a = self;
    sender senders[SENDERS];
    double end = now_ms() + 6000;
    for (size_t i = 1; now_ms() < end; i = i % (sizeof rows / sizeof rows[0] - 1) + 1)
        send_all(a->port, &rows[i], senders);
    __atomic_store_n(&a->on, false, __ATOMIC_RELAXED);
    return NULL;
}

static void test_a_reader_is_answered(void **state)
{
    test_nursery t;
    pthread_t thread;
    (void)state;
    make_file(&t);
    attack a = { 0, true };
    pid_t pid = start_program(t.path, &a.port);
    double peace = read_p99(a.port, NULL, 300);
    assert_int_equal(pthread_create(&thread, NULL, send_for_a_while, &a), 0);
    double p99 = read_p99(a.port, &a.on, READS);
    pthread_join(thread, NULL);
    double may = peace * 10 > SOON_MS ? peace * 10 : SOON_MS;
    print_message("99 of 100 reads: %.1f ms in peace, %.1f ms meanwhile, may be %.0f\n", peace, p99, may);
    assert_int_equal(stop_program(pid), 0);
    free_file(&t);
    assert_true(p99 <= may);
}

/* What is taken for good costs as little: a thousand orders of all that fits into the body. */
static void test_long_lists_are_taken(void **state)
{
    static char body[FOUR + 1];
    test_nursery t;
    unsigned port = 0;
    size_t n = 0;
    (void)state;
    make_file(&t);
    pid_t pid = start_program(t.path, &port);
    wire_reply r =
        wire_ask(port, "POST", "/api/load", NULL,
                 "{\"files\":[{\"name\":\"varieties.csv\",\"text\":\"code,name\\nAMB,Amber\\n\"}]}");
    assert_int_equal(r.status, 201);
    wire_free(&r);
    body[n++] = '[';
    for (int i = 0; i < CW_MAX_ORDERS_PER_POST; i++) {
        n += (size_t)snprintf(body + n, FOUR - n, "%s{\"order\":\"L%d\",\"customer\":\"Ada\",\"lines\":[",
                              i ? ",\n" : "", i);
        for (int k = 0; k < 80; k++)
            n += (size_t)snprintf(body + n, FOUR - n,
                                  "%s{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}",
                                  k ? "," : "");
        n += (size_t)snprintf(body + n, FOUR - n, "]}");
    }
    body[n++] = ']';
    body[n] = '\0';
    assert_true(n > FOUR * 3 / 4);
    r = wire_ask(port, "GET", "/api/nursery", NULL, NULL);
    wire_free(&r);
    forget_peak(pid);
    long before = status_of(pid, "VmRSS");
    r = wire_ask(port, "POST", "/api/orders", NULL, body);
    long grown = status_of(pid, "VmHWM") - before;
    print_message("%zu bytes of orders: told %d, grown by %ld MB\n", n, r.status, grown / MB);
    bool refused_one_by_one =
        r.status == 409 && strstr(r.body, "\"order\":\"L999\"") != NULL; /* nothing is on offer */
    wire_free(&r);
    body[n - 2] = ' '; /* the last order has no end: nothing of the list is carried out */
    r = wire_ask(port, "POST", "/api/orders", NULL, body);
    int status = r.status;
    bool says_line = strstr(r.body, "body:1000: is not JSON") != NULL;
    wire_free(&r);
    assert_int_equal(stop_program(pid), 0);
    free_file(&t);
    assert_true(refused_one_by_one);
    assert_true(grown <= 8 * (long)n + EACH_MB * MB);
    assert_int_equal(status, 400);
    assert_true(says_line);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_bodies_cost_little),
                                        cmocka_unit_test(test_a_reader_is_answered),
                                        cmocka_unit_test(test_long_lists_are_taken) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
