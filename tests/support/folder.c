/* SPDX-License-Identifier: MIT */
#include "support/folder.h"
#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

void test_folder_make(char *out, size_t n)
{
    const char *under = getenv("TMPDIR");
    int length = snprintf(out, n, "%s/cw-test-XXXXXX", under && *under ? under : "/tmp");
    if (length < 0 || (size_t)length >= n)
        fail_msg("TMPDIR is too long for a test: %s", under);
    if (mkdtemp(out) == NULL)
        fail_msg("no folder can be made: %s", out);
}
