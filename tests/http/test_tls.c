/* SPDX-License-Identifier: MIT */
/* TLS by the library's GnuTLS: 1.2 and 1.3 with a certificate of an own authority, nothing older, and cookies that only TLS
 * carries. OWASP ASVS 4.0.3: 9.1.1 - 9.1.3, 3.4.1, 3.4.4. The second opinion is curl and openssl. */
#include "serving.h"

#include <sys/wait.h>

static int shell(const char *command)
{
    int status = system(command);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void make_certificate(const char *folder)
{
    char command[600];
    snprintf(command, sizeof command,
             "cd %s && openssl ecparam -name prime256v1 -genkey -noout -out key.pem 2>/dev/null && "
             "openssl req -x509 -new -key key.pem -days 7 -subj /CN=localhost -addext "
             "subjectAltName=DNS:localhost "
             "-out cert.pem 2>/dev/null",
             folder);
    assert_int_equal(shell(command), 0);
}

static void test_versions(void **state)
{
    static const struct {
        const char *name, *options;
        int exit; /* of curl: 0 fine, 35 no handshake, 60 unknown authority */
    } rows[] = {
        { "1.3", "--tlsv1.3", 0 },
        { "1.2", "--tlsv1.2 --tls-max 1.2", 0 },
        { "1.1", "--tlsv1.0 --tls-max 1.1 --ciphers DEFAULT@SECLEVEL=0", 35 },
        { "1.2 without forward secrecy", "--tls-max 1.2 --ciphers AES256-GCM-SHA384", 35 },
        { "1.2 with CBC", "--tls-max 1.2 --ciphers ECDHE-ECDSA-AES256-SHA384", 35 },
    };
    serving s;
    char cert[128], key[128], command[1200];
    (void)state;
    serving_make(&s, true);
    make_certificate(s.t.folder);
    snprintf(cert, sizeof cert, "%s/cert.pem", s.t.folder);
    snprintf(key, sizeof key, "%s/key.pem", s.t.folder);
    s.how.cert = cert;
    s.how.key = key;
    s.how.listen = "0.0.0.0:0"; /* with accounts and TLS this is allowed */
    serving_start(&s);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(command, sizeof command,
                 "curl -s -m 10 -o /dev/null %s --cacert %s https://localhost:%u/api/session",
                 rows[i].options, cert, s.port);
        int status = shell(command);
        if (status != rows[i].exit)
            fail_msg("TLS %s: curl ended with %d, want %d", rows[i].name, status, rows[i].exit);
    }
    /* Session cookie of the __Host- kind, Secure; HSTS. */
    snprintf(command, sizeof command,
             "curl -s -m 10 -D %s/head -o /dev/null --cacert %s -H 'Content-Type: application/json' "
             "-d '{\"name\":\"owner\",\"password\":\"" OWNER_PASSWORD
             "\"}' https://localhost:%u/api/session && tr -d '\\r' <%s/head >%s/h && "
             "grep -q '^Set-Cookie: __Host-clumpwise=.*; Path=/; HttpOnly; SameSite=Strict; Secure$' %s/h && "
             "grep -q '^Strict-Transport-Security: max-age=31536000$' %s/h; r=$?; rm %s/head %s/h; exit $r",
             s.t.folder, cert, s.port, s.t.folder, s.t.folder, s.t.folder, s.t.folder, s.t.folder,
             s.t.folder);
    assert_int_equal(shell(command), 0);
    /* Plain HTTP to the TLS port gets nothing out of it. */
    wire_reply r = wire_ask(s.port, "GET", "/api/session", NULL, NULL);
    assert_int_equal(r.status, 0);
    wire_free(&r);
    /* Header blocks are looked at behind TLS as they are without (http/hygiene.c): a bare LF made up for by a blank. */
    static const struct {
        const char *bytes, *status;
    } blocks[] = { { "Host: localhost\\r\\nConnection: close\\r\\n\\r\\n", "200" },
                   { "Host: localhost\\nX-A:  b\\r\\n\\r\\n", "400" } };
    for (size_t i = 0; i < 2; i++) {
        snprintf(command, sizeof command,
                 "(printf 'GET /api/session HTTP/1.1\\r\\n%s'; sleep 1) | timeout 10 openssl s_client -quiet "
                 "-connect "
                 "localhost:%u 2>/dev/null | head -1 | grep -q '^HTTP/1.1 %s'",
                 blocks[i].bytes, s.port, blocks[i].status);
        assert_int_equal(shell(command), 0);
    }
    unlink(cert);
    unlink(key);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_versions) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
