/* SPDX-License-Identifier: MIT */
#include "base/fold.h"

#include <string.h>

#include "base/banned.h"

/* Letters without their accents, by code point: U+00C0 to U+017F; '-' stands for what is no letter. */
static const char plain[] = "aaaaaaaceeeeiiiidnooooo-ouuuuypsaaaaaaaceeeeiiiidnooooo-ouuuuypy"
                            "aaaaaaccccccccddddeeeeeeeeeegggggggghhhhiiiiiiiiiiiijjkkkllllllllll"
                            "nnnnnnnnnoooooooorrrrrrssssssssttttttuuuuuuuuuuuuwwyyyzzzzzzs";

uint32_t cw_point_next(const char *text, size_t n, size_t *at)
{
    const unsigned char *s = (const unsigned char *)text;
    uint32_t c = s[(*at)++];
    int more = c < 0x80 ? 0 : c >= 0xF0 ? 3 : c >= 0xE0 ? 2 : c >= 0xC0 ? 1 : -1;
    if (more < 0)
        return 0;
    c = more == 0 ? c : c & (0x3Fu >> more);
    for (; more > 0; more--) {
        if (*at >= n || (s[*at] & 0xC0) != 0x80)
            return 0;
        c = c << 6 | (s[(*at)++] & 0x3F);
    }
    return c;
}

const char *cw_point_letters(uint32_t c, char one[2])
{
    one[0] = one[1] = '\0';
    if (c == 0xC6 || c == 0xE6)
        return "ae";
    if (c == 0x152 || c == 0x153)
        return "oe";
    if (c == 0x132 || c == 0x133)
        return "ij";
    if (c == 0xDF || c == 0x1E9E)
        return "ss";
    if (c >= 'a' && c <= 'z')
        one[0] = (char)c;
    else if (c >= 'A' && c <= 'Z')
        one[0] = (char)(c - 'A' + 'a');
    else if (c >= 0xC0 && c <= 0x17F && plain[c - 0xC0] != '-')
        one[0] = plain[c - 0xC0];
    else if (c < 0x300 || c > 0x36F) /* an accent that stands by itself counts nothing */
        return NULL;
    return one;
}

/* Beyond Latin every point counts as a letter, but blanks, punctuation and marks. */
static bool is_letter(uint32_t c)
{
    return c >= 0x180 && (c < 0x2000 || c > 0x2BFF) && (c < 0x3000 || c > 0x303F) &&
           (c < 0xFE00 || c > 0xFE0F) && c != 0xFEFF && c != 0xFFFD;
}

size_t cw_fold(const char *s, size_t n, char gap, char out[CW_FOLD_BYTES])
{
    size_t used = 0;
    bool parted = false;
    for (size_t at = 0; at < n;) {
        size_t from = at, length = 0;
        char one[2];
        uint32_t c = cw_point_next(s, n, &at);
        const char *letters = cw_point_letters(c, one);
        if (c >= '0' && c <= '9') {
            letters = s + from;
            length = 1;
        } else if (letters) {
            length = strlen(letters);
        } else if (is_letter(c)) {
            letters = s + from;
            length = at - from;
        }
        if (letters == NULL) {
            /* An apostrophe stands inside a word. */
            parted = parted || (c != '\'' && c != 0x2019 && c != 0x2018);
            continue;
        }
        if (used + length + 2 > CW_FOLD_BYTES)
            break;
        if (parted && gap && used > 0 && length > 0)
            out[used++] = gap;
        parted = parted && length == 0;
        memcpy(out + used, letters, length);
        used += length;
    }
    out[used] = '\0';
    return used;
}

#define LONGEST 64

static int least(int a, int b)
{
    return a < b ? a : b;
}

int cw_distance(const char *a, const char *b, int most)
{
    size_t n = strlen(a), m = strlen(b);
    int rows[3][LONGEST + 1];
    int gap = n > m ? (int)(n - m) : (int)(m - n);
    if (n > LONGEST || m > LONGEST || gap > most)
        return most + 1;
    int *two = rows[0], *one = rows[1], *now = rows[2];
    for (size_t j = 0; j <= m; j++)
        one[j] = (int)j;
    for (size_t i = 1; i <= n; i++) {
        int best = now[0] = (int)i;
        for (size_t j = 1; j <= m; j++) {
            int d = least(least(one[j], now[j - 1]) + 1, one[j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                d = least(d, two[j - 2] + 1);
            now[j] = d;
            best = least(best, d);
        }
        if (best > most)
            return most + 1;
        int *spare = two;
        two = one;
        one = now;
        now = spare;
    }
    return one[m] > most ? most + 1 : one[m];
}
