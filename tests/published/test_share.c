/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/rng.h"
#include "model/share.h"
#include <stdio.h>
#include <string.h>

enum { MOST = 16 };

/* One variety, one line an order, received in the order of the rows. */
static void share(cw_share_rule rule, const int32_t *asked, size_t n, int64_t supply, cw_share_outcome *out)
{
    cw_share_order order[MOST];
    cw_share_line line[MOST];
    cw_error err = CW_ERROR_NONE;
    cw_share *s = NULL;
    for (size_t i = 0; i < n; i++) {
        order[i] = (cw_share_order){ (cw_instant)i, CW_TIER_RETAIL, false, false };
        line[i] = (cw_share_line){ 0, (uint32_t)i, 1, asked[i], 0, false };
    }
    const cw_share_input in = { 1, n, n, &supply, order, line };
    cw_check_ok(cw_share_new(&in, &s, &err), &err);
    cw_check_ok(cw_share_run(s, rule, false, out, NULL, &err), &err);
    cw_share_free(s);
}

/* Largest remainder (Hamilton, Hare quota) against apportionments in print. Claims above 100,000 are over the cap of a
 * line, so populations are given in tens, which leaves the published seats unchanged (checked by exact
 * fractions when this table was made). The claims are far above the seats, so "never above the need" does not bind. */
static const struct {
    const char *name; /* with the source */
    size_t n;
    int64_t seats;
    int32_t claim[MOST], want[MOST];
} apportionments[] = {
    { "US 1790, 120 seats: For All Practical Purposes 10e ch. 14 ex. 6; Jefferson's Opinion, "
      "founders.archives.gov",
      15,
      120,
      { 63056, 47533, 43288, 35352, 33159, 27851, 23684, 20624, 17957, 14182, 8553, 7084, 6871, 6845, 5554 },
      { 21, 16, 14, 12, 11, 9, 8, 7, 6, 5, 3, 2, 2, 2, 2 } },
    { "US 1790, 105 seats: MAA Convergence, Jefferson's method (Hamilton differs in Virginia and Delaware)",
      15,
      105,
      { 63056, 47533, 43288, 35352, 33159, 27851, 23684, 20624, 17957, 14182, 8553, 7084, 6871, 6845, 5554 },
      { 18, 14, 13, 10, 10, 8, 7, 6, 5, 4, 2, 2, 2, 2, 2 } },
    { "US 1790, 60 seats: electowiki, Hamilton method",
      15,
      60,
      { 63056, 47533, 43288, 35352, 33159, 27851, 23684, 20624, 17957, 14182, 8553, 7084, 6871, 6845, 5554 },
      { 11, 8, 7, 6, 6, 5, 4, 3, 3, 2, 1, 1, 1, 1, 1 } },
    { "six parties, 10 seats: Wikipedia, Largest remainder method, Hare quota; from memory",
      6,
      10,
      { 47000, 16000, 15800, 12000, 6100, 3100 },
      { 5, 2, 1, 1, 1, 0 } },
    { "53, 24, 23 at 7: votes of R package nzelect, allocate_seats; seats by exact fractions",
      3,
      7,
      { 53000, 24000, 23000 },
      { 4, 2, 1 } },
    { "100, 80, 30, 20 at 8: votes of Wikipedia, D'Hondt method, from memory; seats by exact fractions",
      4,
      8,
      { 100000, 80000, 30000, 20000 },
      { 3, 3, 1, 1 } },
    { "Alabama paradox, 323: electowiki", 4, 323, { 56700, 38500, 4200, 600 }, { 183, 124, 14, 2 } },
    { "Alabama paradox, 324: the third loses a seat: electowiki",
      4,
      324,
      { 56700, 38500, 4200, 600 },
      { 184, 125, 13, 2 } },
    { "3, 7, 90 at 49: net.math 1982-03-15 after Saari, Amer. Math. Monthly 1978",
      3,
      49,
      { 3000, 7000, 90000 },
      { 2, 3, 44 } },
    { "3, 7, 90 at 50: a tie of 1.5 and 3.5, which goes to the earlier here",
      3,
      50,
      { 3000, 7000, 90000 },
      { 2, 3, 45 } },
    { "1564, 21045, 23391 at 40: an exercise on the Alabama paradox, as kept at smartsolve.ai/question",
      3,
      40,
      { 1564, 21045, 23391 },
      { 2, 18, 20 } },
    { "the same at 41: the first loses one (computed by exact fractions)",
      3,
      41,
      { 1564, 21045, 23391 },
      { 1, 19, 21 } },
    { "asked 1, 3, 3: supply 3", 3, 3, { 1, 3, 3 }, { 1, 1, 1 } },
    { "asked 1, 3, 3: supply 4 takes one away: not monotone", 3, 4, { 1, 3, 3 }, { 0, 2, 2 } },
    { "asked 1, 3, 8: supply 5", 3, 5, { 1, 3, 8 }, { 1, 1, 3 } },
    { "the second gone with its one: not consistent", 2, 4, { 1, 8 }, { 0, 4 } },
    { "splitting gains: 1, 6 at 4", 2, 4, { 1, 6 }, { 1, 3 } },
};

