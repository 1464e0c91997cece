/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/forgetting.h"

#include "base/banned.h"

static const cw_option options[] = { { 0 } };

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    cw_code code = cw_call_open(call, CW_WORK, &n, err);
    if (code == CW_OK)
        code = cw_forgetting(n, &call->who, call->arguments[1], &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK)
        cw_call_say(call, "taken out of these orders; older backups and exports still hold the person");
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verb_forget = {
    "forget",
    "NURSERY.db CUSTOMER",
    "take a person out of the orders",
    "Removes name, e-mail address and postcode from a customer's orders, and free texts that may name them. "
    "The orders, the "
    "ledger and the money stay. CUSTOMER is an e-mail address, a name as it stands on the orders, or one "
    "order's number. Open "
    "orders are refused: ship or cancel them first. How long records must be kept for tax or plant health is "
    "for the law "
    "of the place to say; ask before you remove. Older backups still hold the person until they are rotated "
    "out.",
    "clumpwise forget season2031.db fern@example.org",
    options,
    2,
    2,
    run,
};
