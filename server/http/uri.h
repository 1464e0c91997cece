/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_URI_H
#define CW_SERVER_URI_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* The request target as it came over the wire (RFC 3986, origin form): checked once, cut into path and query.
 * The library's own decoding is not used, since it lets %00 end a path early. */
#define CW_MAX_URI_BYTES   4096
#define CW_MAX_QUERY_PAIRS 32

typedef struct cw_pair {
    char *name, *value; /* decoded; into cw_uri.bytes */
} cw_pair;

typedef struct cw_uri {
    char *bytes;      /* owned: raw path, then decoded query pairs */
    const char *path; /* still escaped; begins with '/' */
    cw_pair pairs[CW_MAX_QUERY_PAIRS];
    size_t pair_count;
} cw_uri;

/* CW_USAGE: not a path, a control byte, a broken escape, %00, text that is not UTF-8, a parameter twice, too
 * long. */
cw_code cw_uri_parse(const char *target, size_t n, cw_uri *out, cw_error *err) CW_MUST_CHECK;
void cw_uri_free(cw_uri *u);                                 /* also right for a zeroed one */
const char *cw_uri_value(const cw_uri *u, const char *name); /* NULL if absent */

/* Decodes s[0..n) into out[size]; '+' is a space if `form`. False for a broken escape, NUL, broken UTF-8 or
 * no room. */
bool cw_uri_decode(const char *s, size_t n, bool form, char *out, size_t size);

#endif
