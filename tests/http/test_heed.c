/* SPDX-License-Identifier: MIT */
/* Reading work is given up: at a stop, when whoever asked has left, and after its time. */
#include "serving.h"
#include "support/program.h"

#include "clock.h"
#include <time.h>

#define HEAVY     "/api/hindsight" /* past days, each a fit and a projection: minutes over many lots */
#define READERS   3
#define STOP_MOST 5000 /* ms, promised in http/server.h */

static void write_file(const serving *s, const char *name, const cw_text *text)
{
    char path[160];
    snprintf(path, sizeof path, "%s/%s", s->t.folder, name);
    FILE *f = fopen(path, "we");
    assert_non_null(f);
    assert_false(text->failed);
    assert_int_equal(fwrite(text->data, 1, text->length, f), text->length);
    assert_int_equal(fclose(f), 0);
}

/* So many varieties and lots of so many clumps, by the program's own load. */
static void fill(serving *s, int varieties, int lots, int clumps)
{
    char line[400], said[4096];
    cw_text v = CW_TEXT(8 << 20), l = CW_TEXT(8 << 20);
    cw_text_add(&v, "code,name,form,size,price\n");
    for (int i = 0; i < varieties; i++)
        cw_text_addf(&v, "V%05d,Number %d,ball,small,8.00\n", i, i);
    cw_text_add(&l, "lot,variety,dug_on,clumps\n");
    for (int i = 0; i < lots; i++)
        cw_text_addf(&l, "L%06d,V%05d,2031-10-%02d,%d\n", i, i % varieties, 1 + i % 28, clumps - i % 97);
    write_file(s, "varieties.csv", &v);
    write_file(s, "lots.csv", &l);
    cw_text_free(&v);
    cw_text_free(&l);
    cw_nursery_close(s->t.n);
    s->t.n = NULL;
    snprintf(line, sizeof line, "%s load %s %s/varieties.csv %s/lots.csv --today 2032-02-01 2>&1", CW_PROGRAM,
             s->t.path, s->t.folder, s->t.folder);
    if (shell_says(line, said) != 0)
        fail_msg("%s", said);
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(s->t.path, CW_WORK, "test", &s->t.n, &err), &err);
}

static void make_large(serving *s)
{
    serving_make(s, false);
    fill(s, 4000, 20000, 300);
}

static int ask_and_go_on(unsigned port, const char *target)
{
    char line[200];
    int fd = wire_open(port);
    assert_true(fd >= 0);
    snprintf(line, sizeof line, "GET %s HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", target);
    assert_true(wire_send(fd, line, strlen(line)));
    return fd;
}

static void wait_ms(long ms)
{
    nanosleep(&(struct timespec){ ms / 1000, ms % 1000 * 1000000L }, NULL);
}

static void assert_problem(int fd, const char *word)
{
    wire_reply r = wire_read(fd);
    assert_int_equal(r.status, 503);
    assert_non_null(strstr(r.body, word));
    wire_free(&r);
    close(fd);
}

static void test_stop_gives_up_reading(void **state)
{
    serving s;
    unsigned port = 0;
    int fd[READERS + 2];
    (void)state;
    make_large(&s);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    pid_t pid = start_program(s.t.path, &port);
    for (int i = 0; i < READERS + 2; i++) /* two of them wait for a reader */
        fd[i] = ask_and_go_on(port, HEAVY);
    wait_ms(500);
    int64_t begun = cw_clock_ticks();
    assert_int_equal(stop_program(pid), 0);
    int64_t took = cw_clock_ticks() - begun;
    print_message("stopped in %lld ms\n", (long long)took);
    assert_true(took <= STOP_MOST);
    for (int i = 0; i < READERS + 2; i++)
        assert_problem(fd[i], "urn:clumpwise:problem:stopping");
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(s.t.path, CW_WORK, "test", &s.t.n, &err), &err);
    serving_free(&s);
}

static void test_who_leaves_frees_the_reader(void **state)
{
    serving s;
    int fd[READERS];
    (void)state;
    make_large(&s);
    serving_start(&s);
    for (int i = 0; i < READERS; i++)
        fd[i] = ask_and_go_on(s.port, HEAVY);
    wait_ms(500);
    int waits = ask_and_go_on(s.port, "/api/varieties");
    assert_false(wire_is_closed(waits, 1000)); /* no reader is free: there is no answer */
    for (int i = 0; i < READERS; i++)
        close(fd[i]);
    wire_reply r = wire_read(waits);
    assert_int_equal(r.status, 200);
    wire_free(&r);
    close(waits);
    serving_free(&s);
}

/* And what was given up is no answer to whoever asks next. */
static void test_reading_has_its_time(void **state)
{
    serving s;
    (void)state;
    serving_make(&s, false);
    fill(&s, 30, 60, 300);
    s.how.read_ms = 5;
    serving_start(&s);
    assert_problem(ask_and_go_on(s.port, "/api/projection"), "urn:clumpwise:problem:too-long");
    serving_stop(&s);
    s.how.read_ms = 0;
    serving_start(&s);
    int64_t begun = cw_clock_ticks();
    wire_reply whole = wire_ask(s.port, "GET", "/api/projection/V00017", NULL, NULL);
    int64_t alone = cw_clock_ticks() - begun;
    assert_int_equal(whole.status, 200);
    serving_stop(&s);
    /* One that is given up in the middle, then the same reader again. */
    serving_start(&s);
    int fd = ask_and_go_on(s.port, "/api/projection");
    wait_ms((long)(alone / 3));
    close(fd);
    wait_ms(1500);
    wire_reply again = wire_ask(s.port, "GET", "/api/projection/V00017", NULL, NULL);
    assert_int_equal(again.status, 200);
    assert_string_equal(again.body, whole.body);
    wire_free(&again);
    wire_free(&whole);
    serving_free(&s);
}

/* The work does not grow with the number of clumps: it took 26 s of a processor when each whole number was laid out. */
static void test_a_million_clumps(void **state)
{
    serving s;
    (void)state;
    serving_make(&s, false);
    fill(&s, 1, 1, CW_MAX_CLUMPS);
    serving_start(&s);
    clock_t begun = clock();
    wire_reply r = wire_ask(s.port, "GET", "/api/projection", NULL, NULL);
    double took = (double)(clock() - begun) / CLOCKS_PER_SEC;
    assert_int_equal(r.status, 200);
    assert_non_null(strstr(r.body, "1000000"));
    print_message("a million clumps: %.2f s of a processor\n", took);
    assert_true(took < 3.0);
    wire_free(&r);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stop_gives_up_reading),
        cmocka_unit_test(test_who_leaves_frees_the_reader),
        cmocka_unit_test(test_reading_has_its_time),
        cmocka_unit_test(test_a_million_clumps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
