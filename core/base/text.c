/* SPDX-License-Identifier: MIT */
#include "base/text.h"

#include <assert.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

void cw_text_free(cw_text *t)
{
    free(t->data);
    *t = CW_TEXT(t->max);
}

void cw_text_wipe(cw_text *t)
{
    if (t->data)
        explicit_bzero(t->data, t->room);
    cw_text_free(t);
}

void cw_text_clear(cw_text *t)
{
    t->length = 0;
    t->failed = t->starved = false;
    if (t->data)
        t->data[0] = '\0';
}

/* Makes room for n more bytes and the NUL; false (and failed) past the cap or without memory. */
static bool text_grow(cw_text *t, size_t n)
{
    if (t->failed || n > t->max || t->length > t->max - n) {
        t->failed = true;
        return false;
    }
    size_t need = t->length + n + 1;
    if (need <= t->room)
        return true;
    size_t room = t->room < 64 ? 64 : t->room;
    while (room < need)
        room *= 2;
    char *data = realloc(t->data, room);
    if (data == NULL) {
        t->failed = t->starved = true;
        return false;
    }
    t->data = data;
    t->room = room;
    return true;
}

void cw_text_reserve(cw_text *t, size_t n)
{
    text_grow(t, n);
}

void cw_text_addn(cw_text *t, const char *s, size_t n)
{
    if (!text_grow(t, n))
        return;
    if (n > 0)
        memcpy(t->data + t->length, s, n);
    t->length += n;
    t->data[t->length] = '\0';
}

void cw_text_add(cw_text *t, const char *s)
{
    cw_text_addn(t, s, strlen(s));
}

void cw_text_addc(cw_text *t, char c)
{
    cw_text_addn(t, &c, 1);
}

size_t cw_format_int(int64_t v, char *out)
{
    char digits[CW_INT_BYTES];
    size_t at = sizeof digits;
    uint64_t left = v < 0 ? 0 - (uint64_t)v : (uint64_t)v;
    do
        digits[--at] = (char)('0' + left % 10);
    while ((left /= 10) > 0);
    if (v < 0)
        digits[--at] = '-';
    memcpy(out, digits + at, sizeof digits - at);
    return sizeof digits - at;
}

void cw_text_add_int(cw_text *t, int64_t v)
{
    char digits[CW_INT_BYTES];
    cw_text_addn(t, digits, cw_format_int(v, digits));
}

void cw_text_addf(cw_text *t, const char *format, ...)
{
    va_list args;
    char small[512];
    va_start(args, format);
    int n = vsnprintf(small, sizeof small, format, args);
    va_end(args);
    if (n < 0) {
        t->failed = true;
    } else if ((size_t)n < sizeof small) {
        cw_text_addn(t, small, (size_t)n);
    } else if (text_grow(t, (size_t)n)) {
        va_start(args, format);
        vsnprintf(t->data + t->length, (size_t)n + 1, format, args);
        va_end(args);
        t->length += (size_t)n;
    }
}

size_t cw_say(char *out, size_t size, const char *format, ...)
{
    size_t used = 0;
    va_list args;
    va_start(args, format);
    for (const char *f = format; *f && used + 1 < size; f++) {
        char digits[CW_INT_BYTES];
        const char *piece = digits;
        size_t n;
        if (*f != '%') {
            out[used++] = *f;
            continue;
        }
        f++;
        if (*f == 's') {
            piece = va_arg(args, const char *);
            n = strlen(piece);
        } else if (*f == 'd') {
            n = cw_format_int(va_arg(args, int), digits);
        } else if (*f == 'l') {
            assert(f[1] == 'l' && f[2] == 'd');
            f += 2;
            n = cw_format_int(va_arg(args, long long), digits);
        } else {
            assert(*f == '%');
            piece = "%";
            n = 1;
        }
        n = n < size - 1 - used ? n : size - 1 - used;
        memcpy(out + used, piece, n);
        used += n;
    }
    va_end(args);
    if (size > 0)
        out[used] = '\0';
    return used;
}

void cw_text_add_markup(cw_text *t, const char *s)
{
    for (; *s; s++) {
        switch (*s) {
        case '&':
            cw_text_add(t, "&amp;");
            break;
        case '<':
            cw_text_add(t, "&lt;");
            break;
        case '>':
            cw_text_add(t, "&gt;");
            break;
        case '"':
            cw_text_add(t, "&quot;");
            break;
        default:
            cw_text_addc(t, *s);
        }
    }
}

