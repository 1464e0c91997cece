/* SPDX-License-Identifier: MIT */
#include "base/csv.h"

#include "base/limits.h"
#include "base/text.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

#define ROOM (2 * CW_MAX_RECORD_BYTES + (1 << 20))

struct cw_csv {
    int fd; /* -1 when reading from memory */
    const char *memory;
    size_t memory_left;
    char *buffer;
    size_t room;  /* of the buffer */
    size_t start; /* first byte not yet handed out */
    size_t end;   /* bytes in the buffer */
    bool at_end;  /* the source has no more */
    bool broken;
    long line;       /* line of the current record */
    long next_line;  /* line of the next record */
    size_t expected; /* fields that each record must have; 0 before the header */
    cw_field fields[CW_MAX_COLUMNS];
    size_t field_count;
    uint64_t consumed, total;
    char name[256];
};

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static cw_csv *csv_new(const char *name, size_t room)
{
    cw_csv *c = calloc(1, sizeof *c);
    if (c == NULL)
        return NULL;
    c->room = room;
    c->buffer = malloc(room);
    if (c->buffer == NULL) {
        free(c);
        return NULL;
    }
    c->fd = -1;
    c->next_line = 1;
    cw_copy(c->name, sizeof c->name, name);
    return c;
}

cw_code cw_csv_open(const char *path, cw_csv **out, cw_error *err)
{
    struct stat st;
    *out = NULL;
    cw_csv *c = csv_new(base_name(path), ROOM);
    if (c == NULL)
        return cw_error_memory(err);
    c->fd = open(path, O_RDONLY | O_CLOEXEC);
    if (c->fd < 0 || fstat(c->fd, &st) != 0) {
        cw_code code = errno == ENOENT ? CW_REFUSED : CW_MACHINE;
        cw_error_at(err, code, path, 0, NULL, "cannot be opened: %s", strerror(errno));
        cw_csv_close(c);
        return code;
    }
    if (!S_ISREG(st.st_mode)) {
        cw_csv_close(c);
        return cw_error_at(err, CW_REFUSED, path, 0, NULL, "is not a file");
    }
    c->total = (uint64_t)st.st_size;
    *out = c;
    return CW_OK;
}

cw_code cw_csv_open_memory(const char *name, const char *bytes, size_t n, cw_csv **out, cw_error *err)
{
    *out = csv_new(name, n < ROOM ? n + 1 : ROOM); /* the byte more lets the end be seen */
    if (*out == NULL)
        return cw_error_memory(err);
    (*out)->memory = bytes;
    (*out)->memory_left = n;
    (*out)->total = n;
    return CW_OK;
}

void cw_csv_close(cw_csv *c)
{
    if (c == NULL)
        return;
    if (c->fd >= 0)
        close(c->fd);
    free(c->buffer);
    free(c);
}

/* Moves what is left to the front and fills the rest of the buffer. */
static cw_code fill(cw_csv *c, cw_error *err)
{
    memmove(c->buffer, c->buffer + c->start, c->end - c->start);
    c->end -= c->start;
    c->start = 0;
    while (!c->at_end && c->end < c->room) {
        ssize_t got = 0;
        if (c->fd >= 0) {
            got = read(c->fd, c->buffer + c->end, c->room - c->end);
        } else {
            got = (ssize_t)(c->memory_left < c->room - c->end ? c->memory_left : c->room - c->end);
            if (got > 0)
                memcpy(c->buffer + c->end, c->memory, (size_t)got);
            c->memory = c->memory ? c->memory + got : NULL;
            c->memory_left -= (size_t)got;
        }
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0) {
            c->broken = true;
            return cw_error_at(err, CW_MACHINE, c->name, c->next_line, NULL, "cannot be read: %s",
                               strerror(errno));
        }
        if (got == 0)
            c->at_end = true;
        c->end += (size_t)got;
    }
    if (c->consumed == 0 && c->end >= 3 && memcmp(c->buffer, "\xEF\xBB\xBF", 3) == 0) {
        c->start = 3;
        c->consumed = 3;
    }
    return CW_OK;
}

/* Offset just behind the record that begins at c->start, or 0 if the buffer ends before it does; *open = it ended
 * inside quotes. A quote opens only at the start of a field: a stray one spoils its own line (the split into fields
 * says so) and does not swallow the lines that follow. */
static size_t record_end(const cw_csv *c, long *lines, bool *open)
{
    bool quoted = false, field_start = true;
    long n = 0;
    size_t i = c->start, end = 0;
    const char *from = c->buffer + c->start, *stop = memchr(from, '\n', c->end - c->start);
    if (stop && memchr(from, '"', (size_t)(stop - from)) == NULL) { /* most rows have no quotes */
        *lines = 1;
        *open = false;
        return (size_t)(stop + 1 - c->buffer);
    }
    for (; i < c->end && end == 0; i++) {
        char ch = c->buffer[i];
        if (quoted) {
            n += ch == '\n';
            if (ch != '"')
                continue;
            if (i + 1 < c->end && c->buffer[i + 1] == '"')
                i++;
            else
                quoted = false;
        } else if (ch == '\n') {
            n++;
            end = i + 1;
        } else {
            quoted = ch == '"' && field_start;
            field_start = ch == ',';
        }
    }
    *lines = n;
    *open = quoted;
    if (end == 0 && c->at_end && c->end > c->start)
        end = c->end;
    return end;
}

