/* SPDX-License-Identifier: MIT */
#include "desk/people/factor.h"

#include "base/text.h"
#include "desk/people/factor_inside.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"
#include "store/factor.h"
#include "store/people.h"
#include <ctype.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

#define RECOVERY_BYTES   10
#define RECOVERY_LETTERS (CW_BASE32_TEXT(RECOVERY_BYTES) - 1)
#define SALT_BYTES       (CW_FACTOR_SALT / 2)
#define SHOWN_NAME       61 /* of the name shown on the telephone: a QR code holds only so much */

_Static_assert(SALT_BYTES >= crypto_generichash_KEYBYTES_MIN, "a salt is the key of the digest");
_Static_assert(CW_FACTOR_DIGEST == 2 * crypto_generichash_BYTES, "a digest is told in hexadecimal");

/* The person who asks. */
static cw_code own(cw_nursery *n, const cw_asker *who, cw_person_row *out, cw_error *err)
{
    bool found = false;
    cw_code code = who->program ? CW_OK : cw_people_find(n->db, who->actor, &found, out, err);
    sodium_memzero(out->password, sizeof out->password);
    if (code == CW_OK && !found)
        code = cw_error_set(err, CW_FORBIDDEN, "only a person who signs in has a second factor");
    return code;
}

cw_code cw_factor_look(cw_nursery *n, const cw_asker *who, cw_factor_state *out, cw_error *err)
{
    cw_person_row person = { 0 };
    cw_factor_row row = { .on_at = CW_NO_INSTANT };
    bool found = false;
    *out = (cw_factor_state){ .on_at = CW_NO_INSTANT };
    cw_code code = who->program ? CW_OK : cw_people_find(n->db, who->actor, &out->person, &person, err);
    sodium_memzero(person.password, sizeof person.password);
    if (code == CW_OK && out->person)
        code = cw_factor_row_find(n->db, person.id, &found, &row, err);
    sodium_memzero(row.secret, sizeof row.secret);
    if (code != CW_OK || row.on_at == CW_NO_INSTANT)
        return code;
    out->on = true;
    out->on_at = row.on_at;
    return cw_recovery_count(n->db, person.id, &out->left, err);
}

/* What stands in a URI as itself (RFC 3986, 2.3), the rest by its bytes. */
static void add_encoded(cw_text *out, const char *s)
{
    for (; *s; s++)
        if (isalnum((unsigned char)*s) || strchr("-._~", *s))
            cw_text_addc(out, *s);
        else
            cw_text_addf(out, "%%%02X", (unsigned)(unsigned char)*s);
}

/* otpauth://totp/ISSUER:ACCOUNT?secret=..., as authenticator apps read it ("Key URI format"). A name may hold no colon there. */
static cw_code write_uri(const char *name, cw_factor_secret *out, cw_error *err)
{
    char shown[SHOWN_NAME];
    cw_text label = CW_TEXT(CW_FACTOR_URI_TEXT);
    cw_copy(shown, sizeof shown, name);
    for (char *c = shown; *c; c++)
        if (*c == ':')
            *c = '.';
    add_encoded(&label, shown);
    cw_code code = cw_text_check(&label, err);
    if (code == CW_OK)
        snprintf(out->uri, sizeof out->uri,
                 "otpauth://totp/Clumpwise:%s?secret=%s&issuer=Clumpwise&algorithm=SHA1&digits=%d&period=%d",
                 label.data ? label.data : "", out->letters, CW_TOTP_DIGITS, CW_TOTP_STEP_S);
    cw_text_free(&label);
    return code;
}

static cw_code begin(cw_nursery *n, const cw_asker *who, const char *secret, cw_error *err)
{
    cw_person_row person = { 0 };
    bool done = false;
    cw_code code = own(n, who, &person, err);
    if (code == CW_OK)
        code = cw_factor_row_begin(n->db, person.id, secret, who->now, &done, err);
    if (code == CW_OK && !done)
        code = cw_error_set(err, CW_CONFLICT, "your second factor is on already; turn it off first");
    return code;
}

cw_code cw_factor_begin(cw_nursery *n, const cw_asker *who, cw_factor_secret *out, cw_error *err)
{
    unsigned char bytes[CW_TOTP_SECRET];
    char hex[CW_FACTOR_SECRET + 1];
    if (sodium_init() < 0)
        return cw_error_set(err, CW_MACHINE, "the machine gives no random numbers");
    randombytes_buf(bytes, sizeof bytes);
    sodium_bin2hex(hex, sizeof hex, bytes, sizeof bytes);
    cw_code code =
        cw_base32(bytes, sizeof bytes, out->letters) ? write_uri(who->actor, out, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code == CW_OK)
        code = cw_work_end(n, begin(n, who, hex, err), err);
    sodium_memzero(bytes, sizeof bytes);
    sodium_memzero(hex, sizeof hex);
    return code;
}

