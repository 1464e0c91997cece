/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A fit from outside: anything may stand in it. */

static const char *text_of(const json_t *o, const char *name)
{
    const json_t *v = json_object_get(o, name);
    return json_is_string(v) ? json_string_value(v) : NULL;
}

static cw_code bad(cw_error *err, const char *what, const char *text)
{
    char shown[80];
    return cw_error_set(err, CW_REFUSED, "%s: %s", what, cw_shown(text, strlen(text), shown));
}

static cw_code told_names(cw_fitting *f, const json_t *list, cw_error *err)
{
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *o = json_array_get(list, i);
        const char *text = text_of(o, "text"), *code = text_of(o, "code");
        char folded[CW_FOLD_BYTES];
        if (text == NULL || strlen(text) > CW_MAX_NOTE || (code && strlen(code) > CW_MAX_CODE))
            return bad(err, "a name in the fit needs a text, and a code of at most 32 bytes",
                       text ? text : "");
        size_t n = cw_fold(text, strlen(text), '\0', folded);
        cw_named *grown = realloc(f->named, (f->named_count + 1) * sizeof *grown);
        if (grown == NULL)
            return cw_error_memory(err);
        f->named = grown;
        cw_named *added = &grown[f->named_count];
        *added = (cw_named){ .text = strdup(text), .is_new = json_is_true(json_object_get(o, "new")) };
        if (added->text == NULL)
            return cw_error_memory(err);
        f->named_count++;
        cw_copy(added->code, sizeof added->code, code ? code : "");
        int64_t *at = cw_map_put(&f->named_at, folded, n, NULL);
        if (at == NULL)
            return cw_error_memory(err);
        *at = (int64_t)f->named_count;
    }
    return CW_OK;
}

static cw_code told_constants(cw_fitting *f, const json_t *list, cw_error *err)
{
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *o = json_array_get(list, i);
        const char *field = text_of(o, "field"), *value = text_of(o, "value");
        cw_target to;
        if (field == NULL || !cw_target_named(field, &to))
            return bad(err, "the fit names a column that there is not", field ? field : "");
        if (value == NULL || strlen(value) > CW_MAX_NAME || f->constant_count == MOST_CONSTANTS)
            return bad(err, "the fit gives no value, or one too many, for", field);
        if (cw_fit_constant(f, to))
            continue; /* the first counts: what is told stands before what was kept */
        cw_constant *c = &f->constants[f->constant_count++];
        c->to = to;
        cw_copy(c->value, sizeof c->value, value);
    }
    return CW_OK;
}

static cw_code told_marks(cw_fitting *f, const json_t *told, cw_error *err)
{
    const char *decimal = text_of(told, "decimal"), *dates = text_of(told, "dates");
    if (decimal && !f->decimal_told) {
        if (strcmp(decimal, ".") != 0 && strcmp(decimal, ",") != 0)
            return bad(err, "decimals stand behind . or ,", decimal);
        f->decimal = (cw_mark)decimal[0];
        f->decimal_told = true;
    }
    if (dates && !f->dates_told) {
        if (strcmp(dates, "dmy") != 0 && strcmp(dates, "mdy") != 0)
            return bad(err, "dates are dmy or mdy", dates);
        f->dates = strcmp(dates, "dmy") == 0 ? CW_ORDER_DMY : CW_ORDER_MDY;
        f->dates_told = true;
    }
    return CW_OK;
}

cw_code cw_fit_told(cw_fitting *f, const json_t *told, cw_error *err)
{
    const char *kind = text_of(told, "kind"), *charset = text_of(told, "charset");
    if (kind == NULL)
        kind = f->file->kind;
    if (kind) {
        f->kind = cw_kind_named(kind);
        f->kind_told = true;
        if (f->kind < 0)
            return bad(err, "there is no such kind of file", kind);
    }
    if (charset) {
        f->charset = cw_charset_named(charset);
        if (f->charset == CW_CHARSET_UNKNOWN)
            return bad(err, "there is no such encoding", charset);
    }
    cw_code code = told_marks(f, told, err);
    if (code == CW_OK)
        code = told_names(f, json_object_get(told, "names"), err);
    return code == CW_OK ? told_constants(f, json_object_get(told, "constants"), err) : code;
}

