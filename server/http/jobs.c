/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "base/digest.h"
#include "desk/forecast/refining.h"
#include "desk/nursery/answers.h"
#include "desk/nursery/past.h"
#include "desk/buyers/forgetting.h"
#include "http/http_inside.h"
#include "http/turns.h"

#include "base/banned.h"

/* The workers. Readers run a request each; the writer runs what is queued as one group:
 *
 *     BEGIN; for each request: SAVEPOINT, handler, keep its answer, RELEASE (or undo); COMMIT; resume all
 *
 * so that many requests share one wait for the disk, and none is answered before that wait is over. If the COMMIT fails,
 * every answer of the group becomes an error, also the refusals: they may rest on what was not kept. So it is too when one of
 * them ends for want of memory or disk, be it in its work or in writing its reply: a 503 must mean that nothing was changed. */

#define LONG_MS 200 /* of work: it took and freed much, which is given back to the machine */

static void push(cw_queue *q, cw_request *r)
{
    r->next = NULL;
    if (q->last)
        q->last->next = r;
    else
        q->first = r;
    q->last = r;
    q->length++;
}

static cw_request *pop(cw_queue *q)
{
    cw_request *r = q->first;
    if (r == NULL)
        return NULL;
    q->first = r->next;
    if (q->first == NULL)
        q->last = NULL;
    q->length--;
    r->next = NULL;
    return r;
}

/* Always the first reader that is idle, so that one after another finds what the one before has computed and kept. */
static void wake_reader(cw_jobs *j)
{
    for (int i = 0; i < CW_READERS; i++)
        if (j->idle[i]) {
            j->idle[i] = false;
            pthread_cond_signal(&j->read_wake[i]);
            return;
        }
}

void cw_jobs_put(cw_jobs *j, cw_request *q)
{
    bool writes = q->route->access == CW_ROUTE_WORK || q->then;
    q->give_up = cw_clock_ticks() + CW_WAIT_MS;
    cw_heed_enter(q);
    pthread_mutex_lock(&j->lock);
    push(writes ? &j->writes : q->route->access == CW_ROUTE_SLOW ? &j->slow : &j->reads, q);
    if (writes)
        pthread_cond_signal(&j->write_wake);
    else
        wake_reader(j);
    pthread_mutex_unlock(&j->lock);
}

void cw_request_resume(cw_request *q)
{
    if (q->connection)
        MHD_resume_connection(q->connection);
    else if (q->resumed)
        q->resumed(q);
    else
        cw_request_free(q);
}

static void busy(cw_request *q)
{
    cw_reply_problem_as(q, 503, "busy", "too much is waiting; try again in a moment");
    q->retry_after = 5;
}

cw_code cw_request_run(cw_request *q, cw_handler handler, cw_nursery *n, cw_error *err)
{
    if (n)
        cw_nursery_heed(n, cw_heed_within(q));
    cw_code code = cw_body_open(q, err);
    if (code == CW_OK)
        code = handler(q, n, err);
    cw_body_close(q);
    if (n)
        cw_nursery_heed(n, (cw_go_on){ 0 });
    if (code != CW_OK) {
        err->code = code;
        if (!cw_heed_reply(q))
            cw_reply_problem(q, err);
        q->then = NULL;
    } else if (q->status == 0 && q->then == NULL) {
        code = cw_reply_none(q);
    }
    return code;
}

/* What a tagged reply rests on: the stock and the promises, how often figures were refined, the day, whose eyes, and which run of the program. */
static cw_code make_etag(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_revision r = { 0 };
    cw_code code = cw_nursery_revision(n, &r, err);
    snprintf(q->etag, sizeof q->etag, "W/\"%s-%llx-%llx-%llx-%x-%d\"", q->server->boot,
             (unsigned long long)r.stock, (unsigned long long)r.trade, (unsigned long long)r.figures,
             (unsigned)q->who.today, (int)q->who.role);
    return code;
}

