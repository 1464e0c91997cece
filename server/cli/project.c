/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/forecast/forecast.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--ship", CW_DAY_T, "DATE", "shipping day (default: the season's)", 0, 0, NULL, false },
    { "--as-of", CW_DAY_T, "DATE", "as the ledger stood at the end of that day (default: today)", 0, 0, NULL,
      false },
    { "--variety", CW_TEXT_T, "CODE", "this variety only", 0, 0, NULL, false },
    { "--why", CW_TEXT_T, "CODE", "where this variety's figures come from, and what to measure next", 0, 0,
      NULL, false },
    { "--at-least", CW_INT_T, "Q", "chance that at least Q of --variety are saleable", 0, 10000000, NULL,
      false },
    { "--since", CW_DAY_T, "DATE", "what moved since that day", 0, 0, NULL, false },
    { 0 },
};

static cw_code at_least(cw_call *call, cw_nursery *n, const cw_forecast_ask *ask, cw_error *err)
{
    static const cw_column columns[] = { { "variety", CW_TEXT_T, 0 },
                                         { "at_least", CW_INT_T, 0 },
                                         { "chance", CW_REAL_T, 4 } };
    double chance = 0;
    cw_table t;
    int64_t quantity = cw_call_int(call, "--at-least", 0);
    cw_table_init(&t, columns, sizeof columns / sizeof columns[0]);
    cw_code code = cw_forecast_at_least(n, &call->who, ask, quantity, &chance, err);
    if (code == CW_OK) {
        cw_put_text(&t, ask->variety);
        cw_put_int(&t, quantity);
        cw_put_real(&t, chance);
        code = cw_call_show(call, &t, err);
    }
    cw_table_free(&t);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    cw_text notes = CW_TEXT(4096);
    const char *why = cw_call_text(call, "--why", NULL);
    cw_forecast_ask ask = { cw_call_day(call, "--ship", CW_NO_DAY), cw_call_day(call, "--as-of", CW_NO_DAY),
                            why ? why : cw_call_text(call, "--variety", NULL) };
    cw_day since = cw_call_day(call, "--since", CW_NO_DAY);
    cw_code code = cw_call_open(call, CW_LOOK, &n, err);
    if (code == CW_OK && cw_call_given(call, "--at-least")) {
        code = at_least(call, n, &ask, err);
        goto done;
    }
    if (code == CW_OK && since != CW_NO_DAY)
        code = cw_forecast_changes(n, &call->who, since, &t, err);
    else if (code == CW_OK && why)
        code = cw_forecast_why(n, &call->who, &ask, &t, err);
    else if (code == CW_OK)
        code = cw_forecast_project(n, &call->who, &ask, &t, &notes, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && notes.length > 0)
        cw_call_say(call, "%.*s", (int)notes.length - 1, notes.data);
done:
    cw_text_free(&notes);
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_project[] = {
    {
        "project",
        "NURSERY.db",
        "sound divisions of each variety on the shipping day",
        "Tells, for each variety, how many sound divisions there will be on the shipping day, as a "
        "distribution: the expected number and the 5, 10, 25, 50, 75, 90 and 95 % points, before hold-back "
        "and guarantee reserve; saleable is what is left after them. It joins what is counted, the division "
        "rate learned from past and present sessions, rot, and drying. With --why it tells the pieces.",
        "clumpwise project season2031.db --variety BRUCA --why BRUCA --today 2032-02-20",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
