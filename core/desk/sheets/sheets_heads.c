/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* A sheet whose headings are the varieties: one row an order (a season, a place), one column a variety, and in the cell how many. */

#define AT_HEADING "@heading"

int cw_fit_counted(int kind)
{
    switch (kind) {
    case CW_ORDERS:
    case CW_PAST_ORDERS:
        return cw_kind_column_named(kind, "quantity");
    case CW_PAST_SALES:
        return cw_kind_column_named(kind, "sold");
    case CW_LOTS:
        return cw_kind_column_named(kind, "clumps");
    case CW_PLANTINGS:
        return cw_kind_column_named(kind, "plants");
    default:
        return -1;
    }
}

bool cw_fit_counts(const cw_fitting *f, cw_field cell, cw_stands holds)
{
    bool sold = f->kind == CW_PAST_SALES || f->kind == CW_PAST_ORDERS, nought = cell.n > 0;
    for (size_t i = 0; i < cell.n; i++)
        nought = nought && strchr("0.,", cell.s[i]) != NULL;
    return cell.n > 0 && !cw_cell_nothing(cell, holds) && (sold || !nought);
}

/* A word that columns of several kinds go by: "Year", "Weight". */
static bool is_word(const cw_fit_column *c)
{
    cw_how how;
    for (int k = 0; k < CW_KINDS; k++)
        for (size_t t = 0; t < cw_kinds[k].width; t++)
            if (cw_words_match(k, t, c, &how) >= 0.9)
                return true;
    return false;
}

bool cw_fit_may_head(const cw_fitting *f, unsigned column, bool *known)
{
    const cw_fit_column *c = &f->columns[column];
    cw_typed_number number;
    size_t at = 0, n = strlen(c->header);
    *known = n > 0 && cw_known_find(&f->varieties, c->header, n, &at) <= CW_FOUND_FOLDED;
    /* In numbers with decimals are prices and weights; a heading that is a number is a year or a week. */
    bool counts =
        c->seen.numbers * 2 >= c->seen.filled && c->seen.points + c->seen.commas + c->seen.open_numbers == 0;
    if (n == 0 || !counts || cw_typed_number_read(c->header, n, CW_MARK_OPEN, &number))
        return false;
    return *known || (c->seen.filled > 0 && !is_word(c));
}

void cw_fit_column_name(const cw_fit_column *c, char out[CW_FIT_NAME])
{
    char name[64];
    cw_target_name(c->to, name);
    snprintf(out, CW_FIT_NAME, "%s%s", name, c->heads ? AT_HEADING : "");
}

bool cw_fit_column_named(const char *name, cw_target *to, bool *heads)
{
    char plain[64];
    const char *at = strchr(name, '@');
    size_t n = at ? (size_t)(at - name) : strlen(name);
    *heads = at != NULL;
    *to = CW_NO_TARGET;
    if (n >= sizeof plain || (at && strcmp(at, AT_HEADING) != 0))
        return false;
    memcpy(plain, name, n);
    plain[n] = '\0';
    return cw_target_named(plain, to) && (!at || to->column == cw_fit_counted(to->kind));
}

void cw_fit_ask_heads(cw_fitting *f, const bool may[CW_MAX_SHEET_COLUMNS])
{
    cw_target to = { f->kind, cw_fit_counted(f->kind) };
    char letters[8], name[64], value[CW_FIT_NAME];
    char headings[160] = "";
    cw_text columns = CW_TEXT((size_t)CW_MAX_SHEET_COLUMNS * sizeof letters);
    int count = 0, heads = 0;
    for (unsigned c = 0; c < f->width; c++) {
        heads += f->columns[c].heads;
        if (!may[c])
            continue;
        cw_column_letters(c, letters);
        cw_text_addf(&columns, "%s%s", count ? " " : "", letters);
        size_t used = strlen(headings);
        if (count < CW_FEW_HEADS)
            snprintf(headings + used, sizeof headings - used, "%s%.40s", used ? ", " : "",
                     f->columns[c].header);
        count++;
    }
    if (heads > 0)
        cw_fit_say(f, "The headings of %d columns are varieties: a number below is the %s.", heads,
                   cw_target_column(to)->name);
    if (count >= CW_FEW_HEADS && !columns.failed) {
        json_t *choices = json_array();
        f->heads_open = true;
        cw_target_name(to, name);
        snprintf(value, sizeof value, "%s%s", name, AT_HEADING);
        cw_fit_choice(&choices, value, "yes, a column each, and the numbers are the %s",
                      cw_target_column(to)->name);
        cw_fit_choice(&choices, "", "no, they are not used");
        cw_doubt d = { .what = "headings", .column = -1, .to = to, .text = columns.data, .choices = choices };
        cw_fit_doubt(f, &d, "Are the headings of %d columns varieties (%s ...)?", count, headings);
    }
    cw_text_free(&columns);
}
