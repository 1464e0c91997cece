/* SPDX-License-Identifier: MIT */
#include "clock.h"
#include "http/http_inside.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Why work is given up before its end. A reading stops for each of these; a write only when its sender asked for it, or for
 * a stop: who has sent an order and lost the network wants it taken. What was begun leaves nothing behind: a write goes
 * back with its savepoint, and what a reading computed is kept only when it is whole. */
enum { WANTED, ASKED, STOPPED, LEFT, LATE };

static bool reads(const cw_request *q)
{
    return q->route->access != CW_ROUTE_WORK && q->then == NULL;
}

static int64_t limit_ms(const cw_request *q)
{
    bool much =
        strncmp(q->route->path, "/api/export/", 12) == 0 || strncmp(q->route->path, "/print/", 7) == 0;
    if (q->server->how.read_ms)
        return q->server->how.read_ms;
    return much ? CW_MAX_EXPORT_MS : CW_MAX_READ_MS;
}

static int look(cw_request *q)
{
    if (atomic_load(&q->server->giving_up))
        return q->to_the_end ? WANTED : STOPPED;
    if (q->begun == 0 || !reads(q))
        return WANTED;
    /* A reply that is kept is made for all who wait for it. */
    if (!q->for_kept && q->wire && atomic_load(&q->wire->left))
        return LEFT;
    return cw_clock_ticks() - q->begun > limit_ms(q) ? LATE : WANTED;
}

static bool find(cw_request *q, int why)
{
    int wanted = WANTED;
    if (why != WANTED)
        (void)atomic_compare_exchange_strong(&q->unwanted, &wanted, why);
    return atomic_load(&q->unwanted) == WANTED;
}

bool cw_heed(cw_request *q)
{
    return find(q, look(q));
}

static bool tell(void *self, const char *what, uint64_t done, uint64_t all)
{
    cw_request *q = self;
    return find(q, cw_task_tell(q, what, done, all) ? look(q) : ASKED);
}

void cw_heed_enter(cw_request *q)
{
    q->who.progress = tell;
    q->who.progress_context = q;
}

void cw_heed_begin(cw_request *q)
{
    q->begun = cw_clock_ticks();
    if (!cw_task_begin(q))
        (void)find(q, ASKED);
}

/* Within a statement of the writer only a stop is heeded: what it ends takes the whole group with it. */
bool cw_heed_stop(void *server)
{
    return !atomic_load(&((cw_server *)server)->giving_up);
}

static bool within(void *self)
{
    return tell(self, NULL, 0, 0);
}

cw_go_on cw_heed_within(cw_request *q)
{
    return reads(q) ? (cw_go_on){ within, q } : (cw_go_on){ cw_heed_stop, q->server };
}

bool cw_heed_reply(cw_request *q)
{
    char late[160];
    switch (atomic_load(&q->unwanted)) {
    case ASKED:
        cw_reply_problem_as(q, 409, "given-up", "given up as asked; nothing was changed");
        return true;
    case STOPPED:
        cw_reply_problem_as(q, 503, "stopping", "the server is being stopped; nothing was changed");
        q->retry_after = 10;
        return true;
    case LEFT:
        cw_reply_problem_as(q, 503, "left", "whoever asked has left");
        return true;
    case LATE:
        snprintf(late, sizeof late, "the answer was not there after %lld seconds; ask for less, or later",
                 (long long)(limit_ms(q) + 999) / 1000);
        cw_reply_problem_as(q, 503, "too-long", late);
        q->retry_after = 60;
        return true;
    default:
        return false;
    }
}
