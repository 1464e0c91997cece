/* SPDX-License-Identifier: MIT */
#include "base/value.h"

#include "base/country.h"
#include "base/day.h"
#include "base/limits.h"
#include "base/mail.h"
#include "base/money.h"
#include "base/text.h"
#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

const char *cw_word_next(const char **at, size_t *n)
{
    const char *w = *at;
    if (w == NULL || *w == '\0')
        return NULL;
    *n = strcspn(w, "|");
    *at = w + *n + (w[*n] == '|');
    return w;
}

bool cw_word_find(const char *words, const char *s, size_t n, int64_t *index)
{
    size_t length = 0;
    const char *w;
    *index = 0;
    while ((w = cw_word_next(&words, &length)) != NULL) {
        if (length == n && memcmp(w, s, n) == 0)
            return true;
        ++*index;
    }
    return false;
}

static bool open_range(const cw_holds *h)
{
    return h->low == 0 && h->high == 0;
}

static size_t most_bytes(const cw_holds *h)
{
    return h->type == CW_CODE_T ? CW_MAX_CODE : h->high > 0 ? (size_t)h->high : CW_MAX_NOTE;
}

static bool has_control(const cw_holds *h, const char *s, size_t n)
{
    return cw_has_control(s, n, h->type == CW_TEXT_T ? "\n\t" : "");
}

static bool text_fits(const cw_holds *h, const char *s, size_t n)
{
    return n <= most_bytes(h) && (double)n >= h->low && !has_control(h, s, n);
}

static bool code_fits(const cw_holds *h, const char *s, size_t n)
{
    return n > 0 && text_fits(h, s, n) && s[0] != ' ' && s[n - 1] != ' ';
}

static bool mail_fits(const cw_holds *h, const char *s, size_t n)
{
    char text[CW_MAX_NAME + 1];
    cw_mail_address address;
    if (n > CW_MAX_NAME || !text_fits(h, s, n))
        return false;
    memcpy(text, s, n);
    text[n] = '\0';
    return n == 0 || cw_mail_parse(text, &address);
}

static bool days_fit(const cw_holds *h, const char *s, size_t n)
{
    cw_day day = 0;
    int count = 0;
    for (size_t at = 0; at < n;) {
        const char *space = memchr(s + at, ' ', n - at);
        size_t length = space ? (size_t)(space - s) - at : n - at;
        if (!cw_day_parse(s + at, length, &day) || ++count > (int)h->high)
            return false;
        at += length + (space != NULL);
    }
    return true;
}

bool cw_value_parse(const cw_holds *h, const char *s, size_t n, cw_value *out)
{
    bool any = open_range(h), yes = false;
    cw_day day = 0;
    cw_week week = 0;
    out->t = s;
    switch (h->type) {
    case CW_TEXT_T:
        return h->words ? cw_word_find(h->words, s, n, &out->i) : text_fits(h, s, n);
    case CW_LINE_T:
        return text_fits(h, s, n);
    case CW_CODE_T:
        return code_fits(h, s, n);
    case CW_COUNTRY_T:
        out->t = cw_country_find(s, n);
        return out->t != NULL;
    case CW_MAIL_T:
        return mail_fits(h, s, n);
    case CW_DAYS_T:
        return days_fit(h, s, n);
    case CW_INT_T:
        return cw_parse_int(s, n, any ? INT64_MIN : (int64_t)h->low, any ? INT64_MAX : (int64_t)h->high,
                            &out->i);
    case CW_REAL_T:
        return cw_parse_real(s, n, any ? -1e300 : h->low, any ? 1e300 : h->high, &out->r);
    case CW_MONEY_T:
        return cw_cents_parse(s, n, &out->i);
    case CW_INSTANT_T:
        return cw_instant_parse(s, n, &out->i);
    case CW_DAY_T:
        if (!cw_day_parse(s, n, &day))
            return false;
        out->i = day;
        return true;
    case CW_WEEK_T:
        if (!cw_week_parse(s, n, &week))
            return false;
        out->i = week;
        return true;
    case CW_BOOL_T:
        if (!cw_parse_bool(s, n, &yes))
            return false;
        out->i = yes;
        return true;
    case CW_LONG_T:
    case CW_LIST_T:
        break;
    }
    return false;
}

/* A JSON text stands for all that JSON has no kind of its own for. */
static bool is_text_in_json(cw_type type)
{
    return type != CW_INT_T && type != CW_REAL_T && type != CW_BOOL_T && type != CW_LIST_T;
}

