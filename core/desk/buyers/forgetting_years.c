/* SPDX-License-Identifier: MIT */
/* A buyer is taken out of this season's file and of closed ones: all are opened and looked at before the first is changed. */
#include "desk/buyers/forgetting.h"

#include "base/text.h"
#include "desk/nursery/past_inside.h"
#include "desk/buyers/forgetting_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef struct years {
    cw_nursery *file[CW_MAX_PAST + 1]; /* the open one, then those of past seasons, all for work */
    size_t count, done;
    bool found;
    cw_error unwiped; /* of the last file whose old bytes still hold what was removed */
} years;

/* Open for work means locked: nobody else writes into it until we are through. */
static cw_code open_all(years *y, const char *const *past, size_t count, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < count; i++) {
        code = cw_past_open(y->file[0], past[i], err);
        if (code == CW_OK)
            code = cw_nursery_open(past[i], CW_WORK, "clumpwise forget", &y->file[y->count], err);
        y->count += code == CW_OK;
    }
    return code;
}

static cw_code look_first(years *y, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                          cw_error *err)
{
    cw_table found = { 0 };
    cw_code code = cw_forgetting_preview(y->file[0], who, ask, &found, err);
    bool several = code == CW_CONFLICT;
    if (code == CW_OK)
        code = cw_forgetting_refuse_open(&found, err);
    if (several) { /* the caller shows whom it could mean */
        cw_table_free(out);
        *out = found;
    } else {
        cw_table_free(&found);
    }
    return code;
}

/* One file, in its own transaction and with its own audit. That nobody of the name is in it is no error: somebody is in another. */
static cw_code forget_in(years *y, cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask,
                         cw_table *out, cw_error *err)
{
    cw_table of = { 0 };
    cw_error none = CW_ERROR_NONE, wipe = CW_ERROR_NONE;
    cw_code code = cw_forgetting(n, who, ask, &of, &none);
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&of); r++) {
        cw_put_text(out, cw_table_text(&of, r, 0));
        cw_put_text(out, cw_table_text(&of, r, 1));
        cw_put_int(out, cw_table_int(&of, r, 2));
        cw_put_text(out, cw_table_text(&of, r, 3));
    }
    cw_table_free(&of);
    if (code == CW_OK && cw_forgetting_wipe(n, who->now, &wipe) != CW_OK)
        cw_error_set(&y->unwiped, CW_MACHINE, "%s: %s", cw_past_file_name(n), wipe.text);
    if (code == CW_OK || code == CW_NOT_FOUND)
        return CW_OK;
    return cw_error_set(err, code, "%s; removed in %zu of %zu files before it: call again for the rest",
                        none.text, y->done, y->count);
}

cw_code cw_forgetting_years(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask,
                            const char *const *past, size_t count, cw_table *out, cw_error *err)
{
    years y = { .file = { n }, .count = 1, .unwiped = CW_ERROR_NONE };
    cw_table_init(out, cw_forgetting_shape.columns, cw_forgetting_shape.width);
    cw_code code = open_all(&y, past, count, err);
    if (code == CW_OK)
        code = look_first(&y, who, ask, out, err);
    for (; code == CW_OK && y.done < y.count; y.done++)
        code = forget_in(&y, y.file[y.done], who, ask, out, err);
    for (size_t i = 1; i < y.count; i++)
        cw_nursery_close(y.file[i]);
    if (code == CW_OK && y.unwiped.text[0])
        code = cw_error_set(
            err, CW_MACHINE,
            "the buyer's data is removed from these orders, but old bytes of a file still hold it "
            "(%s); run forget --before with an early day to wipe again",
            y.unwiped.text);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
