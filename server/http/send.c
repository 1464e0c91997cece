/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "http/inside.h"

#include "base/banned.h"

/* The policy lets a page use what comes from here and nothing else; no inline script or style, no frame around it. */
#define POLICY                                                                                               \
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "    \
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "  \
    "require-trusted-types-for 'script'; trusted-types clumpwise"

static void add(struct MHD_Response *r, const char *name, const char *value)
{
    if (value && value[0])
        MHD_add_response_header(r, name, value);
}

void cw_response_headers(struct MHD_Response *r, const cw_server *s)
{
    add(r, "Content-Security-Policy", POLICY);
    add(r, "X-Content-Type-Options", "nosniff");
    add(r, "Referrer-Policy", "no-referrer");
    add(r, "Cross-Origin-Resource-Policy", "same-origin");
    add(r, "Cross-Origin-Opener-Policy", "same-origin");
    if (s->tls)
        add(r, "Strict-Transport-Security", "max-age=31536000");
}

struct MHD_Response *cw_response_of(cw_request *q)
{
    size_t n = q->reply.length;
    char *bytes = n ? cw_text_take(&q->reply) : NULL;
    struct MHD_Response *r =
        n ? MHD_create_response_from_buffer(n, bytes, MHD_RESPMEM_MUST_FREE)
          : MHD_create_response_from_buffer(0, (void *)(uintptr_t) "", MHD_RESPMEM_PERSISTENT);
    if (r == NULL)
        return NULL;
    char text[200];
    cw_response_headers(r, q->server);
    add(r, "Content-Type", q->type);
    add(r, "Content-Encoding", q->gzipped ? "gzip" : NULL);
    add(r, "Vary", q->type ? "Accept-Encoding" : NULL);
    add(r, "ETag", q->status < 400 ? q->etag : NULL);
    add(r, "Cache-Control", q->etag[0] && q->status < 400 ? "private, no-cache" : "no-store");
    add(r, "Set-Cookie", q->cookie);
    add(r, "Allow", q->allow);
    if (q->name[0]) {
        snprintf(text, sizeof text, "attachment; filename=\"%s\"", q->name);
        add(r, "Content-Disposition", text);
    }
    if (q->retry_after > 0) {
        snprintf(text, sizeof text, "%d", q->retry_after);
        add(r, "Retry-After", text);
    }
    if (q->status == 401)
        add(r, "WWW-Authenticate", "Bearer");
    if (q->refused || atomic_load(&q->server->stopping))
        add(r, "Connection", "close");
    return r;
}

enum MHD_Result cw_send_response(cw_request *q, unsigned status, struct MHD_Response *r)
{
    cw_wire_enter(q->wire, CW_PHASE_REPLY);
    return MHD_queue_response(q->connection, status, r);
}

enum MHD_Result cw_send(cw_request *q)
{
    struct MHD_Response *r = cw_response_of(q);
    if (r == NULL)
        return MHD_NO; /* no memory even to say so: the connection is closed */
    enum MHD_Result sent = cw_send_response(q, q->status, r);
    MHD_destroy_response(r);
    return sent;
}
