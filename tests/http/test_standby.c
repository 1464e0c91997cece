/* SPDX-License-Identifier: MIT */
/* How far the second place is behind, as the server tells it. The engine that copies is not here: a file in the folder stands for
 * what it copies (scripts/standby try runs the real one). */
#include "serving.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <time.h>

static void pause_ms(long ms)
{
    nanosleep(&(struct timespec){ ms / 1000, ms % 1000 * 1000000L }, NULL);
}

static json_int_t behind(serving *s, const char *headers, bool *kept)
{
    wire_reply r = wire_ask(s->port, "GET", "/api/standby", headers, NULL);
    assert_int_equal(r.status, 200);
    json_t *o = json_loads(r.body, 0, NULL);
    assert_non_null(o);
    json_int_t n = json_integer_value(json_object_get(o, "behind"));
    *kept = json_is_true(json_object_get(o, "kept"));
    json_decref(o);
    wire_free(&r);
    return n;
}

/* Until it is behind by a second or more, or not at all; a minute at most. */
static void await(serving *s, bool lacks)
{
    bool kept = false;
    for (int i = 0; i < 600; i++) {
        bool is = behind(s, NULL, &kept) > 0;
        assert_true(kept);
        if (is == lacks)
            return;
        pause_ms(100);
    }
    fail_msg("the second place should %s", lacks ? "lack something" : "have all");
}

/* As the engine lays it: folders within folders, a new file for each piece. */
static void copy(const char *store, const char *file)
{
    static const char *const folders[] = { "", "/generations", "/generations/ab12", "/generations/ab12/wal",
                                           "/generations/ab12/wal/00000000" };
    char path[300];
    for (size_t i = 0; i < sizeof folders / sizeof folders[0]; i++) {
        snprintf(path, sizeof path, "%s%s", store, folders[i]);
        assert_true(mkdir(path, 0700) == 0 || errno == EEXIST);
    }
    snprintf(path, sizeof path, "%s/generations/ab12/wal/00000000/%s", store, file);
    int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    assert_true(fd >= 0);
    close(fd);
}

static bool has(serving *s, const char *headers, const char *name, double *value)
{
    char key[100];
    wire_reply r = wire_ask(s->port, "GET", "/api/metrics", headers, NULL);
    assert_int_equal(r.status, 200);
    snprintf(key, sizeof key, "\nclumpwise_%s ", name);
    const char *at = strstr(r.body, key);
    if (at)
        *value = strtod(at + strlen(key), NULL);
    wire_free(&r);
    return at != NULL;
}

static void the_second_place(void **state)
{
    serving s;
    char store[128], remove[200];
    double value = 0;
    (void)state;
    serving_make(&s, false);
    snprintf(store, sizeof store, "%s.store", s.t.folder);
    s.how.standby = store;
    serving_start(&s);
    await(&s, true); /* there is no such folder yet */
    copy(store, "1");
    await(&s, false);
    pause_ms(1100);
    assert_int_equal(serving_status(&s, "PATCH", "/api/settings", NULL, "{\"margin_share\":\"0.7\"}"), 200);
    await(&s, true);
    assert_true(has(&s, NULL, "standby_behind_seconds", &value));
    assert_true(value >= 1);
    double before = value;
    pause_ms(1100);
    assert_true(has(&s, NULL, "standby_behind_seconds", &value));
    assert_true(value >= before + 1); /* it grows, though nothing more was written */
    copy(store, "2");
    await(&s, false);
    assert_true(has(&s, NULL, "standby_behind_seconds", &value));
    assert_true(value < 1);
    assert_true(has(&s, NULL, "standby_copied_timestamp_seconds", &value));
    assert_true(value > 0);
    serving_free(&s);
    snprintf(remove, sizeof remove, "rm -r '%s'", store);
    assert_int_equal(system(remove), 0);
}

static void nobody_copies(void **state)
{
    serving s;
    char owner[512], packer[512];
    bool kept = true;
    double value = 0;
    (void)state;
    serving_make(&s, true);
    serving_start(&s);
    assert_int_equal(serving_status(&s, "GET", "/api/metrics", NULL, NULL), 401);
    assert_int_equal(serving_status(&s, "GET", "/api/standby", NULL, NULL), 401);
    serving_sign_in(&s, "packer", packer);
    assert_int_equal(serving_status(&s, "GET", "/api/metrics", packer, NULL), 403);
    assert_int_equal(behind(&s, packer, &kept), 0);
    assert_false(kept);
    serving_sign_in(&s, "owner", owner);
    assert_true(has(&s, owner, "commits_total", &value));
    assert_true(value >= 1);
    assert_false(has(&s, owner, "standby_behind_seconds", &value));
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(the_second_place), cmocka_unit_test(nobody_copies) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
