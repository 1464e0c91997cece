/* SPDX-License-Identifier: MIT */
#include <dirent.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/text.h"
#include "fleet/fleet_inside.h"

#include "base/banned.h"

#define MOST_PAST 40 /* closed seasons */

/* This process serves one nursery, so what it says begins with its name. */
static const cw_fleet *ours;
static const char *our_host;

static void say(const char *line)
{
    cw_fleet_say(ours, our_host, line);
}

static size_t past_seasons(const char *folder, char paths[MOST_PAST][1200], const char *out[MOST_PAST])
{
    size_t n = 0;
    DIR *d = opendir(folder);
    for (const struct dirent *e = d ? readdir(d) : NULL; e && n < MOST_PAST; e = readdir(d)) {
        size_t length = strlen(e->d_name);
        if (length < 4 || strcmp(e->d_name + length - 3, ".db") != 0)
            continue;
        snprintf(paths[n], sizeof paths[n], "%.900s/%.255s", folder, e->d_name);
        out[n] = paths[n];
        n++;
    }
    if (d)
        closedir(d);
    return n;
}

static void tell(const cw_fleet_one *m, const char *words)
{
    (void)!send(m->line, words, strlen(words), MSG_NOSIGNAL);
}

static cw_code run(const cw_serve *how, const cw_fleet_one *m, cw_error *err)
{
    sigset_t stop;
    int got = 0;
    cw_server *server = NULL;
    cw_code code = cw_server_start(how, &server, err);
    if (code != CW_OK)
        return code;
    tell(m, "+");
    sigemptyset(&stop);
    sigaddset(&stop, SIGINT);
    sigaddset(&stop, SIGTERM);
    sigwait(&stop, &got);
    cw_server_stop(server);
    return CW_OK;
}

cw_code cw_fleet_nursery(const cw_fleet *f, const cw_fleet_one *m, cw_error *err)
{
    char path[1200], folder[1200], words[CW_FLEET_WORDS];
    static char paths[MOST_PAST][1200];
    const char *past[MOST_PAST];
    cw_serve how = *f->how;
    snprintf(path, sizeof path, "%.900s/%s.db", f->how->path, m->host);
    snprintf(folder, sizeof folder, "%.900s/%s.past", f->how->path, m->host);
    ours = f;
    our_host = m->host;
    how.path = path;
    how.past = past;
    how.pasts = past_seasons(folder, paths, past);
    how.fleet_name = m->host;
    how.handed = m->line;
    how.turns = f->turns;
    how.say = say;
    cw_code code = run(&how, m, err);
    if (code != CW_OK) {
        cw_error_line(err, words, sizeof words);
        tell(m, words);
    }
    return code;
}
