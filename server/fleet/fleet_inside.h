/* SPDX-License-Identifier: MIT */
#ifndef CW_FLEET_INSIDE_H
#define CW_FLEET_INSIDE_H

/* Inside of fleet/: what its files share. */
#include "fleet/fleet.h"
#include "fleet/called.h"
#include "http/listen.h"
#include "http/turns.h"

#include <sys/stat.h>
#include <sys/types.h>

#define CW_FLEET_WORDS 600

/* One nursery of the folder. */
typedef struct cw_fleet_one {
    char host[CW_CALLED_NAME];
    pid_t pid;                /* 0: no process now */
    int line;                 /* to its process: connections go, "it is open" or why not comes; -1 */
    bool ready;               /* its process takes connections */
    bool there;               /* its file is in the folder */
    bool paused;              /* HOST.pause is, too */
    bool ending;              /* it was told to stop */
    int64_t since;            /* ticks: its process began, or was told to stop */
    int64_t next;             /* ticks: not started again before */
    int64_t wait;             /* ms before it is started once more, should it end soon again */
    char why[CW_FLEET_WORDS]; /* it could not be served, in its process's words; "" */
    struct timespec changed;  /* of the file or its log when that was said */
} cw_fleet_one;

/* A connection that nobody has yet. */
typedef struct cw_caller {
    struct cw_caller *next, *before;
    int fd;
    unsigned char address[16];
    int64_t since;    /* ticks */
    cw_fleet_one *to; /* told, and waits for its process; NULL */
} cw_caller;

typedef struct cw_fleet {
    const cw_serve *how;
    cw_listen at;
    int poll, signals;
    cw_turns *turns; /* at what costs much memory, of all nurseries together */
    unsigned char proxy[16];
    cw_fleet_one member[CW_FLEET_MOST];
    size_t members;
    cw_caller *first, *last; /* the newest, the oldest */
    unsigned callers;
    size_t starting;
    bool stopping;
    bool scanned, full_said;              /* what was said of the folder is not said each second */
    unsigned char bytes[CW_CALLED_BYTES]; /* looked at last; wiped after each look */
} cw_fleet;

void cw_fleet_say(const cw_fleet *f, const char *host, const char *line);
cw_fleet_one *cw_fleet_find(cw_fleet *f, const char *host);

/* callers.c */
void cw_callers_accept(cw_fleet *f);
void cw_callers_look(cw_fleet *f, cw_caller *c); /* something came, or it left */
void cw_callers_tick(cw_fleet *f);   /* those whose nursery is ready now, and those that took too long */
void cw_callers_drop(cw_fleet *f);   /* all of them */
void cw_callers_forget(cw_fleet *f); /* in a nursery's process: they are the parent's */

/* members.c */
void cw_members_scan(cw_fleet *f); /* what is in the folder now */
/* Starts who is to be served and is not, stops who is not to be; true in the process of a nursery, when it has ended. */
bool cw_members_tend(cw_fleet *f, cw_code *code, cw_error *err);
void cw_members_hear(cw_fleet *f, cw_fleet_one *m); /* its process said something */
void cw_members_reap(cw_fleet *f);                  /* processes that ended */
bool cw_members_wanted(const cw_fleet_one *m);      /* is, or will soon be, served */
size_t cw_members_stop(cw_fleet *f, int signal);    /* to all; how many there are */

/* nursery.c: the process of one; its whole life. */
cw_code cw_fleet_nursery(const cw_fleet *f, const cw_fleet_one *m, cw_error *err);

#endif
