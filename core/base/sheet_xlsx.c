/* SPDX-License-Identifier: MIT */
#include "base/sheet_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The parts of a workbook (ECMA-376 part 1, 18.2; part 2 for the package): which sheets there are, in what order, where each
 * stands, and what they share. */
#define PART 256

typedef struct listed {
    char name[CW_SHEET_NAME], id[64], part[PART];
    bool hidden;
} listed;

typedef struct outline {
    char workbook[PART], folder[PART], strings[PART], styles[PART];
    listed *sheets;
    size_t count;
    bool from_1904;
} outline;

static bool ends(const char *s, const char *end)
{
    size_t n = strlen(s), m = strlen(end);
    return n >= m && strcmp(s + n - m, end) == 0;
}

/* The target of a relation: "/xl/a.xml" from the top, "a.xml" or "../a.xml" from the folder. */
static void resolve(const char *folder, const char *target, char out[PART])
{
    char base[PART];
    cw_copy(base, sizeof base, folder);
    while (strncmp(target, "../", 3) == 0) {
        char *slash = strrchr(base, '/');
        if (slash)
            *slash = '\0';
        else
            base[0] = '\0';
        target += 3;
    }
    int n = target[0] == '/' ? snprintf(out, PART, "%s", target + 1)
                             : snprintf(out, PART, "%s%s%s", base, base[0] ? "/" : "", target);
    if (n >= PART) /* longer than any part's name: there is none of it */
        out[0] = '\0';
}

static void on_root_relation(cw_part_reader *p, const char *element, const char **attributes)
{
    outline *o = p->mine;
    const char *type = cw_xml_attribute(attributes, "Type"), *target = cw_xml_attribute(attributes, "Target");
    if (strcmp(element, "Relationship") == 0 && type && target && ends(type, "/officeDocument"))
        resolve("", target, o->workbook);
}

static void on_relation(cw_part_reader *p, const char *element, const char **attributes)
{
    outline *o = p->mine;
    const char *id = cw_xml_attribute(attributes, "Id"), *type = cw_xml_attribute(attributes, "Type"),
               *target = cw_xml_attribute(attributes, "Target");
    if (strcmp(element, "Relationship") != 0 || !id || !type || !target)
        return;
    if (ends(type, "/sharedStrings"))
        resolve(o->folder, target, o->strings);
    else if (ends(type, "/styles"))
        resolve(o->folder, target, o->styles);
    for (size_t i = 0; i < o->count && ends(type, "/worksheet"); i++)
        if (strcmp(o->sheets[i].id, id) == 0)
            resolve(o->folder, target, o->sheets[i].part);
}

static bool is_true(const char *s)
{
    return s && (strcmp(s, "1") == 0 || strcmp(s, "true") == 0 || strcmp(s, "on") == 0);
}

static void on_workbook(cw_part_reader *p, const char *element, const char **attributes)
{
    outline *o = p->mine;
    if (strcmp(element, "workbookPr") == 0)
        o->from_1904 = is_true(cw_xml_attribute(attributes, "date1904"));
    if (strcmp(element, "sheet") != 0)
        return;
    const char *name = cw_xml_attribute(attributes, "name"), *id = cw_xml_attribute(attributes, "id"),
               *state = cw_xml_attribute(attributes, "state");
    if (o->count == CW_MAX_SHEETS) {
        p->code = cw_sheet_full(p->file, "sheets", CW_MAX_SHEETS, p->err);
        return;
    }
    listed *grown = realloc(o->sheets, (o->count + 1) * sizeof *grown);
    if (grown == NULL) {
        p->code = cw_error_memory(p->err);
        return;
    }
    o->sheets = grown;
    listed *s = &grown[o->count++];
    *s = (listed){ .hidden = state && strcmp(state, "visible") != 0 };
    cw_copy(s->name, sizeof s->name, name ? name : "");
    cw_copy(s->id, sizeof s->id, id ? id : "");
}

