/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_ROUTE_H
#define CW_SERVER_ROUTE_H

#include "base/csv.h"
#include "base/limits.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* What a route is, and what a handler may use. Each family of routes (routes/<family>.c) has its handlers, the contract of each
 * before it, and at its end the table of its routes: method, path, access, who may, body cap, handler. A handler (under 40 lines)
 * reads path, query and body, makes one desk call and replies; it knows no HTTP library, no SQL and no thread.
 *
 * USAGE (routes/cellar.c):
 *
 *     struct undo_body { const char *cause, *why; int64_t cause_id; };
 *     static const cw_member undo_shape[] = {
 *         { "cause", CW_TEXT_T, offsetof(struct undo_body, cause), true, 0, 0, cw_words_causes },
 *         { "cause_id", CW_INT_T, offsetof(struct undo_body, cause_id), true, 1, 1e15, NULL },
 *         { "why", CW_TEXT_T, offsetof(struct undo_body, why), true, 0, CW_MAX_NOTE, NULL },
 *         { 0 },
 *     };
 *     static const cw_contract contract_undo_post = { .says = "Undo by counter-entries.",
 *                                                     .body = undo_shape,
 *                                                     .answer = &cw_cellar_entered_shape,
 *                                                     .status = 201 };
 *     static cw_code route_undo_post(cw_request *q, cw_nursery *n, cw_error *err)
 *     {
 *         struct undo_body b = { NULL, NULL, 0 };
 *         cw_table t = { 0 };
 *         cw_code code = cw_body_read(q, &b, err);
 *         if (code == CW_OK)
 *             code = cw_cellar_undo(n, cw_request_asker(q), b.cause, b.cause_id, b.why, &t, err);
 *         return cw_reply_table_take(q, code, 201, &t, err);
 *     }
 *
 *     const cw_route cw_routes_cellar[] = {
 *         CW_ROUTE(POST, "/api/undo", WORK, CELLAR, CW_SMALL_BODY, undo_post),
 *         { 0 },
 *     };
 *
 * The contract is what the request is read by, what the answer is held against in tests, and what `clumpwise help --openapi`
 * prints: a route without one, or a handler without a route, does not compile, and a table that is not the contract's is not answered
 * with. A new family stands in the list of families, too (http/route.c).
 *
 * An error that a handler returns becomes an RFC 9457 problem with the status of its code (error.h).
 *
 * Threads: a LOOK handler runs on a reader with a CW_LOOK nursery. A WORK handler runs on the one writer,
 * inside a group commit: its desk function's transaction is a savepoint of the group, and the reply leaves
 * only after the group's COMMIT. A NOW handler runs on a thread of the HTTP library and must not wait for anything. Nothing a handler gets may be kept after it returns. */
typedef struct cw_request cw_request;
typedef cw_code (*cw_handler)(cw_request *q, cw_nursery *n, cw_error *err);

typedef enum cw_method { CW_GET, CW_POST, CW_PUT, CW_PATCH, CW_DELETE } cw_method;

typedef enum cw_route_access {
    CW_ROUTE_LOOK,   /* reads */
    CW_ROUTE_TAGGED, /* reads what revision, day and query wholly decide: carries an ETag, may be answered by
                        304 */
    CW_ROUTE_KEPT, /* as TAGGED, the same for everybody and without parameters: its bytes are kept until the next write.
                        Under many writes it may be up to a tenth of a second old. */
    CW_ROUTE_SLOW, /* reads, and costs a processor for long (a password's hash): at most two at a time */
    CW_ROUTE_WORK, /* writes */
    CW_ROUTE_NOW, /* touches no file: answered at once by the library's thread; its handler gets no nursery */
} cw_route_access;

/* Who may: bits of cw_role. ANYBODY is also for those who have not signed in. */
#define CW_MAY(role)   (1u << (role))
#define CW_MAY_OWNER   CW_MAY(CW_ROLE_OWNER)
#define CW_MAY_OFFICE  (CW_MAY_OWNER | CW_MAY(CW_ROLE_OFFICE))
#define CW_MAY_PACK    (CW_MAY_OFFICE | CW_MAY(CW_ROLE_PACKER))
#define CW_MAY_CELLAR  (CW_MAY_OWNER | CW_MAY(CW_ROLE_CELLAR))
#define CW_MAY_STAFF   (CW_MAY_PACK | CW_MAY(CW_ROLE_CELLAR)) /* everyone who works here */
#define CW_MAY_SHOP    (CW_MAY_OFFICE | CW_MAY(CW_ROLE_SHOP))
#define CW_MAY_ANYKEY  (CW_MAY_STAFF | CW_MAY(CW_ROLE_SHOP))
#define CW_MAY_ANYBODY 0xFFFFu

/* Body caps: a route without a body has none. */
#define CW_NO_BODY    0
#define CW_SMALL_BODY (64 * 1024)
#define CW_BIG_BODY   (4 * 1024 * 1024)

typedef struct cw_member cw_member;

/* What a route takes and answers. */
typedef struct cw_contract {
    const char *says;       /* what it does, in a sentence or two */
    const cw_member *query; /* NULL: takes no parameter */
    const cw_member *body;  /* of an object, which cw_body_read reads; or */
    /* of a body that the handler gets by cw_body_json; both NULL: none, or an empty object */
    const cw_shape *takes;
    const cw_shape *answer; /* NULL: nothing, unless there is a type */
    const char *type;       /* of an answer that is not JSON, "text/csv" */
    unsigned status;        /* 0: 200, or 204 when nothing is answered */
    /* what an edit may say that it was based on (members lack); NULL: it overwrites nothing */
    const cw_shape *based;
    const cw_part *refusal; /* what a problem may tell beside RFC 9457's own members; all of it may lack */
} cw_contract;

