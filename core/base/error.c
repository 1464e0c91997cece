/* SPDX-License-Identifier: MIT */
#include "base/error.h"

#include "base/text.h"
#include <stdio.h>

#include "base/banned.h"

static cw_code error_fill(cw_error *err, cw_code code, const char *file, long row, const char *column, const char *format,
                          va_list args) CW_PRINTF(6, 0);
static cw_code error_fill(cw_error *err, cw_code code, const char *file, long row, const char *column,
                          const char *format, va_list args)
{
    if (err == NULL || err->code != CW_OK)
        return code;
    err->code = code;
    cw_copy(err->file, sizeof err->file, file ? file : "");
    err->row = row;
    cw_copy(err->column, sizeof err->column, column ? column : "");
    vsnprintf(err->text, sizeof err->text, format, args);
    return code;
}

cw_code cw_error_set(cw_error *err, cw_code code, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    error_fill(err, code, NULL, 0, NULL, format, args);
    va_end(args);
    return code;
}

cw_code cw_error_at(cw_error *err, cw_code code, const char *file, long row, const char *column,
                    const char *format, ...)
{
    va_list args;
    va_start(args, format);
    error_fill(err, code, file, row, column, format, args);
    va_end(args);
    return code;
}

cw_code cw_error_memory(cw_error *err)
{
    return cw_error_set(err, CW_MACHINE, "this machine has no memory left for the work");
}

void cw_error_line(const cw_error *err, char *out, unsigned long size)
{
    char place[400] = "";
    if (err->file[0] && err->row > 0)
        snprintf(place, sizeof place, "%s:%ld: ", err->file, err->row);
    else if (err->file[0])
        snprintf(place, sizeof place, "%s: ", err->file);
    snprintf(out, size, "%s%s%s%s", place, err->column, err->column[0] ? ": " : "", err->text);
}

int cw_code_exit(cw_code code)
{
    switch (code) {
    case CW_OK:
        return 0;
    case CW_USAGE:
        return 2;
    case CW_MACHINE:
        return 3;
    case CW_REFUSED:
    case CW_NOT_FOUND:
    case CW_CONFLICT:
    case CW_FORBIDDEN:
        return 1;
    }
    return 1;
}
