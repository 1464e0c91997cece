/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_POST_INSIDE_H
#define CW_DESK_POST_INSIDE_H

/* Inside of desk/post. */
#include "base/mail.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/post/hook.h"
#include "desk/post/outbox.h"
#include "store/outbox.h"

/* The nursery's own address; CW_REFUSED when the setting is not set. */
cw_code cw_post_sender(cw_nursery *n, cw_mail_address *out, cw_error *err) CW_MUST_CHECK;

/* What a test letter proves: server, user and sender. */
void cw_post_digest(const cw_mail_account *a, const cw_mail_address *from, char out[65]);

/* Minutes that grow: 1, 2, 4 ... 60, for the n-th failure in a row; in milliseconds. */
int64_t cw_post_pause(int64_t failures);

/* What a test of a hook proves: address and secret. Is the address one that may be told? */
void cw_hook_digest(const cw_hook_account *a, char out[65]);
bool cw_hook_good(const char *address);
cw_code cw_hook_queue_test(cw_nursery *n, const cw_asker *who, cw_error *err) CW_MUST_CHECK;

#endif
