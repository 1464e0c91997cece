/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/share.h"
#include <stdio.h>
#include <string.h>

enum { MOST = 8 };

typedef struct row {
    uint32_t variety, order;
    int32_t asked, firm;
    bool all_or_none;
    int32_t want;
    cw_share_reason reason;
    const char *sentence; /* NULL = not looked at */
} row;

typedef struct scene {
    const char *name;
    cw_share_rule rule;
    bool tiers_first;
    int64_t supply[2], left[2];
    uint8_t tier[MOST];
    bool ship_complete[MOST];
    row line[MOST]; /* ends at asked = 0 */
} scene;

#define RETAIL                                                                                               \
    {                                                                                                        \
        1, 1, 1, 1, 1, 1, 1, 1                                                                               \
    }

static const scene scenes[] = {
    { "first-come, an all-or-none line is passed over whole",
      CW_SHARE_FIRST_COME,
      false,
      { 5, 0 },
      { 0, 0 },
      RETAIL,
      { 0 },
      { { 0, 0, 3, 0, false, 3, CW_SHARE_FULL, "All 3 asked can be promised." },
        { 0, 1, 4, 0, true, 0, CW_SHARE_NOT_WHOLE,
          "None of the 4 asked can be promised now: the line is all or nothing, and only 2 of the 4 still "
          "wanted could "
          "have been given." },
        { 0, 2, 4, 1, false, 2, CW_SHARE_LAST_OF_IT,
          "2 can be added to the 1 already promised, which makes 3 of the 4 asked: it is number 3 of 4 in "
          "the queue, and "
          "2 were left when its turn came." },
        { 0, 3, 1, 0, false, 0, CW_SHARE_RAN_OUT,
          "The one asked cannot be promised now: it is number 4 of 4 in the queue, and all 5 went to "
          "orders before "
          "it." } } },
    { "first-come, wholesale before an earlier retail order",
      CW_SHARE_FIRST_COME,
      false,
      { 4, 0 },
      { 0, 0 },
      { 1, 0, 2 },
      { 0 },
      { { 0, 0, 3, 0, false, 1, CW_SHARE_LAST_OF_IT, NULL },
        { 0, 1, 3, 0, false, 3, CW_SHARE_FULL, NULL },
        { 0, 2, 1, 0, false, 0, CW_SHARE_RAN_OUT, NULL } } },
    { "first-come, a complete order leaves its stock to those behind it",
      CW_SHARE_FIRST_COME,
      false,
      { 5, 1 },
      { 0, 1 },
      RETAIL,
      { true, false },
      { { 0, 0, 3, 0, false, 0, CW_SHARE_NOT_COMPLETE,
          "None of the 3 asked can be promised now: the order is to leave complete or not at all, and there "
          "is not enough "
          "of Rose Ball for it." },
        { 1, 0, 2, 0, false, 0, CW_SHARE_NOT_COMPLETE, NULL },
        { 0, 1, 6, 0, false, 5, CW_SHARE_LAST_OF_IT, NULL } } },
    { "pro-rata, the rest of an all-or-none line goes to the others",
      CW_SHARE_PRO_RATA,
      false,
      { 6, 0 },
      { 0, 0 },
      RETAIL,
      { 0 },
      { { 0, 0, 4, 0, true, 0, CW_SHARE_NOT_WHOLE, NULL },
        { 0, 1, 4, 0, false, 3, CW_SHARE_EXACT,
          "3 of the 4 asked can be promised: 6 left to share over 8 still wanted makes 3.00 for this line." },
        { 0, 2, 4, 0, false, 3, CW_SHARE_EXACT, NULL } } },
    { "pro-rata, all-or-none served from what stays over",
      CW_SHARE_PRO_RATA,
      false,
      { 10, 0 },
      { 4, 0 },
      RETAIL,
      { 0 },
      { { 0, 0, 6, 0, true, 6, CW_SHARE_WHOLE_LATER,
          "All 6 asked can be promised: it was all or nothing, and enough stayed over once the others "
          "had theirs." },
        { 0, 1, 6, 0, true, 0, CW_SHARE_NOT_WHOLE, NULL } } },
    { "pro-rata, rounding",
      CW_SHARE_PRO_RATA,
      false,
      { 4, 0 },
      { 0, 0 },
      RETAIL,
      { 0 },
      { { 0, 0, 1, 0, false, 0, CW_SHARE_ROUNDED_DOWN,
          "The one asked cannot be promised now: 4 left to share over 7 still wanted makes 0.57 for this "
          "line; what "
          "rounding left over went to larger fractions, or to earlier orders." },
        { 0, 1, 3, 0, false, 2, CW_SHARE_ROUNDED_UP, NULL },
        { 0, 2, 3, 0, false, 2, CW_SHARE_ROUNDED_UP, NULL } } },
    { "one-each-first counts what is firm",
      CW_SHARE_ONE_EACH,
      false,
      { 3, 0 },
      { 0, 0 },
      RETAIL,
      { 0 },
      { { 0, 0, 3, 2, false, 0, CW_SHARE_OVER_LEVEL,
          "The 2 already promised of the 3 asked stay; no more can be added now: the others are brought to 1 "
          "each first." },
        { 0, 1, 3, 0, false, 2, CW_SHARE_LEVEL_ONE_MORE,
          "2 of the 3 asked can be promised: everyone gets up to 1, and the few over go to the earliest "
          "orders, of which "
          "this is one." },
        { 0, 2, 3, 0, false, 1, CW_SHARE_LEVEL,
          "1 of the 3 asked can be promised: everyone gets up to 1 before anyone gets more, and the few over "
          "went to "
          "earlier orders." } } },
    { "one-each-first, fewer divisions than orders",
      CW_SHARE_ONE_EACH,
      false,
      { 1, 0 },
      { 0, 0 },
      RETAIL,
      { 0 },
      { { 0, 0, 3, 0, false, 1, CW_SHARE_LEVEL_ONE_MORE, NULL },
        { 0, 1, 2, 0, false, 0, CW_SHARE_LEVEL,
          "None of the 2 asked can be promised now: there are fewer divisions than orders, so the earliest "
          "orders get one "
          "each." } } },
    { "one-each-first, tiers first",
      CW_SHARE_ONE_EACH,
      true,
      { 3, 0 },
      { 0, 0 },
      { 1, 0, 1 },
      { 0 },
      { { 0, 0, 2, 0, false, 1, CW_SHARE_LEVEL_ONE_MORE, NULL },
        { 0, 1, 2, 0, false, 2, CW_SHARE_FULL, NULL },
        { 0, 2, 2, 0, false, 0, CW_SHARE_LEVEL,
          "None of the 2 asked can be promised now: there are fewer divisions than orders among retail, so "
          "the earliest "
          "orders get one each." } } },
    { "pro-rata, a complete order gives back in both varieties",
      CW_SHARE_PRO_RATA,
      false,
      { 4, 2 },
      { 0, 0 },
      RETAIL,
      { false, true, false },
      { { 0, 0, 4, 0, false, 4, CW_SHARE_FULL, NULL },
        { 0, 1, 2, 0, false, 0, CW_SHARE_NOT_COMPLETE, NULL },
        { 1, 1, 1, 0, false, 0, CW_SHARE_NOT_COMPLETE, NULL },
        { 1, 2, 2, 0, false, 2, CW_SHARE_FULL, NULL } } },
    { "nothing to do, nothing there",
      CW_SHARE_PRO_RATA,
      false,
      { 0, 7 },
      { 0, 7 },
      RETAIL,
      { 0 },
      { { 0, 0, 2, 2, false, 0, CW_SHARE_HELD, "All 2 asked are promised already." },
        { 0, 1, 2, 0, false, 0, CW_SHARE_RAN_OUT,
          "None of the 2 asked can be promised now: there is nothing left to share out at present." } } },
};

