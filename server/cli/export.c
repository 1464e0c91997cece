/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/export/exporting.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--as", CW_TEXT_T, "TABLE", "the table to write to standard output, as CSV unless --json", 0, 0, NULL,
      false },
    { "--sheet", CW_BOOL_T, NULL, "guard texts that a spreadsheet would take for a formula", 0, 0, NULL,
      false },
    { "--data", CW_BOOL_T, NULL, "leave texts as they are", 0, 0, NULL, false },
    { "--xlsx", CW_TEXT_T, "FILE", "the whole season as one workbook", 0, 0, NULL, false },
    { "--list", CW_BOOL_T, NULL, "which tables there are", 0, 0, NULL, false },
    { 0 },
};

/* A table that is written out is for machines: CSV even to a terminal, JSON when asked for. */
static cw_code write_table(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_sink out = cw_call_output(call);
    bool json = call->show == CW_SHOW_JSON;
    bool sheet =
        cw_call_flag(call, "--sheet") || (!cw_exporting_loads_again(name) && !cw_call_flag(call, "--data"));
    cw_format format = json ? CW_AS_JSON : sheet ? CW_AS_SHEET : CW_AS_CSV;
    cw_code code = cw_exporting_write(n, &call->who, name, format, out, err);
    return code == CW_OK && json ? out.write(out.self, "\n", 1, err) : code;
}

static cw_code show_list(cw_call *call, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_exporting_list(&t, err);
    return cw_call_show_take(call, code, &t, err);
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    const char *name = cw_call_text(call, "--as", NULL), *book = cw_call_text(call, "--xlsx", NULL);
    bool list = cw_call_flag(call, "--list");
    if (cw_call_flag(call, "--sheet") && cw_call_flag(call, "--data"))
        return cw_error_set(err, CW_USAGE,
                            "--sheet and --data are two ways to write the same texts: say one");
    if ((name != NULL) + (book != NULL) + list != 1)
        return cw_error_set(err, CW_USAGE, "say one of --as TABLE, --xlsx FILE, --list");
    if (list)
        return show_list(call, err);
    cw_code code = cw_call_open(call, CW_LOOK, &n, err);
    if (code == CW_OK && name)
        code = write_table(call, n, name, err);
    else if (code == CW_OK)
        code = cw_exporting_workbook(n, &call->who, book, err);
    cw_nursery_close(n);
    if (code == CW_OK && book)
        cw_call_say(call, "%s: the season as a workbook", book);
    return code;
}

const cw_verb cw_verbs_export[] = {
    {
        "export",
        "NURSERY.db",
        "any table as CSV, or the season as a workbook",
        "Writes one table to standard output, or the whole season as one .xlsx workbook. The tables that "
        "'load' takes have the columns that it takes: loading them again changes nothing, and texts stand in "
        "them as they are. In the other tables a text that a spreadsheet would take for a formula (one that "
        "begins with = + - @) stands behind an apostrophe. --data and --sheet turn that off and on: buyers "
        "wrote names and notes, so take --sheet before you open orders in a spreadsheet. Workbooks are made "
        "for their owner only.",
        "clumpwise export season2031.db --as orders > orders.csv",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
