/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/stock/naming.h"
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--rename", CW_TEXT_T, "CODE:NEW", "the variety CODE gets the code NEW; CODE still finds it", 0, 0,
      NULL, false },
    { "--relabel", CW_TEXT_T, "LOT:CODE", "the lot is of the variety CODE, and was from digging on", 0, 0,
      NULL, false },
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

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    const char *rename = cw_call_text(call, "--rename", NULL),
               *relabel = cw_call_text(call, "--relabel", NULL);
    const char *why = cw_call_text(call, "--why", ""), *to = "";
    bool commit = cw_call_flag(call, "--commit");
    char what[CW_MAX_CODE + 1] = "";
    cw_code code = CW_OK;
    if (rename && relabel)
        return cw_error_set(err, CW_USAGE, "one at a time: --rename or --relabel");
    if (rename || relabel)
        code = parted(rename ? rename : relabel, rename ? "--rename" : "--relabel", what, &to, err);
    if (code == CW_OK)
        code = cw_call_open(call, commit ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = rename    ? cw_naming_rename_variety(n, &call->who, what, to, why, commit, &t, err)
               : relabel ? cw_naming_relabel_lot(n, &call->who, what, to, why, commit, &t, err)
                         : cw_naming_former_codes(n, &call->who, &t, err);
    code = cw_call_show_take(call, code, &t, err);
    cw_nursery_close(n);
    if (code == CW_OK && (rename || relabel))
        cw_call_say(call, commit ? "done, on record" : "a preview: nothing was changed");
    return code;
}

const cw_verb cw_verb_names = {
    "names",
    "NURSERY.db",
    "put a wrong name right: a code that changes, a row that proves to be another variety",
    "Tells what bears a variety's code, or rests on a lot's being its variety, and with --commit changes it. "
    "Both can be "
    "put back by the same call the other way round. Without --rename or --relabel, the former codes are "
    "listed.",
    "clumpwise names season2031.db --relabel L0001:AMB --why 'the stake stood in the wrong row' --commit",
    options,
    1,
    1,
    run,
};
