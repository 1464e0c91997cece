/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_HTTP_INSIDE_H
#define CW_SERVER_HTTP_INSIDE_H

/* Inside of http/: what its files share. Nobody else includes it. */
#include "auth/door.h"
#include "http/request.h"
#include "http/server.h"

#include <microhttpd.h>
#include <pthread.h>
#include <stdatomic.h>

/* From this version on the library itself refuses a header block that is not as RFC 9112 wants it, if it is asked to; before, we
 * look where its values lie (hygiene.c). */
#define CW_LIBRARY_IS_STRICT (MHD_VERSION >= 0x00097701)

#define CW_READERS      3
#define CW_SLOW_AT_ONCE 2     /* of CW_ROUTE_SLOW */
#define CW_GROUP        256   /* requests in one COMMIT at most */
#define CW_WAIT_MS      30000 /* longer than this no request waits in a queue */
#define CW_CONNECTIONS  512
#define CW_PER_ADDRESS  100u
/* From here on, who comes takes the place of who needs it least. Fewer than 128 below the limit: the library's thread sleeps on
 * when it is handed just 128 events at once (0.9.75, MHD_epoll), and those could all be of connections that we have shut. */
#define CW_CROWDED        448
#define CW_POOL           2
#define CW_BODIES_AT_ONCE ((size_t)64 << 20) /* bytes of bodies beyond CW_SMALL_BODY that are held at once */

/* Requests that wait for a worker. */
typedef struct cw_queue {
    cw_request *first, *last;
    size_t length;
} cw_queue;

typedef struct cw_jobs {
    pthread_mutex_t lock;
    pthread_cond_t read_wake[CW_READERS], write_wake;
    bool idle[CW_READERS]; /* waits on its read_wake */
    cw_queue reads, slow, writes;
    unsigned slow_running;
    bool stopping;
    pthread_t readers[CW_READERS], writer;
    unsigned readers_started;
    bool writer_started;
    cw_nursery *look[CW_READERS], *work;
    struct cw_server *server;
} cw_jobs;

/* One TCP connection, for its deadlines (wire.c). */
typedef enum cw_phase { CW_PHASE_IDLE, CW_PHASE_HEAD, CW_PHASE_BODY, CW_PHASE_WORK, CW_PHASE_REPLY } cw_phase;
typedef struct cw_wire {
    struct cw_wire *next, *before;
    int fd;
    unsigned char address[16]; /* of the client: IPv4 or IPv6, zeros behind */
    unsigned held;             /* connections of that address, this one among them */
    bool proxied;              /* it is the trusted proxy's */
    bool shut;                 /* we have closed it; the library has yet to see that */
    atomic_int phase;
    _Atomic int64_t since; /* ticks */
    atomic_bool left;      /* the client has closed its side while its request was worked on */
} cw_wire;

typedef struct cw_wires {
    pthread_mutex_t lock;
    pthread_cond_t wake;
    cw_wire *first;
    unsigned open; /* of those that are not shut */
    pthread_t sweeper;
    bool started, stopping;
    int64_t limits[CW_PHASE_REPLY + 1]; /* milliseconds; 0: none */
} cw_wires;

/* The requests that can be asked after and given up (task.c). */
typedef struct cw_tasks {
    pthread_mutex_t lock;
    cw_task *first;
} cw_tasks;

/* The kept bytes of one CW_ROUTE_CACHED route (kept.c). */
typedef struct cw_kept {
    const cw_route *route;
    pthread_mutex_t lock;
    struct MHD_Response *plain, *squeezed, *unchanged;
    char etag[96];
    uint64_t made_of;          /* server's writes when it was begun */
    uint64_t making_of;        /* the same, of the one that is being made */
    int64_t made_at, begun_at; /* ticks */
    double budget_ms;          /* of processor time that remaking may use up now */
    int64_t filled_at;         /* ticks: when the budget was last filled up */
    bool being_made;
    cw_request *waiting;
} cw_kept;

#define CW_KEPT_ROUTES 4

