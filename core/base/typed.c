/* SPDX-License-Identifier: MIT */
#include "base/typed.h"

#include "base/fold.h"
#include "base/text.h"
#include <string.h>

#include "base/banned.h"

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Blanks and apostrophes that part thousands, also the thin and the typographic ones: how many bytes, 0 if it is none. */
static size_t group_mark(const char *s, size_t n)
{
    if (n > 0 && (*s == ' ' || *s == '\'' || *s == '_'))
        return 1;
    if (n > 1 && memcmp(s, "\xC2\xA0", 2) == 0)
        return 2;
    if (n > 2 && (memcmp(s, "\xE2\x80\xAF", 3) == 0 || memcmp(s, "\xE2\x80\x89", 3) == 0 ||
                  memcmp(s, "\xE2\x80\x99", 3) == 0))
        return 3;
    return 0;
}

/* A sign that stands for a currency or a share: how many bytes. */
static size_t sign_at(const char *s, size_t n)
{
    static const char *const signs[] = { "$", "%", "\xC2\xA3", "\xE2\x82\xAC", "\xC2\xA5", "\xC2\xB0" };
    for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++)
        if (strlen(signs[i]) <= n && memcmp(s, signs[i], strlen(signs[i])) == 0)
            return strlen(signs[i]);
    return 0;
}

/* What stands before or behind the figures: a sign, or one short word. False if it is more than that. */
static bool read_unit(const char *s, size_t n, char unit[CW_TYPED_UNIT])
{
    char folded[CW_FOLD_BYTES];
    for (size_t blank = group_mark(s, n); blank; blank = group_mark(s, n)) {
        s += blank;
        n -= blank;
    }
    while (n > 0 && s[n - 1] == ' ')
        n--;
    if (n == 0)
        return true;
    if (unit[0])
        return false; /* one before and one behind */
    size_t sign = sign_at(s, n);
    if (sign && memcmp(s, "\xC2\xB0", 2) == 0)
        return read_unit(s + sign, n - sign, unit); /* degrees: C or F follows */
    if (sign && sign == n) {
        memcpy(unit, s, n);
        unit[n] = '\0';
        return true;
    }
    if (sign)
        return read_unit(s + sign, n - sign, unit) && unit[0] == '\0';
    for (size_t i = 0; i < n; i++)
        if (is_digit(s[i]) || (s[i] == '.' && i + 1 < n) || strchr(" ,;/+=()", s[i]))
            return false;
    size_t length = cw_fold(s, n, '\0', folded);
    if (length == 0 || length >= CW_TYPED_UNIT)
        return false;
    memcpy(unit, folded, length + 1);
    return true;
}

typedef struct figures {
    char digits[40]; /* with the marks '.' and ',' as they stand, other group marks as '\'' */
    size_t n;
} figures;

/* From the first digit to the last, with what marks are between. */
static bool read_figures(const char *s, size_t n, size_t *at, figures *f)
{
    size_t i = *at;
    f->n = 0;
    while (i < n && f->n + 2 < sizeof f->digits) {
        size_t group = group_mark(s + i, n - i);
        if (is_digit(s[i]) || s[i] == '.' || s[i] == ',') {
            /* A mark at the end belongs to what follows: "12." or "5,-" */
            if (!is_digit(s[i]) && (i + 1 == n || !is_digit(s[i + 1])))
                break;
            f->digits[f->n++] = s[i++];
        } else if (group && i + group + 2 < n && is_digit(s[i + group]) && is_digit(s[i + group + 1]) &&
                   is_digit(s[i + group + 2]) && (i + group + 3 == n || !is_digit(s[i + group + 3]))) {
            f->digits[f->n++] = '\'';
            i += group;
        } else {
            break;
        }
    }
    f->digits[f->n] = '\0';
    *at = i;
    return f->n > 0 && f->n + 2 < sizeof f->digits &&
           (is_digit(f->digits[0]) || f->digits[0] == '.' || f->digits[0] == ',');
}

/* Are all groups behind the first mark of three digits, up to `stop`? */
static bool grouped(const char *s, size_t stop)
{
    size_t run = 0;
    bool first = true;
    for (size_t i = 0; i <= stop; i++) {
        if (i < stop && is_digit(s[i])) {
            run++;
            continue;
        }
        if (first ? run < 1 || run > 3 : run != 3)
            return first && i == stop; /* no group at all */
        first = false;
        run = 0;
    }
    return true;
}

