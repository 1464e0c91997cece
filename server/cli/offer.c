/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/offer/offering.h"
#include <stdlib.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--confidence", CW_REAL_T, "P",
      "how sure we want to be to deliver all that is offered (default: the setting, 0.9)", 0.01, 0.9999, NULL,
      false },
    { "--margin", CW_MONEY_T, "M",
      "what a delivered division earns, the same for every variety; with --short-cost", 0, 0, NULL, false },
    { "--short-cost", CW_MONEY_T, "C",
      "what a division sold and not delivered costs, the same for every variety", 0, 0, NULL, false },
    { "--margin-share", CW_REAL_T, "X",
      "what a delivered division earns, as a share of its price; with --short-cost-share", 0, 1, NULL,
      false },
    { "--short-cost-share", CW_REAL_T, "X",
      "what a division sold and not delivered costs, in prices (0.9: nine tenths of its price)", 0, 20, NULL,
      false },
    { "--ship", CW_DAY_T, "DATE", "shipping day (default: the season's)", 0, 0, NULL, false },
    { "--variety", CW_TEXT_T, "CODE", "this variety only", 0, 0, NULL, false },
    { "--quantity", CW_INT_T, "Q", "with --variety and --commit: this quantity instead of the plan's", 0,
      10000000, NULL, false },
    { "--rot", CW_REAL_T, "X", "what if rot were X times as fast", 0.01, 100, NULL, false },
    { "--try", CW_TEXT_T, "CODE:FIELD:VALUE,...",
      "what if hold_back, reserve or price of a variety were another; nothing is written", 0, 0, NULL,
      false },
    { "--curve", CW_BOOL_T, NULL, "how the nursery's totals move with the confidence", 0, 0, NULL, false },
    { "--measure", CW_BOOL_T, NULL, "the ten measurements that would save most", 0, 0, NULL, false },
    { "--releases", CW_BOOL_T, NULL, "what was released when, by whom and why", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL, "record the quantities as a release", 0, 0, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "why, for the record of the release", 0, 0, NULL, false },
    { 0 },
};

/* Of a plan: how many varieties are offered beyond what past sales support. */
static void say_beyond(cw_call *call, const cw_table *t)
{
    int quantity = cw_table_column(t, "quantity"), supported = cw_table_column(t, "supported");
    size_t beyond = 0;
    if (quantity < 0 || supported < 0)
        return;
    for (size_t r = 0; r < cw_table_rows(t); r++)
        beyond += !cw_table_cell(t, r, (size_t)supported)->null &&
                  cw_table_int(t, r, (size_t)quantity) > cw_table_int(t, r, (size_t)supported);
    if (beyond > 0)
        cw_call_say(call,
                    "%zu %s offered more than past sales support (the setting demand_caps would hold back)",
                    beyond, beyond == 1 ? "variety is" : "varieties are");
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    bool commit = cw_call_flag(call, "--commit");
    cw_offering_tries *tries = calloc(1, sizeof *tries);
    if (tries == NULL)
        return cw_error_memory(err);
    cw_code code = cw_offering_tries_read(cw_call_text(call, "--try", ""), tries, err);
    cw_offering_ask ask = { .confidence = cw_call_real(call, "--confidence", 0),
                            .margin = cw_call_money(call, "--margin", -1),
                            .short_cost = cw_call_money(call, "--short-cost", -1),
                            .ship = cw_call_day(call, "--ship", CW_NO_DAY),
                            .as_of = CW_NO_DAY,
                            .variety = cw_call_text(call, "--variety", NULL),
                            .rot = cw_call_real(call, "--rot", 1),
                            .tries = tries->item,
                            .n_tries = tries->count,
                            .margin_share = cw_call_real(call, "--margin-share", 0),
                            .short_cost_share = cw_call_real(call, "--short-cost-share", 0) };
    cw_offering_item item = { ask.variety, cw_call_int(call, "--quantity", -1) };
    if (code == CW_OK && item.quantity >= 0 && (!commit || ask.variety == NULL))
        code = cw_error_set(err, CW_USAGE, "--quantity goes with --variety and --commit");
    if (code == CW_OK)
        code = cw_call_open(call, commit ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK && commit)
        code = cw_offering_release(n, &call->who, &ask, &item, item.quantity >= 0,
                                   cw_call_text(call, "--why", NULL), &t, err);
    else if (code == CW_OK && cw_call_flag(call, "--releases"))
        code = cw_offering_releases(n, ask.variety, &t, err);
    else if (code == CW_OK && cw_call_flag(call, "--curve"))
        code = cw_offering_curve(n, &call->who, &ask, &t, err);
    else if (code == CW_OK && cw_call_flag(call, "--measure"))
        code = cw_offering_measures(n, &call->who, &ask, &t, err);
    else if (code == CW_OK)
        code = cw_offering_plan(n, &call->who, &ask, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && !commit)
        say_beyond(call, &t);
    if (code == CW_OK && commit)
        cw_call_say(call, "%zu %s a new quantity on offer", cw_table_rows(&t),
                    cw_table_rows(&t) == 1 ? "variety has" : "varieties have");
    cw_table_free(&t);
    cw_nursery_close(n);
    free(tries);
    return code;
}

const cw_verb cw_verbs_offer[] = {
    {
        "offer",
        "NURSERY.db",
        "how many of each variety to offer, and at what risk",
        "Proposes a catalogue quantity for each variety: as many as will be there with the confidence asked, "
        "or as many as money says (offer the next one while the chance of having it is at least C / (M + "
        "C)). Tells the chance of falling short, the divisions expected short and unsold, whether stock, "
        "past demand or what is sold already binds, and what past sales say will be asked. --commit puts the "
        "quantities on offer, on record with the projection that they rest on.",
        "clumpwise offer season2031.db --confidence 0.9 --commit --why \"first catalogue\" --today "
        "2032-01-02",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
