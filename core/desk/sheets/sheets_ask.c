/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <string.h>

#include "base/banned.h"

/* What a fit leaves in doubt, once the kind is known: columns, what parts decimals, what stands first in dates, what no column tells. */

#define SURE 0.6 /* from here on a pair is taken without a question */

/* Pairs that are not sure enough: asked where ours is needed, let go elsewhere. */
static void ask_columns(cw_fitting *f)
{
    for (unsigned c = 0; c < f->width; c++) {
        cw_fit_column *column = &f->columns[c];
        char name[64];
        if (column->to.kind < 0 || cw_fit_fixed(f, c) || column->sure >= SURE)
            continue;
        if (cw_target_column(column->to)->need != CW_NEEDED) {
            column->to = CW_NO_TARGET;
            column->how = CW_HOW_NONE;
            continue;
        }
        json_t *choices = json_array();
        cw_target_name(column->to, name);
        cw_fit_choice(&choices, name, "yes, %s", cw_target_column(column->to)->name);
        cw_fit_choice(&choices, "", "no, it is not used");
        cw_doubt d = {
            .what = "column", .column = (int)c, .to = column->to, .text = column->header, .choices = choices
        };
        cw_fit_doubt(f, &d, "Is this column the %s?", cw_target_column(column->to)->name);
    }
}

/* Two columns that could be the same of ours: the second is as sure, and has no other use. */
static void ask_rivals(cw_fitting *f)
{
    for (unsigned c = 0; c < f->width; c++) {
        const cw_fit_column *rival = &f->columns[c];
        if (rival->to.kind >= 0 || rival->seen.filled == 0 || cw_fit_fixed(f, c))
            continue;
        for (unsigned o = 0; o < f->width; o++) {
            const cw_fit_column *used = &f->columns[o];
            cw_how how;
            char name[64];
            if (used->to.kind != f->kind || (used->how != CW_HOW_NAME && used->how != CW_HOW_LIKE) ||
                used->sure >= 0.99 || cw_target_column(used->to)->need != CW_NEEDED)
                continue;
            double sure = cw_fit_pair(f, used->to.kind, (size_t)used->to.column, rival, &how);
            if (sure < SURE || sure < used->sure - 0.02 || how == CW_HOW_CONTENT)
                continue;
            json_t *choices = json_array();
            char column[8];
            cw_target_name(used->to, name);
            cw_column_letters(o, column);
            cw_fit_choice(&choices, column, "%s", used->header);
            cw_column_letters(c, column);
            cw_fit_choice(&choices, column, "%s", rival->header);
            cw_doubt d = {
                .what = "rival", .column = (int)o, .to = used->to, .text = rival->header, .choices = choices
            };
            cw_fit_doubt(f, &d, "Two columns could be the %s: which one is it?",
                         cw_target_column(used->to)->name);
            break;
        }
    }
}

/* The columns of first and last names, where none is the buyer's whole name. */
static void join_names(cw_fitting *f)
{
    cw_target customer = { CW_ORDERS, cw_kind_column_named(CW_ORDERS, "customer") };
    if (f->kind != CW_ORDERS || customer.column < 0)
        return;
    int has = cw_fit_column_of(f, customer, -1);
    if (has >= 0 && !cw_words_part_of_name(&f->columns[has]))
        return;
    for (unsigned c = 0; c < f->width; c++)
        if (f->columns[c].to.kind < 0 && !cw_fit_fixed(f, c) && cw_words_part_of_name(&f->columns[c])) {
            f->columns[c].to = customer;
            f->columns[c].how = CW_HOW_NAME;
            f->columns[c].sure = 0.9;
        }
}

static bool is_number(cw_is is)
{
    return is == CW_IS_INT || is == CW_IS_REAL || is == CW_IS_MONEY;
}

static bool is_day(cw_is is)
{
    return is == CW_IS_DAY || is == CW_IS_PAST || is == CW_IS_DATE || is == CW_IS_INSTANT ||
           is == CW_IS_PAST_INSTANT || is == CW_IS_WEEK;
}

static void find_decimal(cw_fitting *f)
{
    long points = 0, commas = 0, open = 0;
    int at = -1;
    for (unsigned c = 0; c < f->width; c++) {
        const cw_fit_column *column = &f->columns[c];
        if (column->to.kind < 0 || !is_number(cw_column_is(cw_target_column(column->to))))
            continue;
        points += column->seen.points;
        commas += column->seen.commas;
        /* Where only whole numbers, or two decimals, may stand, three figures behind a mark are a thousand. */
        if (column->seen.open_numbers && cw_column_is(cw_target_column(column->to)) == CW_IS_REAL) {
            open += column->seen.open_numbers;
            at = (int)c;
        }
    }
    if (f->decimal_told)
        return;
    if (points > 0 && commas > 0) {
        json_t *choices = json_array();
        cw_fit_choice(&choices, ".", "a point: 9.95");
        cw_fit_choice(&choices, ",", "a comma: 9,95");
        cw_doubt d = { .what = "decimal", .column = at, .to = CW_NO_TARGET, .choices = choices };
        cw_fit_doubt(f, &d, "%ld numbers have decimals behind a point, %ld behind a comma. Which is it?",
                     points, commas);
    } else if (points + commas > 0) {
        f->decimal = points > 0 ? CW_MARK_POINT : CW_MARK_COMMA;
        cw_fit_say(f, "Decimals stand behind a %s: %ld numbers show it.", points > 0 ? "point" : "comma",
                   points + commas);
    } else if (open > 0) {
        json_t *choices = json_array();
        char mark = strchr(f->columns[at].seen.open_number, ',') ? ',' : '.';
        cw_fit_choice(&choices, mark == ',' ? "," : ".", "decimals: one and some thousandths");
        cw_fit_choice(&choices, mark == ',' ? "." : ",", "thousands: more than a thousand");
        cw_doubt d = { .what = "decimal",
                       .column = at,
                       .to = f->columns[at].to,
                       .text = f->columns[at].seen.open_number,
                       .choices = choices };
        cw_fit_doubt(f, &d, "Nothing tells whether this is a thousand or a decimal.");
    }
}

