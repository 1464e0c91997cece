/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_FLEET_H
#define CW_TESTS_HTTP_FLEET_H

/* A fleet of nurseries under test: its folder, its processes, and requests to one of them. */
#include "serving.h"
#include "support/program.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <time.h>

#define HILL "hill.example.org"
#define DALE "dale.example.org"
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define MANY 8 /* each process takes ten times as much then */
#else
#define MANY 50
#endif

typedef struct fleet {
    test_nursery t; /* its folder holds all; its file is the pattern of the others */
    char folder[128], key[CW_TOKEN_TEXT];
    pid_t pid;
    unsigned port;
} fleet;

static inline long now_ms(void)
{
    struct timespec t = { 0 };
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static inline void copy_file(const char *from, const char *to)
{
    static char bytes[1 << 20];
    FILE *in = fopen(from, "re"), *out = fopen(to, "we");
    assert_non_null(in);
    assert_non_null(out);
    for (size_t n = fread(bytes, 1, sizeof bytes, in); n > 0; n = fread(bytes, 1, sizeof bytes, in))
        assert_int_equal(fwrite(bytes, 1, n, out), n);
    fclose(in);
    assert_int_equal(fclose(out), 0);
}

static inline void path_of(const fleet *f, const char *host, const char *end, char out[300])
{
    snprintf(out, 300, "%s/%s%s", f->folder, host, end);
}

static inline void put(const fleet *f, const char *host)
{
    char to[300];
    path_of(f, host, ".db", to);
    copy_file(f->t.path, to);
}

/* The hill has an owner, a packer and a shop's key, the dale another owner; all with the same password. */
static inline void make(fleet *f)
{
    cw_error err = CW_ERROR_NONE;
    char bare[300];
    test_nursery_make(&f->t);
    snprintf(f->folder, sizeof f->folder, "%s/all", f->t.folder);
    assert_int_equal(mkdir(f->folder, 0700), 0);
    cw_nursery_close(f->t.n);
    path_of(f, "bare.example.org", ".db", bare);
    copy_file(f->t.path, bare);
    cw_check_ok(cw_nursery_open(f->t.path, CW_WORK, "test", &f->t.n, &err), &err);
    cw_check_ok(cw_accounts_add(f->t.n, &f->t.who, "bert", CW_ROLE_OWNER, OWNER_PASSWORD, &err), &err);
    cw_nursery_close(f->t.n);
    put(f, DALE);
    cw_check_ok(cw_nursery_open(f->t.path, CW_WORK, "test", &f->t.n, &err), &err);
    cw_check_ok(cw_accounts_add(f->t.n, &f->t.who, "anna", CW_ROLE_OWNER, OWNER_PASSWORD, &err), &err);
    cw_check_ok(cw_accounts_add(f->t.n, &f->t.who, "pim", CW_ROLE_PACKER, OWNER_PASSWORD, &err), &err);
    cw_check_ok(cw_accounts_key_add(f->t.n, &f->t.who, "shop", CW_ROLE_OFFICE, CW_NO_DAY, f->key, &err),
                &err);
    cw_check_ok(cw_accounts_disable(f->t.n, &f->t.who, "bert", true, &err), &err);
    cw_nursery_close(f->t.n);
    f->t.n = NULL;
    put(f, HILL);
}

static inline void clear(fleet *f)
{
    char line[200];
    snprintf(line, sizeof line, "rm -rf %s", f->folder);
    assert_int_equal(system(line), 0);
    test_nursery_free(&f->t);
}

/* A test that fails leaves none behind. */
static pid_t running;
static inline void end_it(void)
{
    if (running)
        kill(running, SIGTERM);
}

static inline pid_t spawn(char *const argv[], int said)
{
    pid_t pid = 0;
    end_it();
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, said, 2);
    assert_int_equal(posix_spawn(&pid, CW_PROGRAM, &actions, NULL, argv, environ), 0);
    posix_spawn_file_actions_destroy(&actions);
    running = pid;
    return pid;
}

