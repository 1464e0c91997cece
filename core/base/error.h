/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_ERROR_H
#define CW_BASE_ERROR_H

#include <stdarg.h>

/* What went wrong, told once. A cw_error lives on the caller's stack, starts as CW_ERROR_NONE and is handed down;
 * the first error wins (a later set is ignored), so clean-up code may call on without spoiling the message.
 * Functions that can fail return a cw_code and are marked CW_MUST_CHECK. */

typedef enum cw_code {
    CW_OK = 0,
    CW_REFUSED,   /* the data or the request is wrong: exit 1, HTTP 422 */
    CW_NOT_FOUND, /* the thing named does not exist: exit 1, HTTP 404 */
    CW_CONFLICT,  /* it clashes with what is on record (oversold, changed meanwhile): exit 1, HTTP 409 */
    CW_FORBIDDEN, /* this person may not do that: exit 1, HTTP 403 */
    CW_USAGE,     /* the call itself is wrong: exit 2, HTTP 400 */
    CW_MACHINE,   /* disk full, no permission, locked, out of memory: exit 3, HTTP 503 */
} cw_code;

typedef struct cw_error {
    cw_code code;
    char file[256];  /* where in the input, empty when it is no file */
    long row;        /* 1-based line, 0 when unknown */
    char column[64]; /* column or field name, empty when unknown */
    char text[768];  /* one sentence that names the offending value */
} cw_error;

#define CW_ERROR_NONE                                                                                        \
    {                                                                                                        \
        CW_OK, "", 0, "", ""                                                                                 \
    }
#define CW_MUST_CHECK   __attribute__((warn_unused_result))
#define CW_PRINTF(f, a) __attribute__((format(printf, f, a)))

/* Record an error unless one is already there. `err` may be NULL. Always returns `code`. */
cw_code cw_error_set(cw_error *err, cw_code code, const char *format, ...) CW_PRINTF(3, 4);

/* The same with the place in the input. `file` and `column` may be NULL. */
cw_code cw_error_at(cw_error *err, cw_code code, const char *file, long row, const char *column,
                    const char *format, ...) CW_PRINTF(6, 7);

/* Out of memory; the sentence is fixed. */
cw_code cw_error_memory(cw_error *err);

/* Writes "file:row: column: text" (parts that are empty are left out) into `out`, cut to `size`. */
void cw_error_line(const cw_error *err, char *out, unsigned long size);

/* Exit status of the program for a code: 0, 1, 2 or 3 (INTERFACES of the program's verbs). */
int cw_code_exit(cw_code code);

#ifdef CW_ANALYZED /* by scripts/analyze: who looks at one file at a time is told what these return */
#define cw_error_set(err, code, ...) ((void)cw_error_set(err, code, __VA_ARGS__), (code))
#define cw_error_at(err, code, ...)  ((void)cw_error_at(err, code, __VA_ARGS__), (code))
#define cw_error_memory(err)         ((void)cw_error_memory(err), CW_MACHINE)
#endif

#endif
