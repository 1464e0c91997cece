/* SPDX-License-Identifier: MIT */
#include "support/wire.h"

#include <arpa/inet.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <unistd.h>

#define MOST_BYTES ((size_t)64 << 20)

int wire_open(unsigned port)
{
    struct sockaddr_in a = { .sin_family = AF_INET,
                             .sin_port = htons((uint16_t)port),
                             .sin_addr = { htonl(INADDR_LOOPBACK) } };
    struct timeval limit = { WIRE_MS / 1000, 0 };
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || connect(fd, (struct sockaddr *)&a, sizeof a) != 0) {
        if (fd >= 0)
            close(fd);
        return -1;
    }
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &limit, sizeof limit);
    return fd;
}

bool wire_send(int fd, const char *bytes, size_t n)
{
    while (n > 0) {
        ssize_t k = send(fd, bytes, n, MSG_NOSIGNAL);
        if (k <= 0)
            return false;
        bytes += k;
        n -= (size_t)k;
    }
    return true;
}

const char *wire_header(const wire_reply *r, const char *name, char out[512])
{
    size_t n = strlen(name);
    for (const char *line = r->head ? strstr(r->head, "\r\n") : NULL; line; line = strstr(line + 2, "\r\n")) {
        if (strncasecmp(line + 2, name, n) != 0 || line[2 + n] != ':')
            continue;
        const char *value = line + 3 + n + strspn(line + 3 + n, " ");
        snprintf(out, 512, "%.*s", (int)strcspn(value, "\r"), value);
        return out;
    }
    return NULL;
}

/* Where the body begins, 0 while the head is not complete. */
static size_t body_at(const char *bytes)
{
    const char *end = strstr(bytes, "\r\n\r\n");
    return end ? (size_t)(end - bytes) + 4 : 0;
}

static bool complete(const char *bytes, size_t n, size_t body, bool no_body)
{
    char value[512];
    wire_reply r = { .head = (char *)bytes };
    if (body == 0)
        return false;
    const char *length = wire_header(&r, "Content-Length", value);
    int status = (int)strtol(bytes + 9, NULL, 10);
    if (no_body || status == 204 || status == 304)
        return true;
    return length && n - body >= (size_t)strtoul(length, NULL, 10);
}

static wire_reply read_reply(int fd, bool no_body)
{
    wire_reply r = { 0 };
    size_t room = 65536, n = 0, body = 0;
    char *bytes = calloc(1, room);
    while (bytes && !complete(bytes, n, body, no_body)) {
        if (n + 1 == room) {
            char *more = room < MOST_BYTES ? realloc(bytes, room *= 2) : NULL;
            if (more == NULL)
                break;
            bytes = more;
        }
        ssize_t k = recv(fd, bytes + n, room - n - 1, 0);
        if (k <= 0) {
            r.closed = true;
            break;
        }
        n += (size_t)k;
        bytes[n] = '\0';
        body = body ? body : body_at(bytes);
    }
    if (bytes && body) {
        r.status = (int)strtol(bytes + 9, NULL, 10);
        r.body_length = n - body;
        r.body = calloc(1, r.body_length + 1);
        memcpy(r.body, bytes + body, r.body_length);
        bytes[body - 2] = '\0';
        r.head = bytes;
        return r;
    }
    free(bytes);
    return r;
}

wire_reply wire_read(int fd)
{
    return read_reply(fd, false);
}

void wire_free(wire_reply *r)
{
    free(r->head);
    free(r->body);
    *r = (wire_reply){ 0 };
}

bool wire_is_closed(int fd, int ms)
{
    char bytes[4096];
    struct pollfd p = { fd, POLLIN, 0 };
    while (poll(&p, 1, ms) > 0)
        if (recv(fd, bytes, sizeof bytes, 0) <= 0)
            return true;
    return false;
}

wire_watcher wire_watch;

wire_reply wire_ask_on(int fd, const char *method, const char *target, const char *headers, const char *body)
{
    char head[8192];
    size_t length = body ? strlen(body) : 0;
    int n = snprintf(head, sizeof head, "%s %s HTTP/1.1\r\nHost: localhost\r\n%s", method, target,
                     headers ? headers : "");
    if (body)
        n += snprintf(head + n, sizeof head - (size_t)n,
                      "Content-Type: application/json\r\nContent-Length: %zu\r\n", length);
    n += snprintf(head + n, sizeof head - (size_t)n, "\r\n");
    if (n >= (int)sizeof head || !wire_send(fd, head, (size_t)n))
        return (wire_reply){ .closed = true };
    if (body)
        wire_send(fd, body, length); /* a refusal may come before all of it is taken */
    wire_reply r = read_reply(fd, strcmp(method, "HEAD") == 0);
    if (wire_watch)
        wire_watch(method, target, body, &r);
    return r;
}

wire_reply wire_ask(unsigned port, const char *method, const char *target, const char *headers,
                    const char *body)
{
    int fd = wire_open(port);
    if (fd < 0)
        return (wire_reply){ .closed = true };
    wire_reply r = wire_ask_on(fd, method, target, headers, body);
    close(fd);
    return r;
}
