/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_WORDS_H
#define CW_BASE_WORDS_H

#include <stddef.h>

/* Which words may stand where? The sets of words.def by name: cw_words_stages is "clump|division". */
#define CW_WORDS(name, words, columns) extern const char cw_words_##name[];
#include "base/words.def"
#undef CW_WORDS

typedef struct cw_word_set {
    const char *name, *words;
    const char *columns; /* "table.column" whose CHECK has these words, parted by spaces */
} cw_word_set;

extern const cw_word_set cw_word_sets[];
extern const size_t cw_word_set_count;

#endif
