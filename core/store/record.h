/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_RECORD_H
#define CW_STORE_RECORD_H

#include "base/text.h"
#include "store/db.h"

/* What is on record under a key, and how is it written? For what is declared as a table of columns (the CSV kinds): one function
 * serves them all, since parameters (":price") and columns of their statements have the columns' names. */
typedef struct cw_bind {
    char type; /* i, r, t or n (null) */
    int64_t i;
    double r;
    const char *t;
    const char *name; /* of the column */
} cw_bind;

/* Runs "kinds.update_varieties" and the like: the statement takes what it names of the values. */
cw_code cw_record_write(cw_db *db, const char *statement, const cw_bind *values, size_t n,
                        cw_error *err) CW_MUST_CHECK;

/* Finds the one row by what the statement names of the key. Of each of the `n` columns the name and the type that it holds are
 * given; its value is added, or n for its type. Texts are kept in `texts`. */
cw_code cw_record_find(cw_db *db, const char *statement, const cw_bind *key, size_t keys, cw_bind *columns,
                       size_t n, cw_text *texts, bool *found, cw_error *err) CW_MUST_CHECK;

/* All rows of a statement that gives `width` whole numbers; bit c of `nulls`: column c is null. False from `take`: no memory. */
typedef bool (*cw_record_taker)(void *context, const int64_t *values, unsigned nulls);
cw_code cw_record_each(cw_db *db, const char *statement, size_t width, cw_record_taker take, void *context,
                       cw_error *err) CW_MUST_CHECK;

#endif
