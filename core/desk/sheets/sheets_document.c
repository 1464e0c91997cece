/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* What is shown of a fit: the document and its shape side by side. */

static const cw_shape constant_shape = {
    .list = true, .parts = (const cw_part[]){ { "field", CW_TEXT_T }, { "value", CW_TEXT_T }, { 0 } }
};
static const cw_shape named_shape = {
    .list = true,
    .parts =
        (const cw_part[]){
            { "text", CW_TEXT_T, .says = "As the sheet has it." },
            { "code", CW_TEXT_T, .lack = true, .says = "The variety that is meant, or the new one's." },
            { "new", CW_BOOL_T, .lack = true, .says = "It is a variety that there is not yet." },
            { 0 } }
};
static json_t *columns_schema(void)
{
    return json_pack("{s:s,s:{s:[s,s]},s:s}", "type", "array", "items", "type", "string", "null",
                     "description",
                     "For each column of the sheet one of ours (lots.variety), \"\" where it is not used, "
                     "null to be found out.");
}
static const cw_shape told_columns_shape = { .make = columns_schema };

const cw_shape cw_sheets_fit_shape = {
    .parts =
        (const cw_part[]){
            { "sheet", CW_TEXT_T, .null = true, .lack = true },
            { "header", CW_INT_T, .null = true, .lack = true,
              .says = "Row of the headings; 0: there are none." },
            { "kind", CW_TEXT_T, .null = true, .lack = true },
            { "columns", .shape = &told_columns_shape, .null = true, .lack = true },
            { "decimal", CW_TEXT_T, .null = true, .lack = true, .says = "What parts decimals: . or ," },
            { "dates", CW_TEXT_T, .null = true, .lack = true, .says = "dmy or mdy" },
            { "charset", CW_TEXT_T, .null = true, .lack = true },
            { "constants", .shape = &constant_shape, .lack = true, .says = "What is the same for all rows." },
            { "names", .shape = &named_shape, .lack = true },
            { 0 },
        }
};

static const cw_shape sheets_shape = {
    .list = true,
    .parts = (const cw_part[]){ { "name", CW_TEXT_T }, { "rows", CW_INT_T }, { "hidden", CW_BOOL_T }, { 0 } }
};
static const cw_shape columns_shape = {
    .list = true,
    .parts = (const cw_part[]){ { "column", CW_TEXT_T, .says = "A, B ..." },
                                { "header", CW_TEXT_T },
                                { "field", CW_TEXT_T, .says = "One of ours, or empty." },
                                { "how", CW_TEXT_T, .words = "none|name|like|content|kept|told" },
                                { "sure", CW_REAL_T, .says = "0 to 1" },
                                { "filled", CW_INT_T, .says = "Cells in which something stands." },
                                { "samples", .shape = &cw_shape_texts },
                                { 0 } }
};
static const cw_shape fields_shape = { .list = true,
                                       .parts = (const cw_part[]){ { "field", CW_TEXT_T },
                                                                   { "kind", CW_TEXT_T },
                                                                   { "column", CW_TEXT_T },
                                                                   { "required", CW_BOOL_T },
                                                                   { "holds", CW_TEXT_T },
                                                                   { 0 } } };
static const cw_shape choices_shape = {
    .list = true, .parts = (const cw_part[]){ { "value", CW_TEXT_T }, { "says", CW_TEXT_T }, { 0 } }
};
static const cw_shape doubts_shape = { .list = true,
                                       .parts = (const cw_part[]){
                                           { "what", CW_TEXT_T,
                                             .words = "sheet|kind|column|rival|headings|missing|"
                                                      "decimal|dates|name" },
                                           { "at", CW_INT_T, .null = true, .says = "Index of the column." },
                                           { "header", CW_TEXT_T, .null = true },
                                           { "field", CW_TEXT_T, .null = true },
                                           { "row", CW_INT_T, .null = true },
                                           { "text", CW_TEXT_T, .null = true },
                                           { "says", CW_TEXT_T },
                                           { "choices", .shape = &choices_shape },
                                           { 0 } } };
