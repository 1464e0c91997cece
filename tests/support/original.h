/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_ORIGINAL_H
#define CW_TESTS_SUPPORT_ORIGINAL_H

/* A nursery file as it was, to be put back as often as something is done to it. */
#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

typedef struct test_original {
    char *bytes; /* freed by the caller */
    size_t length;
} test_original;

static inline test_original test_original_read(const char *path)
{
    test_original o;
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    o.length = (size_t)ftell(f);
    rewind(f);
    o.bytes = malloc(o.length);
    assert_non_null(o.bytes);
    assert_int_equal(fread(o.bytes, 1, o.length, f), o.length);
    fclose(f);
    return o;
}

/* With nothing left of a log beside it. */
static inline void test_original_put(const test_original *o, const char *path)
{
    static const char *const ends[] = { "-wal", "-shm" };
    char beside[128];
    for (size_t i = 0; i < 2; i++) {
        snprintf(beside, sizeof beside, "%s%s", path, ends[i]);
        unlink(beside);
    }
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(o->bytes, 1, o->length, f), o->length);
    fclose(f);
}

#endif
