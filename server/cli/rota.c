/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/bench/rota.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--minutes", CW_INT_T, "N", "minutes that there are (default: the setting check_minutes)", 0, 10000,
      NULL, false },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    cw_text notes = CW_TEXT(4096);
    cw_code code = cw_call_open(call, CW_LOOK, &n, err);
    if (code == CW_OK)
        code = cw_rota_list(n, &call->who, (double)cw_call_int(call, "--minutes", -1), &t, &notes, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && notes.length > 0)
        cw_call_say(call, "%.*s", (int)notes.length - 1, notes.data);
    cw_text_free(&notes);
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verb_rota = {
    "rota",
    "NURSERY.db",
    "which crates to open this week, and how many to look at",
    "Chooses the crates whose opening is worth most a minute: long not looked at, of varieties whose rot is "
    "not known well, that "
    "move much money. Opening and looking take what the settings open_minutes and look_minutes say. In "
    "walking order; rank is the order "
    "of what a minute brings. Mould and dust: gloves and a mask; local safety rules come first.",
    "clumpwise rota season2031.db --minutes 90",
    options,
    1,
    1,
    run,
};
