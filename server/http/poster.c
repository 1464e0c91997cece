/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "clock.h"
#include "desk/post/hook.h"
#include "desk/post/outbox.h"
#include "http/http_inside.h"
#include "post/smtp.h"
#include "post/webhook.h"

#include "base/banned.h"

/* Carries what waits in the outbox, one letter after the other, and what a shop is told, beside the requests:
 *
 *     look (a reader of its own): does anything wait? ──▶ writer: it goes ──▶ server ──▶ writer: what became of it
 *
 * A shop that does not answer holds a letter up for ten seconds at most, and less and less often.
 *
 * Both steps on the writer are committed before the next one begins. If the second finds no disk it is tried again until the
 * program stops; what is never recorded is unsure at the next start. */
#define TICK_MS 500

struct cw_poster {
    pthread_mutex_t lock;
    pthread_cond_t wake;
    pthread_t thread;
    bool stopping, started;
    cw_server *server;
    cw_nursery *look;
    cw_post_letter letter;
    cw_carried how;
    cw_carry_words said;
    cw_hook_look changes;
    cw_hook_message message;
    cw_hook_carried carried;
    int64_t last; /* ticks of the last letter; 0: none yet */
    bool stepped, well;
};

static cw_code recover(cw_request *q, cw_nursery *n, cw_error *err)
{
    return cw_post_recover(n, &q->who, err);
}

static cw_code take(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct cw_poster *p = q->then_keep;
    return cw_post_take(n, &q->who, &p->letter, err);
}

static cw_code tell(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct cw_poster *p = q->then_keep;
    return cw_post_told(n, &q->who, p->letter.id, p->how, p->said.text, err);
}

static cw_code take_hook(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct cw_poster *p = q->then_keep;
    return cw_hook_take(n, &q->who, &p->changes, &p->message, err);
}

static cw_code tell_hook(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct cw_poster *p = q->then_keep;
    return cw_hook_told(n, &q->who, &p->message, p->carried.how, p->carried.gone, p->carried.said.text, err);
}

static void stepped(cw_request *q)
{
    struct cw_poster *p = q->then_keep;
    pthread_mutex_lock(&p->lock);
    p->stepped = true;
    p->well = q->status < 500; /* a refusal stays one, however often it is asked */
    pthread_cond_broadcast(&p->wake);
    pthread_mutex_unlock(&p->lock);
    q->then_keep = NULL; /* not the request's to free */
    cw_request_free(q);
}

/* A step on the writer; true when it is committed. */
static bool step(struct cw_poster *p, cw_handler then)
{
    static const cw_route none = { .access = CW_ROUTE_WORK };
    cw_request *q = calloc(1, sizeof *q);
    if (q == NULL)
        return false;
    q->server = p->server;
    q->route = &none;
    q->then = then;
    q->then_keep = p;
    q->resumed = stepped;
    q->to_the_end = true;
    q->who = (cw_asker){ .actor = "the program", .role = CW_ROLE_OWNER, .clock = cw_clock_now() };
    q->who.now = q->who.clock;
    q->who.today = cw_clock_day(q->who.now);
    if (p->server->how.today != CW_NO_DAY) {
        q->who.today = p->server->how.today;
        q->who.now =
            (cw_instant)q->who.today * CW_DAY_MS + CW_DAY_MS / 2 + cw_clock_ticks() - p->server->begun_at;
    }
    p->stepped = false;
    cw_jobs_put(&p->server->jobs, q);
    pthread_mutex_lock(&p->lock);
    while (!p->stepped)
        pthread_cond_wait(&p->wake, &p->lock);
    bool well = p->well;
    pthread_mutex_unlock(&p->lock);
    return well;
}

static bool wanted(void *self)
{
    struct cw_poster *p = self;
    return !atomic_load(&p->server->stopping);
}

static bool stopping(struct cw_poster *p)
{
    pthread_mutex_lock(&p->lock);
    bool out = p->stopping;
    pthread_mutex_unlock(&p->lock);
    return out;
}

static void rest(struct cw_poster *p, long ms)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_sec += ms / 1000;
    until.tv_nsec += (ms % 1000) * 1000000L;
    if (until.tv_nsec >= 1000000000L) {
        until.tv_sec++;
        until.tv_nsec -= 1000000000L;
    }
    pthread_mutex_lock(&p->lock);
    if (!p->stopping)
        pthread_cond_timedwait(&p->wake, &p->lock, &until);
    pthread_mutex_unlock(&p->lock);
}

/* One letter, from the record that it goes to the record of what became of it. */
static void carry_one(struct cw_poster *p)
{
    if (!step(p, take) || p->letter.id == 0) {
        cw_post_letter_free(&p->letter);
        return;
    }
    p->how = cw_smtp_carry(&p->letter, p->server->how.mail_ms, (cw_go_on){ wanted, p }, &p->said);
    p->last = cw_clock_ticks() + 60000 / p->letter.account.per_minute;
    while (!step(p, tell) && !stopping(p))
        rest(p, 1000);
    cw_post_letter_free(&p->letter);
}

static void carry_hook(struct cw_poster *p)
{
    if (step(p, take_hook) && p->message.id > 0) {
        p->carried = cw_webhook_carry(&p->message, p->server->how.hook_ms, (cw_go_on){ wanted, p });
        while (!step(p, tell_hook) && !stopping(p))
            rest(p, 1000);
    }
    cw_hook_message_free(&p->message);
}

static void *run(void *self)
{
    struct cw_poster *p = self;
    bool waits = false;
    cw_error err = CW_ERROR_NONE;
    while (!step(p, recover) && !stopping(p))
        rest(p, 1000);
    while (!stopping(p)) {
        bool looked = cw_post_waits(p->look, cw_clock_now(), &waits, &err) == CW_OK;
        if (looked && waits && cw_clock_ticks() >= p->last)
            carry_one(p);
        if (cw_hook_waits(p->look, cw_clock_now(), &p->changes, &err) == CW_OK && p->changes.due &&
            !stopping(p))
            carry_hook(p);
        err = (cw_error)CW_ERROR_NONE;
        rest(p, TICK_MS);
    }
    return NULL;
}

cw_code cw_poster_start(cw_server *s, cw_error *err)
{
    struct cw_poster *p = calloc(1, sizeof *p);
    if (p == NULL)
        return cw_error_memory(err);
    p->server = s;
    pthread_mutex_init(&p->lock, NULL);
    pthread_cond_init(&p->wake, NULL);
    cw_code code = cw_nursery_open(s->how.path, CW_LOOK, NULL, &p->look, err);
    if (code == CW_OK && pthread_create(&p->thread, NULL, run, p) != 0)
        code = cw_error_set(err, CW_MACHINE, "no thread can be started");
    p->started = code == CW_OK;
    s->poster = p;
    if (code != CW_OK)
        cw_poster_stop(s);
    return code;
}

void cw_poster_stop(cw_server *s)
{
    struct cw_poster *p = s->poster;
    if (p == NULL)
        return;
    pthread_mutex_lock(&p->lock);
    p->stopping = true;
    pthread_cond_broadcast(&p->wake);
    pthread_mutex_unlock(&p->lock);
    if (p->started)
        pthread_join(p->thread, NULL);
    pthread_mutex_destroy(&p->lock);
    pthread_cond_destroy(&p->wake);
    cw_nursery_close(p->look);
    cw_hook_look_free(&p->changes);
    free(p);
    s->poster = NULL;
}
