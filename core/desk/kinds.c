/* SPDX-License-Identifier: MIT */
#include "desk/kinds.h"

#include "base/limits.h"
#include <ctype.h>
#include <string.h>

#include "base/banned.h"

#define STAGES "clump division"

static const cw_kind_column varieties[] = {
    { "code", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL },
    { "name", CW_IS_TEXT, CW_NEEDED, 0, CW_MAX_NAME, 0, NULL },
    { "form", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "size", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "colour", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "height_cm", CW_IS_INT, CW_MAY_LACK, 1, 1000, 0, NULL },
    { "price", CW_IS_MONEY, CW_MAY_LACK, 0, 0, 0, NULL },
    { "hold_back", CW_IS_INT, CW_ZERO, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "reserve", CW_IS_INT, CW_ZERO, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "limit_per_order", CW_IS_INT, CW_MAY_LACK, 1, CW_MAX_LINE_QUANTITY, 0, NULL },
    { "introduced", CW_IS_INT, CW_MAY_LACK, 1700, 2199, 0, NULL },
    { "retired", CW_IS_YES, CW_ZERO, 0, 0, 0, NULL },
};

static const cw_kind_column places[] = {
    { "place", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL },
    { "room", CW_IS_TEXT, CW_NEEDED, 0, CW_MAX_NAME, 0, NULL },
    { "walk_order", CW_IS_INT, CW_NEEDED, 0, 999999999, 0, NULL },
};

static const cw_kind_column zones[] = {
    { "zone", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL },
    { "first_week", CW_IS_WEEK, CW_NEEDED, 0, 0, 0, NULL },
};

static const cw_kind_column destinations[] = {
    { "country", CW_IS_TEXT, CW_NEEDED, 0, CW_MAX_CODE, 0, NULL },
    { "region", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "rule", CW_IS_WORD, CW_NEEDED, 0, 0, 0, "allow warn block" },
    { "note", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NOTE, 0, NULL },
};

static const cw_kind_column history[] = {
    { "season", CW_IS_INT, CW_NEEDED, 1900, 2199, 0, NULL },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL },
    { "clumps", CW_IS_INT, CW_NEEDED, 1, CW_MAX_CLUMPS, 0, NULL },
    { "divisions", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL },
};

static const cw_kind_column past_checks[] = {
    { "season", CW_IS_INT, CW_NEEDED, 1900, 2199, 0, NULL },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL },
    { "stage", CW_IS_WORD, CW_NEEDED, 0, 0, 0, STAGES },
    { "weeks", CW_IS_REAL, CW_NEEDED, 0, 104, 4, NULL },
    { "inspected", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "rotten", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "shrivelled", CW_IS_INT, CW_MAY_LACK, 0, CW_MAX_DIVISIONS, 0, NULL },
};

