/* SPDX-License-Identifier: MIT */
/* What the log and the audit are told of who was turned away: a line each, with the route of the table, numbers and words of
 * this program only, and never so many that the journal fills. OWASP ASVS 4.0.3: 7.1.2, 7.1.3, 7.1.4, 7.2.1, 7.2.2, 7.3.1,
 * 8.1.4. */
#include "logged.h"
#include "serving.h"

#include "desk/export/exporting.h"
#include <time.h>

#include "base/banned.h"

static bool was_told(const char *line)
{
    pthread_mutex_lock(&logged.lock);
    bool told = strstr(logged.text, line) != NULL;
    pthread_mutex_unlock(&logged.lock);
    return told;
}

static void start(serving *s)
{
    logged.text[0] = '\0';
    logged.lines = 0;
    serving_make(s, true);
    s->how.say = keep_line;
}

/* Persons of serving_make: 1 owner, 2 office, 3 packer, 4 cellar. */
static void test_a_line_each(void **state)
{
    static const struct {
        const char *name, *method, *target, *more, *body;
        bool as_packer;
        int status;
        const char *line;
    } rows[] = {
        { "a wrong password", "POST", "/api/session", "",
          "{\"name\":\"office\",\"password\":\"not the right one\"}", false, 401,
          "refused: password; POST /api/session; account 2\n" },
        { "an unknown name", "POST", "/api/session", "",
          "{\"name\":\"Zqx\\nrefused: role\",\"password\":\"not the right one\"}", false, 400, NULL },
        { "a name of nobody", "POST", "/api/session", "",
          "{\"name\":\"Zqx\",\"password\":\"not the right one\"}", false, 401,
          "refused: password; POST /api/session; no account\n" },
        { "nobody", "GET", "/api/orders", "", NULL, false, 401,
          "refused: sign-in; GET /api/orders; nobody\n" },
        { "beyond the role", "PATCH", "/api/people/Zqx%0Arefused", "", "{}", true, 403,
          "refused: role; PATCH /api/people/{name}; person 3, packer\n" },
        { "another site's page", "POST", "/api/undo", "Sec-Fetch-Site: cross-site\r\n", "{}", true, 403,
          "refused: origin; POST /api/undo; nobody\n" },
        { "not JSON", "POST", "/api/picks", "", "{Zqx", true, 400,
          "refused: bad-request; POST /api/picks; person 3, packer\n" },
        { "a member too many", "POST", "/api/waves", "", "{\"zqx\":1}", true, 422,
          "refused: data; POST /api/waves; person 3, packer\n" },
        { "a body where none is taken", "GET", "/api/revision", "", "{}", true, 413,
          "refused: too-large; GET /api/revision; person 3, packer\n" },
        { "an odd header", "GET", "/api/orders", "X-(odd): Zqx\r\n", NULL, true, 400,
          "refused: header; no route; nobody\n" },
    };
    char packer[512], headers[700];
    serving s;
    (void)state;
    start(&s);
    serving_start(&s);
    serving_sign_in(&s, "packer", packer);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(headers, sizeof headers, "%s%s", rows[i].more, rows[i].as_packer ? packer : "");
        wire_reply r = wire_ask(s.port, rows[i].method, rows[i].target, headers, rows[i].body);
        if (rows[i].line && (r.status != rows[i].status || !was_told(rows[i].line)))
            fail_msg("%s: %d, log:\n%s", rows[i].name, r.status, logged.text);
        wire_free(&r);
    }
    assert_false(was_told("Zqx") || was_told("zqx") || was_told("127.0.0.1") || was_told("\nrefused\n"));
    serving_free(&s);
}

/* Ten lines of a reason, whatever comes, and the others counted; another reason keeps its own ten. */
static void test_capped(void **state)
{
    serving s;
    (void)state;
    start(&s);
    serving_start(&s);
    for (int i = 0; i < 300; i++)
        assert_int_equal(serving_status(&s, "GET", "/api/people", NULL, NULL), 401);
    assert_int_equal(logged.lines, 10);
    assert_int_equal(serving_status(&s, "POST", "/api/session", NULL,
                                    "{\"name\":\"office\",\"password\":\"not the right one\"}"),
                     401);
    assert_int_equal(logged.lines, 11);
    serving_stop(&s);
    assert_int_equal(logged.lines, 12);
    assert_true(was_told("refused: sign-in; and 290 more within a minute\n"));
    serving_free(&s);
}

static int held_back(serving *s, const char *what)
{
    cw_table audit = { 0 };
    cw_error err = CW_ERROR_NONE;
    int n = 0;
    cw_check_ok(cw_exporting_audit(s->t.n, 0, 1000, &audit, &err), &err);
    int action = cw_table_column(&audit, "action"), subject = cw_table_column(&audit, "subject");
    assert_true(action >= 0 && subject >= 0);
    for (size_t i = 0; i < cw_table_rows(&audit); i++)
        n += strcmp(cw_table_text(&audit, i, action), "held back") == 0 &&
             strcmp(cw_table_text(&audit, i, subject), what) == 0;
    cw_table_free(&audit);
    return n;
}

/* 8.1.4: more tries, or more connections, than people make: in the log at once, in the audit once an hour. */
static void test_unusual(void **state)
{
    int fds[8];
    serving s;
    (void)state;
    start(&s);
    s.how.per_address = 8;
    serving_start(&s);
    for (int k = 0; k < 2; k++) {
        static const char *const bodies[] = { "{\"name\":\"office\",\"password\":\"not the right one\"}",
                                              "{\"name\":\"cellar\",\"password\":\"not the right one\"}" };
        for (int i = 0; i < 6; i++)
            assert_int_equal(serving_status(&s, "POST", "/api/session", NULL, bodies[k]), i < 5 ? 401 : 429);
    }
    assert_true(was_told("unusual: many tries to sign in; held back\n"));
    assert_true(was_told("refused: wait; POST /api/session; "));
    for (int i = 0; i < 8; i++)
        fds[i] = wire_open(s.port);
    for (int i = 0; i < 1500 && !was_told("unusual: many connections of one address; held back\n"); i++)
        nanosleep(&(struct timespec){ 0, 20000000L }, NULL);
    assert_true(was_told("unusual: many connections of one address; held back\n"));
    for (int i = 0; i < 8; i++)
        close(fds[i]);
    serving_stop(&s);
    assert_int_equal(held_back(&s, "tries to sign in"), 1);
    assert_int_equal(held_back(&s, "connections of one address"), 1);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_line_each),
        cmocka_unit_test(test_capped),
        cmocka_unit_test(test_unusual),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