static bool still_wanted(void *self)
{
    cw_request *q = self;
    return cw_clock_ticks() <= q->give_up && cw_heed(q);
}

/* In a fleet the memory of all hashes together is bounded, too; without a turn the request is told what `still_wanted` said. */
static int take_turn(const cw_jobs *j, cw_request *q)
{
    cw_turns *turns = j->server->how.turns;
    return turns && q->route->access == CW_ROUTE_SLOW ? cw_turns_take(turns, still_wanted, q) : -1;
}

static void read_one(cw_jobs *j, cw_request *q, cw_nursery *n)
{
    cw_error err = CW_ERROR_NONE;
    bool tagged = q->route->access == CW_ROUTE_TAGGED || q->route->access == CW_ROUTE_KEPT, again = false;
    cw_heed_begin(q);
    int turn = take_turn(j, q);
    cw_nursery_heed(n, cw_heed_within(q));
    if (cw_clock_ticks() > q->give_up) {
        busy(q);
    } else if (!cw_heed(q)) {
        (void)cw_heed_reply(q);
    } else if (tagged && make_etag(q, n, &err) != CW_OK) {
        cw_reply_problem(q, &err);
    } else if (q->route->access == CW_ROUTE_TAGGED && strcmp(q->none_match, q->etag) == 0) {
        q->status = 304;
    } else if (q->route->access != CW_ROUTE_TAGGED || !cw_again_answer(&j->server->again, q)) {
        cw_forecast_take_refined(n); /* after its tag was made: what is newer than a tag does no harm */
        int64_t began = cw_clock_ticks();
        cw_request_run(q, q->route->handler, n, &err);
        if (cw_clock_ticks() - began > LONG_MS)
            atomic_store(&j->server->gave_back, true);
        again = q->route->access == CW_ROUTE_TAGGED;
        cw_refiner_look(j->server, n);
    }
    cw_nursery_heed(n, (cw_go_on){ 0 });
    cw_turns_give(j->server->how.turns, turn);
    if (q->for_kept) {
        cw_kept_made(j->server, q);
    } else if (q->then) {
        cw_jobs_put(j, q);
        return;
    } else {
        cw_reply_squeeze(q);
        if (again)
            cw_again_keep(&j->server->again, q);
    }
    cw_request_resume(q);
}

static cw_request *next_read(cw_jobs *j, bool *slow)
{
    *slow = j->slow.first && j->slow_running < CW_SLOW_AT_ONCE;
    return *slow ? pop(&j->slow) : pop(&j->reads);
}

static void *reader(void *self)
{
    cw_jobs *j = self;
    pthread_mutex_lock(&j->lock);
    unsigned me = j->readers_started++;
    cw_nursery *n = j->look[me];
    for (;;) {
        bool slow = false;
        cw_request *q = next_read(j, &slow);
        if (q) {
            j->slow_running += slow;
            pthread_mutex_unlock(&j->lock);
            read_one(j, q, n);
            pthread_mutex_lock(&j->lock);
            j->slow_running -= slow;
        } else if (j->stopping) {
            break;
        } else {
            j->idle[me] = true;
            while (j->idle[me] && !j->stopping)
                pthread_cond_wait(&j->read_wake[me], &j->lock);
            j->idle[me] = false;
        }
    }
    pthread_mutex_unlock(&j->lock);
    return NULL;
}

/* The same key and the same request get the same answer; the same key with another request is refused. */
static cw_code answered_before(cw_request *q, cw_nursery *n, const char *digest, bool *before, cw_error *err)
{
    cw_answer a = { 0 };
    cw_code code = cw_answers_find(n, q->key, before, &a, err);
    if (code == CW_OK && *before && strcmp(a.request, digest) != 0) {
        cw_reply_problem_as(q, 422, "key-reused", "this Idempotency-Key came with another request before");
    } else if (code == CW_OK && *before && a.status == 204) {
        code = cw_reply_none(q);
    } else if (code == CW_OK && *before) {
        cw_sink to = cw_reply_sink(q, a.status, "application/json");
        code = to.write(to.self, a.body, strlen(a.body), err);
    }
    free(a.body);
    return code;
}

