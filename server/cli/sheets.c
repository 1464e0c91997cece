/* SPDX-License-Identifier: MIT */
#include "cli/sheets_inside.h"

#include "base/json.h"
#include "base/limits.h"
#include "desk/sheets/sheets.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static cw_code read_whole(const char *path, cw_sheet_file *out, cw_error *err)
{
    struct stat st;
    FILE *f = fopen(path, "rbe");
    *out = (cw_sheet_file){ .path = path };
    if (f == NULL || fstat(fileno(f), &st) != 0) {
        cw_code code = cw_error_at(err, errno == ENOENT ? CW_REFUSED : CW_MACHINE, path, 0, NULL,
                                   "cannot be opened: %s", strerror(errno));
        if (f)
            fclose(f);
        return code;
    }
    cw_code code = CW_OK;
    if (!S_ISREG(st.st_mode))
        code = cw_error_at(err, CW_REFUSED, path, 0, NULL, "is not a file");
    else if (st.st_size > CW_MAX_SHEET_FILE_BYTES)
        code = cw_error_at(err, CW_REFUSED, path, 0, NULL, "is larger than a spreadsheet may be (32 MB)");
    if (code == CW_OK) {
        out->length = (size_t)st.st_size;
        out->bytes = malloc(out->length + 1);
        if (out->bytes == NULL)
            code = cw_error_memory(err);
        else if (fread(out->bytes, 1, out->length, f) != out->length)
            code = cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be read: %s", strerror(errno));
    }
    fclose(f);
    return code;
}

static bool ends(const char *s, const char *end)
{
    size_t n = strlen(s), m = strlen(end);
    return n >= m && strcmp(s + n - m, end) == 0;
}

/* The first bytes of the file, enough for a header; what cannot be read the intake will say. */
static size_t first_bytes(const char *path, char *out, size_t size)
{
    FILE *f = fopen(path, "rbe");
    size_t n = f ? fread(out, 1, size, f) : 0;
    if (f)
        fclose(f);
    return n;
}

cw_code cw_sheet_file_read(cw_call *call, const char *path, cw_sheet_files *into, bool *other, cw_error *err)
{
    char first[8192];
    const char *kind = cw_call_text(call, "--as", NULL);
    *other = cw_call_given(call, "--fit") || cw_call_given(call, "--sheet") || cw_call_flag(call, "--look");
    if (!*other && !ends(path, ".xlsx") && !ends(path, ".tsv") && !ends(path, ".txt")) {
        size_t n = first_bytes(path, first, sizeof first);
        if (n == 0 || cw_sheets_ours(base_name(path), kind, first, n))
            return CW_OK;
    }
    *other = true;
    cw_sheet_file *grown = realloc(into->files, (into->count + 1) * sizeof *grown);
    if (grown == NULL)
        return cw_error_memory(err);
    into->files = grown;
    cw_sheet_file *f = &grown[into->count++];
    return read_whole(path, f, err);
}

void cw_sheet_files_free(cw_sheet_files *f)
{
    for (size_t i = 0; i < f->count; i++)
        free(f->files[i].bytes);
    free(f->files);
    *f = (cw_sheet_files){ NULL, 0 };
}

static const char *text_of(const json_t *o, const char *name)
{
    const char *s = json_string_value(json_object_get(o, name));
    return s ? s : "";
}

/* What the call says of the fit, beside what will be found out. New reference. */
static cw_code told_by_call(cw_call *call, cw_nursery *n, json_t **fit, cw_error *err)
{
    const char *name = cw_call_text(call, "--fit", NULL), *sheet = cw_call_text(call, "--sheet", NULL);
    *fit = NULL;
    if (name && name[0]) {
        cw_code code = cw_sheets_fit(n, name, fit, err);
        if (code != CW_OK)
            return code;
    } else {
        *fit = json_object();
    }
    if (*fit == NULL || (sheet && json_object_set_new(*fit, "sheet", json_string(sheet)) != 0))
        return cw_error_memory(err);
    return CW_OK;
}

static void say_problems(cw_call *call, const json_t *document)
{
    const json_t *problems = json_object_get(document, "problems");
    long all = (long)json_integer_value(json_object_get(document, "problem_count"));
    size_t shown = json_array_size(problems) < 20 ? json_array_size(problems) : 20;
    for (size_t i = 0; i < shown; i++) {
        const json_t *p = json_array_get(problems, i);
        const json_t *row = json_object_get(p, "row");
        cw_text line = CW_TEXT(4096);
        cw_text_addf(&line, "%s:", text_of(p, "sheet"));
        if (json_is_integer(row))
            cw_text_addf(&line, " row %lld:", (long long)json_integer_value(row));
        if (text_of(p, "header")[0])
            cw_text_addf(&line, " %s:", text_of(p, "header"));
        cw_text_addf(&line, " %s", text_of(p, "says"));
        if (text_of(p, "text")[0])
            cw_text_addf(&line, ": %s", text_of(p, "text"));
        if (text_of(p, "accepts")[0])
            cw_text_addf(&line, " (%s)", text_of(p, "accepts"));
        cw_call_say(call, "%s", line.data ? line.data : "");
        cw_text_free(&line);
    }
    if (all > (long)shown)
        cw_call_say(call, "and %ld more", all - (long)shown);
}

