/* SPDX-License-Identifier: MIT */
#include "desk/offer/offering.h"

#include "base/limits.h"
#include "base/text.h"
#include <string.h>

#include "base/banned.h"

/* One "CODE:field:value" of what is tried; several are parted by commas. */
static cw_code one_try(char *piece, cw_offering_try *t, cw_error *err)
{
    char shown[80];
    char *field = strchr(piece, ':');
    char *value = field ? strchr(field + 1, ':') : NULL;
    bool good = value != NULL;
    if (good) {
        *field++ = '\0';
        *value++ = '\0';
        *t = (cw_offering_try){ piece, -1, -1, -1 };
        if (strcmp(field, "hold_back") == 0)
            good = cw_parse_int(value, strlen(value), 0, CW_MAX_DIVISIONS, &t->hold_back);
        else if (strcmp(field, "reserve") == 0)
            good = cw_parse_int(value, strlen(value), 0, CW_MAX_DIVISIONS, &t->reserve);
        else
            good = strcmp(field, "price") == 0 && cw_cents_parse(value, strlen(value), &t->price);
    }
    if (!good)
        return cw_error_at(err, CW_USAGE, NULL, 0, "try",
                           "must be CODE:hold_back:N, CODE:reserve:N or CODE:price:AMOUNT: %s",
                           cw_shown(piece, strlen(piece), shown));
    return CW_OK;
}

cw_code cw_offering_tries_read(const char *text, cw_offering_tries *out, cw_error *err)
{
    char *rest = NULL;
    out->count = 0;
    cw_copy(out->text, sizeof out->text, text ? text : "");
    for (char *p = strtok_r(out->text, ",", &rest); p; p = strtok_r(NULL, ",", &rest)) {
        if (out->count == CW_OFFERING_TRIES)
            return cw_error_at(err, CW_USAGE, NULL, 0, "try", "at most %d may be tried at once",
                               CW_OFFERING_TRIES);
        cw_code code = one_try(p, &out->item[out->count++], err);
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}
