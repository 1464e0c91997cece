/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include "desk/intake/intake.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static cw_code fitting_open(cw_fitting *f, cw_nursery *n, const cw_asker *who, const cw_sheets_file *file,
                            cw_error *err)
{
    *f = (cw_fitting){ .n = n, .who = who, .file = file, .header = -1, .kind = -1 };
    f->said = json_array();
    f->doubts = json_array();
    f->problems = json_array();
    f->made = json_array();
    f->passed = json_array();
    f->rows = json_array();
    f->doubted = json_object();
    cw_code code = cw_season_look(n, err);
    return code == CW_OK ? cw_intake_columns(NULL, &f->holds, err) : code;
}

void cw_fitting_close(cw_fitting *f)
{
    cw_workbook_free(&f->book);
    free(f->columns);
    for (size_t i = 0; i < f->named_count; i++)
        free(f->named[i].text);
    free(f->named);
    cw_map_free(&f->named_at);
    cw_map_free(&f->cache);
    cw_known_free(&f->varieties);
    cw_known_free(&f->lots);
    cw_known_free(&f->places);
    cw_table_free(&f->holds);
    for (int k = 0; k < CW_KINDS; k++) {
        cw_text_free(&f->out[k].csv);
        free(f->out[k].row_of);
        free(f->out[k].line_of);
        cw_map_free(&f->out[k].seen);
    }
    json_decref(f->said);
    json_decref(f->doubts);
    json_decref(f->problems);
    json_decref(f->made);
    json_decref(f->passed);
    json_decref(f->rows);
    json_decref(f->doubted);
}

/* What was kept of such a header, where nothing is told of the columns. */
static cw_code use_kept(cw_fitting *f, const json_t *told, cw_error *err)
{
    json_t *kept = NULL;
    if (json_is_array(json_object_get(told, "columns")))
        return CW_OK;
    cw_code code = cw_fit_kept(f, &kept, err);
    const char *kind = json_string_value(json_object_get(kept, "kind"));
    if (code == CW_OK && kept && (!f->kind_told || (kind && f->kind == cw_kind_named(kind)))) {
        bool told_kind = f->kind_told;
        f->kind_told = false;
        code = cw_fit_told(f, kept, err);
        f->kind_told = f->kind_told || told_kind;
        if (code == CW_OK)
            code = cw_fit_told_columns(f, kept, true, err);
        if (code == CW_OK)
            cw_fit_say(f, "Fitted as it was before (%s).", f->kept);
    } else {
        f->kept[0] = '\0';
    }
    json_decref(kept);
    return code;
}

static cw_code look(cw_fitting *f, const json_t *told, cw_error *err)
{
    cw_code code = cw_fit_told(f, told, err);
    if (code == CW_OK)
        code = cw_asker_tell(f->who, "fit", 0, 0, err);
    if (code == CW_OK)
        code = cw_workbook_read(f->file->name, f->file->bytes, f->file->length, f->charset,
                                cw_asker_go_on(f->who), &f->book, err);
    if (code == CW_OK && (f->book.count == 0 || (f->book.count == 1 && f->book.sheets[0].row_count == 0)))
        code = cw_error_at(err, CW_REFUSED, f->file->name, 0, NULL, "is empty: no cell holds anything");
    if (code == CW_OK)
        code = cw_fit_told_sheet(f, told, err);
    if (code == CW_OK)
        code = cw_known_load(f, err);
    if (code == CW_OK)
        code = cw_fit_open(f, err);
    if (code == CW_OK)
        code = use_kept(f, told, err);
    if (code == CW_OK)
        code = cw_fit_told_columns(f, told, false, err);
    if (code == CW_OK)
        code = cw_fit_profile(f, err);
    if (code == CW_OK)
        code = cw_fit_find(f, err);
    return code == CW_OK && f->kind >= 0 ? cw_fit_rows(f, err) : code;
}

static cw_code document(cw_fitting *f, json_t **answer, cw_error *err)
{
    *answer = cw_fit_document(f);
    return *answer ? CW_OK : cw_error_memory(err);
}

cw_code cw_sheets_look(cw_nursery *n, const cw_asker *who, const cw_sheets_file *file, const json_t *told,
                       json_t **answer, cw_error *err)
{
    cw_fitting f;
    *answer = NULL;
    cw_code code = fitting_open(&f, n, who, file, err);
    if (code == CW_OK)
        code = look(&f, told, err);
    if (code == CW_OK)
        code = document(&f, answer, err);
    cw_fitting_close(&f);
    return code;
}

/* What the intake says of a line of ours, said of the row and column of theirs. */
static void translate(cw_fitting *f, const cw_error *e)
{
    int kind = cw_kind_of_file(e->file);
    cw_target to = CW_NO_TARGET;
    size_t row = f->sheet->row_count;
    if (kind < 0)
        kind = f->kind;
    const cw_written *w = &f->out[kind];
    for (size_t low = 0, high = w->lines; low < high && row == f->sheet->row_count;) {
        size_t middle = (low + high) / 2;
        if (w->line_of[middle] == e->row)
            row = w->row_of[middle];
        else if (w->line_of[middle] < e->row)
            low = middle + 1;
        else
            high = middle;
    }
    int k = e->column[0] ? cw_kind_column_named(kind, e->column) : -1;
    if (k >= 0)
        to = (cw_target){ kind, k };
    int column = k >= 0 ? cw_fit_column_of(f, to, -1) : -1;
    if (column >= 0 && f->columns[column].heads) /* of several columns it may be each */
        column = -1;
    cw_field cell = column >= 0 && row < f->sheet->row_count
                        ? cw_sheet_at(f->sheet, row, (unsigned)column, NULL)
                        : (cw_field){ "", 0 };
    cw_fit_problem(f, row, column, to, cell, e->text);
}

