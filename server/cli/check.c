/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/closing/closing.h"
#include "desk/nursery/keeping.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--migrate", CW_BOOL_T, NULL,
      "bring a file of an older program up to date first, after a backup beside it", 0, 0, NULL, false },
    { "--past", CW_TEXT_T, "OLD.db", "also: does this file still know what that closed season's file taught",
      0, 0, NULL, false },
    { 0 },
};

static cw_code prove(cw_call *call, cw_nursery *n, const char *path, cw_error *err)
{
    cw_nursery *past = NULL;
    cw_table t = { 0 };
    long broken = 0;
    cw_code code = cw_nursery_open(path, CW_LOOK, NULL, &past, err);
    if (code == CW_OK)
        code = cw_closing_prove(n, past, &call->who, &t, &broken, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && broken)
        code = cw_error_set(err, CW_REFUSED, "%ld sum%s not agree with %s", broken,
                            broken == 1 ? " does" : "s do", path);
    cw_table_free(&t);
    cw_nursery_close(past);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    char last[65];
    cw_code code = cw_call_open(call, cw_call_flag(call, "--migrate") ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = cw_keeping_check(n, &t, last, err);
    if (code == CW_OK && (cw_table_rows(&t) > 0 || call->show != CW_SHOW_PEOPLE))
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && cw_table_rows(&t) > 0)
        code = cw_error_set(
            err, CW_REFUSED,
            "%zu findings: restore the last good backup, and keep this file for whoever looks into it",
            cw_table_rows(&t));
    if (code == CW_OK && cw_call_given(call, "--past"))
        code = prove(call, n, cw_call_text(call, "--past", ""), err);
    if (code == CW_OK)
        cw_call_say(call, "all is well; the audit's last hash is %s", last[0] ? last : "none yet");
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_check[] = {
    {
        "check",
        "NURSERY.db",
        "is the file sound?",
        "Checks the file's structure, that every row has its parents, that the ledger conserves clumps and "
        "divisions lot by lot, that nothing is sold beyond what is offered, and the chain of the audit. The "
        "last hash of the audit can be written down elsewhere: rows cut off its end show only by that. With "
        "--past, the sums of what that season taught are compared, too.",
        "clumpwise check season2031.db",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
