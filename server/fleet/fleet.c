/* SPDX-License-Identifier: MIT */
#include "fleet/fleet.h"

#include <errno.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "base/text.h"
#include "clock.h"
#include "fleet/fleet_inside.h"

#include "base/banned.h"

/* The parent has one thread, so that a process may be begun from it at any time, and reads nothing of what it hands on. */
#define SCAN_MS 1000
#define TICK_MS 50   /* while somebody waits */
#define STOP_MS 4700 /* then those that have not stopped are ended: what they answered is on the disk */
#define EVENTS  64

void cw_fleet_say(const cw_fleet *f, const char *host, const char *line)
{
    char all[CW_FLEET_WORDS + CW_CALLED_NAME + 4];
    if (f->how->say == NULL)
        return;
    snprintf(all, sizeof all, "%s%s%.599s", host ? host : "", host ? ": " : "", line);
    f->how->say(all);
}

static cw_code check(cw_fleet *f, cw_error *err)
{
    const cw_serve *how = f->how;
    if ((how->cert == NULL) != (how->key == NULL))
        return cw_error_set(err, CW_USAGE, "--cert and --key are given together or not at all");
    for (int i = 0; i < 2 && how->cert; i++)
        if (access(i ? how->key : how->cert, R_OK) != 0)
            return cw_error_at(err, CW_REFUSED, i ? how->key : how->cert, 0, NULL,
                               "cannot be read as a PEM file");
    if (how->trusted_proxy && !cw_address_read(how->trusted_proxy, f->proxy))
        return cw_error_set(err, CW_USAGE, "--trusted-proxy takes an address such as 127.0.0.1, not '%.80s'",
                            how->trusted_proxy);
    return CW_OK;
}

static bool watch(const cw_fleet *f, int fd, void *what)
{
    struct epoll_event event = { .events = EPOLLIN, .data.ptr = what };
    return epoll_ctl(f->poll, EPOLL_CTL_ADD, fd, &event) == 0;
}

static cw_code open_all(cw_fleet *f, cw_error *err)
{
    sigset_t set;
    cw_code code = check(f, err);
    if (code == CW_OK)
        code = cw_listen_open(f->how, &f->at, err);
    if (code == CW_OK)
        code = cw_listen_check(f->how, f->at.loopback, err);
    if (code != CW_OK)
        return code;
    sigemptyset(&set);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGCHLD);
    sigprocmask(SIG_BLOCK, &set, NULL);
    f->signals = signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
    f->poll = epoll_create1(EPOLL_CLOEXEC);
    f->turns = cw_turns_share();
    if (f->turns == NULL)
        return cw_error_memory(err);
    if (f->signals < 0 || f->poll < 0 || !watch(f, f->signals, &f->signals) || !watch(f, f->at.fd, &f->at))
        return cw_error_set(err, CW_MACHINE, "the fleet cannot start: %s", strerror(errno));
    return CW_OK;
}

/* True: to be stopped. */
static bool take_signals(cw_fleet *f)
{
    struct signalfd_siginfo got;
    bool stop = false;
    while (read(f->signals, &got, sizeof got) == (ssize_t)sizeof got)
        stop = stop || got.ssi_signo != SIGCHLD;
    cw_members_reap(f);
    return stop;
}

/* Callers first: what comes after may let one of them go. True: to be stopped. */
static bool take_events(cw_fleet *f, const struct epoll_event *event, int n)
{
    bool stop = false;
    for (int i = 0; i < n; i++) {
        void *p = event[i].data.ptr;
        bool member = p >= (void *)f->member && p < (void *)(f->member + CW_FLEET_MOST);
        if (p != &f->signals && p != &f->at && !member)
            cw_callers_look(f, p);
    }
    for (int i = 0; i < n; i++) {
        void *p = event[i].data.ptr;
        if (p == &f->signals)
            stop = take_signals(f);
        else if (p == &f->at)
            cw_callers_accept(f);
        else if (p >= (void *)f->member && p < (void *)(f->member + CW_FLEET_MOST))
            cw_members_hear(f, p);
    }
    return stop;
}

/* True in the process of a nursery. */
static bool serve(cw_fleet *f, cw_code *code, cw_error *err)
{
    struct epoll_event event[EVENTS];
    int64_t scanned = cw_clock_ticks();
    for (bool stop = false; !stop;) {
        if (cw_members_tend(f, code, err))
            return true;
        int n = epoll_wait(f->poll, event, EVENTS, f->callers ? TICK_MS : SCAN_MS);
        stop = take_events(f, event, n);
        cw_callers_tick(f);
        if (cw_clock_ticks() - scanned >= SCAN_MS) {
            scanned = cw_clock_ticks();
            cw_members_scan(f);
        }
    }
    return false;
}

/* No member's line is looked at any more: ended() hears it by itself. */
static void stop_all(cw_fleet *f)
{
    int64_t until = cw_clock_ticks() + STOP_MS;
    bool patient = true;
    f->stopping = true;
    cw_callers_drop(f);
    close(f->at.fd);
    f->at.fd = -1;
    cw_members_stop(f, SIGTERM);
    while (cw_members_stop(f, 0) > 0) {
        usleep(5000);
        cw_members_reap(f);
        if (patient && cw_clock_ticks() > until) {
            patient = false;
            cw_members_stop(f, SIGKILL);
        }
    }
}

static void begin(cw_fleet *f)
{
    char line[200];
    cw_fleet_say(f, NULL, f->at.url);
    cw_members_scan(f);
    snprintf(line, sizeof line, "%zu %s in the folder, each by its own name; Ctrl-C stops them", f->members,
             f->members == 1 ? "nursery" : "nurseries");
    cw_fleet_say(f, NULL, line);
}

cw_code cw_fleet_serve(const cw_serve *how, bool *nursery, cw_error *err)
{
    *nursery = false;
    cw_fleet *f = calloc(1, sizeof *f);
    if (f == NULL)
        return cw_error_memory(err);
    f->how = how;
    f->poll = f->signals = f->at.fd = -1;
    cw_code code = open_all(f, err);
    if (code == CW_OK) {
        begin(f);
        *nursery = serve(f, &code, err);
        if (!*nursery)
            stop_all(f);
    }
    for (int i = 0; i < 3 && !*nursery; i++) { /* whose process has closed them already */
        int fd = i == 0 ? f->poll : i == 1 ? f->signals : f->at.fd;
        if (fd >= 0)
            close(fd);
    }
    free(f);
    return code;
}
