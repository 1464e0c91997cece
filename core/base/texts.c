/* SPDX-License-Identifier: MIT */
#include "base/texts.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define BLOCK (64 * 1024)

struct cw_texts_block {
    struct cw_texts_block *before;
    size_t used;
    char bytes[BLOCK];
};

const char *cw_texts_keep(cw_texts *t, const char *text)
{
    size_t n = text ? strlen(text) : 0;
    struct cw_texts_block *b = t->last;
    if (n == 0)
        return "";
    if (b == NULL || BLOCK - b->used < n + 1) {
        if (n + 1 > BLOCK || (b = malloc(sizeof *b)) == NULL) {
            t->failed = true;
            return "";
        }
        b->before = t->last;
        b->used = 0;
        t->last = b;
    }
    char *at = b->bytes + b->used;
    memcpy(at, text, n + 1);
    b->used += n + 1;
    return at;
}

void cw_texts_free(cw_texts *t)
{
    while (t->last) {
        struct cw_texts_block *b = t->last;
        t->last = b->before;
        free(b);
    }
    t->failed = false;
}
