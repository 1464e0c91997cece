/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_STANDBY_H
#define CW_SERVER_STANDBY_H

#include "http/route.h"

/* Does the second place have what was written here? An engine of its own copies the file to a folder (scripts/standby); the server
 * only looks, once a second, at when the file's log was written last and when the folder got something last.
 *
 *     behind = now - the first write that the folder does not have yet;  0: it has all
 *
 * Both times are file times. If the folder lies on another machine, its clock has to be right within a second or two. */
typedef struct cw_standby_view {
    bool kept;         /* a folder was named at the start */
    int64_t behind_ms; /* 0: it has all */
    int64_t copied_at; /* instant; 0: it has nothing at all */
} cw_standby_view;

void cw_standby_view_of(const cw_request *q, cw_standby_view *out);

/* What a program that watches the server reads: the text format that OpenMetrics grew from, a line "name value" each, with its
 * type before it. Numbers only. */
void cw_metrics_text(const cw_request *q, cw_text *out);

#endif