static bool is_number_in_json(cw_type type)
{
    return type == CW_INT_T || type == CW_REAL_T || type == CW_MONEY_T;
}

/* A number is an amount if it is a whole number of hundredths. */
static bool cents_of(double v, int64_t *out)
{
    double cents = v * 100;
    if (!(cents >= 0 && cents <= (double)CW_MAX_CENTS))
        return false;
    *out = (int64_t)(cents + 0.5);
    return fabs(cents - (double)*out) <= 1e-6;
}

bool cw_value_from_json(const cw_holds *h, const json_t *v, cw_value *out)
{
    if (json_is_string(v) && h->type == CW_LONG_T) {
        out->t = json_string_value(v);
        return true;
    }
    if (json_is_string(v) && is_text_in_json(h->type))
        return cw_value_parse(h, json_string_value(v), json_string_length(v), out);
    if (json_is_boolean(v) && h->type == CW_BOOL_T) {
        out->i = json_is_true(v);
        return true;
    }
    if (!json_is_number(v) || !is_number_in_json(h->type))
        return false;
    out->r = json_number_value(v);
    if (h->type == CW_MONEY_T)
        return cents_of(out->r, &out->i);
    out->i = json_is_integer(v) ? json_integer_value(v) : 0;
    return (h->type == CW_REAL_T || json_is_integer(v)) &&
           (open_range(h) || (out->r >= h->low && out->r <= h->high));
}

static const char *words_in_words(const char *words, char out[CW_WHY_BYTES])
{
    size_t n = 0, used = 0;
    const char *w;
    out[0] = '\0';
    while ((w = cw_word_next(&words, &n)) != NULL && used < CW_WHY_BYTES) {
        const char *before = used == 0 ? "" : *words ? ", " : " or ";
        used += (size_t)snprintf(out + used, CW_WHY_BYTES - used, "%s%.*s", before, (int)n, w);
    }
    return out;
}

static const char *number_in_words(const cw_holds *h, char out[CW_WHY_BYTES])
{
    bool whole = h->type == CW_INT_T;
    if (open_range(h))
        snprintf(out, CW_WHY_BYTES, "%s", whole ? "a whole number" : "a number");
    else if (whole)
        snprintf(out, CW_WHY_BYTES, "a whole number from %.0f to %.0f", h->low, h->high);
    else
        snprintf(out, CW_WHY_BYTES, "a number from %.15g to %.15g", h->low, h->high);
    return out;
}

const char *cw_value_describe(const cw_holds *h, char out[CW_WHY_BYTES])
{
    static const char *const plain[] = {
        [CW_TEXT_T] = "a text",
        [CW_LONG_T] = "a text",
        [CW_LINE_T] = "one line of text",
        [CW_CODE_T] = "a code",
        [CW_COUNTRY_T] = "a country of ISO 3166-1, by its code or by name",
        [CW_MAIL_T] = "an e-mail address, such as office@nursery.example or The Nursery "
                      "<office@nursery.example>",
        [CW_MONEY_T] = "an amount of money, as 12.50, never negative",
        [CW_DAY_T] = "a day that exists, as 2032-04-19",
        [CW_INSTANT_T] = "an instant with its offset, as 2032-01-31T09:15:00Z or ...+01:00",
        [CW_WEEK_T] = "an ISO week that exists, as 2032-W16",
        [CW_BOOL_T] = "yes or no (1/0, yes/no, true/false)",
        [CW_LIST_T] = "a list",
    };
    if (h->words)
        return words_in_words(h->words, out);
    if (h->type == CW_INT_T || h->type == CW_REAL_T)
        return number_in_words(h, out);
    if (h->type == CW_DAYS_T)
        snprintf(out, CW_WHY_BYTES, "at most %.0f days, as 2032-04-19", h->high);
    else
        snprintf(out, CW_WHY_BYTES, "%s", plain[h->type]);
    return out;
}

/* What a text that is any text at all does wrong. */
static bool text_why(const cw_holds *h, const char *s, size_t n, char out[CW_WHY_BYTES])
{
    bool texts = (h->type == CW_TEXT_T && h->words == NULL) || h->type == CW_LINE_T || h->type == CW_CODE_T ||
                 h->type == CW_MAIL_T;
    if (texts && (n > most_bytes(h) || (double)n < h->low)) {
        if (n == 0)
            snprintf(out, CW_WHY_BYTES, "must not be empty");
        else
            snprintf(out, CW_WHY_BYTES, "must be at most %zu bytes", most_bytes(h));
        return true;
    }
    if (texts && has_control(h, s, n)) {
        snprintf(out, CW_WHY_BYTES, "%s",
                 h->type == CW_TEXT_T ? "must not have control characters"
                                      : "must be one line without control characters");
        return true;
    }
    if (h->type == CW_CODE_T)
        snprintf(out, CW_WHY_BYTES, "must not begin or end with a space");
    return h->type == CW_CODE_T;
}

