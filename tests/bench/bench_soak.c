/* SPDX-License-Identifier: MIT */
/* Does the server's memory stay level at full load? The program serves in a process of its own; this one sends it the
 * opening hour, CW_SOAK seconds of it (60 unless told), and looks at its resident memory every few seconds.
 *
 * Warm-up is the first quarter: until then the page cache of the writing connection (64 MB) and those of the readers (8 MB
 * each) fill with the growing file (after about 120,000 orders). What is compared is the mean of the quarter after it with that of the last quarter.
 * Afterwards: no acknowledged order is lost, nothing is oversold, the checks hold. Prints "name value unit". */
#include "opening.h"
#include "support/program.h"

#include <pthread.h>
#include <time.h>

#include "base/banned.h"

#define LOOK_S 5

/* Resident memory of a process in kB: all, and what is not of a file. */
static void resident(pid_t pid, double *all, double *own)
{
    char path[64], line[256];
    snprintf(path, sizeof path, "/proc/%d/status", (int)pid);
    FILE *f = fopen(path, "re");
    *all = *own = 0;
    while (f && fgets(line, sizeof line, f)) {
        if (strncmp(line, "VmRSS:", 6) == 0)
            *all = strtod(line + 6, NULL);
        else if (strncmp(line, "RssAnon:", 8) == 0)
            *own = strtod(line + 8, NULL);
    }
    if (f == NULL || *all <= 0)
        opening_die("the server is gone", NULL);
    fclose(f);
}

/* Mean of what was seen from one part of the time to another. */
static double mean(const double *seen, size_t count, double from, double to)
{
    double sum = 0;
    size_t n = 0;
    for (size_t i = (size_t)(from * (double)count); i < (size_t)(to * (double)count); i++, n++)
        sum += seen[i];
    return n ? sum / (double)n : 0;
}

typedef struct watch {
    pid_t pid;
    double *seen; /* kB */
    size_t count, most;
    bool stop;
} watch;

static void *look_on(void *self)
{
    watch *w = self;
    double own = 0, begun = opening_now();
    while (w->count < w->most && !__atomic_load_n(&w->stop, __ATOMIC_RELAXED)) {
        if (opening_now() - begun < LOOK_S * (double)(w->count + 1)) {
            nanosleep(&(struct timespec){ 0, 100000000L }, NULL);
            continue;
        }
        resident(w->pid, &w->seen[w->count++], &own);
        fprintf(stderr, "%.0f s: %.0f kB, %.0f kB not of a file\n", opening_now() - begun,
                w->seen[w->count - 1], own);
    }
    return NULL;
}

static void soak(pid_t pid, unsigned port, opening_orders *o, double seconds)
{
    load_result orders, polls;
    pthread_t thread;
    watch w = { .pid = pid, .most = (size_t)(seconds / LOOK_S) + 1 };
    w.seen = calloc(w.most, sizeof *w.seen);
    if (w.seen == NULL || pthread_create(&thread, NULL, look_on, &w) != 0)
        opening_die("starting", NULL);
    opening_run(port, o, seconds, &orders, &polls);
    __atomic_store_n(&w.stop, true, __ATOMIC_RELAXED);
    pthread_join(thread, NULL);
    double warm = mean(w.seen, w.count, 0.25, 0.5), last = mean(w.seen, w.count, 0.75, 1);
    printf(
        "soak_seconds %.0f s\nsoak_orders %llu orders\nsoak_polls %llu requests\nsoak_failed %llu requests\n",
        orders.seconds, (unsigned long long)orders.answered, (unsigned long long)polls.answered,
        (unsigned long long)(orders.failed + polls.failed));
    printf("soak_memory_warm %.0f kB\nsoak_memory_end %.0f kB\nsoak_memory_change %.2f %%\n", warm, last,
           warm > 0 ? 100 * (last - warm) / warm : 0);
    free(w.seen);
}

int main(void)
{
    char folder[] = "/var/tmp/cw-soak-XXXXXX", path[64], command[128];
    const char *told = getenv("CW_SOAK");
    unsigned port = 0;
    cw_asker who = { .actor = "bench", .role = CW_ROLE_OWNER, .today = cw_day_from_ymd(2032, 2, 1) };
    opening_orders o = { .acknowledged = calloc(MOST_ORDERS, 1) };
    who.now = (cw_instant)who.today * CW_DAY_MS;
    if (mkdtemp(folder) == NULL || o.acknowledged == NULL)
        opening_die("making a folder", NULL);
    snprintf(path, sizeof path, "%s/nursery.db", folder);
    cw_rng_init(&o.rng, 7, 0);
    opening_make(path, &who);
    pid_t pid = start_program(path, &port);
    soak(pid, port, &o, told ? strtod(told, NULL) : 60);
    if (stop_program(pid) != 0)
        opening_die("the server did not end well", NULL);
    opening_check(path, &o);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command) != 0;
}
