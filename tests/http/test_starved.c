/* SPDX-License-Identifier: MIT */
/* Routes while memory ends: the n-th allocation is refused, alone or with all after it. Whatever n, the reply is byte for byte
 * that of memory in plenty, or a 503; never one with a part missing. Asked are all routes (but the tasks', which are the
 * daemon's), those that write by the bodies that the fuzz target starts from. The last places of a request are tried one by one (there the reply is made),
 * the others now and then.
 *
 * Then the same under the running server, whose writer, replies and daemon share the memory that ends: whoever is told that
 * it stands finds it in the file, and whoever is told 503 finds the file as it was. */
#include "serving.h"
#include "support/asked.h"
#include "support/failing.h"
#include "support/season.h"

#include "desk/buyers/claims.h"
#include "desk/orders/notices.h"
#include "desk/post/hook.h"
#include "desk/post/outbox.h"
#include "desk/offer/offering.h"
#include <dirent.h>
#include <sqlite3.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

/* Of each request the last places are tried all, for there the reply is made, and some of those before. */
#ifdef __SANITIZE_ADDRESS__
#define LAST_PLACES 40
#define SPREAD      12
#else
#define LAST_PLACES 120
#define SPREAD      30
#endif

/* Reads that want more than their path; all others are asked by the table of routes. */
static const char *const reads[] = {
    "/api/season/ship?day=2032-05-03",
    "/api/projection/AMB",
    "/api/plan/curve?variety=AMB",
    "/api/bench/price?lot=M1&day=2032-02-05",
    "/api/keep/AMB?keep=5",
    "/api/varieties/AMB/asked",
    "/api/allocation/small?rule=first-come",
    "/api/cellar/damper?room=cellar&points=2",
    "/api/lots/M3",
    "/api/lots/nowhere",
    "/api/orders?q=example",
    "/api/orders/1002",
    "/api/orders/1002/lying",
    "/api/orders/1002/beside",
    "/api/orders/%C3%A9",
    "/api/allocation?variety=AMB",
    "/api/waitlist?variety=BRI",
    "/api/substitution/forbidden?order=2002&line=1&substitute=DOV",
    "/api/trace?lot=L1",
    "/api/lineage?lot=L1",
    "/api/export/orders.csv",
    "/api/samples/lots.csv",
    "/api/today/winter",
    "/api/today/orders",
    "/api/today/cellar",
    "/api/waves/1",
    "/api/waves/1/stretches?packers=2",
    "/api/parcels?wave=1",
    "/api/waves/1/carrier.csv",
    "/print/walk?wave=1",
    "/print/slips?wave=1",
    "/print/labels?wave=1",
    "/api/notices/1.eml",
    "/api/claims?answer=perhaps",
    "/api/fits/nobody",
    "/api/season/next?season=2032&ship=2033-04-18&leave_open=yes&buyers_since=2031-01-01",
    "/api/buyers?q=example",
    "/api/merged",
};

