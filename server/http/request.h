/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_REQUEST_H
#define CW_SERVER_REQUEST_H

#include "http/route.h"
#include "http/uri.h"

#include <stdatomic.h>

/* Inside of http/: one request from its first byte to its reply. It is made when the request line is known
 * and freed when the library has sent the reply. Owner at any moment: the library's thread, or (while the
 * connection is suspended) the one worker that runs it. No lock is needed. */
struct cw_server;
struct MHD_Connection;
typedef struct cw_task cw_task;

#define CW_MAX_KEY_BYTES 320 /* Idempotency-Key and whose the entry is */

/* What can be told of a body of JSON before it is read (body.c). */
typedef struct cw_glance {
    bool text, escaped;    /* within a text; after its backslash */
    bool begun, list;      /* something came; it is a list */
    size_t depth, deepest; /* brackets that are open; most at once */
    size_t elements;       /* of the list */
    size_t cost, dearest;  /* bytes when read: of all, or of the list's element at hand; the most */
} cw_glance;

struct cw_request {
    struct cw_server *server;
    struct MHD_Connection *connection;
    struct cw_wire *wire; /* the connection's deadline, http/wire.h */
    cw_uri uri;
    size_t target_length;
    bool bad_target;
    bool tls; /* between the browser and us, or the proxy that is trusted */
    cw_method method;
    const cw_route *route;
    cw_path_param params[CW_MAX_PATH_PARAMS];
    cw_text body;
    size_t told, held; /* its length as told; the same, if it counts in the server's budget */
    cw_glance glance;
    size_t body_at, body_row; /* bytes and elements of a list that are read */
    json_t *json;             /* the body, or the element at hand, while a worker has it */

    cw_asker who;
    cw_based based;                 /* "based_on" of the body, and what of it has changed since */
    cw_task *task;                  /* NULL: nobody can ask after it, task.h */
    char actor[CW_MAX_NAME + 8];    /* a key's with CW_KEY_ACTOR before it */
    char key[CW_MAX_KEY_BYTES + 1]; /* empty: none */
    char author[CW_MAX_NAME + 1];   /* who entered it, when a device kept it meanwhile; empty: not said */
    bool handed;                    /* somebody else entered it, and handed it over to the actor */
    char token[65];                 /* digest of the session token that came, empty: none */
    char address[64];               /* of the client, for throttling */
    char none_match[128];           /* If-None-Match */
    bool gzip_ok;                   /* the client takes gzip */

    int64_t person, program; /* number of the account or key that came, or that was tried; 0: none */
    bool tried;              /* `person` is whose account was tried, not who came */
    const char *refusal;     /* word for the log, watch.c; NULL: the problem's own */

    unsigned status; /* 0: no reply yet */
    const char *type;
    const char *problem; /* word of the problem that the reply tells, NULL: none */
    cw_text reply;
    bool gzipped;
    char name[128]; /* Content-Disposition */
    char etag[96];
    char cookie[256]; /* Set-Cookie */
    char allow[64];   /* Allow, with 405 */
    int retry_after;  /* seconds, with 429 and 503 */
    json_t *errors;   /* members of a problem's "errors" */
    json_t *with;     /* further members of a problem */
    bool starved;     /* no memory for one of those two */
    cw_handler then;  /* second step on the writer, people.h */
    void *then_keep;
    void (*resumed)(
        cw_request *q); /* of the server itself: told when all is committed, and frees it; NULL: nobody is */
    char csrf[48];      /* of the session that came */

    struct cw_request *next; /* in a queue */
    int64_t give_up;         /* ticks after which waiting is pointless */
    int64_t begun;           /* ticks since when a worker has it; 0: none has */
    atomic_int unwanted;     /* why its work is given up, heed.c; 0: it is not */
    bool to_the_end;         /* a note of the server itself: written even while it stops */
    bool started;            /* the headers were looked at */
    bool refused;            /* the reply was set before the body was read */
    bool for_kept;           /* its reply is for all who wait, kept.c */
    bool accounts_changed;   /* people, sessions or keys: the door must forget */
    bool counted;            /* in the server's in_flight */
    uint64_t came_at;        /* server's writes when it came, for kept replies */
};

void cw_request_free(cw_request *q);
void cw_task_leave(cw_request *q); /* task.c */

/* What a member holds (members.c). */
cw_holds cw_member_holds(const cw_member *m);

/* Takes "based_on" out of the body where the route's contract has it, for the asker (members.c). */
void cw_based_lift(cw_request *q);
cw_code cw_based_known(const cw_request *q, cw_error *err); /* only what the route overwrites may be named */

/* Turns the error into the reply. */
void cw_reply_problem(cw_request *q, const cw_error *err);
void cw_reply_problem_as(cw_request *q, unsigned status, const char *type, const char *detail);
unsigned cw_code_status(cw_code code);

/* gzip, when it is worth it and the client takes it. */
void cw_reply_squeeze(cw_request *q);
bool cw_gzip(const char *bytes, size_t n, int level, cw_text *out);

#endif
