/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/text.h"
#include "clock.h"
#include "fleet/fleet_inside.h"

#include "base/banned.h"

/* A connection stays here until its first bytes say whom it asks for: with an honest client, at once. They are few, bounded by
 * address and in time, so that who says nothing keeps nobody out; what a nursery bounds, it bounds by itself afterwards. */
#define MOST        512
#define PER_ADDRESS 100u
#define HEAD_MS     20000

/* unrecognized_name and internal_error (RFC 8446 6.2), each a fatal alert in a record of its own */
static const char no_such_name[] = { 21, 3, 3, 0, 2, 2, 112 }, not_open[] = { 21, 3, 3, 0, 2, 2, 80 };

static void let_go(cw_fleet *f, cw_caller *c)
{
    /* By itself it would stay in the set: the nursery that has it now holds the same description open. */
    epoll_ctl(f->poll, EPOLL_CTL_DEL, c->fd, NULL);
    close(c->fd);
    *(c->before ? &c->before->next : &f->first) = c->next;
    *(c->next ? &c->next->before : &f->last) = c->before;
    f->callers--;
    free(c);
}

/* Says why not, reads away what has come, so that closing does not take the answer back, and closes. */
static void refuse(cw_fleet *f, cw_caller *c, int status, const char *title, const char *detail)
{
    char head[700], body[400];
    const char *type = status == 503 ? "not-open" : status == 421 ? "misdirected" : "bad-request";
    snprintf(body, sizeof body,
             "{\"type\":\"urn:clumpwise:problem:%s\",\"title\":\"%s\",\"status\":%d,\"detail\":\"%s\"}", type,
             title, status, detail);
    snprintf(head, sizeof head,
             "HTTP/1.1 %d %s\r\nContent-Type: application/problem+json\r\nContent-Length: %zu\r\n"
             "Cache-Control: no-store\r\n%sConnection: close\r\n\r\n%s",
             status, title, strlen(body), status == 503 ? "Retry-After: 10\r\n" : "", body);
    const char *alert = status == 503 ? not_open : no_such_name;
    (void)!send(c->fd, f->how->cert ? alert : head, f->how->cert ? sizeof not_open : strlen(head),
                MSG_NOSIGNAL | MSG_DONTWAIT);
    shutdown(c->fd, SHUT_WR);
    while (recv(c->fd, f->bytes, sizeof f->bytes, MSG_DONTWAIT) > 0) {
    }
    sodium_memzero(f->bytes, sizeof f->bytes);
    let_go(f, c);
}

/* False if it has to wait. */
static bool hand_over(cw_fleet *f, cw_caller *c)
{
    union {
        struct cmsghdr align;
        char bytes[CMSG_SPACE(sizeof(int))];
    } room = { 0 };
    char byte = 0;
    struct iovec piece = { &byte, 1 };
    struct msghdr m = {
        .msg_iov = &piece, .msg_iovlen = 1, .msg_control = room.bytes, .msg_controllen = sizeof room.bytes
    };
    struct cmsghdr *h = CMSG_FIRSTHDR(&m);
    h->cmsg_level = SOL_SOCKET;
    h->cmsg_type = SCM_RIGHTS;
    h->cmsg_len = CMSG_LEN(sizeof(int));
    memcpy(CMSG_DATA(h), &c->fd, sizeof(int));
    if (!c->to->ready || sendmsg(c->to->line, &m, MSG_NOSIGNAL | MSG_DONTWAIT) < 0)
        return false;
    let_go(f, c);
    return true;
}

static void serve(cw_fleet *f, cw_caller *c, const char *host)
{
    c->to = cw_fleet_find(f, host);
    if (c->to == NULL)
        refuse(f, c, 421, "Misdirected Request", "no nursery here goes by that name");
    else if (!cw_members_wanted(c->to))
        refuse(f, c, 503, "Service Unavailable", "this nursery is not open at the moment");
    else
        hand_over(f, c);
}