static void test_largest_remainder(void **state)
{
    (void)state;
    for (size_t k = 0; k < sizeof apportionments / sizeof apportionments[0]; k++) {
        cw_share_outcome out[MOST];
        share(CW_SHARE_PRO_RATA, apportionments[k].claim, apportionments[k].n, apportionments[k].seats, out);
        for (size_t i = 0; i < apportionments[k].n; i++)
            if (out[i].allocated != apportionments[k].want[i])
                fail_msg("%s: claim %zu gets %d, published %d", apportionments[k].name, i + 1,
                         out[i].allocated, apportionments[k].want[i]);
    }
}

/* Quotas of US 1790 at 120 as printed in the same book: 20.926 15.774 14.366 11.732 11.004 9.243 7.860 ... */
static void test_shares_in_words(void **state)
{
    (void)state;
    char out[CW_SHARE_SENTENCE];
    cw_share_outcome o[MOST];
    share(CW_SHARE_PRO_RATA, apportionments[0].claim, 15, 120, o);
    assert_string_equal(
        cw_share_say(&o[1], NULL, out),
        "16 of the 47533 asked can be promised: 120 left to share over 361593 still wanted makes 15.77 "
        "for this line, rounded up.");
    assert_int_equal(o[3].reason, CW_SHARE_ROUNDED_UP);
    assert_int_equal(o[2].reason, CW_SHARE_ROUNDED_DOWN);
}

/* Claims 100, 200, 300: proportional and constrained equal awards of Aumann & Maschler, J. Econ. Theory 36 (1985)
 * 195-213, table as in allotments of estates 50 to 300; computed by exact fractions. Divisible case: the claims and the
 * estate in units so small that rounding is below the tolerance (1/100 of a unit here, claims x 100). */
static const struct {
    int64_t estate;
    double proportional[3], equal[3];
} claims[] = {
    { 50, { 25.0 / 3, 50.0 / 3, 25 }, { 50.0 / 3, 50.0 / 3, 50.0 / 3 } },
    { 100, { 50.0 / 3, 100.0 / 3, 50 }, { 100.0 / 3, 100.0 / 3, 100.0 / 3 } },
    { 150, { 25, 50, 75 }, { 50, 50, 50 } },
    { 200, { 100.0 / 3, 200.0 / 3, 100 }, { 200.0 / 3, 200.0 / 3, 200.0 / 3 } },
    { 250, { 125.0 / 3, 250.0 / 3, 125 }, { 250.0 / 3, 250.0 / 3, 250.0 / 3 } },
    { 300, { 50, 100, 150 }, { 100, 100, 100 } },
};

static void test_claims_table(void **state)
{
    (void)state;
    const int32_t whole[3] = { 100, 200, 300 }, fine[3] = { 30000, 60000, 90000 };
    for (size_t k = 0; k < sizeof claims / sizeof claims[0]; k++) {
        cw_share_outcome p[3], e[3], pf[3], ef[3];
        char what[64];
        share(CW_SHARE_PRO_RATA, whole, 3, claims[k].estate, p);
        share(CW_SHARE_ONE_EACH, whole, 3, claims[k].estate, e);
        share(CW_SHARE_PRO_RATA, fine, 3, claims[k].estate * 300, pf);
        share(CW_SHARE_ONE_EACH, fine, 3, claims[k].estate * 300, ef);
        for (int i = 0; i < 3; i++) {
            snprintf(what, sizeof what, "estate %lld claim %d", (long long)claims[k].estate, whole[i]);
            cw_check_near(what, pf[i].allocated / 300.0, claims[k].proportional[i], 1e-12);
            cw_check_near(what, ef[i].allocated / 300.0, claims[k].equal[i], 1e-12);
            assert_true(p[i].allocated > claims[k].proportional[i] - 1 &&
                        p[i].allocated < claims[k].proportional[i] + 1);
            assert_true(e[i].allocated > claims[k].equal[i] - 1 && e[i].allocated < claims[k].equal[i] + 1);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_largest_remainder),
        cmocka_unit_test(test_shares_in_words),
        cmocka_unit_test(test_claims_table),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
