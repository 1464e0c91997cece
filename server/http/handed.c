/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <signal.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "http/http_inside.h"

#include "base/banned.h"

/* In a fleet the parent accepts every connection and hands its descriptor to the nursery whose name it asks for (fleet/). Nothing was
 * read from it: TLS, deadlines, limits and the client's own address are as if it had been accepted here. When the parent is gone
 * there is nobody to hand anything, and the program ends as if it had been told to. */
static void take(cw_server *s, int fd)
{
    struct sockaddr_storage from = { 0 };
    socklen_t n = sizeof from;
    if (getpeername(fd, (struct sockaddr *)&from, &n) != 0)
        close(fd); /* it has left already */
    else
        (void)MHD_add_connection(s->daemon, fd, (struct sockaddr *)&from, n); /* closes it if it cannot */
}

/* False at the end. */
static bool next(cw_server *s)
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
    ssize_t n = recvmsg(s->how.handed, &m, MSG_CMSG_CLOEXEC);
    if (n < 0)
        return errno == EINTR;
    const struct cmsghdr *c = CMSG_FIRSTHDR(&m);
    if (n > 0 && c && c->cmsg_level == SOL_SOCKET && c->cmsg_type == SCM_RIGHTS) {
        int fd = -1;
        memcpy(&fd, CMSG_DATA(c), sizeof fd);
        take(s, fd);
    }
    return n > 0;
}

static void *run(void *self)
{
    cw_server *s = self;
    while (next(s)) {
    }
    if (!atomic_load(&s->stopping))
        kill(getpid(), SIGTERM);
    return NULL;
}

cw_code cw_handed_start(cw_server *s, cw_error *err)
{
    if (pthread_create(&s->handed, NULL, run, s) != 0)
        return cw_error_set(err, CW_MACHINE, "no thread can be started");
    s->handed_started = true;
    return CW_OK;
}

void cw_handed_stop(cw_server *s)
{
    if (!s->handed_started)
        return;
    shutdown(s->how.handed, SHUT_RDWR);
    pthread_join(s->handed, NULL);
    s->handed_started = false;
}
