/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A doubt's answer becomes a part of the fit. The page does the same (web/orders/fit.js). */

static const char *text_of(const json_t *o, const char *name)
{
    const char *s = json_string_value(json_object_get(o, name));
    return s ? s : "";
}

static cw_code put(json_t *fit, const char *name, json_t *value, cw_error *err)
{
    return json_object_set_new(fit, name, value) == 0 ? CW_OK : cw_error_memory(err);
}

static json_t *list_in(json_t *fit, const char *name)
{
    json_t *list = json_object_get(fit, name);
    if (!json_is_array(list) && json_object_set_new(fit, name, json_array()) != 0)
        return NULL;
    return json_object_get(fit, name);
}

/* The column at an index; those before it that nothing was said of are to be found out. */
static cw_code put_column(json_t *fit, size_t at, const char *field, cw_error *err)
{
    json_t *list = list_in(fit, "columns");
    if (list == NULL)
        return cw_error_memory(err);
    while (json_array_size(list) <= at)
        if (json_array_append_new(list, json_null()) != 0)
            return cw_error_memory(err);
    return json_array_set_new(list, at, json_string(field)) == 0 ? CW_OK : cw_error_memory(err);
}

static cw_code append(json_t *fit, const char *name, json_t *value, cw_error *err)
{
    json_t *list = list_in(fit, name);
    if (list == NULL) {
        json_decref(value);
        return cw_error_memory(err);
    }
    return json_array_append_new(list, value) == 0 ? CW_OK : cw_error_memory(err);
}

/* "BC" -> its index. */
static size_t column_index(const char *letters)
{
    size_t c = 0;
    for (; *letters >= 'A' && *letters <= 'Z' && c < CW_MAX_SHEET_COLUMNS; letters++)
        c = c * 26 + (size_t)(*letters - 'A' + 1);
    return c ? c - 1 : 0;
}

/* "D E F": each of them. */
static cw_code put_columns(json_t *fit, const char *letters, const char *field, cw_error *err)
{
    cw_code code = CW_OK;
    for (const char *s = letters; *s && code == CW_OK;) {
        size_t c = column_index(s);
        if (c >= CW_MAX_SHEET_COLUMNS)
            return cw_error_set(err, CW_REFUSED, "the doubt names a column that no sheet has: %zu", c);
        code = put_column(fit, c, field, err);
        s += strcspn(s, " ");
        s += strspn(s, " ");
    }
    return code;
}

cw_code cw_sheets_answer(json_t *fit, const json_t *doubt, const char *value, cw_error *err)
{
    const char *what = text_of(doubt, "what"), *field = text_of(doubt, "field"),
               *text = text_of(doubt, "text");
    size_t at = (size_t)json_integer_value(json_object_get(doubt, "at"));
    if (at >= CW_MAX_SHEET_COLUMNS)
        return cw_error_set(err, CW_REFUSED, "the doubt names a column that no sheet has: %zu", at);
    if (strcmp(what, "column") == 0)
        return put_column(fit, at, value, err);
    if (strcmp(what, "rival") == 0) {
        size_t chosen = column_index(value);
        cw_code code = chosen == at || chosen >= CW_MAX_SHEET_COLUMNS ? CW_OK : put_column(fit, at, "", err);
        return code == CW_OK && chosen < CW_MAX_SHEET_COLUMNS ? put_column(fit, chosen, field, err) : code;
    }
    if (strcmp(what, "headings") == 0)
        return put_columns(fit, text, value, err);
    if (strcmp(what, "missing") == 0)
        return append(fit, "constants", json_pack("{s:s,s:s}", "field", field, "value", value), err);
    if (strcmp(what, "name") == 0)
        return append(fit, "names",
                      json_pack("{s:s,s:s,s:b}", "text", text, "code", value + (value[0] == '+'), "new",
                                value[0] == '+'),
                      err);
    return put(fit, what, json_string(value), err); /* sheet, kind, decimal, dates */
}