void cw_request_digest(const cw_request *q, char out[65])
{
    cw_digest d;
    cw_digest_init(&d);
    cw_digest_add_int(&d, q->method);
    cw_digest_add_text(&d, q->uri.path);
    for (size_t i = 0; i < q->uri.pair_count; i++) {
        cw_digest_add_text(&d, q->uri.pairs[i].name);
        cw_digest_add_text(&d, q->uri.pairs[i].value);
    }
    cw_digest_add(&d, q->body.data ? q->body.data : "", q->body.length);
    cw_digest_end(&d, out);
}

static bool worth_keeping(const cw_request *q)
{
    bool done = q->status == 204 ||
                (q->status >= 200 && q->status < 300 && q->type && strcmp(q->type, "application/json") == 0);
    return done && !q->reply.failed && !q->accounts_changed; /* an answer with a secret in it is not kept */
}

/* CW_MACHINE when it is not sure that nothing, or all, of the request stands: then the group must fall. */
static cw_code write_one(cw_request *q, cw_nursery *n, cw_error *err)
{
    char digest[65];
    bool before = false;
    cw_handler handler = q->then ? q->then : q->route->handler;
    q->then = NULL;
    cw_heed_begin(q);
    if (!cw_heed(q)) {
        (void)cw_heed_reply(q);
        return CW_OK;
    }
    if (cw_clock_ticks() > q->give_up) {
        busy(q);
        return CW_OK;
    }
    cw_code code = CW_OK;
    if (q->key[0]) {
        cw_request_digest(q, digest);
        code = answered_before(q, n, digest, &before, err);
    }
    if (code == CW_OK && !before) {
        code = cw_request_run(q, handler, n, err);
        if (code == CW_OK && q->handed && q->status < 300)
            code = cw_answers_handed(n, &q->who, q->author, q->uri.path, err) == CW_OK ? CW_OK : CW_MACHINE;
        if (code == CW_OK && q->key[0] && worth_keeping(q))
            code = cw_answers_keep(n, q->key, digest, q->status, q->reply.data ? q->reply.data : "",
                                   q->who.now, err);
    }
    return code == CW_MACHINE ? code : CW_OK; /* a refusal has its reply */
}

static void fail_group(cw_request *first, const cw_error *err)
{
    for (cw_request *q = first; q; q = q->next) {
        (void)cw_heed(q); /* a statement that was ended for a stop */
        if (!cw_heed_reply(q))
            cw_reply_problem(q, err);
    }
}

/* Before the answers leave: who asks for a person to be forgotten is told so when it is done. */
static void wipe(cw_jobs *j)
{
    cw_error err = CW_ERROR_NONE;
    char line[600];
    cw_nursery_heed(j->work, (cw_go_on){ cw_heed_stop, j->server });
    cw_code code = cw_forgetting_wipe(j->work, cw_clock_now(), &err);
    cw_nursery_heed(j->work, (cw_go_on){ 0 });
    if (code == CW_OK || j->server->how.say == NULL)
        return;
    snprintf(line, sizeof line,
             "who was forgotten is still in old bytes of the file, to be wiped in an hour: %.400s", err.text);
    j->server->how.say(line);
}

