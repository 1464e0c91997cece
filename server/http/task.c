/* SPDX-License-Identifier: MIT */
#include "http/task.h"

#include "http/http_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define LEAST_NAME 8
#define MOST_NAME  100

/* One lock for the list and all that is in it: it is held for a few instructions, a few times a second. */
struct cw_task {
    struct cw_task *next;
    cw_tasks *list;
    char name[CW_MAX_KEY_BYTES + 1]; /* with the actor's, so that nobody meddles with another's */
    char what[80];
    uint64_t done, all;
    bool begun, give_up;
};

static void full_name(char out[CW_MAX_KEY_BYTES + 1], const char *name, const char *actor)
{
    snprintf(out, CW_MAX_KEY_BYTES + 1, "%.100s %.200s", name, actor);
}

bool cw_task_tell(cw_request *q, const char *what, uint64_t done, uint64_t all)
{
    cw_task *t = q->task;
    if (t == NULL)
        return true;
    pthread_mutex_lock(&t->list->lock);
    t->begun = true;
    if (what) {
        cw_copy(t->what, sizeof t->what, what);
        t->done = done;
        t->all = all;
    }
    bool go_on = !t->give_up;
    pthread_mutex_unlock(&t->list->lock);
    return go_on;
}

void cw_task_enter(cw_request *q, const char *name)
{
    size_t length = name ? strlen(name) : 0;
    if (length < LEAST_NAME || length > MOST_NAME || (q->task = calloc(1, sizeof *q->task)) == NULL)
        return; /* without a name nobody can ask after it; it is done all the same */
    cw_tasks *list = &q->server->tasks;
    full_name(q->task->name, name, q->actor);
    q->task->list = list;
    pthread_mutex_lock(&list->lock);
    q->task->next = list->first;
    list->first = q->task;
    pthread_mutex_unlock(&list->lock);
}

void cw_task_leave(cw_request *q)
{
    if (q->task == NULL)
        return;
    cw_tasks *list = q->task->list;
    pthread_mutex_lock(&list->lock);
    cw_task **at = &list->first;
    while (*at && *at != q->task)
        at = &(*at)->next;
    if (*at)
        *at = q->task->next;
    pthread_mutex_unlock(&list->lock);
    free(q->task);
    q->task = NULL;
}

bool cw_task_begin(cw_request *q)
{
    return cw_task_tell(q, "", 0, 0);
}

void cw_task_look(const cw_request *q, const char *name, bool give_up, cw_task_view *out)
{
    char full[CW_MAX_KEY_BYTES + 1];
    cw_tasks *list = &q->server->tasks;
    *out = (cw_task_view){ .state = "unknown" };
    full_name(full, name, q->actor);
    pthread_mutex_lock(&list->lock);
    for (cw_task *t = list->first; t; t = t->next) {
        if (strcmp(t->name, full) != 0)
            continue;
        t->give_up = t->give_up || give_up;
        out->state = t->give_up ? "given-up" : t->begun ? "working" : "waiting";
        cw_copy(out->what, sizeof out->what, t->what);
        out->done = t->done;
        out->all = t->all;
        break;
    }
    pthread_mutex_unlock(&list->lock);
}