/* Replies of TAGGED routes that may be asked for again (again.c). */
#define CW_AGAIN 16
typedef struct cw_again {
    pthread_mutex_t lock;
    uint64_t asked; /* grows with each use */
    _Atomic uint64_t answered;
    struct cw_again_reply {
        cw_text bytes;
        const char *type; /* NULL: the place is free */
        bool gzipped, squeezed_ok;
        uint64_t asked_at;
        char etag[96], name[128], actor[CW_MAX_NAME + 8];
        char question[65]; /* digest of method, address and query */
    } reply[CW_AGAIN];
} cw_again;

/* What the log and the audit are told of refusals and floods (watch.c). */
typedef enum cw_unusual { CW_UNUSUAL_TRIES, CW_UNUSUAL_CONNECTIONS, CW_UNUSUALS } cw_unusual;
#define CW_WATCH_WORDS 16
typedef struct cw_watch {
    pthread_mutex_t lock;
    struct cw_watched {
        const char *word;
        int64_t since; /* ticks: when its minute began */
        unsigned lines;
    } words[CW_WATCH_WORDS];
    atomic_bool unusual[CW_UNUSUALS]; /* since the last audit row */
    int64_t noted[CW_UNUSUALS];       /* ticks of that row, 0: none yet */
} cw_watch;

struct cw_server {
    cw_serve how;
    struct MHD_Daemon *daemon;
    char url[128], boot[17];
    char names[4][256]; /* Host names that are ours */
    unsigned port;
    bool tls, loopback;
    unsigned char proxy[16]; /* address of the trusted proxy, as a wire's */
    atomic_bool stopping;
    atomic_bool giving_up; /* the grace of a stop is over: what still runs is given up */
    _Atomic size_t bodies; /* bytes of large bodies that are held */
    /* one of them, or long work, since the keeper last looked: memory can be given back */
    atomic_bool gave_back;
    atomic_long in_flight;    /* requests begun and not yet completed */
    _Atomic uint64_t writes;  /* groups committed: caches are good while it stands */
    _Atomic uint64_t written; /* requests in them */
    cw_door *door;
    cw_jobs jobs;
    cw_wires wires;
    cw_tasks tasks;
    cw_watch watch;
    cw_kept kept[CW_KEPT_ROUTES];
    size_t kept_count;
    cw_again again;
    int64_t begun_at;                              /* ticks */
    _Atomic int64_t day_at;                        /* second * 2^20 + day, of the last look at the calendar */
    struct cw_keeper *keeper;                      /* backups and housekeeping, keeper.c */
    _Atomic int64_t standby_since, standby_copied; /* instants, standby.c */
    struct cw_poster *poster;                      /* carries the outbox, poster.c */
    struct cw_refiner *refiner;                    /* makes figures whole, refiner.c */
    pthread_t handed;                              /* takes connections from a fleet's parent, handed.c */
    bool handed_started;
    int web; /* folder's descriptor, -1: none */
};

/* body.c: by the library's thread while it comes; each may set a refusal. */
void cw_body_expect(cw_request *q, size_t length); /* as told, and not beyond the route's cap */
void cw_body_add(cw_request *q, const char *bytes, size_t n);
void cw_glance_add(cw_glance *g, const char *bytes, size_t n);
void cw_body_drop(cw_request *q); /* its bytes and what was read of them */
/* And by the worker: read, CW_USAGE if it is no JSON; and what was read given back. */
cw_code cw_body_open(cw_request *q, cw_error *err) CW_MUST_CHECK;
void cw_body_close(cw_request *q);

/* jobs.c. There is a reply then, or a handler to go on with; the code is the handler's, the reply to it already made. */
cw_code cw_request_run(cw_request *q, cw_handler handler, cw_nursery *n, cw_error *err);
cw_code cw_jobs_start(cw_jobs *j, cw_server *s, cw_error *err) CW_MUST_CHECK;
void cw_jobs_put(cw_jobs *j, cw_request *q); /* the connection, if any, is suspended already */
void cw_jobs_stop(cw_jobs *j);               /* after all that was put is done */
void cw_request_resume(cw_request *q);

/* wire.c */
cw_code cw_wires_start(cw_wires *w, const cw_serve *how, cw_error *err) CW_MUST_CHECK;
void cw_wires_stop(cw_wires *w);
void cw_wires_notify(void *self, struct MHD_Connection *c, void **socket_context,
                     enum MHD_ConnectionNotificationCode what);
