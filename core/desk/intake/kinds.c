/* SPDX-License-Identifier: MIT */
#include "desk/intake/kinds.h"

#include "base/limits.h"
#include <ctype.h>
#include <string.h>

#include "base/banned.h"

#define STAGES "clump division"

static const cw_kind_column varieties[] = {
    { "code", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL, false },
    { "name", CW_IS_TEXT, CW_NEEDED, 0, CW_MAX_NAME, 0, NULL, false },
    { "form", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, false },
    { "size", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, false },
    { "colour", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, false },
    { "height_cm", CW_IS_INT, CW_MAY_LACK, 1, 1000, 0, NULL, false },
    { "price", CW_IS_MONEY, CW_MAY_LACK, 0, 0, 0, NULL, false },
    { "hold_back", CW_IS_INT, CW_ZERO, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "reserve", CW_IS_INT, CW_ZERO, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "limit_per_order", CW_IS_INT, CW_MAY_LACK, 1, CW_MAX_LINE_QUANTITY, 0, NULL, false },
    { "introduced", CW_IS_INT, CW_MAY_LACK, 1700, 2199, 0, NULL, false },
    { "retired", CW_IS_YES, CW_ZERO, 0, 0, 0, NULL, false },
};

static const cw_kind_column places[] = {
    { "place", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL, false },
    { "room", CW_IS_TEXT, CW_NEEDED, 0, CW_MAX_NAME, 0, NULL, false },
    { "walk_order", CW_IS_INT, CW_NEEDED, 0, 999999999, 0, NULL, false },
};

static const cw_kind_column zones[] = {
    { "zone", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL, false },
    { "first_week", CW_IS_WEEK, CW_NEEDED, 0, 0, 0, NULL, false },
};

static const cw_kind_column destinations[] = {
    { "country", CW_IS_COUNTRY, CW_NEEDED, 0, 0, 0, NULL, false },
    { "region", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, false },
    { "rule", CW_IS_WORD, CW_NEEDED, 0, 0, 0, "allow warn block", false },
    { "note", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NOTE, 0, NULL, false },
};

static const cw_kind_column history[] = {
    { "season", CW_IS_INT, CW_NEEDED, 1900, 2199, 0, NULL, false },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL, false },
    { "clumps", CW_IS_INT, CW_NEEDED, 1, CW_MAX_CLUMPS, 0, NULL, false },
    { "divisions", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
};

static const cw_kind_column past_checks[] = {
    { "season", CW_IS_INT, CW_NEEDED, 1900, 2199, 0, NULL, false },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL, false },
    { "stage", CW_IS_WORD, CW_NEEDED, 0, 0, 0, STAGES, false },
    { "weeks", CW_IS_REAL, CW_NEEDED, 0, 104, 4, NULL, false },
    { "inspected", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "rotten", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "shrivelled", CW_IS_INT, CW_MAY_LACK, 0, CW_MAX_DIVISIONS, 0, NULL, false },
};

static const cw_kind_column past_sales[] = {
    { "season", CW_IS_INT, CW_NEEDED, 1900, 2199, 0, NULL, false },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL, false },
    { "sold", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "sold_out_on", CW_IS_DATE, CW_MAY_LACK, 0, 0, 0, NULL, false },
};

static const cw_kind_column past_orders[] = {
    { "season", CW_IS_INT, CW_NEEDED, 1900, 2199, 0, NULL, false },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL, false },
    { "ordered_on", CW_IS_DATE, CW_NEEDED, 0, 0, 0, NULL, false },
    { "quantity", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
};

