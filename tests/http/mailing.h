/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_MAILING_H
#define CW_TESTS_HTTP_MAILING_H

/* A program of Python that serves on the loopback and first prints its port (mailserver.py, shop.py), as a child process. */
#include "serving.h"
#include "support/check.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

typedef struct helper {
    pid_t pid;
    unsigned port;
} helper;

/* `words` end with NULL; the first is the script in tests/http. Debian's own Python, whose packages it needs. */
static inline helper helper_start(const char *const words[])
{
    const char *argv[12] = { "/usr/bin/python3" };
    char script[400], line[32] = "";
    int pipes[2];
    helper h = { 0 };
    snprintf(script, sizeof script, "%s/http/%s", CW_TEST_DIR, words[0]);
    argv[1] = script;
    for (size_t i = 1; words[i] && i + 2 < sizeof argv / sizeof argv[0]; i++)
        argv[i + 1] = words[i];
    assert_int_equal(pipe(pipes), 0);
    h.pid = fork();
    if (h.pid == 0) {
        dup2(pipes[1], STDOUT_FILENO);
        close(pipes[0]);
        execv(argv[0], (char *const *)(uintptr_t)argv);
        _exit(127);
    }
    assert_true(h.pid > 0);
    close(pipes[1]);
    FILE *f = fdopen(pipes[0], "r");
    if (f == NULL || fgets(line, sizeof line, f) == NULL)
        fail_msg("%s does not start", script);
    fclose(f);
    h.port = (unsigned)atoi(line);
    assert_true(h.port > 0);
    return h;
}

/* What was typed lies in the file for secrets alone: not in the nursery file and its log, in no backup made meanwhile, and in no
 * table that is exported. */
static inline void nowhere_else(const char *path, const char *secret)
{
    char command[1600];
    snprintf(command, sizeof command,
             "cd $(dirname %s) && cw='%s' && grep -qF '%s' n.db.secrets && $cw backup n.db copy.db "
             ">/dev/null 2>&1 && "
             "test -s copy.db && for t in $($cw export n.db --list --csv | tail -n +2 | cut -d, -f1); do "
             "$cw export n.db --as $t || exit 1; done >exported && test -s exported && "
             "! grep -rqaF '%s' --exclude='*.secrets' . && rm copy.db exported",
             path, CW_PROGRAM, secret, secret);
    assert_int_equal(system(command), 0);
}

static inline void helper_stop(helper *h)
{
    if (h->pid <= 0)
        return;
    kill(h->pid, SIGKILL);
    waitpid(h->pid, NULL, 0);
    h->pid = 0;
}

/* The helper, the server, the file for secrets beside the nursery's, and the folder that both wrote to. */
static inline void helper_end(helper *h, serving *s, const char *folder)
{
    char command[160], secrets[400];
    helper_stop(h);
    snprintf(secrets, sizeof secrets, "%s.secrets", s->t.path);
    unlink(secrets);
    serving_free(s);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    assert_int_equal(system(command), 0);
}

#endif
