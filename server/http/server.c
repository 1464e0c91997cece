/* SPDX-License-Identifier: MIT */
#include "http/server.h"

#include "base/json.h"
#include "clock.h"
#include "http/daemon_inside.h"
#include "http/listen.h"
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/tcp.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define STOP_MS   2000 /* for what was taken to be finished */
#define LEAVE_MS  1000 /* for the replies of what was given up to leave */
#define PEM_BYTES (256 * 1024)
/* TLS 1.2 and 1.3 with forward secrecy and authenticated ciphers only. */
#define PRIORITIES                                                                                           \
    "NORMAL:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2:-CIPHER-ALL:+AES-256-GCM:+CHACHA20-POLY1305:+AES-128-GCM:"   \
    "-KX-ALL:+ECDHE-ECDSA:+ECDHE-RSA:-MAC-ALL:+AEAD:%SERVER_PRECEDENCE"

#if CW_LIBRARY_IS_STRICT
#define CLIENT_STRICT MHD_OPTION_CLIENT_DISCIPLINE_LVL, 1
#else
#define CLIENT_STRICT MHD_OPTION_STRICT_FOR_CLIENT, 0
#endif

static enum MHD_Result keep_last(void *self, enum MHD_ValueKind kind, const char *name, const char *value)
{
    const char **last = self;
    (void)kind;
    if (value && strcasecmp(name, "X-Forwarded-For") == 0)
        *last = value;
    return MHD_YES;
}

/* The last address of the last line is what the trusted proxy itself saw; those before it are the client's own tale. */
static bool forwarded_for(cw_request *q)
{
    const char *last = NULL;
    unsigned char address[16];
    if (q->wire == NULL || !q->wire->proxied)
        return false;
    MHD_get_connection_values(q->connection, MHD_HEADER_KIND, keep_last, &last);
    if (last == NULL)
        return false;
    const char *comma = strrchr(last, ',');
    last = comma ? comma + 1 : last;
    last += strspn(last, " \t");
    snprintf(q->address, sizeof q->address, "%.*s", (int)strcspn(last, " \t"), last);
    return cw_address_read(q->address, address);
}

