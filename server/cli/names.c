/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/stock/merging.h"
#include "desk/stock/naming.h"
#include "desk/stock/splitting.h"
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--rename", CW_TEXT_T, "CODE:NEW", "the variety CODE gets the code NEW; CODE still finds it", 0, 0,
      NULL, false },
    { "--relabel", CW_TEXT_T, "LOT:CODE", "the lot is of the variety CODE, and was from digging on", 0, 0,
      NULL, false },
    { "--as", CW_TEXT_T, "NEWLOT",
      "with --relabel: only a part is, from a day on; it becomes this lot, and the rest stays", 0, 0, NULL,
      false },
    { "--from", CW_DAY_T, "DATE", "with --as: since when (default: today)", 0, 0, NULL, false },
    { "--clumps", CW_INT_T, "N", "with --as: so many clumps; without --divisions either, all that is left", 0,
      CW_MAX_CLUMPS, NULL, false },
    { "--divisions", CW_INT_T, "N", "with --as: so many divisions", 0, CW_MAX_DIVISIONS, NULL, false },
    { "--merge", CW_TEXT_T, "CODE:KEPT", "the variety CODE is the variety KEPT; CODE still finds it", 0, 0,
      NULL, false },
    { "--part", CW_TEXT_T, "CODE", "the variety that was merged under CODE is one of its own again", 0, 0,
      NULL, false },
    { "--merged", CW_BOOL_T, NULL, "list what was merged this season", 0, 0, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "the reason, kept on record", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL, "do it; without, what it would do is told", 0, 0, NULL, false },
    { 0 },
};

/* "L0001:AMB": the part before the colon, and what stands behind it. */
static cw_code parted(const char *text, const char *option, char before[CW_MAX_CODE + 1], const char **after,
                      cw_error *err)
{
    const char *colon = strchr(text, ':');
    if (colon == NULL || colon == text || colon[1] == '\0' || colon - text > CW_MAX_CODE)
        return cw_error_set(err, CW_USAGE, "%s takes two names parted by a colon: %s", option, text);
    cw_copy(before, (size_t)(colon - text) + 1, text);
    *after = colon + 1;
    return CW_OK;
}

/* What is asked for: one of them at most. */
typedef struct asked {
    const char *option, *text; /* NULL: a list */
    char what[CW_MAX_CODE + 1];
    const char *to;
} asked;

static cw_code ask(cw_call *call, asked *a, cw_error *err)
{
    static const char *const ways[] = { "--rename", "--relabel", "--merge", "--part" };
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++) {
        const char *text = cw_call_text(call, ways[i], NULL);
        if (text && a->option)
            return cw_error_set(err, CW_USAGE, "one at a time: %s or %s", a->option, ways[i]);
        if (text)
            *a = (asked){ .option = ways[i], .text = text };
    }
    static const char *const of_part[] = { "--as", "--from", "--clumps", "--divisions" };
    bool part = a->option && strcmp(a->option, "--relabel") == 0 && cw_call_given(call, "--as");
    for (size_t i = 0; i < sizeof of_part / sizeof of_part[0]; i++)
        if (!part && cw_call_given(call, of_part[i]))
            return cw_error_set(err, CW_USAGE, "%s goes with --relabel and --as", of_part[i]);
    if (a->option == NULL || strcmp(a->option, "--part") == 0)
        return CW_OK;
    return parted(a->text, a->option, a->what, &a->to, err);
}

static cw_code relabel(cw_nursery *n, cw_call *call, const asked *a, cw_table *t, cw_error *err)
{
    const char *why = cw_call_text(call, "--why", "");
    bool commit = cw_call_flag(call, "--commit");
    const cw_split part = { .lot = a->what,
                            .to = a->to,
                            .as = cw_call_text(call, "--as", NULL),
                            .day = cw_call_day(call, "--from", CW_NO_DAY),
                            .clumps = cw_call_int(call, "--clumps", -1),
                            .divisions = cw_call_int(call, "--divisions", -1),
                            .why = why };
    return part.as ? cw_splitting_lot(n, &call->who, &part, commit, t, err)
                   : cw_naming_relabel_lot(n, &call->who, a->what, a->to, why, commit, t, err);
}

static cw_code act(cw_nursery *n, cw_call *call, const asked *a, cw_table *t, cw_error *err)
{
    const char *why = cw_call_text(call, "--why", "");
    bool commit = cw_call_flag(call, "--commit");
    if (a->option == NULL)
        return cw_call_flag(call, "--merged") ? cw_merging_all(n, &call->who, t, err)
                                              : cw_naming_former_codes(n, &call->who, t, err);
    if (strcmp(a->option, "--rename") == 0)
        return cw_naming_rename_variety(n, &call->who, a->what, a->to, why, commit, t, err);
    if (strcmp(a->option, "--relabel") == 0)
        return relabel(n, call, a, t, err);
    if (strcmp(a->option, "--merge") == 0)
        return cw_merging_merge(n, &call->who, a->what, a->to, why, commit, t, err);
    return cw_merging_undo(n, &call->who, a->text, why, commit, t, err);
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    asked a = { 0 };
    bool commit = cw_call_flag(call, "--commit");
    cw_code code = ask(call, &a, err);
    if (code == CW_OK)
        code = cw_call_open(call, commit ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = act(n, call, &a, &t, err);
    code = cw_call_show_take(call, code, &t, err);
    cw_nursery_close(n);
    if (code == CW_OK && a.option)
        cw_call_say(call, commit ? "done, on record" : "a preview: nothing was changed");
    return code;
}

const cw_verb cw_verbs_names[] = {
    {
        "names",
        "NURSERY.db",
        "put a wrong name right: a code that changes, a lot or a code that proves to be another variety",
        "Tells what bears a name, or rests on it, and with --commit changes it. A code and a lot are put "
        "back by the same call the other way round, a merge by --part, as long as nobody has touched the "
        "variety since. A part of a lot that became one of its own is put back on the lot's page. Without "
        "any of them the former codes are listed, with --merged the merges.",
        "clumpwise names season2031.db --relabel L0001:AMB --why 'the stake stood in the wrong row' --commit",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
