/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_FOLDER_H
#define CW_TESTS_SUPPORT_FOLDER_H

/* Where does a test put its files? In a fresh folder of its own, under TMPDIR: scripts/test says a place in memory, where no commit
 * waits for the disk. */
#include <stddef.h>

/* Makes the folder, whose path is written to `out` of n bytes; the caller removes it. */
void test_folder_make(char *out, size_t n);

#endif