static const cw_kind_column lots[] = {
    { "lot", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL, false },
    { "variety", CW_IS_VARIETY, CW_NEEDED, 0, 0, 0, NULL, false },
    { "dug_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL, false },
    { "clumps", CW_IS_INT, CW_NEEDED, 0, CW_MAX_CLUMPS, 0, NULL, false },
    { "row", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL, false },
    { "culled", CW_IS_INT, CW_ZERO, 0, CW_MAX_CLUMPS, 0, NULL, false },
    { "place", CW_IS_PLACE, CW_MAY_LACK, 0, 0, 0, NULL, false },
};

static const cw_kind_column weighings[] = {
    { "sample", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL, false },
    { "weighed_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL, false },
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL, false },
    { "kg", CW_IS_REAL, CW_NEEDED, 0, 10000, 4, NULL, false },
};

static const cw_kind_column air[] = {
    { "room", CW_IS_TEXT, CW_NEEDED, 0, CW_MAX_NAME, 0, NULL, false },
    { "at", CW_IS_PAST_INSTANT, CW_NEEDED, 0, 0, 0, NULL, false },
    { "temp_c", CW_IS_REAL, CW_MAY_LACK, -60, 60, 2, NULL, false },
    { "rh", CW_IS_REAL, CW_NEEDED, 0, 100, 2, NULL, false },
    { "temp_f", CW_IS_REAL, CW_MAY_LACK, -76, 140, 2, NULL, false }, /* read only: kept as temp_c */
};

static const cw_kind_column divisions[] = {
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL, false },
    { "divided_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL, false },
    { "clumps", CW_IS_INT, CW_NEEDED, 0, CW_MAX_CLUMPS, 0, NULL, false },
    { "saleable", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "blind", CW_IS_INT, CW_ZERO, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "rotten", CW_IS_INT, CW_ZERO, 0, CW_MAX_CLUMPS, 0, NULL, false },
    { "place", CW_IS_PLACE, CW_MAY_LACK, 0, 0, 0, NULL, false },
};

static const cw_kind_column checks[] = {
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL, false },
    { "checked_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL, false },
    { "stage", CW_IS_WORD, CW_NEEDED, 0, 0, 0, STAGES, false },
    { "inspected", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "rotten", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "shrivelled", CW_IS_INT, CW_MAY_LACK, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "why", CW_IS_WORD, CW_MAY_LACK, 0, 0, 0, "round suspicion", false },
};

static const cw_kind_column counts[] = {
    { "lot", CW_IS_LOT, CW_NEEDED, 0, 0, 0, NULL, false },
    { "counted_on", CW_IS_PAST, CW_NEEDED, 0, 0, 0, NULL, false },
    { "stage", CW_IS_WORD, CW_NEEDED, 0, 0, 0, STAGES, false },
    { "count", CW_IS_INT, CW_NEEDED, 0, CW_MAX_DIVISIONS, 0, NULL, false },
    { "place", CW_IS_PLACE, CW_MAY_LACK, 0, 0, 0, NULL, false },
    { "looked", CW_IS_YES, CW_MAY_LACK, 0, 0, 0, NULL, false },
};

/* intake_orders_inside.h names these by position. */
static const cw_kind_column orders[] = {
    { "order", CW_IS_CODE, CW_NEEDED, 0, 0, 0, NULL, true },
    { "line", CW_IS_INT, CW_NEEDED, 1, 100000, 0, NULL, false },
    { "received_at", CW_IS_INSTANT, CW_NEEDED, 0, 0, 0, NULL, true },
    { "channel", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, true },
    { "tier", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL, true },
    { "customer", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, true },
    { "email", CW_IS_TEXT, CW_MAY_LACK, 0, 254, 0, NULL, true },
    { "postcode", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL, true },
    { "country", CW_IS_COUNTRY, CW_MAY_LACK, 0, 0, 0, NULL, true },
    { "region", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, true },
    { "zone", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_CODE, 0, NULL, true },
    { "wish_week", CW_IS_WEEK, CW_MAY_LACK, 0, 0, 0, NULL, true },
    { "ship_complete", CW_IS_YES, CW_ZERO, 0, 0, 0, NULL, true },
    { "variety", CW_IS_VARIETY, CW_MAY_EMPTY, 0, 0, 0, NULL, false },
    { "assortment", CW_IS_TEXT, CW_MAY_LACK, 0, CW_MAX_NAME, 0, NULL, false },
    { "quantity", CW_IS_INT, CW_NEEDED, 1, CW_MAX_LINE_QUANTITY, 0, NULL, false },
    { "unit_price", CW_IS_MONEY, CW_NEEDED, 0, 0, 0, NULL, false },
    { "consent", CW_IS_WORD, CW_MAY_LACK, 0, 0, 0, "none same any named", false },
    { "named", CW_IS_TEXT, CW_MAY_LACK, 0, (CW_MAX_CODE + 1) * CW_MAX_NAMED, 0, NULL, false },
    { "all_or_none", CW_IS_YES, CW_ZERO, 0, 0, 0, NULL, false },
};

#define WIDTH(a) a, sizeof a / sizeof a[0]

const cw_kind cw_kinds[CW_KINDS] = {
    [CW_VARIETIES] = { "varieties", "variety", WIDTH(varieties), 1, true, true },
    [CW_PLACES] = { "places", "place", WIDTH(places), 1, true, false },
    [CW_ZONES] = { "zones", "zone", WIDTH(zones), 1, false, true },
    [CW_DESTINATIONS] = { "destinations", "destination", WIDTH(destinations), 2, false, true },
    [CW_HISTORY] = { "history", "session", WIDTH(history), 0, true, false },
    [CW_PAST_CHECKS] = { "past_checks", "check", WIDTH(past_checks), 0, true, false },
    [CW_PAST_SALES] = { "past_sales", "row of past sales", WIDTH(past_sales), 2, false, true },
    [CW_PAST_ORDERS] = { "past_orders", "day of past orders", WIDTH(past_orders), 3, false, true },
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