/* Where the decimals begin: the place of their mark, or the end. */
static bool split(const figures *f, cw_mark decimal, cw_typed_number *out, size_t *mark)
{
    const char *d = f->digits;
    size_t points = 0, commas = 0, others = 0, last = f->n;
    for (size_t i = 0; i < f->n; i++) {
        points += d[i] == '.';
        commas += d[i] == ',';
        others += d[i] == '\'';
        if (d[i] == '.' || d[i] == ',')
            last = i;
    }
    *mark = f->n;
    if (points + commas == 0)
        return grouped(d, f->n);
    size_t same = d[last] == '.' ? points : commas, behind = f->n - last - 1;
    if (same > 1) { /* 1.234.567: they part thousands, and nothing else may stand there */
        out->shows = d[last] == '.' ? CW_MARK_COMMA : CW_MARK_POINT;
        return points + commas == same && others == 0 && grouped(d, f->n) && decimal != (cw_mark)d[last];
    }
    bool both = points > 0 && commas > 0;
    bool thousands = !both && others == 0 && behind == 3 && last >= 1 && last <= 3 && d[0] != '0';
    if (!thousands) {
        out->shows = (cw_mark)d[last];
        *mark = last;
        return grouped(d, last) && (decimal == CW_MARK_OPEN || decimal == (cw_mark)d[last]);
    }
    out->open = true;
    if (decimal == (cw_mark)d[last])
        *mark = last;
    return true;
}

bool cw_typed_number_read(const char *s, size_t n, cw_mark decimal, cw_typed_number *out)
{
    size_t at = 0, mark = 0, used = 0;
    bool minus = false;
    figures f;
    *out = (cw_typed_number){ .text = "" };
    while (at < n && !is_digit(s[at]) &&
           !((s[at] == '.' || s[at] == ',') && at + 1 < n && is_digit(s[at + 1])))
        at++;
    size_t before = at;
    while (before > 0 && (s[before - 1] == ' ' || s[before - 1] == '+'))
        before--;
    if (before > 0 && s[before - 1] == '-')
        minus = true, before--;
    else if (before > 2 && memcmp(s + before - 3, "\xE2\x88\x92", 3) == 0)
        minus = true, before -= 3;
    if (!read_unit(s, before, out->unit) || !read_figures(s, n, &at, &f))
        return false;
    size_t behind = n - at;
    if (behind >= 2 && (s[at] == ',' || s[at] == '.') && s[at + 1] == '-') /* 5,- */
        at += 2, behind -= 2;
    if (!read_unit(s + at, behind, out->unit) || !split(&f, decimal, out, &mark))
        return false;
    if (minus)
        out->text[used++] = '-';
    if (mark == 0)
        out->text[used++] = '0';
    for (size_t i = 0; i < f.n && used + 1 < sizeof out->text; i++) {
        if (i == mark)
            out->text[used++] = '.';
        else if (is_digit(f.digits[i]))
            out->text[used++] = f.digits[i];
    }
    out->text[used] = '\0';
    out->plain = used == n && memcmp(out->text, s, n) == 0;
    return true;
}

bool cw_typed_yes_read(const char *s, size_t n, bool *out)
{
    static const char yes[] = " yes y ja j oui o true wahr vrai waar x 1 ",
                      no[] = " no n nein nee non false falsch faux onwaar 0 ";
    char key[CW_FOLD_BYTES + 2], folded[CW_FOLD_BYTES];
    if (n == 3 && (memcmp(s, "\xE2\x9C\x93", 3) == 0 || memcmp(s, "\xE2\x9C\x94", 3) == 0)) {
        *out = true;
        return true;
    }
    size_t length = cw_fold(s, n, '\0', folded);
    if (length == 0 || length > 10) {
        *out = false;
        return n == 1 && *s == '-';
    }
    key[0] = ' ';
    memcpy(key + 1, folded, length);
    key[length + 1] = ' ';
    key[length + 2] = '\0';
    *out = strstr(yes, key) != NULL;
    return *out || strstr(no, key) != NULL;
}
