/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHEETS_H
#define CW_DESK_SHEETS_H

#include "base/shape.h"
#include "desk/intake/intake.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* A spreadsheet that somebody else made: what in it is ours, what would it do, and how is it taken?
 *
 * Look: the file is read (base/sheet.h), a sheet and its header are chosen. Fit: the kind is found, and each column gets one of ours or
 * none, by its heading in several languages and by what stands in it, with how sure that is. Show: every row as the intake
 * would read it, what was repaired, what is in doubt and what is wrong, in the owner's own words: sheet, row, column, text. Take: the rows
 * go through desk/intake as files of our own would, in one transaction, and only when nothing is in doubt or wrong.
 *
 * Nothing is guessed in silence: what decides is told (`said`), what nothing decides is asked (`doubts`). An answer is a fit told with
 * the next look: {sheet, header, kind, columns, decimal, dates, charset, constants, names}, any of them null where the program
 * shall decide. What was taken is kept under the shape of its header and told of when such a header comes again.
 *
 * One sheet may hold several kinds: one of each row (lots, orders, ...), and with it the varieties and places that its columns tell
 * of ("varieties.price"). Varieties may be headings, a column each ("orders.quantity@heading"). Names stand for codes: exact, folded, "name (code)"; a near one is asked. New varieties and lots get a code
 * that can be changed. */
typedef struct cw_sheets_file {
    const char *name; /* with its extension; what messages call it */
    const char *bytes;
    size_t length;
    const char *kind; /* NULL: found out, or told by the fit */
} cw_sheets_file;

/* `told` may be NULL. *answer is a new reference; NULL unless CW_OK. CW_REFUSED: the file cannot be read, or the fit names what is
 * not there. Reads only. */
cw_code cw_sheets_look(cw_nursery *n, const cw_asker *who, const cw_sheets_file *file, const json_t *told,
                       json_t **answer, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_sheets_look_shape, cw_sheets_fit_shape;

typedef struct cw_sheets_options {
    bool dry_run;
    bool changes; /* as of cw_intake_options */
    cw_same_name same_name;
    const char *oversell; /* likewise; NULL: none */
    const char *keep;     /* the fit is kept by this name; NULL: by the file's name and the sheet's */
} cw_sheets_options;

/* `taken` becomes a table (cw_intake_load_shape). CW_REFUSED or CW_CONFLICT with *answer set: something is in doubt or wrong, the
 * document names it, and nothing was changed. *answer may be NULL after other errors. */
cw_code cw_sheets_take(cw_nursery *n, const cw_asker *who, const cw_sheets_file *file, const json_t *told,
                       const cw_sheets_options *options, cw_table *taken, json_t **answer,
                       cw_error *err) CW_MUST_CHECK;

/* Puts the answer to one of a document's doubts into the fit: the value of a choice, or what was typed. A new variety is its code
 * behind a plus sign. */
cw_code cw_sheets_answer(json_t *fit, const json_t *doubt, const char *value, cw_error *err) CW_MUST_CHECK;

/* Is it one of our own files: a name that tells the kind (or `kind`), parted by commas, and at least half of the header's names those of
 * the kind? Then its errors are better told by the intake itself. */
bool cw_sheets_ours(const char *name, const char *kind, const char *bytes, size_t length);

/* Kept fits: name, kind, kept_at, actor, columns (cw_sheets_fits_shape). One of them as a fit; forgetting one. */
cw_code cw_sheets_fits(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_sheets_fits_shape;
cw_code cw_sheets_fit(cw_nursery *n, const char *name, json_t **fit,
                      cw_error *err) CW_MUST_CHECK; /* CW_NOT_FOUND */
/* CW_CONFLICT: another one has that name. */
cw_code cw_sheets_rename(cw_nursery *n, const cw_asker *who, const char *name, const char *to,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_sheets_forget(cw_nursery *n, const cw_asker *who, const char *name, cw_error *err) CW_MUST_CHECK;

#endif
