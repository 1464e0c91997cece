/* SPDX-License-Identifier: MIT */
#include "auth/door.h"
#include "must.h"

#include "base/text.h"
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* Any bytes as the headers by which a client says who it is, a line each: a letter and its value (c cookie, a Authorization,
 * x CSRF token, o Origin, f Sec-Fetch-Site, h Host, w writes, t over TLS). A byte 1, 2 or 3 in a value stands for the true
 * session's token, the true key and the true CSRF token. No crash, and nobody is let in without the true token in its place. */

static cw_door *door;
static char token[CW_TOKEN_TEXT], key[CW_TOKEN_TEXT], csrf[CW_TOKEN_TEXT];

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    static char folder[] = "/tmp/cw-fuzz-XXXXXX";
    char file[64];
    cw_error err = CW_ERROR_NONE;
    cw_season season = {
        .season = 2031, .ship = cw_day_from_ymd(2032, 4, 19), .currency = "USD", .timezone = "UTC"
    };
    cw_asker who = { .actor = "fuzz", .role = CW_ROLE_OWNER, .today = cw_day_from_ymd(2032, 2, 1) };
    cw_nursery *n = NULL;
    cw_identity marta = { 0 };
    (void)argc;
    (void)argv;
    who.now = who.today * CW_DAY_MS;
    must(mkdtemp(folder) != NULL);
    snprintf(file, sizeof file, "%s/n.db", folder);
    must(cw_nursery_new(file, &season, &who, &n, &err) == CW_OK);
    must(cw_accounts_add(n, &who, "Marta", CW_ROLE_OWNER, "correct horse staple", &err) == CW_OK);
    must(cw_accounts_verify(n, "Marta", "correct horse staple", &marta, &err) == CW_OK);
    must(cw_accounts_open(n, &who, &marta, NULL, token, &err) == CW_OK);
    cw_copy(csrf, sizeof csrf, marta.csrf);
    must(cw_accounts_key_add(n, &who, "till", CW_ROLE_SHOP, CW_NO_DAY, key, &err) == CW_OK);
    cw_nursery_close(n);
    must(cw_door_open(file, &door, &err) == CW_OK);
    /* Open files outlive their names. */
    static const char *const ends[] = { "", "-wal", "-shm", ".lock" };
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(file, sizeof file, "%s/n.db%s", folder, ends[i]);
        unlink(file);
    }
    rmdir(folder);
    return 0;
}

/* Cuts the next line out, with the true tokens put in; to be freed. */
static char *next_line(const char **at, const char *end)
{
    cw_text line = CW_TEXT((size_t)1 << 20);
    for (; *at < end && **at != '\n'; ++*at) {
        if (**at >= 1 && **at <= 3)
            cw_text_add(&line, **at == 1 ? token : **at == 2 ? key : csrf);
        else if (**at != '\0')
            cw_text_addc(&line, **at);
    }
    *at += *at < end;
    must(!line.failed);
    return line.data;
}

static void put(cw_visit *v, const char *line)
{
    switch (line[0]) {
    case 'c':
        v->cookie = line + 1;
        break;
    case 'a':
        v->authorization = line + 1;
        break;
    case 'x':
        v->csrf = line + 1;
        break;
    case 'o':
        v->origin = line + 1;
        break;
    case 'f':
        v->fetch_site = line + 1;
        break;
    case 'h':
        v->host = line + 1;
        break;
    case 'w':
        v->writes = true;
        break;
    case 't':
        v->tls = true;
        break;
    default:
        break;
    }
}

static void ask(const cw_visit *v)
{
    cw_identity who;
    cw_error err = CW_ERROR_NONE;
    char digest[65];
    bool stale = false;
    cw_code code =
        cw_door_ask(door, v, cw_day_from_ymd(2032, 2, 1) * CW_DAY_MS, 1, &who, digest, &stale, &err);
    must(code == CW_OK || (code == CW_FORBIDDEN && err.text[0]));
    if (code != CW_OK || who.role == CW_ROLE_NONE)
        return;
    if (v->authorization) {
        must(who.role == CW_ROLE_SHOP && strncasecmp(v->authorization, "Bearer ", 7) == 0);
        must(strcmp(v->authorization + 7, key) == 0 && digest[0] == '\0');
        return;
    }
    must(who.role == CW_ROLE_OWNER && v->cookie && strstr(v->cookie, token) && strlen(digest) == 64);
    must(strstr(v->cookie, v->tls ? "__Host-clumpwise=" : "clumpwise=") != NULL);
    if (v->writes) {
        must(v->csrf && strcmp(v->csrf, csrf) == 0);
        must(v->fetch_site == NULL || strcmp(v->fetch_site, "same-origin") == 0 ||
             strcmp(v->fetch_site, "none") == 0);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    const char *at = (const char *)bytes, *end = at + n;
    char *lines[16] = { NULL };
    cw_visit v = { 0 };
    for (size_t i = 0; i < 16 && at < end; i++) {
        lines[i] = next_line(&at, end);
        if (lines[i])
            put(&v, lines[i]);
    }
    ask(&v);
    for (size_t i = 0; i < 16; i++)
        free(lines[i]);
    return 0;
}
