/* SPDX-License-Identifier: MIT */
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

#include "clock.h"
#include "http/http_inside.h"
#include "http/listen.h"

#include "base/banned.h"

/* The library's timeout counts silence, so a client that sends a byte now and then holds a connection for ever. Here each
 * connection has a phase and when it began; a sweeper closes those that dwell. The library tells us before it closes a
 * descriptor, under the same lock, so none is ever shut that has become another's. */
#define SWEEP_MS 500

/* Nobody reads from a connection whose request is at work, so the library does not see its client leave. */
static void look_whether_left(cw_wire *c)
{
    struct pollfd p = { .fd = c->fd, .events = POLLRDHUP };
    if (poll(&p, 1, 0) > 0 && (p.revents & (POLLRDHUP | POLLHUP | POLLERR)) != 0)
        atomic_store(&c->left, true);
}

/* Writes down, in each of them, how many connections the address of this one holds now. Called with the lock held. */
static unsigned recount(cw_wires *w, const cw_wire *one)
{
    unsigned n = 0;
    for (const cw_wire *c = w->first; c; c = c->next)
        n += !c->shut && memcmp(c->address, one->address, sizeof c->address) == 0;
    for (cw_wire *c = w->first; c; c = c->next)
        if (memcmp(c->address, one->address, sizeof c->address) == 0)
            c->held = n;
    return n;
}

static void shut(cw_wires *w, cw_wire *c)
{
    w->open -= !c->shut;
    c->shut = true;
    recount(w, c);
    shutdown(c->fd, SHUT_RDWR);
}

static void sweep(cw_wires *w)
{
    int64_t now = cw_clock_ticks();
    for (cw_wire *c = w->first; c; c = c->next) {
        if (atomic_load(&c->phase) == CW_PHASE_WORK)
            look_whether_left(c);
        int64_t limit = w->limits[atomic_load(&c->phase)];
        if (limit > 0 && !c->shut && now - atomic_load(&c->since) > limit)
            shut(w, c);
    }
}

static void *run(void *self)
{
    cw_wires *w = self;
    pthread_mutex_lock(&w->lock);
    while (!w->stopping) {
        struct timespec until;
        clock_gettime(CLOCK_REALTIME, &until);
        until.tv_nsec += SWEEP_MS * 1000000L;
        until.tv_sec += until.tv_nsec / 1000000000L;
        until.tv_nsec %= 1000000000L;
        pthread_cond_timedwait(&w->wake, &w->lock, &until);
        sweep(w);
    }
    pthread_mutex_unlock(&w->lock);
    return NULL;
}

cw_code cw_wires_start(cw_wires *w, const cw_serve *how, cw_error *err)
{
    int64_t head = how->header_ms ? how->header_ms : 20000;
    int64_t body = how->body_ms ? how->body_ms : 60000;
    w->limits[CW_PHASE_IDLE] =
        3 * head; /* the library closes a silent one after 30 s; this is for the trickling */
    w->limits[CW_PHASE_HEAD] = head;
    w->limits[CW_PHASE_BODY] = body;
    w->limits[CW_PHASE_REPLY] = 2 * body;
    pthread_mutex_init(&w->lock, NULL);
    pthread_cond_init(&w->wake, NULL);
    if (pthread_create(&w->sweeper, NULL, run, w) != 0)
        return cw_error_set(err, CW_MACHINE, "no thread can be started");
    w->started = true;
    return CW_OK;
}

void cw_wires_stop(cw_wires *w)
{
    if (!w->started)
        return;
    pthread_mutex_lock(&w->lock);
    w->stopping = true;
    pthread_cond_signal(&w->wake);
    pthread_mutex_unlock(&w->lock);
    pthread_join(w->sweeper, NULL);
    w->started = false;
    pthread_cond_destroy(&w->wake);
    pthread_mutex_destroy(&w->lock);
}

/* May a connection be closed to make room? One that has not asked yet, or not completely: an honest request comes in one
 * piece. Of the slow ones, the address that holds most goes first. One whose reply is not read, after a while. One at work,
 * never. */
static bool can_go(const cw_wire *c, int64_t now)
{
    int phase = atomic_load(&c->phase);
    if (c->shut || phase == CW_PHASE_WORK)
        return false;
    return phase != CW_PHASE_REPLY || now - atomic_load(&c->since) > 10000;
}

/* The connection of the address that holds most which has been idle for longest. Called with the lock held. */
static void make_room(cw_wires *w, const cw_wire *newest)
{
    int64_t now = cw_clock_ticks();
    cw_wire *least = NULL;
    unsigned most = 0;
    for (cw_wire *c = w->first; c; c = c->next) {
        if (c == newest || !can_go(c, now))
            continue;
        if (c->held > most || (c->held == most && atomic_load(&c->since) < atomic_load(&least->since))) {
            most = c->held;
            least = c;
        }
    }
    if (least)
        shut(w, least);
}

/* The library closes the connection beyond an address's limit without an answer, so the one before it is answered. All
 * connections by way of a proxy have its address: a proxy may hold any number, and those of others are counted here. */
static cw_wire *begin(cw_server *s, struct MHD_Connection *c)
{
    cw_wires *w = &s->wires;
    const unsigned most = s->how.per_address ? s->how.per_address : CW_PER_ADDRESS;
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(c, MHD_CONNECTION_INFO_CONNECTION_FD);
    cw_wire *wire = info ? calloc(1, sizeof *wire) : NULL;
    if (wire == NULL)
        return NULL;
    wire->fd = info->connect_fd;
    const union MHD_ConnectionInfo *from = MHD_get_connection_info(c, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    cw_address_of(from ? from->client_addr : NULL, wire->address);
    wire->proxied = s->how.trusted_proxy && memcmp(wire->address, s->proxy, sizeof s->proxy) == 0;
    atomic_store(&wire->since, cw_clock_ticks());
    pthread_mutex_lock(&w->lock);
    wire->next = w->first;
    if (w->first)
        w->first->before = wire;
    w->first = wire;
    w->open++;
    unsigned n = recount(w, wire);
    if (n > most && !wire->proxied)
        shut(w, wire);
    else if (w->open > CW_CROWDED)
        make_room(w, wire);
    pthread_mutex_unlock(&w->lock);
    if (n >= most && !wire->proxied)
        cw_watch_unusual(s, CW_UNUSUAL_CONNECTIONS);
    return wire;
}

static void end(cw_wires *w, cw_wire *wire)
{
    pthread_mutex_lock(&w->lock);
    w->open -= !wire->shut;
    if (wire->before)
        wire->before->next = wire->next;
    else
        w->first = wire->next;
    if (wire->next)
        wire->next->before = wire->before;
    recount(w, wire);
    pthread_mutex_unlock(&w->lock);
    free(wire);
}

void cw_wires_notify(void *self, struct MHD_Connection *c, void **socket_context,
                     enum MHD_ConnectionNotificationCode what)
{
    cw_server *s = self;
    if (what == MHD_CONNECTION_NOTIFY_STARTED) {
        *socket_context = begin(s, c);
    } else if (*socket_context) {
        end(&s->wires, *socket_context);
        *socket_context = NULL;
    }
}

void cw_wire_enter(cw_wire *wire, cw_phase phase)
{
    if (wire == NULL)
        return;
    atomic_store(&wire->since, cw_clock_ticks());
    atomic_store(&wire->phase, (int)phase);
}