cw_code cw_fit_told_sheet(cw_fitting *f, const json_t *told, cw_error *err)
{
    const char *sheet = text_of(told, "sheet");
    const json_t *header = json_object_get(told, "header");
    for (size_t i = 0; sheet && f->book.workbook && i < f->book.count && !f->sheet_told; i++)
        if (strcmp(f->book.sheets[i].name, sheet) == 0) {
            f->sheet_at = (int)i;
            f->sheet_told = true;
        }
    if (sheet && f->book.workbook && !f->sheet_told)
        return bad(err, "the workbook has no sheet of this name", sheet);
    if (!json_is_integer(header) || (f->book.workbook && !f->sheet_told && f->book.count > 1))
        return CW_OK;
    const cw_sheet *s = &f->book.sheets[f->sheet_at];
    f->header_told = json_integer_value(header) == 0;
    f->header = -1;
    for (size_t r = 0; r < s->row_count && !f->header_told; r++)
        if (s->rows[r].number == json_integer_value(header)) {
            f->header = (long)r;
            f->header_told = true;
        }
    return f->header_told
               ? CW_OK
               : cw_error_set(err, CW_REFUSED, "nothing stands in row %lld, which the fit calls the headings",
                              (long long)json_integer_value(header));
}

cw_code cw_fit_told_columns(cw_fitting *f, const json_t *told, bool kept, cw_error *err)
{
    const json_t *list = json_object_get(told, "columns");
    for (size_t c = 0; c < json_array_size(list) && c < f->width; c++) {
        const json_t *v = json_array_get(list, c);
        cw_fit_column *column = &f->columns[c];
        if (!json_is_string(v))
            continue;
        column->to = CW_NO_TARGET;
        column->heads = false;
        if (json_string_length(v) > 0 &&
            !cw_fit_column_named(json_string_value(v), &column->to, &column->heads))
            return bad(err, "the fit names a column that there is not", json_string_value(v));
        column->how = kept ? CW_HOW_KEPT : CW_HOW_TOLD;
        column->sure = 1;
    }
    return CW_OK;
}

json_t *cw_fit_json(const cw_fitting *f)
{
    json_t *o = json_object(), *columns = json_array(), *constants = json_array(), *names = json_array();
    const char mark[2] = { (char)f->decimal, '\0' };
    char name[CW_FIT_NAME];
    for (unsigned c = 0; c < f->width; c++) {
        cw_fit_column_name(&f->columns[c], name);
        cw_json_append_take(&columns, json_string(name));
    }
    for (size_t i = 0; i < f->constant_count; i++) {
        cw_target_name(f->constants[i].to, name);
        cw_json_append_take(&constants,
                            json_pack("{s:s,s:s}", "field", name, "value", f->constants[i].value));
    }
    for (size_t i = 0; i < f->named_count; i++)
        cw_json_append_take(&names, json_pack("{s:s,s:s,s:b}", "text", f->named[i].text, "code",
                                              f->named[i].code, "new", f->named[i].is_new));
    cw_json_put_take(&o, "sheet", f->book.workbook ? json_string(f->sheet->name) : json_null());
    cw_json_put_take(&o, "header", json_integer(f->header >= 0 ? f->sheet->rows[f->header].number : 0));
    cw_json_put_take(&o, "kind", f->kind >= 0 ? json_string(cw_kinds[f->kind].name) : json_null());
    cw_json_put_take(&o, "columns", columns);
    cw_json_put_take(&o, "decimal", cw_json_known(mark));
    cw_json_put_take(&o, "dates",
                     cw_json_known(f->dates == CW_ORDER_DMY   ? "dmy"
                                   : f->dates == CW_ORDER_MDY ? "mdy"
                                                              : ""));
    cw_json_put_take(&o, "charset",
                     f->charset == CW_CHARSET_UNKNOWN ? json_null()
                                                      : json_string(cw_charset_name(f->charset)));
    cw_json_put_take(&o, "constants", constants);
    cw_json_put_take(&o, "names", names);
    return o;
}