static const char *const writes[] = {
    "PATCH /api/orders/1002\n{\"customer\":\"Ada Otherwise\",\"consent\":\"none\"}",
    "POST /api/orders/1002/lines\n{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}",
    "POST /api/orders/1001/merge\n{\"other\":\"1002\"}",
    "POST /api/orders/1001/unmerge\n{\"other\":\"1002\"}",
    "POST /api/orders/1001/together\n{\"other\":\"1002\"}",
    "POST /api/orders/1001/apart\n{\"other\":\"1002\"}",
    "POST /api/rests/close\n{\"orders\":[\"1002\"]}",
    "POST /api/shorts/settle\n{\"items\":[{\"order\":\"1002\",\"line\":1}]}",
    "POST /api/varieties/CIN/code\n{\"to\":\"CINDER\",\"why\":\"a label\",\"commit\":true}",
    "POST /api/varieties/CIN/merge\n{\"to\":\"DOV\",\"why\":\"one plant\",\"commit\":true}",
    "POST /api/varieties/CIN/part\n{\"why\":\"two plants\",\"commit\":true}",
    "POST /api/lots/M4/variety\n{\"to\":\"CIN\",\"why\":\"a stake\",\"commit\":true}",
    "POST /api/put-backs/1/done\n{}",
    "POST /api/parcels/1/claim\n{\"why\":\"frozen\",\"answer\":\"refund\"}",
    "PUT /api/post/account\n{\"server\":\"smtp://127.0.0.1:9\"}",
    "PUT /api/hook\n{\"address\":\"http://127.0.0.1:9/told\"}",
    "POST /api/hook/stop\n{\"stopped\":true}",
    "POST /api/post/letters\n{\"notices\":[{\"notice\":1}]}",
    "POST /api/post/stop\n{\"stopped\":true}",
    "POST /api/notices/sent\n{\"notices\":[{\"notice\":1}],\"evidence\":\"merge\"}",
    "POST /api/season/next\n{\"season\":2031,\"ship\":\"2033-04-18\"}",
    "POST /api/season/close\n{\"season\":2032,\"ship\":\"2033-04-18\"}",
    "POST /api/season/reopen\n{\"why\":\"too early\"}",
    "POST /api/field/plantings\n{\"row\":\"R9\",\"variety\":\"AMB\",\"plants\":30}",
    "POST /api/field/name\n{\"planting\":99,\"row\":\"R2\"}",
    "POST /api/field/rounds\n{\"row\":\"R1\",\"alive\":20}",
    "POST /api/field/dug\n{\"row\":\"R1\",\"clumps\":10,\"culled\":1}",
    "POST /api/field/take\n{\"row\":\"R1\",\"take\":\"yes\"}",
    "POST /api/field/undo\n{\"cause\":\"round\",\"cause_id\":99,\"why\":\"wrong\"}",
    "POST /api/season/left\n{\"items\":[{\"lot\":\"M4\",\"row\":\"B1\",\"planted\":1}]}",
    "POST /api/bench/move\n{\"lot\":\"M1\",\"day\":\"2032-02-05\"}",
    "POST /api/bench/freeze\n{}",
    "POST /api/records/zones\n{\"rows\":[{\"now\":{\"zone\":\"z1\",\"first_week\":\"soon\"}}]}",
    "POST /api/bench/crew\n{\"day\":\"2032-02-05\",\"cutters\":3,\"washers\":1,\"hours\":6.5}",
    "POST /api/bench/washed\n{\"lot\":\"M1\"}",
    "POST /api/bench/let-go\n{\"lot\":\"M1\"}",
    "POST /api/keep\n{\"items\":[{\"variety\":\"AMB\",\"keep\":7}]}",
    "PATCH /api/keep/AMB\n{\"demand\":\"40..90\",\"least\":\"\"}",
    "POST /api/keep-runs/undo\n{\"run\":9}",
    "POST /api/orders/1003/overrule\n{\"rule\":\"destination\",\"why\":\"has a permit\"}",
    "POST /api/season/ship\n{\"day\":\"2032-05-03\",\"why\":\"late "
    "frost\",\"based_on\":{\"day\":\"2032-04-19\"}}",
    "POST "
    "/api/"
    "orders\n[{\"order\":\"W1\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}]},"
    "{\"order\":\"W2\",\"lines\":[{\"variety\":\"NIL\",\"quantity\":1,\"unit_price\":\"6.50\"}]}]",
    "POST "
    "/api/"
    "orders\n{\"order\":\"W1\",\"lines\":[{\"variety\":\"DOV\",\"quantity\":90,\"unit_price\":\"6.50\"}]}",
    "POST "
    "/api/"
    "load\n{\"files\":[{\"name\":\"lots.csv\",\"text\":\"lot,variety,dug_on,clumps\\nM9,NIL,2031-10-29,6\\n"
    "M8,AMB,soon,6\\n\"}]}",
    "POST /api/sheets/ours\n{\"name\":\"lots.csv\",\"text\":\"lot,variety\"}",
    "POST "
    "/api/sheets/look\n{\"name\":\"a.csv\",\"text\":\"Variety;Dug;Clumps;Colour;Place\\nAMB;01/02/"
    "2031;5;;\\nMoth;"
    "02/02/2031;x;red;Q9\\nDove Bel;2031-10-20;4;;C3\\n\"}",
    "POST /api/sheets/take\n{\"name\":\"a.csv\",\"base64\":\"U2hlbGY7Q2VsbGFyClItMDE7b2xkCg==\"}",
    "POST /api/sheets/take\n{\"name\":\"a.csv\",\"text\":\"Variety;Dug\\nAMB;01/02/2031\\n\"}",
    "POST /api/fits/nobody/rename\n{\"to\":\"somebody\"}",
    "DELETE /api/fits/nobody\n",
    "POST /api/load/brought/77/undo\n{\"why\":\"not ours\"}",
};

