/* SPDX-License-Identifier: MIT */
#include "http/people.h"
#include "routes/notices_inside.h"

#include "desk/orders/notices.h"
#include "desk/post/outbox.h"
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Letters that leave by themselves. The account is the owner's, who proves to be it: whoever may name a mail server may have
 * letters to all buyers read there. */

static const cw_contract contract_post_get = {
    .says = "By which account letters leave (without its password), and how many wait, were sent, or were "
            "refused.",
    .answer = &cw_post_view_shape,
};

static cw_code route_post_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    json_t *o = NULL;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_post_view(n, cw_request_asker(q), &o, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, o, err) : code;
}

struct account {
    const char *server, *user, *password, *authority, *current;
    int64_t per_minute;
};
static const cw_member account_shape[] = {
    { "server", CW_TEXT_T, offsetof(struct account, server), true, 0, CW_MAX_NAME, NULL,
      .says = "smtps://HOST, or smtp://HOST:587 for STARTTLS" },
    { "user", CW_TEXT_T, offsetof(struct account, user), false, 0, CW_MAX_NAME, NULL },
    { "password", CW_TEXT_T, offsetof(struct account, password), false, 0, CW_MAX_SECRET, NULL,
      .says = "may lack when server and user stay" },
    { "authority", CW_TEXT_T, offsetof(struct account, authority), false, 0, CW_MAX_NAME, NULL,
      .says = "file of certificates (PEM) to trust instead of the machine's" },
    { "per_minute", CW_INT_T, offsetof(struct account, per_minute), false, 1, 6000, NULL,
      .says = "letters at most" },
    CW_CURRENT_MEMBER(struct account),
    { 0 },
};

