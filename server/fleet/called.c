/* SPDX-License-Identifier: MIT */
#include "fleet/called.h"

#include <string.h>
#include <strings.h>

#include "base/banned.h"

bool cw_called_is_name(const char *s)
{
    size_t label = 0, n = strlen(s);
    bool letter = false;
    for (size_t i = 0; i < n; i++) {
        bool edge = label == 0 || s[i + 1] == '.' || s[i + 1] == '\0';
        bool small = s[i] >= 'a' && s[i] <= 'z', digit = s[i] >= '0' && s[i] <= '9';
        if (s[i] == '.') {
            if (label == 0 || s[i + 1] == '\0')
                return false;
            label = 0;
            continue;
        }
        if (++label > 63 || !(small || digit || (s[i] == '-' && !edge)))
            return false;
        letter = letter || small;
    }
    return letter && n < CW_CALLED_NAME;
}

static cw_called take_name(const unsigned char *s, size_t n, char host[CW_CALLED_NAME])
{
    if (n == 0 || n >= CW_CALLED_NAME)
        return CW_CALLED_NONE;
    for (size_t i = 0; i < n; i++)
        host[i] = (char)(s[i] >= 'A' && s[i] <= 'Z' ? s[i] + ('a' - 'A') : s[i]);
    host[n] = '\0';
    return strlen(host) == n && cw_called_is_name(host) ? CW_CALLED_HOST : CW_CALLED_NONE;
}

/* "  Hilltop.example.org:8473 " without its blanks and its port. */
static cw_called take_value(const unsigned char *s, size_t n, char host[CW_CALLED_NAME])
{
    while (n > 0 && (*s == ' ' || *s == '\t')) {
        s++;
        n--;
    }
    while (n > 0 && (s[n - 1] == ' ' || s[n - 1] == '\t'))
        n--;
    size_t digits = n;
    while (digits > 0 && s[digits - 1] >= '0' && s[digits - 1] <= '9')
        digits--;
    if (digits > 0 && s[digits - 1] == ':')
        n = digits - 1;
    return take_name(s, n, host);
}

cw_called cw_called_http(const unsigned char *bytes, size_t n, char host[CW_CALLED_NAME])
{
    static const char name[] = "Host:";
    const size_t letters = sizeof name - 1;
    for (size_t at = 0, line = 0; at < n; line++) {
        const unsigned char *end = memchr(bytes + at, '\n', n - at);
        if (line == 0 && (bytes[0] < 'A' || bytes[0] > 'Z'))
            return CW_CALLED_BROKEN; /* a method begins with a capital; TLS does not */
        if (end == NULL)
            return CW_CALLED_MORE;
        size_t length = (size_t)(end - bytes) - at;
        length -= length > 0 && end[-1] == '\r';
        if (length == 0)
            return CW_CALLED_NONE; /* the head has ended */
        if (line > 0 && length >= letters && strncasecmp((const char *)bytes + at, name, letters) == 0)
            return take_value(bytes + at + letters, length - letters, host);
        at = (size_t)(end - bytes) + 1;
    }
    return CW_CALLED_MORE;
}

/* What is left of a message; a step past its end leaves nothing and is seen by `short_of`. */
typedef struct rest {
    const unsigned char *at;
    size_t n;
    bool short_of;
} rest;

static size_t number(rest *r, size_t bytes)
{
    size_t value = 0;
    r->short_of = r->short_of || r->n < bytes;
    for (size_t i = 0; !r->short_of && i < bytes; i++)
        value = value << 8 | r->at[i];
    if (!r->short_of) {
        r->at += bytes;
        r->n -= bytes;
    }
    return value;
}

/* A piece whose length stands before it in so many bytes. */
static rest piece(rest *r, size_t bytes)
{
    size_t n = number(r, bytes);
    rest out = { r->at, n, r->short_of || n > r->n };
    r->short_of = out.short_of;
    if (out.short_of)
        return (rest){ .short_of = true };
    r->at += n;
    r->n -= n;
    return out;
}

static cw_called server_name(rest extensions, char host[CW_CALLED_NAME])
{
    while (extensions.n > 0) {
        size_t type = number(&extensions, 2);
        rest one = piece(&extensions, 2);
        if (extensions.short_of)
            return CW_CALLED_BROKEN;
        if (type != 0)
            continue;
        rest names = piece(&one, 2);
        size_t kind = number(&names, 1);
        rest name = piece(&names, 2);
        if (names.short_of || kind != 0)
            return CW_CALLED_BROKEN;
        return take_name(name.at, name.n, host);
    }
    return CW_CALLED_NONE;
}

cw_called cw_called_tls(const unsigned char *bytes, size_t n, char host[CW_CALLED_NAME])
{
    if ((n > 0 && bytes[0] != 22) || (n > 1 && bytes[1] != 3))
        return CW_CALLED_BROKEN; /* no record of a handshake */
    if (n < 5)
        return CW_CALLED_MORE;
    size_t length = (size_t)bytes[3] << 8 | bytes[4];
    if (length > CW_CALLED_BYTES - 5)
        return CW_CALLED_BROKEN;
    if (n < 5 + length)
        return CW_CALLED_MORE;
    rest record = { bytes + 5, length, false };
    size_t type = number(&record, 1);
    rest hello = piece(&record, 3);
    number(&hello, 2); /* version, random, session, ciphers, compressions */
    for (int i = 0; i < 4; i++)
        number(&hello, 8);
    piece(&hello, 1);
    piece(&hello, 2);
    piece(&hello, 1);
    if (type != 1 || record.short_of || hello.short_of)
        return CW_CALLED_BROKEN;
    rest extensions = { 0 };
    if (hello.n > 0)
        extensions = piece(&hello, 2);
    return hello.short_of ? CW_CALLED_BROKEN : server_name(extensions, host);
}
