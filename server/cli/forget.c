/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/closing/closing.h"
#include "desk/buyers/forgetting.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--postcode", CW_TEXT_T, "POSTCODE", "CUSTOMER is a name, and the orders bear this postcode", 0, 0,
      NULL, false },
    { "--before", CW_DAY_T, "DATE", "all whose last order, shipping and claim are before that day", 0, 0,
      NULL, false },
    { "--past", CW_TEXT_T, "OLD.db", "reach that closed season's file, too; as often as needed", 0, 0, NULL,
      false, .many = true },
    { "--dry-run", CW_BOOL_T, NULL, "only show whose orders and how many texts it would be", 0, 0, NULL,
      false },
    { 0 },
};

/* Who went along is known in that file until they are forgotten there, too. */
static cw_code say_where_else(cw_call *call, cw_nursery *n, cw_error *err)
{
    bool closed = false;
    cw_closed c = { 0 };
    cw_code code = cw_closing_state(n, &closed, &c, err);
    if (code == CW_OK && closed && c.buyers > 0)
        cw_call_say(call, "buyers of this season went along into the season of %d: forget in that file, too",
                    c.season);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    cw_error shown = CW_ERROR_NONE;
    bool dry = cw_call_flag(call, "--dry-run");
    cw_forget_ask ask = { call->count > 1 ? call->arguments[1] : NULL, cw_call_text(call, "--postcode", NULL),
                          cw_call_day(call, "--before", CW_NO_DAY) };
    if ((ask.customer == NULL) == (ask.before == CW_NO_DAY) || (ask.postcode && ask.customer == NULL))
        return cw_error_set(err, CW_USAGE,
                            "forget takes a CUSTOMER, or --before DATE for all that are out of date");
    cw_code code = cw_call_open(call, dry ? CW_LOOK : CW_WORK, &n, err);
    if (code == CW_OK && dry)
        code = cw_call_past(call, n, err);
    if (code == CW_OK)
        code = dry ? cw_forgetting_preview(n, &call->who, &ask, &t, err)
                   : cw_forgetting_years(n, &call->who, &ask, call->many, call->manies, &t, err);
    if (code == CW_CONFLICT && cw_table_rows(&t) > 0 && cw_call_show(call, &t, &shown) != CW_OK)
        *err = shown; /* whom it could be */
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK)
        cw_call_say(call,
                    dry ? "a dry run: nothing was changed"
                        : "removed from these orders; older backups and exports still hold the buyer's data");
    if (code == CW_OK && call->manies == 0)
        cw_call_say(call, "files of past seasons were not %s: name them by --past",
                    dry ? "looked into" : "reached");
    if (code == CW_OK)
        code = say_where_else(call, n, err);
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_forget[] = {
    {
        "forget",
        "NURSERY.db CUSTOMER, or --before DATE",
        "remove a buyer's data from the orders",
        "Removes name, e-mail address and postcode from a customer's orders, free texts that may name them, "
        "and who was taken along from a season before. The orders, the ledger and the money stay. CUSTOMER "
        "is an e-mail address, a name as it stands on the orders, or one order's number; with --postcode it "
        "is a name. When more than one person fits they are listed and nothing is changed. Open orders are "
        "refused: ship or cancel them first. How long records must be kept for tax or plant health is for "
        "the law of the place to say; ask before you remove. Why a pick or a whole run was undone, a lot "
        "held, or an offer changed stays on record: write no names there. With --before this is done for all "
        "buyers whose last order, shipping and claim are before that day and who have nothing open. With "
        "--past the files of closed seasons are reached, too: all are looked at first, and nothing is "
        "changed unless each of them allows it. Older backups still hold the buyer's data until they are "
        "rotated out.",
        "clumpwise forget season2031.db fern@example.org",
        options,
        1,
        2,
        run,
    },
    { 0 },
};
