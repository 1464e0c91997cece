/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_GO_ON_H
#define CW_BASE_GO_ON_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* Is the answer still wanted? Asked by long work between two pieces of it, from any of its threads. All zero: it is. Once
 * the answer was no it stays no. Nothing that is computed depends on it but whether it is computed to its end. */
typedef struct cw_go_on {
    bool (*ask)(void *context);
    void *context;
} cw_go_on;

static inline bool cw_wanted(cw_go_on g)
{
    return g.ask == NULL || g.ask(g.context);
}

/* CW_REFUSED, the one sentence for it. */
static inline cw_code cw_given_up(cw_error *err)
{
    return cw_error_set(err, CW_REFUSED, "given up as asked; nothing was changed");
}

#endif
