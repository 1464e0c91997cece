/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/nursery/keeping.h"

#include "base/banned.h"

static const cw_option options[] = { { 0 } };

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_code code = cw_call_open(call, CW_LOOK, &n, err);
    if (code == CW_OK)
        code = cw_keeping_backup(n, &call->who, call->arguments[1], err);
    cw_nursery_close(n);
    if (code == CW_OK)
        cw_call_say(call, "%s: copied and verified", call->arguments[1]);
    return code;
}

const cw_verb cw_verb_backup = {
    "backup",
    "NURSERY.db COPY.db",
    "a verified copy while work goes on",
    "Copies the nursery file as it is at this moment, also while a server writes it, verifies the copy, and "
    "only then puts "
    "it in place. An older copy of the same name is replaced. Keep copies on another machine, too.",
    "clumpwise backup season2031.db /mnt/stick/season2031-monday.db",
    options,
    2,
    2,
    run,
};