/* The rows as files of ours, in one load. */
static cw_code load(cw_fitting *f, const cw_sheets_options *o, cw_table *taken, cw_error *err)
{
    cw_intake_file files[3];
    char called[3][CW_MAX_NAME + 40];
    size_t count = 0;
    const int kinds[3] = { CW_VARIETIES, CW_PLACES, f->kind };
    for (size_t i = 0; i < 3; i++) {
        int k = kinds[i];
        if (f->out[k].lines == 0 || (i < 2 && k == f->kind))
            continue;
        /* On record it is the owner's file; and the kind stands first, as in a name of ours. */
        snprintf(called[count], sizeof called[count], "%s of %s", cw_kinds[k].name, f->file->name);
        for (char *c = called[count]; *c; c++)
            *c = (char)(*c == '/' ? '-' : *c);
        files[count] = (cw_intake_file){ .name = called[count],
                                         .bytes = f->out[k].csv.data,
                                         .length = f->out[k].csv.length,
                                         .kind = cw_kinds[k].name };
        count++;
    }
    cw_intake_options options = {
        .dry_run = o->dry_run, .changes = o->changes, .oversell = o->oversell, .same_name = o->same_name
    };
    cw_error_list errors = { NULL, 0, 0 };
    cw_code code = cw_intake_load(f->n, f->who, files, count, &options, taken, &errors, err);
    for (size_t i = 0; i < errors.kept; i++)
        translate(f, &errors.items[i]);
    if (errors.count > (long)errors.kept)
        f->problem_count += errors.count - (long)errors.kept;
    if (errors.count > 0 && code != CW_MACHINE) {
        *err = (cw_error)CW_ERROR_NONE;
        cw_error_set(err, code, "%ld row%s wrong; nothing was taken", errors.count,
                     errors.count == 1 ? " is" : "s are");
    }
    cw_error_list_free(&errors);
    return code;
}

/* The first thing in doubt or wrong becomes the error. */
static cw_code refuse(cw_fitting *f, cw_error *err)
{
    const json_t *first = json_array_get(f->doubt_count ? f->doubts : f->problems, 0);
    const json_t *row = json_object_get(first, "row");
    const char *header = json_string_value(json_object_get(first, "header"));
    const char *text = json_string_value(json_object_get(first, "text"));
    const char *says = json_string_value(json_object_get(first, "says"));
    if (f->doubt_count + f->problem_count == 0)
        return cw_error_at(err, CW_REFUSED, f->file->name, 0, NULL, "holds no row that could be taken");
    if (says == NULL)
        return cw_error_memory(err);
    return cw_error_at(err, CW_REFUSED, f->file->name, (long)json_integer_value(row), header,
                       "%s%s%s (%ld in doubt, %ld wrong; "
                       "nothing was taken)",
                       says, text ? ": " : "", text ? text : "", f->doubt_count, f->problem_count);
}

cw_code cw_sheets_take(cw_nursery *n, const cw_asker *who, const cw_sheets_file *file, const json_t *told,
                       const cw_sheets_options *options, cw_table *taken, json_t **answer, cw_error *err)
{
    cw_fitting f;
    *answer = NULL;
    *taken = (cw_table){ 0 };
    cw_code code = cw_office_only(who, "take spreadsheets in", err);
    if (code != CW_OK)
        return code;
    code = fitting_open(&f, n, who, file, err);
    if (code == CW_OK)
        code = look(&f, told, err);
    bool looked = code == CW_OK;
    if (code == CW_OK && (f.doubt_count + f.problem_count > 0 || f.kind < 0 || f.out[f.kind].lines == 0))
        code = refuse(&f, err);
    /* The load, the fit that is kept and what is told of them stand together: without memory for the last nothing of it does. */
    const bool own = code == CW_OK && !n->batch;
    if (own)
        code = cw_nursery_batch_begin(n, err);
    if (code == CW_OK)
        code = load(&f, options, taken, err);
    if (code == CW_OK && !options->dry_run)
        code = cw_fit_keep(&f, options->keep, err);
    if (looked && code != CW_MACHINE) {
        *answer = cw_fit_document(&f);
        if (*answer == NULL) {
            *err = (cw_error)CW_ERROR_NONE;
            code = cw_error_memory(err);
        }
    }
    if (own && code == CW_OK)
        code = cw_nursery_batch_commit(n, err);
    else if (own)
        cw_nursery_batch_drop(n);
    cw_fitting_close(&f);
    return code;
}

bool cw_sheets_ours(const char *name, const char *kind, const char *bytes, size_t length)
{
    int k = kind ? cw_kind_named(kind) : cw_kind_of_file(name);
    size_t known = 0, all = 0;
    const char *end = memchr(bytes, '\n', length);
    const char *stop = end ? end : bytes + length, *dot = strrchr(name, '.');
    if (k < 0 || length == 0 || (dot && strcmp(dot, ".csv") != 0))
        return false;
    if (stop - bytes >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0)
        bytes += 3;
    if (stop > bytes && stop[-1] == '\r')
        stop--;
    for (const char *s = bytes; s <= stop; all++) {
        const char *comma = memchr(s, ',', (size_t)(stop - s));
        size_t n = (size_t)((comma ? comma : stop) - s);
        for (size_t c = 0; c < cw_kinds[k].width; c++)
            known +=
                strlen(cw_kinds[k].columns[c].name) == n && memcmp(cw_kinds[k].columns[c].name, s, n) == 0;
        s += n + 1;
    }
    return known > 0 && 2 * known >= all;
}