/* workbook.xml, then what it leans on; *found: it is a workbook at all. */
static cw_code read_outline(cw_zip *z, outline *o, bool *found, cw_error *err)
{
    bool there = false;
    char relations[2 * PART + 32];
    cw_part_reader root = { .start = on_root_relation, .mine = o };
    cw_part_reader book = { .start = on_workbook, .mine = o };
    cw_part_reader lean = { .start = on_relation, .mine = o };
    *found = false;
    cw_code code = cw_part_read(z, "_rels/.rels", &root, &there, err);
    if (code != CW_OK || o->workbook[0] == '\0')
        return code;
    code = cw_part_read(z, o->workbook, &book, found, err);
    if (code != CW_OK || !*found)
        return code;
    const char *slash = strrchr(o->workbook, '/');
    if (slash)
        snprintf(o->folder, sizeof o->folder, "%.*s", (int)(slash - o->workbook), o->workbook);
    snprintf(relations, sizeof relations, "%s%s_rels/%s.rels", o->folder, o->folder[0] ? "/" : "",
             slash ? slash + 1 : o->workbook);
    return cw_part_read(z, relations, &lean, &there, err);
}

static cw_code read_sheets(cw_xlsx *x, const outline *o, cw_workbook *out, cw_error *err)
{
    cw_code code = o->styles[0] ? cw_styles_read(&x->zip, o->styles, &x->styles, err) : CW_OK;
    if (code == CW_OK && o->strings[0])
        code = cw_strings_read(&x->zip, o->strings, &x->strings, err);
    for (size_t i = 0; code == CW_OK && i < o->count; i++) {
        if (o->sheets[i].part[0] == '\0')
            continue; /* a sheet of charts */
        cw_sheet *s = cw_workbook_add(out, o->sheets[i].name, err);
        if (s == NULL)
            return CW_MACHINE;
        s->hidden = o->sheets[i].hidden;
        code = cw_sheet_read(x, o->sheets[i].part, s, err);
    }
    if (code == CW_OK && out->count == 0)
        code = cw_error_at(err, CW_REFUSED, x->zip.file, 0, NULL, "is a workbook without a sheet");
    return code;
}

/* The zip is only read: closing it by discard writes nothing. */
static cw_code open_zip(const char *bytes, size_t n, cw_zip *z, cw_error *err)
{
    zip_error_t e;
    zip_error_init(&e);
    zip_source_t *source = zip_source_buffer_create(bytes, n, 0, &e);
    z->zip = source ? zip_open_from_source(source, ZIP_RDONLY, &e) : NULL;
    bool memory = zip_error_code_zip(&e) == ZIP_ER_MEMORY;
    zip_error_fini(&e);
    if (z->zip == NULL) {
        zip_source_free(source);
        return memory ? cw_error_memory(err)
                      : cw_error_at(err, CW_REFUSED, z->file, 0, NULL,
                                    "is damaged: the workbook cannot be opened");
    }
    if (zip_get_num_entries(z->zip, 0) > CW_MAX_ZIP_ENTRIES)
        return cw_sheet_full(z->file, "parts", CW_MAX_ZIP_ENTRIES, err);
    return CW_OK;
}

cw_code cw_workbook_xlsx(const char *name, const char *bytes, size_t n, cw_go_on go_on, cw_workbook *out,
                         cw_error *err)
{
    cw_xlsx x = { .zip = { .file = name, .left = CW_MAX_INFLATED_BYTES, .go_on = go_on },
                  .strings = { .texts = CW_TEXT((size_t)CW_MAX_SHEET_TEXT_BYTES) } };
    outline o = { .sheets = NULL };
    bool found = false;
    out->workbook = true;
    cw_code code = open_zip(bytes, n, &x.zip, err);
    if (code == CW_OK)
        code = read_outline(&x.zip, &o, &found, err);
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_REFUSED, name, 0, NULL,
                           "is packed, but no .xlsx workbook; save it as .xlsx, or as CSV");
    x.from_1904 = o.from_1904;
    if (code == CW_OK)
        code = read_sheets(&x, &o, out, err);
    if (x.zip.zip)
        zip_discard(x.zip.zip);
    cw_text_free(&x.strings.texts);
    free(x.strings.at);
    free(x.styles.holds);
    free(o.sheets);
    return code;
}
