/* SPDX-License-Identifier: MIT */
#include "http/listen.h"

#include "base/text.h"
#include "base/value.h"
#include <arpa/inet.h>
#include <errno.h>
#include <netdb.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

#define BACKLOG 4096

/* "host:port" or "[v6]:port" into its parts. */
static cw_code split_listen(const char *listen, char host[200], char port[8], cw_error *err)
{
    const char *colon = strrchr(listen, ':');
    size_t n = colon ? (size_t)(colon - listen) : 0;
    int64_t number = 0;
    if (n == 0 || n >= 200 || !cw_parse_int(colon + 1, strlen(colon + 1), 0, 65535, &number))
        return cw_error_set(err, CW_USAGE, "--listen takes ADDRESS:PORT such as 127.0.0.1:8473, not '%.80s'",
                            listen);
    bool bracket = listen[0] == '[' && listen[n - 1] == ']';
    memcpy(host, listen + bracket, n - 2 * bracket);
    host[n - 2 * bracket] = '\0';
    snprintf(port, 8, "%d", (int)number);
    return CW_OK;
}

static bool is_loopback(const struct sockaddr *a)
{
    if (a->sa_family == AF_INET)
        return (ntohl(((const struct sockaddr_in *)(const void *)a)->sin_addr.s_addr) >> 24) == 127;
    return a->sa_family == AF_INET6 &&
           IN6_IS_ADDR_LOOPBACK(&((const struct sockaddr_in6 *)(const void *)a)->sin6_addr);
}

static cw_code listen_on(const struct addrinfo *a, const char *shown, int *out, cw_error *err)
{
    int one = 1;
    int fd = socket(a->ai_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool good = fd >= 0 && setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one) == 0 &&
                bind(fd, a->ai_addr, a->ai_addrlen) == 0 && listen(fd, BACKLOG) == 0;
    if (!good) {
        cw_error_set(err, CW_MACHINE, "cannot listen on %s: %s", shown, strerror(errno));
        if (fd >= 0)
            close(fd);
        return CW_MACHINE;
    }
    *out = fd;
    return CW_OK;
}

static unsigned port_of(int fd)
{
    struct sockaddr_storage a = { 0 };
    socklen_t n = sizeof a;
    if (getsockname(fd, (struct sockaddr *)&a, &n) != 0)
        return 0;
    return a.ss_family == AF_INET6 ? ntohs(((struct sockaddr_in6 *)(void *)&a)->sin6_port)
                                   : ntohs(((struct sockaddr_in *)(void *)&a)->sin_port);
}

cw_code cw_listen_open(const cw_serve *how, cw_listen *out, cw_error *err)
{
    char port[8];
    struct addrinfo hints = { .ai_socktype = SOCK_STREAM, .ai_flags = AI_PASSIVE }, *found = NULL;
    *out = (cw_listen){ .fd = -1 };
    cw_code code = split_listen(how->listen, out->host, port, err);
    if (code != CW_OK)
        return code;
    if (getaddrinfo(out->host, port, &hints, &found) != 0)
        return cw_error_set(err, CW_REFUSED, "there is no such address to listen on: %.80s", out->host);
    out->loopback = is_loopback(found->ai_addr);
    code = listen_on(found, how->listen, &out->fd, err);
    if (code == CW_OK) {
        out->port = port_of(out->fd);
        snprintf(out->url, sizeof out->url,
                 found->ai_family == AF_INET6 ? "%s://[%.80s]:%u" : "%s://%.80s:%u",
                 how->cert ? "https" : "http", out->host, out->port);
    }
    freeaddrinfo(found);
    return code;
}

cw_code cw_listen_check(const cw_serve *how, bool loopback, cw_error *err)
{
    if (loopback || how->cert)
        return CW_OK;
    if (!how->insecure_lan)
        return cw_error_set(err, CW_REFUSED,
                            "without --cert and --key, passwords would cross the network in the clear; give "
                            "them, or take that "
                            "risk on a closed network with --insecure-lan");
    if (how->say)
        how->say("warning: no TLS: passwords and customers' data cross the network in the clear, and pages "
                 "cannot work offline");
    return CW_OK;
}

bool cw_address_read(const char *text, unsigned char out[CW_ADDRESS])
{
    memset(out, 0, CW_ADDRESS);
    return inet_pton(AF_INET, text, out) == 1 || inet_pton(AF_INET6, text, out) == 1;
}

void cw_address_of(const struct sockaddr *a, unsigned char out[CW_ADDRESS])
{
    memset(out, 0, CW_ADDRESS);
    if (a && a->sa_family == AF_INET)
        memcpy(out, &((const struct sockaddr_in *)(const void *)a)->sin_addr, 4);
    else if (a && a->sa_family == AF_INET6)
        memcpy(out, &((const struct sockaddr_in6 *)(const void *)a)->sin6_addr, 16);
}
