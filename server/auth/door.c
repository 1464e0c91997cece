/* SPDX-License-Identifier: MIT */
#include "auth/door.h"

#include "base/text.h"
#include <pthread.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "auth/tries.h"
#include "base/banned.h"

#define KNOWN       1024  /* identities kept at hand */
#define KNOWN_MS    30000 /* and for how long, so that an expiry is seen in time */
#define SEEN_MS     60000 /* a session's last use is written at most this often */
#define COOKIE_TLS  "__Host-clumpwise"
#define COOKIE_BARE "clumpwise"

typedef struct known {
    char digest[65];
    bool session;
    cw_identity who;
    int64_t at, seen_at; /* ticks */
} known;

struct cw_door {
    pthread_mutex_t lock;
    cw_nursery *look;
    bool no_accounts;
    known *known;
    cw_tries tries;
};

/* For auth/tries.c, which counts under the door's lock. */
cw_tries *cw_door_tries_lock(cw_door *d)
{
    pthread_mutex_lock(&d->lock);
    return &d->tries;
}

void cw_door_tries_unlock(cw_door *d)
{
    pthread_mutex_unlock(&d->lock);
}

static cw_code refresh_accounts(cw_door *d, cw_error *err)
{
    bool any = true;
    cw_code code = cw_accounts_any(d->look, &any, err);
    if (code == CW_OK)
        d->no_accounts = !any;
    return code;
}

cw_code cw_door_open(const char *path, cw_door **out, cw_error *err)
{
    cw_door *d = calloc(1, sizeof *d);
    *out = NULL;
    if (d == NULL)
        return cw_error_memory(err);
    pthread_mutex_init(&d->lock, NULL);
    cw_tries_init(&d->tries);
    d->known = calloc(KNOWN, sizeof *d->known);
    cw_code code = d->known ? CW_OK : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_nursery_open(path, CW_LOOK, NULL, &d->look, err);
    if (code == CW_OK)
        code = refresh_accounts(d, err);
    if (code != CW_OK) {
        cw_door_close(d);
        return code;
    }
    *out = d;
    return CW_OK;
}

void cw_door_close(cw_door *d)
{
    if (d == NULL)
        return;
    cw_nursery_close(d->look);
    pthread_mutex_destroy(&d->lock);
    free(d->known);
    free(d);
}

bool cw_door_no_accounts(cw_door *d)
{
    pthread_mutex_lock(&d->lock);
    bool none = d->no_accounts;
    pthread_mutex_unlock(&d->lock);
    return none;
}

void cw_door_changed(cw_door *d)
{
    cw_error ignored = CW_ERROR_NONE;
    pthread_mutex_lock(&d->lock);
    memset(d->known, 0, KNOWN * sizeof *d->known);
    /* If it cannot be read now, accounts stay as strict as they were: closed doors stay closed. */
    if (d->no_accounts && refresh_accounts(d, &ignored) != CW_OK)
        d->no_accounts = false;
    pthread_mutex_unlock(&d->lock);
}

/* The value of a cookie, copied; false if it is not there or has not a token's length. */
static bool cookie_value(const char *cookies, const char *name, char out[CW_TOKEN_TEXT])
{
    size_t n = strlen(name);
    for (const char *at = cookies; at; at = strchr(at, ';')) {
        at += *at == ';';
        at += strspn(at, " \t");
        if (strncmp(at, name, n) == 0 && at[n] == '=') {
            size_t length = strcspn(at + n + 1, "; \t");
            if (length != CW_TOKEN_TEXT - 1)
                return false;
            memcpy(out, at + n + 1, length);
            out[length] = '\0';
            return true;
        }
    }
    return false;
}

static bool bearer_value(const char *authorization, char out[CW_TOKEN_TEXT])
{
    if (strncasecmp(authorization, "Bearer ", 7) != 0 || strlen(authorization + 7) != CW_TOKEN_TEXT - 1)
        return false;
    cw_copy(out, CW_TOKEN_TEXT, authorization + 7);
    return true;
}

