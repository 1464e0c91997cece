/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_inside.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static cw_code enter_row(cw_intake *in, cw_row *row, const cw_saying *const *said, cw_error *err)
{
    cw_code code = CW_OK;
    cw_row_begin(row);
    for (size_t c = 0; c < row->kind->width && code == CW_OK; c++)
        code = cw_row_say(in, row, c, said[c], err);
    bool fact = !cw_kind_keyed(row->kind);
    if (code == CW_OK)
        code = fact ? cw_intake_fact(in, row, err) : cw_intake_plain(in, row, err);
    if (code == CW_OK && in->errors->count == 0)
        code = fact ? cw_intake_facts_enter(in, err) : cw_intake_field_end(in, err);
    if (code == CW_OK && in->errors->count > 0) {
        if (in->errors->kept == 0)
            return cw_error_memory(err);
        const cw_error *e = &in->errors->items[0];
        code = cw_error_at(err, e->code, NULL, 0, e->column, "%s", e->text);
    }
    return code;
}

const cw_saying *cw_saying_text(cw_saying *room, const char *text)
{
    if (text)
        *room = (cw_saying){ .t = text, .n = strlen(text) };
    return text ? room : NULL;
}

const cw_saying *cw_saying_number(cw_saying *room, int64_t number)
{
    *room = (cw_saying){ .i = number };
    return number == CW_NOT_SAID ? NULL : room;
}

const cw_saying *cw_saying_day(cw_saying *room, const cw_asker *who, cw_day day)
{
    *room = (cw_saying){ .i = day == CW_NO_DAY ? who->today : day };
    return room;
}

cw_code cw_intake_one(cw_nursery *n, const cw_asker *who, cw_kind_id kind, const cw_saying *const *said,
                      int64_t *id, cw_error *err)
{
    cw_error_list errors = { NULL, 0, 0 };
    cw_taken form = { .name = "form", .base = "", .kind = kind };
    cw_asker quiet = *who;
    quiet.progress = NULL;
    cw_intake in = { .n = n,
                     .db = n->db,
                     .who = &quiet,
                     .codes = { .db = n->db },
                     .errors = &errors,
                     .files = &form,
                     .file_count = 1 };
    cw_row row = { .kind = &cw_kinds[kind], .file = NULL };
    assert(kind == CW_DIVISIONS || kind == CW_CHECKS || kind == CW_COUNTS || kind == CW_LOTS ||
           kind == CW_PLANTINGS || kind == CW_FIELD_ROUNDS);
    cw_code code = enter_row(&in, &row, said, err);
    *id = in.last_id;
    cw_map_free(&in.seen);
    cw_codes_free(&in.codes);
    cw_error_list_free(&errors);
    free(in.facts);
    free(in.touched);
    free(in.same);
    return code;
}
