/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/text.h"

#include "cli/sheets_inside.h"
#include "desk/intake/brought.h"
#include "desk/intake/intake.h"
#include "desk/share/arriving.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--as", CW_TEXT_T, "KIND", "kind of all the files, when their names do not begin with it", 0, 0,
      "varieties|places|zones|destinations|zone_ranges|history|past_checks|past_sales|past_orders|"
      "past_plantings|plantings|lots|field_rounds|weighings|air|"
      "divisions|"
      "checks|counts|"
      "orders|holds|tracking",
      false },
    { "--dry-run", CW_BOOL_T, NULL, "do it all, report, and take it back", 0, 0, NULL, false },
    { "--ignore-extra", CW_BOOL_T, NULL, "pass over columns that the kind does not have", 0, 0, NULL, false },
    { "--changes", CW_BOOL_T, NULL, "let order lines that differ from the record change it", 0, 0, NULL,
      false },
    { "--oversell", CW_TEXT_T, "REASON", "take orders beyond what is offered, and put the reason on record",
      0, 0, NULL, false },
    { "--same-name", CW_TEXT_T, "WHICH",
      "a variety under a new code with the name of one on record is a new variety, or has a new code", 0, 0,
      "new|code", false },
    { "--fit", CW_TEXT_T, "[NAME]",
      "fit a spreadsheet of another make, as it was kept by NAME; without one, show and ask", 0, 0, NULL,
      false, .maybe = true },
    { "--fit-show", CW_TEXT_T, "NAME", "instead of loading, print a kept fit", 0, 0, NULL, false },
    { "--fits", CW_BOOL_T, NULL, "instead of loading, list the kept fits", 0, 0, NULL, false },
    { "--fit-forget", CW_TEXT_T, "NAME", "instead of loading, forget a kept fit", 0, 0, NULL, false },
    { "--fit-rename", CW_TEXT_T, "NAME", "instead of loading, give a kept fit the name of --to", 0, 0, NULL,
      false },
    { "--to", CW_TEXT_T, "NAME", "the new name", 0, 0, NULL, false },
    { "--sheet", CW_TEXT_T, "NAME", "which sheet of the workbook", 0, 0, NULL, false },
    { "--look", CW_BOOL_T, NULL, "instead of loading, show how a spreadsheet would be fitted", 0, 0, NULL,
      false },
    { "--brought", CW_BOOL_T, NULL, "instead of loading, list the files of holds and of tracking numbers", 0,
      0, NULL, false },
    { "--undo", CW_INT_T, "FILE", "instead of loading, take such a file back whole", 1, 1e15, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "with --undo: the reason, kept on record", 0, 0, NULL, false },
    { "--columns", CW_BOOL_T, NULL, "instead of loading, list the columns of every kind (or of --as KIND)", 0,
      0, NULL, false },
    { 0 },
};

static cw_code show_columns(cw_call *call, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_intake_columns(cw_call_text(call, "--as", NULL), &t, err);
    return cw_call_show_take(call, code, &t, err);
}

/* A question among the errors is answered by an option. */
static void say_choice(cw_call *call, const cw_error_list *errors)
{
    bool asked = false;
    for (size_t i = 0; i < errors->kept; i++)
        asked =
            asked || (errors->items[i].code == CW_CONFLICT && strcmp(errors->items[i].column, "name") == 0);
    if (asked)
        cw_call_say(call, "load again with --same-name new (varieties of their own) or --same-name code (new "
                          "codes of those "
                          "on record)");
}

/* Files of our own kinds, in one call of the intake. */
static cw_code load_ours(cw_call *call, cw_nursery *n, const cw_intake_file *files, size_t count,
                         cw_error *err)
{
    cw_intake_options o = { .dry_run = cw_call_flag(call, "--dry-run"),
                            .ignore_extra = cw_call_flag(call, "--ignore-extra"),
                            .changes = cw_call_flag(call, "--changes"),
                            .oversell = cw_call_text(call, "--oversell", NULL),
                            .same_name = cw_same_name_of(cw_call_text(call, "--same-name", NULL)) };
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    cw_code code = cw_intake_load(n, &call->who, files, count, &o, &answer, &errors, err);
    if (code == CW_OK)
        code = cw_call_show(call, &answer, err);
    if (errors.count > 0) {
        cw_call_say_errors(call, &errors);
        say_choice(call, &errors);
        *err = (cw_error)CW_ERROR_NONE;
        cw_error_set(err, code, "%ld %s; nothing was loaded", errors.count,
                     errors.count == 1 ? "row or header is wrong" : "rows or headers are wrong");
    }
    cw_error_list_free(&errors);
    cw_table_free(&answer);
    return code;
}

