/* SPDX-License-Identifier: MIT */
#include "desk/nursery/kinds.h"

#include "base/limits.h"
#include <ctype.h>
#include <string.h>

#include "base/banned.h"

/* kinds.def is read three times: for what intake asks of the columns, for how a table has them, and for how many are kept. */
#define KIND(id, name, one, about, raises)    static const cw_kind_column name##_columns[] = {
#define COLUMN(column, type_of, needed, more) { #column, .holds.type = (type_of), .need = (needed), more },
#define END(name)                                                                                            \
    }                                                                                                        \
    ;
#define ANY
#define FROM_TO(from, to) .holds.low = (from), .holds.high = (to),
#define BYTES(most)       .holds.high = (most),
#define DECIMALS(n)       .holds.decimals = (n),
#define WORDS(set)        .holds.words = cw_words_##set,
#define MUST(what)        .must = CW_##what,
#define KEY               .key = true,
#define REPEATS           .repeats = true,
#define NOT_KEPT          .not_kept = true,
#include "desk/nursery/kinds.def"
#undef KIND
#undef COLUMN
#undef FROM_TO
#undef BYTES
#undef DECIMALS
#undef WORDS
#undef MUST
#undef KEY
#undef REPEATS
#undef NOT_KEPT

#undef END
#define KIND(id, name, one, about, raises) static const cw_column name##_cells[] = {
#define COLUMN(column, type_of, needed, more)                                                                \
    { #column, CW_CELL_TYPE(type_of), .null = (needed) == CW_MAY_LACK || (needed) == CW_MAY_EMPTY, more },
/* clang-format off */
#define END(name) { "version", CW_INT_T } }; /* behind them, for a page whose rows are edited */
/* clang-format on */
#define FROM_TO(from, to)
#define BYTES(most)
#define DECIMALS(n) .decimals = (n),
#define WORDS(set)  .words = cw_words_##set,
#define MUST(what)
#define KEY
#define REPEATS
#define NOT_KEPT
#include "desk/nursery/kinds.def"
#undef KIND
#undef COLUMN
#undef END
#undef DECIMALS
#undef WORDS
#undef NOT_KEPT

#define KIND(id, name, one, about, raises)    enum { name##_kept = 0
#define COLUMN(column, type_of, needed, more) +1 more
#define END(name)                                                                                            \
    }                                                                                                        \
    ;
#define DECIMALS(n)
#define WORDS(set)
#define NOT_KEPT -1
#include "desk/nursery/kinds.def"
#undef KIND
#undef COLUMN
#undef END

const cw_shape cw_kind_varieties_shape = { .list = true,
                                           .columns = varieties_cells,
                                           .width = varieties_kept + 1 };

const cw_kind cw_kinds[CW_KINDS] = {
#define KIND(id, name, one, about, raises)                                                                   \
    [id] = { #name, one, about, name##_columns, name##_cells, CW_WIDTH(name##_columns), name##_kept, raises },
#define COLUMN(column, type_of, needed, more)
#define END(name)
#include "desk/nursery/kinds.def"
};

bool cw_kind_keyed(const cw_kind *k)
{
    return k->columns[0].key;
}

bool cw_column_needed(const cw_kind_column *c)
{
    return c->need == CW_NEEDED || c->need == CW_MAY_EMPTY;
}

bool cw_column_text(const cw_kind_column *c)
{
    return CW_CELL_TYPE(c->holds.type) == CW_TEXT_T && c->must < CW_KNOWN_VARIETY;
}

int cw_kind_named(const char *name)
{
    for (int k = 0; k < CW_KINDS; k++)
        if (strcmp(cw_kinds[k].name, name) == 0)
            return k;
    return -1;
}

int cw_kind_of_file(const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *base = slash ? slash + 1 : path;
    for (int k = 0; k < CW_KINDS; k++) {
        size_t n = strlen(cw_kinds[k].name);
        if (strncmp(base, cw_kinds[k].name, n) == 0 && !isalpha((unsigned char)base[n]))
            return k;
    }
    return -1;
}

bool cw_kind_week_in_season(cw_day ship, cw_week week)
{
    cw_day monday = cw_week_monday(week);
    return monday + 6 > ship - CW_WINDOW_BEFORE && monday <= ship + CW_WINDOW_BEFORE;
}
