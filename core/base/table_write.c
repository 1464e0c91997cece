/* SPDX-License-Identifier: MIT */
#include "base/table.h"

#include <assert.h>
#include <math.h>
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

/* What went wrong first is kept for cw_writer_check; from then on nothing more goes on. */
static void hand_on(cw_writer *w)
{
    if (w->used && w->code == CW_OK)
        w->code = w->to.write(w->to.self, w->buffer, w->used, &w->trouble);
    w->used = 0;
    w->handed++;
}

/* Room for n more bytes in the buffer; n <= BUFFER_BYTES. */
static inline void make_room(cw_writer *w, size_t n)
{
    if (w->used + n > BUFFER_BYTES)
        hand_on(w);
}

/* Texts are short: blocks of a size that the compiler knows take a third of the time that its memcpy of an unknown one takes. */
static inline void copy(char *to, const char *s, size_t n)
{
    if (n >= 16) {
        for (size_t i = 0; i + 16 <= n; i += 16)
            memcpy(to + i, s + i, 16);
        memcpy(to + n - 16, s + n - 16, 16);
    } else if (n >= 8) {
        memcpy(to, s, 8);
        memcpy(to + n - 8, s + n - 8, 8);
    } else {
        for (size_t i = 0; i < n; i++)
            to[i] = s[i];
    }
}

static inline void put(cw_writer *w, const char *s, size_t n)
{
    copy(w->buffer + w->used, s, n);
    w->used += n;
}

/* A few bytes, of which `n` count: copied as a block, which takes no time to begin. The caller made room for BLOCK. */
#define BLOCK 64
static inline void put_few(cw_writer *w, const char *block, size_t n)
{
    memcpy(w->buffer + w->used, block, BLOCK);
    w->used += n;
}

/* What stands before each cell of a row: its name in JSON, a comma; BLOCK bytes for each, or more. */
static cw_code prefixes_make(cw_writer *w, cw_error *err)
{
    static const char none[BLOCK];
    w->buffer = malloc(BUFFER_BYTES + BLOCK);
    w->prefix = calloc(w->width + 1, sizeof *w->prefix);
    if (w->buffer == NULL || w->prefix == NULL)
        return cw_error_memory(err);
    for (size_t c = 0; c < w->width; c++) {
        w->prefix[c].at = w->prefixes.length;
        if (w->format != CW_AS_JSON)
            cw_text_add(&w->prefixes, c ? "," : "");
        else
            cw_text_addf(&w->prefixes, "%s\"%s\":", c ? "," : "{", w->columns[c].name);
        w->prefix[c].length = w->prefixes.length - w->prefix[c].at;
        cw_text_addn(&w->prefixes, none, BLOCK);
    }
    return cw_text_check(&w->prefixes, err);
}

cw_code cw_writer_begin(cw_writer *w, const cw_column *columns, size_t width, cw_error *err)
{
    cw_text head = CW_TEXT((size_t)1 << 20);
    w->columns = columns;
    w->width = width;
    cw_code code = prefixes_make(w, err);
    for (size_t c = 0; c < width && w->format != CW_AS_JSON; c++)
        cw_text_addf(&head, "%s%s", c ? "," : "", columns[c].name);
    cw_text_addc(&head, w->format != CW_AS_JSON ? '\n' : '[');
    if (code == CW_OK)
        code = cw_text_check(&head, err);
    if (code == CW_OK)
        code = w->to.write(w->to.self, head.data, head.length, err);
    cw_text_free(&head);
    return code;
}

cw_code cw_writer_begin_part(cw_writer *w, const cw_column *columns, size_t width, bool first, cw_error *err)
{
    w->columns = columns;
    w->width = width;
    w->rows = !first; /* one before it is as good as many */
    return prefixes_make(w, err);
}