static const cw_shape problems_shape = {
    .list = true,
    .parts = (const cw_part[]){ { "sheet", CW_TEXT_T },
                                { "row", CW_INT_T, .null = true },
                                { "column", CW_TEXT_T, .null = true, .says = "A, B ..." },
                                { "at", CW_INT_T, .null = true },
                                { "header", CW_TEXT_T, .null = true },
                                { "field", CW_TEXT_T, .null = true },
                                { "text", CW_TEXT_T, .null = true, .says = "What stands there." },
                                { "says", CW_TEXT_T },
                                { "accepts", CW_TEXT_T, .null = true },
                                { 0 } }
};
static const cw_shape made_shape = {
    .list = true,
    .parts = (const cw_part[]){ { "kind", CW_TEXT_T }, { "text", CW_TEXT_T }, { "code", CW_TEXT_T }, { 0 } }
};
static const cw_shape passed_shape = {
    .list = true,
    .parts = (const cw_part[]){ { "row", CW_INT_T }, { "text", CW_TEXT_T }, { "why", CW_TEXT_T }, { 0 } }
};
static const cw_shape cells_shape = { .list = true,
                                      .parts = (const cw_part[]){ { "text", CW_TEXT_T },
                                                                  { "becomes", CW_TEXT_T, .null = true },
                                                                  { "wrong", CW_TEXT_T, .null = true },
                                                                  { 0 } } };
static const cw_shape rows_shape = {
    .list = true, .parts = (const cw_part[]){ { "row", CW_INT_T }, { "cells", .shape = &cells_shape }, { 0 } }
};
static const cw_shape counts_shape = {
    .list = true, .parts = (const cw_part[]){ { "kind", CW_TEXT_T }, { "rows", CW_INT_T }, { 0 } }
};

const cw_shape cw_sheets_look_shape = {
    .parts =
        (const cw_part[]){
            { "name", CW_TEXT_T },
            { "ours", CW_BOOL_T, .says = "It is a file of our own kind: load takes it as it is." },
            { "charset", CW_TEXT_T, .null = true },
            { "kept", CW_TEXT_T, .null = true, .says = "The kept fit that was used." },
            { "sheets", .shape = &sheets_shape },
            { "sheet", CW_TEXT_T },
            { "header", CW_INT_T, .says = "Row of the headings; 0: there are none." },
            { "kind", CW_TEXT_T, .null = true },
            { "fit", .shape = &cw_sheets_fit_shape },
            { "columns", .shape = &columns_shape },
            { "fields", .shape = &fields_shape },
            { "said", .shape = &cw_shape_texts },
            { "doubts", .shape = &doubts_shape },
            { "doubt_count", CW_INT_T },
            { "problems", .shape = &problems_shape },
            { "problem_count", CW_INT_T },
            { "made", .shape = &made_shape },
            { "made_count", CW_INT_T },
            { "passed", .shape = &passed_shape },
            { "passed_count", CW_INT_T },
            { "repaired", CW_INT_T, .says = "Cells that were only written otherwise." },
            { "rows", .shape = &rows_shape },
            { "row_count", CW_INT_T,
              .says = "Rows of the sheet in which something stands, without what is above the headings." },
            { "counts", .shape = &counts_shape },
            { "ready", CW_BOOL_T, .says = "Nothing is in doubt and nothing is wrong." },
            { 0 },
        }
};

void cw_fit_cut(char *out, size_t size, const char *s, size_t n)
{
    if (n > size - 1)
        for (n = size - 1; n > 0 && (s[n] & 0xC0) == 0x80;)
            n--;
    memcpy(out, s, n);
    out[n] = '\0';
}

/* A sentence as JSON: one that was cut to its room may end inside a letter. */
static json_t *sentence(const char *s, size_t size)
{
    char whole[512];
    cw_fit_cut(whole, size < sizeof whole ? size : sizeof whole, s, strlen(s));
    size_t n = strlen(whole), bad = 0;
    if (!cw_utf8_valid(whole, n, &bad))
        whole[bad] = '\0';
    return json_string(whole);
}

void cw_fit_say(cw_fitting *f, const char *format, ...)
{
    char text[400];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    cw_json_append_take(&f->said, sentence(text, sizeof text));
}

void cw_fit_choice(json_t **choices, const char *value, const char *format, ...)
{
    char text[400];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    cw_json_append_take(choices, json_pack("{s:s,s:o}", "value", value, "says", sentence(text, sizeof text)));
}

static json_t *header_of(const cw_fitting *f, int column)
{
    char letters[8], text[CW_FOLD_BYTES + 16];
    if (column < 0 || (unsigned)column >= f->width)
        return json_null();
    cw_column_letters((unsigned)column, letters);
    const char *header = f->columns ? f->columns[column].header : "";
    snprintf(text, sizeof text, header[0] ? "%s" : "column %s", header[0] ? header : letters);
    return json_string(text);
}

