/* SPDX-License-Identifier: MIT */
#include "base/json.h"
#include "cli/cli_inside.h"
#include "http/route.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define WRAP_AT 78
#define HELP_AT 32 /* where what an option does begins */

/* Words of `s` in lines of at most WRAP_AT characters, each after `indent` spaces. */
static void wrap(cw_text *out, const char *s, size_t indent)
{
    size_t at = 0;
    while (*s) {
        size_t n = strcspn(s, " \n");
        if (at > 0 && indent + at + 1 + n > WRAP_AT) {
            cw_text_addc(out, '\n');
            at = 0;
        }
        if (at == 0)
            cw_text_addf(out, "%*s", (int)indent, "");
        else
            cw_text_addc(out, ' ');
        cw_text_addn(out, s, n);
        at += n + (at > 0);
        s += n;
        if (*s == '\n') {
            cw_text_addc(out, '\n');
            at = 0;
        }
        s += *s != '\0';
    }
    cw_text_addc(out, '\n');
}

/* Words to choose from are broken after a bar, however many they are. */
static void option_line(cw_text *out, const cw_option *o)
{
    const char *value = o->words ? o->words : o->value;
    cw_text_addf(out, "  %s%s", o->name, value ? " " : "");
    size_t indent = 2 + strlen(o->name) + (value ? 1 : 0), at = indent;
    for (const char *s = value; s && *s;) {
        size_t n = strcspn(s, "|");
        n += s[n] == '|';
        if (at + n > WRAP_AT && at > indent) {
            cw_text_addf(out, "\n%*s", (int)indent, "");
            at = indent;
        }
        cw_text_addn(out, s, n);
        at += n;
        s += n;
    }
    if (at > HELP_AT - 1)
        cw_text_addf(out, "\n%*s", HELP_AT, "");
    else
        cw_text_addf(out, "%*s", (int)(HELP_AT - at), "");
    cw_text_addf(out, "%s%s\n", o->help, o->required ? " (required)" : "");
}

static void all_verbs(cw_text *out)
{
    const cw_verb *v;
    cw_text_add(out, "clumpwise: from clumps in the cellar to quantities in the catalogue, fair shares and a "
                     "pick list.\n\n"
                     "  clumpwise VERB NURSERY.db [options]\n\n");
    for (size_t i = 0; (v = cw_verb_at(i)); i++)
        cw_text_addf(out, "  %-12s%s\n", v->name, v->summary);
    cw_text_add(out,
                "\n'clumpwise VERB --help' explains a verb; 'clumpwise help --man' writes the manual page, "
                "and\n'clumpwise help --openapi' the contract of the HTTP interface (OpenAPI 3.1).\n"
                "Exit status: 0 done; 1 the data or the request is wrong; 2 the call is wrong; 3 the machine "
                "failed.\n");
}

void cw_help_text(const cw_verb *verb, cw_text *out)
{
    size_t n = 0;
    const cw_option *common = cw_cli_common(&n);
    if (verb == NULL) {
        all_verbs(out);
        return;
    }
    cw_text_addf(out, "clumpwise %s %s [options]\n\n", verb->name, verb->arguments);
    wrap(out, verb->about, 0);
    cw_text_add(out, "\nOptions:\n");
    for (const cw_option *o = verb->options; o && o->name; o++)
        option_line(out, o);
    for (size_t i = 0; i < n; i++)
        option_line(out, &common[i]);
    cw_text_addf(out, "\nExample:\n  %s\n", verb->example);
}

/* A hyphen that begins an option, and a backslash, mean something to roff. */
static void roff(cw_text *out, const char *s)
{
    for (; *s; s++) {
        if (*s == '-' || *s == '\\')
            cw_text_addc(out, '\\');
        cw_text_addc(out, *s);
    }
}

static void man_option(cw_text *out, const cw_option *o)
{
    const char *value = o->words ? o->words : o->value;
    cw_text_add(out, ".TP\n.B ");
    roff(out, o->name);
    cw_text_addc(out, ' ');
    roff(out, value ? value : "");
    cw_text_addc(out, '\n');
    roff(out, o->help);
    cw_text_add(out, o->required ? " (required)\n" : "\n");
}

void cw_help_man(cw_text *out)
{
    size_t n = 0;
    const cw_option *common = cw_cli_common(&n);
    cw_text_addf(out, ".TH CLUMPWISE 1 \"\" \"clumpwise %s\" \"User commands\"\n.SH NAME\nclumpwise \\- ",
                 CW_VERSION);
    roff(out, "from clumps in the cellar to catalogue quantities, fair shares and a pick list");
    cw_text_add(out,
                "\n.SH SYNOPSIS\n.B clumpwise\n.I VERB NURSERY.db\n[options]\n.SH OPTIONS OF EVERY VERB\n");
    for (size_t i = 0; i < n; i++)
        man_option(out, &common[i]);
    const cw_verb *v;
    cw_text_add(out, ".SH VERBS\n");
    for (size_t i = 0; (v = cw_verb_at(i)); i++) {
        cw_text_addf(out, ".SS clumpwise %s ", v->name);
        roff(out, v->arguments);
        cw_text_addc(out, '\n');
        roff(out, v->about);
        cw_text_addc(out, '\n');
        for (const cw_option *o = v->options; o && o->name; o++)
            man_option(out, o);
        cw_text_add(out, ".PP\nExample:\n.PP\n.nf\n");
        roff(out, v->example);
        cw_text_add(out, "\n.fi\n");
    }
    cw_text_add(
        out,
        ".SH EXIT STATUS\n0 done; 1 the data or the request is wrong, nothing changed; 2 the call is wrong; "
        "3 the machine failed.\n");
}

static cw_code print(cw_text *text, cw_error *err)
{
    cw_code code = cw_text_check(text, err);
    if (code == CW_OK)
        code = cw_output_write(text->data, text->length, err);
    cw_text_free(text);
    return code;
}

cw_code cw_help_print(const cw_verb *verb, cw_error *err)
{
    cw_text text = CW_TEXT((size_t)1 << 20);
    cw_help_text(verb, &text);
    return print(&text, err);
}

cw_code cw_help_print_man(cw_error *err)
{
    cw_text text = CW_TEXT((size_t)1 << 20);
    cw_help_man(&text);
    return print(&text, err);
}

cw_code cw_help_print_openapi(cw_error *err)
{
    cw_text text = CW_TEXT((size_t)16 << 20);
    json_t *contract = cw_openapi();
    char *written = contract ? cw_json_text(contract, JSON_INDENT(1)) : NULL;
    json_decref(contract);
    if (written == NULL)
        return cw_error_memory(err);
    cw_text_add(&text, written);
    cw_text_addc(&text, '\n');
    free(written);
    return print(&text, err);
}

cw_code cw_help_version(cw_error *err)
{
    cw_text text = CW_TEXT(256);
    cw_text_addf(&text, "clumpwise %s\n", CW_VERSION);
    return print(&text, err);
}
