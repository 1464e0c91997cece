/* SPDX-License-Identifier: MIT */
#include "clock.h"
#include "http/http_inside.h"
#include <string.h>

#include "base/banned.h"

/* What was answered once is answered again: a list over a million lines takes a second to make, and the office looks at it, goes to
 * an order and comes back. A TAGGED reply rests on what its tag names and on the question, so while both are the same its bytes are
 * too; they are kept here, squeezed or plain as they left. A new tag wipes what rested on an older one: it can never be asked for
 * again, and buyers' names do not stay in memory when they are forgotten on record. */
#define WORTH_MS    20                 /* what took less is made anew, unless cw_serve says otherwise */
#define LARGEST     ((size_t)8 << 20)  /* bytes of one reply */
#define MOST_IN_ALL ((size_t)24 << 20) /* of all; the one that was asked for least lately goes */

static void drop(struct cw_again_reply *r)
{
    cw_text_wipe(&r->bytes);
    *r = (struct cw_again_reply){ 0 };
}

/* Stock, promises, day and run of the program are the same; whose eyes may differ. */
static bool same_moment(const char *a, const char *b)
{
    const char *end = strrchr(a, '-');
    size_t n = end ? (size_t)(end - a) + 1 : 0;
    return n > 0 && strncmp(a, b, n) == 0;
}

static bool is_of(const struct cw_again_reply *r, const cw_request *q, const char *question)
{
    return r->type && r->squeezed_ok == q->gzip_ok && strcmp(r->etag, q->etag) == 0 &&
           strcmp(r->actor, q->actor) == 0 && strcmp(r->question, question) == 0;
}

bool cw_again_answer(cw_again *a, cw_request *q)
{
    char question[65];
    bool found = false;
    cw_request_digest(q, question);
    pthread_mutex_lock(&a->lock);
    for (size_t i = 0; i < CW_AGAIN && !found; i++) {
        struct cw_again_reply *r = &a->reply[i];
        if (!is_of(r, q, question))
            continue;
        cw_text_free(&q->reply);
        q->reply = CW_TEXT(LARGEST);
        cw_text_addn(&q->reply, r->bytes.data ? r->bytes.data : "", r->bytes.length);
        found = !q->reply.failed;
        if (!found) {
            cw_text_free(&q->reply);
            break;
        }
        q->status = 200;
        q->type = r->type;
        q->gzipped = r->gzipped;
        cw_copy(q->name, sizeof q->name, r->name);
        r->asked_at = ++a->asked;
        a->answered++;
    }
    pthread_mutex_unlock(&a->lock);
    return found;
}

/* A free place for n more bytes. */
static struct cw_again_reply *place(cw_again *a, size_t n)
{
    for (;;) {
        struct cw_again_reply *free_one = NULL, *oldest = NULL;
        size_t all = n;
        for (size_t i = 0; i < CW_AGAIN; i++) {
            struct cw_again_reply *r = &a->reply[i];
            all += r->bytes.length;
            if (r->type == NULL)
                free_one = r;
            else if (oldest == NULL || r->asked_at < oldest->asked_at)
                oldest = r;
        }
        if (free_one && all <= MOST_IN_ALL)
            return free_one;
        drop(oldest);
    }
}

void cw_again_keep(cw_again *a, const cw_request *q)
{
    int64_t asked = q->server->how.again_ms, worth = asked ? asked : WORTH_MS;
    char question[65];
    if (q->status != 200 || q->type == NULL || q->accounts_changed || q->reply.length > LARGEST ||
        cw_clock_ticks() - q->begun < worth)
        return;
    cw_request_digest(q, question);
    pthread_mutex_lock(&a->lock);
    for (size_t i = 0; i < CW_AGAIN; i++)
        if (a->reply[i].type && (!same_moment(a->reply[i].etag, q->etag) || is_of(&a->reply[i], q, question)))
            drop(&a->reply[i]);
    struct cw_again_reply *r = place(a, q->reply.length);
    r->bytes = CW_TEXT(LARGEST);
    cw_text_addn(&r->bytes, q->reply.data ? q->reply.data : "", q->reply.length);
    r->type = q->type;
    r->gzipped = q->gzipped;
    r->squeezed_ok = q->gzip_ok;
    r->asked_at = ++a->asked;
    cw_copy(r->etag, sizeof r->etag, q->etag);
    cw_copy(r->name, sizeof r->name, q->name);
    cw_copy(r->actor, sizeof r->actor, q->actor);
    cw_copy(r->question, sizeof r->question, question);
    if (r->bytes.failed)
        drop(r);
    pthread_mutex_unlock(&a->lock);
}

void cw_again_free(cw_again *a)
{
    for (size_t i = 0; i < CW_AGAIN; i++)
        drop(&a->reply[i]);
    pthread_mutex_destroy(&a->lock);
}
