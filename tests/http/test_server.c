/* SPDX-License-Identifier: MIT */
/* The server's promises: limits, kept replies, idempotency keys, files, slow clients, an orderly stop. */
#include "serving.h"

#include "desk/intake/intake.h"
#include "desk/offer/offering.h"
#include <pthread.h>
#include <sys/stat.h>
#include <time.h>

/* Two varieties on offer, ten of each. */
static void make_with_offer(serving *s, bool people)
{
    static const char csv[] = "code,name,price\nBALL,Small Ball,5.00\nSTAR,White Star,6.00\n";
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    cw_intake_file file = { .name = "varieties.csv", .bytes = csv, .length = sizeof csv - 1 };
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    const cw_offering_item items[] = { { "BALL", 10 }, { "STAR", 10 } };
    serving_make(s, people);
    cw_check_ok(cw_intake_load(s->t.n, &s->t.who, &file, 1, &(cw_intake_options){ 0 }, &t, &errors, &err),
                &err);
    cw_table_free(&t);
    cw_check_ok(cw_offering_release(s->t.n, &s->t.who, &ask, items, 2, "test", &t, &err), &err);
    cw_table_free(&t);
    serving_start(s);
}

static void order_body(char out[256], const char *number, const char *variety, int quantity)
{
    snprintf(out, 256,
             "{\"order\":\"%s\",\"lines\":[{\"line\":1,\"variety\":\"%s\",\"quantity\":%d,\"unit_price\":\"5."
             "00\"}]}",
             number, variety, quantity);
}

static int left_of(serving *s, const char *variety)
{
    wire_reply r = wire_ask(s->port, "GET", "/api/availability", NULL, NULL);
    json_t *list = json_loads(r.body, 0, NULL), *row;
    size_t i;
    int left = -1;
    json_array_foreach(list, i, row)
    {
        if (strcmp(json_string_value(json_object_get(row, "variety")), variety) == 0)
            left = (int)json_integer_value(json_object_get(row, "left"));
    }
    json_decref(list);
    wire_free(&r);
    return left;
}

static void test_orders_and_availability(void **state)
{
    serving s;
    char body[256];
    (void)state;
    make_with_offer(&s, false);
    for (int i = 1; i <= 3; i++) {
        char number[8];
        snprintf(number, sizeof number, "A%d", i);
        order_body(body, number, "BALL", 3);
        assert_int_equal(left_of(&s, "BALL"), 10 - 3 * (i - 1));
        assert_int_equal(serving_status(&s, "POST", "/api/orders", NULL, body), 201);
        assert_int_equal(left_of(&s, "BALL"), 10 - 3 * i); /* whoever was told "taken" sees it */
    }
    order_body(body, "A4", "BALL", 2);
    wire_reply r = wire_ask(s.port, "POST", "/api/orders", NULL, body);
    assert_int_equal(r.status, 409);
    json_t *o = json_loads(r.body, 0, NULL);
    assert_int_equal(json_integer_value(json_object_get(o, "left")), 1);
    assert_string_equal(json_string_value(json_object_get(o, "variety")), "BALL");
    json_decref(o);
    wire_free(&r);
    serving_free(&s);
}

/* One bad order of a list does not fail the others, and sending the list again takes nothing twice. */
static void test_list_of_orders(void **state)
{
    serving s;
    char a[256], b[256], c[256], list[1024];
    (void)state;
    make_with_offer(&s, false);
    order_body(a, "L1", "BALL", 1);
    order_body(b, "L2", "BALL", 99);
    order_body(c, "L3", "STAR", 2);
    snprintf(list, sizeof list, "[%s,%s,%s]", a, b, c);
    for (int i = 0; i < 2; i++) {
        wire_reply r = wire_ask(s.port, "POST", "/api/orders", NULL, list);
        assert_int_equal(r.status, 409);
        json_t *o = json_loads(r.body, 0, NULL), *orders = json_object_get(o, "orders");
        assert_int_equal(json_array_size(orders), 3);
        assert_true(json_is_true(json_object_get(json_array_get(orders, 0), "taken")));
        assert_true(json_is_false(json_object_get(json_array_get(orders, 1), "taken")));
        assert_true(json_is_true(json_object_get(json_array_get(orders, 2), "taken")));
        json_decref(o);
        wire_free(&r);
        assert_int_equal(left_of(&s, "BALL"), 9);
        assert_int_equal(left_of(&s, "STAR"), 8);
    }
    serving_free(&s);
}