static const cw_kind_column lots[] = {
    { "lot", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL },
    { "dug_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL },
    { "clumps", CW_IS_INT, CW_NEEDED, 0, CW_MAX_CLUMPS, 0, NULL },
    { "row", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL },
    { "culled", CW_IS_INT, CW_ZERO, 0, CW_MAX_CLUMPS, 0, NULL },
    { "place", CW_IS_PLACE, CW_MAY_LACK, 0, 0, 0, NULL },
};

static const cw_kind_column weighings[] = {
    { "sample", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL },
    { "weighed_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL },
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL },
    { "kg", CW_IS_REAL, CW_NEEDED, 0, 10000, 4, NULL },
};

static const cw_kind_column air[] = {
    { "room", CW_IS_TEXT, CW_NEEDED, 0, CW_MAX_NAME, 0, NULL },
    { "at", CW_IS_PAST_INSTANT, CW_NEEDED, 0, 0, 0, NULL },
    { "temp_c", CW_IS_REAL, CW_MAY_LACK, -60, 60, 2, NULL },
    { "rh", CW_IS_REAL, CW_NEEDED, 0, 100, 2, NULL },
    { "temp_f", CW_IS_REAL, CW_MAY_LACK, -76, 140, 2, NULL }, /* read only: kept as temp_c */
};

static const cw_kind_column divisions[] = {
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL },
    { "divided_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL },
    { "clumps", CW_IS_INT, CW_NEEDED, 0, CW_MAX_CLUMPS, 0, NULL },
    { "saleable", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "blind", CW_IS_INT, CW_ZERO, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "rotten", CW_IS_INT, CW_ZERO, 0, CW_MAX_CLUMPS, 0, NULL },
    { "place", CW_IS_PLACE, CW_MAY_LACK, 0, 0, 0, NULL },
};

static const cw_kind_column checks[] = {
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL },
    { "checked_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL },
    { "stage", CW_IS_WORD, CW_NEEDED, 0, 0, 0, STAGES },
    { "inspected", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "rotten", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "shrivelled", CW_IS_INT, CW_MAY_LACK, 0, CW_MAX_DIVISIONS, 0, NULL },
};

static const cw_kind_column counts[] = {
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL },
    { "counted_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL },
    { "stage", CW_IS_WORD, CW_NEEDED, 0, 0, 0, STAGES },
    { "count", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL },
    { "place", CW_IS_PLACE, CW_MAY_LACK, 0, 0, 0, NULL },
};

/* intake_orders.c names these by position. */
static const cw_kind_column orders[] = {
    { "order", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL },
    { "line", CW_IS_INT, CW_NEEDED, 1, 100000, 0, NULL },
    { "received_at", CW_IS_INSTANT, CW_NEEDED, 0, 0, 0, NULL },
    { "channel", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "tier", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL },
    { "customer", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "email", CW_IS_TEXT, CW_MAY_LACK, 0, 254, 0, NULL },
    { "postcode", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL },
    { "country", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL },
    { "region", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "zone", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL },
    { "wish_week", CW_IS_WEEK, CW_MAY_LACK, 0, 0, 0, NULL },
    { "ship_complete", CW_IS_YES, CW_ZERO, 0, 0, 0, NULL },
    { "variety", CW_IS_VARIETY, CW_MAY_EMPTY, 0, 0, 0, NULL },
    { "assortment", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL },
    { "quantity", CW_IS_INT, CW_NEEDED, 1, CW_MAX_LINE_QUANTITY, 0, NULL },
    { "unit_price", CW_IS_MONEY, CW_NEEDED, 0, 0, 0, NULL },
    { "consent", CW_IS_WORD, CW_MAY_LACK, 0, 0, 0, "none same any named" },
    { "named", CW_IS_TEXT, CW_MAY_LACK, 0, (CW_MAX_CODE + 1) * CW_MAX_NAMED, 0, NULL },
    { "all_or_none", CW_IS_YES, CW_ZERO, 0, 0, 0, NULL },
};

#define WIDTH(a) a, sizeof a / sizeof a[0]

const cw_kind cw_kinds[CW_KINDS] = {
    [CW_VARIETIES] = { "varieties", "variety", WIDTH(varieties), 1, true, true },
    [CW_PLACES] = { "places", "place", WIDTH(places), 1, true, false },
    [CW_ZONES] = { "zones", "zone", WIDTH(zones), 1, false, true },
    [CW_DESTINATIONS] = { "destinations", "destination", WIDTH(destinations), 2, false, true },
    [CW_HISTORY] = { "history", "session", WIDTH(history), 0, true, false },
    [CW_PAST_CHECKS] = { "past_checks", "check", WIDTH(past_checks), 0, true, false },
    [CW_LOTS] = { "lots", "lot", WIDTH(lots), 1, true, false },
    [CW_WEIGHINGS] = { "weighings", "weighing", WIDTH(weighings), 2, true, false },
    [CW_AIR] = { "air", "reading", WIDTH(air), 2, true, false },
    [CW_DIVISIONS] = { "divisions", "dividing session", WIDTH(divisions), 0, true, false },
    [CW_CHECKS] = { "checks", "check", WIDTH(checks), 0, true, false },
    [CW_COUNTS] = { "counts", "stock-take", WIDTH(counts), 0, true, false },
    [CW_ORDERS] = { "orders", "order line", WIDTH(orders), 2, false, true },
};

int cw_kind_named(const char *name)
{
    for (int k = 0; k < CW_KINDS; k++)
        if (strcmp(cw_kinds[k].name, name) == 0)
            return k;
    return -1;
}

int cw_kind_of_file(const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *base = slash ? slash + 1 : path;
    for (int k = 0; k < CW_KINDS; k++) {
        size_t n = strlen(cw_kinds[k].name);
        if (strncmp(base, cw_kinds[k].name, n) == 0 && !isalpha((unsigned char)base[n]))
            return k;
    }
    return -1;
}
