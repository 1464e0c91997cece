/* SPDX-License-Identifier: MIT */
#include "base/parallel.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <unistd.h>

#include "base/banned.h"

#define MAX_WORKERS 16

typedef struct job {
    cw_parallel_body body;
    void *context;
    size_t n;
    size_t chunk;
    atomic_size_t next;
} job;

typedef struct worker {
    job *job;
    unsigned number;
} worker;

static void *work(void *arg)
{
    worker *w = arg;
    job *j = w->job;
    for (;;) {
        size_t first = atomic_fetch_add(&j->next, j->chunk);
        if (first >= j->n)
            return NULL;
        size_t last = j->n - first < j->chunk ? j->n : first + j->chunk;
        for (size_t i = first; i < last; i++)
            j->body(j->context, w->number, i);
    }
}

unsigned cw_parallel_workers(unsigned threads)
{
    if (threads == 0) {
        long n = sysconf(_SC_NPROCESSORS_ONLN);
        threads = n < 1 ? 1 : (unsigned)n;
    }
    return threads > MAX_WORKERS ? MAX_WORKERS : threads;
}

void cw_parallel_for(unsigned threads, size_t n, cw_parallel_body body, void *context)
{
    unsigned workers = cw_parallel_workers(threads);
    job j = { .body = body, .context = context, .n = n, .chunk = n / (workers * 8) + 1 };
    atomic_init(&j.next, 0);
    worker all[MAX_WORKERS];
    pthread_t ids[MAX_WORKERS];
    bool started[MAX_WORKERS] = { false };
    for (unsigned w = 0; w < workers; w++)
        all[w] = (worker){ &j, w };
    for (unsigned w = 1; w < workers && n > 1; w++)
        started[w] = pthread_create(&ids[w], NULL, work, &all[w]) == 0;
    work(&all[0]);
    for (unsigned w = 1; w < workers; w++)
        if (started[w])
            pthread_join(ids[w], NULL);
}