static void test_idempotency_key(void **state)
{
    static const char key[] = "Idempotency-Key: 3f1c7a52-aaaa\r\n";
    serving s;
    char body[256];
    (void)state;
    make_with_offer(&s, false);
    order_body(body, "K1", "STAR", 4);
    wire_reply first = wire_ask(s.port, "POST", "/api/orders", key, body);
    wire_reply second = wire_ask(s.port, "POST", "/api/orders", key, body);
    assert_int_equal(first.status, 201);
    assert_int_equal(second.status, 201);
    assert_string_equal(first.body, second.body);
    wire_free(&first);
    wire_free(&second);
    assert_int_equal(left_of(&s, "STAR"), 6);
    order_body(body, "K2", "STAR", 4);
    assert_int_equal(serving_status(&s, "POST", "/api/orders", key, body), 422);
    assert_int_equal(left_of(&s, "STAR"), 6);
    assert_int_equal(serving_status(&s, "POST", "/api/orders", "Idempotency-Key: short\r\n", body), 400);
    /* What was refused may be tried again under the same key. */
    order_body(body, "K3", "STAR", 7);
    assert_int_equal(serving_status(&s, "POST", "/api/orders", "Idempotency-Key: 3f1c7a52-bbbb\r\n", body),
                     409);
    order_body(body, "K3", "STAR", 6);
    assert_int_equal(serving_status(&s, "POST", "/api/orders", "Idempotency-Key: 3f1c7a52-bbbb\r\n", body),
                     201);
    serving_free(&s);
}

static void test_etag(void **state)
{
    static const char *const targets[] = { "/api/availability", "/api/projection" };
    serving s;
    char tag[512], headers[600], value[512], body[256];
    (void)state;
    make_with_offer(&s, false);
    for (size_t i = 0; i < 2; i++) {
        wire_reply r = wire_ask(s.port, "GET", targets[i], NULL, NULL);
        assert_int_equal(r.status, 200);
        assert_non_null(wire_header(&r, "ETag", tag));
        wire_free(&r);
        snprintf(headers, sizeof headers, "If-None-Match: %s\r\n", tag);
        r = wire_ask(s.port, "GET", targets[i], headers, NULL);
        assert_int_equal(r.status, 304);
        assert_int_equal(r.body_length, 0);
        wire_free(&r);
        order_body(body, i ? "E2" : "E1", "BALL", 1);
        assert_int_equal(serving_status(&s, "POST", "/api/orders", NULL, body), 201);
        r = wire_ask(s.port, "GET", targets[i], headers, NULL);
        assert_int_equal(r.status, 200);
        assert_non_null(wire_header(&r, "ETag", value));
        assert_string_not_equal(value, tag);
        wire_free(&r);
    }
    wire_reply r = wire_ask(s.port, "GET", "/api/availability", "Accept-Encoding: gzip, br\r\n", NULL);
    assert_string_equal(wire_header(&r, "Content-Encoding", value), "gzip");
    assert_int_equal((unsigned char)r.body[0], 0x1F); /* RFC 1952, 2.3.1 */
    assert_int_equal((unsigned char)r.body[1], 0x8B);
    wire_free(&r);
    r = wire_ask(s.port, "HEAD", "/api/availability", NULL, NULL);
    assert_int_equal(r.status, 200);
    assert_int_equal(r.body_length, 0);
    wire_free(&r);
    serving_free(&s);
}