/* Begins a cell: what stands before it, and room for one that is no text. */
static inline void cell_begin(cw_writer *w, cw_type type)
{
    assert(w->columns && w->columns[w->at].type == type);
    (void)type;
    size_t length = w->prefix[w->at].length;
    const char *prefix = w->prefixes.data + w->prefix[w->at].at;
    make_room(w, length + 2 * BLOCK + CW_CELL_BYTES + 8);
    if (w->at == 0 && w->format == CW_AS_JSON)
        put(w, &",\n"[w->rows == 0], 2 - (size_t)(w->rows == 0));
    if (length <= BLOCK)
        put_few(w, prefix, length);
    else
        put(w, prefix, length);
}

static inline void cell_end(cw_writer *w)
{
    if (++w->at < w->width)
        return;
    w->buffer[w->used++] = w->format != CW_AS_JSON ? '\n' : '}';
    w->at = 0;
    w->rows++;
}

/* Bytes that need more than to be copied, in a CSV and in a JSON text. */
#define CSV_SPECIAL  1
#define JSON_SPECIAL 2
static const unsigned char special[256] = {
    [0] = 2,  [1] = 2,  [2] = 2,  [3] = 2,  [4] = 2,  [5] = 2,   [6] = 2,   [7] = 2,    [8] = 2,
    [9] = 2,  [10] = 3, [11] = 2, [12] = 2, [13] = 3, [14] = 2,  [15] = 2,  [16] = 2,   [17] = 2,
    [18] = 2, [19] = 2, [20] = 2, [21] = 2, [22] = 2, [23] = 2,  [24] = 2,  [25] = 2,   [26] = 2,
    [27] = 2, [28] = 2, [29] = 2, [30] = 2, [31] = 2, [','] = 1, ['"'] = 3, ['\\'] = 2,
};

/* How many of the n bytes come before the first that is special. */
static inline size_t plain_bytes(const char *s, size_t n, unsigned kind)
{
    size_t i = 0;
    for (; i + 4 <= n; i += 4)
        if ((special[(unsigned char)s[i]] | special[(unsigned char)s[i + 1]] |
             special[(unsigned char)s[i + 2]] | special[(unsigned char)s[i + 3]]) &
            kind)
            break;
    while (i < n && !(special[(unsigned char)s[i]] & kind))
        i++;
    return i;
}

