/* SPDX-License-Identifier: MIT */
#include "base/money.h"

#include "base/limits.h"
#include "base/text.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

bool cw_cents_parse(const char *s, size_t n, cw_cents *out)
{
    const char *dot = memchr(s, '.', n);
    size_t whole = dot ? (size_t)(dot - s) : n;
    int64_t units = 0, part = 0;
    if (n == 0 || s[0] == '-' || !cw_parse_int(s, whole, 0, CW_MAX_CENTS / 100, &units))
        return false;
    if (dot) {
        size_t places = n - whole - 1;
        if (places < 1 || places > 2 || dot[1] == '-' || !cw_parse_int(dot + 1, places, 0, 99, &part))
            return false;
        part = places == 1 ? part * 10 : part;
    }
    if (units * 100 + part > CW_MAX_CENTS)
        return false;
    *out = units * 100 + part;
    return true;
}

void cw_cents_format(cw_cents v, char out[24])
{
    unsigned long long a = v < 0 ? 0ULL - (unsigned long long)v : (unsigned long long)v;
    size_t n = 0;
    if (v < 0)
        out[n++] = '-';
    n += cw_format_int((int64_t)(a / 100), out + n);
    out[n] = '.';
    out[n + 1] = (char)('0' + a % 100 / 10);
    out[n + 2] = (char)('0' + a % 10);
    out[n + 3] = '\0';
}
