/* SPDX-License-Identifier: MIT */
/* After a request, the password that it carried is nowhere in the memory of the running program. OWASP ASVS 4.0.3: 8.3.6. */
#include "serving.h"
#include "support/program.h"

#include <fcntl.h>

#include "base/banned.h"

#define SECRET "zqx seven green " TAIL
#define TAIL   "tubers in May" /* what is freed loses its first bytes to the allocator's own notes */

/* How often the program's writable memory holds these words. */
static int found_in(pid_t pid, const char *words)
{
    char path[64], line[512];
    static char piece[1 << 20];
    int found = 0;
    snprintf(path, sizeof path, "/proc/%d/maps", (int)pid);
    FILE *maps = fopen(path, "re");
    assert_non_null(maps);
    snprintf(path, sizeof path, "/proc/%d/mem", (int)pid);
    int mem = open(path, O_RDONLY | O_CLOEXEC);
    assert_true(mem >= 0);
    while (fgets(line, sizeof line, maps)) {
        char *rest = NULL;
        unsigned long long from = strtoull(line, &rest, 16), to = strtoull(rest + 1, &rest, 16);
        if (strncmp(rest, " rw", 3) != 0)
            continue;
        for (unsigned long long at = from; at < to; at += sizeof piece - strlen(words)) {
            size_t want = to - at < sizeof piece ? (size_t)(to - at) : sizeof piece;
            ssize_t got = pread(mem, piece, want, (off_t)at);
            for (char *p = piece;
                 got > 0 && (p = memmem(p, (size_t)(piece + got - p), words, strlen(words))) != NULL; p++)
                found++;
        }
    }
    close(mem);
    fclose(maps);
    return found;
}

/* In one piece, and letter by letter, where a growing text would leave its beginnings behind. */
static int ask(unsigned port, const char *head, const char *body, bool slowly, int *open)
{
    char request[1024];
    size_t n =
        (size_t)snprintf(request, sizeof request, "%sContent-Type: application/json\r\n%s%zu\r\n\r\n%s", head,
                         "Content-Length: ", strlen(body), body);
    size_t first = n - strlen(body);
    int fd = wire_open(port);
    wire_send(fd, request, slowly ? first : n);
    for (size_t i = first; slowly && i < n; i++) {
        wire_send(fd, request + i, 1);
        usleep(2000);
    }
    wire_reply r = wire_read(fd);
    int status = r.status;
    wire_free(&r);
    *open = fd;
    return status;
}

static void test_nothing_stays(void **state)
{
    static const char sign_in[] = "POST /api/session HTTP/1.1\r\nHost: localhost\r\n";
    static const struct {
        const char *name, *body;
        int status;
    } rows[] = {
        { "signed in", "{\"name\":\"Marta\",\"password\":\"" SECRET "\"}", 200 },
        { "refused", "{\"name\":\"Nobody\",\"password\":\"" SECRET "\"}", 401 },
        { "a member too many", "{\"name\":\"Marta\",\"password\":\"" SECRET "\",\"x\":1}", 422 },
        { "not JSON", "{\"name\":\"Marta\",\"password\":\"" SECRET "\",", 400 },
        { "JSON that ends within it", "{\"name\":\"Marta\",\"password\":\"" SECRET, 400 },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    unsigned port = 0;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, SECRET, &err), &err);
    cw_nursery_close(t.n);
    pid_t pid = start_program(t.path, &port);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (int slowly = 0; slowly < 2; slowly++) {
            int fd = -1, status = ask(port, sign_in, rows[i].body, slowly, &fd);
            int found = found_in(pid, TAIL); /* the connection is still open */
            if (found > 0)
                usleep(200000); /* the request is freed after its reply has left */
            if (found > 0)
                found = found_in(pid, TAIL);
            close(fd);
            if (status != rows[i].status || found > 0)
                stop_program(pid);
            if (status != rows[i].status || found > 0)
                fail_msg("%s%s: %d, found %d times", rows[i].name, slowly ? ", letter by letter" : "", status,
                         found);
        }
    assert_int_equal(stop_program(pid), 0);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    test_nursery_free(&t);
}

/* The end of a text of a reply, from which on it is looked for. */
static void end_of(const char *text, size_t from, char out[64])
{
    assert_non_null(text);
    assert_true(strlen(text) > from);
    snprintf(out, 64, "%s", text + from);
}

static void must_be_gone(pid_t pid, const char *what, const char *words)
{
    int found = found_in(pid, words);
    if (found > 0)
        usleep(200000);
    if (found > 0)
        found = found_in(pid, words);
    if (found > 0)
        stop_program(pid);
    if (found > 0)
        fail_msg("%s: found %d times", what, found);
}

/* Nor what a reply tells once: a key, and the secret of a second factor as the telephone gets it. */
static void test_nothing_stays_of_a_reply(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    unsigned port = 0;
    char headers[512], cookie[512], words[64];
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, SECRET, &err), &err);
    cw_nursery_close(t.n);
    pid_t pid = start_program(t.path, &port);
    wire_reply r =
        wire_ask(port, "POST", "/api/session", NULL, "{\"name\":\"Marta\",\"password\":\"" SECRET "\"}");
    json_t *o = json_loads(r.body, 0, NULL);
    assert_non_null(wire_header(&r, "Set-Cookie", cookie));
    snprintf(headers, sizeof headers, "Cookie: %.*s\r\nX-CSRF-Token: %s\r\nAccept-Encoding: gzip\r\n",
             (int)strcspn(cookie, ";"), cookie, json_string_value(json_object_get(o, "csrf")));
    json_decref(o);
    wire_free(&r);
    r = wire_ask(port, "POST", "/api/factor", headers, NULL);
    o = json_loads(r.body, 0, NULL);
    end_of(json_string_value(json_object_get(o, "secret")), 16, words);
    must_be_gone(pid, "the secret of a second factor", words);
    json_decref(o);
    wire_free(&r);
    r = wire_ask(port, "POST", "/api/keys", headers,
                 "{\"name\":\"till\",\"role\":\"shop\",\"current\":\"" SECRET "\"}");
    o = json_loads(r.body, 0, NULL);
    end_of(json_string_value(json_object_get(o, "key")), 16, words);
    must_be_gone(pid, "a key", words);
    json_decref(o);
    wire_free(&r);
    assert_int_equal(stop_program(pid), 0);
    cw_check_ok(cw_nursery_open(t.path, CW_WORK, "test", &t.n, &err), &err);
    test_nursery_free(&t);
}

/* The look finds what is there: a name is not wiped from where it is known. */
static void test_the_look_finds(void **state)
{
    char *kept = strdup(SECRET);
    (void)state;
    assert_non_null(kept);
    assert_true(found_in(getpid(), TAIL) >= 1);
    free(kept);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_nothing_stays),
                                        cmocka_unit_test(test_nothing_stays_of_a_reply),
                                        cmocka_unit_test(test_the_look_finds) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