static void csv_text(cw_writer *w, const char *s, size_t n)
{
    bool quoted = plain_bytes(s, n, CSV_SPECIAL) < n,
         formula = w->format == CW_AS_SHEET && n > 0 && s[0] && strchr("=+-@\t\r", s[0]);
    if (quoted)
        put(w, "\"", 1);
    if (formula)
        put(w, "'", 1);
    for (size_t from = 0; from < n; from += CHUNK) {
        size_t length = n - from < CHUNK ? n - from : CHUNK;
        make_room(w, 2 * length + 2);
        if (!quoted)
            put(w, s + from, length);
        for (size_t i = from; i < from + length && quoted; i++)
            put(w, s[i] == '"' ? "\"\"" : s + i, s[i] == '"' ? 2 : 1);
    }
    if (quoted)
        put(w, "\"", 1);
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

static void json_text(cw_writer *w, const char *s, size_t n)
{
    put(w, "\"", 1);
    for (size_t from = 0; from < n; from += CHUNK) {
        size_t end = n - from < CHUNK ? n : from + CHUNK;
        make_room(w, 6 * CHUNK + 2);
        for (size_t i = from; i < end; i++) {
            size_t plain = plain_bytes(s + i, end - i, JSON_SPECIAL);
            put(w, s + i, plain);
            i += plain;
            if (i < end)
                json_escaped(w, s[i]);
        }
    }
    put(w, "\"", 1);
}

static void write_null(cw_writer *w)
{
    if (w->format == CW_AS_JSON)
        put(w, "null", 4);
}

void cw_write_null(cw_writer *w)
{
    cell_begin(w, w->columns[w->at].type);
    write_null(w);
    cell_end(w);
}

void cw_write_text(cw_writer *w, const char *s, size_t n)
{
    bool null = s == NULL || (n == 0 && w->columns[w->at].null);
    cell_begin(w, CW_TEXT_T);
    if (null)
        write_null(w);
    else if (w->format == CW_AS_JSON)
        json_text(w, s, n);
    else
        csv_text(w, s, n);
    cell_end(w);
}

/* A cell that is no text, in a column of its type. */
static void write_plain(cw_writer *w, cw_type type, const cw_value *v, bool null)
{
    bool json = w->format == CW_AS_JSON, number = type == CW_INT_T || type == CW_REAL_T;
    cell_begin(w, type);
    if (null) {
        write_null(w);
    } else if (json && type == CW_BOOL_T) {
        put(w, v->i ? "true" : "false", v->i ? 4 : 5);
    } else {
        if (json && !number)
            w->buffer[w->used++] = '"';
        w->used += type == CW_INT_T
                       ? cw_format_int(v->i, w->buffer + w->used)
                       : cw_value_format(type, w->columns[w->at].decimals, v, w->buffer + w->used);
        if (json && !number)
            w->buffer[w->used++] = '"';
    }
    cell_end(w);
}

void cw_write_int(cw_writer *w, int64_t v)
{
    cw_type type = w->columns[w->at].type;
    write_plain(w, type, &(cw_value){ .i = v }, cw_is_none(type, v));
}

void cw_write_real(cw_writer *w, double v)
{
    write_plain(w, CW_REAL_T, &(cw_value){ .r = v }, isnan(v));
}

cw_writer_mark cw_writer_here(const cw_writer *w)
{
    return (cw_writer_mark){ w->handed, w->used };
}

const char *cw_writer_since(const cw_writer *w, cw_writer_mark m, size_t *n)
{
    *n = m.handed == w->handed ? w->used - m.used : 0;
    return m.handed == w->handed ? w->buffer + m.used : NULL;
}

void cw_write_cells(cw_writer *w, const char *bytes, size_t n, size_t cells)
{
    assert(n <= BUFFER_BYTES && w->at > 0 && w->at + cells < w->width);
    make_room(w, n);
    put(w, bytes, n);
    w->at += cells;
}

cw_code cw_writer_check(cw_writer *w, cw_error *err)
{
    if (w->code != CW_OK && err && err->code == CW_OK)
        *err = w->trouble;
    return w->code;
}

static void write_cell(cw_writer *w, const cw_table *t, const cw_cell *cell)
{
    cw_type type = t->columns[w->at].type;
    const char *text = cell->null || type != CW_TEXT_T ? NULL : t->texts.data + cell->v.offset;
    if (type == CW_TEXT_T)
        cw_write_text(w, text, text ? strlen(text) : 0);
    else if (type == CW_REAL_T)
        write_plain(w, type, &(cw_value){ .r = cell->v.r }, cell->null);
    else
        write_plain(w, type, &(cw_value){ .i = cell->v.i }, cell->null);
}

cw_code cw_writer_rows(cw_writer *w, const cw_table *t, cw_error *err)
{
    cw_code code = w->columns ? CW_OK : cw_writer_begin(w, t->columns, t->width, err);
    if (code != CW_OK)
        return code;
    for (size_t i = 0; i < t->used && w->code == CW_OK; i++)
        write_cell(w, t, &t->cells[i]);
    return cw_writer_check(w, err);
}

cw_code cw_writer_end(cw_writer *w, cw_error *err)
{
    assert(w->at == 0);
    make_room(w, 2);
    if (w->format == CW_AS_JSON)
        put(w, "\n]", 2);
    hand_on(w);
    return cw_writer_check(w, err);
}

cw_code cw_writer_end_part(cw_writer *w, cw_error *err)
{
    assert(w->at == 0);
    hand_on(w);
    return cw_writer_check(w, err);
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