void cw_callers_look(cw_fleet *f, cw_caller *c)
{
    char host[CW_CALLED_NAME] = "";
    if (c->to)
        return;
    ssize_t n = recv(c->fd, f->bytes, sizeof f->bytes, MSG_PEEK | MSG_DONTWAIT);
    if (n < 0 && (errno == EAGAIN || errno == EINTR))
        return;
    cw_called w = n <= 0         ? CW_CALLED_BROKEN
                  : f->how->cert ? cw_called_tls(f->bytes, (size_t)n, host)
                                 : cw_called_http(f->bytes, (size_t)n, host);
    sodium_memzero(f->bytes, n > 0 ? (size_t)n : 0);
    if (n <= 0)
        let_go(f, c);
    else if (w == CW_CALLED_HOST)
        serve(f, c, host);
    else if (w == CW_CALLED_NONE)
        refuse(f, c, 421, "Misdirected Request", "no nursery here goes by that name");
    else if (w == CW_CALLED_BROKEN || (size_t)n == sizeof f->bytes)
        refuse(f, c, 400, "Bad Request", "a request begins with its method, and names its host");
}

static unsigned held_by(const cw_fleet *f, const unsigned char address[16])
{
    unsigned n = 0;
    for (const cw_caller *c = f->first; c; c = c->next)
        n += memcmp(c->address, address, sizeof c->address) == 0;
    return n;
}

static void take(cw_fleet *f, int fd, const struct sockaddr_storage *from)
{
    unsigned char address[16];
    cw_address_of((const struct sockaddr *)from, address);
    bool proxy = f->how->trusted_proxy && memcmp(address, f->proxy, sizeof address) == 0;
    if (f->callers >= MOST)
        let_go(f, f->last);
    cw_caller *c = !proxy && held_by(f, address) >= PER_ADDRESS ? NULL : calloc(1, sizeof *c);
    struct epoll_event event = { .events = EPOLLIN | EPOLLRDHUP | EPOLLET, .data.ptr = c };
    if (c == NULL || epoll_ctl(f->poll, EPOLL_CTL_ADD, fd, &event) != 0) {
        free(c);
        close(fd);
        return;
    }
    c->fd = fd;
    c->since = cw_clock_ticks();
    memcpy(c->address, address, sizeof address);
    c->next = f->first;
    *(f->first ? &f->first->before : &f->last) = c;
    f->first = c;
    f->callers++;
}

/* A round of them: the others are asked after in between. */
void cw_callers_accept(cw_fleet *f)
{
    for (int i = 0; i < 64; i++) {
        struct sockaddr_storage from = { 0 };
        socklen_t n = sizeof from;
        int fd = accept4(f->at.fd, (struct sockaddr *)&from, &n, SOCK_NONBLOCK | SOCK_CLOEXEC);
        if (fd >= 0)
            take(f, fd, &from);
        else if ((errno == EMFILE || errno == ENFILE) && f->last)
            let_go(f, f->last);
        else if (errno != EINTR && errno != ECONNABORTED)
            return;
    }
}

void cw_callers_tick(cw_fleet *f)
{
    int64_t now = cw_clock_ticks(), most = f->how->header_ms ? f->how->header_ms : HEAD_MS;
    for (cw_caller *c = f->last, *newer = NULL; c; c = newer) {
        newer = c->before;
        if (c->to && !cw_members_wanted(c->to))
            refuse(f, c, 503, "Service Unavailable", "this nursery is not open at the moment");
        else if (!(c->to && hand_over(f, c)) && now - c->since > most)
            let_go(f, c);
    }
}

void cw_callers_drop(cw_fleet *f)
{
    while (f->first)
        let_go(f, f->first);
}

void cw_callers_forget(cw_fleet *f)
{
    for (cw_caller *c = f->first, *next = NULL; c; c = next) {
        next = c->next;
        free(c);
    }
    f->first = f->last = NULL;
    f->callers = 0;
}
