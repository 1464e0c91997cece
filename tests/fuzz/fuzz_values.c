/* SPDX-License-Identifier: MIT */
#include "must.h"

#include "base/code128.h"
#include "base/day.h"
#include "base/limits.h"
#include "base/money.h"
#include "base/text.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Any bytes as a day, week, instant, amount, number, yes/no or code: no crash; and whatever is taken is in its range
 * and comes back from its own written form. */

static void days(const char *s, size_t n)
{
    cw_day day = 0, day2 = 0;
    cw_week week = 0, week2 = 0;
    cw_instant at = 0, at2 = 0;
    char out[25];
    if (cw_day_parse(s, n, &day)) {
        cw_day_format(day, out);
        must(n == 10 && memcmp(s, out, 10) == 0 && cw_day_parse(out, 10, &day2) && day == day2);
    }
    if (cw_week_parse(s, n, &week)) {
        cw_week_format(week, out);
        must(n == 8 && memcmp(s, out, 8) == 0 && cw_week_parse(out, 8, &week2) && week == week2);
        must(cw_week_between(week, cw_week_add(week, 5)) == 5);
    }
    if (cw_instant_parse(s, n, &at)) {
        cw_instant_format(at, out);
        /* An offset may carry the last day over the calendar's end; all others come back. */
        cw_day utc = cw_instant_day(at);
        if (utc >= cw_day_from_ymd(1900, 1, 1) && utc <= cw_day_from_ymd(2199, 12, 31))
            must(cw_instant_parse(out, strlen(out), &at2) && at == at2);
    }
}

static void numbers(const char *s, size_t n)
{
    cw_cents cents = 0, cents2 = 0;
    int64_t whole = 0;
    double real = 0;
    bool yes = false;
    char out[32];
    if (cw_cents_parse(s, n, &cents)) {
        cw_cents_format(cents, out);
        must(cents >= 0 && cents <= CW_MAX_CENTS && cw_cents_parse(out, strlen(out), &cents2) &&
             cents == cents2);
    }
    if (cw_parse_int(s, n, -1000, INT64_MAX, &whole))
        must(whole >= -1000 && cw_parse_real(s, n, -1e19, 1e19, &real) &&
             fabs(real - (double)whole) <= 1e-9 * fabs(real));
    if (cw_parse_real(s, n, -40, 60, &real))
        must(real >= -40 && real <= 60);
    if (cw_parse_bool(s, n, &yes))
        must(n <= 5);
}

static void texts(const char *s, size_t n)
{
    char shown[80], small[9], *copy = malloc(n + 1);
    size_t bad = 0;
    if (copy == NULL)
        return;
    memcpy(copy, s, n);
    copy[n] = '\0';
    bool valid = cw_utf8_valid(s, n, &bad);
    must(valid || bad < n);
    cw_shown(s, n, shown);
    must(strlen(shown) < sizeof shown && cw_utf8_valid(shown, strlen(shown), NULL));
    cw_copy(small, sizeof small, copy);
    must(strlen(small) < sizeof small && (!valid || cw_utf8_valid(small, strlen(small), NULL)));
    cw_code128 code;
    if (cw_code128_encode(copy, &code, NULL) == CW_OK) {
        unsigned sum = code.symbols[0];
        for (size_t i = 1; i + 2 < code.count; i++)
            sum += (unsigned)i * code.symbols[i];
        must(code.count <= strlen(copy) + 3 && sum % 103 == code.symbols[code.count - 2]);
    }
    free(copy);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    const char *s = n ? (const char *)bytes : "";
    days(s, n);
    numbers(s, n);
    texts(s, n);
    return 0;
}