static void test_bodies(void **state)
{
    static const struct {
        const char *name, *body;
        int status;
    } rows[] = {
        { "not JSON", "{", 400 },
        { "text after it", "{} {}", 400 },
        { "a member twice", "{\"confidence\":\"0.8\",\"confidence\":\"0.9\"}", 400 },
        { "NUL in a text", "{\"name\":\"a\\u0000b\"}", 400 },
        { "broken UTF-8", "{\"name\":\"\xC3\x28\"}", 400 },
        /* The library that reads JSON cuts what it shows of the body at a byte (found by tests/fuzz/fuzz_orders). */
        { "an escape cut in a long text",
          "{\"2r\\udc\xEC\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A"
          "\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A\x8A"
          "\x8A\x8A\x8A\\ud}",
          400 },
        { "half a surrogate", "{\"name\":\"\\ud800\"}", 400 },
        { "a list where an object is due", "[]", 422 },
        { "an unknown member", "{\"nonsense\":\"1\"}", 422 },
        { "a number where a text is due", "{\"confidence\":0.8}", 422 },
        { "out of bounds", "{\"confidence\":\"7\"}", 422 },
        { "nothing to do", "{}", 200 },
    };
    serving s;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        wire_reply r = wire_ask(s.port, "PATCH", "/api/settings", NULL, rows[i].body);
        if (r.status != rows[i].status)
            fail_msg("%s: %d, want %d", rows[i].name, r.status, rows[i].status);
        wire_free(&r);
    }
    size_t deep = 100000;
    char *nested = malloc(deep + 1);
    memset(nested, '[', deep);
    nested[deep] = '\0';
    int status = serving_status(&s, "PATCH", "/api/settings", NULL, nested);
    assert_true(status == 413 || status == 400);
    nested[60000] = '\0';
    assert_int_equal(serving_status(&s, "PATCH", "/api/settings", NULL, nested), 400);
    free(nested);
    serving_free(&s);
}

static void test_limits(void **state)
{
    serving s;
    char *big = calloc(1, 80000), *line = calloc(1, 80000), value[512];
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    memset(big, 'x', 70000);
    assert_int_equal(serving_status(&s, "PATCH", "/api/settings", NULL, big), 413);
    assert_int_equal(serving_status(&s, "GET", "/api/revision", NULL, "{}"), 413);
    snprintf(line, 80000, "GET /%.5000s HTTP/1.1\r\nHost: localhost\r\n\r\n", big);
    int fd = wire_open(s.port);
    wire_send(fd, line, strlen(line));
    wire_reply r = wire_read(fd);
    assert_true(r.status == 400 || r.status == 414);
    wire_free(&r);
    close(fd);
    snprintf(line, 80000, "GET /api/revision HTTP/1.1\r\nHost: localhost\r\nX-A: %.60000s\r\n\r\n", big);
    fd = wire_open(s.port);
    wire_send(fd, line, strlen(line));
    r = wire_read(fd);
    assert_true(r.status == 431 || r.status == 0);
    wire_free(&r);
    close(fd);
    r = wire_ask(s.port, "POST", "/api/revision", NULL, NULL);
    assert_int_equal(r.status, 405);
    assert_string_equal(wire_header(&r, "Allow", value), "GET");
    wire_free(&r);
    free(big);
    free(line);
    serving_free(&s);
}

static void test_one_address_cannot_take_all(void **state)
{
    serving s;
    int fds[12], closed = 0;
    (void)state;
    serving_make(&s, false);
    s.how.per_address = 6;
    serving_start(&s);
    for (int i = 0; i < 12; i++)
        fds[i] = wire_open(s.port);
    for (int i = 0; i < 12; i++)
        closed += wire_is_closed(fds[i], 300);
    assert_int_equal(closed, 6);
    for (int i = 0; i < 12; i++)
        close(fds[i]);
    serving_free(&s);
}

static void pause_ms(long ms)
{
    nanosleep(&(struct timespec){ ms / 1000, (ms % 1000) * 1000000L }, NULL);
}