static json_t *field_of(cw_target t)
{
    char name[64];
    cw_target_name(t, name);
    return cw_json_known(name);
}

void cw_fit_doubt(cw_fitting *f, const cw_doubt *d, const char *format, ...)
{
    char text[400], key[CW_MAX_NOTE + 200], field[64];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    cw_target_name(d->to, field);
    snprintf(key, sizeof key, "%s|%s|%s", d->what, field, strcmp(d->what, "name") == 0 ? d->text : "");
    bool known = f->doubted && json_object_get(f->doubted, key) != NULL;
    if (!known)
        cw_json_put_take(&f->doubted, key, json_true());
    if (known || f->doubt_count++ >= MOST_DOUBTS) {
        json_decref(d->choices);
        return;
    }
    json_t *o = json_object();
    cw_json_put_take(&o, "what", json_string(d->what));
    cw_json_put_take(&o, "at", d->column >= 0 ? json_integer(d->column) : json_null());
    cw_json_put_take(&o, "header", header_of(f, d->column));
    cw_json_put_take(&o, "field", field_of(d->to));
    cw_json_put_take(&o, "row", d->row ? json_integer(d->row) : json_null());
    cw_json_put_take(&o, "text", d->text ? json_string(d->text) : json_null());
    cw_json_put_take(&o, "says", sentence(text, sizeof text));
    cw_json_put_take(&o, "choices", d->typed ? json_array() : d->choices);
    cw_json_append_take(&f->doubts, o);
}

void cw_fit_problem(cw_fitting *f, size_t row, int column, cw_target to, cw_field text, const char *says)
{
    char shown[80], letters[8] = "";
    if (f->problem_count++ >= MOST_PROBLEMS)
        return;
    if (column >= 0)
        cw_column_letters((unsigned)column, letters);
    json_t *o = json_object();
    cw_json_put_take(&o, "sheet", json_string(f->sheet->name));
    cw_json_put_take(&o, "row",
                     row < f->sheet->row_count ? json_integer(f->sheet->rows[row].number) : json_null());
    cw_json_put_take(&o, "column", cw_json_known(letters));
    cw_json_put_take(&o, "at", column >= 0 ? json_integer(column) : json_null());
    cw_json_put_take(&o, "header", header_of(f, column));
    cw_json_put_take(&o, "field", field_of(to));
    cw_json_put_take(&o, "text", text.n ? json_string(cw_shown(text.s, text.n, shown)) : json_null());
    cw_json_put_take(&o, "says", json_string(says));
    cw_json_put_take(&o, "accepts", cw_json_known(cw_target_holds(f, to)));
    cw_json_append_take(&f->problems, o);
}

static json_t *list_sheets(const cw_fitting *f)
{
    json_t *list = json_array();
    for (size_t i = 0; i < f->book.count; i++) {
        const cw_sheet *s = &f->book.sheets[i];
        cw_json_append_take(&list, json_pack("{s:s,s:I,s:b}", "name", s->name, "rows",
                                             (json_int_t)s->row_count, "hidden", s->hidden));
    }
    return list;
}

static json_t *list_columns(const cw_fitting *f)
{
    static const char *const how[] = { "none", "name", "like", "content", "kept", "told" };
    json_t *list = json_array();
    for (unsigned c = 0; c < f->width; c++) {
        const cw_fit_column *column = &f->columns[c];
        char letters[8], field[CW_FIT_NAME];
        json_t *o = json_object(), *samples = json_array();
        cw_column_letters(c, letters);
        cw_fit_column_name(column, field);
        for (int i = 0; i < column->seen.samples; i++)
            cw_json_append_take(&samples, json_string(column->seen.sample[i]));
        cw_json_put_take(&o, "column", json_string(letters));
        cw_json_put_take(&o, "header", json_string(column->header));
        cw_json_put_take(&o, "field", json_string(field));
        cw_json_put_take(&o, "how", json_string(how[column->how]));
        cw_json_put_take(&o, "sure", json_real(column->sure));
        cw_json_put_take(&o, "filled", json_integer(column->seen.filled));
        cw_json_put_take(&o, "samples", samples);
        cw_json_append_take(&list, o);
    }
    return list;
}