static void say_document(cw_call *call, const json_t *document)
{
    const json_t *said = json_object_get(document, "said"), *made = json_object_get(document, "made");
    const json_t *passed = json_object_get(document, "passed");
    for (size_t i = 0; i < json_array_size(said); i++)
        cw_call_say(call, "%s", json_string_value(json_array_get(said, i)));
    for (size_t i = 0; i < json_array_size(passed) && i < 10; i++) {
        const json_t *p = json_array_get(passed, i);
        cw_call_say(call, "row %lld passed over (%s): %s",
                    (long long)json_integer_value(json_object_get(p, "row")), text_of(p, "why"),
                    text_of(p, "text"));
    }
    for (size_t i = 0; i < json_array_size(made) && i < 10; i++) {
        const json_t *m = json_array_get(made, i);
        cw_call_say(call, "new in %s: %s, as %s", text_of(m, "kind"), text_of(m, "text"), text_of(m, "code"));
    }
    long more = (long)json_integer_value(json_object_get(document, "made_count")) - 10;
    if (more > 0)
        cw_call_say(call, "and %ld more that are new", more);
}

static void say_doubt(cw_call *call, const json_t *d)
{
    const json_t *choices = json_object_get(d, "choices"), *row = json_object_get(d, "row");
    cw_text line = CW_TEXT(4096);
    if (json_is_integer(row))
        cw_text_addf(&line, "row %lld: ", (long long)json_integer_value(row));
    if (text_of(d, "header")[0])
        cw_text_addf(&line, "%s: ", text_of(d, "header"));
    cw_text_add(&line, text_of(d, "says"));
    if (text_of(d, "text")[0])
        cw_text_addf(&line, " (%s)", text_of(d, "text"));
    cw_call_say(call, "%s", line.data ? line.data : "");
    cw_text_free(&line);
    for (size_t i = 0; i < json_array_size(choices); i++) {
        const json_t *c = json_array_get(choices, i);
        cw_call_say(call, "  %zu  %s", i + 1, text_of(c, "says"));
    }
}

/* One question in the terminal; the end of input gives it up. */
static cw_code ask(cw_call *call, json_t *fit, const json_t *doubt, cw_error *err)
{
    char line[512];
    const json_t *choices = json_object_get(doubt, "choices");
    say_doubt(call, doubt);
    fputs(json_array_size(choices) ? "number: " : "answer: ", stderr);
    fflush(stderr);
    if (fgets(line, sizeof line, stdin) == NULL)
        return cw_error_set(err, CW_REFUSED, "a question was not answered; nothing was loaded");
    line[strcspn(line, "\r\n")] = '\0';
    int64_t at = 0;
    const char *value = line;
    if (json_array_size(choices) &&
        cw_parse_int(line, strlen(line), 1, (int64_t)json_array_size(choices), &at))
        value = text_of(json_array_get(choices, (size_t)at - 1), "value");
    return cw_sheets_answer(fit, doubt, value, err);
}

/* Looks, and asks until nothing is in doubt; without a terminal the doubts stay. */
static cw_code look_and_ask(cw_call *call, cw_nursery *n, const cw_sheets_file *file, json_t *fit,
                            json_t **document, cw_error *err)
{
    bool terminal = isatty(STDIN_FILENO) && isatty(STDERR_FILENO);
    for (;;) {
        cw_code code = cw_sheets_look(n, &call->who, file, fit, document, err);
        const json_t *doubts = json_object_get(*document, "doubts");
        if (code != CW_OK || !terminal || json_array_size(doubts) == 0)
            return code;
        for (size_t i = 0; code == CW_OK && i < json_array_size(doubts); i++)
            code = ask(call, fit, json_array_get(doubts, i), err);
        json_decref(*document);
        *document = NULL;
        if (code != CW_OK)
            return code;
    }
}

static const cw_column look_columns[] = {
    { "column", CW_TEXT_T },
    { "heading", CW_TEXT_T },
    { "ours", CW_TEXT_T, .null = true },
    { "how", CW_TEXT_T },
    { "sure", CW_REAL_T, .decimals = 2 },
    { "sample", CW_TEXT_T, .null = true },
};