static const struct {
    const char *word;
    cw_method method;
} methods[] = { { "GET ", CW_GET },
                { "POST ", CW_POST },
                { "PUT ", CW_PUT },
                { "PATCH ", CW_PATCH },
                { "DELETE ", CW_DELETE } };

static asked by;
static const cw_route *tried[ROUTES_MOST]; /* by place */

static cw_request *request_of(const char *text)
{
    cw_error err = CW_ERROR_NONE;
    cw_request *q = calloc(1, sizeof *q);
    bool other = false;
    size_t line = strcspn(text, "\n");
    assert_non_null(q);
    asked_prepare(&by, q);
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++)
        if (strncmp(text, methods[i].word, strlen(methods[i].word)) == 0) {
            size_t word = strlen(methods[i].word);
            q->method = methods[i].method;
            cw_check_ok(cw_uri_parse(text + word, line - word, &q->uri, &err), &err);
        }
    q->route = cw_route_find(q->method, q->uri.path ? q->uri.path : "", q->params, &other);
    if (q->route == NULL)
        fail_msg("no such route: %.*s", (int)line, text);
    tried[route_place(q->route)] = q->route;
    if (text[line])
        asked_body(q, text + line + 1, strlen(text + line + 1));
    return q;
}

/* What was computed from the file is kept for the next call, rightly; here each starts without. */
static void forget_computed(test_nursery *t)
{
    if (t->n->cache)
        t->n->cache_free(t->n->cache);
    t->n->cache = NULL;
}

static cw_request *ask(test_nursery *t, const char *text, long n, bool ever)
{
    cw_error err = CW_ERROR_NONE;
    cw_request *q = request_of(text);
    forget_computed(t);
    cw_check_ok(cw_nursery_batch_begin(t->n, &err), &err);
    failing_arm(FAILING_OURS, n, ever);
    failing_resume();
    cw_code code = asked_run(q, t->n, &err);
    if (code != CW_OK)
        cw_reply_problem(q, &err);
    failing_pause();
    cw_nursery_batch_drop(t->n);
    return q;
}

static bool same(const cw_request *a, const cw_request *b)
{
    return a->status == b->status && strcmp(a->cookie, b->cookie) == 0 &&
           a->reply.length == b->reply.length &&
           (a->reply.length == 0 || memcmp(a->reply.data, b->reply.data, a->reply.length) == 0);
}

/* Adds the places that were refused; fails the test when a reply is neither whole nor a 503. */
static void starve(test_nursery *t, const char *text, bool ever, long *refused)
{
    cw_request *whole = ask(t, text, -1, false);
    long count = failing_count(), dense = count > LAST_PLACES ? count - LAST_PLACES : 0;
    if (whole->status == 0 || whole->status >= 500)
        fail_msg("%.80s: %u with memory in plenty: %.300s", text, whole->status,
                 whole->reply.data ? whole->reply.data : "");
    for (long n = 0; n < count; n += n < dense ? 1 + dense / SPREAD : 1) {
        cw_request *q = ask(t, text, n, ever);
        if (q->status != 503 && !same(q, whole))
            fail_msg("%.80s, place %ld of %ld: %u %.600s\n  instead of %u %.600s", text, n, count, q->status,
                     q->reply.data ? q->reply.data : "", whole->status,
                     whole->reply.data ? whole->reply.data : "");
        *refused += q->status == 503;
        cw_request_free(q);
    }
    cw_request_free(whole);
}

/* Reads that no list names: the table of routes does. */
static void starve_plain(test_nursery *t, bool ever, long *requests, long *refused)
{
    const cw_route *r;
    for (size_t i = 0; (r = cw_route_at(i)); i++) {
        char text[200];
        if (r->method != CW_GET || r->access == CW_ROUTE_NOW || strchr(r->path, '{') || tried[i] == r)
            continue;
        snprintf(text, sizeof text, "GET %s", r->path);
        cw_request *q = ask(t, text, -1, false);
        if (q->status >= 400)
            fail_msg("%s wants more than its path (%u): give it a row among the reads", text, q->status);
        cw_request_free(q);
        starve(t, text, ever, refused);
        ++*requests;
    }
}

static char *read_whole(const char *folder, const char *name)
{
    char path[600];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "rb");
    char *text = calloc(1, 65536);
    assert_non_null(f);
    assert_non_null(text);
    assert_true(fread(text, 1, 65535, f) > 0);
    fclose(f);
    return text;
}

