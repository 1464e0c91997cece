/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/offer/offering.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--ship", CW_DAY_T, "DATE", "another shipping day: what it would move", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL, "move it, on record; with --ship and --why", 0, 0, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "why it is moved, for the record", 0, 0, NULL, false },
    { 0 },
};

static cw_code show_season(cw_call *call, cw_nursery *n, cw_error *err)
{
    static const cw_column columns[] = { { "season", CW_INT_T, 0 },
                                         { "ship", CW_DAY_T, 0 },
                                         { "currency", CW_TEXT_T, 0 },
                                         { "timezone", CW_TEXT_T, 0 } };
    cw_season s = { 0 };
    cw_table t;
    cw_table_init(&t, columns, sizeof columns / sizeof columns[0]);
    cw_code code = cw_nursery_season_now(n, &s, err);
    cw_put_int(&t, s.season);
    cw_put_int(&t, s.ship);
    cw_put_text(&t, s.currency);
    cw_put_text(&t, s.timezone);
    return cw_call_show_take(call, code, &t, err);
}

static cw_code show_move(cw_call *call, cw_nursery *n, cw_day day, bool commit, cw_error *err)
{
    cw_table t = { 0 };
    int64_t before = 0, after = 0;
    cw_code code = cw_offering_ship_preview(n, &call->who, day, &t, err);
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&t); r++) {
        before += cw_table_int(&t, r, 3);
        after += cw_table_int(&t, r, 4);
    }
    if (code == CW_OK && commit)
        code = cw_offering_ship_move(n, &call->who, day, cw_call_text(call, "--why", ""), err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK)
        cw_call_say(call, "%lld division%s could be offered, %lld on that day: %s", (long long)before,
                    CW_S(before), (long long)after,
                    commit ? "the shipping day is moved; run 'clumpwise schedule' for the ship weeks"
                           : "a preview");
    cw_table_free(&t);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    bool commit = cw_call_flag(call, "--commit");
    cw_day day = cw_call_day(call, "--ship", CW_NO_DAY);
    if (commit && (day == CW_NO_DAY || !cw_call_given(call, "--why")))
        return cw_error_set(err, CW_USAGE, "--commit goes with --ship, the new day, and --why, the reason");
    cw_code code = cw_call_open(call, commit ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = day == CW_NO_DAY ? show_season(call, n, err) : show_move(call, n, day, commit, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_season[] = {
    {
        "season",
        "NURSERY.db",
        "the season of the file; another shipping day",
        "Tells the year of digging, the shipping day, the currency and the time zone. With --ship: what "
        "another shipping day would move, for each variety; --commit moves it. Projections, quantities and "
        "dates of notices follow from then on. Ship weeks that orders have already stay until 'schedule' "
        "runs again.",
        "clumpwise season season2031.db --ship 2032-04-26 --commit --why \"late frost\"",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