void cw_daemon_address(cw_request *q)
{
    if (forwarded_for(q))
        return;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(q->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    if (info == NULL || getnameinfo(info->client_addr,
                                    info->client_addr->sa_family == AF_INET6 ? sizeof(struct sockaddr_in6)
                                                                             : sizeof(struct sockaddr_in),
                                    q->address, sizeof q->address, NULL, 0, NI_NUMERICHOST) != 0)
        cw_copy(q->address, sizeof q->address, "unknown");
}

/* Beyond the own machine only with accounts, and only under TLS unless that is waived. Behind a proxy everybody comes from the own
 * machine, and TLS is the proxy's. In a fleet nobody is the owner for sitting at the machine: others' nurseries are on it. */
static cw_code check_exposure(const cw_server *s, cw_error *err)
{
    if (s->loopback && !s->how.trusted_proxy)
        return CW_OK;
    if (cw_door_no_accounts(s->door))
        return s->how.fleet_name
                   ? cw_error_set(
                         err, CW_REFUSED,
                         "nobody has an account yet; add the owner: clumpwise user %s add NAME --role owner",
                         s->how.path)
                   : cw_error_set(err, CW_REFUSED,
                                  "nobody has an account yet, so only this machine may be listened on, and "
                                  "by no proxy; add the "
                                  "owner first: clumpwise user %s add NAME --role owner",
                                  s->how.path);
    return s->how.fleet_name ? CW_OK : cw_listen_check(&s->how, s->loopback, err);
}

/* In a fleet connections come by hand, and its parent has looked at the address. */
static cw_code open_socket(cw_server *s, int *fd, cw_error *err)
{
    cw_listen at;
    if (s->how.fleet_name) {
        snprintf(s->url, sizeof s->url, "%s://%.100s", s->tls ? "https" : "http", s->how.fleet_name);
        return CW_OK;
    }
    cw_code code = cw_listen_open(&s->how, &at, err);
    if (code != CW_OK)
        return code;
    *fd = at.fd;
    s->port = at.port;
    s->loopback = at.loopback;
    cw_copy(s->url, sizeof s->url, at.url);
    cw_copy(s->names[0], sizeof s->names[0], at.host);
    return CW_OK;
}

static void own_names(cw_server *s)
{
    char host[200] = "";
    if (s->how.fleet_name) {
        cw_copy(s->names[0], sizeof s->names[0], s->how.fleet_name);
        return;
    }
    cw_copy(s->names[1], sizeof s->names[1], s->how.host ? s->how.host : "");
    if (gethostname(host, sizeof host - 1) == 0) {
        cw_copy(s->names[2], sizeof s->names[2], host);
        snprintf(s->names[3], sizeof s->names[3], "%s.local", host);
    }
}

static cw_code read_pem(const char *path, char **out, cw_error *err)
{
    FILE *f = fopen(path, "re");
    char *bytes = f ? calloc(1, PEM_BYTES) : NULL;
    size_t n = bytes ? fread(bytes, 1, PEM_BYTES - 1, f) : 0;
    if (f)
        fclose(f);
    if (n == 0 || n == PEM_BYTES - 1) {
        free(bytes);
        return cw_error_at(err, CW_REFUSED, path, 0, NULL, "cannot be read as a PEM file");
    }
    *out = bytes;
    return CW_OK;
}

static cw_code start_daemon(cw_server *s, int fd, const char *cert, const char *key, cw_error *err)
{
    unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_TURBO |
                     (s->tls ? MHD_USE_TLS : 0) | (fd < 0 ? MHD_USE_NO_LISTEN_SOCKET : 0);
    struct MHD_OptionItem tls[] = {
        { MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)(uintptr_t)cert },
        { MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)(uintptr_t)key },
        { MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)(uintptr_t)PRIORITIES },
        { MHD_OPTION_END, 0, NULL },
    };
    unsigned per_address = s->how.per_address ? s->how.per_address : CW_PER_ADDRESS;
    if (s->how.trusted_proxy) /* which may hold them all; of others wire.c counts */
        per_address = CW_CONNECTIONS;
    struct MHD_OptionItem none[] = { { MHD_OPTION_END, 0, NULL } };
    struct MHD_OptionItem from[] = { { MHD_OPTION_LISTEN_SOCKET, fd, NULL }, { MHD_OPTION_END, 0, NULL } };
    s->daemon =
        MHD_start_daemon(flags, 0, NULL, NULL, cw_daemon_handle, s, MHD_OPTION_ARRAY, fd < 0 ? none : from,
                         MHD_OPTION_THREAD_POOL_SIZE, (unsigned)CW_POOL, MHD_OPTION_CONNECTION_LIMIT,
                         (unsigned)CW_CONNECTIONS, MHD_OPTION_PER_IP_CONNECTION_LIMIT, per_address,
                         MHD_OPTION_CONNECTION_TIMEOUT, 30u, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
                         (size_t)(32 * 1024), CLIENT_STRICT, MHD_OPTION_URI_LOG_CALLBACK, cw_daemon_target, s,
                         MHD_OPTION_NOTIFY_COMPLETED, cw_daemon_completed, s, MHD_OPTION_NOTIFY_CONNECTION,
                         cw_wires_notify, s, MHD_OPTION_ARRAY, s->tls ? tls : none, MHD_OPTION_END);
    if (s->daemon)
        return CW_OK;
    return s->tls
               ? cw_error_set(err, CW_REFUSED,
                              "the server cannot start: --cert and --key are not a certificate and its key")
               : cw_error_set(err, CW_MACHINE, "the server cannot start: %s", strerror(errno));
}

static void find_kept_routes(cw_server *s)
{
    const cw_route *r;
    for (size_t i = 0; (r = cw_route_at(i)) && s->kept_count < CW_KEPT_ROUTES; i++) {
        if (r->access != CW_ROUTE_KEPT)
            continue;
        cw_kept *k = &s->kept[s->kept_count++];
        k->route = r;
        k->budget_ms = 100;
        k->filled_at = cw_clock_ticks();
        pthread_mutex_init(&k->lock, NULL);
    }
}

