/* SPDX-License-Identifier: MIT */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/text.h"
#include "clock.h"
#include "fleet/fleet_inside.h"

#include "base/banned.h"

/* Who is in the folder, and whose process runs. One that ends by itself is started again: at once if it had run for a while, else
 * after 1, 2, 4 … 60 s. One that could not open its file says why and tries as often, or as soon as the file changes. */
#define SOON_MS     10000
#define MOST_MS     60000
#define PATIENCE_MS 5000 /* of one that was told to stop */
#define AT_ONCE     4    /* may be starting: each reads its file, and plans */

cw_fleet_one *cw_fleet_find(cw_fleet *f, const char *host)
{
    for (size_t i = 0; i < f->members; i++)
        if (strcmp(f->member[i].host, host) == 0)
            return &f->member[i];
    return NULL;
}

bool cw_members_wanted(const cw_fleet_one *m)
{
    return m->there && !m->paused && !m->why[0];
}

/* "HOST.db" and "HOST.pause"; false for another name. */
static bool host_of(const char *file, const char *end, char host[CW_CALLED_NAME])
{
    size_t n = strlen(file), m = strlen(end);
    if (n <= m || n - m >= CW_CALLED_NAME || strcmp(file + n - m, end) != 0)
        return false;
    memcpy(host, file, n - m);
    host[n - m] = '\0';
    return true;
}

static void found(cw_fleet *f, const char *host)
{
    char line[400];
    cw_fleet_one *m = cw_fleet_find(f, host);
    if (m == NULL && !cw_called_is_name(host)) {
        snprintf(line, sizeof line,
                 "%.250s.db is not served: a file's name is the host name, in small letters", host);
        if (!f->scanned)
            cw_fleet_say(f, NULL, line);
        return;
    }
    if (m == NULL && f->members == CW_FLEET_MOST) {
        if (!f->full_said)
            cw_fleet_say(f, NULL, "there are more than 200 nurseries: those that came last are not served");
        f->full_said = true;
        return;
    }
    if (m == NULL) {
        m = &f->member[f->members++];
        *m = (cw_fleet_one){ .line = -1 };
        cw_copy(m->host, sizeof m->host, host);
    }
    m->there = true;
}

void cw_members_scan(cw_fleet *f)
{
    char host[CW_CALLED_NAME];
    DIR *folder = opendir(f->how->path);
    if (folder == NULL)
        return; /* not to be read now: who is served stays so */
    for (size_t i = 0; i < f->members; i++)
        f->member[i].there = f->member[i].paused = false;
    for (const struct dirent *e = readdir(folder); e; e = readdir(folder))
        if (host_of(e->d_name, ".db", host))
            found(f, host);
    rewinddir(folder);
    for (const struct dirent *e = readdir(folder); e; e = readdir(folder))
        if (host_of(e->d_name, ".pause", host) && cw_fleet_find(f, host))
            cw_fleet_find(f, host)->paused = true;
    closedir(folder);
    f->scanned = true;
}

/* When was the file, or its log, written last? */
static struct timespec changed(const cw_fleet *f, const cw_fleet_one *m)
{
    char path[1200];
    struct stat file = { 0 }, log = { 0 };
    snprintf(path, sizeof path, "%.900s/%s.db", f->how->path, m->host);
    if (stat(path, &file) != 0)
        return (struct timespec){ 0 };
    snprintf(path, sizeof path, "%.900s/%s.db-wal", f->how->path, m->host);
    if (stat(path, &log) == 0 && log.st_size > 0 &&
        (log.st_mtim.tv_sec > file.st_mtim.tv_sec ||
         (log.st_mtim.tv_sec == file.st_mtim.tv_sec && log.st_mtim.tv_nsec > file.st_mtim.tv_nsec)))
        return log.st_mtim;
    return file.st_mtim;
}