typedef struct cw_route {
    cw_method method;
    const char *path; /* "/api/varieties/{code}": a {name} takes one segment */
    cw_route_access access;
    unsigned may;
    size_t body_cap; /* bytes */
    cw_handler handler;
    const cw_contract *contract;
    const char *name; /* the handler's */
} cw_route;

/* A line of a family's table. */
#define CW_ROUTE(method, path, access, may, cap, handler)                                                    \
    {                                                                                                        \
        CW_##method, path, CW_ROUTE_##access, CW_MAY_##may, cap, route_##handler, &contract_##handler,       \
            #handler                                                                                         \
    }

/* The routes of all families, one after another from 0; NULL past the last. */
const cw_route *cw_route_at(size_t place);

/* The route of a method and a path (still escaped), and the pieces for its {names}. NULL if there is none;
 * then *other tells whether another method has one (405, not 404). */
#define CW_MAX_PATH_PARAMS 3
typedef struct cw_path_param {
    const char *name; /* into the pattern, not ended by NUL */
    size_t name_length;
    char value[CW_MAX_NAME + 1];
} cw_path_param;
const cw_route *cw_route_find(cw_method method, const char *path, cw_path_param params[CW_MAX_PATH_PARAMS],
                              bool *other);

/* What is asked. Texts are borrowed from the request; they are valid UTF-8 without NUL. */
const cw_asker *cw_request_asker(const cw_request *q);
const char *cw_path_text(const cw_request *q, const char *name);
/* >= 0 */
cw_code cw_path_int(const cw_request *q, const char *name, int64_t *out, cw_error *err) CW_MUST_CHECK;

/* One member of a JSON object, or one parameter of a query, what it holds (base/value.h), and where in the handler's struct it
 * goes: texts and words as const char *, CW_INT_T as int64_t, CW_REAL_T as double, CW_BOOL_T as bool, money, days, instants and weeks
 * as themselves, CW_LONG_T and CW_LIST_T as const json_t *. */
struct cw_member {
    const char *name;
    cw_type type;
    size_t offset;
    bool required; /* of texts: not empty either */
    double low, high;
    const char *words;     /* of CW_TEXT_T: one of these */
    const cw_member *each; /* of CW_LIST_T: what its objects have, for cw_object_read; NULL: it is of texts */
    const char *says;      /* what it is, where its name does not tell */
};

/* Reads into `out` by the contract (whose members end with a zeroed one). A member that is absent or null leaves out as the
 * caller set it; one that the contract does not name is refused, and so is a value of another kind. */
cw_code cw_query_read(const cw_request *q, void *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_body_read(const cw_request *q, void *out, cw_error *err) CW_MUST_CHECK;

/* The body itself, when it is no list; and an object inside it, `row` being its 1-based place (0:
 * none). */
cw_code cw_body_json(const cw_request *q, const json_t **out, cw_error *err) CW_MUST_CHECK;
/* A body that is a list is had element by element, each until the next is asked for; NULL after the last. More than
 * CW_MAX_ORDERS_PER_POST are counted, and not to be had: refuse them first. */
bool cw_body_is_list(const cw_request *q);
size_t cw_body_elements(const cw_request *q);
cw_code cw_body_next(cw_request *q, const json_t **out, cw_error *err) CW_MUST_CHECK;
cw_code cw_object_read(const json_t *object, long row, const cw_member *shape, void *out,
                       cw_error *err) CW_MUST_CHECK;

/* Replies. One is set for each request; a later one replaces it. */
cw_code cw_reply_table(cw_request *q, unsigned status, const cw_table *t, cw_error *err) CW_MUST_CHECK;
/* How most handlers end: the table if `code` is CW_OK. Frees the table in any case. */
cw_code cw_reply_table_take(cw_request *q, cw_code code, unsigned status, cw_table *t,
                            cw_error *err) CW_MUST_CHECK;
/* NULL = no memory */
cw_code cw_reply_json_take(cw_request *q, unsigned status, json_t *document, cw_error *err) CW_MUST_CHECK;
/* A document with a table, written without making an object of each row: the members of `head`, which has some, then `name`. */
cw_code cw_reply_json_rows_take(cw_request *q, unsigned status, json_t *head, const char *name,
                                const cw_table *rows, cw_error *err) CW_MUST_CHECK;
cw_code cw_reply_text_take(cw_request *q, unsigned status, const char *type, cw_text *text,
                           cw_error *err) CW_MUST_CHECK;
cw_code cw_reply_none(cw_request *q); /* 204 */
/* Bytes as they come, into the reply. */
cw_sink cw_reply_sink(cw_request *q, unsigned status, const char *type);

/* Lets a browser save the reply under this name (letters, digits, '-', '_', '.'). */
void cw_reply_name(cw_request *q, const char *file_name);

/* A member beside those of RFC 9457 in the problem that the handler's error becomes. Takes the value. */
void cw_reply_with(cw_request *q, const char *name, json_t *value);

/* Errors beside the one that the handler returns; they stand in the problem's "errors". Copied. */
void cw_reply_errors(cw_request *q, const cw_error_list *errors);

/* The status of an answer that is no problem. */
unsigned cw_contract_status(const cw_contract *c);

/* The contract of all routes as an OpenAPI 3.1 document (openapi.c): new reference, NULL without memory. */
json_t *cw_openapi(void);

#endif