static void test_scenes(void **state)
{
    (void)state;
    for (size_t k = 0; k < sizeof scenes / sizeof scenes[0]; k++) {
        const scene *s = &scenes[k];
        cw_share_order order[MOST];
        cw_share_line line[MOST];
        cw_share_outcome out[MOST];
        int64_t left[2];
        size_t n = 0;
        cw_error err = CW_ERROR_NONE;
        cw_share *share = NULL;
        for (; n < MOST && s->line[n].asked > 0; n++)
            line[n] = (cw_share_line){ s->line[n].variety, s->line[n].order, (int32_t)n,
                                       s->line[n].asked,   s->line[n].firm,  s->line[n].all_or_none };
        for (size_t o = 0; o < MOST; o++)
            order[o] = (cw_share_order){ (cw_instant)o * 1000, s->tier[o], s->ship_complete[o], false };
        const cw_share_input in = { 2, MOST, n, s->supply, order, line };
        cw_check_ok(cw_share_new(&in, &share, &err), &err);
        cw_check_ok(cw_share_run(share, s->rule, s->tiers_first, out, left, &err), &err);
        for (size_t i = 0; i < n; i++) {
            char text[CW_SHARE_SENTENCE];
            cw_share_say(&out[i], out[i].cause >= 0 ? "Rose Ball" : NULL, text);
            if (out[i].allocated != s->line[i].want || out[i].reason != s->line[i].reason)
                fail_msg("%s, line %zu: %d for reason %d, want %d for %d (%s)", s->name, i, out[i].allocated,
                         out[i].reason, s->line[i].want, s->line[i].reason, text);
            if (s->line[i].sentence && strcmp(text, s->line[i].sentence) != 0)
                fail_msg("%s, line %zu:\n%s\nwant\n%s", s->name, i, text, s->line[i].sentence);
        }
        assert_int_equal(left[0], s->left[0]);
        assert_int_equal(left[1], s->left[1]);
        cw_share_free(share);
    }
}

static void test_nothing_at_all(void **state)
{
    (void)state;
    cw_error err = CW_ERROR_NONE;
    cw_share *share = NULL;
    const cw_share_input in = { 0 };
    cw_check_ok(cw_share_new(&in, &share, &err), &err);
    for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++)
        cw_check_ok(cw_share_run(share, (cw_share_rule)rule, true, NULL, NULL, &err), &err);
    cw_share_free(share);
    cw_share_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_scenes),
        cmocka_unit_test(test_nothing_at_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
