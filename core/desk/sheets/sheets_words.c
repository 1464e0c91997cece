/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

typedef struct called {
    const char *ours, *theirs; /* theirs parted by bars */
} called;

#define COLUMN(ours, theirs) { ours, theirs },
static const called columns[] = {
#include "desk/sheets/columns.def"
};
#undef COLUMN

#define WORD(ours, theirs) { ours, theirs },
static const called words[] = {
#include "desk/sheets/words.def"
};
#undef WORD

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

/* Blanks do not count between words that somebody wrote as one. */
static bool same_letters(const char *a, size_t n, const char *b)
{
    size_t i = 0;
    for (; *b; b++) {
        if (*b == ' ')
            continue;
        while (i < n && a[i] == ' ')
            i++;
        if (i == n || a[i++] != *b)
            return false;
    }
    while (i < n && a[i] == ' ')
        i++;
    return i == n;
}

/* Does the heading hold these words, one behind the other? */
static bool holds_words(const char *heading, const char *s, size_t n)
{
    for (const char *at = heading; (at = strchr(at, s[0])) != NULL; at++)
        if ((at == heading || at[-1] == ' ') && strncmp(at, s, n) == 0 && (at[n] == ' ' || at[n] == '\0'))
            return true;
    return false;
}

static bool near_word(const char *a, const char *b, size_t n)
{
    char word[CW_FOLD_BYTES];
    if (n < 6 || n >= sizeof word)
        return false;
    memcpy(word, b, n);
    word[n] = '\0';
    return cw_distance(a, word, 1) == 1;
}

/* One of theirs against a heading: 0.95 the same, less as it is only a part. */
static double one_match(const cw_fit_column *c, const char *s, size_t n)
{
    if (same_letters(s, n, c->folded))
        return 0.95;
    if (c->bare[0] && same_letters(s, n, c->bare))
        return 0.92;
    if (n >= 2 && holds_words(c->folded, s, n))
        return 0.6 + 0.25 * (double)n / (double)strlen(c->folded);
    return near_word(c->bare, s, n) ? 0.65 : 0;
}

static double best_of(const cw_fit_column *c, const char *theirs)
{
    double best = 0;
    for (const char *s = theirs; *s;) {
        size_t n = strcspn(s, "|");
        double d = one_match(c, s, n);
        best = d > best ? d : best;
        s += n + (s[n] == '|');
    }
    return best;
}

double cw_words_match(int kind, size_t column, const cw_fit_column *c, cw_how *how)
{
    const char *ours = cw_kinds[kind].columns[column].name;
    char full[64];
    double best = 0;
    *how = CW_HOW_NAME;
    if (c->folded[0] == '\0')
        return 0;
    if (strcmp(ours, c->header) == 0)
        return 1;
    snprintf(full, sizeof full, "%s.%s", cw_kinds[kind].name, ours);
    for (size_t i = 0; i < COUNT(columns); i++)
        if (strcmp(columns[i].ours, ours) == 0 || strcmp(columns[i].ours, full) == 0) {
            double d = best_of(c, columns[i].theirs);
            best = d > best ? d : best;
        }
    if (best < 0.9)
        *how = CW_HOW_LIKE;
    return best;
}

bool cw_words_part_of_name(const cw_fit_column *c)
{
    for (size_t i = 0; i < COUNT(columns); i++)
        if (strncmp(columns[i].ours, "customer ", 9) == 0 && best_of(c, columns[i].theirs) >= 0.9)
            return true;
    return false;
}

static bool is_bare_name(const cw_fit_column *c)
{
    return strcmp(c->folded, "name") == 0 || strcmp(c->folded, "naam") == 0 || strcmp(c->folded, "nom") == 0;
}

/* "Name" heads varieties or buyers: beside a column that says outright what was bought it is the buyer's. */
bool cw_words_buyers_name(const cw_fitting *f, int kind, size_t column, const cw_fit_column *c)
{
    cw_how how;
    if (kind != CW_ORDERS || cw_column_is(&cw_kinds[kind].columns[column]) != CW_IS_VARIETY ||
        !is_bare_name(c))
        return false;
    for (unsigned i = 0; i < f->width; i++)
        if (!is_bare_name(&f->columns[i]) && f->columns[i].seen.filled > 0 &&
            cw_words_match(kind, column, &f->columns[i], &how) >= 0.9)
            return true;
    return false;
}