/* A client that sends a byte now and then is cut off, and others are served meanwhile. */
static void test_slow_clients(void **state)
{
    static const char *const slow[] = {
        "GET /api/revision HTTP/1.1\r\nHost: localhost\r\nX-Slow: ",
        "PATCH /api/settings HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        "Content-Length: 5000\r\n\r\n{"
    };
    serving s;
    int fds[40];
    (void)state;
    serving_make(&s, false);
    s.how.header_ms = 1000;
    s.how.body_ms = 1000;
    serving_start(&s);
    for (int i = 0; i < 40; i++) {
        fds[i] = wire_open(s.port);
        assert_true(wire_send(fds[i], slow[i % 2], strlen(slow[i % 2])));
    }
    for (int k = 0; k < 30; k++) {
        for (int i = 0; i < 40; i++)
            wire_send(fds[i], "a", 1);
        assert_int_equal(serving_status(&s, "GET", "/api/revision", NULL, NULL), 200);
        pause_ms(100);
    }
    for (int i = 0; i < 40; i++) {
        if (!wire_is_closed(fds[i], 10000))
            fail_msg("slow client %d is still there", i);
        close(fds[i]);
    }
    serving_free(&s);
}

static void write_file(const char *folder, const char *name, const char *text)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "we");
    assert_non_null(f);
    fputs(text, f);
    fclose(f);
}

static void test_files(void **state)
{
    serving s;
    char web[96], path[256], value[512];
    (void)state;
    serving_make(&s, false);
    snprintf(web, sizeof web, "%s/web", s.t.folder);
    snprintf(path, sizeof path, "%s/assets", web);
    assert_int_equal(mkdir(web, 0700) | mkdir(path, 0700), 0);
    write_file(web, "index.html", "<!doctype html>");
    write_file(web, "assets/a.js", "1");
    write_file(web, "assets/a.js.gz", "squeezed");
    write_file(web, ".secret.txt", "no");
    write_file(s.t.folder, "outside.txt", "no");
    snprintf(path, sizeof path, "%s/link.txt", web);
    assert_int_equal(symlink("../outside.txt", path), 0);
    s.how.web = web;
    serving_start(&s);
    wire_reply r = wire_ask(s.port, "GET", "/", NULL, NULL);
    assert_int_equal(r.status, 200);
    assert_non_null(strstr(wire_header(&r, "Content-Security-Policy", value), "default-src 'none'"));
    assert_string_equal(wire_header(&r, "X-Content-Type-Options", value), "nosniff");
    wire_free(&r);
    r = wire_ask(s.port, "GET", "/assets/a.js", "Accept-Encoding: gzip\r\n", NULL);
    assert_string_equal(r.body, "squeezed");
    assert_non_null(strstr(wire_header(&r, "Cache-Control", value), "immutable"));
    wire_free(&r);
    r = wire_ask(s.port, "GET", "/assets/a.js", NULL, NULL);
    assert_string_equal(r.body, "1");
    wire_header(&r, "ETag", value);
    wire_free(&r);
    snprintf(path, sizeof path, "If-None-Match: %.100s\r\n", value);
    assert_int_equal(serving_status(&s, "GET", "/assets/a.js", path, NULL), 304);
    static const char *const none[] = {
        "/link.txt", "/.secret.txt",       "/../outside.txt",          "/assets",
        "/assets/",  "/web/../index.html", "/assets/../../outside.txt"
    };
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
        assert_int_equal(serving_status(&s, "GET", none[i], NULL, NULL), 404);
    static const char *const names[] = { "web/link.txt",       "web/.secret.txt",
                                         "web/assets/a.js.gz", "web/assets/a.js",
                                         "web/index.html",     "outside.txt",
                                         "web/assets",         "web" };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", s.t.folder, names[i]);
        assert_int_equal(remove(path), 0);
    }
    serving_free(&s);
}