static void write_group(cw_jobs *j, cw_request *first)
{
    cw_error err = CW_ERROR_NONE;
    bool changed = false;
    cw_forecast_take_refined(j->work);
    cw_nursery_heed(j->work, (cw_go_on){ cw_heed_stop, j->server }); /* another program may hold the file */
    cw_code code = cw_nursery_batch_begin(j->work, &err);
    cw_nursery_heed(j->work, (cw_go_on){ 0 });
    for (cw_request *q = first; q && code == CW_OK; q = q->next)
        code = write_one(q, j->work, &err);
    if (code == CW_OK)
        code = cw_nursery_batch_commit(j->work, &err);
    else
        cw_nursery_batch_drop(j->work);
    if (code != CW_OK) {
        fail_group(first, &err);
        if (j->server->how.say)
            j->server->how.say(err.text);
    }
    wipe(j);
    cw_refiner_look(j->server, j->work);
    atomic_fetch_add(&j->server->writes, 1);
    for (cw_request *q = first; q; q = q->next) {
        atomic_fetch_add(&j->server->written, 1);
        changed = changed || q->accounts_changed;
    }
    if (changed)
        cw_door_changed(j->server->door);
    while (first) {
        cw_request *next = first->next;
        first->next = NULL;
        cw_request_resume(first);
        first = next;
    }
}

static void *writer(void *self)
{
    cw_jobs *j = self;
    pthread_mutex_lock(&j->lock);
    for (;;) {
        cw_queue group = { 0 };
        while (j->writes.first && group.length < CW_GROUP)
            push(&group, pop(&j->writes));
        if (group.first) {
            pthread_mutex_unlock(&j->lock);
            write_group(j, group.first);
            pthread_mutex_lock(&j->lock);
        } else if (j->stopping) {
            break;
        } else {
            pthread_cond_wait(&j->write_wake, &j->lock);
        }
    }
    pthread_mutex_unlock(&j->lock);
    return NULL;
}

cw_code cw_jobs_start(cw_jobs *j, cw_server *s, cw_error *err)
{
    char holder[160];
    snprintf(holder, sizeof holder, "clumpwise serve at %s", s->url);
    j->server = s;
    pthread_mutex_init(&j->lock, NULL);
    for (int i = 0; i < CW_READERS; i++)
        pthread_cond_init(&j->read_wake[i], NULL);
    pthread_cond_init(&j->write_wake, NULL);
    cw_code code = cw_nursery_open(s->how.path, CW_WORK, holder, &j->work, err);
    for (int i = 0; i < CW_READERS && code == CW_OK; i++) {
        code = cw_nursery_open(s->how.path, CW_LOOK, NULL, &j->look[i], err);
        if (code == CW_OK)
            cw_refiner_share(s, j->look[i]);
        for (size_t p = 0; p < s->how.pasts && code == CW_OK; p++)
            code = cw_past_open(j->look[i], s->how.past[p], err);
    }
    if (code != CW_OK)
        return code;
    cw_refiner_share(s, j->work);
    cw_clock_zone(cw_nursery_season(j->work)->timezone);
    j->writer_started = pthread_create(&j->writer, NULL, writer, j) == 0;
    bool all = j->writer_started;
    for (int i = 0; i < CW_READERS && all; i++)
        all = pthread_create(&j->readers[i], NULL, reader, j) == 0;
    return all ? CW_OK : cw_error_set(err, CW_MACHINE, "no thread can be started");
}

void cw_jobs_stop(cw_jobs *j)
{
    if (j->server == NULL)
        return;
    pthread_mutex_lock(&j->lock);
    j->stopping = true;
    for (int i = 0; i < CW_READERS; i++)
        pthread_cond_signal(&j->read_wake[i]);
    pthread_cond_broadcast(&j->write_wake);
    pthread_mutex_unlock(&j->lock);
    for (int i = 0; i < CW_READERS; i++)
        if (j->readers[i])
            pthread_join(j->readers[i], NULL);
    if (j->writer_started)
        pthread_join(j->writer, NULL);
    for (int i = 0; i < CW_READERS; i++)
        cw_nursery_close(j->look[i]);
    cw_nursery_close(j->work);
    pthread_mutex_destroy(&j->lock);
    for (int i = 0; i < CW_READERS; i++)
        pthread_cond_destroy(&j->read_wake[i]);
    pthread_cond_destroy(&j->write_wake);
    j->server = NULL;
}
