/* SPDX-License-Identifier: MIT */
/* What RFC 9112 (HTTP/1.1, 2022) and RFC 3986 tell a server to refuse, sent over a raw socket byte by byte. The sections
 * are named in the rows. The library alone takes most of these with 200. */
#include "serving.h"

#include <sys/socket.h>

#define ROW(name, bytes, status)                                                                             \
    {                                                                                                        \
        name, bytes, sizeof bytes - 1, status                                                                \
    }
#define H "Host: localhost\r\n"

static const struct {
    const char *name, *bytes;
    size_t n;
    int status; /* 0: closed without an answer is also fine */
} rows[] = {
    ROW("a plain request", "GET /api/revision HTTP/1.1\r\n" H "\r\n", 200),
    ROW("a plain request of a terse client",
        "GET /api/revision HTTP/1.1\r\nHost:localhost\r\nAccept:*/*\r\n\r\n", 200),
    ROW("an empty value with a blank", "GET /api/revision HTTP/1.1\r\n" H "X-A: \r\n\r\n", 200),
    ROW("an empty value without a blank", "GET /api/revision HTTP/1.1\r\n" H "X-A:\r\n\r\n", 200),
    ROW("two equal Content-Lengths (6.3)",
        "PATCH /api/settings HTTP/1.1\r\n" H
        "Content-Type: application/json\r\nContent-Length: 2\r\nContent-Length: 2\r\n\r\n{}",
        400),
    ROW("two different Content-Lengths (6.3)",
        "PATCH /api/settings HTTP/1.1\r\n" H
        "Content-Type: application/json\r\nContent-Length: 2\r\nContent-Length: 4\r\n\r\n{}",
        400),
    ROW("Content-Length with chunked (6.1)",
        "PATCH /api/settings HTTP/1.1\r\n" H "Content-Type: application/json\r\nContent-Length: "
        "7\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n",
        400),
    ROW("a list as Content-Length (6.3)",
        "PATCH /api/settings HTTP/1.1\r\n" H
        "Content-Type: application/json\r\nContent-Length: 2, 2\r\n\r\n{}",
        400),
    ROW("a signed Content-Length",
        "PATCH /api/settings HTTP/1.1\r\n" H "Content-Type: application/json\r\nContent-Length: +2\r\n\r\n{}",
        400),
    ROW("an unknown transfer coding (6.1)",
        "PATCH /api/settings HTTP/1.1\r\n" H
        "Content-Type: application/json\r\nTransfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n",
        400),
    ROW("two transfer codings",
        "PATCH /api/settings HTTP/1.1\r\n" H "Content-Type: application/json\r\nTransfer-Encoding: "
        "chunked\r\nTransfer-Encoding: identity\r\n\r\n0\r\n\r\n",
        400),
    ROW("bare line feeds throughout (2.2)", "GET /api/revision HTTP/1.1\nHost: localhost\nX-A: b\n\n", 400),
    ROW("one bare line feed (2.2)", "GET /api/revision HTTP/1.1\r\nHost: localhost\nX-A: b\r\n\r\n", 400),
    ROW("a folded line (5.2)", "GET /api/revision HTTP/1.1\r\n" H "X-A: b\r\n c\r\n\r\n", 400),
    ROW("a blank before the colon (5.1)", "GET /api/revision HTTP/1.1\r\n" H "X-A : b\r\n\r\n", 400),
    ROW("NUL in a header (RFC 9110, 5.5)", "GET /api/revision HTTP/1.1\r\n" H "X-A: b\0c\r\n\r\n", 400),
    ROW("NUL in the target", "GET /api/revision\0x HTTP/1.1\r\n" H "\r\n", 400),
    ROW("a control byte in a header", "GET /api/revision HTTP/1.1\r\n" H "X-A: b\001c\r\n\r\n", 400),
    ROW("a header that is no token", "GET /api/revision HTTP/1.1\r\n" H "X(A): b\r\n\r\n", 400),
    ROW("two blanks in the request line (3)", "GET  /api/revision HTTP/1.1\r\n" H "\r\n", 400),
    ROW("no Host (3.2)", "GET /api/revision HTTP/1.1\r\nX-A: b\r\n\r\n", 400),
    ROW("two Hosts (3.2)", "GET /api/revision HTTP/1.1\r\n" H "Host: localhost\r\n\r\n", 400),
    ROW("a Host that is not ours (DNS rebinding)", "GET /api/revision HTTP/1.1\r\nHost: evil.example\r\n\r\n",
        400),
    ROW("a Host with a bad port", "GET /api/revision HTTP/1.1\r\nHost: localhost:8a\r\n\r\n", 400),
    ROW("%00 in the path", "GET /api/revision%00x HTTP/1.1\r\n" H "\r\n", 400),
    ROW("%00 in the query", "GET /api/revision?a=%00 HTTP/1.1\r\n" H "\r\n", 400),
    ROW("a broken escape (RFC 3986, 2.1)", "GET /api/%zz HTTP/1.1\r\n" H "\r\n", 400),
    ROW("a cut escape", "GET /api/% HTTP/1.1\r\n" H "\r\n", 400),
    ROW("an overlong UTF-8 slash (RFC 3629, 3)", "GET /api/%c0%af HTTP/1.1\r\n" H "\r\n", 400),
    ROW("absolute form for another host", "GET http://evil.example/api/revision HTTP/1.1\r\n" H "\r\n", 400),
    ROW("asterisk form", "OPTIONS * HTTP/1.1\r\n" H "\r\n", 400),
    ROW("a parameter twice", "GET /api/revision?a=1&a=2 HTTP/1.1\r\n" H "\r\n", 400),
    ROW("HTTP/2 preface", "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", 0),
    ROW("an unknown method", "BREW /api/revision HTTP/1.1\r\n" H "\r\n", 405),
    ROW("climbing out of the pages", "GET /../../etc/passwd HTTP/1.1\r\n" H "\r\n", 404),
    ROW("climbing, escaped", "GET /..%2f..%2fetc/passwd HTTP/1.1\r\n" H "\r\n", 404),
    ROW("not HTTP at all", "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", 0),
};

