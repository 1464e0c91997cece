/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"
#include <signal.h>

#include "base/banned.h"

int main(int argc, char *argv[])
{
    /* A reader that went away, or a file that may not grow, is an error of writing and not the program's death. */
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
    return cw_cli(argc, (const char *const *)argv);
}
