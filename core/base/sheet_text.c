/* SPDX-License-Identifier: MIT */
#include "base/sheet_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Text parted by a delimiter: RFC 4180 with any of four delimiters and any line end. A quote opens only at the start of a field;
 * one inside a field stands for itself (5" pots). */
typedef struct reading {
    const char *name;
    const char *at, *stop;
    char delimiter;
    long line;
    cw_text field; /* of quoted ones: without the quotes */
} reading;

static bool is_end(const reading *r)
{
    return r->at == r->stop || *r->at == '\n' || *r->at == '\r';
}

/* A field in quotes into r->field; the cursor then stands behind what follows the closing quote. */
static cw_code quoted(reading *r, cw_error *err)
{
    const char *from = r->at++;
    long line = r->line;
    char shown[80];
    cw_text_clear(&r->field);
    for (;;) {
        const char *quote = memchr(r->at, '"', (size_t)(r->stop - r->at));
        if (quote == NULL || quote - from > CW_MAX_RECORD_BYTES)
            return cw_error_at(err, CW_REFUSED, r->name, line, NULL, "a quote is opened and never closed: %s",
                               cw_shown(from, (size_t)(r->stop - from < 80 ? r->stop - from : 80), shown));
        for (const char *c = r->at; c < quote; c++)
            r->line += *c == '\n' || (*c == '\r' && c + 1 < r->stop && c[1] != '\n');
        cw_text_addn(&r->field, r->at, (size_t)(quote - r->at));
        r->at = quote + 1;
        if (r->at == r->stop || *r->at != '"')
            break;
        cw_text_addc(&r->field, '"');
        r->at++;
    }
    if (!is_end(r) && *r->at != r->delimiter)
        return cw_error_at(err, CW_REFUSED, r->name, line, NULL, "text follows a closing quote: %s",
                           cw_shown(from, (size_t)(r->stop - from < 80 ? r->stop - from : 80), shown));
    return CW_OK;
}

static void next_line(reading *r)
{
    if (r->at < r->stop && *r->at == '\r')
        r->at++, r->at += r->at < r->stop && *r->at == '\n';
    else if (r->at < r->stop)
        r->at++;
    r->line++;
}

static cw_code record(reading *r, cw_sheet *s, cw_error *err)
{
    const long line = r->line;
    for (unsigned column = 0;; column++) {
        cw_code code = CW_OK;
        if (r->at < r->stop && *r->at == '"') {
            code = quoted(r, err);
            if (code == CW_OK && r->field.failed)
                code = cw_error_memory(err);
            if (code == CW_OK && r->field.length)
                code = cw_sheet_put(s, line, column, CW_STANDS_TEXT, r->field.data, r->field.length, err);
        } else {
            const char *from = r->at;
            while (!is_end(r) && *r->at != r->delimiter)
                r->at++;
            code = cw_sheet_put(s, line, column, CW_STANDS_TEXT, from, (size_t)(r->at - from), err);
        }
        if (code != CW_OK)
            return code;
        if (is_end(r)) {
            next_line(r);
            return CW_OK;
        }
        r->at++;
    }
}

/* How many of the first lines have as many fields as most of them have, and how many that is. */
static void try_delimiter(const char *s, size_t n, char delimiter, long *lines, long *same, long *fields)
{
    long of[CW_MAX_SHEET_COLUMNS + 1] = { 0 };
    long count = 1;
    bool open = false, start = true, any = false;
    *lines = *same = *fields = 0;
    for (size_t i = 0; i < n && *lines < 500; i++) {
        char c = s[i];
        if (open) {
            if (c == '"' && i + 1 < n && s[i + 1] == '"')
                i++;
            else if (c == '"')
                open = false;
            continue;
        }
        if (c == '\n' || c == '\r') {
            if (any) {
                of[count < CW_MAX_SHEET_COLUMNS ? count : CW_MAX_SHEET_COLUMNS]++;
                ++*lines;
            }
            count = 1;
            start = true;
            any = false;
            continue;
        }
        open = c == '"' && start;
        start = c == delimiter;
        count += c == delimiter;
        any = any || (c != delimiter && c != ' ');
    }
    if (any) {
        of[count < CW_MAX_SHEET_COLUMNS ? count : CW_MAX_SHEET_COLUMNS]++;
        ++*lines;
    }
    for (int f = 2; f <= CW_MAX_SHEET_COLUMNS; f++)
        if (of[f] > *same) {
            *same = of[f];
            *fields = f;
        }
}

/* The delimiter by which most lines fall into equally many fields. A comma that only some of the lines have is one of decimals. */
static void find_delimiter(const char *s, size_t n, cw_workbook *b)
{
    static const char all[] = "\t;,|";
    static const char *const called[] = { "tabs", "semicolons", "commas", "bars" };
    long best = 0, best_fields = 0;
    if (n >= 6 && memcmp(s, "sep=", 4) == 0 && strchr(all, s[4]) && s[4]) {
        b->delimiter = s[4];
        snprintf(b->why, sizeof b->why, "the first line names the delimiter");
        return;
    }
    b->delimiter = ',';
    snprintf(b->why, sizeof b->why, "one column");
    size_t look = n < ((size_t)1 << 18) ? n : (size_t)1 << 18;
    for (int i = 0; all[i]; i++) {
        long lines = 0, same = 0, fields = 0;
        try_delimiter(s, look, all[i], &lines, &same, &fields);
        if (same > best || (same == best && fields > best_fields)) {
            best = same;
            best_fields = fields;
            b->delimiter = all[i];
            snprintf(b->why, sizeof b->why, "parted by %s: %ld of the first %ld lines have %ld fields",
                     called[i], same, lines, fields);
        }
    }
}

cw_code cw_workbook_text(const char *name, const char *bytes, size_t n, cw_charset charset, cw_go_on go_on,
                         cw_workbook *out, cw_error *err)
{
    cw_text text = CW_TEXT((size_t)CW_MAX_SHEET_TEXT_BYTES);
    size_t bad = 0;
    cw_code code = CW_OK;
    cw_charset found = cw_charset_find(bytes, n, &out->charset_sure);
    out->charset = charset == CW_CHARSET_UNKNOWN ? found : charset;
    if (out->charset == CW_CHARSET_UNKNOWN)
        return cw_error_at(err, CW_REFUSED, name, 0, NULL,
                           "is neither text nor an .xlsx workbook; save it as .xlsx, or as CSV");
    cw_charset_decode(out->charset, bytes, n, &text);
    code = cw_text_check(&text, err);
    if (code == CW_OK && !cw_utf8_valid(text.data, text.length, &bad))
        code = cw_error_at(err, CW_REFUSED, name, 0, NULL, "is no text in %s: byte %zu",
                           cw_charset_name(out->charset), bad + 1);
    cw_sheet *s = code == CW_OK ? cw_workbook_add(out, name, err) : NULL;
    if (s == NULL) {
        cw_text_free(&text);
        return code == CW_OK ? CW_MACHINE : code;
    }
    find_delimiter(text.data, text.length, out);
    cw_text_reserve(&s->texts, text.length);
    reading r = { .name = name,
                  .at = text.data,
                  .stop = text.data + text.length,
                  .delimiter = out->delimiter,
                  .line = 1,
                  .field = CW_TEXT(CW_MAX_RECORD_BYTES) };
    if (text.length >= 6 && memcmp(text.data, "sep=", 4) == 0 && text.data[4] == out->delimiter) {
        while (!is_end(&r))
            r.at++;
        next_line(&r);
    }
    while (code == CW_OK && r.at < r.stop) {
        code = record(&r, s, err);
        if (code == CW_OK && r.line % 4096 == 0 && !cw_wanted(go_on))
            code = cw_given_up(err);
    }
    cw_text_free(&r.field);
    cw_text_free(&text);
    return code;
}
