/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/map.h"
#include "base/rng.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static void a_map_keeps_what_is_put(void **state)
{
    cw_map m = { 0 };
    bool is_new = false;
    (void)state;
    assert_null(cw_map_get(&m, "a", 1));
    *cw_map_put(&m, "a", 1, &is_new) = 7;
    assert_true(is_new);
    *cw_map_put(&m, "", 0, NULL) = 8; /* the empty key is a key */
    *cw_map_put(&m, "a\0b", 3, NULL) = 9;
    assert_int_equal(*cw_map_put(&m, "a", 1, &is_new), 7);
    assert_false(is_new);
    assert_int_equal(*cw_map_get(&m, "", 0), 8);
    assert_int_equal(*cw_map_get(&m, "a\0b", 3), 9);
    assert_null(cw_map_get(&m, "a\0", 2));
    assert_int_equal(m.used, 3);
    cw_map_free(&m);
    cw_map_free(&m);
}

/* Against the plainest map there is: an array by number. */
static void many_keys_behave_as_in_an_array(void **state)
{
    enum { KEYS = 5000, STEPS = 60000 };
    static int64_t plain[KEYS];
    static bool there[KEYS];
    cw_map m = { 0 };
    cw_rng r;
    size_t count = 0;
    (void)state;
    cw_rng_init(&r, 42, 0);
    for (int i = 0; i < STEPS; i++) {
        char key[16];
        uint32_t k = cw_rng_below(&r, KEYS);
        size_t n = (size_t)snprintf(key, sizeof key, "K%u", k);
        if (cw_rng_below(&r, 2)) {
            bool is_new = false;
            int64_t *v = cw_map_put(&m, key, n, &is_new);
            assert_non_null(v);
            assert_int_equal(is_new, !there[k]);
            count += is_new;
            *v = plain[k] = i;
            there[k] = true;
        } else {
            const int64_t *v = cw_map_get(&m, key, n);
            assert_int_equal(v != NULL, there[k]);
            if (v)
                assert_int_equal(*v, plain[k]);
        }
    }
    assert_int_equal(m.used, count);
    cw_map_free(&m);
}

/* Small and large: after clearing nothing is found, and all can be put anew. */
static void a_cleared_map_is_empty(void **state)
{
    static const int sizes[] = { 0, 3, 100, 2000 };
    (void)state;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        cw_map m = { 0 };
        for (int round = 0; round < 3; round++) {
            for (int k = 0; k < sizes[i]; k++) {
                bool is_new = false;
                int64_t *v = cw_map_put(&m, &k, sizeof k, &is_new);
                assert_non_null(v);
                assert_true(is_new);
                assert_int_equal(*v, 0);
                *v = k + round;
            }
            cw_map_clear(&m);
            assert_int_equal(m.used, 0);
            for (int k = 0; k < sizes[i]; k++)
                assert_null(cw_map_get(&m, &k, sizeof k));
        }
        cw_map_free(&m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_map_keeps_what_is_put),
        cmocka_unit_test(many_keys_behave_as_in_an_array),
        cmocka_unit_test(a_cleared_map_is_empty),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
