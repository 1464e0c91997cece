/* SPDX-License-Identifier: MIT */
#include "base/sheet_inside.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Expat 2.9 (Debian 13) has another function for it, and the older one is deprecated there. */
static unsigned long line_of(XML_Parser p)
{
#if XML_MAJOR_VERSION > 2 || (XML_MAJOR_VERSION == 2 && XML_MINOR_VERSION >= 9)
    return (unsigned long)XML_GetCurrentLineNumber64(p);
#else
    return (unsigned long)XML_GetCurrentLineNumber(p);
#endif
}

/* A part of the zip through the parser. What swells beyond the cap, declares a document type or nests too deep ends it. */
static const char *local(const char *name)
{
    const char *colon = strrchr(name, ':');
    return colon ? colon + 1 : name;
}

const char *cw_xml_attribute(const char **attributes, const char *name)
{
    for (size_t i = 0; attributes[i]; i += 2)
        if (strcmp(local(attributes[i]), name) == 0)
            return attributes[i + 1];
    return NULL;
}

static void stop(cw_part_reader *r, cw_code code)
{
    r->code = code;
    XML_StopParser(r->parser, XML_FALSE);
}

static void XMLCALL on_start(void *context, const char *name, const char **attributes)
{
    cw_part_reader *r = context;
    if (++r->depth > CW_MAX_XML_DEPTH) {
        stop(r, cw_error_at(r->err, CW_REFUSED, r->file, 0, NULL, "%s is nested deeper than a workbook is",
                            r->part));
        return;
    }
    r->start(r, local(name), attributes);
    if (r->code != CW_OK)
        stop(r, r->code);
}

static void XMLCALL on_end(void *context, const char *name)
{
    cw_part_reader *r = context;
    r->depth--;
    if (r->end && r->code == CW_OK)
        r->end(r, local(name));
    if (r->code != CW_OK)
        stop(r, r->code);
}

static void XMLCALL on_text(void *context, const char *s, int n)
{
    cw_part_reader *r = context;
    if (r->text && r->code == CW_OK)
        r->text(r, s, n);
    if (r->code != CW_OK)
        stop(r, r->code);
}

static void XMLCALL on_doctype(void *context, const char *name, const char *system, const char *public,
                               int subset)
{
    cw_part_reader *r = context;
    (void)name, (void)system, (void)public, (void)subset;
    stop(r, cw_error_at(r->err, CW_REFUSED, r->file, 0, NULL,
                        "%s declares a document type, which no workbook does", r->part));
}

static cw_code feed(cw_zip *z, zip_file_t *f, cw_part_reader *r, cw_error *err)
{
    for (;;) {
        void *room = XML_GetBuffer(r->parser, 65536);
        if (room == NULL)
            return cw_error_memory(err);
        zip_int64_t got = zip_fread(f, room, 65536);
        if (got < 0)
            return cw_error_at(err, CW_REFUSED, z->file, 0, NULL, "is damaged: %s cannot be unpacked",
                               r->part);
        z->left -= got;
        if (z->left < 0)
            return cw_error_at(err, CW_REFUSED, z->file, 0, NULL,
                               "swells beyond what a workbook may be when unpacked");
        if (!cw_wanted(z->go_on))
            return cw_given_up(err);
        if (XML_ParseBuffer(r->parser, (int)got, got == 0) != XML_STATUS_OK) {
            if (r->code != CW_OK)
                return r->code;
            enum XML_Error why = XML_GetErrorCode(r->parser);
            if (why == XML_ERROR_NO_MEMORY)
                return cw_error_memory(err);
            return cw_error_at(err, CW_REFUSED, z->file, 0, NULL, "is damaged: %s, line %lu: %s", r->part,
                               line_of(r->parser), XML_ErrorString(why));
        }
        if (got == 0)
            return r->code;
    }
}

cw_code cw_part_read(cw_zip *z, const char *part, cw_part_reader *r, bool *found, cw_error *err)
{
    zip_int64_t at = zip_name_locate(z->zip, part, 0);
    *found = at >= 0;
    if (at < 0)
        return CW_OK;
    zip_file_t *f = zip_fopen_index(z->zip, (zip_uint64_t)at, 0);
    if (f == NULL) {
        zip_error_t *e = zip_get_error(z->zip);
        if (zip_error_code_zip(e) == ZIP_ER_MEMORY)
            return cw_error_memory(err);
        return cw_error_at(err, CW_REFUSED, z->file, 0, NULL,
                           zip_error_code_zip(e) == ZIP_ER_NOPASSWD ? "has a password; save it without one"
                                                                    : "is damaged: %s cannot be unpacked",
                           part);
    }
    r->file = z->file;
    r->part = part;
    r->err = err;
    r->code = CW_OK;
    r->depth = 0;
    r->parser = XML_ParserCreate(NULL);
    cw_code code = r->parser ? CW_OK : cw_error_memory(err);
    if (r->parser) {
        XML_SetUserData(r->parser, r);
        XML_SetElementHandler(r->parser, on_start, on_end);
        XML_SetCharacterDataHandler(r->parser, on_text);
        XML_SetStartDoctypeDeclHandler(r->parser, on_doctype);
        code = feed(z, f, r, err);
        XML_ParserFree(r->parser);
    }
    zip_fclose(f);
    return code;
}
