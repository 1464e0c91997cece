/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Which variety is meant by a text? What is on record first, then what somebody said of the text, then what this file makes itself; a
 * near name, or one that is not known, is asked once. */

static const cw_named *named(const cw_fitting *f, const char *s, size_t n)
{
    char folded[CW_FOLD_BYTES];
    size_t length = cw_fold(s, n, '\0', folded);
    const int64_t *at = length ? cw_map_get(&f->named_at, folded, length) : NULL;
    return at ? &f->named[*at - 1] : NULL;
}

static void choices_of(const cw_fitting *f, const size_t near[5], size_t count, json_t **choices)
{
    for (size_t i = 0; i < count; i++) {
        const char *code = f->varieties.codes[near[i]], *name = f->varieties.names[near[i]];
        cw_fit_choice(choices, code, "%s (%s)", name ? name : code, code);
    }
}

/* Makes the variety, and remembers that the file makes it. */
static cw_code make(cw_fitting *f, const char *s, size_t n, const char *code, int64_t *index, cw_error *err)
{
    char proposed[CW_MAX_CODE + 1], name[CW_MAX_NAME + 1];
    if (code == NULL || code[0] == '\0') {
        cw_known_propose(&f->varieties, s, n, proposed);
        code = proposed;
    }
    cw_fit_cut(name, sizeof name, s, n);
    *index = (int64_t)f->varieties.count;
    if (!cw_known_add(&f->varieties, code, name))
        return cw_error_memory(err);
    json_t *row = json_pack("{s:s,s:s,s:s}", "kind", "varieties", "text", name, "code", code);
    if (f->made_count++ < MOST_PROBLEMS)
        cw_json_append_take(&f->made, row);
    else
        json_decref(row);
    return CW_OK;
}

static void ask(cw_fitting *f, size_t row, unsigned column, const char *s, size_t n, bool near,
                const size_t list[5], size_t count)
{
    char text[CW_MAX_NAME + 1], proposed[CW_MAX_CODE + 1], fresh[CW_MAX_CODE + 8];
    json_t *choices = json_array();
    cw_fit_cut(text, sizeof text, s, n);
    choices_of(f, list, count, &choices);
    cw_known_propose(&f->varieties, s, n, proposed);
    snprintf(fresh, sizeof fresh, "+%s", proposed);
    cw_fit_choice(&choices, fresh, "a new variety, with the code %s", proposed);
    cw_doubt d = { .what = "name",
                   .column = (int)column,
                   .to = f->columns[column].to,
                   .text = text,
                   .row = f->sheet->rows[row].number,
                   .choices = choices };
    if (near)
        cw_fit_doubt(f, &d, "No variety has this name, but one nearly has. Is it meant?");
    else
        cw_fit_doubt(f, &d, "No variety has this name or code. Which one is it, or is it new?");
}

static cw_code decide(cw_fitting *f, size_t row, unsigned column, const char *s, size_t n, int64_t *index,
                      cw_error *err)
{
    size_t at = 0, near[5], count = 0;
    cw_found found = cw_known_find(&f->varieties, s, n, &at);
    *index = (int64_t)at;
    if (found == CW_FOUND || found == CW_FOUND_FOLDED)
        return CW_OK;
    *index = -1;
    const cw_named *said = named(f, s, n);
    if (said && !said->is_new &&
        cw_known_find(&f->varieties, said->code, strlen(said->code), &at) == CW_FOUND) {
        *index = (int64_t)at;
        return CW_OK;
    }
    /* A list of varieties, a sheet that tells their colours and prices, and headings that somebody called varieties make those that
     * they bring. */
    bool near_one = found != CW_FOUND_SEVERAL && cw_known_near(&f->varieties, s, n, near, &count);
    for (size_t i = 0; i < count; i++) /* what this file made is no misprint of itself */
        near_one = near_one && near[i] < f->varieties.on_record;
    const cw_fit_column *heading = &f->columns[column];
    bool brings = f->kind == CW_VARIETIES || (heading->heads && heading->how != CW_HOW_CONTENT) ||
                  cw_fit_has(f, CW_VARIETIES, "colour") || cw_fit_has(f, CW_VARIETIES, "form") ||
                  cw_fit_has(f, CW_VARIETIES, "price") || f->varieties.on_record == 0;
    if (said && said->is_new)
        return make(f, s, n, said->code, index, err);
    if (brings && !near_one && found != CW_FOUND_SEVERAL)
        return make(f, s, n, NULL, index, err);
    ask(f, row, column, s, n, near_one, near, count);
    return CW_OK;
}

cw_code cw_fit_variety(cw_fitting *f, size_t row, unsigned column, const char *s, size_t n, int64_t *index,
                       cw_error *err)
{
    bool is_new = false;
    int64_t *kept = cw_map_put(&f->cache, s, n, &is_new);
    if (kept == NULL)
        return cw_error_memory(err);
    if (!is_new) {
        *index = *kept - 1;
        return CW_OK;
    }
    cw_code code = decide(f, row, column, s, n, index, err);
    kept = cw_map_put(&f->cache, s, n, NULL);
    if (kept == NULL)
        return cw_error_memory(err);
    *kept = *index + 1;
    return code;
}
