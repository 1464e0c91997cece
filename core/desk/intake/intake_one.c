/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_inside.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static size_t all_bytes(const cw_kind *kind, const char *const *values)
{
    size_t n = 0;
    for (size_t c = 0; c < kind->width; c++)
        n += values[c] ? strlen(values[c]) : 0;
    return n;
}

static cw_code enter_row(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_code code = cw_row_read(in, row, err);
    if (code == CW_OK)
        code = cw_intake_fact(in, row, err);
    if (code == CW_OK && in->errors->count == 0)
        code = cw_intake_facts_enter(in, err);
    if (code == CW_OK && in->errors->count > 0) {
        if (in->errors->kept == 0)
            return cw_error_memory(err);
        const cw_error *e = &in->errors->items[0];
        code = cw_error_at(err, e->code, NULL, 0, e->column, "%s", e->text);
    }
    return code;
}

cw_code cw_intake_one(cw_nursery *n, const cw_asker *who, cw_kind_id kind, const char *const *values,
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
    cw_field fields[CW_MAX_KIND_COLUMNS];
    int map[CW_MAX_KIND_COLUMNS];
    assert(kind == CW_DIVISIONS || kind == CW_CHECKS || kind == CW_COUNTS);
    for (size_t c = 0; c < row.kind->width; c++) {
        fields[c] = (cw_field){ values[c] ? values[c] : "", values[c] ? strlen(values[c]) : 0 };
        map[c] = values[c] ? (int)c : -1;
    }
    row.fields = fields;
    row.map = map;
    cw_code code =
        cw_row_open(&row, all_bytes(row.kind, values)) ? enter_row(&in, &row, err) : cw_error_memory(err);
    *id = in.last_id;
    cw_row_close(&row);
    cw_map_free(&in.seen);
    cw_codes_free(&in.codes);
    cw_error_list_free(&errors);
    free(in.facts);
    return code;
}