static cw_code start(cw_server *s, cw_error *err)
{
    char *cert = NULL, *key = NULL;
    int fd = -1;
    unsigned char boot[8];
    randombytes_buf(boot, sizeof boot);
    sodium_bin2hex(s->boot, sizeof s->boot, boot, sizeof boot);
    s->tls = s->how.cert != NULL;
    cw_code code = s->tls ? read_pem(s->how.cert, &cert, err) : CW_OK;
    if (code == CW_OK && s->tls)
        code = read_pem(s->how.key, &key, err);
    if (code == CW_OK && s->how.trusted_proxy && !cw_address_read(s->how.trusted_proxy, s->proxy))
        code = cw_error_set(err, CW_USAGE, "--trusted-proxy takes an address such as 127.0.0.1, not '%.80s'",
                            s->how.trusted_proxy);
    if (code == CW_OK)
        code = open_socket(s, &fd, err);
    if (code == CW_OK && s->how.web && (s->web = open(s->how.web, O_RDONLY | O_DIRECTORY | O_CLOEXEC)) < 0)
        code =
            cw_error_at(err, CW_REFUSED, s->how.web, 0, NULL, "is no folder of pages: %s", strerror(errno));
    own_names(s);
    find_kept_routes(s);
    if (code == CW_OK)
        code = cw_wires_start(&s->wires, &s->how, err);
    if (code == CW_OK)
        code = cw_jobs_start(&s->jobs, s,
                             err); /* first of all that opens the file: it brings an older one up to date */
    if (code == CW_OK)
        code = cw_door_open(s->how.path, &s->door, err);
    if (code == CW_OK)
        code = check_exposure(s, err);
    if (code == CW_OK)
        code = cw_keeper_start(s, err);
    if (code == CW_OK)
        code = cw_poster_start(s, err);
    if (code == CW_OK)
        code = cw_refiner_start(s, err);
    if (code == CW_OK)
        code = start_daemon(s, fd, cert, key, err);
    if (code == CW_OK && s->how.fleet_name)
        code = cw_handed_start(s, err);
    if (code != CW_OK && fd >= 0)
        close(fd);
    if (key)
        sodium_memzero(key, PEM_BYTES);
    free(key);
    free(cert);
    return code;
}

cw_code cw_server_start(const cw_serve *how, cw_server **out, cw_error *err)
{
    *out = NULL;
    cw_server *s = sodium_init() < 0 ? NULL : calloc(1, sizeof *s);
    if (s == NULL)
        return cw_error_memory(err);
    cw_json_careful();
    json_object_seed(0); /* once, before threads do */
    s->how = *how;
    s->web = -1;
    s->begun_at = cw_clock_ticks();
    pthread_mutex_init(&s->tasks.lock, NULL);
    pthread_mutex_init(&s->watch.lock, NULL);
    pthread_mutex_init(&s->again.lock, NULL);
    cw_code code = (s->refiner = cw_refiner_new(s)) == NULL ? cw_error_memory(err)
                   : (how->cert == NULL) == (how->key == NULL)
                       ? start(s, err)
                       : cw_error_set(err, CW_USAGE, "--cert and --key are given together or not at all");
    if (code != CW_OK) {
        cw_server_stop(s);
        return code;
    }
    *out = s;
    return CW_OK;
}

unsigned cw_server_port(const cw_server *s)
{
    return s->port;
}

const char *cw_server_url(const cw_server *s)
{
    return s->url;
}

bool cw_server_open_to_all(const cw_server *s)
{
    return cw_door_no_accounts(s->door);
}

cw_served cw_server_served(const cw_server *s)
{
    return (cw_served){ atomic_load(&s->written), atomic_load(&s->writes), atomic_load(&s->again.answered) };
}

static void pause_ms(long ms)
{
    nanosleep(&(struct timespec){ ms / 1000, (ms % 1000) * 1000000L }, NULL);
}

static void wait_until_idle(const cw_server *s, int64_t ms)
{
    int64_t until = cw_clock_ticks() + ms;
    while (s->daemon && atomic_load(&s->in_flight) > 0 && cw_clock_ticks() < until)
        pause_ms(2);
}

/* Order matters: what comes from now on is told to try later; what was taken is finished or given up; workers end, so nothing is
 * suspended any more; replies leave; then the library may be stopped. (Not by MHD_quiesce_daemon: in 0.9.75 it and a
 * worker of the pool may both take the listening socket out of the epoll set, and the second ends the program.) */
void cw_server_stop(cw_server *s)
{
    if (s == NULL)
        return;
    atomic_store(&s->stopping, true);
    cw_handed_stop(s);
    wait_until_idle(s, STOP_MS);
    atomic_store(&s->giving_up, true);
    wait_until_idle(s, LEAVE_MS);
    cw_refiner_stop(s);
    cw_poster_stop(s);
    cw_keeper_stop(s);
    cw_jobs_stop(&s->jobs);
    cw_refiner_free(s);
    if (s->daemon)
        MHD_stop_daemon(s->daemon);
    cw_wires_stop(&s->wires);
    cw_kept_free(s);
    cw_again_free(&s->again);
    cw_door_close(s->door);
    if (s->web >= 0)
        close(s->web);
    cw_watch_sum_up(s, true);
    pthread_mutex_destroy(&s->watch.lock);
    pthread_mutex_destroy(&s->tasks.lock);
    free(s);
}
