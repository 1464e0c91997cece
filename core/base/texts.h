/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_TEXTS_H
#define CW_BASE_TEXTS_H

#include <stdbool.h>

/* Where do the texts of a large reading stand? One behind the other in blocks that never move, so that rows may point at them and
 * all go at once. Starts zeroed. Without memory cw_texts_keep gives "" and `failed` says so from then on. */
typedef struct cw_texts {
    struct cw_texts_block *last;
    bool failed;
} cw_texts;

const char *cw_texts_keep(cw_texts *t, const char *text); /* a copy; NULL is kept as "" */
void cw_texts_free(cw_texts *t);

#endif
