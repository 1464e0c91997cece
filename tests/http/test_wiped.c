/* SPDX-License-Identifier: MIT */
/* After a request, the password that it carried is nowhere in the memory of the running program, nor any 16 bytes of it in one
 * piece. OWASP ASVS 4.0.3: 8.3.6.
 *
 * It depends on the machine: the C library has a memcpy and strlen of its own for each kind of processor, which hold a text in
 * vector registers, and what saves registers (the dynamic linker, when a function is bound at its first call) leaves them on a
 * thread's stack, where nobody wipes. So the same is asked of the program in several ways that the C library has on this
 * machine (GLIBC_TUNABLES; a word that a processor or another library does not know changes nothing), and what is looked for
 * are pieces as small as a register. */
#include "serving.h"
#include "support/program.h"

#include <fcntl.h>

#include "base/banned.h"

#define SECRET "zqx seven green " TAIL
#define TAIL   "tubers in May" /* what is freed loses its first bytes to the allocator's own notes */
#define WINDOW 12              /* of 16 bytes in a row, 12 begin at a multiple of four */

/* How often these bytes hold a window of the words. */
static int count_in(const char *bytes, size_t n, const char *words)
{
    size_t length = strlen(words);
    int found = 0;
    for (size_t from = 0; from + WINDOW <= length; from += 4)
        for (const char *p = bytes; (p = memmem(p, (size_t)(bytes + n - p), words + from, WINDOW)) != NULL;
             p++)
            found++;
    return found;
}

/* How often the program's writable memory holds a piece of these words. */
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
            found += got > 0 ? count_in(piece, (size_t)got, words) : 0;
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

static const struct row {
    const char *name, *body;
    int status;
} rows[] = {
    { "signed in", "{\"name\":\"Marta\",\"password\":\"" SECRET "\"}", 200 },
    { "refused", "{\"name\":\"Nobody\",\"password\":\"" SECRET "\"}", 401 },
    { "a member too many", "{\"name\":\"Marta\",\"password\":\"" SECRET "\",\"x\":1}", 422 },
    { "not JSON", "{\"name\":\"Marta\",\"password\":\"" SECRET "\",", 400 },
    { "JSON that ends within it", "{\"name\":\"Marta\",\"password\":\"" SECRET, 400 },
};

/* What the C library is told to do without. "": as it is here. */
static const char *const ways[] = {
    "",        "-AVX512F,-AVX512VL,-AVX512BW,-EVEX", "-AVX512F,-AVX512VL,-AVX512BW,-AVX2,-AVX", "-ERMS,-FSRM",
    "-XSAVEC", "-XSAVEC,-XSAVE,-AVX512F,-AVX2,-AVX",
};

static void nothing_stays(pid_t pid, unsigned port, const char *way, const struct row *row, bool slowly)
{
    static const char sign_in[] = "POST /api/session HTTP/1.1\r\nHost: localhost\r\n";
    int fd = -1, status = ask(port, sign_in, row->body, slowly, &fd);
    int found = found_in(pid, SECRET);           /* the connection is still open */
    for (int i = 0; found > 0 && i < 200; i++) { /* the request is freed after its reply has left */
        usleep(50000);
        found = found_in(pid, SECRET);
    }
    close(fd);
    if (status == row->status && found == 0)
        return;
    stop_program(pid);
    fail_msg("%s%s, processor '%s': %d, found %d times", row->name, slowly ? ", letter by letter" : "", way,
             status, found);
}

static void test_nothing_stays(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    char tunables[120];
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, SECRET, &err), &err);
    cw_nursery_close(t.n);
    for (size_t w = 0; w < sizeof ways / sizeof ways[0]; w++) {
        unsigned port = 0;
        snprintf(tunables, sizeof tunables, "glibc.cpu.hwcaps=%s", ways[w]);
        assert_int_equal(ways[w][0] ? setenv("GLIBC_TUNABLES", tunables, 1) : unsetenv("GLIBC_TUNABLES"), 0);
        pid_t pid = start_program(t.path, &port);
        unsetenv("GLIBC_TUNABLES");
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
            for (int slowly = 0; slowly < 2; slowly++)
                nothing_stays(pid, port, ways[w], &rows[i], slowly == 1);
        assert_int_equal(stop_program(pid), 0);
    }
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
    for (int i = 0; found > 0 && i < 200; i++) {
        usleep(50000);
        found = found_in(pid, words);
    }
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
    assert_true(count_in("a register: 16b", 15, "xx a register: 16b xx") >= 1);
    free(kept);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_nothing_stays),
                                        cmocka_unit_test(test_nothing_stays_of_a_reply),
                                        cmocka_unit_test(test_the_look_finds) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