static void test_rows(void **state)
{
    serving s;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int fd = wire_open(s.port);
        assert_true(fd >= 0);
        assert_true(wire_send(fd, rows[i].bytes, rows[i].n));
        wire_reply r = wire_read(fd);
        bool fine = r.status == rows[i].status || (rows[i].status == 0 && r.status >= 400);
        if (!fine)
            fail_msg("%s: status %d, want %d", rows[i].name, r.status, rows[i].status);
        if (r.status == 400 && !wire_is_closed(fd, 2000))
            fail_msg("%s: the connection stays open", rows[i].name);
        wire_free(&r);
        close(fd);
    }
    /* After all that it still serves. */
    assert_int_equal(serving_status(&s, "GET", "/api/revision", NULL, NULL), 200);
    serving_free(&s);
}

static void test_no_banner(void **state)
{
    serving s;
    char value[512];
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    static const char *const targets[] = { "/api/revision", "/nowhere", "/api/nowhere", "/%zz" };
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++) {
        wire_reply r = wire_ask(s.port, "GET", targets[i], NULL, NULL);
        assert_true(r.status > 0);
        assert_null(wire_header(&r, "Server", value));
        assert_null(strstr(r.head, "icrohttpd"));
        assert_null(strstr(r.body, s.t.folder));
        wire_free(&r);
    }
    serving_free(&s);
}

/* Requests sent at once are answered one after the other, and a body that looks like a request is none. */
static void test_pipeline(void **state)
{
    static const char two[] =
        "PATCH /api/settings HTTP/1.1\r\n" H "Content-Type: application/json\r\nContent-Length: 46\r\n\r\n"
        "GET /api/nowhere HTTP/1.1\r\nHost: localhost\r\n\r\n"
        "GET /api/revision HTTP/1.1\r\n" H "\r\n";
    serving s;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    int fd = wire_open(s.port);
    assert_true(wire_send(fd, two, sizeof two - 1));
    char both[16384] = "";
    size_t n = 0;
    ssize_t k = 0;
    while (strstr(both, "\"trade\"") == NULL && n + 1 < sizeof both &&
           (k = recv(fd, both + n, sizeof both - n - 1, 0)) > 0) {
        n += (size_t)k;
        both[n] = '\0';
    }
    assert_non_null(strstr(both, "HTTP/1.1 400"));
    assert_non_null(strstr(both, "is not JSON"));
    assert_non_null(strstr(both, "HTTP/1.1 200"));
    assert_null(strstr(both, "HTTP/1.1 404"));
    close(fd);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rows),
        cmocka_unit_test(test_no_banner),
        cmocka_unit_test(test_pipeline),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