/* Without blanks and hyphens, in capitals; empty when it cannot be a code. */
static void plain_code(const char *typed, char out[RECOVERY_LETTERS + 1])
{
    size_t n = 0;
    for (; *typed; typed++) {
        if (*typed == ' ' || *typed == '-')
            continue;
        if (n == RECOVERY_LETTERS) {
            n = 0;
            break;
        }
        out[n++] = (char)toupper((unsigned char)*typed);
    }
    out[n] = '\0';
}

static cw_code wrong_code(cw_error *err)
{
    return cw_error_at(err, CW_FORBIDDEN, NULL, 0, "code", "is not right, or was used before");
}

static cw_code take_one_time(cw_nursery *n, const cw_asker *who, int64_t person, const cw_factor_row *row,
                             const char *plain, cw_error *err)
{
    unsigned char secret[CW_TOTP_SECRET];
    size_t length = 0;
    bool first = false;
    int64_t step = CW_TOTP_NONE;
    if (sodium_hex2bin(secret, sizeof secret, row->secret, strlen(row->secret), NULL, &length, NULL) == 0 &&
        length == sizeof secret)
        step = cw_totp_match(secret, who->clock, row->last_step, plain);
    sodium_memzero(secret, sizeof secret);
    cw_code code = step == CW_TOTP_NONE ? CW_OK : cw_factor_row_took(n->db, person, step, &first, err);
    return code == CW_OK && !first ? wrong_code(err) : code;
}

static void recovery_digest(const char *plain, const char *salt, char digest[CW_FACTOR_DIGEST + 1])
{
    unsigned char key[SALT_BYTES] = { 0 }, bytes[crypto_generichash_BYTES];
    sodium_hex2bin(key, sizeof key, salt, strlen(salt), NULL, NULL, NULL);
    crypto_generichash(bytes, sizeof bytes, (const unsigned char *)plain, strlen(plain), key, sizeof key);
    sodium_bin2hex(digest, CW_FACTOR_DIGEST + 1, bytes, sizeof bytes);
}

typedef struct search {
    const char *plain;
    char found[CW_FACTOR_DIGEST + 1]; /* empty: none */
} search;

static void look_at(void *context, const char *salt, const char *digest)
{
    search *s = context;
    char own_digest[CW_FACTOR_DIGEST + 1];
    recovery_digest(s->plain, salt, own_digest);
    if (strlen(digest) == CW_FACTOR_DIGEST && sodium_memcmp(own_digest, digest, CW_FACTOR_DIGEST) == 0)
        cw_copy(s->found, sizeof s->found, digest);
}

static cw_code take_recovery(cw_nursery *n, const cw_asker *who, int64_t person, const char *name,
                             const char *plain, cw_error *err)
{
    search s = { plain, "" };
    int64_t left = 0;
    char after[40];
    cw_code code = cw_recovery_each(n->db, person, look_at, &s, err);
    if (code == CW_OK && s.found[0] == '\0')
        return wrong_code(err);
    if (code == CW_OK)
        code = cw_recovery_take(n->db, person, s.found, err);
    if (code == CW_OK)
        code = cw_recovery_count(n->db, person, &left, err);
    snprintf(after, sizeof after, "%lld left", (long long)left);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, name, "use recovery code", name, NULL, after, err);
    return code;
}

static cw_code take_code(cw_nursery *n, const cw_asker *who, int64_t person, const char *name,
                         const cw_factor_row *row, const char *typed, cw_error *err)
{
    char plain[RECOVERY_LETTERS + 1] = "";
    plain_code(typed, plain);
    cw_code code = strlen(plain) == RECOVERY_LETTERS ? take_recovery(n, who, person, name, plain, err)
                                                     : take_one_time(n, who, person, row, plain, err);
    sodium_memzero(plain, sizeof plain);
    return code;
}

cw_code cw_factor_pass(cw_nursery *n, const cw_asker *who, int64_t person, const char *name,
                       const char *typed, cw_error *err)
{
    cw_factor_row row = { .on_at = CW_NO_INSTANT };
    bool found = false;
    cw_code code = cw_factor_row_find(n->db, person, &found, &row, err);
    if (code == CW_OK && row.on_at != CW_NO_INSTANT)
        code = typed ? take_code(n, who, person, name, &row, typed, err) : wrong_code(err);
    sodium_memzero(row.secret, sizeof row.secret);
    return code;
}

