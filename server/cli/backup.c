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

static const cw_option restore_options[] = { { 0 } };

static cw_code restore(cw_call *call, cw_error *err)
{
    cw_code code = cw_keeping_restore(call->arguments[1], call->arguments[0], err);
    if (code == CW_OK)
        cw_call_say(call, "%s is now what %s was; what stood there before is %s.before-restore",
                    call->arguments[0], call->arguments[1], call->arguments[0]);
    return code;
}

const cw_verb cw_verbs_backup[] = {
    {
        "backup",
        "NURSERY.db COPY.db",
        "a verified copy while work goes on",
        "Copies the nursery file as it is at this moment, also while a server writes it, verifies the copy, "
        "and only then puts it in place. An older copy of the same name is replaced. Keep copies on another "
        "machine, too.",
        "clumpwise backup season2031.db /mnt/stick/season2031-monday.db",
        options,
        2,
        2,
        run,
    },
    {
        "restore",
        "NURSERY.db COPY.db",
        "put a copy in the place of the nursery file",
        "Verifies the copy and puts it in the place of the nursery file; a damaged copy is refused and "
        "nothing changes. What stood there is kept beside it as NURSERY.db.before-restore. Stop the server "
        "first. What was entered after the copy was made is not in it.",
        "clumpwise restore season2031.db backups/season2031-20320301T120000Z.db",
        restore_options,
        2,
        2,
        restore,
    },
    { 0 },
};
