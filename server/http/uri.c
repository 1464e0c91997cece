/* SPDX-License-Identifier: MIT */
#include "http/uri.h"

#include "base/text.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

bool cw_uri_decode(const char *s, size_t n, bool form, char *out, size_t size)
{
    size_t j = 0;
    for (size_t i = 0; i < n; i++) {
        int c = (unsigned char)s[i];
        if (c == '%') {
            int high = i + 2 < n ? hex_digit(s[i + 1]) : -1;
            int low = i + 2 < n ? hex_digit(s[i + 2]) : -1;
            if (high < 0 || low < 0)
                return false;
            c = high * 16 + low;
            i += 2;
        } else if (c == '+' && form) {
            c = ' ';
        }
        if (c == 0 || j + 1 >= size)
            return false;
        out[j++] = (char)c;
    }
    if (size == 0)
        return false;
    out[j] = '\0';
    return cw_utf8_valid(out, j, NULL);
}

/* Every byte that RFC 3986 lets stand in a path or query, and a few that browsers leave as they are; none is
 * a control byte, a space or beyond ASCII. */
static bool bytes_allowed(const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)s[i] <= 0x20 || (unsigned char)s[i] >= 0x7F || s[i] == '#' || s[i] == '\\')
            return false;
    return true;
}

/* Decodes s[0..n) to the end of u->bytes at *used. */
static char *keep(const char *s, size_t n, char *at, size_t room, size_t *length)
{
    if (!cw_uri_decode(s, n, true, at, room))
        return NULL;
    *length = strlen(at) + 1;
    return at;
}

static cw_code parse_query(const char *query, cw_uri *u, char *room, size_t size, cw_error *err)
{
    while (*query) {
        size_t n = strcspn(query, "&"), name = strcspn(query, "=&"), length = 0;
        if (n > 0) {
            cw_pair *pair = &u->pairs[u->pair_count];
            if (u->pair_count == CW_MAX_QUERY_PAIRS)
                return cw_error_set(err, CW_USAGE, "the address has more than %d parameters",
                                    CW_MAX_QUERY_PAIRS);
            pair->name = keep(query, name, room, size, &length);
            room += length;
            size -= length;
            pair->value = name < n ? keep(query + name + 1, n - name - 1, room, size, &length)
                                   : keep("", 0, room, size, &length);
            room += length;
            size -= length;
            if (pair->name == NULL || pair->value == NULL)
                return cw_error_set(err, CW_USAGE, "a parameter in the address is not well escaped UTF-8");
            if (cw_uri_value(u, pair->name))
                return cw_error_at(err, CW_USAGE, NULL, 0, pair->name, "stands twice in the address");
            u->pair_count++;
        }
        query += n + (query[n] == '&');
    }
    return CW_OK;
}

cw_code cw_uri_parse(const char *target, size_t n, cw_uri *out, cw_error *err)
{
    char decoded[CW_MAX_URI_BYTES + 1];
    *out = (cw_uri){ 0 };
    if (n == 0 || target[0] != '/' || n > CW_MAX_URI_BYTES || !bytes_allowed(target, n))
        return cw_error_set(err, CW_USAGE, "the address is not a path of plain characters, or longer than %d",
                            CW_MAX_URI_BYTES);
    size_t path = 0;
    while (path < n && target[path] != '?')
        path++;
    if (!cw_uri_decode(target, path, false, decoded, sizeof decoded))
        return cw_error_set(err, CW_USAGE, "the path is not well escaped UTF-8");
    /* Raw target, then the decoded pairs: those never take more than the query itself, a NUL for each piece
     * included. */
    size_t size = 2 * (n + CW_MAX_QUERY_PAIRS + 2);
    out->bytes = calloc(1, size);
    if (out->bytes == NULL)
        return cw_error_memory(err);
    memcpy(out->bytes, target, n);
    out->path = out->bytes;
    const char *query = path < n ? out->bytes + path + 1 : out->bytes + n;
    out->bytes[path] = '\0';
    return parse_query(query, out, out->bytes + n + 1, size - n - 1, err);
}

void cw_uri_free(cw_uri *u)
{
    free(u->bytes);
    *u = (cw_uri){ 0 };
}

const char *cw_uri_value(const cw_uri *u, const char *name)
{
    for (size_t i = 0; i < u->pair_count; i++)
        if (strcmp(u->pairs[i].name, name) == 0)
            return u->pairs[i].value;
    return NULL;
}
