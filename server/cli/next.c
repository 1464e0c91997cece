/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/closing/closing.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--season", CW_INT_T, "YEAR", "year of digging of the next season", 1900, 2199, NULL, false },
    { "--ship", CW_DAY_T, "DATE", "its planned first shipping day", 0, 0, NULL, false },
    { "--preview", CW_BOOL_T, NULL, "tell what would be carried, moved and left behind; nothing is made", 0,
      0, NULL, false },
    { "--leave-open", CW_BOOL_T, NULL,
      "leave open claims, notices and refunds to be answered in this season's file", 0, 0, NULL, false },
    { "--buyers", CW_DAY_T, "SINCE",
      "take name, address and consent of buyers along who ordered on that day or later; without it they stay",
      0, 0, NULL, false },
    { "--reopen", CW_TEXT_T, "WHY", "let a closed season take everything again, on record", 0, 0, NULL,
      false },
    { 0 },
};

static cw_code reopen(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_code code = cw_call_open(call, CW_WORK, &n, err);
    if (code == CW_OK)
        code = cw_closing_reopen(n, &call->who, cw_call_text(call, "--reopen", ""), err);
    cw_nursery_close(n);
    if (code == CW_OK)
        cw_call_say(call, "%s: open again", call->arguments[0]);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    bool preview = cw_call_flag(call, "--preview");
    if (cw_call_given(call, "--reopen"))
        return call->count == 1 ? reopen(call, err)
                                : cw_error_set(err, CW_USAGE, "--reopen takes one file, the closed one");
    if (call->count != 2 || !cw_call_given(call, "--season") || !cw_call_given(call, "--ship"))
        return cw_error_set(err, CW_USAGE,
                            "needs this season's file, the new one's name, --season and --ship");
    const cw_day since = cw_call_day(call, "--buyers", CW_NO_DAY);
    cw_next next = { .path = call->arguments[1],
                     .season = (int)cw_call_int(call, "--season", 0),
                     .ship = cw_call_day(call, "--ship", 0),
                     .leave_open = cw_call_flag(call, "--leave-open"),
                     .buyers_since = since == CW_NO_DAY ? NULL : &since };
    cw_code code = cw_call_open(call, preview ? CW_LOOK : CW_WORK, &n, err);
    if (code == CW_OK)
        code = cw_closing_next(n, &call->who, &next, !preview, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    cw_table_free(&t);
    cw_nursery_close(n);
    if (code == CW_OK && preview)
        cw_call_say(call, "a preview: nothing was made");
    else if (code == CW_OK)
        cw_call_say(call,
                    "%s: the season of %d; %s is closed and takes claims, notices, "
                    "refunds, holds of lots and forgetting only",
                    next.path, next.season, call->arguments[0]);
    return code;
}

const cw_verb cw_verbs_next[] = {
    {
        "next",
        "NURSERY.db NEXT.db",
        "close the season and open the next one from it",
        "Makes the next season's file from this one and closes this one. Varieties, places, people and "
        "settings go along; what the season taught becomes history; lots, orders and buyers stay here. With "
        "--buyers the order desk knows again who ordered since that day: name, address and consent go along, "
        "no order, and nobody who was forgotten. How long that is allowed is for the law of the place to "
        "say. Look at --preview first. 'clumpwise check NEXT.db --past NURSERY.db' proves that the sums "
        "agree.",
        "clumpwise next season2031.db season2032.db --season 2032 --ship 2033-04-18 --preview",
        options,
        1,
        2,
        run,
    },
    { 0 },
};
