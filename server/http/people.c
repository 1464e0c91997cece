/* SPDX-License-Identifier: MIT */
#include "http/people.h"

#include "clock.h"
#include "desk/people/accounts.h"
#include "http/http_inside.h"
#include <stdio.h>

#include "base/banned.h"

static cw_try try_of(const cw_request *q, const char *name, bool code)
{
    return (cw_try){ .name = name, .address = q->address, .session = q->token, .code = code };
}

int cw_request_wait(const cw_request *q, const char *name)
{
    cw_try t = try_of(q, name, false);
    return cw_throttle_wait(q->server->door, &t, cw_clock_ticks());
}

static void tried(cw_request *q, const cw_try *t, const char *what, bool good)
{
    if (good)
        cw_throttle_passed(q->server->door, t);
    else if (cw_throttle_failed(q->server->door, t, cw_clock_ticks()))
        cw_watch_unusual(q->server, CW_UNUSUAL_TRIES);
    if (!good)
        q->refusal = what;
}

void cw_request_tried(cw_request *q, const char *name, bool good)
{
    cw_try t = try_of(q, name, false);
    tried(q, &t, "password", good);
}

int cw_request_code_wait(const cw_request *q, const char *name)
{
    cw_try t = try_of(q, name, true);
    return cw_throttle_wait(q->server->door, &t, cw_clock_ticks());
}

void cw_request_code_tried(cw_request *q, const char *name, bool good)
{
    cw_try t = try_of(q, name, true);
    tried(q, &t, "code", good);
}

void cw_request_account(cw_request *q, int64_t person)
{
    q->person = person;
    q->tried = true;
}

void cw_request_cookie(cw_request *q, const char *token)
{
    cw_door_cookie(q->tls, token, q->cookie, sizeof q->cookie);
}

const char *cw_request_session(const cw_request *q)
{
    return q->token;
}

const char *cw_request_csrf(const cw_request *q)
{
    return q->csrf;
}

bool cw_request_no_accounts(const cw_request *q)
{
    return cw_door_no_accounts(q->server->door);
}

void cw_request_accounts_changed(cw_request *q)
{
    q->accounts_changed = true;
}

cw_code cw_reply_wait(cw_request *q, int seconds)
{
    char detail[120];
    snprintf(detail, sizeof detail, "too many wrong tries; wait %d seconds", seconds);
    cw_reply_problem_as(q, 429, "wait", detail);
    q->retry_after = seconds;
    return CW_OK;
}

cw_code cw_reply_unknown(cw_request *q, const char *detail)
{
    cw_reply_problem_as(q, 401, "sign-in", detail);
    return CW_OK;
}

void cw_request_then_write(cw_request *q, cw_handler step, void *keep)
{
    q->then = step;
    q->then_keep = keep;
}

void *cw_request_kept(const cw_request *q)
{
    return q->then_keep;
}

cw_code cw_request_prove(cw_request *q, cw_nursery *n, const char *current, cw_handler step, cw_error *err)
{
    cw_identity who;
    const char *name = q->who.actor;
    cw_request_then_write(q, step, NULL);
    if (q->token[0] == '\0')
        return CW_OK;
    if (current == NULL)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "current",
                           "is needed: type your own password once more for this");
    int wait = cw_request_wait(q, name);
    if (wait > 0) {
        cw_request_then_write(q, NULL, NULL);
        return cw_reply_wait(q, wait);
    }
    cw_code code = cw_accounts_verify(n, name, current, &who, err);
    if (code == CW_OK || code == CW_FORBIDDEN)
        cw_request_tried(q, name, code == CW_OK);
    if (code == CW_FORBIDDEN) {
        *err = (cw_error)CW_ERROR_NONE;
        return cw_error_at(err, CW_FORBIDDEN, NULL, 0, "current", "is not your password");
    }
    return code;
}