/* The process of one nursery keeps its line and nothing else of the parent's: not the address, not the other lines. */
static bool begin(cw_fleet *f, cw_fleet_one *m, cw_code *code, cw_error *err)
{
    int line[2];
    m->next = cw_clock_ticks() + m->wait;
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, line) != 0)
        return false;
    pid_t pid = fork();
    if (pid == 0) {
        m->line = line[1];
        if (line[1] > 3)
            close_range(3, (unsigned)line[1] - 1, 0);
        close_range((unsigned)line[1] + 1, ~0U, 0);
        cw_callers_forget(f);
        *code = cw_fleet_nursery(f, m, err);
        return true;
    }
    close(line[1]);
    struct epoll_event event = { .events = EPOLLIN, .data.ptr = m };
    if (pid < 0 || epoll_ctl(f->poll, EPOLL_CTL_ADD, line[0], &event) != 0) {
        close(line[0]); /* its process, if there is one, ends then */
        line[0] = -1;
    }
    m->line = line[0];
    m->pid = pid > 0 ? pid : 0;
    m->ready = m->ending = false;
    m->since = cw_clock_ticks();
    f->starting += m->pid > 0;
    return false;
}

static void end(cw_fleet_one *m, int64_t now)
{
    if (!m->ending)
        kill(m->pid, SIGTERM);
    else if (now - m->since > PATIENCE_MS)
        kill(m->pid, SIGKILL);
    m->since = m->ending ? m->since : now;
    m->ending = true;
}

bool cw_members_tend(cw_fleet *f, cw_code *code, cw_error *err)
{
    int64_t now = cw_clock_ticks();
    for (size_t i = 0; i < f->members; i++) {
        cw_fleet_one *m = &f->member[i];
        bool want = m->there && !m->paused;
        if (m->why[0] && !m->pid) {
            struct timespec t = changed(f, m);
            if (t.tv_sec != m->changed.tv_sec || t.tv_nsec != m->changed.tv_nsec)
                m->next = now;
        }
        if (m->pid && !want)
            end(m, now);
        else if (!m->pid && want && now >= m->next && f->starting < AT_ONCE && begin(f, m, code, err))
            return true;
        if (!want)
            m->why[0] = '\0';
    }
    return false;
}

void cw_members_hear(cw_fleet *f, cw_fleet_one *m)
{
    char words[CW_FLEET_WORDS] = "";
    ssize_t n = recv(m->line, words, sizeof words - 1, MSG_DONTWAIT);
    if (n < 0)
        return;
    if (n == 0) { /* it is ending; who comes waits for the next */
        epoll_ctl(f->poll, EPOLL_CTL_DEL, m->line, NULL);
        return;
    }
    if (words[0] == '+') {
        f->starting -= !m->ready && f->starting > 0;
        m->ready = true;
        m->why[0] = '\0';
        return;
    }
    if (strcmp(m->why, words) != 0)
        cw_fleet_say(f, m->host, words);
    cw_copy(m->why, sizeof m->why, words);
    m->changed = changed(f, m);
}

static void ended(cw_fleet *f, cw_fleet_one *m, int status)
{
    char line[160];
    int64_t now = cw_clock_ticks();
    cw_members_hear(f, m); /* its last words */
    bool asked = m->ending || f->stopping;
    close(m->line);
    if (!m->ready && f->starting > 0)
        f->starting--;
    m->wait = now - m->since >= SOON_MS ? 0
              : m->wait == 0            ? 1000
              : m->wait * 2 < MOST_MS   ? m->wait * 2
                                        : MOST_MS;
    if (asked)
        m->wait = 0;
    m->next = now + m->wait;
    m->line = -1;
    m->pid = 0;
    m->ready = m->ending = false;
    if (asked || m->why[0])
        return;
    if (WIFSIGNALED(status))
        snprintf(line, sizeof line, "ended by signal %d; it is started again", WTERMSIG(status));
    else
        snprintf(line, sizeof line, "ended by itself; it is started again");
    cw_fleet_say(f, m->host, line);
}

void cw_members_reap(cw_fleet *f)
{
    int status = 0;
    for (pid_t pid = waitpid(-1, &status, WNOHANG); pid > 0; pid = waitpid(-1, &status, WNOHANG))
        for (size_t i = 0; i < f->members; i++)
            if (f->member[i].pid == pid)
                ended(f, &f->member[i], status);
}

size_t cw_members_stop(cw_fleet *f, int signal)
{
    size_t running = 0;
    for (size_t i = 0; i < f->members; i++)
        if (f->member[i].pid) {
            running++;
            if (signal)
                kill(f->member[i].pid, signal);
        }
    return running;
}
