/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/forecast/hindsight.h"
#include "desk/offer/offering.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--as-of", CW_DAY_T, "DATE", "the one past day to look at (default: every 14 days of the season)", 0, 0,
      NULL, false },
    { "--said", CW_BOOL_T, NULL,
      "what was said at releases and months' ends, as it was said then, instead of a replay", 0, 0, NULL,
      false },
    { "--demand", CW_BOOL_T, NULL, "what you said of demand, against what the season asked for", 0, 0, NULL,
      false },
    { "--rot", CW_BOOL_T, NULL, "what you said of rot in a usual winter, against what checks found", 0, 0,
      NULL, false },
    { "--detail", CW_BOOL_T, NULL, "a row for each projection instead of the scores", 0, 0, NULL, false },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    json_t *doc = NULL;
    cw_day as_of = cw_call_day(call, "--as-of", CW_NO_DAY);
    cw_hindsight_ask ask = { .days = &as_of, .n_days = as_of != CW_NO_DAY };
    cw_code code = cw_call_open(call, CW_LOOK, &n, err);
    if (code == CW_OK && call->show == CW_SHOW_JSON && !cw_call_flag(call, "--detail") &&
        !cw_call_flag(call, "--said") && !cw_call_flag(call, "--demand") && !cw_call_flag(call, "--rot")) {
        code = cw_hindsight_report(n, &call->who, &ask, &doc, err);
        if (code == CW_OK)
            code = cw_call_show_json(call, doc, err);
    } else if (code == CW_OK) {
        code = cw_call_flag(call, "--said")     ? cw_hindsight_said(n, &call->who, &t, err)
               : cw_call_flag(call, "--demand") ? cw_offering_said(n, &call->who, &t, err)
               : cw_call_flag(call, "--rot")    ? cw_hindsight_rot(n, &call->who, &t, err)
               : cw_call_flag(call, "--detail") ? cw_hindsight_rows(n, &call->who, &ask, &t, err)
                                                : cw_hindsight_scores(n, &call->who, &ask, &t, err);
        if (code == CW_OK)
            code = cw_call_show(call, &t, err);
    }
    json_decref(doc);
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_hindsight[] = {
    {
        "hindsight",
        "NURSERY.db",
        "what was projected on past days against what came",
        "Repeats the projections of past days from the ledger and holds them against what came: how often "
        "the 50, 80 and 90 % ranges held it, how far off they were (quantile loss, and CRPS in divisions), "
        "and the bias. A variety counts once all of its clumps are cut; before that each lot counts by "
        "itself as soon as it is cut whole; what nobody has looked at since the past day is left out. A "
        "replay knows history that was typed later: --said holds what was said at the time.",
        "clumpwise hindsight season2031.db --today 2032-05-20",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
