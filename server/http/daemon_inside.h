/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_DAEMON_H
#define CW_SERVER_DAEMON_H

#include "http/http_inside.h"

/* The call-backs that server.c gives to the library; `self` is the cw_server. */
void *cw_daemon_target(void *self, const char *target, struct MHD_Connection *c);
enum MHD_Result cw_daemon_handle(void *self, struct MHD_Connection *c, const char *url, const char *method,
                                 const char *version, const char *bytes, size_t *n, void **request);
void cw_daemon_completed(void *self, struct MHD_Connection *c, void **request,
                         enum MHD_RequestTerminationCode why);
void cw_daemon_address(cw_request *q); /* sets q->address */

#endif
