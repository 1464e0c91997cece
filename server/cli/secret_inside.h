/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_SECRET_H
#define CW_SERVER_SECRET_H

#include "base/error.h"

#include <stddef.h>

/* A password from the terminal, asked twice and not shown; or the first line of standard input when that is
 * no terminal. */
#define CW_SECRET_BYTES 600
cw_code cw_secret_read(const char *prompt, const char *name, char out[CW_SECRET_BYTES],
                       cw_error *err) CW_MUST_CHECK;
void cw_secret_wipe(void *bytes, size_t n);

#endif
