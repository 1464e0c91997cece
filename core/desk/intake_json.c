/* SPDX-License-Identifier: MIT */
#include "desk/intake_inside.h"

#include "base/json.h"
#include "base/text.h"
#include "store/audit.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Orders as JSON. Each line becomes the row that it would be in a CSV file, so that both are read by one code. */

/* Columns that stand on a line; the others stand on the order. */
static bool on_line(const char *name)
{
    static const char *const names[] = { "line",       "variety", "assortment", "quantity",
                                         "unit_price", "consent", "named",      "all_or_none" };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(names[i], name) == 0)
            return true;
    return false;
}

static bool known_member(const char *name, bool line)
{
    const cw_kind *k = &cw_kinds[CW_ORDERS];
    if (!line && strcmp(name, "lines") == 0)
        return true;
    for (size_t c = 0; c < k->width; c++)
        if (strcmp(k->columns[c].name, name) == 0)
            return on_line(name) == line;
    return false;
}

static cw_code check_members(const json_t *object, bool line, long row, cw_error *err)
{
    const char *name = NULL;
    const json_t *v = NULL;
    char shown[80];
    if (!json_is_object(object))
        return cw_error_at(err, CW_REFUSED, NULL, row, line ? "lines" : NULL, "an object is needed");
    json_object_foreach((json_t *)(uintptr_t)object, name, v)
    {
        if (!known_member(name, line))
            return cw_error_at(err, CW_REFUSED, NULL, row, cw_shown(name, strlen(name), shown),
                               "is not known here");
    }
    return CW_OK;
}

/* Appends the value as the CSV field that it would be; false if it has no such form. */
static bool add_value(const json_t *v, cw_text *out)
{
    const json_t *item = NULL;
    size_t i = 0;
    if (v == NULL || json_is_null(v))
        return true;
    if (json_is_string(v)) {
        cw_text_addn(out, json_string_value(v), json_string_length(v));
    } else if (json_is_integer(v)) {
        cw_text_addf(out, "%lld", (long long)json_integer_value(v));
    } else if (json_is_real(v)) {
        cw_text_addf(out, "%.10g", json_real_value(v));
    } else if (json_is_boolean(v)) {
        cw_text_add(out, json_is_true(v) ? "1" : "0");
    } else if (json_is_array(v)) {
        json_array_foreach((json_t *)(uintptr_t)v, i, item)
        {
            if (!json_is_string(item))
                return false;
            cw_text_addf(out, "%s%s", i ? " " : "", json_string_value(item));
        }
    } else {
        return false;
    }
    return true;
}

/* When the order came: as the shop says; else as on record, if it is there already; else now. */
static cw_code received(cw_intake *in, const json_t *order, char out[25], cw_error *err)
{
    bool found = false;
    const char *number = json_string_value(json_object_get(order, "order"));
    cw_instant_format(in->who->now, out);
    if (json_object_get(order, "received_at") || number == NULL)
        return CW_OK;
    cw_stmt *s = cw_db_stmt(in->db, "intake.order");
    cw_code code = cw_stmt_one(s, &found, err, "t", number);
    if (found)
        cw_instant_format(cw_col_int(s, 1), out);
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

/* One line with its order as a row. Texts stand in `bytes`, whose room does not change while fields point into it. */
static cw_code fill_row(cw_row *row, cw_field *fields, const json_t *order, const json_t *line,
                        const char *came, cw_text *bytes, cw_error *err)
{
    size_t at[CW_MAX_KIND_COLUMNS + 1];
    cw_text_clear(bytes);
    for (size_t c = 0; c < row->kind->width; c++) {
        const char *name = row->kind->columns[c].name;
        const json_t *v = json_object_get(on_line(name) ? line : order, name);
        at[c] = bytes->length;
        if (!add_value(v, bytes))
            return cw_error_at(err, CW_REFUSED, NULL, row->line, name,
                               "must be a text, a number, or yes or no");
        if (v == NULL && strcmp(name, "line") == 0)
            cw_text_addf(bytes, "%ld", row->line);
        if (v == NULL && strcmp(name, "received_at") == 0)
            cw_text_add(bytes, came);
    }
    at[row->kind->width] = bytes->length;
    if (bytes->starved)
        return cw_error_memory(err);
    if (bytes->failed)
        return cw_error_at(err, CW_REFUSED, NULL, row->line, NULL, "a line longer than %d bytes",
                           CW_MAX_RECORD_BYTES);
    for (size_t c = 0; c < row->kind->width; c++)
        fields[c] = (cw_field){ bytes->data ? bytes->data + at[c] : "", at[c + 1] - at[c] };
    return CW_OK;
}

static cw_code take_lines(cw_intake *in, cw_row *row, const json_t *order, cw_error *err)
{
    const json_t *lines = json_object_get(order, "lines"), *line = NULL;
    cw_text bytes = CW_TEXT(CW_MAX_RECORD_BYTES);
    cw_field fields[CW_MAX_KIND_COLUMNS];
    int map[CW_MAX_KIND_COLUMNS];
    char came[25] = "";
    cw_code code = check_members(order, false, 0, err);
    size_t i = 0;
    if (code == CW_OK)
        code = received(in, order, came, err);
    if (code == CW_OK && (json_array_size(lines) == 0 || json_array_size(lines) > CW_MAX_LINES_PER_ORDER))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "lines", "must be a list of 1 to %d lines",
                           CW_MAX_LINES_PER_ORDER);
    json_array_foreach((json_t *)(uintptr_t)lines, i, line)
    {
        row->line = (long)i + 1;
        row->fields = fields;
        row->map = map;
        if (code == CW_OK)
            code = check_members(line, true, row->line, err);
        for (size_t c = 0; code == CW_OK && c < row->kind->width; c++) {
            const char *name = row->kind->columns[c].name;
            bool there = json_object_get(on_line(name) ? line : order, name) != NULL;
            /* A line's place is its number unless the shop says otherwise. */
            map[c] = there || strcmp(name, "line") == 0 || strcmp(name, "received_at") == 0 ? (int)c : -1;
        }
        if (code == CW_OK)
            code = fill_row(row, fields, order, line, came, &bytes, err);
        if (code == CW_OK)
            code = cw_row_read(in, row, err);
        if (code == CW_OK)
            code = cw_intake_line(in, row, err);
    }
    cw_text_free(&bytes);
    return code;
}

