/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_PROGRAM_H
#define CW_TESTS_SUPPORT_PROGRAM_H

/* The real program as another process. */
#include "support/check.h"

#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

/* Starts the real program; its port is in the line that it prints. */
static inline pid_t start_program(const char *path, unsigned *port)
{
    char line[256] = "",
         *argv[] = { CW_PROGRAM,   "serve", (char *)(uintptr_t)path, "--listen", "127.0.0.1:0", "--today",
                     "2032-02-01", NULL };
    int pipes[2];
    pid_t pid = 0;
    posix_spawn_file_actions_t actions;
    assert_int_equal(pipe(pipes), 0);
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, pipes[1], 2);
    posix_spawn_file_actions_addclose(&actions, pipes[0]);
    assert_int_equal(posix_spawn(&pid, CW_PROGRAM, &actions, NULL, argv, environ), 0);
    posix_spawn_file_actions_destroy(&actions);
    close(pipes[1]);
    FILE *f = fdopen(pipes[0], "r");
    assert_non_null(fgets(line, sizeof line, f));
    if (strncmp(line, "http://127.0.0.1:", 17) != 0)
        fail_msg("the program said: %s", line);
    *port = (unsigned)strtoul(line + 17, NULL, 10);
    fclose(f);
    return pid;
}

/* SIGTERM; its exit status. */
static inline int stop_program(pid_t pid)
{
    int status = 0;
    kill(pid, SIGTERM);
    waitpid(pid, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* Runs a line of the shell; its exit status, and what it wrote to both streams. */
static inline int shell_says(const char *line, char out[4096])
{
    FILE *f = popen(line, "r");
    assert_non_null(f);
    out[fread(out, 1, 4095, f)] = '\0';
    int status = pclose(f);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

#endif
