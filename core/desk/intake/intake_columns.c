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

/* What a field for it asks for. */
static const char *type_of(const cw_kind_column *c)
{
    static const char *const names[] = {
        [CW_INT_T] = "whole",       [CW_REAL_T] = "number", [CW_MONEY_T] = "money", [CW_DAY_T] = "day",
        [CW_INSTANT_T] = "instant", [CW_WEEK_T] = "week",   [CW_BOOL_T] = "yes",
    };
    static const char *const known[] = {
        [CW_KNOWN_VARIETY] = "variety",
        [CW_KNOWN_LOT] = "lot",
        [CW_KNOWN_PLACE] = "place",
    };
    if (c->must >= CW_KNOWN_VARIETY)
        return known[c->must];
    return (size_t)c->holds.type < sizeof names / sizeof names[0] && names[c->holds.type]
               ? names[c->holds.type]
               : "text";
}

static const cw_column columns_columns[] = {
    { "kind", CW_TEXT_T },
    { "column", CW_TEXT_T },
    { "required", CW_BOOL_T },
    { "holds", CW_TEXT_T },
    { "key", CW_BOOL_T, .says = "Rows that agree in these are one row." },
    { "type", CW_TEXT_T, .words = "whole|number|money|day|instant|week|yes|variety|lot|place|text" },
    { "words", CW_TEXT_T, .null = true, .says = "It is one of these, parted by bars." },
};
const cw_shape cw_intake_columns_shape = CW_ROWS(columns_columns);

cw_code cw_intake_columns(const char *kind, cw_table *out, cw_error *err)
{
    cw_table_init(out, columns_columns, CW_WIDTH(columns_columns));
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
            cw_put_bool(out, column->key);
            cw_put_text(out, type_of(column));
            cw_put_text(out, column->holds.type == CW_TEXT_T ? column->holds.words : NULL);
        }
    }
    return cw_table_check(out, err);
}