static cw_code close_order(cw_intake *in, const json_t *order, cw_error *err)
{
    char subject[64], after[64];
    const cw_taken *t = &in->files[0];
    if (t->made + t->changed == 0)
        return CW_OK;
    const char *number = json_string_value(json_object_get(order, "order"));
    snprintf(subject, sizeof subject, "order %s", number ? number : "");
    snprintf(after, sizeof after, "%ld lines", t->made);
    cw_code code = cw_intake_sold(in, err);
    if (code == CW_OK)
        code = cw_audit_add(in->db, in->who->now, in->who->actor, "order", subject, NULL, after, err);
    if (code == CW_OK)
        code = cw_season_touch(in->db, false, true, err);
    return code;
}

static json_t *outcome(const cw_intake *in, const json_t *order, cw_code code)
{
    const json_t *number = json_object_get(order, "order");
    json_t *o = json_object();
    cw_json_put_take(&o, "order",
                        json_is_string(number) ? json_string(json_string_value(number)) : json_null());
    cw_json_put_take(&o, "taken", json_boolean(code == CW_OK));
    if (code == CW_OK) {
        cw_json_put_take(&o, "lines", json_integer(in->files[0].made + in->files[0].unchanged));
        cw_json_put_take(&o, "known", json_boolean(in->files[0].made == 0));
    } else if (in->sold_out.code != CW_OK) {
        cw_json_put_take(&o, "line", json_integer(in->sold_out_line));
        cw_json_put_take(&o, "variety", json_string(in->codes.variety[in->sold_out_variety].code));
        cw_json_put_take(&o, "left", json_integer(in->sold_out_left));
    }
    return o;
}

cw_code cw_intake_order(cw_nursery *n, const cw_asker *who, const json_t *order, json_t **answer,
                        cw_error *err)
{
    cw_error_list errors = { NULL, 0, 0 };
    cw_taken taken = { .name = "the shop", .base = "an order", .kind = CW_ORDERS };
    cw_intake in = { .n = n,
                     .db = n->db,
                     .who = who,
                     .api = true,
                     .codes = { .db = n->db },
                     .errors = &errors,
                     .files = &taken,
                     .file_count = 1 };
    cw_row row = { .kind = &cw_kinds[CW_ORDERS], .file = NULL };
    *answer = NULL;
    cw_code code = cw_row_open(&row, CW_MAX_RECORD_BYTES) ? cw_work_begin(n, err) : cw_error_memory(err);
    if (code != CW_OK)
        goto done;
    code = take_lines(&in, &row, order, err);
    if (code == CW_OK && errors.kept > 0) {
        *err = errors.items[0];
        code = err->code;
    } else if (code == CW_OK && errors.count > 0) {
        code = cw_error_memory(err);
    }
    if (code == CW_OK)
        code = close_order(&in, order, err);
    /* Before the end: what was taken must not be answered as an error because there was no room for the answer. */
    if (code == CW_OK || code == CW_CONFLICT)
        *answer = outcome(&in, order, code);
    if ((code == CW_OK || code == CW_CONFLICT) && *answer == NULL) {
        *err = (cw_error)CW_ERROR_NONE;
        code = cw_error_memory(err);
    }
    code = cw_work_end(n, code, err);
    if (code != CW_OK && code != CW_CONFLICT) {
        json_decref(*answer);
        *answer = NULL;
    }
done:
    cw_intake_orders_free(&in);
    cw_map_free(&in.seen);
    cw_row_close(&row);
    cw_codes_free(&in.codes);
    cw_error_list_free(&errors);
    return code;
}