static cw_code show_columns(cw_call *call, const json_t *document, cw_error *err)
{
    const json_t *columns = json_object_get(document, "columns");
    cw_table t = { 0 };
    if (call->show == CW_SHOW_JSON)
        return cw_call_show_json(call, document, err);
    cw_table_init(&t, look_columns, CW_WIDTH(look_columns));
    for (size_t i = 0; i < json_array_size(columns); i++) {
        const json_t *c = json_array_get(columns, i);
        cw_put_text(&t, text_of(c, "column"));
        cw_put_text(&t, text_of(c, "header"));
        cw_put_text(&t, text_of(c, "field"));
        cw_put_text(&t, text_of(c, "how"));
        cw_put_real(&t, json_number_value(json_object_get(c, "sure")));
        const char *sample = json_string_value(json_array_get(json_object_get(c, "samples"), 0));
        cw_put_text(&t, sample);
    }
    cw_code code = cw_call_show(call, &t, err);
    cw_table_free(&t);
    return code;
}

static cw_sheets_file file_of(cw_call *call, const cw_sheet_file *f)
{
    return (cw_sheets_file){ .name = base_name(f->path),
                             .bytes = f->bytes,
                             .length = f->length,
                             .kind = cw_call_text(call, "--as", NULL) };
}

cw_code cw_sheet_file_look(cw_call *call, cw_nursery *n, const cw_sheet_file *f, cw_error *err)
{
    cw_sheets_file file = file_of(call, f);
    json_t *fit = NULL, *document = NULL;
    cw_code code = told_by_call(call, n, &fit, err);
    if (code == CW_OK)
        code = cw_sheets_look(n, &call->who, &file, fit, &document, err);
    if (code == CW_OK)
        code = show_columns(call, document, err);
    if (code == CW_OK) {
        const json_t *doubts = json_object_get(document, "doubts");
        say_document(call, document);
        for (size_t i = 0; i < json_array_size(doubts); i++)
            say_doubt(call, json_array_get(doubts, i));
        say_problems(call, document);
    }
    json_decref(document);
    json_decref(fit);
    return code;
}

cw_code cw_sheet_file_take(cw_call *call, cw_nursery *n, const cw_sheet_file *f, cw_error *err)
{
    const char *kept = cw_call_text(call, "--fit", NULL);
    cw_sheets_file file = file_of(call, f);
    cw_sheets_options o = { .dry_run = cw_call_flag(call, "--dry-run"),
                            .changes = cw_call_flag(call, "--changes"),
                            .oversell = cw_call_text(call, "--oversell", NULL),
                            .same_name = cw_same_name_of(cw_call_text(call, "--same-name", NULL)),
                            .keep = kept && kept[0] ? kept : NULL };
    json_t *fit = NULL, *document = NULL, *after = NULL;
    cw_table taken = { 0 };
    cw_code code = told_by_call(call, n, &fit, err);
    if (code == CW_OK)
        code = look_and_ask(call, n, &file, fit, &document, err);
    if (code == CW_OK)
        say_document(call, document);
    if (code == CW_OK)
        code = cw_sheets_take(n, &call->who, &file, fit, &o, &taken, &after, err);
    if (after && code != CW_OK)
        say_problems(call, after);
    if (code == CW_OK)
        code = cw_call_show(call, &taken, err);
    cw_table_free(&taken);
    json_decref(after);
    json_decref(document);
    json_decref(fit);
    return code;
}

static cw_code show_fit(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    json_t *fit = NULL;
    cw_code code = cw_sheets_fit(n, name, &fit, err);
    if (code == CW_OK)
        code = cw_call_show_json(call, fit, err);
    json_decref(fit);
    return code;
}

bool cw_sheet_fits_asked(const cw_call *call)
{
    return cw_call_flag(call, "--fits") || cw_call_text(call, "--fit-show", NULL) ||
           cw_call_text(call, "--fit-forget", NULL) || cw_call_text(call, "--fit-rename", NULL);
}

cw_code cw_sheet_fits(cw_call *call, cw_error *err)
{
    const char *shown = cw_call_text(call, "--fit-show", NULL), *to = cw_call_text(call, "--to", NULL);
    const char *off = cw_call_text(call, "--fit-forget", NULL),
               *renamed = cw_call_text(call, "--fit-rename", NULL);
    cw_table list = { 0 };
    cw_nursery *n = NULL;
    if (call->count > 1)
        return cw_error_set(err, CW_USAGE,
                            "a kept fit is shown, renamed or forgotten by itself: name no files");
    if (renamed && to == NULL)
        return cw_error_set(err, CW_USAGE, "--fit-rename needs the new name: --to NAME");
    cw_code code = cw_call_open(call, off || renamed ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK && renamed)
        code = cw_sheets_rename(n, &call->who, renamed, to, err);
    else if (code == CW_OK && off)
        code = cw_sheets_forget(n, &call->who, off, err);
    else if (code == CW_OK && shown)
        code = show_fit(call, n, shown, err);
    else if (code == CW_OK)
        code = cw_sheets_fits(n, &list, err);
    if (code == CW_OK && !renamed && !off && !shown)
        code = cw_call_show(call, &list, err);
    cw_table_free(&list);
    cw_nursery_close(n);
    return code;
}
