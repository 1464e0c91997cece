/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_TONGUE_H
#define CW_BASE_TONGUE_H

#include "base/day.h"
#include "base/money.h"
#include "base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How are days, money and set phrases written to a buyer, in the buyer's language (a word of cw_words_languages)? The phrases
 * stand in phrases.def; the letters themselves are the nursery's texts (table template). */
typedef struct cw_tongue {
    unsigned char tongue; /* its place in a row of phrases.def */
    bool month_first;     /* April 16, 2032 */
} cw_tongue;

/* What is no language of ours is English. `country` (ISO 3166-1 alpha-2) tells where English is written month first; NULL or
 * empty: it is not. */
cw_tongue cw_tongue_of(const char *language, const char *country);
const char *cw_tongue_language(cw_tongue l); /* "en" */

#define CW_TONGUE_DAY 32
void cw_tongue_day(cw_tongue l, cw_day day, char out[CW_TONGUE_DAY]);

/* 1234.50 as "1.234,50", by what parts thousands and decimals in the language; without a currency. */
#define CW_TONGUE_MONEY 40
void cw_tongue_money(cw_tongue l, cw_cents v, char out[CW_TONGUE_MONEY]);

/* A day that was written in English words, "16 April 2032", as notices kept them once. */
bool cw_tongue_day_read(const char *words, cw_day *out);

typedef enum cw_phrase {
#define PHRASE(name, en, de, fr, nl) CW_PHRASE_##name,
#include "base/phrases.def"
#undef PHRASE
    CW_PHRASES
} cw_phrase;

/* Adds the phrase with {a} and {b} filled in. Of "one|other" the form for n, as the language counts. a and b may be NULL where
 * the phrase has none. */
void cw_tongue_say(cw_tongue l, cw_phrase p, int64_t n, const char *a, const char *b, cw_text *out);

/* The phrase as it stands in the table. */
const char *cw_tongue_phrase(cw_tongue l, cw_phrase p);

#endif
