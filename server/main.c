/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

/* Begins the program again with all functions of all libraries bound. Those that are bound at their first call, by the
 * dynamic linker, leave what the vector registers hold, a password maybe, on the stack of a thread, where nobody can wipe it.
 * The program itself is linked so that it needs no binding later; of the libraries only the environment can ask it, and only
 * before they are there. */
static void bind_now(char *argv[])
{
    char path[PATH_MAX];
    const char *bound = getenv("LD_BIND_NOW");
    if (bound && bound[0])
        return;
    ssize_t n = readlink("/proc/self/exe", path, sizeof path - 1);
    if (n > 0 && setenv("LD_BIND_NOW", "1", 1) == 0) {
        path[n] = '\0';
        execv(path, argv);
        execv("/proc/self/exe", argv); /* the file was replaced since */
    }
    fputs(
        "clumpwise: warning: cannot begin again with LD_BIND_NOW=1; pieces of passwords may stay in memory\n",
        stderr);
}

int main(int argc, char *argv[])
{
    /* A reader that went away, or a file that may not grow, is an error of writing and not the program's death. */
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
    if (argc > 1 && strcmp(argv[1], "serve") == 0) /* other verbs end soon, and their memory with them */
        bind_now(argv);
    return cw_cli(argc, (const char *const *)argv);
}
