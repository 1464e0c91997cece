/* SPDX-License-Identifier: MIT */
#include <stdlib.h>
#include <time.h>

#include "cli/clock.h"
#include "desk/answers.h"
#include "http/inside.h"

#include "base/banned.h"

/* Housekeeping beside the requests: once an hour what has expired is dropped, by the writer. */
#define HOUSE_MS 3600000LL

struct cw_keeper {
    pthread_mutex_t lock;
    pthread_cond_t wake;
    pthread_t thread;
    bool stopping;
    cw_server *server;
};

static cw_code expire(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_accounts_expire(n, q->who.now, err);
    return code == CW_OK ? cw_answers_expire(n, q->who.now, err) : code;
}

static void clean(cw_server *s)
{
    static const cw_route none = { .access = CW_ROUTE_WORK };
    cw_request *q = calloc(1, sizeof *q);
    if (q == NULL)
        return;
    q->server = s;
    q->route = &none;
    q->then = expire;
    q->who.now = cw_clock_now();
    cw_jobs_put(&s->jobs, q);
}

static void *run(void *self)
{
    struct cw_keeper *k = self;
    int64_t cleaned = cw_clock_ticks() - HOUSE_MS;
    pthread_mutex_lock(&k->lock);
    while (!k->stopping) {
        struct timespec until;
        if (cw_clock_ticks() - cleaned >= HOUSE_MS) {
            cleaned = cw_clock_ticks();
            clean(k->server);
        }
        clock_gettime(CLOCK_REALTIME, &until);
        until.tv_sec += 1;
        pthread_cond_timedwait(&k->wake, &k->lock, &until);
    }
    pthread_mutex_unlock(&k->lock);
    return NULL;
}

cw_code cw_keeper_start(cw_server *s, cw_error *err)
{
    struct cw_keeper *k = calloc(1, sizeof *k);
    if (k == NULL)
        return cw_error_memory(err);
    k->server = s;
    pthread_mutex_init(&k->lock, NULL);
    pthread_cond_init(&k->wake, NULL);
    if (pthread_create(&k->thread, NULL, run, k) != 0) {
        free(k);
        return cw_error_set(err, CW_MACHINE, "no thread can be started");
    }
    s->keeper = k;
    return CW_OK;
}

void cw_keeper_stop(cw_server *s)
{
    struct cw_keeper *k = s->keeper;
    if (k == NULL)
        return;
    pthread_mutex_lock(&k->lock);
    k->stopping = true;
    pthread_cond_signal(&k->wake);
    pthread_mutex_unlock(&k->lock);
    pthread_join(k->thread, NULL);
    pthread_mutex_destroy(&k->lock);
    pthread_cond_destroy(&k->wake);
    free(k);
    s->keeper = NULL;
}
