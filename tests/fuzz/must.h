/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FUZZ_MUST_H
#define CW_TESTS_FUZZ_MUST_H

/* What every target shares: the entry that libFuzzer calls, and what must hold whatever the bytes. */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerInitialize(int *argc, char ***argv);

static inline void must(bool fine)
{
    if (!fine)
        abort();
}

#endif
