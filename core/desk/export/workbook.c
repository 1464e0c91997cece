/* SPDX-License-Identifier: MIT */
#include "desk/export/exporting.h"

#include "desk/export/exporting_inside.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <xlsxwriter.h>

#include "base/banned.h"

#define MOST_ROWS 1048575 /* of a sheet, without the header; a format's limit */

/* The formats that cells need; made once a workbook. */
typedef struct formats {
    lxw_format *head, *money, *day, *instant;
} formats;

static formats make_formats(lxw_workbook *book)
{
    formats f = { workbook_add_format(book), workbook_add_format(book), workbook_add_format(book),
                  workbook_add_format(book) };
    format_set_bold(f.head);
    format_set_num_format(f.money, "0.00");
    format_set_num_format(f.day, "yyyy-mm-dd");
    format_set_num_format(f.instant, "yyyy-mm-dd hh:mm");
    return f;
}

/* Days of a spreadsheet are counted from 1899-12-30. */
static double serial(cw_day day)
{
    return (double)(day - cw_day_from_ymd(1899, 12, 30));
}

static void write_cell(lxw_worksheet *sheet, const formats *f, const cw_table *t, size_t r, size_t c)
{
    const cw_cell *cell = cw_table_cell(t, r, c);
    lxw_row_t row = (lxw_row_t)(r + 1);
    lxw_col_t col = (lxw_col_t)c;
    char week[9];
    if (cell->null)
        return;
    switch (t->columns[c].type) {
    case CW_INT_T:
        worksheet_write_number(sheet, row, col, (double)cell->v.i, NULL);
        break;
    case CW_REAL_T:
        worksheet_write_number(sheet, row, col, cell->v.r, NULL);
        break;
    case CW_MONEY_T:
        worksheet_write_number(sheet, row, col, (double)cell->v.i / 100, f->money);
        break;
    case CW_DAY_T:
        worksheet_write_number(sheet, row, col, serial((cw_day)cell->v.i), f->day);
        break;
    case CW_INSTANT_T:
        worksheet_write_number(sheet, row, col, serial(0) + (double)cell->v.i / (double)CW_DAY_MS,
                               f->instant);
        break;
    case CW_WEEK_T:
        cw_week_format((cw_week)cell->v.i, week);
        worksheet_write_string(sheet, row, col, week, NULL);
        break;
    case CW_BOOL_T:
        worksheet_write_boolean(sheet, row, col, cell->v.i != 0, NULL);
        break;
    default:
        worksheet_write_string(sheet, row, col, cw_table_text(t, r, c), NULL);
    }
}

static cw_code write_sheet(lxw_workbook *book, const formats *f, const char *name, const cw_table *t,
                           cw_go_on go_on, cw_error *err)
{
    lxw_worksheet *sheet = workbook_add_worksheet(book, name);
    size_t rows = cw_table_rows(t);
    if (sheet == NULL)
        return cw_error_memory(err);
    if (rows > MOST_ROWS)
        return cw_error_set(err, CW_REFUSED,
                            "the table %s has %zu rows, more than a sheet can hold (%d): write it as CSV",
                            name, rows, MOST_ROWS);
    for (size_t c = 0; c < t->width; c++)
        worksheet_write_string(sheet, 0, (lxw_col_t)c, t->columns[c].name, f->head);
    worksheet_freeze_panes(sheet, 1, 0);
    /* Memory stays low because libxlsxwriter writes each row out as the next begins: rows must come in order. */
    for (size_t r = 0; r < rows; r++) {
        for (size_t c = 0; c < t->width; c++)
            write_cell(sheet, f, t, r, c);
        if (r % CW_TELL_EVERY == 0 && !cw_wanted(go_on))
            return cw_given_up(err);
    }
    return CW_OK;
}

static cw_code fill_book(cw_nursery *n, const cw_asker *who, lxw_workbook *book, cw_error *err)
{
    formats f = make_formats(book);
    cw_code code = CW_OK;
    size_t count = cw_export_count();
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        cw_export e = cw_export_at(i);
        cw_table t = { 0 };
        if (who->progress && !who->progress(who->progress_context, e.name, i, count))
            return cw_error_set(err, CW_REFUSED, "given up as asked");
        code = cw_exporting_one(n, who, &e, &t, err);
        if (code == CW_OK)
            code = write_sheet(book, &f, e.name, &t, cw_asker_go_on(who), err);
        cw_table_free(&t);
    }
    return code;
}

cw_code cw_exporting_workbook(cw_nursery *n, const cw_asker *who, const char *path, cw_error *err)
{
    char part[1200];
    lxw_workbook_options options = { .constant_memory = LXW_TRUE };
    cw_code free_to = cw_db_may_replace(n->db, path, err);
    if (free_to != CW_OK)
        return free_to;
    snprintf(part, sizeof part, "%s.part", path);
    /* The library tells of a file that it cannot make on standard error, and only at the end; so it is tried here. */
    unlink(part);
    int probe = open(part, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC, 0600); /* the library keeps the mode */
    if (probe < 0)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be made: %s", strerror(errno));
    close(probe);
    lxw_workbook *book = workbook_new_opt(part, &options);
    if (book == NULL)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be made");
    cw_code code = fill_book(n, who, book, err);
    lxw_error closed = workbook_close(book);
    if (code == CW_OK && closed != LXW_NO_ERROR)
        code = cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be written: %s", lxw_strerror(closed));
    if (code == CW_OK && rename(part, path) != 0)
        code =
            cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be renamed into place: %s", strerror(errno));
    if (code != CW_OK)
        unlink(part);
    return code;
}
