/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_LOGGED_H
#define CW_TESTS_HTTP_LOGGED_H

/* What the server said to its log: give keep_line to it, read `logged` under its lock while it runs. */
#include <pthread.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

static struct {
    pthread_mutex_t lock;
    char text[65536];
    size_t lines;
} logged = { .lock = PTHREAD_MUTEX_INITIALIZER };

static void keep_line(const char *line)
{
    pthread_mutex_lock(&logged.lock);
    size_t n = strlen(logged.text);
    snprintf(logged.text + n, sizeof logged.text - n, "%s\n", line);
    logged.lines++;
    pthread_mutex_unlock(&logged.lock);
}

#endif
