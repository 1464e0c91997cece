/* SPDX-License-Identifier: MIT */
/* Whom a new connection to a fleet asks for. The heads are by RFC 9112 3.2; the ClientHello (RFC 8446 4.1.2 with RFC 6066 3) is what
 * OpenSSL sends, so that it is not ours. */
#include "support/check.h"

#include "fleet/called.h"

#include <arpa/inet.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/banned.h"

static const char *const said[] = { "more", "host", "none", "broken" };

static void test_http(void **state)
{
    static const struct {
        const char *bytes;
        cw_called called;
        const char *host;
    } rows[] = {
        { "GET / HTTP/1.1\r\nHost: hill.example.org\r\n\r\n", CW_CALLED_HOST, "hill.example.org" },
        { "GET / HTTP/1.1\r\nHost: Hill.Example.ORG:8473\r\n", CW_CALLED_HOST, "hill.example.org" },
        { "GET / HTTP/1.1\r\nAccept: */*\r\nhost:hill.example.org \t\r\n\r\n", CW_CALLED_HOST,
          "hill.example.org" },
        { "GET / HTTP/1.1\r\nHost: hill.example.org", CW_CALLED_MORE, "" }, /* its line may go on */
        { "GET / HTTP/1.1\r\nHost: hill.example.org\r\nHost: dale.example.org\r\n\r\n", CW_CALLED_HOST,
          "hill.example.org" }, /* whoever gets it refuses two */
        { "GET / HTTP/1.1\r\nX-Host: dale.example.org\r\nHost: hill.example.org\r\n\r\n", CW_CALLED_HOST,
          "hill.example.org" },
        { "Host: hill.example.org\r\nHost: dale.example.org\r\n\r\n", CW_CALLED_HOST, "dale.example.org" },
        { "GET / HTTP/1.1\r\n\r\nHost: hill.example.org\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.0\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost:\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost: :80\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost: 127.0.0.1:8473\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost: [::1]:8473\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost: ../hill.example.org\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost: hill.example.org.\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost: hill_x.example.org\r\n\r\n", CW_CALLED_NONE, "" },
        { "GET / HTTP/1.1\r\nHost: hill.example.org@dale.example.org\r\n\r\n", CW_CALLED_NONE, "" },
        { "\x16\x03\x01\x02", CW_CALLED_BROKEN, "" },
        { "\r\nGET / HTTP/1.1\r\n", CW_CALLED_BROKEN, "" },
        { "", CW_CALLED_MORE, "" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char host[CW_CALLED_NAME] = "";
        cw_called c = cw_called_http((const unsigned char *)rows[i].bytes, strlen(rows[i].bytes), host);
        if (c != rows[i].called || (c == CW_CALLED_HOST && strcmp(host, rows[i].host) != 0))
            fail_msg("row %zu: %s '%s'", i, said[c], host);
    }
    const unsigned char with_nul[] = "GET / HTTP/1.1\r\nHost: hill.example.org\0.dale.example.org\r\n\r\n";
    char host[CW_CALLED_NAME];
    assert_int_equal(cw_called_http(with_nul, sizeof with_nul - 1, host), CW_CALLED_NONE);
}

static void test_names(void **state)
{
    static const char *const good[] = { "hill.example.org", "a", "x-1.example", "1and1.example",
                                        "a.localhost" };
    static const char *const bad[] = { "",     ".", "a.",  ".a",  "a..b",     "-a",  "a-",
                                       "a-.b", "A", "a b", "a/b", "10.0.0.1", "a_b", "\xc3\xa4" };
    char label[300];
    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        if (!cw_called_is_name(good[i]))
            fail_msg("'%s' is a name", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        if (cw_called_is_name(bad[i]))
            fail_msg("'%s' is none", bad[i]);
    memset(label, 'a', sizeof label);
    label[63] = '\0'; /* RFC 1035 2.3.4: labels of 63, names of 253 bytes */
    assert_true(cw_called_is_name(label));
    label[63] = 'a';
    label[64] = '\0';
    assert_false(cw_called_is_name(label));
    for (size_t i = 0; i < 254; i++)
        label[i] = i % 2 ? '.' : 'a';
    label[253] = '\0';
    assert_true(cw_called_is_name(label));
    label[253] = '.';
    label[254] = 'a';
    label[255] = '\0';
    assert_false(cw_called_is_name(label));
}

/* What OpenSSL says first, with these options. */
static size_t client_hello(const char *options, unsigned char *bytes, size_t room)
{
    char command[300];
    struct sockaddr_in a = { .sin_family = AF_INET, .sin_addr = { htonl(INADDR_LOOPBACK) } };
    socklen_t size = sizeof a;
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&a, sizeof a), 0);
    assert_int_equal(listen(fd, 1), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)&a, &size), 0);
    snprintf(command, sizeof command,
             "timeout 20 openssl s_client -connect 127.0.0.1:%u %s </dev/null >/dev/null 2>&1",
             ntohs(a.sin_port), options);
    FILE *client = popen(command, "r");
    assert_non_null(client);
    struct pollfd p = { fd, POLLIN, 0 };
    assert_int_equal(poll(&p, 1, 20000), 1);
    int one = accept(fd, NULL, NULL);
    size_t n = 0;
    /* A record's length stands in its fourth and fifth byte. */
    while (n < 5 || n < 5 + ((size_t)bytes[3] << 8 | bytes[4])) {
        ssize_t k = recv(one, bytes + n, room - n, 0);
        if (k <= 0)
            break;
        n += (size_t)k;
    }
    close(one);
    close(fd);
    pclose(client);
    return n;
}

static void test_tls(void **state)
{
    static unsigned char bytes[CW_CALLED_BYTES];
    static const char *const options[] = { "-servername Hill.Example.org",
                                           "-servername hill.example.org -tls1_2 -alpn http/1.1" };
    char host[CW_CALLED_NAME];
    (void)state;
    for (size_t o = 0; o < 2; o++) {
        size_t n = client_hello(options[o], bytes, sizeof bytes);
        assert_true(n > 60);
        assert_int_equal(cw_called_tls(bytes, n, host), CW_CALLED_HOST);
        assert_string_equal(host, "hill.example.org");
        for (size_t m = 0; m < n; m++)
            assert_int_equal(cw_called_tls(bytes, m, host), CW_CALLED_MORE);
        /* Any byte may be another: it ends, reads nothing beyond (a sanitizer would see), and names no other nursery but by the
         * letters of the name itself. */
        for (size_t at = 0; at < n; at++)
            for (int bit = 0; bit < 8; bit++) {
                unsigned char *exact = malloc(n);
                assert_non_null(exact);
                memcpy(exact, bytes, n);
                exact[at] ^= (unsigned char)(1 << bit);
                cw_called c = cw_called_tls(exact, n, host);
                assert_true(c <= CW_CALLED_BROKEN);
                if (c == CW_CALLED_HOST)
                    assert_true(strlen(host) <= 16);
                free(exact);
            }
    }
    size_t n = client_hello("-noservername", bytes, sizeof bytes);
    assert_int_equal(cw_called_tls(bytes, n, host), CW_CALLED_NONE);
    const unsigned char http[] = "GET / HTTP/1.1\r\nHost: hill.example.org\r\n\r\n";
    assert_int_equal(cw_called_tls(http, sizeof http - 1, host), CW_CALLED_BROKEN);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_http), cmocka_unit_test(test_names),
                                        cmocka_unit_test(test_tls) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
