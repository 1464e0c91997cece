/* SPDX-License-Identifier: MIT */
#include <ctype.h>
#include <stdint.h>
#include <string.h>
#include <strings.h>

#include "base/text.h"
#include "http/http_inside.h"

#include "base/banned.h"

/* The library takes header blocks that RFC 9112 tells servers to refuse: two Content-Lengths, a length together with a
 * transfer coding, bare line feeds, folded lines, blanks before the colon, NUL bytes. Lengths and codings are seen in the
 * headers themselves. The rest is seen by where things lie: the library cuts the block in place and hands out pointers into
 * it, so each name must begin two bytes (CRLF) after the end of the value before it, nothing but blanks may stand between a
 * colon and its value, and the block must end two bytes (the empty line) after the last line. A byte too many or too few at
 * any place moves what follows, and nothing later can move it back: every place is asked for by itself. Newer versions of
 * the library lay their values elsewhere, and refuse such blocks themselves when they are told to be strict
 * (CW_LIBRARY_IS_STRICT).
 *
 * What cannot be seen: the library overwrites a line's end with NUL, so a NUL that was sent in the place of the CR before an
 * LF looks like CRLF, and so does one among the four bytes that end the block. The headers are the same either way. Only
 * whoever takes a NUL for a part of a value, which RFC 9110 5.5 forbids, could read such a block otherwise than we do; and
 * without a proxy in front there is nobody else to read it. */
typedef struct seen {
    const char *next; /* where the next line must begin */
    bool moved;       /* a line that does not */
    int lengths, codings, hosts, types;
    bool odd; /* a byte that may not stand there */
    const char *host;
} seen;

static bool is_token(const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!isalnum((unsigned char)s[i]) && (s[i] == '\0' || strchr("!#$%&'*+-.^_`|~", s[i]) == NULL))
            return false;
    return n > 0;
}

static bool has_name(const char *name, size_t n, const char *want)
{
    return strlen(want) == n && strncasecmp(name, want, n) == 0;
}

/* `value` may be read up to the NUL at its end and the byte after it, where the library has cut the line. */
static void look_where(seen *s, const char *name, size_t n, const char *value, size_t m)
{
    const char *blank = name + n + 1;
    s->moved = s->moved || name != s->next || (uintptr_t)value < (uintptr_t)blank;
    if (s->moved)
        return;
    while (blank < value && (*blank == ' ' || *blank == '\t'))
        blank++;
    s->moved = blank != value || value[m] != '\0' || value[m + 1] != '\0';
    s->next = value + m + 2;
}

static enum MHD_Result look(void *self, enum MHD_ValueKind kind, const char *name, size_t n,
                            const char *value, size_t m)
{
    seen *s = self;
    (void)kind;
    look_where(s, name, n, value, m);
    s->odd = s->odd || !is_token(name, n) || cw_has_control(value, m, "\t");
    if (has_name(name, n, "Content-Length")) {
        s->lengths++;
        for (size_t i = 0; i < m; i++)
            s->odd = s->odd || value[i] < '0' || value[i] > '9';
    } else if (has_name(name, n, "Transfer-Encoding")) {
        s->codings++;
    } else if (has_name(name, n, "Host")) {
        s->hosts++;
        s->host = value;
    } else if (has_name(name, n, "Content-Type")) {
        s->types++;
    }
    return MHD_YES;
}

/* The request line: one blank between its three words, CRLF after them. Where the headers must begin, NULL if it is not so. */
static const char *after_request_line(const char *method, size_t target_length, const char *version)
{
    const char *end = version + strlen(version);
    if (version != method + strlen(method) + 1 + target_length + 1 || end[0] != '\0' || end[1] != '\0')
        return NULL;
    return end + 2;
}

/* Does every line begin where the one before it ended, and the block with its last line? */
static bool lies_as_sent(const seen *s, const char *method, struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *size =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_REQUEST_HEADER_SIZE);
    return !s->moved && s->next != NULL && size != NULL && s->next + 2 == method + size->header_size &&
           s->next[0] == '\0' && s->next[1] == '\0';
}

static cw_code check_host(cw_request *q, const seen *s, const char *version, cw_error *err)
{
    bool fleet = q->server->how.fleet_name != NULL;
    if (s->hosts > 1 || (s->hosts == 0 && (fleet || strcmp(version, "HTTP/1.1") == 0)))
        return cw_error_set(err, CW_USAGE, "exactly one Host header is needed");
    cw_code code = s->hosts ? cw_hygiene_host(q->server, s->host, err) : CW_OK;
    if (code != CW_OK && fleet) /* a kept connection that goes on to another nursery (RFC 9110 15.5.20) */
        cw_reply_problem_as(q, 421, "misdirected",
                            "this connection is another nursery's; ask on one of its own");
    return code;
}

cw_code cw_hygiene_check(cw_request *q, size_t target_length, const char *method, const char *version,
                         cw_error *err)
{
    seen s = { .next = after_request_line(method, target_length, version) };
    if (strcmp(version, "HTTP/1.1") != 0 && strcmp(version, "HTTP/1.0") != 0)
        return cw_error_set(err, CW_USAGE, "HTTP/1.1 is spoken here");
    MHD_get_connection_values_n(q->connection, MHD_HEADER_KIND, look, &s);
    if (s.lengths > 1 || (s.lengths && s.codings) || s.codings > 1 || s.types > 1)
        return cw_error_set(err, CW_USAGE, "the length of the body is told twice, or a header is repeated");
    if (s.odd || (!CW_LIBRARY_IS_STRICT && !lies_as_sent(&s, method, q->connection)))
        return cw_error_set(err, CW_USAGE, "a header line is not 'Name: value' ended by CRLF");
    return check_host(q, &s, version, err);
}

/* A name that resolves to this machine but is not ours is a page elsewhere that reaches for it (DNS rebinding). A numeric
 * address cannot be used for that. In a fleet there is one name and no other, so that each nursery's page is an origin of its own. */
cw_code cw_hygiene_host(const cw_server *s, const char *host, cw_error *err)
{
    char name[256];
    size_t n = host[0] == '[' ? strcspn(host, "]") + 1 : strcspn(host, ":");
    const char *port = strlen(host) >= n ? host + n : "";
    bool good = n > 0 && n < sizeof name &&
                (port[0] == '\0' || (port[0] == ':' && strspn(port + 1, "0123456789") == strlen(port + 1)));
    if (good) {
        memcpy(name, host, n);
        name[n] = '\0';
        bool numeric = host[0] == '[' ? strspn(name, "[]0123456789abcdefABCDEF:.") == n
                                      : strspn(name, "0123456789.") == n;
        good = s->how.fleet_name == NULL && (numeric || strcasecmp(name, "localhost") == 0);
        for (size_t i = 0; !good && i < sizeof s->names / sizeof s->names[0]; i++)
            good = s->names[i][0] && strcasecmp(name, s->names[i]) == 0;
    }
    if (!good)
        return cw_error_set(err, CW_USAGE,
                            "this server does not go by that name; 'serve --host NAME' gives it another one");
    return CW_OK;
}
