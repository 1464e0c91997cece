/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/ship/shipping.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--preview", CW_BOOL_T, NULL, "show the weeks without recording them", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL, "record the weeks (this is the default)", 0, 0, NULL, false },
    { "--order", CW_TEXT_T, "ORDER", "move this order; with --week", 0, 0, NULL, false },
    { "--week", CW_WEEK_T, "WEEK", "the week to move it to; tells what that breaks", 0, 0, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "why it is moved, for the record", 0, 0, NULL, false },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    bool preview = cw_call_flag(call, "--preview");
    const char *order = cw_call_text(call, "--order", NULL);
    cw_week week = cw_call_week(call, "--week", 0);
    if ((order == NULL) != (week == 0))
        return cw_error_set(err, CW_USAGE, "--order and --week go together");
    cw_code code = cw_call_open(call, preview ? CW_LOOK : CW_WORK, &n, err);
    if (code == CW_OK && order)
        code = preview
                   ? cw_shipping_breaks(n, &call->who, order, week, &t, err)
                   : cw_shipping_move(n, &call->who, order, week, cw_call_text(call, "--why", NULL), &t, err);
    else if (code == CW_OK)
        code = cw_shipping_schedule(n, &call->who, !preview, &t, err);
    code = cw_call_show_take(call, code, &t, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_schedule[] = {
    {
        "schedule",
        "NURSERY.db",
        "ship weeks for orders",
        "Gives every open order the earliest week that its zone, its buyer's wish, frost holds and the "
        "crew's capacity leave open, first come, first served, and records it. Orders that the office "
        "pinned, that are in a wave or gone keep their week. --preview records nothing. With --order and "
        "--week one order is moved and pinned, and what that breaks is told.",
        "clumpwise schedule season2031.db --today 2032-03-01",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
