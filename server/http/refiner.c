/* SPDX-License-Identifier: MIT */
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "clock.h"
#include "desk/forecast/refining.h"
#include "http/http_inside.h"

#include "base/banned.h"

/* Works figures out whole, beside the requests (desk/forecast/refining.h). It begins when nothing new was asked for a second, with
 * one thread of the lowest standing and a reader of its own; it is given up when the stock becomes another one, and at a
 * stop. So entries in a row wait for nothing, and what they raise is worked out once, after the last of them. */
#define REST_MS 1000
#define LOOK_MS 50 /* between two looks whether the stock is still the same */
#define LOWEST  10 /* nice */

struct cw_refiner {
    pthread_mutex_t lock;
    pthread_cond_t wake;
    pthread_t thread;
    bool stopping, started;
    cw_server *server;
    cw_nursery *look;
    cw_refined *refined;
    cw_refine_want want[CW_REFINE_MOST]; /* newest first */
    size_t wants;
    int64_t asked; /* ticks of the newest */
    /* of the work in hand, its thread's own */
    cw_refine_want in_hand;
    int64_t looked;
    uint64_t writes;
};

static bool same(const cw_refine_want *a, const cw_refine_want *b)
{
    return a->stock == b->stock && a->ship == b->ship && a->as_of == b->as_of;
}

/* In front; of another stock than the newest nobody wants anything any more. */
static void add(struct cw_refiner *r, const cw_refine_want *want)
{
    cw_refine_want were[CW_REFINE_MOST];
    size_t count = r->wants, n = 1;
    memcpy(were, r->want, sizeof were);
    r->want[0] = *want;
    for (size_t i = 0; i < count && n < CW_REFINE_MOST; i++)
        if (were[i].stock == want->stock && !same(&were[i], want))
            r->want[n++] = were[i];
    r->wants = n;
    r->asked = cw_clock_ticks();
}

void cw_refiner_look(cw_server *s, const cw_nursery *n)
{
    cw_refine_want want[CW_REFINE_MOST];
    size_t count = cw_forecast_near(n, want);
    struct cw_refiner *r = s->refiner;
    if (count == 0)
        return;
    pthread_mutex_lock(&r->lock);
    for (size_t i = count; i-- > 0;) {
        bool known = false;
        for (size_t k = 0; k < r->wants && !known; k++)
            known = same(&r->want[k], &want[i]);
        if (!known)
            add(r, &want[i]);
    }
    pthread_cond_signal(&r->wake);
    pthread_mutex_unlock(&r->lock);
}

/* Asked between two pieces of work, on the thread that works: its reader is at rest then. */
static bool wanted(void *self, const char *what, uint64_t done, uint64_t all)
{
    struct cw_refiner *r = self;
    cw_revision now;
    cw_error err = CW_ERROR_NONE;
    uint64_t writes = atomic_load(&r->server->writes);
    (void)what;
    (void)done;
    (void)all;
    if (atomic_load(&r->server->stopping))
        return false;
    if (writes == r->writes || cw_clock_ticks() - r->looked < LOOK_MS)
        return true;
    r->writes = writes;
    r->looked = cw_clock_ticks();
    return cw_nursery_revision(r->look, &now, &err) == CW_OK && now.stock == r->in_hand.stock;
}

static void refine(struct cw_refiner *r)
{
    cw_error err = CW_ERROR_NONE;
    bool learned = false;
    cw_asker who = {
        .actor = "the program", .role = CW_ROLE_OWNER, .progress = wanted, .progress_context = r
    };
    who.now = cw_clock_now();
    who.today = r->in_hand.as_of;
    r->writes = atomic_load(&r->server->writes);
    r->looked = 0;
    cw_nursery_heed(r->look, (cw_go_on){ cw_heed_stop, r->server });
    /* What cannot be learned now (no memory, a damaged page) is told to whoever asks for it next. */
    if (cw_forecast_refine(r->look, &who, &r->in_hand, &learned, &err) != CW_OK)
        learned = false;
    atomic_store(&r->server->gave_back, true);
    cw_nursery_heed(r->look, (cw_go_on){ 0 });
}

/* With the lock held: until there is something that has rested long enough, or a stop. */
static bool next(struct cw_refiner *r)
{
    int64_t rest = r->server->how.refine_ms ? r->server->how.refine_ms : REST_MS;
    while (!r->stopping) {
        int64_t left = r->asked + rest - cw_clock_ticks();
        if (r->wants == 0) {
            pthread_cond_wait(&r->wake, &r->lock);
        } else if (left > 0) {
            struct timespec until;
            clock_gettime(CLOCK_REALTIME, &until);
            until.tv_sec += (time_t)(left / 1000);
            until.tv_nsec += (long)(left % 1000) * 1000000L;
            until.tv_sec += until.tv_nsec / 1000000000L;
            until.tv_nsec %= 1000000000L;
            pthread_cond_timedwait(&r->wake, &r->lock, &until);
        } else {
            r->in_hand = r->want[0];
            r->wants--;
            memmove(r->want, r->want + 1, r->wants * sizeof r->want[0]);
            return true;
        }
    }
    return false;
}

static void *run(void *self)
{
    struct cw_refiner *r = self;
    setpriority(PRIO_PROCESS, 0, LOWEST); /* on Linux: of this thread */
    pthread_mutex_lock(&r->lock);
    while (next(r)) {
        pthread_mutex_unlock(&r->lock);
        refine(r);
        pthread_mutex_lock(&r->lock);
    }
    pthread_mutex_unlock(&r->lock);
    return NULL;
}

struct cw_refiner *cw_refiner_new(cw_server *s)
{
    struct cw_refiner *r = calloc(1, sizeof *r);
    if (r == NULL || (r->refined = cw_refined_new()) == NULL) {
        free(r);
        return NULL;
    }
    r->server = s;
    pthread_mutex_init(&r->lock, NULL);
    pthread_cond_init(&r->wake, NULL);
    return r;
}

void cw_refiner_share(cw_server *s, cw_nursery *n)
{
    cw_forecast_share(n, s->refiner->refined);
}

cw_code cw_refiner_start(cw_server *s, cw_error *err)
{
    struct cw_refiner *r = s->refiner;
    cw_code code = cw_nursery_open(s->how.path, CW_LOOK, NULL, &r->look, err);
    if (code != CW_OK)
        return code;
    cw_refiner_share(s, r->look);
    r->started = pthread_create(&r->thread, NULL, run, r) == 0;
    return r->started ? CW_OK : cw_error_set(err, CW_MACHINE, "no thread can be started");
}

void cw_refiner_stop(cw_server *s)
{
    struct cw_refiner *r = s->refiner;
    if (r == NULL || !r->started)
        return;
    pthread_mutex_lock(&r->lock);
    r->stopping = true;
    pthread_cond_signal(&r->wake);
    pthread_mutex_unlock(&r->lock);
    pthread_join(r->thread, NULL);
    r->started = false;
}

void cw_refiner_free(cw_server *s)
{
    struct cw_refiner *r = s->refiner;
    if (r == NULL)
        return;
    cw_nursery_close(r->look);
    cw_refined_free(r->refined);
    pthread_mutex_destroy(&r->lock);
    pthread_cond_destroy(&r->wake);
    free(r);
    s->refiner = NULL;
}