typedef struct cursor {
    cw_csv *c;
    char *at, *stop;
    cw_error *err;
} cursor;

static cw_code wrong(cursor *k, const char *what, const char *s, size_t n)
{
    char shown[80], column[32];
    snprintf(column, sizeof column, "field %zu", k->c->field_count + 1);
    return cw_error_at(k->err, CW_REFUSED, k->c->name, k->c->line, column, "%s: %s", what,
                       cw_shown(s, n, shown));
}

/* A field in quotes; doubled quotes are folded in place. */
static cw_code quoted_field(cursor *k, cw_field *f)
{
    char *read = k->at + 1, *write = read;
    f->s = read;
    for (;;) {
        char *quote = memchr(read, '"', (size_t)(k->stop - read));
        if (quote == NULL)
            return wrong(k, "a quote is opened and never closed", k->at, (size_t)(k->stop - k->at));
        memmove(write, read, (size_t)(quote - read));
        write += quote - read;
        read = quote + 1;
        if (read == k->stop || *read != '"')
            break;
        *write++ = '"';
        read++;
    }
    f->n = (size_t)(write - f->s);
    if (read < k->stop && *read != ',')
        return wrong(k, "text follows a closing quote", read, (size_t)(k->stop - read));
    k->at = read;
    return CW_OK;
}

static cw_code plain_field(cursor *k, cw_field *f)
{
    char *comma = memchr(k->at, ',', (size_t)(k->stop - k->at));
    char *end = comma ? comma : k->stop;
    *f = (cw_field){ k->at, (size_t)(end - k->at) };
    if (memchr(f->s, '"', f->n))
        return wrong(k, "a quote stands inside a field that is not quoted", f->s, f->n);
    if (memchr(f->s, '\r', f->n))
        return wrong(k, "a carriage return stands inside a field that is not quoted", f->s, f->n);
    k->at = end;
    return CW_OK;
}

/* Is each byte an ASCII character, and none NUL? */
static bool is_ascii(const char *s, size_t n)
{
    const uint64_t ones = 0x0101010101010101u, high = 0x8080808080808080u;
    uint64_t block, odd = 0;
    for (; n >= 8; n -= 8, s += 8) {
        memcpy(&block, s, 8);
        odd |= block | (block - ones); /* of bytes below 128 only 0 borrows */
    }
    for (; n > 0; n--, s++)
        odd |= (uint64_t)((unsigned char)(*s - 1) >= 127) << 7;
    return (odd & high) == 0;
}

/* A row of plain ASCII without quotes, as most are, looked at as a whole. False: it is another, or something is wrong with it. */
static bool split_plain(cw_csv *c, char *from, char *to)
{
    size_t n = (size_t)(to - from), count = 0;
    if (!is_ascii(from, n) || memchr(from, '"', n) || memchr(from, '\r', n))
        return false;
    for (char *at = from;; at++) {
        char *comma = memchr(at, ',', (size_t)(to - at)), *end = comma ? comma : to;
        if (count == CW_MAX_COLUMNS || end - at > CW_MAX_FIELD_BYTES)
            return false;
        c->fields[count++] = (cw_field){ at, (size_t)(end - at) };
        at = end;
        if (at == to)
            break;
    }
    c->field_count = count;
    return true;
}

static cw_code split(cw_csv *c, char *from, char *to, cw_error *err)
{
    if (split_plain(c, from, to))
        return CW_OK;
    cursor k = { c, from, to, err };
    c->field_count = 0;
    for (;;) {
        cw_field f = { NULL, 0 };
        size_t bad = 0;
        if (c->field_count == CW_MAX_COLUMNS)
            return wrong(&k, "more fields than a row may have", k.at, (size_t)(to - k.at));
        cw_code code = k.at < to && *k.at == '"' ? quoted_field(&k, &f) : plain_field(&k, &f);
        if (code != CW_OK)
            return code;
        if (f.n > CW_MAX_FIELD_BYTES)
            return wrong(&k, "a field longer than 65536 bytes", f.s, f.n);
        if (!cw_utf8_valid(f.s, f.n, &bad))
            return wrong(&k, f.s[bad] == '\0' ? "a NUL byte" : "not valid UTF-8 (save the file as CSV UTF-8)",
                         f.s, f.n);
        c->fields[c->field_count++] = f;
        if (k.at == to)
            break;
        k.at++; /* the comma; a field follows it, even an empty one at the end of the row */
    }
    return CW_OK;
}