static void starve_kept(test_nursery *t, bool ever, long *requests, long *refused)
{
    static const char folder[] = CW_TEST_DIR "/fuzz/corpus/bodies";
    DIR *d = opendir(folder);
    struct dirent *entry = NULL;
    assert_non_null(d);
    while ((entry = readdir(d)) != NULL) {
        if (entry->d_name[0] == '.')
            continue;
        char *text = read_whole(folder, entry->d_name);
        starve(t, text, ever, refused);
        ++*requests;
        free(text);
    }
    closedir(d);
}

/* What wants an account that is proven, a shop's address, and a letter that was refused. */
static void starve_letters(test_nursery *t, bool ever, long *requests, long *refused)
{
    static const char *const of_letters[] = {
        "POST /api/post/account/forget\n{}",
        "POST /api/hook/forget\n{}",
        "POST /api/hook/test\n{}",
        "POST /api/post/test\n{}",
        "POST /api/outbox/1/again\n{}",
        "POST /api/outbox/1/remove\n{}",
        "POST /api/post/letters\n{\"notices\":[{\"notice\":1}]}",
        "GET /api/outbox?state=refused",
    };
    cw_error err = CW_ERROR_NONE;
    cw_post_letter letter;
    char secret[CW_MAX_HOOK_SECRET + 1];
    t->who.clock = t->who.now;
    cw_check_ok(cw_nursery_set(t->n, &t->who, "sender", "office@example.org", &err), &err);
    cw_check_ok(cw_post_account_set(t->n, &t->who, "smtp://127.0.0.1:9", NULL, NULL, NULL, 0, &err), &err);
    cw_check_ok(cw_hook_set(t->n, &t->who, "http://127.0.0.1:9/told", secret, &err), &err);
    cw_check_ok(cw_post_test(t->n, &t->who, &err), &err);
    cw_check_ok(cw_post_take(t->n, &t->who, &letter, &err), &err);
    cw_check_ok(cw_post_told(t->n, &t->who, letter.id, CW_CARRIED_REFUSED, "550 no", &err), &err);
    cw_post_letter_free(&letter);
    for (size_t i = sizeof of_letters / sizeof of_letters[0]; i-- > 0; ++*requests)
        starve(t, of_letters[i], ever, refused);
}

static void all_were_asked(void)
{
    int missing = 0;
    const cw_route *r;
    for (size_t i = 0; (r = cw_route_at(i)); i++)
        if (r->access != CW_ROUTE_NOW && tried[i] != r) {
            print_error("no request for %s (method %d)\n", r->path, (int)r->method);
            missing++;
        }
    assert_int_equal(missing, 0);
}

static void a_reply_is_whole_or_none(void **state)
{
    bool ever = *state != NULL;
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_notices_made made = { 0 };
    cw_claim_ask claim = { .order = "1001", .line = 1, .quantity = 1, .why = "soft", .answer = "open" };
    int64_t id = 0;
    char key[CW_TOKEN_TEXT];
    long requests = 0, refused = 0;
    failing_pause();
    season_make(&t);
    cw_check_ok(cw_accounts_key_add(t.n, &t.who, "scales", CW_ROLE_OFFICE, CW_NO_DAY, key, &err), &err);
    asked_sign_in(&by, &t, "Olga", SEASON_PASSWORD);
    asked_factors(&t, "Pim", "Olga");
    cw_check_ok(cw_notices_make(t.n, &t.who, &made, &err), &err);
    cw_check_ok(cw_claims_add(t.n, &t.who, &claim, &id, &err), &err);
    for (size_t i = 0; i < sizeof reads / sizeof reads[0]; i++, requests++) {
        char text[200];
        snprintf(text, sizeof text, "GET %s", reads[i]);
        starve(&t, text, ever, &refused);
    }
    starve_plain(&t, ever, &requests, &refused);
    for (size_t i = 0; i < sizeof writes / sizeof writes[0]; i++, requests++)
        starve(&t, writes[i], ever, &refused);
    starve_kept(&t, ever, &requests, &refused);
    starve_letters(&t, ever, &requests, &refused);
    all_were_asked();
    print_message("%ld requests; %ld times without memory a 503\n", requests, refused);
    assert_true(refused > requests);
    asked_free(&by);
    test_nursery_free(&t);
}

