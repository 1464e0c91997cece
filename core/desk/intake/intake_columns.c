/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake.h"

#include "desk/nursery/kinds.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* What a cell may hold, in words. */
static void holds(const cw_kind_column *c, char *out, size_t size)
{
    static const char *const known[] = {
        [CW_KNOWN_VARIETY] = "the code of a variety",
        [CW_KNOWN_LOT] = "a lot",
        [CW_KNOWN_PLACE] = "a place",
    };
    char text[CW_WHY_BYTES];
    const char *when = c->must == CW_PAST        ? ", in the season, not after today"
                       : c->must == CW_IN_SEASON ? ", in the season"
                                                 : "";
    if (c->must >= CW_KNOWN_VARIETY)
        snprintf(out, size, "%s", known[c->must]);
    else
        snprintf(out, size, "%s%s", cw_value_describe(&c->holds, text), when);
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
            char text[CW_WHY_BYTES + 40];
            holds(column, text, sizeof text);
            cw_put_text(out, cw_kinds[k].name);
            cw_put_text(out, column->name);
            cw_put_bool(out, cw_column_needed(column));
            cw_put_text(out, text);
        }
    }
    return cw_table_check(out, err);
}
