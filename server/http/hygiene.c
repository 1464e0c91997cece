/* SPDX-License-Identifier: MIT */
#include <ctype.h>
#include <string.h>
#include <strings.h>

#include "http/inside.h"

#include "base/banned.h"

/* The library takes header blocks that RFC 9112 tells servers to refuse: two Content-Lengths, a length together with a
 * transfer coding, bare line feeds, folded lines, blanks before the colon, NUL bytes. Two of them are seen in the headers
 * themselves. The rest is seen by arithmetic: a block of one line a header, written "Name: value" with CRLF, has a size that
 * follows from its names and values, and the library tells the true size. Who writes otherwise is refused. A block whose
 * oddities add up to the right size passes; so this guards the server, and is no leave to put a proxy before it. */
typedef struct seen {
    size_t bytes;         /* of names and values, with colon and CRLF */
    size_t lines, filled; /* headers; of them with a value */
    int lengths, codings, hosts, types;
    bool odd; /* a byte that may not stand there */
    const char *coding, *host, *type;
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

static enum MHD_Result look(void *self, enum MHD_ValueKind kind, const char *name, size_t n,
                            const char *value, size_t m)
{
    seen *s = self;
    (void)kind;
    s->bytes += n + m + 3;
    s->lines++;
    s->filled += m > 0;
    s->odd = s->odd || !is_token(name, n);
    for (size_t i = 0; i < m; i++)
        s->odd = s->odd || ((unsigned char)value[i] < 0x20 && value[i] != '\t') || value[i] == 0x7F;
    if (has_name(name, n, "Content-Length")) {
        s->lengths++;
        for (size_t i = 0; i < m; i++)
            s->odd = s->odd || value[i] < '0' || value[i] > '9';
    } else if (has_name(name, n, "Transfer-Encoding")) {
        s->codings++;
        s->coding = value;
    } else if (has_name(name, n, "Host")) {
        s->hosts++;
        s->host = value;
    } else if (has_name(name, n, "Content-Type")) {
        s->types++;
        s->type = value;
    }
    return MHD_YES;
}

/* One blank after each colon, none after an empty value's colon is also usual; or none anywhere. */
static bool size_fits(size_t size, const seen *s, size_t request_line)
{
    size_t bare = request_line + s->bytes + 2;
    return size == bare || (size >= bare + s->filled && size <= bare + s->lines);
}

static cw_code check_host(const cw_server *server, const seen *s, const char *version, cw_error *err)
{
    if (s->hosts > 1 || (s->hosts == 0 && strcmp(version, "HTTP/1.1") == 0))
        return cw_error_set(err, CW_USAGE, "exactly one Host header is needed");
    return s->hosts ? cw_hygiene_host(server, s->host, err) : CW_OK;
}

cw_code cw_hygiene_check(cw_request *q, size_t target_length, const char *method, const char *version,
                         cw_error *err)
{
    seen s = { 0 };
    const union MHD_ConnectionInfo *size =
        MHD_get_connection_info(q->connection, MHD_CONNECTION_INFO_REQUEST_HEADER_SIZE);
    if (strcmp(version, "HTTP/1.1") != 0 && strcmp(version, "HTTP/1.0") != 0)
        return cw_error_set(err, CW_USAGE, "HTTP/1.1 is spoken here");
    MHD_get_connection_values_n(q->connection, MHD_HEADER_KIND, look, &s);
    if (s.lengths > 1 || (s.lengths && s.codings) || s.codings > 1 || s.types > 1)
        return cw_error_set(err, CW_USAGE, "the length of the body is told twice, or a header is repeated");
    if (s.codings && strcasecmp(s.coding, "chunked") != 0)
        return cw_error_set(err, CW_USAGE, "no transfer coding but chunked is known here");
    size_t line = strlen(method) + 1 + target_length + 1 + strlen(version) + 2;
    if (s.odd || size == NULL || !size_fits(size->header_size, &s, line))
        return cw_error_set(err, CW_USAGE, "a header line is not 'Name: value' ended by CRLF");
    return check_host(q->server, &s, version, err);
}

/* A name that resolves to this machine but is not ours is a page elsewhere that reaches for it (DNS rebinding). A numeric
 * address cannot be used for that. */
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
        good = numeric || strcasecmp(name, "localhost") == 0;
        for (size_t i = 0; !good && i < sizeof s->names / sizeof s->names[0]; i++)
            good = s->names[i][0] && strcasecmp(name, s->names[i]) == 0;
    }
    if (!good)
        return cw_error_set(err, CW_USAGE,
                            "this server does not go by that name; 'serve --host NAME' gives it another one");
    return CW_OK;
}