cw_code cw_text_check(const cw_text *t, cw_error *err)
{
    if (t->starved)
        return cw_error_memory(err);
    if (t->failed)
        return cw_error_set(err, CW_MACHINE, "a text outgrew its limit of %zu bytes", t->max);
    return CW_OK;
}

char *cw_text_take(cw_text *t)
{
    char *data = t->data ? t->data : calloc(1, 1);
    *t = CW_TEXT(t->max);
    return data;
}

void cw_copy(char *out, size_t size, const char *s)
{
    if (size == 0)
        return;
    if (s == NULL)
        s = "";
    size_t n = strnlen(s, size);
    if (n >= size) {
        n = size - 1;
        while (n > 0 && ((unsigned char)s[n] & 0xC0) == 0x80)
            n--;
    }
    memcpy(out, s, n);
    out[n] = '\0';
}

/* Length of the UTF-8 sequence at s, 0 if it is broken (RFC 3629: no overlong forms, no surrogates). */
static size_t utf8_step(const unsigned char *s, size_t n)
{
    if (s[0] < 0x80)
        return s[0] ? 1 : 0;
    size_t len = s[0] >= 0xF0 ? 4 : s[0] >= 0xE0 ? 3 : 2;
    if (s[0] < 0xC2 || s[0] > 0xF4 || len > n)
        return 0;
    for (size_t i = 1; i < len; i++)
        if ((s[i] & 0xC0) != 0x80)
            return 0;
    if ((s[0] == 0xE0 && s[1] < 0xA0) || (s[0] == 0xED && s[1] > 0x9F) || (s[0] == 0xF0 && s[1] < 0x90) ||
        (s[0] == 0xF4 && s[1] > 0x8F))
        return 0;
    return len;
}

bool cw_utf8_valid(const char *s, size_t n, size_t *bad)
{
    const unsigned char *u = (const unsigned char *)s;
    for (size_t i = 0; i < n;) {
        size_t step = utf8_step(u + i, n - i);
        if (step == 0) {
            if (bad)
                *bad = i;
            return false;
        }
        i += step;
    }
    return true;
}

bool cw_parse_int(const char *s, size_t n, int64_t low, int64_t high, int64_t *out)
{
    size_t i = 0;
    bool minus = n > 0 && s[0] == '-';
    int64_t v = 0;
    if (minus)
        i = 1;
    if (i == n || n - i > 18)
        return false;
    for (; i < n; i++) {
        if (s[i] < '0' || s[i] > '9')
            return false;
        v = v * 10 + (s[i] - '0');
    }
    v = minus ? -v : v;
    if (v < low || v > high)
        return false;
    *out = v;
    return true;
}

bool cw_parse_real(const char *s, size_t n, double low, double high, double *out)
{
    char copy[64];
    if (n == 0 || n >= sizeof copy)
        return false;
    for (size_t i = 0; i < n; i++)
        if (strchr("0123456789.-eE+", s[i]) == NULL || s[i] == '\0')
            return false;
    if (s[0] == '+')
        return false;
    memcpy(copy, s, n);
    copy[n] = '\0';
    char *end = NULL;
    double v = strtod(copy, &end);
    if (end != copy + n || !isfinite(v) || v < low || v > high)
        return false;
    *out = v;
    return true;
}

bool cw_parse_bool(const char *s, size_t n, bool *out)
{
    static const struct {
        const char *word;
        bool value;
    } words[] = { { "1", true },   { "0", false },   { "yes", true },
                  { "no", false }, { "true", true }, { "false", false } };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strlen(words[i].word) == n && strncasecmp(words[i].word, s, n) == 0) {
            *out = words[i].value;
            return true;
        }
    }
    return false;
}

bool cw_has_control(const char *s, size_t n, const char *but)
{
    for (size_t i = 0; i < n; i++)
        if (((unsigned char)s[i] < 0x20 && (s[i] == '\0' || strchr(but, s[i]) == NULL)) || s[i] == 0x7F)
            return true;
    return false;
}

const char *cw_shown(const char *s, size_t n, char out[80])
{
    size_t j = 0;
    size_t i = 0;
    while (i < n && j < 60) {
        size_t step = utf8_step((const unsigned char *)s + i, n - i);
        if (step == 0 || (unsigned char)s[i] < 0x20 || s[i] == 0x7F) {
            out[j++] = '?';
            i++;
            continue;
        }
        memcpy(out + j, s + i, step);
        j += step;
        i += step;
    }
    memcpy(out + j, i < n ? "..." : "", i < n ? 4 : 1);
    return out;
}
