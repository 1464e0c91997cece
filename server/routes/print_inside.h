/* SPDX-License-Identifier: MIT */
#ifndef CW_ROUTES_PRINT_INSIDE_H
#define CW_ROUTES_PRINT_INSIDE_H

#include "base/tongue.h"
#include "http/route.h"

/* What the pages for paper share (print.c, print_slips.c): plain HTML with the codes as SVG, no script, one style sheet. A module of
 * a code is a whole number of dots at 203 dots per inch, which label printers have; on finer printers it is read all the better. */
#define CW_PRINT_DPI 203

/* The cell of a named column. */
static inline const char *cell(const cw_table *t, size_t row, const char *name)
{
    return cw_table_text(t, row, (size_t)cw_table_column(t, name));
}

static inline int64_t number(const cw_table *t, size_t row, const char *name)
{
    return cw_table_int(t, row, (size_t)cw_table_column(t, name));
}

static inline void element(cw_text *out, const char *open, const char *text, const char *close)
{
    cw_text_add(out, open);
    cw_text_add_markup(out, text);
    cw_text_add(out, close);
}

/* What the staff reads is in the nursery's language (setting language). */
cw_code cw_print_tongue(cw_nursery *n, cw_tongue *out, cw_error *err) CW_MUST_CHECK;

/* A phrase as markup between two stretches of it. a may be NULL where it has none. */
void cw_print_say(cw_text *out, cw_tongue l, const char *open, cw_phrase p, int64_t n, const char *a,
                  const char *close);

/* Opens and closes a page of a kind (a class of the style sheet); closing answers with it. */
void cw_print_open(cw_text *out, cw_tongue l, cw_phrase title, const char *kind);
cw_code cw_print_close(cw_request *q, cw_text *out, cw_code code, cw_error *err);

/* " long" or " longer" for a text of more bytes than these, as the style sheet has smaller letters for them: what is typed in again or
 * scanned is never broken over lines. */
const char *cw_print_size(const char *text, size_t is_long, size_t is_longer);

/* A table's cell with a code, a lot or a place, in one line. */
void cw_print_code(cw_text *out, const char *code);

/* The head of a table, a column for each phrase. */
void cw_print_heads(cw_text *out, cw_tongue l, const cw_phrase *heads, size_t count);

/* "small, ball, orange" */
void cw_print_kind(cw_text *out, const cw_table *t, size_t row);

/* Bars for laser scanners, when the text can be set in them and they fit. */
void cw_print_bars(cw_text *out, const char *text);

#endif
