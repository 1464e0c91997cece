/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include "store/audit.h"
#include "store/fits.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What was once said of a header is kept under its shape. Of constants only those are kept that are true of the next file, too: a day or
 * a season is asked again. */

const cw_shape cw_sheets_fits_shape = { .of = &cw_fits_list_shape };

cw_code cw_sheets_fits(cw_nursery *n, cw_table *out, cw_error *err)
{
    return cw_fits_list(n->db, out, err);
}

static cw_code read_fit(cw_db *db, const char *named, const char *shape, json_t **fit,
                        char name[CW_MAX_NAME + 1], cw_error *err)
{
    cw_text called = CW_TEXT(CW_MAX_NAME), text = CW_TEXT((size_t)1 << 24);
    bool found = false;
    *fit = NULL;
    cw_code code = cw_fits_read(db, named, shape, &found, &called, &text, err);
    if (code == CW_OK && found) {
        cw_copy(name, CW_MAX_NAME + 1, called.data ? called.data : "");
        *fit = json_loadb(text.data ? text.data : "", text.length, 0, NULL);
        if (*fit == NULL)
            code = cw_json_starved() ? cw_error_memory(err) : cw_db_damaged(err, "fit");
    }
    cw_text_free(&called);
    cw_text_free(&text);
    return code;
}

cw_code cw_sheets_fit(cw_nursery *n, const char *name, json_t **fit, cw_error *err)
{
    char kept[CW_MAX_NAME + 1], shown[80];
    cw_code code = read_fit(n->db, name, NULL, fit, kept, err);
    if (code == CW_OK && *fit == NULL)
        code = cw_error_set(err, CW_NOT_FOUND, "no fit is kept by this name: %s",
                            cw_shown(name, strlen(name), shown));
    return code;
}

cw_code cw_fit_kept(cw_fitting *f, json_t **kept, cw_error *err)
{
    *kept = NULL;
    if (f->shape[0] == '\0')
        return CW_OK;
    return read_fit(f->n->db, NULL, f->shape, kept, f->kept, err);
}

static bool is_lasting(cw_target t)
{
    const cw_kind_column *k = cw_target_column(t);
    return cw_column_is(k) == CW_IS_WORD || strcmp(k->name, "room") == 0;
}

/* The fit without what is of this file alone. */
static json_t *lasting(const cw_fitting *f)
{
    json_t *o = cw_fit_json(f), *constants = json_array();
    for (size_t i = 0; i < f->constant_count; i++) {
        char name[64];
        if (!is_lasting(f->constants[i].to))
            continue;
        cw_target_name(f->constants[i].to, name);
        cw_json_append_take(&constants,
                            json_pack("{s:s,s:s}", "field", name, "value", f->constants[i].value));
    }
    cw_json_put_take(&o, "constants", constants);
    cw_json_put_take(&o, "sheet", json_null());
    cw_json_put_take(&o, "header", json_null());
    cw_json_put_take(&o, "charset", json_null());
    if (!f->decimal_told) /* found out again each time */
        cw_json_put_take(&o, "decimal", json_null());
    if (!f->dates_told)
        cw_json_put_take(&o, "dates", json_null());
    return o;
}

cw_code cw_fit_keep(cw_fitting *f, const char *name, cw_error *err)
{
    char own[CW_MAX_NAME + 1];
    if (f->shape[0] == '\0')
        return CW_OK;
    snprintf(own, sizeof own, "%.*s%s%.*s", 100, f->file->name, f->book.workbook ? ": " : "",
             f->book.workbook ? 90 : 0, f->sheet->name);
    json_t *fit = lasting(f);
    char *text = fit ? cw_json_text(fit, JSON_COMPACT) : NULL;
    json_decref(fit);
    if (text == NULL)
        return cw_error_memory(err);
    cw_code code = cw_work_begin(f->n, err);
    if (code == CW_OK) {
        const cw_fit_row row = { f->shape,
                                 name         ? name
                                 : f->kept[0] ? f->kept
                                              : own,
                                 cw_kinds[f->kind].name, text };
        code = cw_fits_keep(f->n->db, &row, f->who->now, f->who->actor, err);
        code = cw_work_end(f->n, code, err);
    }
    free(text);
    return code;
}

static cw_code rename_fit(cw_nursery *n, const cw_asker *who, const char *name, const char *to, cw_error *err)
{
    cw_text called = CW_TEXT(CW_MAX_NAME), text = CW_TEXT((size_t)1 << 24);
    bool taken = false, found = false;
    char shown[80];
    cw_code code = cw_fits_read(n->db, to, NULL, &taken, &called, &text, err);
    cw_text_free(&called);
    cw_text_free(&text);
    if (code == CW_OK && taken)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "to", "another fit is kept by this name: %s",
                           cw_shown(to, strlen(to), shown));
    if (code == CW_OK)
        code = cw_fits_rename(n->db, name, to, &found, err);
    if (code == CW_OK && !found)
        code = cw_error_set(err, CW_NOT_FOUND, "no fit is kept by this name: %s",
                            cw_shown(name, strlen(name), shown));
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, "rename fit", name, name, to, err)
                         : code;
}

cw_code cw_sheets_rename(cw_nursery *n, const cw_asker *who, const char *name, const char *to, cw_error *err)
{
    cw_code code = cw_office_only(who, "rename how a spreadsheet is fitted", err);
    if (code == CW_OK && (to[0] == '\0' || strlen(to) > CW_MAX_NAME))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "to", "must be a name of 1 to %d bytes", CW_MAX_NAME);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, rename_fit(n, who, name, to, err), err) : code;
}

cw_code cw_sheets_forget(cw_nursery *n, const cw_asker *who, const char *name, cw_error *err)
{
    char shown[80];
    bool found = false;
    cw_code code = cw_office_only(who, "forget how a spreadsheet is fitted", err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_fits_forget(n->db, name, &found, err);
    if (code == CW_OK && !found)
        code = cw_error_set(err, CW_NOT_FOUND, "no fit is kept by this name: %s",
                            cw_shown(name, strlen(name), shown));
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "forget fit", name, NULL, NULL, err);
    return cw_work_end(n, code, err);
}
