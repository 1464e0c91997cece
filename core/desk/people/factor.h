/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_FACTOR_H
#define CW_DESK_FACTOR_H

#include "base/totp.h"
#include "desk/nursery/nursery.h"

/* How does a person sign in with a one-time code beside the password? A second factor, for whoever wants one: beside the
 * password a one-time code (base/totp) is asked at sign-in. A person begins (gets a secret for the telephone), turns it on
 * with a first code (gets recovery codes), and turns it off with a code. An owner clears another's when the telephone is lost.
 * The caller has asked for the password where it has to be asked.
 *
 * Codes need the secret itself, so it stands in the file as it is. A recovery code is 80 random bits, kept as a BLAKE2b digest
 * under a salt of its own, and good once, in the place of any one-time code. */
#define CW_FACTOR_CODES 10
#define CW_FACTOR_CODE_TEXT                                                                                  \
    20 /* "ABCD-EFGH-IJKL-MNOP" and the NUL; read without regard to case, blanks and hyphens */
#define CW_FACTOR_URI_TEXT 360
#define CW_FACTOR_TYPED    40 /* bytes that a typed code may have */

typedef struct cw_factor_state {
    bool person; /* false: a key, or nobody has to sign in */
    bool on;
    cw_instant on_at; /* CW_NO_INSTANT unless on */
    int64_t left;     /* recovery codes */
} cw_factor_state;

/* For the telephone, as letters and as the otpauth URI that its camera reads. Wipe it after use. */
typedef struct cw_factor_secret {
    char letters[CW_BASE32_TEXT(CW_TOTP_SECRET)];
    char uri[CW_FACTOR_URI_TEXT];
} cw_factor_secret;

typedef struct cw_factor_codes {
    char code[CW_FACTOR_CODES][CW_FACTOR_CODE_TEXT];
} cw_factor_codes;

/* The asker's own. */
cw_code cw_factor_look(cw_nursery *n, const cw_asker *who, cw_factor_state *out, cw_error *err) CW_MUST_CHECK;

/* A new secret in the place of one that was begun; CW_CONFLICT if one is on, CW_FORBIDDEN for who is no person. */
cw_code cw_factor_begin(cw_nursery *n, const cw_asker *who, cw_factor_secret *out,
                        cw_error *err) CW_MUST_CHECK;

/* With a one-time code of the begun secret. All sessions of the asker end but the one whose digest is given: they were opened
 * by the password alone. CW_FORBIDDEN if the code is wrong, CW_CONFLICT if nothing was begun. */
cw_code cw_factor_turn_on(cw_nursery *n, const cw_asker *who, const char *typed, const char *digest,
                          cw_factor_codes *out, cw_error *err) CW_MUST_CHECK;

/* With a one-time or a recovery code. */
cw_code cw_factor_turn_off(cw_nursery *n, const cw_asker *who, const char *typed,
                           cw_error *err) CW_MUST_CHECK;

/* The owner turns off the factor of somebody who lost the telephone. They are signed out everywhere, since the telephone may be
 * signed in. CW_CONFLICT if none is on. */
cw_code cw_factor_clear(cw_nursery *n, const cw_asker *who, const char *name, cw_error *err) CW_MUST_CHECK;

#endif
