/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_LOAD_H
#define CW_TESTS_SUPPORT_LOAD_H

/* A load generator for the benches: many kept-alive connections from one thread (epoll). Closed loop: each connection asks
 * again as soon as it is answered. Open loop: requests start at a fixed rate whether answers come or not, and the time counts
 * from when a request was due, so that a stall is felt by all that should have been sent meanwhile. */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct load_result {
    uint64_t answered, failed; /* failed: not 200 or 201, or a broken connection */
    double seconds, p50_ms, p99_ms, worst_ms;
} load_result;

/* Writes the next request of a connection into out[size] and returns its length. Called from the generator's thread. */
typedef size_t (*load_request)(void *context, unsigned connection, char *out, size_t size);

/* Told of each answer's status. May be NULL. */
typedef void (*load_answer)(void *context, unsigned connection, int status);

typedef struct load_plan {
    unsigned port, connections;
    double seconds;
    double rate; /* requests a second; 0: closed loop */
    load_request request;
    load_answer answer;
    void *context;
    const bool *stop; /* may be NULL: ends before its time when set */
} load_plan;

bool load_run(const load_plan *plan, load_result *out);

#endif
