/* SPDX-License-Identifier: MIT */
#undef CW_ANALYZED /* here they are themselves */
#include "base/error.h"

#include "base/text.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Printing may have cut inside a character: that one goes. */
static void drop_last(char *text)
{
    size_t n = strlen(text);
    while (n > 0 && ((unsigned char)text[n - 1] & 0xC0) == 0x80)
        n--;
    if (n > 0 && (unsigned char)text[n - 1] >= 0xC0)
        n--;
    text[n] = '\0';
}

/* A library's sentence, or a precision such as %.200s, may have cut inside one, too: without it the text is UTF-8, or no answer could
 * hold it. */
static void keep_utf8(char *text)
{
    size_t bad = 0;
    while (!cw_utf8_valid(text, strlen(text), &bad))
        text[bad] = '?';
}

static cw_code error_fill(cw_error *err, cw_code code, const char *file, long row, const char *column,
                          const char *format, va_list args) CW_PRINTF(6, 0);
static cw_code error_fill(cw_error *err, cw_code code, const char *file, long row, const char *column,
                          const char *format, va_list args)
{
    if (err == NULL || err->code != CW_OK)
        return code;
    err->code = code;
    cw_copy(err->file, sizeof err->file, file ? file : "");
    err->row = row;
    cw_copy(err->column, sizeof err->column, column ? column : "");
    if (vsnprintf(err->text, sizeof err->text, format, args) >= (int)sizeof err->text)
        drop_last(err->text);
    keep_utf8(err->text);
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
