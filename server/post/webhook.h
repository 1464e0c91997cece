/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_WEBHOOK_H
#define CW_SERVER_WEBHOOK_H

#include "base/go_on.h"
#include "desk/post/hook.h"
#include "post/smtp.h"

/* Hands one message to a shop's address by HTTPS and tells what became of it, with the shop's own words.
 *
 * Signed as Standard Webhooks 1.0 says: webhook-signature is "v1," and the base64 of HMAC-SHA-256 (RFC 2104) with the secret's bytes over
 * "id.seconds.body". The certificate is verified by what the machine trusts; nobody is redirected, and no proxy stands between. */
typedef struct cw_hook_carried {
    cw_carried how;
    bool gone; /* 410: never again to this address */
    cw_carry_words said;
} cw_hook_carried;

/* `patience_ms` for the whole of it; 0: ten seconds. */
cw_hook_carried cw_webhook_carry(const cw_hook_message *m, long patience_ms, cw_go_on go_on);

/* The signature's header value. false: the secret is no "whsec_" and base64. */
bool cw_webhook_sign(const char *secret, const char *id, long long seconds, const char *body, size_t n,
                     char out[64]);

#endif
