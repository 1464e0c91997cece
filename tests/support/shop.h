/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_SHOP_H
#define CW_TESTS_SUPPORT_SHOP_H

/* An order as a shop sends it, and what it is answered. */
#include "support/offered_season.h"

#include "desk/intake/intake.h"

#include "base/banned.h"

typedef struct taken {
    cw_code code;
    char first[1600];
    json_t *answer;
} taken;

static inline taken take(test_nursery *t, const char *text)
{
    cw_error err = CW_ERROR_NONE;
    taken k = { .answer = NULL };
    json_t *order = json_loads(text, 0, NULL);
    assert_non_null(order);
    k.code = cw_intake_order(t->n, &t->who, order, &k.answer, &err);
    cw_error_line(&err, k.first, sizeof k.first);
    json_decref(order);
    test_nursery_check(t);
    return k;
}

#endif
