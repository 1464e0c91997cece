/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_LISTEN_H
#define CW_SERVER_LISTEN_H

#include "http/server.h"

/* The address on which a server, or a fleet of them, listens. */
typedef struct cw_listen {
    int fd; /* the caller's to close; -1: none */
    unsigned port;
    bool loopback;  /* of this machine alone */
    char host[200]; /* as --listen says it, without the brackets of an IPv6 address */
    char url[128];  /* "http://127.0.0.1:8473" */
} cw_listen;

/* Opens how->listen. CW_USAGE: no ADDRESS:PORT; CW_REFUSED: no such address; CW_MACHINE: it is in use. */
cw_code cw_listen_open(const cw_serve *how, cw_listen *out, cw_error *err) CW_MUST_CHECK;

/* CW_REFUSED beyond this machine without TLS, unless that risk was taken, which is said. */
cw_code cw_listen_check(const cw_serve *how, bool loopback, cw_error *err) CW_MUST_CHECK;

/* An address as its bytes, IPv4 or IPv6, zeros behind. */
struct sockaddr;
#define CW_ADDRESS 16
bool cw_address_read(const char *text, unsigned char out[CW_ADDRESS]); /* false: it is none */
void cw_address_of(const struct sockaddr *a,
                   unsigned char out[CW_ADDRESS]); /* NULL, or of another kind: zeros */

#endif
