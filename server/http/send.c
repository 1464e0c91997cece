/* SPDX-License-Identifier: MIT */
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "http/http_inside.h"

#include "base/banned.h"

/* The policy lets a page use what comes from here and nothing else; no inline script or style, no frame around it. */
#define POLICY                                                                                               \
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "    \
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "  \
    "require-trusted-types-for 'script'; trusted-types clumpwise"

/* True without a value, too: there is nothing to add. */
bool cw_response_header(struct MHD_Response *r, const char *name, const char *value)
{
    return value == NULL || value[0] == '\0' || MHD_add_response_header(r, name, value) == MHD_YES;
}

bool cw_response_headers(struct MHD_Response *r, const cw_server *s)
{
    return cw_response_header(r, "Content-Security-Policy", POLICY) &&
           cw_response_header(r, "X-Content-Type-Options", "nosniff") &&
           cw_response_header(r, "Referrer-Policy", "no-referrer") &&
           cw_response_header(r, "Cross-Origin-Resource-Policy", "same-origin") &&
           cw_response_header(r, "Cross-Origin-Opener-Policy", "same-origin") &&
           cw_response_header(r, "Strict-Transport-Security", s->tls ? "max-age=31536000" : NULL);
}

static bool own_headers(struct MHD_Response *r, const cw_request *q)
{
    char name[200] = "", retry[32] = "";
    bool fine = q->status < 400;
    if (q->name[0])
        snprintf(name, sizeof name, "attachment; filename=\"%s\"", q->name);
    if (q->retry_after > 0)
        snprintf(retry, sizeof retry, "%d", q->retry_after);
    return cw_response_header(r, "Content-Type", q->type) &&
           cw_response_header(r, "Content-Encoding", q->gzipped ? "gzip" : NULL) &&
           cw_response_header(r, "Vary", q->type ? "Accept-Encoding" : NULL) &&
           cw_response_header(r, "ETag", fine ? q->etag : NULL) &&
           cw_response_header(r, "Cache-Control", q->etag[0] && fine ? "private, no-cache" : "no-store") &&
           cw_response_header(r, "Set-Cookie", q->cookie) && cw_response_header(r, "Allow", q->allow) &&
           cw_response_header(r, "Content-Disposition", name) &&
           cw_response_header(r, "Retry-After", retry) &&
           cw_response_header(r, "WWW-Authenticate", q->status == 401 ? "Bearer" : NULL) &&
           cw_response_header(r, "Connection",
                              q->refused || atomic_load(&q->server->stopping) ? "close" : NULL);
}

/* For replies that may tell a secret: a key, the secret of a second factor. */
static void wipe_and_free(void *block)
{
    explicit_bzero(block, malloc_usable_size(block));
    free(block);
}

struct MHD_Response *cw_response_of(cw_request *q)
{
    size_t n = q->reply.length;
    char *bytes = n ? cw_text_take(&q->reply) : NULL;
    struct MHD_Response *r =
        n ? MHD_create_response_from_buffer_with_free_callback(n, bytes,
                                                               q->accounts_changed ? wipe_and_free : free)
          : MHD_create_response_from_buffer(0, (void *)(uintptr_t) "", MHD_RESPMEM_PERSISTENT);
    if (r && cw_response_headers(r, q->server) && own_headers(r, q))
        return r;
    if (r)
        MHD_destroy_response(r);
    else
        free(bytes); /* the library did not take them */
    return NULL;     /* rather none than one without its policy or its cookie */
}

enum MHD_Result cw_send_response(cw_request *q, unsigned status, struct MHD_Response *r)
{
    cw_wire_enter(q->wire, CW_PHASE_REPLY);
    return MHD_queue_response(q->connection, status, r);
}

enum MHD_Result cw_send(cw_request *q)
{
    cw_watch_refused(q);
    struct MHD_Response *r = cw_response_of(q);
    if (r == NULL)
        return MHD_NO; /* no memory even to say so: the connection is closed */
    enum MHD_Result sent = cw_send_response(q, q->status, r);
    MHD_destroy_response(r);
    return sent;
}
