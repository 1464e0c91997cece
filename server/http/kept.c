/* SPDX-License-Identifier: MIT */
#include "clock.h"
#include "http/http_inside.h"
#include <string.h>

#include "base/banned.h"

/* Replies that are the same for all and asked for by everybody at once, above all what is left to sell. The bytes, plain
 * and squeezed, are kept as the library's own responses and handed out without a worker.
 *
 * A reply is good for a request if it was begun after every write that was answered before the request came: nobody
 * who was told "taken" then sees the old number. A request that finds none that good has it made; those who come
 * meanwhile wait for the same one. When writes pour in, making it again each time would eat the machine: the work has a
 * budget (a quarter of one processor, a tenth of a second saved up), and when that is used up, a reply up to MOST_OLD_MS old
 * will do. */
#define BUDGET_SHARE   0.25
#define BUDGET_MOST_MS 100.0
#define MOST_OLD_MS    100

cw_kept *cw_kept_of(cw_server *s, const cw_route *route)
{
    for (size_t i = 0; i < s->kept_count; i++)
        if (s->kept[i].route == route)
            return &s->kept[i];
    return NULL;
}

static bool good_enough(cw_kept *k, const cw_request *q)
{
    int64_t now = cw_clock_ticks();
    k->budget_ms += (double)(now - k->filled_at) * BUDGET_SHARE;
    k->budget_ms = k->budget_ms > BUDGET_MOST_MS ? BUDGET_MOST_MS : k->budget_ms;
    k->filled_at = now;
    if (k->plain == NULL)
        return false;
    return k->made_of >= q->came_at || (k->budget_ms <= 0 && now - k->made_at < MOST_OLD_MS);
}

enum MHD_Result cw_kept_answer(cw_kept *k, cw_request *q)
{
    pthread_mutex_lock(&k->lock);
    if (good_enough(k, q)) {
        bool same = strcmp(q->none_match, k->etag) == 0;
        enum MHD_Result sent = cw_send_response(q, same ? 304 : 200,
                                                same         ? k->unchanged
                                                : q->gzip_ok ? k->squeezed
                                                             : k->plain);
        pthread_mutex_unlock(&k->lock);
        return sent;
    }
    cw_wire_enter(q->wire, CW_PHASE_WORK);
    MHD_suspend_connection(q->connection);
    bool make = !k->being_made;
    if (make) {
        q->for_kept = k->being_made = true;
        k->making_of = atomic_load(&q->server->writes);
        k->begun_at = cw_clock_ticks();
    } else {
        q->next = k->waiting;
        k->waiting = q;
    }
    pthread_mutex_unlock(&k->lock);
    if (make)
        cw_jobs_put(&q->server->jobs, q);
    return MHD_YES;
}

static void drop(cw_kept *k)
{
    struct MHD_Response *all[] = { k->plain, k->squeezed, k->unchanged };
    for (size_t i = 0; i < 3; i++)
        if (all[i])
            MHD_destroy_response(all[i]);
    k->plain = k->squeezed = k->unchanged = NULL;
}

/* The three forms of a reply; false without memory. */
static bool forms(cw_request *q, struct MHD_Response *out[3])
{
    cw_text squeezed = CW_TEXT((size_t)64 << 20);
    bool good = cw_gzip(q->reply.data ? q->reply.data : "", q->reply.length, 1, &squeezed);
    q->gzipped = false;
    out[0] = cw_response_of(q);
    q->reply = squeezed;
    q->gzipped = true;
    out[1] = cw_response_of(q);
    cw_text_free(&q->reply);
    q->gzipped = false;
    out[2] = cw_response_of(q);
    return good && out[0] && out[1] && out[2];
}

void cw_kept_made(cw_server *s, cw_request *q)
{
    cw_kept *k = cw_kept_of(s, q->route);
    struct MHD_Response *made[3] = { NULL, NULL, NULL };
    bool good = q->status == 200 && forms(q, made);
    q->for_kept = false;
    pthread_mutex_lock(&k->lock);
    if (good) {
        drop(k);
        k->plain = made[0];
        k->squeezed = made[1];
        k->unchanged = made[2];
        cw_copy(k->etag, sizeof k->etag, q->etag);
        k->made_of = k->making_of;
        k->made_at = cw_clock_ticks();
        q->status = 0; /* the maker is served like all others */
    }
    int64_t took = cw_clock_ticks() - k->begun_at;
    k->budget_ms -= took > 0 ? (double)took : 0.5;
    k->being_made = false;
    cw_request *waiting = k->waiting;
    k->waiting = NULL;
    pthread_mutex_unlock(&k->lock);
    for (size_t i = 0; !good && i < 3; i++)
        if (made[i])
            MHD_destroy_response(made[i]);
    if (!good && q->status == 200)
        cw_reply_problem_as(q, 503, "machine", "this machine has no memory left for the work");
    while (waiting) {
        cw_request *next = waiting->next;
        waiting->next = NULL;
        if (!good)
            cw_reply_problem_as(waiting, q->status, q->problem ? q->problem : "machine",
                                "the reply could not be made");
        cw_request_resume(waiting);
        waiting = next;
    }
}

void cw_kept_free(cw_server *s)
{
    for (size_t i = 0; i < s->kept_count; i++) {
        drop(&s->kept[i]);
        pthread_mutex_destroy(&s->kept[i].lock);
    }
    s->kept_count = 0;
}