/* OWASP ASVS 4.0.3, 12.3.4: a table is saved by its own name; what is refused is saved by none, whatever the address says. */
static void test_names_of_downloads(void **state)
{
    static const struct {
        const char *target, *name;
        int status;
    } rows[] = { { "/api/export/orders.csv", "attachment; filename=\"orders.csv\"", 200 },
                 { "/api/export/season.xlsx", "attachment; filename=\"season.xlsx\"", 200 },
                 { "/api/export/setup.bat", NULL, 404 },
                 { "/api/export/setup.bat.csv", NULL, 404 },
                 { "/api/export/orders.csv?nonsense=1", NULL, 400 },
                 { "/api/records/setup.csv", NULL, 405 } };
    serving s;
    char value[512];
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        wire_reply r = wire_ask(s.port, "GET", rows[i].target, NULL, NULL);
        if (wire_header(&r, "X-Content-Type-Options", value) == NULL || strcmp(value, "nosniff") != 0)
            fail_msg("%s: a browser may guess what it is", rows[i].target);
        bool named = wire_header(&r, "Content-Disposition", value) != NULL;
        if (r.status != rows[i].status || named != (rows[i].name != NULL) ||
            (named && strcmp(value, rows[i].name) != 0))
            fail_msg("%s: %d, %s", rows[i].target, r.status, named ? value : "no name");
        wire_free(&r);
    }
    serving_free(&s);
}

/* Orders that came before the stop are finished; all that were answered are on record. */
typedef struct seller {
    unsigned port, number;
    int taken;
} seller;

static void *sell(void *self)
{
    seller *me = self;
    for (int i = 0; i < 100000; i++) {
        char body[256], number[32];
        snprintf(number, sizeof number, "S%u-%d", me->number, i);
        snprintf(body, sizeof body,
                 "{\"order\":\"%s\",\"lines\":[{\"line\":1,\"variety\":\"BALL\",\"quantity\":1,\"unit_"
                 "price\":\"5.00\"}]}",
                 number);
        wire_reply r = wire_ask(me->port, "POST", "/api/orders", NULL, body);
        int status = r.status;
        wire_free(&r);
        if (status == 201)
            __atomic_fetch_add(&me->taken, 1, __ATOMIC_RELAXED);
        else if (status == 0 || status == 503)
            break;
    }
    return NULL;
}

static void test_stop(void **state)
{
    serving s;
    cw_error err = CW_ERROR_NONE;
    cw_table t = { 0 };
    pthread_t threads[8];
    seller sellers[8];
    int taken = 0;
    (void)state;
    make_with_offer(&s, false);
    serving_stop(&s);
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    cw_check_ok(cw_offering_release(s.t.n, &s.t.who, &ask, &(cw_offering_item){ "BALL", 1000000 }, 1, "test",
                                    &t, &err),
                &err);
    cw_table_free(&t);
    serving_start(&s);
    for (unsigned i = 0; i < 8; i++) {
        sellers[i] = (seller){ .port = s.port, .number = i };
        assert_int_equal(pthread_create(&threads[i], NULL, sell, &sellers[i]), 0);
    }
    for (int i = 0; i < 600 && __atomic_load_n(&sellers[0].taken, __ATOMIC_RELAXED) == 0; i++)
        pause_ms(100); /* the first of a slow machine */
    pause_ms(700);
    serving_stop(&s);
    for (int i = 0; i < 8; i++) {
        pthread_join(threads[i], NULL);
        taken += sellers[i].taken;
    }
    cw_check_ok(cw_offering_availability(s.t.n, &t, &err), &err);
    assert_string_equal(cw_table_text(&t, 0, 0), "BALL");
    print_message("%d orders taken before the stop\n", taken);
    assert_true(taken > 0);
    assert_int_equal(cw_table_int(&t, 0, (size_t)cw_table_column(&t, "sold")), taken);
    cw_table_free(&t);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_orders_and_availability),
        cmocka_unit_test(test_list_of_orders),
        cmocka_unit_test(test_idempotency_key),
        cmocka_unit_test(test_etag),
        cmocka_unit_test(test_bodies),
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_one_address_cannot_take_all),
        cmocka_unit_test(test_slow_clients),
        cmocka_unit_test(test_files),
        cmocka_unit_test(test_names_of_downloads),
        cmocka_unit_test(test_stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
