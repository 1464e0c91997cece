/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/grow.h"
#include <stdlib.h>

#include "base/banned.h"

static void test_items_stay(void **state)
{
    (void)state;
    int64_t *item = NULL;
    size_t room = 0;
    for (size_t i = 0; i < 1000; i++) {
        assert_true(cw_grow(&item, i, &room, sizeof *item));
        assert_true(room > i);
        item[i] = (int64_t)i * 7;
    }
    for (size_t i = 0; i < 1000; i++)
        assert_int_equal(item[i], i * 7);
    free(item);
}

static void test_too_much(void **state)
{
    (void)state;
    char *item = NULL;
    size_t room = 0;
    assert_true(cw_grow(&item, 0, &room, 1));
    item[0] = 'a';
    const char *before = item;
    size_t huge = SIZE_MAX / 4;
    room = huge;
    assert_false(cw_grow(&item, huge, &room, 8)); /* more bytes than there are numbers for */
    assert_true(room == huge && item == before && item[0] == 'a');
    free(item);
}

static void test_without_room(void **state)
{
    (void)state;
    struct {
        int64_t a, b;
    } *row = NULL, *one;
    size_t count = 0;
    for (size_t i = 0; i < 1000; i++) {
        one = cw_grow_item(&row, &count, sizeof *row);
        assert_non_null(one);
        assert_ptr_equal(one, &row[i]);
        assert_int_equal(count, i + 1);
        assert_true(one->a == 0 && one->b == 0);
        one->a = (int64_t)i;
        one->b = -1;
    }
    for (size_t i = 0; i < 1000; i++)
        assert_int_equal(row[i].a, i);
    free(row);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_items_stay),
        cmocka_unit_test(test_too_much),
        cmocka_unit_test(test_without_room),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
