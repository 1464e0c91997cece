/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/export/exporting.h"
#include <errno.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

#define BOOK_TYPE  "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
#define AUDIT_PAGE 200

static cw_code send_file(cw_request *q, const char *path, cw_error *err)
{
    char bytes[16384];
    size_t got = 0;
    cw_code code = CW_OK;
    FILE *f = fopen(path, "rb");
    if (f == NULL)
        return cw_error_set(err, CW_MACHINE, "the workbook cannot be read back: %s", strerror(errno));
    cw_sink to = cw_reply_sink(q, 200, BOOK_TYPE);
    while (code == CW_OK && (got = fread(bytes, 1, sizeof bytes, f)) > 0)
        code = to.write(to.self, bytes, got, err);
    if (code == CW_OK && ferror(f))
        code = cw_error_set(err, CW_MACHINE, "the workbook cannot be read back");
    fclose(f);
    return code;
}

/* The library that makes workbooks writes files only, so it gets a folder of its own. */
static cw_code send_book(cw_request *q, cw_nursery *n, cw_error *err)
{
    char folder[] = "/tmp/clumpwise-XXXXXX", path[64];
    if (mkdtemp(folder) == NULL)
        return cw_error_set(err, CW_MACHINE, "a folder for the workbook cannot be made: %s", strerror(errno));
    snprintf(path, sizeof path, "%s/season.xlsx", folder);
    cw_code code = cw_exporting_workbook(n, cw_request_asker(q), path, err);
    if (code == CW_OK)
        code = send_file(q, path, err);
    unlink(path);
    rmdir(folder);
    return code;
}

struct export_query {
    bool sheet;
};
static const cw_member export_shape[] = {
    { "sheet", CW_BOOL_T, offsetof(struct export_query, sheet), false, 0, 0, NULL },
    { 0 },
};

static const cw_contract contract_export_get = {
    .says = "A table as CSV (orders.csv), or the season as a workbook (season.xlsx). sheet: texts that a "
            "spreadsheet would "
            "take for a formula stand behind an apostrophe; on unless given, but for tables that are loaded "
            "again.",
    .query = export_shape,
    .type = "text/csv; charset=utf-8",
};

/* /api/export/orders.csv, /api/export/season.xlsx */
static cw_code route_export_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    const char *file = cw_path_text(q, "file");
    char name[64];
    size_t length = strlen(file);
    struct export_query ask = { 0 };
    bool csv = length > 4 && length < sizeof name && strcmp(file + length - 4, ".csv") == 0;
    snprintf(name, sizeof name, "%.*s", csv ? (int)length - 4 : 0, file);
    ask.sheet = !cw_exporting_loads_again(name);
    cw_code code = cw_query_read(q, &ask, err);
    if (code != CW_OK)
        return code;
    cw_reply_name(q, file);
    if (strcmp(file, "season.xlsx") == 0)
        return send_book(q, n, err);
    if (!csv)
        return cw_error_set(err, CW_NOT_FOUND, "there is season.xlsx, and a .csv of each table");
    return cw_exporting_write(n, cw_request_asker(q), name, ask.sheet ? CW_AS_SHEET : CW_AS_CSV,
                              cw_reply_sink(q, 200, "text/csv; charset=utf-8"), err);
}

static const cw_contract contract_exports_list = {
    .says = "Which tables can be written out.",
    .answer = &cw_exporting_list_shape,
};

static cw_code route_exports_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    (void)n;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_exporting_list(&t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

struct page_query {
    int64_t before;
};
static const cw_member page_shape[] = {
    { "before", CW_INT_T, offsetof(struct page_query, before), false, 0, 9e15, NULL },
    { 0 },
};

static const cw_contract contract_audit_list = {
    .says = "Who did what, newest first, 200 at a time.",
    .query = page_shape,
    .answer = &cw_exporting_audit_shape,
};

static cw_code route_audit_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct page_query ask = { 0 };
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, &ask, err);
    if (code == CW_OK)
        code = cw_exporting_audit(n, ask.before, AUDIT_PAGE, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_exporting[] = {
    CW_ROUTE(GET, "/api/export", LOOK, OFFICE, CW_NO_BODY, exports_list),
    CW_ROUTE(GET, "/api/export/{file}", LOOK, OFFICE, CW_NO_BODY, export_get),
    CW_ROUTE(GET, "/api/audit", LOOK, OWNER, CW_NO_BODY, audit_list),
    { 0 },
};