/* The identity of a digest, from what is at hand or from the file. Called with the lock held. */
static cw_code identity_of(cw_door *d, const char *digest, bool session, cw_instant now, int64_t ticks,
                           known **out, cw_error *err)
{
    unsigned slot = 0;
    bool found = false;
    for (int i = 0; i < 4; i++)
        slot = slot * 131 + (unsigned char)digest[i * 3];
    known *k = &d->known[slot % KNOWN];
    *out = k;
    if (k->session == session && strcmp(k->digest, digest) == 0 && ticks - k->at < KNOWN_MS &&
        (k->who.until == CW_NO_INSTANT || now < k->who.until))
        return CW_OK;
    int64_t seen_at = strcmp(k->digest, digest) == 0 ? k->seen_at : 0;
    cw_code code = session ? cw_accounts_session(d->look, digest, now, &found, &k->who, err)
                           : cw_accounts_key(d->look, digest, now, &found, &k->who, err);
    if (code != CW_OK || !found) {
        memset(k, 0, sizeof *k);
        return code;
    }
    cw_copy(k->digest, sizeof k->digest, digest);
    k->session = session;
    k->at = ticks;
    k->seen_at = seen_at;
    return CW_OK;
}

static bool same_secret(const char *a, const char *b)
{
    size_t n = strlen(a);
    return n > 0 && strlen(b) == n && sodium_memcmp(a, b, n) == 0;
}

/* Does the request come from our own page? Browsers say so in Sec-Fetch-Site or Origin. A request without either is from a program or
 * an old browser, and the token decides. */
static bool own_page(const cw_visit *v)
{
    char own[300];
    if (v->fetch_site && strcmp(v->fetch_site, "same-origin") != 0 && strcmp(v->fetch_site, "none") != 0)
        return false;
    if (v->origin == NULL)
        return true;
    snprintf(own, sizeof own, "%s://%s", v->tls ? "https" : "http", v->host ? v->host : "");
    return strcasecmp(own, v->origin) == 0;
}

static cw_code by_session(cw_door *d, const cw_visit *v, const char *token, cw_instant now, int64_t ticks,
                          cw_identity *who, char digest[65], bool *stale, cw_error *err)
{
    known *k = NULL;
    cw_accounts_digest(token, digest);
    pthread_mutex_lock(&d->lock);
    cw_code code = identity_of(d, digest, true, now, ticks, &k, err);
    if (code == CW_OK)
        *who = k->who;
    if (code == CW_OK && who->role != CW_ROLE_NONE && ticks - k->seen_at > SEEN_MS) {
        k->seen_at = ticks;
        *stale = true;
    }
    pthread_mutex_unlock(&d->lock);
    if (code == CW_OK && who->role == CW_ROLE_NONE)
        digest[0] = '\0';
    else if (code == CW_OK && v->writes && !same_secret(who->csrf, v->csrf ? v->csrf : ""))
        code =
            cw_error_set(err, CW_FORBIDDEN,
                         "the page is out of date (its X-CSRF-Token is not this session's); load it again");
    return code;
}

cw_code cw_door_ask(cw_door *d, const cw_visit *v, cw_instant now, int64_t ticks, cw_identity *who,
                    char digest[65], bool *stale, cw_error *err)
{
    char token[CW_TOKEN_TEXT];
    *who = (cw_identity){ .role = CW_ROLE_NONE, .until = CW_NO_INSTANT };
    *stale = false;
    digest[0] = '\0';
    if (v->writes && !own_page(v))
        return cw_error_set(err, CW_FORBIDDEN, "another site's page may not write here");
    if (v->authorization) {
        known *k = NULL;
        char key_digest[65];
        if (!bearer_value(v->authorization, token))
            return CW_OK;
        cw_accounts_digest(token, key_digest);
        pthread_mutex_lock(&d->lock);
        cw_code code = identity_of(d, key_digest, false, now, ticks, &k, err);
        if (code == CW_OK)
            *who = k->who;
        pthread_mutex_unlock(&d->lock);
        return code;
    }
    if (v->cookie && cookie_value(v->cookie, v->tls ? COOKIE_TLS : COOKIE_BARE, token))
        return by_session(d, v, token, now, ticks, who, digest, stale, err);
    if (cw_door_no_accounts(d)) {
        who->role = CW_ROLE_OWNER;
        cw_copy(who->name, sizeof who->name, "local");
    }
    return CW_OK;
}

void cw_door_cookie(bool tls, const char *token, char *out, size_t size)
{
    snprintf(out, size, "%s=%s; Path=/; HttpOnly; SameSite=Strict%s%s", tls ? COOKIE_TLS : COOKIE_BARE,
             token ? token : "", tls ? "; Secure" : "", token ? "" : "; Max-Age=0");
}