/* What it says goes into a file of the folder; its port stands there first. */
static inline void start(fleet *f, const char *option, const char *value, const char *option2,
                         const char *value2)
{
    char said[300], line[400] = "",
                    *argv[] = { CW_PROGRAM,
                                "serve",
                                f->folder,
                                "--listen",
                                "127.0.0.1:0",
                                (char *)(uintptr_t)option,
                                (char *)(uintptr_t)value,
                                (char *)(uintptr_t)option2,
                                (char *)(uintptr_t)value2,
                                NULL };
    snprintf(said, sizeof said, "%s/said", f->t.folder);
    int fd = open(said, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    assert_true(fd >= 0);
    f->pid = spawn(argv, fd);
    close(fd);
    f->port = 0;
    for (int i = 0; i < 1000 && f->port == 0; i++) {
        FILE *in = fopen(said, "re");
        if (in && fgets(line, sizeof line, in) && strchr(line, '\n') && strstr(line, "127.0.0.1:"))
            f->port = (unsigned)strtoul(strstr(line, "127.0.0.1:") + 10, NULL, 10);
        if (in)
            fclose(in);
        usleep(10000);
    }
    if (f->port == 0)
        fail_msg("the fleet said: %s", line);
}

static inline bool has_said(const fleet *f, const char *words)
{
    char said[300], all[20000] = "";
    snprintf(said, sizeof said, "%s/said", f->t.folder);
    FILE *in = fopen(said, "re");
    assert_non_null(in);
    all[fread(all, 1, sizeof all - 1, in)] = '\0';
    fclose(in);
    return strstr(all, words) != NULL;
}

/* Host and the other header lines as they are given. */
static inline wire_reply ask_on(int fd, const char *host, const char *method, const char *target,
                                const char *headers, const char *body)
{
    char bytes[2000];
    snprintf(bytes, sizeof bytes, "%s %s HTTP/1.1\r\nHost: %s\r\n%s%sContent-Length: %zu\r\n\r\n%s", method,
             target, host, headers ? headers : "", body ? "Content-Type: application/json\r\n" : "",
             body ? strlen(body) : 0, body ? body : "");
    assert_true(wire_send(fd, bytes, strlen(bytes)));
    return wire_read(fd);
}

static inline wire_reply ask(const fleet *f, const char *host, const char *method, const char *target,
                             const char *headers, const char *body)
{
    int fd = wire_open(f->port);
    assert_true(fd >= 0);
    wire_reply r = ask_on(fd, host, method, target, headers, body);
    close(fd);
    return r;
}

static inline int status(const fleet *f, const char *host, const char *target, const char *headers)
{
    wire_reply r = ask(f, host, "GET", target, headers, NULL);
    int got = r.status;
    wire_free(&r);
    return got;
}

/* Within a bounded time; how long it took, ms. */
static inline long becomes(const fleet *f, const char *host, int want)
{
    long began = now_ms();
    int got = 0;
    for (got = status(f, host, "/api/session", NULL); got != want && now_ms() - began < 30000;
         got = status(f, host, "/api/session", NULL))
        usleep(20000);
    if (got != want)
        fail_msg("%s answers %d, not %d", host, got, want);
    return now_ms() - began;
}

static inline void sign_in(const fleet *f, const char *host, const char *name, int want, char headers[600])
{
    char body[200], cookie[512];
    snprintf(body, sizeof body, "{\"name\":\"%s\",\"password\":\"%s\"}", name, OWNER_PASSWORD);
    wire_reply r = ask(f, host, "POST", "/api/session", NULL, body);
    if (r.status != want)
        fail_msg("%s at %s: %d %s", name, host, r.status, r.body ? r.body : "");
    if (want == 200) {
        json_t *o = json_loads(r.body, 0, NULL);
        assert_non_null(wire_header(&r, "Set-Cookie", cookie));
        assert_null(strstr(cookie, "Domain"));
        snprintf(headers, 600, "Cookie: %.*s\r\nX-CSRF-Token: %s\r\n", (int)strcspn(cookie, ";"), cookie,
                 json_string_value(json_object_get(o, "csrf")));
        json_decref(o);
    }
    wire_free(&r);
}

static inline int stop(fleet *f)
{
    int s = stop_program(f->pid);
    f->pid = running = 0;
    return s;
}

/* The processes of nurseries, as the system tells them. */
static inline size_t children(const fleet *f, pid_t out[MANY + 10])
{
    char path[64];
    int pid = 0;
    size_t n = 0;
    snprintf(path, sizeof path, "/proc/%d/task/%d/children", (int)f->pid, (int)f->pid);
    FILE *in = fopen(path, "re");
    assert_non_null(in);
    while (n < MANY + 10 && fscanf(in, "%d", &pid) == 1)
        out[n++] = pid;
    fclose(in);
    return n;
}

/* Who has the file open. */
static inline pid_t process_of(const fleet *f, const char *host)
{
    pid_t pids[MANY + 10];
    char path[64], to[400], want[300];
    size_t n = children(f, pids);
    path_of(f, host, ".db", want);
    for (size_t i = 0; i < n; i++)
        for (int fd = 3; fd < 40; fd++) {
            snprintf(path, sizeof path, "/proc/%d/fd/%d", (int)pids[i], fd);
            ssize_t length = readlink(path, to, sizeof to - 1);
            to[length > 0 ? length : 0] = '\0';
            if (strcmp(to, want) == 0)
                return pids[i];
        }
    fail_msg("nobody has %s open", want);
    return 0;
}

/* Bytes as they are; the status, 0 if it is closed without an answer. */
static inline int sends(const fleet *f, const char *bytes, size_t n)
{
    int fd = wire_open(f->port);
    assert_true(fd >= 0);
    (void)wire_send(fd, bytes, n);
    wire_reply r = wire_read(fd);
    int got = r.status;
    wire_free(&r);
    close(fd);
    return got;
}

/* Of this process and all of its own, in MB. */
static inline double memory(const fleet *f)
{
    pid_t pids[MANY + 10];
    char path[64], line[256];
    size_t n = children(f, pids);
    long kb = 0;
    for (size_t i = 0; i <= n; i++) {
        snprintf(path, sizeof path, "/proc/%d/smaps_rollup", (int)(i < n ? pids[i] : f->pid));
        FILE *in = fopen(path, "re");
        while (in && fgets(line, sizeof line, in))
            if (strncmp(line, "Pss:", 4) == 0)
                kb += strtol(line + 4, NULL, 10);
        if (in)
            fclose(in);
    }
    return (double)kb / 1024;
}

static inline bool all_gone(const pid_t *pids, size_t n, int ms)
{
    for (long until = now_ms() + ms; now_ms() < until; usleep(10000)) {
        size_t left = 0;
        for (size_t i = 0; i < n; i++)
            left += kill(pids[i], 0) == 0;
        if (left == 0)
            return true;
    }
    return false;
}

#endif