const char *cw_words_find(const char *allowed, const char *s, size_t n)
{
    char folded[CW_FOLD_BYTES];
    size_t length = cw_fold(s, n, '\0', folded);
    for (const char *w = allowed; *w && length > 0;) {
        size_t wide = strcspn(w, "|");
        for (size_t i = 0; i < COUNT(words); i++) {
            if (strlen(words[i].ours) != wide || memcmp(words[i].ours, w, wide) != 0)
                continue;
            for (const char *t = words[i].theirs; *t;) {
                size_t m = strcspn(t, "|");
                if (m == length && memcmp(t, folded, m) == 0)
                    return words[i].ours;
                t += m + (t[m] == '|');
            }
        }
        w += wide + (w[wide] == '|');
    }
    return NULL;
}

cw_is cw_column_is(const cw_kind_column *k)
{
    static const cw_is known[] = {
        [CW_KNOWN_VARIETY] = CW_IS_VARIETY, [CW_KNOWN_LOT] = CW_IS_LOT, [CW_KNOWN_PLACE] = CW_IS_PLACE
    };
    if (k->must >= CW_KNOWN_VARIETY)
        return known[k->must];
    switch (k->holds.type) {
    case CW_CODE_T:
        return CW_IS_CODE;
    case CW_TEXT_T:
        return k->holds.words ? CW_IS_WORD : CW_IS_TEXT;
    case CW_COUNTRY_T:
        return CW_IS_COUNTRY;
    case CW_INT_T:
        return CW_IS_INT;
    case CW_REAL_T:
        return CW_IS_REAL;
    case CW_MONEY_T:
        return CW_IS_MONEY;
    case CW_DAY_T:
        return k->must == CW_PAST ? CW_IS_PAST : k->must == CW_IN_SEASON ? CW_IS_DAY : CW_IS_DATE;
    case CW_INSTANT_T:
        return k->must == CW_PAST ? CW_IS_PAST_INSTANT : CW_IS_INSTANT;
    case CW_WEEK_T:
        return CW_IS_WEEK;
    case CW_BOOL_T:
        return CW_IS_YES;
    default:
        return CW_IS_TEXT;
    }
}

int cw_kind_column_named(int kind, const char *name)
{
    for (size_t c = 0; c < cw_kinds[kind].width; c++)
        if (strcmp(cw_kinds[kind].columns[c].name, name) == 0)
            return (int)c;
    return -1;
}

bool cw_target_named(const char *name, cw_target *out)
{
    char kind[32];
    const char *dot = strchr(name, '.');
    *out = CW_NO_TARGET;
    if (dot == NULL || (size_t)(dot - name) >= sizeof kind)
        return false;
    memcpy(kind, name, (size_t)(dot - name));
    kind[dot - name] = '\0';
    int k = cw_kind_named(kind);
    int c = k >= 0 ? cw_kind_column_named(k, dot + 1) : -1;
    if (c >= 0)
        *out = (cw_target){ k, c };
    return c >= 0;
}

void cw_target_name(cw_target t, char out[64])
{
    out[0] = '\0';
    if (t.kind >= 0)
        snprintf(out, 64, "%s.%s", cw_kinds[t.kind].name, cw_kinds[t.kind].columns[t.column].name);
}

const cw_kind_column *cw_target_column(cw_target t)
{
    return &cw_kinds[t.kind].columns[t.column];
}

bool cw_target_same(cw_target a, cw_target b)
{
    return a.kind == b.kind && a.column == b.column;
}

const char *cw_target_holds(const cw_fitting *f, cw_target t)
{
    size_t row = 0;
    if (t.kind < 0)
        return "";
    for (int k = 0; k < t.kind; k++)
        row += cw_kinds[k].width;
    return cw_table_text(&f->holds, row + (size_t)t.column, 3);
}
