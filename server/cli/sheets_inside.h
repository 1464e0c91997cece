/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_SHEETS_H
#define CW_SERVER_SHEETS_H

#include "cli/cli.h"

#include <jansson.h>

/* Spreadsheets of another make, for `load`: read whole, looked at, asked of in the terminal, taken. */
typedef struct cw_sheet_file {
    const char *path;
    char *bytes;
    size_t length;
} cw_sheet_file;

typedef struct cw_sheet_files {
    cw_sheet_file *files;
    size_t count;
} cw_sheet_files;

/* Reads the file if it is no CSV of our own (*other), or when --fit, --sheet or --look ask for it. */
cw_code cw_sheet_file_read(cw_call *call, const char *path, cw_sheet_files *into, bool *other,
                           cw_error *err) CW_MUST_CHECK;
void cw_sheet_files_free(cw_sheet_files *f);

cw_code cw_sheet_file_look(cw_call *call, cw_nursery *n, const cw_sheet_file *f, cw_error *err) CW_MUST_CHECK;
cw_code cw_sheet_file_take(cw_call *call, cw_nursery *n, const cw_sheet_file *f, cw_error *err) CW_MUST_CHECK;

/* Instead of loading: the kept fits listed, one of them printed, renamed or forgotten. */
bool cw_sheet_fits_asked(const cw_call *call);
cw_code cw_sheet_fits(cw_call *call, cw_error *err) CW_MUST_CHECK;

#endif
