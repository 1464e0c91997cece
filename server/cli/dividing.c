/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/bench/dividing.h"
#include "desk/bench/rota.h"
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--plan", CW_BOOL_T, NULL, "what is washed and cut on which day (the default)", 0, 0, NULL, false },
    { "--from", CW_DAY_T, "DATE", "the plan's first day (default: today)", 0, 0, NULL, false },
    { "--days", CW_INT_T, "N", "how many days of the plan are shown (default: all, to the shipping day)", 1,
      400, NULL, false },
    { "--costs", CW_BOOL_T, NULL, "what it would cost to cut each lot on each day", 0, 0, NULL, false },
    { "--move", CW_TEXT_T, "LOT:DAY",
      "what it would cost to cut this lot on that day; with --commit it stays there", 0, 0, NULL, false },
    { "--let-go", CW_TEXT_T, "LOT", "the plan is free again to choose this lot's day", 0, 0, NULL, false },
    { "--crew", CW_TEXT_T, "DAY:CUTTERS:WASHERS:HOURS",
      "who is at the bench on a day, other than the settings say", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL,
      "freeze the lists of the first two working days, or of --days; with --move: keep the move", 0, 0, NULL,
      false },
    { 0 },
};

/* The parts of "L0012:2031-12-03" without its colons; false if there are not `n` of them. */
static bool parts_of(const char *text, char copy[200], char *part[], size_t n)
{
    if (strlen(text) >= 200)
        return false;
    memcpy(copy, text, strlen(text) + 1);
    for (size_t i = 0; i < n; i++) {
        part[i] = copy;
        char *colon = strchr(copy, ':');
        if ((colon == NULL) != (i + 1 == n))
            return false;
        if (colon) {
            *colon = '\0';
            copy = colon + 1;
        }
    }
    return true;
}

static cw_code move(cw_call *call, cw_nursery *n, cw_table *t, cw_error *err)
{
    char copy[200], *part[2];
    cw_day day = CW_NO_DAY;
    const char *text = cw_call_text(call, "--move", "");
    if (!parts_of(text, copy, part, 2) || !cw_day_parse(part[1], strlen(part[1]), &day))
        return cw_error_set(err, CW_USAGE, "--move takes a lot and a day, such as L0012:2031-12-03: %s",
                            text);
    return cw_bench_move(n, &call->who, part[0], day, cw_call_flag(call, "--commit"), t, err);
}

static cw_code crew(cw_call *call, cw_nursery *n, cw_table *t, cw_error *err)
{
    char copy[200], *part[4];
    cw_day day = CW_NO_DAY;
    int64_t cutters = 0, washers = 0;
    double hours = 0;
    const char *text = cw_call_text(call, "--crew", "");
    if (!parts_of(text, copy, part, 4) || !cw_day_parse(part[0], strlen(part[0]), &day) ||
        !cw_parse_int(part[1], strlen(part[1]), 0, 100, &cutters) ||
        !cw_parse_int(part[2], strlen(part[2]), 0, 100, &washers) ||
        !cw_parse_real(part[3], strlen(part[3]), 0, 24, &hours))
        return cw_error_set(
            err, CW_USAGE,
            "--crew takes a day, people who cut, people who wash and hours, such as 2031-12-03:2:1:7.5: %s",
            text);
    return cw_bench_crew(n, &call->who, day, cutters, washers, hours, t, err);
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    cw_text notes = CW_TEXT(16384);
    bool commit = cw_call_flag(call, "--commit"), moves = cw_call_given(call, "--move"),
         crews = cw_call_given(call, "--crew"), frees = cw_call_given(call, "--let-go");
    cw_bench_ask ask = { cw_call_day(call, "--from", CW_NO_DAY), cw_call_int(call, "--days", 0) };
    if (moves + crews + frees + cw_call_flag(call, "--costs") > 1)
        return cw_error_set(err, CW_USAGE, "--costs, --move, --crew and --let-go: one of them");
    cw_code code = cw_call_open(call, commit || crews || frees ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK && moves)
        code = move(call, n, &t, err);
    else if (code == CW_OK && crews)
        code = crew(call, n, &t, err);
    else if (code == CW_OK && frees)
        code = cw_bench_let_go(n, &call->who, cw_call_text(call, "--let-go", ""), &t, err);
    else if (code == CW_OK && cw_call_flag(call, "--costs"))
        code = cw_bench_costs(n, &call->who, &ask, &t, err);
    else if (code == CW_OK && commit)
        code = cw_bench_freeze(n, &call->who, &ask, &t, err);
    else if (code == CW_OK)
        code = cw_bench_plan(n, &call->who, &ask, &t, &notes, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && notes.length > 0)
        cw_call_say(call, "%.*s", (int)notes.length - 1, notes.data);
    if (code == CW_OK && commit && !moves)
        cw_call_say(call, "%zu %s now", cw_table_rows(&t),
                    cw_table_rows(&t) == 1 ? "lot keeps its day" : "lots keep their days");
    if (code == CW_OK && moves && !commit)
        cw_call_say(call, "a preview; --commit keeps it");
    cw_text_free(&notes);
    cw_table_free(&t);
    cw_nursery_close(n);
    return code;
}

static const cw_option rota_options[] = {
    { "--minutes", CW_INT_T, "N", "minutes that there are (default: the setting check_minutes)", 0, 10000,
      NULL, false },
    { 0 },
};

static cw_code rota(cw_call *call, cw_error *err)
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

const cw_verb cw_verbs_dividing[] = {
    {
        "dividing",
        "NURSERY.db",
        "what to wash tomorrow and cut the day after",
        "Gives every lot with whole clumps the day on which it is cut, so that what is lost in store, what "
        "is not known in time for the next release, and what comes too late for its ship week costs least. A "
        "lot is washed on the working day before it is cut. How many people are at the bench, for how many "
        "hours, on which days, and how long a clump takes are settings (cutters, washers, bench_hours, "
        "work_days, holidays, cut_minutes, wash_minutes). Messages tell the total, the bound that no plan "
        "can go below, how far above it this one is, and what does not fit. Knives, wet floors, dust and "
        "mould: local safety rules come first.",
        "clumpwise dividing season2031.db --plan --days 7 --today 2032-01-12",
        options,
        1,
        1,
        run,
    },
    {
        "rota",
        "NURSERY.db",
        "which crates to open this week, and how many to look at",
        "Chooses the crates whose opening is worth most a minute: long not looked at, of varieties whose rot "
        "is not known well, that move much money. Opening and looking take what the settings open_minutes "
        "and look_minutes say. In walking order; rank is the order of what a minute brings. Mould and dust: "
        "gloves and a mask; local safety rules come first.",
        "clumpwise rota season2031.db --minutes 90",
        rota_options,
        1,
        1,
        rota,
    },
    { 0 },
};
