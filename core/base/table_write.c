/* SPDX-License-Identifier: MIT */
#include "base/table.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Results of a million rows are written here, so there is no printf for each cell and no search for each byte: one buffer, which is
 * handed on when it is full. */
#define BUFFER_BYTES (64 * 1024)
#define CHUNK        2048 /* bytes of a text at a time; six times as many stand in the buffer when all are escaped */

static cw_code text_write(void *self, const char *bytes, size_t n, cw_error *err)
{
    cw_text_addn(self, bytes, n);
    return cw_text_check(self, err);
}

cw_sink cw_sink_text(cw_text *t)
{
    return (cw_sink){ text_write, t };
}

cw_writer cw_writer_new(cw_format format, cw_sink to)
{
    return (cw_writer){ .format = format, .to = to, .prefixes = CW_TEXT((size_t)1 << 20) };
}

void cw_writer_free(cw_writer *w)
{
    free(w->buffer);
    free(w->prefix);
    cw_text_free(&w->prefixes);
    *w = cw_writer_new(w->format, w->to);
}

static cw_code hand_on(cw_writer *w, cw_error *err)
{
    cw_code code = w->used ? w->to.write(w->to.self, w->buffer, w->used, err) : CW_OK;
    w->used = 0;
    return code;
}

/* Room for n more bytes in the buffer; n <= BUFFER_BYTES. */
static inline bool have_room(cw_writer *w, size_t n, cw_code *code, cw_error *err)
{
    if (w->used + n > BUFFER_BYTES)
        *code = hand_on(w, err);
    return *code == CW_OK;
}

static inline void put(cw_writer *w, const char *s, size_t n)
{
    memcpy(w->buffer + w->used, s, n);
    w->used += n;
}

/* What stands before each cell of a row: its name in JSON, a comma. */
static cw_code prefixes_make(cw_writer *w, const cw_table *t, cw_error *err)
{
    w->buffer = malloc(BUFFER_BYTES);
    w->prefix = calloc(t->width + 1, sizeof *w->prefix);
    if (w->buffer == NULL || w->prefix == NULL)
        return cw_error_memory(err);
    for (size_t c = 0; c < t->width; c++) {
        w->prefix[c] = w->prefixes.length;
        if (w->format != CW_AS_JSON)
            cw_text_add(&w->prefixes, c ? "," : "");
        else
            cw_text_addf(&w->prefixes, "%s\"%s\":", c ? "," : "{", t->columns[c].name);
    }
    w->prefix[t->width] = w->prefixes.length;
    return cw_text_check(&w->prefixes, err);
}

static cw_code begin(cw_writer *w, const cw_table *t, cw_error *err)
{
    cw_text head = CW_TEXT((size_t)1 << 20);
    cw_code code = prefixes_make(w, t, err);
    for (size_t c = 0; c < t->width && w->format != CW_AS_JSON; c++)
        cw_text_addf(&head, "%s%s", c ? "," : "", t->columns[c].name);
    cw_text_addc(&head, w->format != CW_AS_JSON ? '\n' : '[');
    if (code == CW_OK)
        code = cw_text_check(&head, err);
    if (code == CW_OK)
        code = w->to.write(w->to.self, head.data, head.length, err);
    cw_text_free(&head);
    return code;
}

/* Bytes that need more than to be copied, in a CSV and in a JSON text. */
static inline bool csv_special(char c)
{
    return c == ',' || c == '"' || c == '\n' || c == '\r';
}

static inline bool json_special(char c)
{
    return c == '"' || c == '\\' || (unsigned char)c < 0x20;
}

static cw_code csv_text(cw_writer *w, const char *s, cw_error *err)
{
    cw_code code = CW_OK;
    size_t n = strlen(s), i = 0;
    while (i < n && !csv_special(s[i]))
        i++;
    bool quoted = i < n, formula = w->format == CW_AS_SHEET && s[0] && strchr("=+-@\t\r", s[0]);
    if (!have_room(w, 2, &code, err))
        return code;
    if (quoted)
        put(w, "\"", 1);
    if (formula)
        put(w, "'", 1);
    for (size_t from = 0; from < n && code == CW_OK; from += CHUNK) {
        size_t length = n - from < CHUNK ? n - from : CHUNK;
        if (!have_room(w, 2 * length + 1, &code, err))
            break;
        if (!quoted)
            put(w, s + from, length);
        for (i = from; i < from + length && quoted; i++)
            put(w, s[i] == '"' ? "\"\"" : s + i, s[i] == '"' ? 2 : 1);
    }
    if (quoted && have_room(w, 1, &code, err))
        put(w, "\"", 1);
    return code;
}

