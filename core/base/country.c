/* SPDX-License-Identifier: MIT */
#include "base/country.h"

#include "base/fold.h"
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#include "base/banned.h"

typedef struct country {
    char two[3], three[4];
    const char *names; /* "|austria|osterreich|", folded */
} country;

#define COUNTRY(two, three, names) { two, three, names },
static const country countries[] = {
#include "base/country.def"
};
#undef COUNTRY

#define COUNT (sizeof countries / sizeof countries[0])

/* Longer than any name of the table: what is longer is none of them. */
#define KEY 96

/* Blanks, hyphens, points, commas, brackets, apostrophes and '&' part words, also the typographic ones. */
static bool parts(uint32_t c)
{
    return (c < 0x80 && c != 0 && strchr(" \t.,'&()-/_", (int)c)) || c == 0xA0 ||
           (c >= 0x2010 && c <= 0x2015) || c == 0x2018 || c == 0x2019 || c == 0x202F;
}

static bool counts_nothing(const char *word, size_t n)
{
    static const char *const words[] = { "the", "and", "und", "et", "en" };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strlen(words[i]) == n && memcmp(words[i], word, n) == 0)
            return true;
    return false;
}

/* "|letters|" into key; the number of letters, 0 when it can be no name. */
static size_t fold(const char *text, size_t length, char key[KEY + 3])
{
    size_t used = 1, word = 1;
    char one[2];
    key[0] = '|';
    for (size_t at = 0; at < length;) {
        uint32_t c = cw_point_next(text, length, &at);
        if (parts(c)) {
            used = counts_nothing(key + word, used - word) ? word : used;
            word = used;
            continue;
        }
        const char *letters = cw_point_letters(c, one);
        if (letters == NULL || used + strlen(letters) > KEY)
            return 0;
        for (; *letters; letters++)
            key[used++] = *letters;
    }
    used = counts_nothing(key + word, used - word) && word > 1 ? word : used;
    key[used] = '|';
    key[used + 1] = '\0';
    return used - 1;
}

/* Whether the code of n letters is the one folded, which stands in lower case. */
static bool is_code(const char *code, const char *folded, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (code[i] - 'A' + 'a' != folded[i])
            return false;
    return true;
}

const char *cw_country_find(const char *text, size_t length)
{
    char key[KEY + 3] = { 0 };
    size_t n = fold(text, length, key);
    for (size_t i = 0; (n == 2 || n == 3) && i < COUNT; i++)
        if (is_code(n == 2 ? countries[i].two : countries[i].three, key + 1, n))
            return countries[i].two;
    for (size_t i = 0; n > 1 && i < COUNT; i++)
        if (strstr(countries[i].names, key))
            return countries[i].two;
    return NULL;
}
