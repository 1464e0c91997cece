/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FUZZ_MUST_H
#define CW_TESTS_FUZZ_MUST_H

/* What every target shares: the entry that libFuzzer calls, and what must hold whatever the bytes. */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerInitialize(int *argc, char ***argv);

/* Ends the target, which is a find, unless `fine`; says what did not hold, and where. */
#define must(fine)                                                                                           \
    do {                                                                                                     \
        if (!(fine)) {                                                                                       \
            fprintf(stderr, "%s:%d: does not hold: %s\n", __FILE__, __LINE__, #fine);                        \
            abort();                                                                                         \
        }                                                                                                    \
    } while (0)

#endif
