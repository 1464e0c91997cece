/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_STATEMENT_INSIDE_H
#define CW_STORE_STATEMENT_INSIDE_H

/* How is a statement of sql/ run, and how are its rows read? For files of store, and tests: a room of core/desk asks typed
 * functions, or fills a list by its name (rows.h). The build sees to that. */
#ifndef CW_STATEMENTS
#error "only core/store runs statements: put a typed function in core/store/<family>"
#endif

#include "base/value.h"
#include "store/db.h"
#include "store/letters.h"
#include "store/record.h"

#include <stdarg.h>

typedef struct cw_stmt cw_stmt;

/* The statement "<family>.<name>" of sql/. Never NULL: an unknown name is a programming error and aborts. */
cw_stmt *cw_db_stmt(cw_db *db, const char *name);

/* Binds by `types`, a text in quotes with one letter a parameter: i int64_t, r double, t const char * (NULL binds null), I pointer
 * to int64_t (NULL binds null). Texts need only live until the call returns for run, and until cw_stmt_end for start. A constraint that fails is CW_CONFLICT with the database's own words. */
cw_code cw_stmt_run(cw_stmt *s, cw_error *err, const char *types, ...) CW_MUST_CHECK;

/* Reads rows: start, then `while (cw_stmt_next(s)) ...`, then end, which resets the statement and tells of an error
 * that stopped the rows. end must always be called. A text column is borrowed until the next step. */
cw_code cw_stmt_start(cw_stmt *s, cw_error *err, const char *types, ...) CW_MUST_CHECK;
cw_code cw_stmt_start_list(cw_stmt *s, cw_error *err, const char *types, va_list args) CW_MUST_CHECK;
bool cw_stmt_next(cw_stmt *s);
cw_code cw_stmt_end(cw_stmt *s, cw_error *err) CW_MUST_CHECK;

/* A column of a statement's rows, by its name in columns/<family>.h: waves_parcel_rest is `rest` of waves.parcel. There is no other
 * way to say which, but for code that is the same for every statement (rows.c). A name of another statement aborts. */
typedef struct cw_sql_column {
    uint16_t of, at; /* the statement's number, and the column's */
} cw_sql_column;
cw_sql_column cw_col_nth(const cw_stmt *s, size_t n);

/* The same by an array of values, one a parameter. */
cw_code cw_stmt_run_with(cw_stmt *s, cw_error *err, const cw_bind *values, int n) CW_MUST_CHECK;

/* For a statement whose parameters have names (":price"): it takes what it names of the values, in any order (named.c). */
cw_code cw_stmt_run_named(cw_stmt *s, cw_error *err, const cw_bind *values, int n) CW_MUST_CHECK;
cw_code cw_stmt_one_named(cw_stmt *s, bool *found, cw_error *err, const cw_bind *values, int n) CW_MUST_CHECK;
cw_sql_column cw_col_named(cw_stmt *s, const char *name); /* which column of the rows has this name */
bool cw_col_find(cw_stmt *s, const char *name,
                 cw_sql_column *out); /* the same of one that may not be there */

/* For queries of a single row: CW_OK with *found, columns readable until cw_stmt_end. */
cw_code cw_stmt_one(cw_stmt *s, bool *found, cw_error *err, const char *types, ...) CW_MUST_CHECK;

/* A value that the schema does not allow (NULL, another type, a day or a count that cannot be: a damaged page) reads as none,
 * ends the rows, and cw_stmt_end says CW_MACHINE. A text that must be there is never NULL. */
int64_t cw_col_int(cw_stmt *s, cw_sql_column column); /* 0 for null */
int64_t cw_col_int_or(cw_stmt *s, cw_sql_column column, int64_t when_null);
double cw_col_real(cw_stmt *s, cw_sql_column column);
const char *cw_col_text(cw_stmt *s, cw_sql_column column); /* NULL for null */
/* The same of a text that must be there, where the statement's words leave it open (a column of a view, of a union, of what WITH
 * names): NULL is damage. */
const char *cw_col_text_there(cw_stmt *s, cw_sql_column column);
bool cw_col_null(cw_stmt *s, cw_sql_column column);

/* A cell for a table's column of this type, whole: one look where the above would be three. */
typedef struct cw_given {
    bool null;
    int64_t whole;
    double real;
    const char *text;
} cw_given;
cw_given cw_col_given(cw_stmt *s, cw_sql_column column, cw_type wanted);

/* A statement "SELECT hand_over(a, b, ...) FROM ..." without parameters: `take` gets its rows inside the scan, in the order
 * in which the table is stored, and returns false to stop early (which is no error). It must not use the connection. */
struct sqlite3_value;
typedef struct cw_scanned {
    struct sqlite3_value **values;
    int count;
} cw_scanned;
typedef bool (*cw_scanned_taker)(void *context, const cw_scanned *row);
cw_code cw_stmt_scan(cw_stmt *s, cw_scanned_taker take, void *context, cw_error *err) CW_MUST_CHECK;
int64_t cw_scanned_int(const cw_scanned *r, int column); /* 0 for null */

#define cw_stmt_run(s, err, ...)        (CW_LETTERS_FIT(__VA_ARGS__), cw_stmt_run(s, err, __VA_ARGS__))
#define cw_stmt_start(s, err, ...)      (CW_LETTERS_FIT(__VA_ARGS__), cw_stmt_start(s, err, __VA_ARGS__))
#define cw_stmt_one(s, found, err, ...) (CW_LETTERS_FIT(__VA_ARGS__), cw_stmt_one(s, found, err, __VA_ARGS__))

#endif