static void find_order(cw_fitting *f)
{
    long dmy = 0, mdy = 0, open = 0;
    int at = -1;
    for (unsigned c = 0; c < f->width; c++) {
        const cw_fit_column *column = &f->columns[c];
        if (column->to.kind < 0 || !is_day(cw_column_is(cw_target_column(column->to))))
            continue;
        dmy += column->seen.dmy;
        mdy += column->seen.mdy;
        open += column->seen.open_days;
        at = column->seen.open_days ? (int)c : at;
    }
    if (f->dates_told || dmy + mdy + open == 0)
        return;
    if ((dmy > 0 && mdy > 0) || dmy + mdy == 0) {
        json_t *choices = json_array();
        cw_fit_choice(&choices, "dmy", "the day first: 31/12");
        cw_fit_choice(&choices, "mdy", "the month first: 12/31");
        cw_doubt d = { .what = "dates",
                       .column = at,
                       .to = at >= 0 ? f->columns[at].to : CW_NO_TARGET,
                       .text = at >= 0 ? f->columns[at].seen.open_day : NULL,
                       .choices = choices };
        if (dmy > 0)
            cw_fit_doubt(f, &d, "%ld dates have the day first, %ld the month. Which is it?", dmy, mdy);
        else
            cw_fit_doubt(f, &d, "Nothing tells which is the day and which the month.");
        return;
    }
    f->dates = dmy > 0 ? CW_ORDER_DMY : CW_ORDER_MDY;
    cw_fit_say(f, "The %s stands first in dates: %ld of %ld show it.", dmy > 0 ? "day" : "month", dmy + mdy,
               dmy + mdy + open);
}

static bool any_price(const cw_fitting *f)
{
    for (size_t i = 0; i < f->varieties.on_record; i++)
        if (f->varieties.prices[i] >= 0)
            return true;
    return false;
}

/* What the rows need and no column tells: asked once for all rows. */
static void ask_missing(cw_fitting *f)
{
    for (size_t k = 0; k < cw_kinds[f->kind].width; k++) {
        const cw_kind_column *column = &cw_kinds[f->kind].columns[k];
        cw_target t = { f->kind, (int)k };
        bool counted = false;
        if ((f->heads || f->heads_open) &&
            (cw_column_is(column) == CW_IS_VARIETY || (int)k == cw_fit_counted(f->kind)))
            continue;
        if (f->kind == CW_ORDERS && strcmp(column->name, "order") == 0 &&
            !cw_fit_has(f, CW_ORDERS, "order") &&
            (cw_fit_has(f, CW_ORDERS, "customer") || cw_fit_has(f, CW_ORDERS, "email"))) {
            cw_fit_say(f, "No column tells an order's number: rows of one buyer and one day are one order, "
                          "and its number is made of both.");
            continue;
        }
        if (column->need != CW_NEEDED || cw_fit_has(f, f->kind, column->name) ||
            cw_fit_makes(f->kind, column->name))
            continue;
        if (f->kind == CW_ORDERS && strcmp(column->name, "unit_price") == 0 && any_price(f)) {
            f->own_prices = true;
            cw_fit_say(f,
                       "No column tells a price: each line costs what its variety costs in the catalogue.");
            continue;
        }
        for (unsigned c = 0; c < f->width; c++)
            counted = counted || (f->kind == CW_ORDERS && f->columns[c].to.kind == CW_ORDERS &&
                                  cw_column_is(cw_target_column(f->columns[c].to)) == CW_IS_VARIETY &&
                                  f->columns[c].seen.texts_with_counts > 0);
        if (counted && strcmp(column->name, "quantity") == 0)
            continue;
        cw_doubt d = { .what = "missing", .column = -1, .to = t, .typed = true };
        if (cw_fit_askable(column))
            cw_fit_doubt(f, &d, "No column tells the %s. What is it for all rows? (%s)", column->name,
                         cw_target_holds(f, t));
        else
            cw_fit_doubt(f, &d, "No column tells the %s, which each row needs (%s). Which column is it?",
                         column->name, cw_target_holds(f, t));
    }
}

void cw_fit_ask(cw_fitting *f)
{
    join_names(f);
    ask_columns(f);
    ask_rivals(f);
    find_decimal(f);
    find_order(f);
    ask_missing(f);
}