/* Changes that can be asked for again and again; # stands for a number that is another one each time. */
static const char *const changes[] = {
    "POST "
    "/api/"
    "orders\n{\"order\":\"S#\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}]}",
    "PATCH /api/settings\n{\"confidence\":\"0.9#\"}",
    "POST /api/counts\n{\"lot\":\"M4\",\"stage\":\"division\",\"count\":1#}",
};

/* Asks without taking memory itself: 0 when the connection was closed without a reply. */
static int bare_status(unsigned port, const char *request, size_t n)
{
    char reply[256] = "";
    size_t got = 0;
    int fd = wire_open(port);
    assert_true(fd >= 0);
    if (wire_send(fd, request, n))
        for (ssize_t k = 1; k > 0 && got<sizeof reply - 1; got += k> 0 ? (size_t)k : 0)
            k = recv(fd, reply + got, sizeof reply - 1 - got, 0);
    close(fd);
    return strncmp(reply, "HTTP/1.1 ", 9) == 0 ? (int)strtol(reply + 9, NULL, 10) : 0;
}

/* How many entries the audit has: each change adds one. */
static long changes_so_far(serving *s)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    assert_int_equal(sqlite3_open_v2(s->t.path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, "SELECT COUNT(*) FROM audit", -1, &q, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(q), SQLITE_ROW);
    long n = (long)sqlite3_column_int64(q, 0);
    sqlite3_finalize(q);
    sqlite3_close(raw);
    return n;
}

/* One change with the n-th allocation refused; what was told must be what is. */
static int change_starved(serving *s, const char *key, const char *text, long n, bool ever, long serial)
{
    char body[300], request[700];
    const char *line = strchr(text, '\n');
    size_t head = strcspn(line, "#");
    snprintf(body, sizeof body, "%.*s%ld%s", (int)head - 1, line + 1, serial, line + head + 1);
    int length = snprintf(
        request, sizeof request,
        "%.*s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nAuthorization: Bearer %s\r\nContent-Type: "
        "application/json\r\nContent-Length: %zu\r\n\r\n%s",
        (int)(line - text), text, key, strlen(body), body);
    long before = changes_so_far(s);
    failing_arm(FAILING_OURS, n, ever);
    failing_resume();
    int status = bare_status(s->port, request, (size_t)length);
    failing_pause();
    long made = changes_so_far(s) - before;
    if (status && (made > 0) != (status >= 200 && status < 300))
        fail_msg("%.40s, place %ld: told %d, and %ld changes stand", text, n, status, made);
    return status;
}

static void what_was_told_is_so(void **state)
{
    bool ever = *state != NULL;
    serving s = { 0 };
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    cw_offering_ask offer = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    const cw_offering_item amber = { "AMB", 5000 };
    char key[CW_TOKEN_TEXT];
    long serial = 1, told[2] = { 0 };
    failing_pause();
    season_make(&s.t);
    cw_check_ok(cw_accounts_key_add(s.t.n, &s.t.who, "program", CW_ROLE_OWNER, CW_NO_DAY, key, &err), &err);
    s.how = (cw_serve){ .path = s.t.path, .listen = "127.0.0.1:0", .today = s.t.who.today };
    cw_check_ok(cw_offering_release(s.t.n, &s.t.who, &offer, &amber, 1, "test", &t, &err), &err);
    cw_table_free(&t);
    s.how.refine_ms = 3600000; /* nobody else allocates meanwhile */
    serving_start(&s);
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        assert_in_range(change_starved(&s, key, changes[i], -1, false, serial++), 200, 299);
        long count = failing_count();
        for (long n = 0; n < count; n++) {
            int status = change_starved(&s, key, changes[i], n, ever, serial++ % 9 + (i == 0 ? 10 * n : 1));
            told[0] += status == 503;
            told[1] += status >= 200 && status < 300;
        }
    }
    print_message("%ld times 503 and nothing changed, %ld times done\n", told[0], told[1]);
    assert_true(told[0] > 20);
    serving_free(&s);
}

int main(void)
{
    static bool ever = true;
    const struct CMUnitTest tests[] = {
        { "one allocation fails", a_reply_is_whole_or_none, NULL, NULL, NULL },
        { "all from there on fail", a_reply_is_whole_or_none, NULL, NULL, &ever },
        { "one fails under the server", what_was_told_is_so, NULL, NULL, NULL },
        { "all from there on fail under the server", what_was_told_is_so, NULL, NULL, &ever },
    };
    failing_install();
    asked_repeat();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
