/* SPDX-License-Identifier: MIT */
#include "base/words.h"

#include "base/banned.h"

#define CW_WORDS(name, words, columns) const char cw_words_##name[] = words;
#include "base/words.def"
#undef CW_WORDS

const cw_word_set cw_word_sets[] = {
#define CW_WORDS(name, words, columns) { #name, cw_words_##name, columns },
#include "base/words.def"
#undef CW_WORDS
};

const size_t cw_word_set_count = sizeof cw_word_sets / sizeof cw_word_sets[0];