cw_code cw_csv_next(cw_csv *c, bool *more, cw_error *err)
{
    *more = false;
    for (;;) {
        long lines = 0;
        bool open = false;
        size_t stop = record_end(c, &lines, &open);
        if (stop == 0 && !c->at_end && c->end - c->start < c->room) {
            cw_code code = fill(c, err);
            if (code != CW_OK)
                return code;
            stop = record_end(c, &lines, &open);
        }
        if (stop == 0 && c->end == c->start)
            return CW_OK;
        c->line = c->next_line;
        if (stop == 0 || stop - c->start > CW_MAX_RECORD_BYTES) {
            char shown[80];
            c->broken = true;
            return cw_error_at(err, CW_REFUSED, c->name, c->line, NULL, "a row longer than %d bytes%s: %s",
                               CW_MAX_RECORD_BYTES, open ? " (a quote opened in it is not closed)" : "",
                               cw_shown(c->buffer + c->start, 80, shown));
        }
        char *from = c->buffer + c->start, *to = c->buffer + stop;
        c->consumed += stop - c->start;
        c->start = stop;
        c->next_line += lines;
        if (to > from && to[-1] == '\n')
            to--;
        if (to > from && to[-1] == '\r')
            to--;
        if (to == from)
            continue;
        *more = true;
        cw_code code = split(c, from, to, err);
        if (code == CW_OK && c->expected && c->field_count != c->expected)
            code = cw_error_at(err, CW_REFUSED, c->name, c->line, NULL, "%zu fields where the header has %zu",
                               c->field_count, c->expected);
        return code;
    }
}

static bool field_is(const cw_field *f, const char *s)
{
    return strlen(s) == f->n && memcmp(f->s, s, f->n) == 0;
}

static cw_code header_names(cw_csv *c, const cw_csv_column *columns, size_t n, bool ignore_extra, int *map,
                            cw_error *err)
{
    char shown[80];
    for (size_t i = 0; i < c->field_count; i++) {
        const cw_field *f = &c->fields[i];
        size_t k = 0;
        while (k < n && !field_is(f, columns[k].name))
            k++;
        if (k == n && ignore_extra)
            continue;
        if (k == n)
            return cw_error_at(err, CW_REFUSED, c->name, c->line, NULL, "unknown column: %s",
                               cw_shown(f->s, f->n, shown));
        if (map[k] >= 0)
            return cw_error_at(err, CW_REFUSED, c->name, c->line, columns[k].name,
                               "the column stands twice in the header");
        map[k] = (int)i;
    }
    for (size_t k = 0; k < n; k++)
        if (columns[k].required && map[k] < 0)
            return cw_error_at(err, CW_REFUSED, c->name, c->line, columns[k].name,
                               "the header lacks this required column");
    return CW_OK;
}

cw_code cw_csv_header(cw_csv *c, const cw_csv_column *columns, size_t n, bool ignore_extra, int *map,
                      cw_error *err)
{
    bool more = false;
    for (size_t k = 0; k < n; k++)
        map[k] = -1;
    cw_code code = cw_csv_next(c, &more, err);
    if (code != CW_OK)
        return code;
    if (!more)
        return cw_error_at(err, CW_REFUSED, c->name, 1, NULL, "the file is empty: a header row is required");
    if (c->field_count == 1 &&
        (memchr(c->fields[0].s, ';', c->fields[0].n) || memchr(c->fields[0].s, '\t', c->fields[0].n))) {
        char shown[80];
        return cw_error_at(err, CW_REFUSED, c->name, c->line, NULL,
                           "columns must be parted by commas, not by semicolons or tabs: %s",
                           cw_shown(c->fields[0].s, c->fields[0].n, shown));
    }
    code = header_names(c, columns, n, ignore_extra, map, err);
    c->expected = c->field_count;
    return code;
}

bool cw_csv_broken(const cw_csv *c)
{
    return c->broken;
}

const cw_field *cw_csv_fields(const cw_csv *c)
{
    return c->fields;
}

size_t cw_csv_field_count(const cw_csv *c)
{
    return c->field_count;
}

long cw_csv_line(const cw_csv *c)
{
    return c->line;
}

const char *cw_csv_name(const cw_csv *c)
{
    return c->name;
}

uint64_t cw_csv_consumed(const cw_csv *c)
{
    return c->consumed;
}

uint64_t cw_csv_total(const cw_csv *c)
{
    return c->total;
}

void cw_error_list_add(cw_error_list *l, const cw_error *e)
{
    l->count++;
    if (l->kept == CW_MAX_LISTED_ERRORS)
        return;
    /* Without memory at the first, the list stays empty: one that begins with the second would be taken for whole. */
    if (l->count == 1)
        l->items = calloc(CW_MAX_LISTED_ERRORS, sizeof *l->items);
    if (l->items)
        l->items[l->kept++] = *e;
}

void cw_error_list_free(cw_error_list *l)
{
    free(l->items);
    *l = (cw_error_list){ NULL, 0, 0 };
}
