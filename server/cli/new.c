/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--season", CW_INT_T, "YEAR", "year of digging", 1900, 2199, NULL, true },
    { "--ship", CW_DAY_T, "DATE", "planned first shipping day", 0, 0, NULL, true },
    { "--currency", CW_TEXT_T, "CODE", "ISO 4217 code of all money (default: USD)", 0, 0, NULL, false },
    { "--timezone", CW_TEXT_T, "NAME", "IANA name of the nursery's time zone (default: UTC)", 0, 0, NULL,
      false },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_season season = { .season = (int)cw_call_int(call, "--season", 0),
                         .ship = cw_call_day(call, "--ship", 0) };
    const char *currency = cw_call_text(call, "--currency", "USD");
    const char *zone = cw_call_text(call, "--timezone", "UTC");
    cw_copy(season.currency, sizeof season.currency, strlen(currency) == 3 ? currency : "?");
    cw_copy(season.timezone, sizeof season.timezone, zone);
    cw_call_clock(call, zone);
    cw_code code = cw_nursery_new(call->arguments[0], &season, &call->who, &n, err);
    cw_nursery_close(n);
    if (code == CW_OK)
        cw_call_say(call, "%s: a new nursery file for the season of %d", call->arguments[0], season.season);
    return code;
}

const cw_verb cw_verbs_new[] = {
    {
        "new",
        "NURSERY.db",
        "make a nursery file for a season",
        "Makes an empty nursery file. It holds one season: from the digging of one autumn to the shipping of "
        "the spring after. Load varieties, history, places and lots into it next.",
        "clumpwise new season2031.db --season 2031 --ship 2032-04-19 --currency USD --timezone "
        "America/Chicago",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
