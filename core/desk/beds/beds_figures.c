/* SPDX-License-Identifier: MIT */
#include "desk/beds/beds.h"

#include "base/limits.h"
#include "base/text.h"
#include <string.h>

#include "base/banned.h"

static const char *const fields[] = { "demand", "growth", "cost", "least", "price", "reserve" };

/* "40..90", or one number for both. */
static bool range_of(char *value, double *low, double *high)
{
    char *dots = strstr(value, "..");
    if (dots)
        *dots = '\0';
    const char *upper = dots ? dots + 2 : value;
    bool good = cw_parse_real(value, strlen(value), 0, CW_MAX_DIVISIONS, low) &&
                cw_parse_real(upper, strlen(upper), 0, CW_MAX_DIVISIONS, high) && *low <= *high;
    if (dots)
        *dots = '.';
    return good;
}

static bool value_of(char *value, cw_beds_figure *f)
{
    cw_cents cents = 0;
    int64_t whole = 0;
    bool good = false;
    f->learned = *value == '\0';
    if (f->learned)
        return true;
    switch (f->field) {
    case CW_BEDS_DEMAND:
        return range_of(value, &f->value, &f->high);
    case CW_BEDS_GROWTH:
        return cw_parse_real(value, strlen(value), 0, 100, &f->value);
    case CW_BEDS_COST:
    case CW_BEDS_PRICE:
        good = cw_cents_parse(value, strlen(value), &cents);
        f->value = (double)cents;
        return good;
    case CW_BEDS_LEAST:
    case CW_BEDS_RESERVE:
        good = cw_parse_int(value, strlen(value), 0, CW_MAX_DIVISIONS, &whole);
        f->value = (double)whole;
        return good;
    }
    return good;
}

/* One "CODE:field:value". */
static cw_code one_figure(char *piece, cw_beds_figure *f, cw_error *err)
{
    char shown[80], said[200];
    cw_copy(said, sizeof said, piece);
    char *field = strchr(piece, ':');
    char *value = field ? strchr(field + 1, ':') : NULL;
    size_t known = sizeof fields / sizeof fields[0], k = known;
    if (value) {
        *field++ = '\0';
        *value++ = '\0';
        for (k = 0; k < known && strcmp(fields[k], field) != 0; k++) {
        }
        *f = (cw_beds_figure){ .variety = piece, .field = (cw_beds_field)k };
    }
    if (k == known || !value_of(value, f))
        return cw_error_at(err, CW_USAGE, NULL, 0, "figure",
                           "must be CODE:demand:LOW..HIGH, CODE:growth:X, CODE:cost:AMOUNT, CODE:least:N, "
                           "CODE:price:AMOUNT or CODE:reserve:N: %s",
                           cw_shown(said, strlen(said), shown));
    return CW_OK;
}

cw_code cw_beds_figures_read(const char *text, cw_beds_figures *out, cw_error *err)
{
    char *rest = NULL;
    out->count = 0;
    cw_copy(out->text, sizeof out->text, text ? text : "");
    for (char *p = strtok_r(out->text, ",", &rest); p; p = strtok_r(NULL, ",", &rest)) {
        if (out->count == CW_BEDS_FIGURES)
            return cw_error_at(err, CW_USAGE, NULL, 0, "figure", "at most %d may be said at once",
                               CW_BEDS_FIGURES);
        cw_code code = one_figure(p, &out->item[out->count++], err);
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}
