/* SPDX-License-Identifier: MIT */
/* One-time codes and their letters against the figures that the standards print. */
#include "support/check.h"

#include "base/totp.h"

#include <stdio.h>
#include <string.h>

/* "12345678901234567890" in ASCII, of both RFCs. */
static const unsigned char secret[CW_TOTP_SECRET] = { '1', '2', '3', '4', '5', '6', '7', '8', '9', '0',
                                                      '1', '2', '3', '4', '5', '6', '7', '8', '9', '0' };

/* RFC 4226 (December 2005), appendix D, table 2: HOTP of 6 digits for the counts 0 to 9. */
static void test_rfc_4226(void **state)
{
    static const char *const codes[] = { "755224", "287082", "359152", "969429", "338314",
                                         "254676", "287922", "162583", "399871", "520489" };
    (void)state;
    for (int64_t count = 0; count < 10; count++) {
        char out[CW_TOTP_DIGITS + 1] = "";
        assert_true(cw_totp_at(secret, count, out));
        assert_string_equal(out, codes[count]);
    }
}

/* RFC 6238 (May 2011), appendix B, the rows of SHA1, which have 8 digits. A code is a number modulo 10^digits (RFC 4226,
 * 5.3), so that the one of 6 digits is the end of the one of 8. */
static const struct {
    int64_t seconds;
    const char *code;
} rows[] = {
    { 59, "94287082" },         { 1111111109, "07081804" }, { 1111111111, "14050471" },
    { 1234567890, "89005924" }, { 2000000000, "69279037" }, { 20000000000, "65353130" },
};

static void test_rfc_6238(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char out[CW_TOTP_DIGITS + 1] = "";
        int64_t step = cw_totp_step(rows[i].seconds * 1000);
        assert_true(cw_totp_at(secret, step, out));
        assert_string_equal(out, rows[i].code + 2);
        assert_int_equal(cw_totp_match(secret, rows[i].seconds * 1000, 0, rows[i].code + 2), step);
    }
}

/* RFC 6238, 5.2: taken are the step now, the one before and the one after, and each once only. */
static void test_window(void **state)
{
    const cw_instant now = 1234567890000;
    const int64_t middle = cw_totp_step(now);
    (void)state;
    for (int64_t off = -3; off <= 3; off++) {
        char code[CW_TOTP_DIGITS + 1] = "";
        assert_true(cw_totp_at(secret, middle + off, code));
        int64_t want = off >= -1 && off <= 1 ? middle + off : CW_TOTP_NONE;
        assert_int_equal(cw_totp_match(secret, now, 0, code), want);
        assert_int_equal(cw_totp_match(secret, now, middle + off, code), CW_TOTP_NONE); /* again */
        assert_int_equal(cw_totp_match(secret, now, middle + 1, code), CW_TOTP_NONE);
    }
    static const char *const wrong[] = { "", "0", "00592", "0059240", "005924 ", "89005924", "abcdef" };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_int_equal(cw_totp_match(secret, now, 0, wrong[i]), CW_TOTP_NONE);
    assert_int_equal(cw_totp_match(secret, now, 0, "005924"), middle);
    assert_int_equal(cw_totp_match(secret, 0, CW_TOTP_NONE, "755224"), 0); /* no step before the first */
}

/* RFC 4648, section 10, the test vector that needs no padding: BASE32("fooba") = "MZXW6YTB". */
static void test_base32(void **state)
{
    char out[CW_BASE32_TEXT(20)] = "", zero[CW_BASE32_TEXT(5)] = "";
    static const unsigned char ends[] = { 0x00, 0x44, 0x32, 0x14, 0xC7, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF };
    (void)state;
    cw_base32((const unsigned char *)"fooba", 5, zero);
    assert_string_equal(zero, "MZXW6YTB");
    cw_base32(ends, sizeof ends, out); /* five bits each: 0 to 7, then all ones; its table 3 */
    assert_string_equal(out, "ABCDEFGH77777777");
    cw_base32(ends, 0, out);
    assert_string_equal(out, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rfc_4226),
        cmocka_unit_test(test_rfc_6238),
        cmocka_unit_test(test_window),
        cmocka_unit_test(test_base32),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
