/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_PARALLEL_H
#define CW_BASE_PARALLEL_H

#include <stddef.h>

/* Runs body(context, worker, i) for i = 0 .. n-1 on up to `threads` threads (0 = one per processor, at most 16) and
 * returns when all are done. `worker` is 0 .. threads-1, for per-thread workspaces. The order is not defined, so a
 * body must write only to its own i; then the result does not depend on the number of threads. If threads cannot be
 * started the caller's own thread does the work. */
typedef void (*cw_parallel_body)(void *context, unsigned worker, size_t i);
void cw_parallel_for(unsigned threads, size_t n, cw_parallel_body body, void *context);

/* The number of workers that `threads` stands for, to size workspaces. */
unsigned cw_parallel_workers(unsigned threads);

#endif