/* Makes the recovery codes; the file keeps only their digests. */
static cw_code write_codes(cw_nursery *n, int64_t person, cw_factor_codes *out, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; i < CW_FACTOR_CODES && code == CW_OK; i++) {
        unsigned char bytes[RECOVERY_BYTES], salt_bytes[SALT_BYTES];
        char plain[RECOVERY_LETTERS + 1], salt[CW_FACTOR_SALT + 1], digest[CW_FACTOR_DIGEST + 1];
        randombytes_buf(bytes, sizeof bytes);
        randombytes_buf(salt_bytes, sizeof salt_bytes);
        sodium_bin2hex(salt, sizeof salt, salt_bytes, sizeof salt_bytes);
        if (cw_base32(bytes, sizeof bytes, plain)) {
            recovery_digest(plain, salt, digest);
            snprintf(out->code[i], CW_FACTOR_CODE_TEXT, "%.4s-%.4s-%.4s-%.4s", plain, plain + 4, plain + 8,
                     plain + 12);
            code = cw_recovery_add(n->db, person, salt, digest, err);
        } else {
            code = cw_error_memory(err);
        }
        sodium_memzero(bytes, sizeof bytes);
        sodium_memzero(plain, sizeof plain);
    }
    return code;
}

static cw_code turn_on(cw_nursery *n, const cw_asker *who, const char *typed, const char *digest,
                       cw_factor_codes *out, cw_error *err)
{
    cw_person_row person = { 0 };
    cw_factor_row row = { .on_at = CW_NO_INSTANT };
    bool found = false;
    int64_t ended = 0;
    cw_code code = own(n, who, &person, err);
    if (code == CW_OK)
        code = cw_factor_row_find(n->db, person.id, &found, &row, err);
    if (code == CW_OK && row.on_at != CW_NO_INSTANT)
        code = cw_error_set(err, CW_CONFLICT, "your second factor is on already");
    if (code == CW_OK && !found)
        code = cw_error_set(err, CW_CONFLICT, "begin first: the telephone needs a secret");
    if (code == CW_OK)
        code = take_code(n, who, person.id, person.name, &row, typed, err);
    sodium_memzero(row.secret, sizeof row.secret);
    if (code == CW_OK)
        code = cw_factor_row_turn_on(n->db, person.id, who->now, err);
    if (code == CW_OK)
        code = write_codes(n, person.id, out, err);
    if (code == CW_OK)
        code = cw_session_end_others(n->db, person.name, digest, &ended, err);
    if (code == CW_OK)
        code =
            cw_audit_add(n->db, who->now, who->actor, "turn on second factor", person.name, NULL, NULL, err);
    return code;
}

cw_code cw_factor_turn_on(cw_nursery *n, const cw_asker *who, const char *typed, const char *digest,
                          cw_factor_codes *out, cw_error *err)
{
    cw_code code = sodium_init() < 0 ? cw_error_set(err, CW_MACHINE, "the machine gives no random numbers")
                                     : cw_work_begin_after(n, err);
    if (code == CW_OK)
        code = cw_work_end(n, turn_on(n, who, typed, digest, out, err), err);
    if (code != CW_OK)
        sodium_memzero(out, sizeof *out);
    return code;
}

static cw_code turn_off(cw_nursery *n, const cw_asker *who, const char *typed, cw_error *err)
{
    cw_person_row person = { 0 };
    cw_code code = own(n, who, &person, err);
    if (code == CW_OK && !person.factor)
        code = cw_error_set(err, CW_CONFLICT, "your second factor is not on");
    if (code == CW_OK)
        code = cw_factor_pass(n, who, person.id, person.name, typed, err);
    if (code == CW_OK)
        code = cw_factor_row_drop(n->db, person.id, err);
    if (code == CW_OK)
        code =
            cw_audit_add(n->db, who->now, who->actor, "turn off second factor", person.name, NULL, NULL, err);
    return code;
}

cw_code cw_factor_turn_off(cw_nursery *n, const cw_asker *who, const char *typed, cw_error *err)
{
    cw_code code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, turn_off(n, who, typed, err), err) : code;
}

static cw_code clear(cw_nursery *n, const cw_asker *who, const char *name, cw_error *err)
{
    cw_person_row person = { 0 };
    bool found = false;
    char shown[80];
    cw_code code = cw_people_find(n->db, name, &found, &person, err);
    sodium_memzero(person.password, sizeof person.password);
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "name", "nobody here has this name: %s",
                           cw_shown(name, strlen(name), shown));
    if (code == CW_OK && !person.factor)
        code = cw_error_set(err, CW_CONFLICT, "%s has no second factor that is on", person.name);
    if (code == CW_OK)
        code = cw_factor_row_drop(n->db, person.id, err);
    if (code == CW_OK)
        code = cw_session_end_all(n->db, name, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "clear second factor", name, NULL, NULL, err);
    return code;
}

cw_code cw_factor_clear(cw_nursery *n, const cw_asker *who, const char *name, cw_error *err)
{
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, clear(n, who, name, err), err) : code;
}
