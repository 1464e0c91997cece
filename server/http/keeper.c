/* SPDX-License-Identifier: MIT */
#include <dirent.h>
#include <errno.h>
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "clock.h"
#include "desk/forecast/hindsight.h"
#include "desk/nursery/answers.h"
#include "desk/nursery/keeping.h"
#include "http/http_inside.h"

#include "base/banned.h"

/* Housekeeping beside the requests: once an hour what has expired is dropped, by the writer; and now and then a verified
 * backup is made, by a reader of its own. Of the backups, the newest KEEP_ALL stay, and of older ones the last of each
 * day for KEEP_DAYS days. */
#define HOUSE_MS    3600000LL
#define KEEP_ALL    24
#define KEEP_DAYS   30
#define MOST_COPIES 2000

struct cw_keeper {
    pthread_mutex_t lock;
    pthread_cond_t wake;
    pthread_t thread;
    bool stopping;
    cw_server *server;
    cw_nursery *look;
    char stem
        [160]; /* base name of the nursery file, without ".db", and its season: a copy says of which year it is */
};

static cw_code expire(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_code code = cw_accounts_expire(n, q->who.now, err);
    return code == CW_OK ? cw_answers_expire(n, q->who.now, err) : code;
}

/* Once a month what is said goes on record. */
static cw_code keep_said(cw_request *q, cw_nursery *n, cw_error *err)
{
    bool kept = false;
    return cw_hindsight_keep(n, &q->who, &kept, err);
}

static void hand_over(cw_server *s, cw_code (*then)(cw_request *q, cw_nursery *n, cw_error *err))
{
    static const cw_route none = { .access = CW_ROUTE_WORK };
    cw_request *q = calloc(1, sizeof *q);
    if (q == NULL)
        return;
    q->server = s;
    q->route = &none;
    q->then = then;
    q->who.now = cw_clock_now();
    q->who.today = s->how.today != CW_NO_DAY ? s->how.today : cw_clock_day(q->who.now);
    q->who.actor = "the program";
    cw_jobs_put(&s->jobs, q);
}

/* "dahlias-season-2031-20320301T120000Z.db" */
static bool is_copy(const struct cw_keeper *k, const char *name)
{
    size_t n = strlen(k->stem);
    return strncmp(name, k->stem, n) == 0 && name[n] == '-' && strlen(name + n + 1) == 19 &&
           strspn(name + n + 1, "0123456789") == 8 && name[n + 9] == 'T' &&
           strcmp(name + n + 16, "Z.db") == 0;
}

static int newest_first(const void *a, const void *b)
{
    return -strcmp(*(char *const *)a, *(char *const *)b);
}

/* Names sort by time. A copy beyond the newest KEEP_ALL stays only as the last one of its day. */
static void thin_out(struct cw_keeper *k, const char *folder, char **names, size_t count)
{
    size_t at = strlen(k->stem) + 1;
    int days = 0;
    qsort(names, count, sizeof *names, newest_first);
    for (size_t i = KEEP_ALL; i < count; i++) {
        char path[1200];
        bool last_of_day = strncmp(names[i] + at, names[i - 1] + at, 8) != 0;
        days += last_of_day;
        if (last_of_day && days <= KEEP_DAYS)
            continue;
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        unlink(path);
    }
}

static void rotate(struct cw_keeper *k, const char *folder)
{
    char **names = calloc(MOST_COPIES, sizeof *names);
    size_t count = 0;
    DIR *dir = names ? opendir(folder) : NULL;
    for (struct dirent *e = dir ? readdir(dir) : NULL; e && count < MOST_COPIES; e = readdir(dir))
        if (is_copy(k, e->d_name) && (names[count] = strdup(e->d_name)) != NULL)
            count++;
    if (dir)
        closedir(dir);
    if (names)
        thin_out(k, folder, names, count);
    for (size_t i = 0; i < count; i++)
        free(names[i]);
    free(names);
}

/* A copy that a stop finds half made is thrown away. */
static bool copying(void *self, const char *what, uint64_t done, uint64_t all)
{
    (void)what;
    (void)done;
    (void)all;
    return cw_heed_stop(self);
}

