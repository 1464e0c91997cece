/* SPDX-License-Identifier: MIT */
/*
 * How does a body name several notices at once? As {"notices": [{"notice": N}, …]}: letters of them are written, or they are on
 * record as sent. Units: N counts from 1; at most CW_NOTICES_MOST of them.
 */
#ifndef CW_ROUTES_NOTICES_INSIDE_H
#define CW_ROUTES_NOTICES_INSIDE_H

#include "http/route.h"

/* Each member of the list, for the contract. */
extern const cw_member cw_one_notice_shape[];

/* The numbers in `list`. The caller frees `ids`, also after an error. */
cw_code cw_notice_ids_read(const json_t *list, int64_t **ids, size_t *count, cw_error *err);

#endif
