/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake.h"

#include "desk/intake/kinds.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* What a cell may hold, in words. */
static void holds(const cw_kind_column *c, char *out, size_t size)
{
    static const char *const plain[] = {
        [CW_IS_CODE] = "a code",
        [CW_IS_TEXT] = "one line of text",
        [CW_IS_COUNTRY] = "a country, by its ISO 3166-1 code or by name",
        [CW_IS_DAY] = "a day of the season",
        [CW_IS_PAST] = "a day of the season, not after today",
        [CW_IS_DATE] = "a day",
        [CW_IS_INSTANT] = "an instant with offset or Z",
        [CW_IS_PAST_INSTANT] = "an instant with offset or Z, not after today",
        [CW_IS_WEEK] = "a week, as 2032-W16",
        [CW_IS_MONEY] = "an amount, as 12.50",
        [CW_IS_YES] = "yes or no",
        [CW_IS_VARIETY] = "the code of a variety",
        [CW_IS_LOT] = "a lot",
        [CW_IS_PLACE] = "a place",
    };
    if (c->is == CW_IS_WORD)
        snprintf(out, size, "one of %s", c->words);
    else if (c->is == CW_IS_INT)
        snprintf(out, size, "a whole number, %lld to %lld", (long long)c->low, (long long)c->high);
    else if (c->is == CW_IS_REAL)
        snprintf(out, size, "a number, %lld to %lld", (long long)c->low, (long long)c->high);
    else
        snprintf(out, size, "%s", plain[c->is]);
}

cw_code cw_intake_columns(const char *kind, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = { { "kind", CW_TEXT_T, 0 },
                                         { "column", CW_TEXT_T, 0 },
                                         { "required", CW_BOOL_T, 0 },
                                         { "holds", CW_TEXT_T, 0 } };
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    for (size_t k = 0; k < CW_KINDS; k++) {
        if (kind && strcmp(kind, cw_kinds[k].name) != 0)
            continue;
        for (size_t c = 0; c < cw_kinds[k].width; c++) {
            const cw_kind_column *column = &cw_kinds[k].columns[c];
            char text[200];
            holds(column, text, sizeof text);
            cw_put_text(out, cw_kinds[k].name);
            cw_put_text(out, column->name);
            cw_put_bool(out, column->need == CW_NEEDED || column->need == CW_MAY_EMPTY);
            cw_put_text(out, text);
        }
    }
    return cw_table_check(out, err);
}