static void back_up(struct cw_keeper *k)
{
    char path[1200], stamp[32];
    struct tm t = { 0 };
    time_t now = (time_t)(cw_clock_now() / 1000);
    cw_error err = CW_ERROR_NONE;
    cw_asker who = { .actor = "backup", .progress = copying, .progress_context = k->server };
    gmtime_r(&now, &t);
    strftime(stamp, sizeof stamp, "%Y%m%dT%H%M%SZ", &t);
    snprintf(path, sizeof path, "%.900s/%s-%s.db", k->server->how.backup_dir, k->stem, stamp);
    if (cw_keeping_backup(k->look, &who, path, &err) == CW_OK) {
        rotate(k, k->server->how.backup_dir);
    } else if (k->server->how.say) {
        char line[1000];
        snprintf(line, sizeof line, "the backup failed: %s", err.text);
        k->server->how.say(line);
    }
}

static void *run(void *self)
{
    struct cw_keeper *k = self;
    int64_t every = (k->server->how.backup_minutes ? k->server->how.backup_minutes : 60) * 60000LL;
    int64_t cleaned = cw_clock_ticks() - HOUSE_MS, copied = cw_clock_ticks() - every;
    int64_t said = cw_clock_ticks(); /* not before an hour has passed: it costs a projection */
    pthread_mutex_lock(&k->lock);
    while (!k->stopping) {
        struct timespec until;
        if (cw_clock_ticks() - cleaned >= HOUSE_MS) {
            cleaned = cw_clock_ticks();
            hand_over(k->server, expire);
        }
        if (cw_clock_ticks() - said >= HOUSE_MS) {
            said = cw_clock_ticks();
            hand_over(k->server, keep_said);
        }
        if (k->look && cw_clock_ticks() - copied >= every) {
            copied = cw_clock_ticks();
            back_up(k);
        }
        cw_watch_tick(k->server);
        cw_standby_look(k->server);
        if (atomic_exchange(&k->server->gave_back, false))
            malloc_trim(
                0); /* freed pieces lie scattered over the threads' arenas, which the library keeps by itself */
        clock_gettime(CLOCK_REALTIME, &until);
        until.tv_sec += 1;
        pthread_cond_timedwait(&k->wake, &k->lock, &until);
    }
    pthread_mutex_unlock(&k->lock);
    cw_watch_tick(k->server);
    return NULL;
}

static void set_stem(struct cw_keeper *k)
{
    char base[128];
    const char *slash = strrchr(k->server->how.path, '/');
    cw_copy(base, sizeof base, slash ? slash + 1 : k->server->how.path);
    size_t n = strlen(base);
    if (n > 3 && strcmp(base + n - 3, ".db") == 0)
        base[n - 3] = '\0';
    snprintf(k->stem, sizeof k->stem, "%s-season-%d", base, cw_nursery_season(k->look)->season);
}

static cw_code open_for_backup(struct cw_keeper *k, cw_error *err)
{
    const char *folder = k->server->how.backup_dir;
    if (folder == NULL)
        return CW_OK;
    if (access(folder, W_OK | X_OK) != 0)
        return cw_error_at(err, CW_REFUSED, folder, 0, NULL, "backups cannot be kept there: %s",
                           strerror(errno));
    cw_code code = cw_nursery_open(k->server->how.path, CW_LOOK, NULL, &k->look, err);
    if (code == CW_OK)
        set_stem(k);
    return code;
}

cw_code cw_keeper_start(cw_server *s, cw_error *err)
{
    struct cw_keeper *k = calloc(1, sizeof *k);
    if (k == NULL)
        return cw_error_memory(err);
    k->server = s;
    pthread_mutex_init(&k->lock, NULL);
    pthread_cond_init(&k->wake, NULL);
    cw_code code = open_for_backup(k, err);
    if (code == CW_OK && pthread_create(&k->thread, NULL, run, k) != 0)
        code = cw_error_set(err, CW_MACHINE, "no thread can be started");
    if (code != CW_OK) {
        cw_nursery_close(k->look);
        free(k);
        return code;
    }
    s->keeper = k;
    return CW_OK;
}

void cw_keeper_stop(cw_server *s)
{
    struct cw_keeper *k = s->keeper;
    if (k == NULL)
        return;
    pthread_mutex_lock(&k->lock);
    k->stopping = true;
    pthread_cond_signal(&k->wake);
    pthread_mutex_unlock(&k->lock);
    pthread_join(k->thread, NULL);
    pthread_mutex_destroy(&k->lock);
    pthread_cond_destroy(&k->wake);
    cw_nursery_close(k->look);
    free(k);
    s->keeper = NULL;
}
