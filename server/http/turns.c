/* SPDX-License-Identifier: MIT */
#include "http/turns.h"

#include <errno.h>
#include <pthread.h>
#include <stddef.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base/banned.h"

/* Robust, so that the system frees the turn of a process that is killed while it hashes. */
struct cw_turns {
    pthread_mutex_t turn[CW_TURNS];
};

#define AGAIN_US 5000 /* a hash takes a hundred milliseconds */

cw_turns *cw_turns_share(void)
{
    pthread_mutexattr_t how;
    cw_turns *t = mmap(NULL, sizeof *t, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (t == MAP_FAILED)
        return NULL;
    pthread_mutexattr_init(&how);
    pthread_mutexattr_setpshared(&how, PTHREAD_PROCESS_SHARED);
    pthread_mutexattr_setrobust(&how, PTHREAD_MUTEX_ROBUST);
    for (int i = 0; i < CW_TURNS; i++)
        pthread_mutex_init(&t->turn[i], &how);
    pthread_mutexattr_destroy(&how);
    return t;
}

static bool try_one(pthread_mutex_t *turn)
{
    int got = pthread_mutex_trylock(turn);
    if (got == EOWNERDEAD) {
        pthread_mutex_consistent(turn);
        got = 0;
    }
    return got == 0;
}

int cw_turns_take(cw_turns *t, bool (*go_on)(void *self), void *self)
{
    while (go_on(self)) {
        for (int i = 0; i < CW_TURNS; i++)
            if (try_one(&t->turn[i]))
                return i;
        usleep(AGAIN_US);
    }
    return -1;
}

void cw_turns_give(cw_turns *t, int turn)
{
    if (turn >= 0)
        pthread_mutex_unlock(&t->turn[turn]);
}