static void list_kind(const cw_fitting *f, int kind, json_t **list)
{
    for (size_t k = 0; k < cw_kinds[kind].width; k++) {
        const cw_kind_column *column = &cw_kinds[kind].columns[k];
        cw_target t = { kind, (int)k };
        char field[64];
        cw_target_name(t, field);
        cw_json_append_take(
            list, json_pack("{s:s,s:s,s:s,s:b,s:s}", "field", field, "kind", cw_kinds[kind].name, "column",
                            column->name, "required",
                            kind == f->kind && (column->need == CW_NEEDED || column->need == CW_MAY_EMPTY),
                            "holds", cw_target_holds(f, t)));
    }
}

/* The count of the variety that the heading names. */
static void list_heading(const cw_fitting *f, json_t **list)
{
    const cw_fit_column heading = { .to = { f->kind, cw_fit_counted(f->kind) }, .heads = true };
    char field[CW_FIT_NAME];
    cw_fit_column_name(&heading, field);
    cw_json_append_take(list, json_pack("{s:s,s:s,s:s,s:b,s:s}", "field", field, "kind",
                                        cw_kinds[f->kind].name, "column", cw_target_column(heading.to)->name,
                                        "required", false, "holds", cw_target_holds(f, heading.to)));
}

static json_t *list_fields(const cw_fitting *f)
{
    json_t *list = json_array();
    if (f->kind < 0)
        return list;
    list_kind(f, f->kind, &list);
    if (cw_fit_counted(f->kind) >= 0)
        list_heading(f, &list);
    if (f->kind != CW_VARIETIES)
        list_kind(f, CW_VARIETIES, &list);
    if (f->kind != CW_PLACES && f->kind != CW_VARIETIES)
        list_kind(f, CW_PLACES, &list);
    return list;
}

static json_t *list_counts(const cw_fitting *f)
{
    json_t *list = json_array();
    for (int k = 0; k < CW_KINDS; k++)
        if (f->out[k].lines > 0)
            cw_json_append_take(
                &list, json_pack("{s:s,s:I}", "kind", cw_kinds[k].name, "rows", (json_int_t)f->out[k].lines));
    return list;
}

json_t *cw_fit_document(cw_fitting *f)
{
    json_t *o = f->doubted ? json_object() : NULL; /* without memory, what was asked is not known */
    bool lines = f->kind >= 0 && f->out[f->kind].lines > 0;
    cw_json_put_take(&o, "name", json_string(f->file->name));
    cw_json_put_take(
        &o, "ours",
        json_boolean(cw_sheets_ours(f->file->name, f->file->kind, f->file->bytes, f->file->length)));
    cw_json_put_take(&o, "charset",
                     f->book.workbook ? json_null() : json_string(cw_charset_name(f->book.charset)));
    cw_json_put_take(&o, "kept", cw_json_known(f->kept));
    cw_json_put_take(&o, "sheets", list_sheets(f));
    cw_json_put_take(&o, "sheet", json_string(f->sheet->name));
    cw_json_put_take(&o, "header", json_integer(f->header >= 0 ? f->sheet->rows[f->header].number : 0));
    cw_json_put_take(&o, "kind", f->kind >= 0 ? json_string(cw_kinds[f->kind].name) : json_null());
    cw_json_put_take(&o, "fit", cw_fit_json(f));
    cw_json_put_take(&o, "columns", list_columns(f));
    cw_json_put_take(&o, "fields", list_fields(f));
    cw_json_put_take(&o, "said", json_incref(f->said));
    cw_json_put_take(&o, "doubts", json_incref(f->doubts));
    cw_json_put_take(&o, "doubt_count", json_integer(f->doubt_count));
    cw_json_put_take(&o, "problems", json_incref(f->problems));
    cw_json_put_take(&o, "problem_count", json_integer(f->problem_count));
    cw_json_put_take(&o, "made", json_incref(f->made));
    cw_json_put_take(&o, "made_count", json_integer(f->made_count));
    cw_json_put_take(&o, "passed", json_incref(f->passed));
    cw_json_put_take(&o, "passed_count", json_integer(f->passed_count));
    cw_json_put_take(&o, "repaired", json_integer(f->repaired));
    cw_json_put_take(&o, "rows", json_incref(f->rows));
    cw_json_put_take(&o, "row_count", json_integer((json_int_t)f->sheet->row_count - f->header - 1));
    cw_json_put_take(&o, "counts", list_counts(f));
    cw_json_put_take(&o, "ready", json_boolean(lines && f->doubt_count == 0 && f->problem_count == 0));
    return o;
}
