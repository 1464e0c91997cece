/* SPDX-License-Identifier: MIT */
/* Several nurseries on one address: the real program over a folder. Each is apart from the others by its host name, whatever the
 * client says; a fault of one, or a stop, is its own. On loopback; names need no DNS, since the Host header is what counts. */
#include "fleet.h"
#include "serving.h"

#include <math.h>
#include <poll.h>

static void test_apart(void **state)
{
    fleet f;
    char anna[600], bert[600], pim[600], key[200], lines[700];
    (void)state;
    make(&f);
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    becomes(&f, DALE, 200);
    sign_in(&f, HILL, "anna", 200, anna);
    sign_in(&f, DALE, "bert", 200, bert);
    sign_in(&f, HILL, "pim", 200, pim);
    sign_in(&f, DALE, "anna", 401, NULL); /* her password is right, but elsewhere */
    sign_in(&f, HILL, "bert", 401, NULL);
    assert_int_equal(status(&f, HILL, "/api/people", anna), 200);
    assert_int_equal(status(&f, DALE, "/api/people", bert), 200);
    assert_int_equal(status(&f, DALE, "/api/people", anna), 401);
    assert_int_equal(status(&f, HILL, "/api/people", bert), 401);
    assert_int_equal(status(&f, HILL, "/api/people", pim), 403);
    assert_int_equal(status(&f, HILL, "/api/people", NULL),
                     401); /* nobody is the owner for being at this machine */
    snprintf(key, sizeof key, "Authorization: Bearer %s\r\n", f.key);
    assert_int_equal(status(&f, HILL, "/api/orders", key), 200);
    assert_int_equal(status(&f, DALE, "/api/orders", key), 401);
    /* The page of one nursery cannot write to another, though cookies of both may come. */
    snprintf(lines, sizeof lines, "%sOrigin: http://%s\r\n", anna, DALE);
    wire_reply r = ask(&f, HILL, "DELETE", "/api/session", lines, NULL);
    assert_int_equal(r.status, 403);
    wire_free(&r);
    snprintf(lines, sizeof lines, "%sOrigin: http://%s\r\n", anna, HILL);
    r = ask(&f, HILL, "DELETE", "/api/session", lines, NULL);
    assert_int_equal(r.status, 204);
    wire_free(&r);
    assert_int_equal(status(&f, DALE, "/api/people", bert), 200);
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

static void test_hostile_names(void **state)
{
    static const struct {
        const char *bytes;
        int status;
    } rows[] = {
        { "GET /api/session HTTP/1.1\r\nHost: HILL.example.org:8473\r\n\r\n", 200 },
        { "GET /api/session HTTP/1.1\r\nHost: moor.example.org\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.1\r\nHost: localhost\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.1\r\nHost: " HILL ".\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.1\r\nHost: ../" HILL "\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.1\r\nHost: said\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.1\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.0\r\n\r\n", 421 },
        { "GET /api/session HTTP/1.1\r\nHost: " HILL "\r\nHost: " DALE "\r\n\r\n", 400 },
        { "GET /api/session HTTP/1.1\r\nHost: " DALE "\r\nHost: " HILL "\r\n\r\n", 400 },
        { "GET /api/session HTTP/1.1\r\nX: y\r\n Host: " DALE "\r\nHost: " HILL "\r\n\r\n", 400 },
        { "GET http://" DALE "/api/session HTTP/1.1\r\nHost: " HILL "\r\n\r\n", 400 },
        { "GET /api/session HTTP/1.1\r\nHost : " DALE "\r\nHost: " HILL "\r\n\r\n", 400 },
        { "GET /api/session HTTP/1.1\r\nHost: " HILL "\r\nX-Forwarded-Host: " DALE "\r\n\r\n", 200 },
        { "GET /api/session HTTP/1.1\nHost: " DALE "\n\n", 400 },
        { "\x16\x03\x01\x00\x05hello", 400 },
        { "nonsense\r\n\r\n", 400 },
    };
    fleet f;
    static char long_head[40000];
    (void)state;
    make(&f);
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    becomes(&f, DALE, 200);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int got = sends(&f, rows[i].bytes, i == 16 ? 10 : strlen(rows[i].bytes));
        if (got != rows[i].status)
            fail_msg("row %zu is answered %d, not %d", i, got, rows[i].status);
    }
    int n = snprintf(long_head, sizeof long_head, "GET / HTTP/1.1\r\nX: ");
    memset(long_head + n, 'x', sizeof long_head - (size_t)n);
    assert_int_equal(sends(&f, long_head, sizeof long_head), 400);
    /* A kept connection stays with whom it was first for. */
    int fd = wire_open(f.port);
    wire_reply r = ask_on(fd, HILL, "GET", "/api/session", NULL, NULL);
    assert_int_equal(r.status, 200);
    wire_free(&r);
    r = ask_on(fd, DALE, "GET", "/api/session", NULL, NULL);
    assert_int_equal(r.status, 421);
    assert_non_null(strstr(r.body, "another nursery"));
    wire_free(&r);
    close(fd);
    /* The name may come byte by byte. */
    fd = wire_open(f.port);
    static const char slow[] = "GET /api/session HTTP/1.1\r\nHost: " DALE "\r\n\r\n";
    for (size_t i = 0; i < sizeof slow - 1; i++) {
        assert_true(wire_send(fd, slow + i, 1));
        usleep(1000);
    }
    r = wire_read(fd);
    assert_int_equal(r.status, 200);
    wire_free(&r);
    close(fd);
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

static void test_limits_are_each_ones(void **state)
{
    fleet f;
    int fd[140], open_ones = 0, silent[120];
    (void)state;
    make(&f);
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    becomes(&f, DALE, 200);
    /* One address holds as many connections as a nursery lets it, and no more; the other nursery does not notice. */
    for (int i = 0; i < 140; i++) {
        fd[i] = wire_open(f.port);
        assert_true(fd[i] >= 0);
        wire_reply r = ask_on(fd[i], HILL, "GET", "/api/session", NULL, NULL);
        open_ones += r.status == 200;
        wire_free(&r);
    }
    assert_true(open_ones >= 90 && open_ones <= 100);
    assert_int_equal(status(&f, DALE, "/api/session", NULL), 200);
    for (int i = 0; i < 140; i++)
        close(fd[i]);
    becomes(&f, HILL, 200);
    /* Those that say nothing are the parent's, and are few: from one address a hundred. Who names a nursery is handed on. */
    for (int i = 0; i < 120; i++) {
        silent[i] = wire_open(f.port);
        assert_true(silent[i] >= 0);
    }
    int shut = 0;
    for (int i = 0; i < 120; i++)
        shut += wire_is_closed(silent[i], i < 100 ? 0 : 2000);
    assert_int_equal(shut, 20);
    for (int i = 0; i < 100; i++)
        close(silent[i]);
    becomes(&f, DALE, 200);
    for (int i = 100; i < 120; i++)
        close(silent[i]);
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

/* What the parent waits for: "tfd:" lines of its epoll set, as the system tells them. */
static int watched(const fleet *f)
{
    char path[64], to[100], line[256];
    int n = 0;
    for (int fd = 3; fd < 40; fd++) {
        snprintf(path, sizeof path, "/proc/%d/fd/%d", (int)f->pid, fd);
        ssize_t length = readlink(path, to, sizeof to - 1);
        to[length > 0 ? length : 0] = '\0';
        if (strstr(to, "[eventpoll]") == NULL)
            continue;
        snprintf(path, sizeof path, "/proc/%d/fdinfo/%d", (int)f->pid, fd);
        FILE *in = fopen(path, "re");
        assert_non_null(in);
        while (fgets(line, sizeof line, in))
            n += strncmp(line, "tfd:", 4) == 0;
        fclose(in);
    }
    return n;
}

/* A connection that was handed over is its nursery's: closing it here would leave it in the parent's set, with memory that is freed. */
static void test_handed_over_is_let_go(void **state)
{
    fleet f;
    int fd[20];
    (void)state;
    make(&f);
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    becomes(&f, DALE, 200);
    int before = watched(&f), now = 0;
    assert_true(before >= 4); /* signals, the address, two nurseries */
    for (int i = 0; i < 20; i++) {
        fd[i] = wire_open(f.port);
        assert_true(fd[i] >= 0);
        wire_reply r = ask_on(fd[i], i % 2 ? HILL : DALE, "GET", "/api/session", NULL, NULL);
        assert_int_equal(r.status, 200);
        wire_free(&r);
    }
    /* One more at most: the line of the nursery without an account, which is tried again. */
    for (long until = now_ms() + 10000; (now = watched(&f)) > before + 1 && now_ms() < until;)
        usleep(10000);
    assert_true(now <= before + 1);
    for (int i = 0; i < 20; i++)
        close(fd[i]);
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

/* Sixteen sign in at once at eight nurseries: a hash takes 64 MB, and four at once is what a fleet spends on that. */
static void test_hashing_is_bounded_for_all(void **state)
{
    enum { NURSERIES = 8, EACH = 2, ALL = NURSERIES * EACH };
    fleet f;
    int fd[ALL], answered = 0;
    char host[40], body[200], bytes[600];
    (void)state;
    make(&f);
    for (int i = 0; i < NURSERIES; i++) {
        snprintf(host, sizeof host, "n%d.example.org", i);
        put(&f, host);
    }
    start(&f, NULL, NULL, NULL, NULL);
    snprintf(body, sizeof body, "{\"name\":\"anna\",\"password\":\"%s\"}", OWNER_PASSWORD);
    for (int i = 0; i < ALL; i++) {
        snprintf(host, sizeof host, "n%d.example.org", i % NURSERIES);
        becomes(&f, host, 200);
    }
    double before = memory(&f), most = 0;
    for (int i = 0; i < ALL; i++) {
        snprintf(host, sizeof host, "n%d.example.org", i % NURSERIES);
        snprintf(bytes, sizeof bytes,
                 "POST /api/session HTTP/1.1\r\nHost: %s\r\nContent-Type: application/json\r\n"
                 "Content-Length: %zu\r\n\r\n%s",
                 host, strlen(body), body);
        fd[i] = wire_open(f.port);
        assert_true(fd[i] >= 0 && wire_send(fd[i], bytes, strlen(bytes)));
    }
    for (long until = now_ms() + 60000; answered < ALL && now_ms() < until;) {
        struct pollfd p[ALL];
        for (int i = 0; i < ALL; i++)
            p[i] = (struct pollfd){ .fd = fd[i], .events = POLLIN };
        answered = poll(p, ALL, 0);
        most = fmax(most, memory(&f) - before);
    }
    for (int i = 0; i < ALL; i++) {
        wire_reply r = wire_read(fd[i]);
        assert_int_equal(r.status, 200);
        wire_free(&r);
        close(fd[i]);
    }
    print_message("fleet: %d sign in at once, %.0f MB more at most\n", ALL, most);
    assert_true(most > 0 && most < 4 * 64 + 80);
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

static void test_faults_stay_apart(void **state)
{
    fleet f;
    char path[300], command[500], out[4096];
    (void)state;
    make(&f);
    path_of(&f, "broken.example.org", ".db", path);
    copy_file("/proc/self/exe", path);
    path_of(&f, "Loud.example.org", ".db", path);
    copy_file(f.t.path, path);
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    becomes(&f, DALE, 200);
    becomes(&f, "broken.example.org", 503);
    becomes(&f, "bare.example.org", 503);
    assert_true(has_said(&f, "broken.example.org: "));
    assert_true(has_said(&f, "bare.example.org: nobody has an account yet"));
    assert_true(has_said(&f, "Loud.example.org.db is not served"));
    /* An owner is added where none was: it opens without a word to anybody. */
    snprintf(command, sizeof command,
             "echo '%s' | " CW_PROGRAM " user %s/bare.example.org.db add ida --role owner 2>&1",
             OWNER_PASSWORD, f.folder);
    int added = -1;
    for (int i = 0; i < 20 && added != 0; i++) /* it may just be looked at */
        added = shell_says(command, out);
    assert_int_equal(added, 0);
    assert_true(becomes(&f, "bare.example.org", 200) < 20000);
    /* One is killed: a connection to the other goes on, and the one is there again. */
    int fd = wire_open(f.port);
    wire_reply r = ask_on(fd, DALE, "GET", "/api/session", NULL, NULL);
    assert_int_equal(r.status, 200);
    wire_free(&r);
    pid_t hill = process_of(&f, HILL), dale = process_of(&f, DALE);
    assert_true(hill != dale);
    kill(hill, SIGKILL);
    usleep(50000);
    r = ask_on(fd, DALE, "GET", "/api/session", NULL, NULL);
    assert_int_equal(r.status, 200);
    wire_free(&r);
    close(fd);
    assert_true(becomes(&f, HILL, 200) < 20000); /* who asks meanwhile waits for it */
    assert_true(process_of(&f, HILL) != hill);
    assert_int_equal(process_of(&f, DALE), dale);
    assert_true(has_said(&f, HILL ": ended by signal 9"));
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

static void test_pause_and_new_ones(void **state)
{
    fleet f;
    char path[300], command[500], out[4096], anna[600];
    (void)state;
    make(&f);
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    snprintf(command, sizeof command,
             CW_PROGRAM " season %s/" HILL ".db --ship 2032-04-26 --why later --commit 2>&1", f.folder);
    assert_int_not_equal(shell_says(command, out), 0); /* it is served */
    path_of(&f, HILL, ".pause", path);
    copy_file("/dev/null", path);
    becomes(&f, HILL, 503);
    assert_int_equal(status(&f, DALE, "/api/session", NULL), 200);
    snprintf(command, sizeof command,
             "echo '%s' | " CW_PROGRAM " user %s/" HILL ".db add otto --role office 2>&1", OWNER_PASSWORD,
             f.folder);
    int added = -1;
    for (int i = 0; i < 100 && added != 0; i++) { /* until its process has let go */
        added = shell_says(command, out);
        usleep(50000);
    }
    if (added != 0)
        fail_msg("%s", out);
    unlink(path);
    becomes(&f, HILL, 200);
    sign_in(&f, HILL, "otto", 200, anna);
    put(&f, "late.example.org");
    becomes(&f, "late.example.org", 200);
    path_of(&f, "late.example.org", ".pause", path);
    copy_file("/dev/null", path);
    becomes(&f, "late.example.org", 503);
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

static void test_behind_a_proxy(void **state)
{
    fleet f;
    char body[200], cookie[512];
    (void)state;
    make(&f);
    start(&f, "--trusted-proxy", "127.0.0.1", NULL, NULL);
    becomes(&f, HILL, 200);
    snprintf(body, sizeof body, "{\"name\":\"anna\",\"password\":\"%s\"}", OWNER_PASSWORD);
    wire_reply r = ask(&f, HILL, "POST", "/api/session",
                       "X-Forwarded-For: 192.0.2.7\r\nX-Forwarded-Proto: https\r\n", body);
    assert_int_equal(r.status, 200);
    assert_non_null(wire_header(&r, "Set-Cookie", cookie));
    assert_non_null(strstr(cookie, "__Host-clumpwise=")); /* no sibling's page can set one of that name */
    assert_non_null(strstr(cookie, "Secure"));
    wire_free(&r);
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

/* TLS is the nursery's own: the parent sees the name in the clear, the request never. curl and openssl are the clients. */
static void test_tls(void **state)
{
    fleet f;
    char cert[300], key[300], line[900], out[4096];
    (void)state;
    make(&f);
    snprintf(cert, sizeof cert, "%s/cert.pem", f.t.folder);
    snprintf(key, sizeof key, "%s/key.pem", f.t.folder);
    snprintf(line, sizeof line,
             "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -keyout %s -out %s "
             "-days 7 -subj /CN=" HILL " -addext 'subjectAltName=DNS:*.example.org' 2>&1",
             key, cert);
    assert_int_equal(shell_says(line, out), 0);
    start(&f, "--cert", cert, "--key", key);
    static const struct {
        const char *name, *host, *code;
        int exit;
    } rows[] = {
        { HILL, HILL, "200", 0 },
        { DALE, DALE, "200", 0 },
        { HILL, DALE, "421", 0 }, /* says one, asks another */
        { "moor.example.org", HILL, "000", 35 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(line, sizeof line,
                 "curl -s -m 20 -o /dev/null -w '%%{http_code}' --retry 5 --retry-connrefused --cacert %s "
                 "--resolve %s:%u:127.0.0.1 "
                 "-H 'Host: %s' https://%s:%u/api/session",
                 cert, rows[i].name, f.port, rows[i].host, rows[i].name, f.port);
        int code = shell_says(line, out);
        if (code != rows[i].exit || strcmp(out, rows[i].code) != 0)
            fail_msg("row %zu: curl ended with %d and '%s'", i, code, out);
    }
    snprintf(line, sizeof line,
             "timeout 10 openssl s_client -noservername -connect 127.0.0.1:%u </dev/null 2>&1", f.port);
    assert_int_not_equal(shell_says(line, out), 0);
    assert_non_null(strstr(out, "unrecognized name"));
    assert_int_not_equal(sends(&f, "GET / HTTP/1.1\r\nHost: " HILL "\r\n\r\n", 42),
                         200); /* nothing in the clear */
    assert_int_equal(stop(&f), 0);
    clear(&f);
}

static void test_fifty(void **state)
{
    fleet f;
    pid_t pids[MANY + 10];
    char host[40];
    (void)state;
    make(&f);
    for (int i = 2; i < MANY; i++) {
        snprintf(host, sizeof host, "n%d.example.org", i);
        put(&f, host);
    }
    long began = now_ms();
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    becomes(&f, DALE, 200);
    for (int i = 2; i < MANY; i++) {
        snprintf(host, sizeof host, "n%d.example.org", i);
        becomes(&f, host, 200);
    }
    long opened = now_ms() - began;
    /* the one without an account has a process, too, until it is refused */
    for (long until = now_ms() + 20000; children(&f, pids) != MANY && now_ms() < until;)
        usleep(10000);
    assert_int_equal(children(&f, pids), MANY);
    double mb = memory(&f);
    began = now_ms();
    assert_int_equal(stop(&f), 0);
    long stopped = now_ms() - began;
    assert_true(stopped <= 5000);
    assert_true(all_gone(pids, MANY, 0) || all_gone(pids, MANY, 100));
    print_message("fleet: %d open in %.1f s, %.0f MB (PSS), stopped in %.2f s\n", MANY, (double)opened / 1000,
                  mb, (double)stopped / 1000);
    /* Without their parent none stays behind and holds its file. */
    start(&f, NULL, NULL, NULL, NULL);
    becomes(&f, HILL, 200);
    becomes(&f, host, 200);
    size_t n = children(&f, pids);
    kill(f.pid, SIGKILL);
    waitpid(f.pid, NULL, 0);
    running = 0;
    assert_true(all_gone(pids, n, 20000));
    clear(&f);
}

static void test_refusals(void **state)
{
    static const struct {
        const char *options, *says;
    } rows[] = {
        { "--past old.db", "--past is of one nursery" },
        { "--host other.example.org", "--host is of one nursery" },
        { "--standby store", "--standby is of one nursery" },
        { "--cert cert.pem", "--cert and --key are given together" },
        { "--cert /nowhere/cert.pem --key /nowhere/key.pem", "/nowhere/cert.pem" },
        { "--listen 0.0.0.0:0", "without --cert and --key, passwords would cross" },
        { "--listen here", "--listen takes ADDRESS:PORT" },
        { "--trusted-proxy somebody", "--trusted-proxy takes an address" },
    };
    fleet f;
    char line[400], out[4096];
    (void)state;
    make(&f);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(line, sizeof line, "timeout 10 " CW_PROGRAM " serve %s %s 2>&1", f.folder, rows[i].options);
        int code = shell_says(line, out);
        if (code == 0 || code == 124 || strstr(out, rows[i].says) == NULL)
            fail_msg("%s: %d, %s", rows[i].options, code, out);
    }
    clear(&f);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_apart),
        cmocka_unit_test(test_hostile_names),
        cmocka_unit_test(test_limits_are_each_ones),
        cmocka_unit_test(test_handed_over_is_let_go),
        cmocka_unit_test(test_hashing_is_bounded_for_all),
        cmocka_unit_test(test_faults_stay_apart),
        cmocka_unit_test(test_pause_and_new_ones),
        cmocka_unit_test(test_behind_a_proxy),
        cmocka_unit_test(test_tls),
        cmocka_unit_test(test_fifty),
        cmocka_unit_test(test_refusals),
    };
    signal(SIGPIPE, SIG_IGN);
    atexit(end_it);
    if (argc == 2)
        cmocka_set_test_filter(argv[1]);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
