/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/allotting.h"
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--rule", CW_OPT_WORD, "RULE", "how to share (default: all three side by side)", 0, 0,
      "first-come|pro-rata|one-each-first", false },
    { "--supply", CW_OPT_WORD, "SUPPLY", "what there is: counted now, or projected for the shipping day", 0,
      0, "counted|projected", false },
    { "--confidence", CW_OPT_REAL, "P", "how sure a projected supply is to be there (default: the setting)",
      0.01, 0.9999, NULL, false },
    { "--variety", CW_OPT_TEXT, "CODE", "only this variety", 0, 0, NULL, false },
    { "--tiers-first", CW_OPT_FLAG, NULL, "every rule serves wholesale before retail before others", 0, 0,
      NULL, false },
    { "--commit", CW_OPT_FLAG, NULL, "make the outcome firm; needs --rule", 0, 0, NULL, false },
    { "--digest", CW_OPT_TEXT, "HEX",
      "with --commit: only if nothing changed since the preview with this digest", 0, 0, NULL, false },
    { 0 },
};

static cw_allotting_ask asked(const cw_call *call)
{
    return (cw_allotting_ask){
        .variety = cw_call_text(call, "--variety", NULL),
        .rule = cw_call_text(call, "--rule", NULL),
        .projected = strcmp(cw_call_text(call, "--supply", "counted"), "projected") == 0,
        .confidence = cw_call_real(call, "--confidence", 0),
        .tiers_first = cw_call_flag(call, "--tiers-first"),
    };
}

static cw_code show(cw_call *call, const cw_allotting *a, cw_error *err)
{
    size_t enough = 0;
    cw_table t = { 0 };
    if (call->show != CW_SHOW_PEOPLE)
        return cw_allotting_write(a, call->show == CW_SHOW_JSON, cw_call_output(call), err);
    cw_code code = cw_call_given(call, "--variety") ? cw_allotting_variety_lines(a, &t, err)
                                                    : cw_allotting_totals(a, true, &t, &enough, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    cw_table_free(&t);
    if (code == CW_OK && !cw_call_given(call, "--variety"))
        cw_call_say(call, "%zu varieties have enough for all who ask and are not shown", enough);
    return code;
}

static cw_code preview(cw_call *call, cw_nursery *n, const cw_allotting_ask *ask, cw_error *err)
{
    cw_allotting *a = NULL;
    int64_t flagged = 0;
    cw_cents minimum = 0;
    char amount[24];
    cw_code code = cw_allotting_preview(n, &call->who, ask, &a, err);
    if (code == CW_OK)
        code = show(call, a, err);
    if (code == CW_OK && ask->rule)
        code = cw_allotting_below_minimum(n, a, NULL, &flagged, &minimum, err);
    if (code == CW_OK && flagged > 0) {
        cw_cents_format(minimum, amount);
        cw_call_say(call, "%lld orders would fall below the order minimum of %s", (long long)flagged, amount);
    }
    if (code == CW_OK)
        cw_call_say(call, "a preview: nothing was made firm; digest %s", cw_allotting_digest(a));
    cw_allotting_free(a);
    return code;
}

static cw_code commit(cw_call *call, cw_nursery *n, const cw_allotting_ask *ask, cw_error *err)
{
    cw_allotting *a = NULL;
    cw_allotting_done done = { 0 };
    cw_code code =
        cw_allotting_commit(n, &call->who, ask, cw_call_text(call, "--digest", NULL), &done, &a, err);
    if (code == CW_OK)
        code = show(call, a, err);
    cw_allotting_free(a);
    if (code == CW_OK)
        cw_call_say(call, "run %lld: %lld divisions made firm for %lld lines, %lld still short; digest %s",
                    (long long)done.run, (long long)done.placed, (long long)done.lines,
                    (long long)done.short_, done.digest);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    bool firm = cw_call_flag(call, "--commit");
    cw_nursery *n = NULL;
    cw_allotting_ask ask = asked(call);
    if (firm && ask.rule == NULL)
        return cw_error_set(err, CW_USAGE, "--commit needs --rule: say which rule is made firm");
    if (!firm && cw_call_given(call, "--digest"))
        return cw_error_set(err, CW_USAGE, "--digest goes with --commit");
    cw_code code = cw_call_open(call, firm ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = firm ? commit(call, n, &ask, err) : preview(call, n, &ask, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verb_allocate = {
    "allocate",
    "NURSERY.db",
    "share out short varieties, with a reason for every line",
    "Shares out what may be promised now: what is there (counted, or projected at a confidence) less "
    "hold-back, guarantee "
    "reserve and what is promised already. Without --rule the three rules are previewed side by side; for "
    "people the "
    "varieties that are short, with --csv or --json every line. --commit makes the outcome of one rule firm: "
    "later runs "
    "share out only what is added and never take back. The digest names the inputs: the same inputs give the "
    "same outcome.",
    "clumpwise allocate season2031.db --rule pro-rata --variety WIZBO --csv",
    options,
    1,
    1,
    run,
};
