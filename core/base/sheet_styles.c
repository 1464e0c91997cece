/* SPDX-License-Identifier: MIT */
#include "base/sheet_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Which cells are days? A cell names a row of cellXfs, that names a number format: one of the built-in ones (ECMA-376 part 1,
 * 18.8.30) or one that styles.xml writes out. */

bool cw_format_is_day(const char *code, bool *clock)
{
    bool day = false;
    *clock = false;
    for (const char *c = code; *c && *c != ';'; c++) {
        if (*c == '"') { /* words between quotes stand for themselves */
            c = strchr(c + 1, '"');
            if (c == NULL)
                break;
        } else if ((*c == '\\' || *c == '_' || *c == '*') && c[1]) {
            c++;
        } else if (*c == '[') { /* a colour, a condition, a language; or a span of time, which is a number */
            const char *close = strchr(c, ']');
            if (close == NULL)
                break;
            if (strspn(c + 1, "hms") == (size_t)(close - c - 1) && close > c + 1)
                return false;
            c = close;
        } else if (strncmp(c, "General", 7) == 0) {
            c += 6;
        } else if (*c == 'y' || *c == 'd' || *c == 'Y' || *c == 'D') {
            day = true;
        } else if (*c == 'h' || *c == 'H') {
            *clock = true;
        }
    }
    return day;
}

static cw_stands built_in(long id)
{
    if ((id >= 14 && id <= 17) || (id >= 27 && id <= 31) || id == 36 || (id >= 50 && id <= 54) || id == 57 ||
        id == 58)
        return CW_STANDS_DAY;
    return id == 22 ? CW_STANDS_MOMENT : CW_STANDS_NUMBER; /* 18 to 21 and 45 to 47 are times without a day */
}

#define MOST_FORMATS 4096

typedef struct own_format {
    long id;
    cw_stands holds;
} own_format;

typedef struct reading {
    cw_styles *out;
    own_format *formats;
    size_t count;
    bool cells; /* inside cellXfs */
} reading;

static long number_of(const char *s)
{
    int64_t v = -1;
    return s && cw_parse_int(s, strlen(s), 0, 1000000, &v) ? (long)v : -1;
}

static cw_stands holds_of(const reading *r, long id)
{
    for (size_t i = 0; i < r->count; i++)
        if (r->formats[i].id == id)
            return r->formats[i].holds;
    return built_in(id);
}

static void add_format(cw_part_reader *p, reading *r, const char **attributes)
{
    const char *code = cw_xml_attribute(attributes, "formatCode");
    bool clock = false, day = code && cw_format_is_day(code, &clock);
    if (r->count == MOST_FORMATS)
        return;
    own_format *grown = realloc(r->formats, (r->count + 1) * sizeof *grown);
    if (grown == NULL) {
        p->code = cw_error_memory(p->err);
        return;
    }
    r->formats = grown;
    grown[r->count++] =
        (own_format){ number_of(cw_xml_attribute(attributes, "numFmtId")), !day    ? CW_STANDS_NUMBER
                                                                           : clock ? CW_STANDS_MOMENT
                                                                                   : CW_STANDS_DAY };
}

static void add_cell(cw_part_reader *p, reading *r, const char **attributes)
{
    cw_styles *o = r->out;
    if (o->count == o->room) {
        size_t room = o->room ? 2 * o->room : 64;
        unsigned char *grown = room <= 65536 ? realloc(o->holds, room) : NULL;
        if (grown == NULL) {
            p->code = o->room >= 65536 ? cw_sheet_full(p->file, "cell formats", 65536, p->err)
                                       : cw_error_memory(p->err);
            return;
        }
        o->holds = grown;
        o->room = room;
    }
    o->holds[o->count++] = (unsigned char)holds_of(r, number_of(cw_xml_attribute(attributes, "numFmtId")));
}

static void on_start(cw_part_reader *p, const char *element, const char **attributes)
{
    reading *r = p->mine;
    if (strcmp(element, "cellXfs") == 0)
        r->cells = true;
    else if (strcmp(element, "numFmt") == 0)
        add_format(p, r, attributes);
    else if (r->cells && strcmp(element, "xf") == 0)
        add_cell(p, r, attributes);
}

static void on_end(cw_part_reader *p, const char *element)
{
    reading *r = p->mine;
    if (strcmp(element, "cellXfs") == 0)
        r->cells = false;
}

cw_code cw_styles_read(cw_zip *z, const char *part, cw_styles *out, cw_error *err)
{
    bool found = false;
    reading r = { .out = out };
    cw_part_reader p = { .start = on_start, .end = on_end, .mine = &r };
    cw_code code = cw_part_read(z, part, &p, &found, err);
    free(r.formats);
    return code;
}