static cw_code set_account(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct account a = { 0 };
    cw_code code = cw_body_read(q, &a, err);
    if (code == CW_OK)
        code = cw_post_account_set(n, cw_request_asker(q), a.server, a.user, a.password, a.authority,
                                   a.per_minute, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_post_account_put = {
    .says = "Set the account by which letters leave. Without TLS only on this machine itself. Its password "
            "is kept "
            "beside the nursery file, not in it.",
    .body = account_shape,
};

static cw_code route_post_account_put(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct account a = { 0 };
    cw_code code = cw_body_read(q, &a, err);
    return code == CW_OK ? cw_request_prove(q, n, a.current, set_account, err) : code;
}

static const cw_member forget_shape[] = { CW_CURRENT_MEMBER(struct account), { 0 } };

static cw_code forget_account(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_post_account_forget(n, cw_request_asker(q), err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_post_account_forget = {
    .says = "Forget the account and its password; what waits stays in the outbox.",
    .body = forget_shape,
};

static cw_code route_post_account_forget(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct account a = { 0 };
    cw_code code = cw_body_read(q, &a, err);
    return code == CW_OK ? cw_request_prove(q, n, a.current, forget_account, err) : code;
}

static const cw_contract contract_post_test = {
    .says = "Send a test letter to the nursery's own address. What the server said stands in the outbox.",
};

static cw_code route_post_test(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_post_test(n, cw_request_asker(q), err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

struct letters {
    const json_t *notices;
};
static const cw_member letters_shape[] = {
    { "notices", CW_LIST_T, offsetof(struct letters, notices), true, 1, CW_NOTICES_MOST,
      .each = cw_one_notice_shape },
    { 0 },
};
static const cw_shape queued_shape = { .parts = (const cw_part[]){
                                           { "queued", CW_INT_T },
                                           { "known", CW_INT_T, .says = "they were in the outbox already" },
                                           { "addressless", CW_INT_T,
                                             .says = "their orders have no e-mail address" },
                                           { "settled", CW_INT_T, .says = "they are not due any more" },
                                           { 0 },
                                       } };

static const cw_contract contract_post_letters = {
    .says = "Put the letters of these notices into the outbox. Each leaves once; then its notice is on "
            "record as sent.",
    .body = letters_shape,
    .answer = &queued_shape,
};

static cw_code route_post_letters(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct letters b = { NULL };
    cw_post_queued done = { 0 };
    cw_code code = cw_body_read(q, &b, err);
    size_t count = 0;
    int64_t *ids = NULL;
    if (code == CW_OK)
        code = cw_notice_ids_read(b.notices, &ids, &count, err);
    if (code == CW_OK)
        code = cw_post_letters(n, cw_request_asker(q), ids, count, &done, err);
    free(ids);
    return code == CW_OK ? cw_reply_json_take(
                               q, 200,
                               json_pack("{s:I,s:I,s:I,s:I}", "queued", (json_int_t)done.queued, "known",
                                         (json_int_t)done.known, "addressless", (json_int_t)done.addressless,
                                         "settled", (json_int_t)done.settled),
                               err)
                         : code;
}

struct stop {
    bool stopped;
};
static const cw_member stop_shape[] = {
    { "stopped", CW_BOOL_T, offsetof(struct stop, stopped), true, 0, 0, NULL },
    { 0 },
};

static const cw_contract contract_post_stop = {
    .says = "Stop all letters, or let them go on. A letter that is going at this moment ends first.",
    .body = stop_shape,
};

static cw_code route_post_stop(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct stop b = { false };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_post_stop(n, cw_request_asker(q), b.stopped, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

struct list {
    const char *state;
};
static const cw_member list_shape[] = {
    { "state", CW_TEXT_T, offsetof(struct list, state), false, 0, 0, cw_words_outbox_lists },
    { 0 },
};

static const cw_contract contract_outbox_list = {
    .says = "The outbox, the newest first: what waits, what was sent, and what was refused in the server's "
            "words.",
    .query = list_shape,
    .answer = &cw_post_list_shape,
};

static cw_code route_outbox_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct list in = { "all" };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_post_list(n, cw_request_asker(q), strcmp(in.state, "all") == 0 ? NULL : in.state, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static cw_code one(cw_request *q, cw_nursery *n,
                   cw_code (*what)(cw_nursery *n, const cw_asker *who, int64_t letter, cw_error *err),
                   cw_error *err)
{
    int64_t id = 0;
    cw_code code = cw_path_int(q, "letter", &id, err);
    if (code == CW_OK)
        code = what(n, cw_request_asker(q), id, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

static const cw_contract contract_outbox_again = {
    .says = "Send a letter again that was refused, or of which nobody knows whether it left. Of a hook: tell "
            "that again, as it is now.",
};

static cw_code route_outbox_again(cw_request *q, cw_nursery *n, cw_error *err)
{
    return one(q, n, cw_post_again, err);
}

static const cw_contract contract_outbox_remove = {
    .says =
        "Take a letter out of the outbox that was not sent; its notice stays due. A hook is not told then.",
};

static cw_code route_outbox_remove(cw_request *q, cw_nursery *n, cw_error *err)
{
    return one(q, n, cw_post_remove, err);
}

const cw_route cw_routes_post[] = {
    CW_ROUTE(GET, "/api/post", LOOK, OFFICE, CW_NO_BODY, post_get),
    CW_ROUTE(PUT, "/api/post/account", SLOW, OWNER, CW_SMALL_BODY, post_account_put),
    CW_ROUTE(POST, "/api/post/account/forget", SLOW, OWNER, CW_SMALL_BODY, post_account_forget),
    CW_ROUTE(POST, "/api/post/test", WORK, OWNER, CW_SMALL_BODY, post_test),
    CW_ROUTE(POST, "/api/post/letters", WORK, OFFICE, CW_BIG_BODY, post_letters),
    CW_ROUTE(POST, "/api/post/stop", WORK, OFFICE, CW_SMALL_BODY, post_stop),
    CW_ROUTE(GET, "/api/outbox", LOOK, OFFICE, CW_NO_BODY, outbox_list),
    CW_ROUTE(POST, "/api/outbox/{letter}/again", WORK, OFFICE, CW_SMALL_BODY, outbox_again),
    CW_ROUTE(POST, "/api/outbox/{letter}/remove", WORK, OFFICE, CW_SMALL_BODY, outbox_remove),
    { 0 },
};
