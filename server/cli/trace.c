/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/stock/tracing.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--lot", CW_TEXT_T, "LOT", "who received of this lot", 0, 0, NULL, false },
    { "--order", CW_TEXT_T, "ORDER", "which lots and rows this order came from", 0, 0, NULL, false },
    { "--balance", CW_BOOL_T, NULL, "every variety's way from clumps dug to divisions shipped", 0, 0, NULL,
      false },
    { "--hold", CW_TEXT_T, "REASON", "with --lot: nothing of it may leave any more", 0, 0, NULL, false },
    { "--let-go", CW_BOOL_T, NULL, "with --lot: it may leave again", 0, 0, NULL, false },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    const char *lot = cw_call_text(call, "--lot", NULL), *order = cw_call_text(call, "--order", NULL);
    const char *hold = cw_call_text(call, "--hold", NULL);
    bool let_go = cw_call_flag(call, "--let-go"), balance = cw_call_flag(call, "--balance");
    if ((lot != NULL) + (order != NULL) + balance != 1)
        return cw_error_set(err, CW_USAGE, "name a lot, or an order, or ask for the balance");
    if ((hold || let_go) && (lot == NULL || (hold && let_go)))
        return cw_error_set(err, CW_USAGE, "--hold or --let-go goes with --lot");
    cw_code code = cw_call_open(call, hold || let_go ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK && (hold || let_go))
        code = cw_tracing_hold(n, &call->who, lot, hold, err);
    if (code == CW_OK && lot)
        code = cw_tracing_lot(n, &call->who, lot, &t, err);
    else if (code == CW_OK && order)
        code = cw_tracing_order(n, &call->who, order, &t, err);
    else if (code == CW_OK)
        code = cw_tracing_balance(n, &call->who, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && !balance && cw_table_rows(&t) == 0)
        cw_call_say(call, lot ? "nothing of lot %s has been picked" : "nothing of order %s has been picked",
                    lot ? lot : order);
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verb_trace = {
    "trace",
    "NURSERY.db",
    "lot to orders and parcels, order back to rows",
    "Follows a lot to every order, parcel and buyer that received of it, or an order back to the lots and "
    "rows that it came "
    "from, for a mislabelled or sick row. --balance tells every variety's way from clumps dug to divisions "
    "shipped. --hold "
    "keeps what is left of a lot in the cellar.",
    "clumpwise trace season2031.db --lot L0001 --csv",
    options,
    1,
    1,
    run,
};
