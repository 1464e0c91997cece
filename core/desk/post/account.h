/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ACCOUNT_H
#define CW_DESK_ACCOUNT_H

#include "base/limits.h"
#include "desk/nursery/nursery.h"

/* By which account do letters leave, where is a shop told, and where do the password and the secret lie?
 *
 * Beside the nursery file, in "<file>.secrets" (0600), never in it: so no export, no backup and no copy of the file holds it, and a
 * copy that somebody tries something on sends nothing. Run by systemd the file may be a credential instead, named
 * clumpwise.secrets: then it is changed there and not here. A line is "name = value"; what begins with # is passed over. */
#define CW_MAX_SECRET 512
typedef struct cw_mail_account {
    char server[CW_MAX_NAME +
                1];             /* smtps://mail.example.org:465, or smtp:// and STARTTLS; "": there is none */
    char user[CW_MAX_NAME + 1]; /* "": it asks for none */
    char password[CW_MAX_SECRET + 1];
    char authority[CW_MAX_NAME +
                   1]; /* file of certificates (PEM) to trust instead of the system's; "": those */
    int per_minute;    /* letters at most */
} cw_mail_account;
#define CW_PER_MINUTE 20

/* Where a shop is told, and by which secret it knows that it was us ("whsec_" and 32 random bytes in base64). */
#define CW_MAX_HOOK_SECRET 95
typedef struct cw_hook_account {
    char address[CW_MAX_NAME +
                 1]; /* https://shop.example.org/told; http on this machine itself only; "": there is none */
    char secret[CW_MAX_HOOK_SECRET + 1];
} cw_hook_account;

typedef struct cw_secrets {
    cw_mail_account mail;
    cw_hook_account hook;
    bool elsewhere; /* a credential: not to be changed from here */
} cw_secrets;

/* Without a file: nothing is set. CW_REFUSED when others may read it, or a line is none. */
cw_code cw_secrets_read(cw_nursery *n, cw_secrets *out, cw_error *err) CW_MUST_CHECK;
/* The last step of a work: the file changes when its transaction is committed, and stays as it was otherwise. */
cw_code cw_secrets_write(cw_nursery *n, const cw_secrets *s, cw_error *err) CW_MUST_CHECK;
void cw_secrets_wipe(cw_secrets *s);

/* Is "scheme://host[:port]" one of these schemes ("smtps|smtp"), and is the host this machine itself? Nothing else may stand in it;
 * a path only where `path` allows one. */
typedef struct cw_place {
    char scheme[8], host[CW_MAX_NAME + 1];
    int port; /* 0: the scheme's */
    bool loopback;
} cw_place;
bool cw_place_parse(const char *s, const char *schemes, bool path, cw_place *out);

#endif
