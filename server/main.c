/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"
#include <signal.h>

#include "base/banned.h"

int main(int argc, char *argv[])
{
    /* A reader that went away is an error of writing, not the program's death. */
    signal(SIGPIPE, SIG_IGN);
    return cw_cli(argc, (const char *const *)argv);
}
