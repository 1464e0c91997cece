/* SPDX-License-Identifier: MIT */
#include "support/load.h"

#include "support/wire.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define ROOM             (256 * 1024) /* bytes of a request or an answer */
#define MOST_TIMES       4000000
#define MOST_CONNECTIONS 512

typedef struct link {
    int fd;
    bool busy;
    double due; /* when its request was to start */
    char *in, *out;
    size_t got, to_send, sent;
} link_t;

typedef struct run {
    const load_plan *plan;
    load_result *result;
    link_t links[MOST_CONNECTIONS];
    float *times; /* ms */
    size_t count;
    unsigned next; /* the connection that has waited longest, in an open loop */
    int epoll;
} run_t;

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static bool push_bytes(link_t *l)
{
    while (l->sent < l->to_send) {
        ssize_t k = send(l->fd, l->out + l->sent, l->to_send - l->sent, MSG_NOSIGNAL);
        if (k < 0)
            return errno == EAGAIN;
        l->sent += (size_t)k;
    }
    return true;
}

static bool open_link(run_t *r, unsigned i)
{
    link_t *l = &r->links[i];
    struct epoll_event e = { .events = EPOLLIN | EPOLLET, .data.u32 = i };
    l->fd = wire_open(r->plan->port);
    l->busy = false;
    return l->fd >= 0 && epoll_ctl(r->epoll, EPOLL_CTL_ADD, l->fd, &e) == 0 &&
           fcntl(l->fd, F_SETFL, O_NONBLOCK) == 0;
}

/* A connection has ended. That one without a request ends is the server's right (RFC 9112 section 9.5); a request on it
 * has failed. A new connection takes its place. */
static bool open_again(run_t *r, unsigned i)
{
    link_t *l = &r->links[i];
    r->result->failed += l->busy;
    close(l->fd);
    return open_link(r, i);
}

static bool start(run_t *r, unsigned i, double due)
{
    link_t *l = &r->links[i];
    l->to_send = r->plan->request(r->plan->context, i, l->out, ROOM);
    l->sent = l->got = 0;
    l->due = due;
    l->busy = true;
    return push_bytes(l) || open_again(r, i);
}

/* Bytes of the whole answer, 0 while its head is not there. */
static size_t whole_length(const link_t *l)
{
    char *end = memmem(l->in, l->got, "\r\n\r\n", 4);
    if (end == NULL)
        return 0;
    size_t head = (size_t)(end - l->in) + 4, length = 0;
    for (char *line = l->in; line && line < end; line = memmem(line, (size_t)(end - line), "\r\n", 2)) {
        line += *line == '\r' ? 2 : 0;
        if (strncasecmp(line, "Content-Length:", 15) == 0)
            length = strtoul(line + 15, NULL, 10);
        if (line == l->in)
            line++;
    }
    return head + length;
}

/* Takes what came; false when the connection broke. */
static bool take(run_t *r, unsigned i)
{
    link_t *l = &r->links[i];
    for (;;) {
        ssize_t k = recv(l->fd, l->in + l->got, ROOM - l->got, 0);
        if (k < 0 && errno == EAGAIN)
            break;
        if (k <= 0)
            return false;
        l->got += (size_t)k;
    }
    size_t whole = whole_length(l);
    if (!l->busy || whole == 0 || l->got < whole)
        return l->got < ROOM;
    int status = (int)strtol(l->in + 9, NULL, 10);
    l->busy = false;
    if (r->count < MOST_TIMES)
        r->times[r->count++] = (float)((now() - l->due) * 1000);
    r->result->answered++;
    r->result->failed += status != 200 && status != 201;
    if (r->plan->answer)
        r->plan->answer(r->plan->context, i, status);
    return true;
}

static int by_size(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

static void summarise(run_t *r, double seconds)
{
    qsort(r->times, r->count, sizeof *r->times, by_size);
    r->result->seconds = seconds;
    if (r->count == 0)
        return;
    r->result->p50_ms = r->times[r->count / 2];
    r->result->p99_ms = r->times[(size_t)((double)r->count * 0.99)];
    r->result->worst_ms = r->times[r->count - 1];
}

static bool connect_all(run_t *r)
{
    r->epoll = epoll_create1(EPOLL_CLOEXEC);
    r->times = calloc(MOST_TIMES, sizeof *r->times);
    for (unsigned i = 0; i < r->plan->connections; i++) {
        link_t *l = &r->links[i];
        l->in = malloc(ROOM);
        l->out = malloc(ROOM);
        if (l->in == NULL || l->out == NULL || !open_link(r, i))
            return false;
    }
    return r->times != NULL;
}

/* Open loop: starts what is due on idle connections, each in its turn, so that none is idle long enough for the server to
 * end it. What finds none keeps its due time and waits. */
static bool start_due(run_t *r, double begun, uint64_t *started)
{
    double t = now();
    for (unsigned k = 0; k < r->plan->connections; k++) {
        double due = begun + (double)*started / r->plan->rate;
        if (due > t)
            return true;
        unsigned i = r->next++ % r->plan->connections;
        if (r->links[i].busy)
            continue;
        if (!start(r, i, due))
            return false;
        ++*started;
    }
    return true;
}

/* False when a connection cannot be opened: the server is gone. */
static bool loop(run_t *r)
{
    const load_plan *p = r->plan;
    struct epoll_event events[64];
    double begun = now();
    uint64_t started = 0;
    bool there = true;
    for (unsigned i = 0; there && p->rate <= 0 && i < p->connections; i++)
        there = start(r, i, begun);
    while (there && now() - begun < p->seconds && !(p->stop && __atomic_load_n(p->stop, __ATOMIC_RELAXED))) {
        there = p->rate <= 0 || start_due(r, begun, &started);
        int n = epoll_wait(r->epoll, events, 64, 1);
        for (int k = 0; there && k < n; k++) {
            unsigned i = events[k].data.u32;
            there = take(r, i) || open_again(r, i);
            if (there && !r->links[i].busy && p->rate <= 0)
                there = start(r, i, now());
        }
    }
    summarise(r, now() - begun);
    return there;
}

bool load_run(const load_plan *plan, load_result *out)
{
    run_t *r = calloc(1, sizeof *r);
    *out = (load_result){ 0 };
    if (r == NULL || plan->connections > MOST_CONNECTIONS) {
        free(r);
        return false;
    }
    r->plan = plan;
    r->result = out;
    bool good = connect_all(r) && loop(r);
    for (unsigned i = 0; i < plan->connections; i++) {
        if (r->links[i].fd > 0)
            close(r->links[i].fd);
        free(r->links[i].in);
        free(r->links[i].out);
    }
    close(r->epoll);
    free(r->times);
    free(r);
    return good;
}