/* All files, in one batch: what comes late is promised with the load, or nothing of it stands. */
static cw_code load(cw_call *call, cw_nursery *n, const cw_intake_file *ours, size_t count,
                    const cw_sheet_files *others, cw_error *err)
{
    const bool dry_run = cw_call_flag(call, "--dry-run");
    cw_arriving_done late = { 0 };
    int64_t mark = -1;
    cw_code code = cw_arriving_mark(n, &mark, err);
    if (code == CW_OK)
        code = cw_nursery_batch_begin(n, err);
    if (code == CW_OK && count > 0)
        code = load_ours(call, n, ours, count, err);
    for (size_t i = 0; code == CW_OK && i < others->count; i++)
        code = cw_sheet_file_take(call, n, &others->files[i], err);
    if (code == CW_OK && !dry_run)
        code = cw_arriving_promise(n, &call->who, mark, -1, NULL, &late, err);
    if (code == CW_OK)
        code = cw_nursery_batch_commit(n, err);
    else
        cw_nursery_batch_drop(n);
    if (code == CW_OK && late.firm + late.waiting > 0)
        cw_call_say(
            call, "promised at once of lines that came late: %lld; waiting for the next sharing: %lld line%s",
            (long long)late.firm, (long long)late.waiting, CW_S(late.waiting));
    if (code == CW_OK && dry_run)
        cw_call_say(call, "a dry run: nothing was changed");
    return code;
}

/* Files that can be taken back whole: the list, or one of them. */
static cw_code brought(cw_call *call, cw_error *err)
{
    const bool undo = cw_call_given(call, "--undo");
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    if (undo != cw_call_given(call, "--why") || call->count > 1)
        return cw_error_set(err, CW_USAGE, "--undo goes with --why, the reason, and with no file to load");
    cw_code code = cw_call_open(call, undo ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK && undo)
        code = cw_brought_take_back(n, &call->who, cw_call_int(call, "--undo", 0),
                                    cw_call_text(call, "--why", NULL), err);
    if (code == CW_OK)
        code = cw_brought_files(n, &t, err);
    code = cw_call_show_take(call, code, &t, err);
    cw_nursery_close(n);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    if (cw_call_given(call, "--brought") || cw_call_given(call, "--undo") || cw_call_given(call, "--why"))
        return brought(call, err);
    if (cw_call_flag(call, "--columns"))
        return show_columns(call, err);
    const bool look = cw_call_flag(call, "--look");
    if (cw_sheet_fits_asked(call))
        return cw_sheet_fits(call, err);
    if (call->count < 2)
        return cw_error_set(err, CW_USAGE, "name the files to load");
    size_t count = (size_t)call->count - 1, ours = 0;
    cw_nursery *n = NULL;
    cw_sheet_files others = { .count = 0 };
    cw_intake_file *files = calloc(count + 1, sizeof *files);
    cw_code code = files ? cw_call_open(call, look ? CW_LOOK : CW_WORK, &n, err) : cw_error_memory(err);
    for (size_t i = 0; code == CW_OK && i < count; i++) {
        const char *path = call->arguments[1 + i];
        bool other = false;
        code = cw_sheet_file_read(call, path, &others, &other, err);
        if (code == CW_OK && !other)
            files[ours++] = (cw_intake_file){ .path = path, .kind = cw_call_text(call, "--as", NULL) };
    }
    for (size_t i = 0; code == CW_OK && look && i < others.count; i++)
        code = cw_sheet_file_look(call, n, &others.files[i], err);
    if (code == CW_OK && !look)
        code = load(call, n, files, ours, &others, err);
    cw_nursery_close(n);
    cw_sheet_files_free(&others);
    free(files);
    return code;
}

const cw_verb cw_verbs_load[] = {
    {
        "load",
        "NURSERY.db FILE...",
        "take CSV files and spreadsheets in, all or nothing",
        "Takes one or more files in one transaction: either all of them or, when anything is wrong, none; up "
        "to 20 errors are listed with file, line and column. The kind of a file is told by the beginning of "
        "its name (orders.csv, orders-march.csv). The order of the arguments does not matter, and loading a "
        "file again changes nothing. Spreadsheets of another make (.xlsx, .csv, .tsv, .txt in any encoding) "
        "are fitted to ours first: their kind and columns are found by their headings and by what stands in "
        "them, and what nothing decides is asked in the terminal; without a terminal it is an error, and "
        "nothing is loaded. How a sheet was fitted is kept for the next one of its kind. A file of holds, or "
        "of tracking numbers that a carrier gave back, can be taken back whole: --brought lists them, --undo "
        "FILE --why TEXT. While 'serve' runs it is the only writer: stop it, or load on its page. "
        "Destinations are allowed, warned of or blocked as the nursery noted; the plant-health authority "
        "decides.",
        "clumpwise load season2031.db varieties.csv places.csv lots.csv divisions.csv",
        options,
        1,
        -1,
        run,
    },
    { 0 },
};