static void json_escaped(cw_writer *w, char c)
{
    static const char hex[] = "0123456789abcdef";
    const char code[6] = { '\\', 'u', '0', '0', hex[(unsigned char)c >> 4], hex[c & 15] };
    const char plain[2] = { '\\', c };
    if (c == '"' || c == '\\')
        put(w, plain, 2);
    else
        put(w, code, 6);
}

static cw_code json_text(cw_writer *w, const char *s, cw_error *err)
{
    cw_code code = CW_OK;
    size_t n = strlen(s);
    if (have_room(w, 1, &code, err))
        put(w, "\"", 1);
    for (size_t from = 0; from < n && code == CW_OK; from += CHUNK) {
        size_t end = n - from < CHUNK ? n : from + CHUNK;
        if (!have_room(w, 6 * CHUNK + 1, &code, err))
            break;
        for (size_t i = from; i < end; i++) {
            size_t plain = i;
            while (i < end && !json_special(s[i]))
                i++;
            put(w, s + plain, i - plain);
            if (i < end)
                json_escaped(w, s[i]);
        }
    }
    if (have_room(w, 1, &code, err))
        put(w, "\"", 1);
    return code;
}

static void json_plain(cw_writer *w, const cw_column *c, const cw_cell *cell)
{
    bool number = c->type == CW_INT_T || c->type == CW_REAL_T;
    if (cell->null) {
        put(w, "null", 4);
    } else if (c->type == CW_BOOL_T) {
        put(w, cell->v.i ? "true" : "false", cell->v.i ? 4 : 5);
    } else {
        if (!number)
            w->buffer[w->used++] = '"';
        w->used += cw_table_format(c, cell, w->buffer + w->used);
        if (!number)
            w->buffer[w->used++] = '"';
    }
}

static cw_code write_cell(cw_writer *w, const cw_table *t, const cw_cell *cell, size_t c, cw_error *err)
{
    cw_code code = CW_OK;
    bool text = t->columns[c].type == CW_TEXT_T && !cell->null;
    size_t prefix = w->prefix[c + 1] - w->prefix[c];
    if (!have_room(w, prefix + CW_CELL_BYTES + 2, &code, err))
        return code;
    put(w, w->prefixes.data + w->prefix[c], prefix);
    if (text)
        return w->format != CW_AS_JSON ? csv_text(w, t->texts.data + cell->v.offset, err)
                                       : json_text(w, t->texts.data + cell->v.offset, err);
    if (w->format == CW_AS_JSON)
        json_plain(w, &t->columns[c], cell);
    else if (!cell->null)
        w->used += cw_table_format(&t->columns[c], cell, w->buffer + w->used);
    return CW_OK;
}

cw_code cw_writer_rows(cw_writer *w, const cw_table *t, cw_error *err)
{
    cw_code code = w->buffer ? CW_OK : begin(w, t, err);
    const cw_cell *cell = t->cells;
    for (size_t r = 0; r < cw_table_rows(t) && code == CW_OK; r++) {
        if (w->format == CW_AS_JSON && have_room(w, 2, &code, err))
            put(w, &",\n"[w->rows == 0], 2 - (size_t)(w->rows == 0));
        w->rows++;
        for (size_t c = 0; c < t->width && code == CW_OK; c++)
            code = write_cell(w, t, cell++, c, err);
        if (code == CW_OK && have_room(w, 1, &code, err))
            w->buffer[w->used++] = w->format != CW_AS_JSON ? '\n' : '}';
    }
    return code;
}

cw_code cw_writer_end(cw_writer *w, cw_error *err)
{
    cw_code code = CW_OK;
    if (w->format == CW_AS_JSON && have_room(w, 2, &code, err))
        put(w, "\n]", 2);
    return code == CW_OK ? hand_on(w, err) : code;
}

static cw_code write_whole(const cw_table *t, cw_format format, cw_sink to, cw_error *err)
{
    cw_writer w = cw_writer_new(format, to);
    cw_code code = cw_writer_rows(&w, t, err);
    if (code == CW_OK)
        code = cw_writer_end(&w, err);
    cw_writer_free(&w);
    return code;
}

cw_code cw_table_csv(const cw_table *t, cw_sink to, cw_error *err)
{
    return write_whole(t, CW_AS_CSV, to, err);
}

cw_code cw_table_csv_sheet(const cw_table *t, cw_sink to, cw_error *err)
{
    return write_whole(t, CW_AS_SHEET, to, err);
}

cw_code cw_table_json(const cw_table *t, cw_sink to, cw_error *err)
{
    return write_whole(t, CW_AS_JSON, to, err);
}
