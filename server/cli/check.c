/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/nursery/keeping.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--migrate", CW_OPT_FLAG, NULL,
      "bring a file of an older program up to date first, after a backup beside it", 0, 0, NULL, false },
    { 0 },
};

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
    if (code == CW_OK)
        cw_call_say(call, "all is well; the audit's last hash is %s", last[0] ? last : "none yet");
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verb_check = {
    "check",
    "NURSERY.db",
    "is the file sound?",
    "Checks the file's structure, that every row has its parents, that the ledger conserves clumps and "
    "divisions lot by lot, "
    "that nothing is sold beyond what is offered, and the chain of the audit. The last hash of the audit can "
    "be "
    "written down elsewhere: rows cut off its end show only by that.",
    "clumpwise check season2031.db",
    options,
    1,
    1,
    run,
};
