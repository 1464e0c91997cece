/* SPDX-License-Identifier: MIT */
#include "base/tongue.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { EN, DE, FR, NL, TONGUES };

static const char *const codes[TONGUES] = { "en", "de", "fr", "nl" };

static const char *const months[TONGUES][12] = {
    { "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
      "November", "December" },
    { "Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober",
      "November", "Dezember" },
    { "janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre",
      "novembre", "décembre" },
    { "januari", "februari", "maart", "april", "mei", "juni", "juli", "augustus", "september", "oktober",
      "november", "december" },
};

/* What parts thousands, and what stands before the cents (Unicode CLDR). */
static const char *const groups[TONGUES] = { ",", ".", "\u202f", "." };
static const char *const points[TONGUES] = { ".", ",", ",", "," };

static const char *const phrases[CW_PHRASES][TONGUES] = {
#define PHRASE(name, en, de, fr, nl) { en, de, fr, nl },
#include "base/phrases.def"
#undef PHRASE
};

cw_tongue cw_tongue_of(const char *language, const char *country)
{
    /* Where English is written month first (Unicode CLDR, the long form of en-US, en-CA and en-PH). */
    static const char *const month_first[] = { "US", "CA", "PH" };
    cw_tongue l = { EN, false };
    for (unsigned char i = 0; language && i < TONGUES; i++)
        if (strcmp(codes[i], language) == 0)
            l.tongue = i;
    for (size_t i = 0; country && l.tongue == EN && i < sizeof month_first / sizeof month_first[0]; i++)
        l.month_first = l.month_first || strcmp(month_first[i], country) == 0;
    return l;
}

const char *cw_tongue_language(cw_tongue l)
{
    return codes[l.tongue];
}

void cw_tongue_day(cw_tongue l, cw_day day, char out[CW_TONGUE_DAY])
{
    int y, m, d;
    cw_day_to_ymd(day, &y, &m, &d);
    const char *month = months[l.tongue][m - 1];
    if (l.month_first)
        snprintf(out, CW_TONGUE_DAY, "%s %d, %d", month, d, y);
    else
        snprintf(out, CW_TONGUE_DAY, "%d%s %s %d", d,
                 l.tongue == DE             ? "."
                 : l.tongue == FR && d == 1 ? "er"
                                            : "",
                 month, y);
}

bool cw_tongue_day_read(const char *words, cw_day *out)
{
    char *end = NULL;
    long d = strtol(words, &end, 10);
    if (end == words || *end != ' ' || d < 1 || d > 31)
        return false;
    for (int m = 0; m < 12; m++) {
        size_t n = strlen(months[EN][m]);
        if (strncmp(end + 1, months[EN][m], n) != 0 || end[1 + n] != ' ')
            continue;
        const char *year = end + 2 + n;
        char iso[32];
        snprintf(iso, sizeof iso, "%.4s-%02d-%02ld", year, m + 1, d);
        return strlen(year) == 4 && cw_day_parse(iso, strlen(iso), out);
    }
    return false;
}

void cw_tongue_money(cw_tongue l, cw_cents v, char out[CW_TONGUE_MONEY])
{
    char plain[24];
    size_t n = 0;
    cw_cents_format(v, plain);
    const char *digit = plain;
    if (*digit == '-')
        out[n++] = *digit++;
    for (size_t left = strlen(digit) - 3; left > 0; left--) {
        out[n++] = *digit++;
        for (const char *g = groups[l.tongue]; left > 1 && left % 3 == 1 && *g; g++)
            out[n++] = *g;
    }
    snprintf(out + n, CW_TONGUE_MONEY - n, "%s%s", points[l.tongue], digit + 1);
}

const char *cw_tongue_phrase(cw_tongue l, cw_phrase p)
{
    return phrases[p][l.tongue];
}

void cw_tongue_say(cw_tongue l, cw_phrase p, int64_t n, const char *a, const char *b, cw_text *out)
{
    /* Unicode CLDR: one is 1; in French 0, too. */
    bool one = n == 1 || (l.tongue == FR && n == 0);
    const char *s = cw_tongue_phrase(l, p), *bar = strchr(s, '|');
    const char *end = bar && one ? bar : s + strlen(s);
    for (s = bar && !one ? bar + 1 : s; s < end; s++) {
        bool first = strncmp(s, "{a}", 3) == 0;
        if (!first && strncmp(s, "{b}", 3) != 0) {
            cw_text_addn(out, s, 1);
            continue;
        }
        cw_text_add(out, first ? (a ? a : "") : (b ? b : ""));
        s += 2;
    }
}
