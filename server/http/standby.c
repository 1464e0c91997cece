/* SPDX-License-Identifier: MIT */
#include "http/standby.h"

#include "clock.h"
#include "http/http_inside.h"
#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

#define DEEPEST 8 /* folders within the store */
#define NEWEST  3 /* of a folder's folders: what is copied now goes into one of those */

static int64_t time_of(const struct stat *s)
{
    return (int64_t)s->st_mtim.tv_sec * 1000 + s->st_mtim.tv_nsec / 1000000;
}

typedef struct newest {
    int64_t at;
    char name[256];
} newest;

static void put(newest of[NEWEST], int64_t at, const char *name)
{
    for (size_t i = 0; i < NEWEST; i++) {
        if (at <= of[i].at)
            continue;
        memmove(of + i + 1, of + i, (NEWEST - 1 - i) * sizeof *of);
        of[i].at = at;
        cw_copy(of[i].name, sizeof of[i].name, name);
        return;
    }
}

/* When something came into the folder last, looking only into those folders of it that are newest: a store of a season holds many
 * thousand files. Takes the descriptor. */
static int64_t last_in(int fd, int depth)
{
    newest folders[NEWEST] = { { 0 } };
    int64_t last = 0;
    struct stat s;
    DIR *dir = fdopendir(fd);
    if (dir == NULL) {
        close(fd);
        return 0;
    }
    for (struct dirent *e = readdir(dir); e; e = readdir(dir)) {
        if (strcmp(e->d_name, ".") == 0 || strcmp(e->d_name, "..") == 0 ||
            fstatat(fd, e->d_name, &s, AT_SYMLINK_NOFOLLOW) != 0)
            continue;
        if (S_ISDIR(s.st_mode))
            put(folders, time_of(&s), e->d_name);
        else if (S_ISREG(s.st_mode) && time_of(&s) > last)
            last = time_of(&s);
    }
    for (size_t i = 0; i < NEWEST && folders[i].at > 0 && depth < DEEPEST; i++) {
        int inner = openat(fd, folders[i].name, O_RDONLY | O_DIRECTORY | O_CLOEXEC | O_NOFOLLOW);
        int64_t at = inner >= 0 ? last_in(inner, depth + 1) : 0;
        last = at > last ? at : last;
    }
    closedir(dir);
    return last;
}

/* The log is what is copied; without one all is in the file. */
static int64_t written_at(const char *path)
{
    char log[1200];
    struct stat s;
    snprintf(log, sizeof log, "%s-wal", path);
    if (stat(log, &s) == 0 || stat(path, &s) == 0)
        return time_of(&s);
    return 0;
}

void cw_standby_look(cw_server *s)
{
    if (s->how.standby == NULL)
        return;
    int64_t written = written_at(s->how.path), since = atomic_load(&s->standby_since);
    int fd = open(s->how.standby, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    int64_t copied = fd >= 0 ? last_in(fd, 0) : 0;
    if (written <= copied)
        since = 0;
    else if (since == 0 || since <= copied) /* what was waited for is there; what came after it is not */
        since = written;
    atomic_store(&s->standby_since, since);
    atomic_store(&s->standby_copied, copied);
}

void cw_standby_view_of(const cw_request *q, cw_standby_view *out)
{
    int64_t since = atomic_load(&q->server->standby_since), now = cw_clock_now();
    *out = (cw_standby_view){ .kept = q->server->how.standby != NULL,
                              .behind_ms = since && now > since ? now - since : 0,
                              .copied_at = atomic_load(&q->server->standby_copied) };
}

static void line(cw_text *out, const char *name, const char *type, const char *help, double value)
{
    cw_text_addf(out, "# HELP clumpwise_%s %s\n# TYPE clumpwise_%s %s\nclumpwise_%s %.17g\n", name, help,
                 name, type, name, value);
}

void cw_metrics_text(const cw_request *q, cw_text *out)
{
    cw_server *s = q->server;
    cw_standby_view v;
    cw_standby_view_of(q, &v);
    line(out, "up_seconds", "gauge", "since the program began",
         (double)(cw_clock_ticks() - s->begun_at) / 1000);
    line(out, "written_total", "counter", "requests written", (double)atomic_load(&s->written));
    line(out, "commits_total", "counter", "commits that they shared", (double)atomic_load(&s->writes));
    line(out, "in_flight", "gauge", "requests begun and not yet answered",
         (double)atomic_load(&s->in_flight));
    if (!v.kept)
        return;
    line(out, "standby_behind_seconds", "gauge", "since the first write that the second place lacks",
         (double)v.behind_ms / 1000);
    if (v.copied_at > 0)
        line(out, "standby_copied_timestamp_seconds", "gauge", "when the second place got something last",
             (double)v.copied_at / 1000);
}