void cw_wire_enter(cw_wire *wire, cw_phase phase);

/* hygiene.c: refuses what the library lets through. */
cw_code cw_hygiene_check(cw_request *q, size_t target_length, const char *method, const char *version,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_hygiene_host(const cw_server *s, const char *host, cw_error *err) CW_MUST_CHECK;

/* kept.c: a reply at hand, or the request is now suspended to wait for it. */
cw_kept *cw_kept_of(cw_server *s, const cw_route *route);
enum MHD_Result cw_kept_answer(cw_kept *k, cw_request *q);
void cw_kept_made(cw_server *s, cw_request *q); /* by the reader that made it */
void cw_kept_free(cw_server *s);

/* again.c: for a request whose tag is made. False: it is to be worked on, and its reply may be kept. */
bool cw_again_answer(cw_again *a, cw_request *q);
void cw_again_keep(cw_again *a, const cw_request *q);
void cw_again_free(cw_again *a);

/* jobs.c: method, address, query and body in one number. */
void cw_request_digest(const cw_request *q, char out[65]);

/* send.c */
enum MHD_Result cw_send(cw_request *q);             /* the reply that is set */
struct MHD_Response *cw_response_of(cw_request *q); /* takes the bytes of the reply; NULL without memory */
/* False: the header, or one of those that every reply has, found no memory. */
bool cw_response_header(struct MHD_Response *r, const char *name, const char *value);
bool cw_response_headers(struct MHD_Response *r, const cw_server *s);
enum MHD_Result cw_send_response(cw_request *q, unsigned status,
                                 struct MHD_Response *r); /* r stays the caller's */

/* task.c */
void cw_task_enter(cw_request *q, const char *name); /* before a worker gets it; name may be NULL */
bool cw_task_begin(cw_request *q); /* a worker has it; false: it was given up while it waited */

bool cw_task_tell(cw_request *q, const char *what, uint64_t done, uint64_t all);

/* heed.c: is the work on a request still wanted? */
void cw_heed_enter(cw_request *q);      /* before a worker gets it: its work may ask from then on */
void cw_heed_begin(cw_request *q);      /* a worker has it: its time runs */
bool cw_heed(cw_request *q);            /* false: it is to be given up, and stays so */
bool cw_heed_reply(cw_request *q);      /* it was given up: the reply says why; false: it was not */
cw_go_on cw_heed_within(cw_request *q); /* for cw_nursery_heed */
bool cw_heed_stop(void *server);        /* false once a stop gives up what runs */

/* watch.c */
void cw_watch_refused(const cw_request *q); /* its reply leaves: a line, if it refuses */
void cw_watch_unusual(cw_server *s, cw_unusual what);
void cw_watch_tick(cw_server *s); /* the keeper's */
/* Lines that were held back: of minutes that are over, or all. */
void cw_watch_sum_up(cw_server *s, bool all);

/* files.c */
enum MHD_Result cw_files_answer(cw_request *q);

/* keeper.c */
cw_code cw_keeper_start(cw_server *s, cw_error *err) CW_MUST_CHECK;
void cw_keeper_stop(cw_server *s);

/* standby.c */
void cw_standby_look(cw_server *s); /* the keeper's, each second */

/* handed.c */
cw_code cw_handed_start(cw_server *s, cw_error *err) CW_MUST_CHECK;
void cw_handed_stop(cw_server *s); /* no more come */

/* poster.c */
cw_code cw_poster_start(cw_server *s, cw_error *err) CW_MUST_CHECK;
void cw_poster_stop(cw_server *s); /* a letter that is on its way is ended, or its answer waited for */

/* refiner.c: made before the workers, which may look in until it is freed after them; its own work begins and stops between. */
struct cw_refiner *cw_refiner_new(cw_server *s); /* NULL without memory */
void cw_refiner_share(cw_server *s, cw_nursery *n);
cw_code cw_refiner_start(cw_server *s, cw_error *err) CW_MUST_CHECK;
void cw_refiner_stop(cw_server *s);
void cw_refiner_free(cw_server *s);
void cw_refiner_look(cw_server *s, const cw_nursery *n); /* by the worker that has n, after a request */

#endif
