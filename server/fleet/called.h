/* SPDX-License-Identifier: MIT */
#ifndef CW_FLEET_CALLED_H
#define CW_FLEET_CALLED_H

#include <stdbool.h>
#include <stddef.h>

/* Whom does a new connection ask for? Told by its first bytes, which are looked at and left where they are: the Host of an HTTP
 * request (RFC 9112 3.2), or under TLS the server_name of the ClientHello (RFC 6066 3). This only chooses who gets the connection;
 * the nursery that gets it reads every request by itself and refuses another's name, so nothing rests on these two. */
#define CW_CALLED_NAME  254         /* a name's bytes, with the NUL */
#define CW_CALLED_BYTES (5 + 16384) /* of a connection that are looked at: a record of TLS (RFC 8446 5.1) */

typedef enum cw_called {
    CW_CALLED_MORE,  /* not told yet */
    CW_CALLED_HOST,  /* `host` is the name: lower case, without port, a name of the DNS by its letters */
    CW_CALLED_NONE,  /* it names nobody, or a number */
    CW_CALLED_BROKEN /* neither HTTP nor TLS */
} cw_called;

cw_called cw_called_http(const unsigned char *bytes, size_t n, char host[CW_CALLED_NAME]);
/* A ClientHello that is spread over several records is broken here: one record holds 16 kB. */
cw_called cw_called_tls(const unsigned char *bytes, size_t n, char host[CW_CALLED_NAME]);

/* Is it a host name: lower-case letters, digits, hyphens and dots (RFC 1123 2.1), no number, no label too long? */
bool cw_called_is_name(const char *s);

#endif
