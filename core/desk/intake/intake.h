/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_INTAKE_H
#define CW_DESK_INTAKE_H

#include "base/csv.h"
#include "base/shape.h"
#include "base/text.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* How do CSV files and orders from a shop get in? Files of every kind, orders one by one or in a list.
 *
 * A load is one transaction over all its files: all or nothing. Files are taken in the order in which they
 * need each other (varieties before lots before sessions before orders), whatever the order of the arguments;
 * what happened to a lot is entered by date across files. Loading the same again changes nothing:
 *  - a variety under a new code with the name of another one is asked about: cw_same_name;
 *  - kinds with a natural key: a row that says what is on record is counted as unchanged; one that differs
 * updates varieties, places, zones, destinations, past_sales, past_orders, weighings and air (audited), is refused for lots, and for
 * orders unless `changes` is set;
 *  - history, past_checks, divisions, checks, counts: a file whose rows were loaded before, or that holds
 * just what is on record (an export), is passed over with a note. Orders of a variety that was never released
 * are taken, and that they may be sold is put on record; of a released one more than is left is refused, unless
 * the owner gives a reason (`oversell`). */
typedef struct cw_intake_file {
    const char *path; /* NULL: the bytes below */
    const char *name; /* what messages call it; may be NULL with a path */
    const char *bytes;
    size_t length;
    const char *kind; /* NULL: told by the file's name */
} cw_intake_file;

/* A variety under a code that is not on record, with the name of one that is and that the file does not speak of: nobody but the
 * nursery knows whether that is a second variety or the same under a new code. */
typedef enum cw_same_name {
    CW_SAME_NAME_ASK, /* refused (CW_CONFLICT at the name), so that somebody says which */
    CW_SAME_NAME_NEW, /* a variety of its own */
    CW_SAME_NAME_CODE /* a new code of the one on record; its former one still finds it. Owner only */
} cw_same_name;
cw_same_name cw_same_name_of(const char *word); /* "new", "code"; NULL or another word: ask */

typedef struct cw_intake_options {
    bool dry_run;         /* do it all, report, take it back */
    bool ignore_extra;    /* pass over columns that the kind does not have */
    bool changes;         /* order lines that differ from the record change it */
    const char *oversell; /* why more may be sold than is offered; NULL: it may not */
    cw_same_name same_name;
    unsigned threads; /* for a first file of orders, as in base/parallel.h */
} cw_intake_options;

/* `answer` becomes a table: file, kind, rows, new, changed, unchanged, note. When rows are refused, `errors`
 * lists up to CW_MAX_LISTED_ERRORS of them (free it with cw_error_list_free), `err` is the first, and nothing
 * was changed. */
cw_code cw_intake_load(cw_nursery *n, const cw_asker *who, const cw_intake_file *files, size_t count,
                       const cw_intake_options *options, cw_table *answer, cw_error_list *errors,
                       cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_intake_load_shape;

/* What somebody changed in a grid of one kind's rows: a list of {was, now}, each an object of columns and their texts as an export writes
 * them, or null. A row that only `was` goes off the record, one that only is now comes onto it; of one that is both, what differs
 * is changed. In one transaction, all or nothing: first what goes, then places that get another name, then what comes, so that two rows may
 * change their keys for each other's. What somebody else changed since is not written over (CW_CONFLICT), nor is a row on record taken
 * for a new one. Errors tell the row's place in the list, from 1, and the column. Varieties are retired and lots counted again, not
 * removed; a lot is changed only while nothing has been done with it since it was dug. Sessions, checks, stock-takes and orders
 * are not mended here. `answer`: rows, note (cw_intake_mend_shape). */
cw_code cw_intake_mend(cw_nursery *n, const cw_asker *who, const char *kind, const json_t *rows,
                       cw_table *answer, cw_error_list *errors, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_intake_mend_shape, cw_intake_mends_shape;

/* kind,column,required,holds,key,type,words : every column of every kind (or of the one named), from the table that reads them. */
cw_code cw_intake_columns(const char *kind, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_intake_columns_shape;

/* A file of a kind as it could look in this nursery's season, with invented rows that fit those of the other kinds' samples: all of
 * them load into an empty file, in the order of the kinds. CW_NOT_FOUND where a kind has none. Appended to `out`. */
cw_code cw_intake_sample(cw_nursery *n, const cw_asker *who, const char *kind, cw_text *out,
                         cw_error *err) CW_MUST_CHECK;

/* Takes one order {order, received_at?, ..., lines: [...]}: whole or not at all, in its own transaction (or
 * savepoint, in a batch). The order's fields are the CSV columns; `named` may be a list. Without received_at it came
 * now, and after all on record that are not dated more than a day ahead. The same order again is answered as taken. Errors: CW_REFUSED wrong content;
 * CW_CONFLICT it differs from the one on record, or a variety is sold out. *answer (new reference; never NULL on CW_OK or
 * CW_CONFLICT): {order, lines, taken: true, known: bool}, or for a variety that is sold out {order, line, variety, left}. */
cw_code cw_intake_order(cw_nursery *n, const cw_asker *who, const json_t *order, json_t **answer,
                        cw_error *err) CW_MUST_CHECK;
/* An order as it comes, one or a list; and what is answered: of an order that was taken, and of one in a list of which some were
 * not. */
extern const cw_shape cw_intake_orders_shape, cw_intake_taken_shape, cw_intake_fates_shape;

#endif