const char *cw_value_why(const cw_holds *h, const char *s, size_t n, char out[CW_WHY_BYTES])
{
    char what[CW_WHY_BYTES], shown[80];
    bool comma = h->type == CW_REAL_T && n > 0 && memchr(s, ',', n);
    if (h->type == CW_LONG_T || h->type == CW_LIST_T)
        snprintf(what, sizeof what, "cannot stand in an address");
    else if (!text_why(h, s, n, what)) {
        char described[CW_WHY_BYTES];
        snprintf(what, sizeof what, "must be %.300s%s", cw_value_describe(h, described),
                 comma ? ", with a decimal point" : "");
    }
    if (n == 0)
        snprintf(out, CW_WHY_BYTES, "%s", what);
    else
        snprintf(out, CW_WHY_BYTES, "%.300s: %s", what, cw_shown(s, n, shown));
    return out;
}

const char *cw_value_why_json(const cw_holds *h, const json_t *v, char out[CW_WHY_BYTES])
{
    static const char *const kinds[] = {
        [JSON_OBJECT] = "an object",    [JSON_ARRAY] = "a list",  [JSON_STRING] = "a text",
        [JSON_INTEGER] = "a number",    [JSON_REAL] = "a number", [JSON_TRUE] = "true or false",
        [JSON_FALSE] = "true or false", [JSON_NULL] = "nothing",
    };
    char what[CW_WHY_BYTES];
    if (json_is_string(v) && is_text_in_json(h->type))
        return cw_value_why(h, json_string_value(v), json_string_length(v), out);
    cw_value_describe(h, what);
    if (h->type == CW_BOOL_T)
        snprintf(what, sizeof what, "true or false");
    if (json_is_number(v) && is_number_in_json(h->type))
        snprintf(out, CW_WHY_BYTES, "must be %.300s: %.15g", what, json_number_value(v));
    else
        snprintf(out, CW_WHY_BYTES, "must be %.300s, not %s", what, kinds[json_typeof(v)]);
    return out;
}

/* A number of `decimals` places as printf would round it. Scaled and rounded as whole numbers where that is sure to be the same:
 * not for large numbers, nor close to the middle between two. */
static size_t format_real(double v, int decimals, char *out, size_t size)
{
    static const double power[] = { 1, 10, 100, 1e3, 1e4, 1e5, 1e6 };
    if (decimals >= 0 && decimals <= 6 && fabs(v) < 1e6) {
        double scaled = fabs(v) * power[decimals], whole = floor(scaled);
        if (fabs(scaled - whole - 0.5) > 1e-4) {
            int64_t units = (int64_t)whole + (scaled - whole > 0.5);
            char digits[24];
            size_t n = 0, used = 0;
            do
                digits[n++] = (char)('0' + units % 10);
            while ((units /= 10) > 0 || n <= (size_t)decimals);
            if (signbit(v))
                out[used++] = '-';
            while (n > 0) {
                out[used++] = digits[--n];
                if (decimals > 0 && n == (size_t)decimals)
                    out[used++] = '.';
            }
            return used;
        }
    }
    return (size_t)snprintf(out, size, "%.*f", decimals, v);
}

size_t cw_value_format(cw_type type, int decimals, const cw_value *v, char out[CW_CELL_BYTES])
{
    switch (type) {
    case CW_INT_T:
        return cw_format_int(v->i, out);
    case CW_REAL_T:
        return format_real(v->r, decimals, out, CW_CELL_BYTES);
    case CW_MONEY_T:
        cw_cents_format(v->i, out);
        break;
    case CW_DAY_T:
        cw_day_format((cw_day)v->i, out);
        break;
    case CW_INSTANT_T:
        cw_instant_format(v->i, out);
        break;
    case CW_WEEK_T:
        cw_week_format((cw_week)v->i, out);
        break;
    case CW_BOOL_T:
        cw_copy(out, CW_CELL_BYTES, v->i ? "yes" : "no");
        break;
    default:
        assert(false);
        out[0] = '\0';
    }
    return strlen(out);
}
