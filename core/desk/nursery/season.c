/* SPDX-License-Identifier: MIT */
#include "desk/nursery/nursery_inside.h"

#include "base/limits.h"
#include "base/table.h"
#include "base/text.h"
#include "desk/nursery/based_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include <string.h>

#include "base/banned.h"

/* What the nursery may decide about itself. A setting that was never set has its default; every value is
 * checked when it is set, so that readers may trust it. */
typedef struct setting {
    const char *name, *value;
    cw_holds holds;
    const char *meaning;
} setting;

#define NUMBER(from, to)                                                                                     \
    {                                                                                                        \
        .type = CW_REAL_T, .low = (from), .high = (to)                                                       \
    }
#define WHOLE(from, to)                                                                                      \
    {                                                                                                        \
        .type = CW_INT_T, .low = (from), .high = (to)                                                        \
    }
#define WORD(set)                                                                                            \
    {                                                                                                        \
        .type = CW_TEXT_T, .words = (set)                                                                    \
    }
#define LINE(from, to)                                                                                       \
    {                                                                                                        \
        .type = CW_LINE_T, .low = (from), .high = (to)                                                       \
    }
#define DAYS(most)                                                                                           \
    {                                                                                                        \
        .type = CW_DAYS_T, .high = (most)                                                                    \
    }
#define SENDER(most)                                                                                         \
    {                                                                                                        \
        .type = CW_MAIL_T, .high = (most)                                                                    \
    }

static const setting settings[] = {
    { "confidence", "0.9", NUMBER(0.5, 0.999), "how sure we want to be to deliver all that is offered" },
    { "demand_confidence", "0.1", NUMBER(0, 0.9),
      "past sales support as many as demand reaches with this chance; 0: demand is not told" },
    { "demand_caps", "0", WHOLE(0, 1),
      "1: offer no more than past sales support; 0: only mark what is more" },
    { "margin_share", "0.6", NUMBER(0, 1), "share of the price that a delivered division earns" },
    { "short_cost_share", "1.5", NUMBER(0, 20),
      "what a division sold and not delivered costs, in prices: refund, fee, goodwill" },
    { "parcels_per_week", "200", WHOLE(1, 100000), "parcels that the packing crew can close in a week" },
    { "divisions_per_parcel", "40", WHOLE(1, 10000),
      "divisions that go into one parcel, for counting parcels against the week's capacity" },
    { "divisions_per_slot", "0", WHOLE(0, 10000),
      "divisions that go into one slot at the bench; a bigger order gets several side by side (0: any number "
      "goes into one)" },
    { "supply", "projected", WORD(cw_words_supplies),
      "what short varieties are shared out from when nobody says: what is counted, or projected for the "
      "shipping day" },
    { "tiers_first", "0", WHOLE(0, 1), "1: sharing rules serve the better tier wholly before the next" },
    { "timetable", "us-435", WORD(cw_words_timetables), "which dates notices and refunds follow" },
    { "ship_days", "30", WHOLE(1, 365),
      "days from order to shipping when no week was promised (timetable own)" },
    { "refund_days", "7", WHOLE(1, 90), "working days to refund (timetable own)" },
    { "holidays", "", DAYS(18),
      "days on which nobody works beside weekends, parted by spaces; they do not count as working days" },
    { "promised_by", "", DAYS(1),
      "day by which the catalogue says that orders without a week leave; empty: the zone's first week, or "
      "ship_days" },
    { "session_hours", "8", NUMBER(0.01, 168), "hours after which an unused sign-in ends" },
    { "session_days", "7", NUMBER(0.01, 60), "days after which every sign-in ends" },
    { "order_minimum", "0", NUMBER(0, 1e9),
      "money below which an order is flagged when shorts have shrunk it (0: never)" },
    { "assortment_spread", "3", WHOLE(1, 100000), "most divisions of one variety on an assortment line" },
    { "counts_look", "1", WHOLE(0, 1),
      "1: a stock-take that finds no fewer than the ledger says has looked through what it counted, unless "
      "it says "
      "otherwise; 0: it has only counted" },
    { "best_first", "0", WHOLE(0, 1), "1: of a lot the best clumps are cut first; 0: as they come" },
    { "cutters", "2", WHOLE(0, 100), "people who cut clumps on a working day" },
    { "washers", "1", WHOLE(0, 100), "people who wash clumps on a working day" },
    { "bench_hours", "7", NUMBER(0, 24), "hours that they work on it" },
    { "work_days", "5", WHOLE(1, 7),
      "days of a week on which clumps are cut, from Monday on: 5 is Monday to Friday" },
    { "cut_minutes", "6", NUMBER(0.1, 600),
      "minutes of one person to cut a clump, until sessions say how long they took" },
    { "wash_minutes", "1.5", NUMBER(0, 600), "minutes of one person to wash a clump" },
    { "check_minutes", "120", NUMBER(0, 10000),
      "minutes of a week that are there for opening crates and looking for rot" },
    { "open_minutes", "5", NUMBER(0, 600), "minutes to fetch a crate, open it and put it back" },
    { "look_minutes", "0.5", NUMBER(0.01, 60), "minutes to look one clump or division over" },
    { "cut_lead_days", "7", WHOLE(0, 90),
      "days before the Monday of a ship week by which the divisions promised for it are to be cut" },
    { "release_every", "14", WHOLE(1, 365), "days from one release of catalogue quantities to the next" },
    { "plant_seasons", "6", WHOLE(1, 12),
      "seasons ahead that count when it is worked out how many to keep for planting" },
    { "plant_cost", "1", NUMBER(0, 10000),
      "money that growing one plant costs from planting to store (common practice, no source)" },
    { "plant_discount", "0.93", NUMBER(0.5, 1), "what money of next season is worth in money of this one" },
    { "beds_places", "0", WHOLE(0, 1000000),
      "places for plants in the beds; 0: by row metres and spacing, or nobody said" },
    { "beds_metres", "0", NUMBER(0, 1000000), "metres of rows for planting, if places are not given" },
    { "beds_spacing_cm", "45", NUMBER(5, 500), "centimetres from plant to plant in a row" },
    { "establishment", "0.85", NUMBER(0.05, 1),
      "share of what is planted that is dug as a sound clump (common practice, no source)" },
    { "establishment_doubt", "0.12", NUMBER(0, 1),
      "how much that differs from season to season, on the log scale" },
    { "rot_low", "0", NUMBER(0, 0.95),
      "share of clumps and divisions that rots from digging to shipping in a usual winter, low end, 8 in 10 "
      "sure; 0 at both ends: nothing is said; at one: the other is the middle" },
    { "rot_high", "0", NUMBER(0, 0.95), "the high end of it" },
    { "seed", "1", WHOLE(0, 2147483647), "seed of the draws in a projection" },
    { "name", "the nursery", LINE(1, CW_MAX_NAME), "what notices and papers call the nursery" },
    { "language", "en", WORD(cw_words_languages),
      "language of papers for the staff, and of letters and packing slips for buyers whose order names "
      "none" },
    { "carrier_columns", "order,customer,name2,street,postcode,town,region,country,weight_kg",
      LINE(1, CW_MAX_NAME), "columns of the carrier file, in order, parted by commas" },
    { "carrier", "", LINE(0, CW_MAX_NAME), "who takes parcels, where no destination says otherwise" },
    { "hold_unpaid", "none", WORD(cw_words_hold_unpaid),
      "orders that are kept back until they are paid: none, all but wholesale, or all" },
    { "sender", "", SENDER(CW_MAX_NAME), "address that notices come from" },
};

static const setting *find(const char *name)
{
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++)
        if (strcmp(settings[i].name, name) == 0)
            return &settings[i];
    return NULL;
}

static cw_code unknown(const char *name, cw_error *err)
{
    char shown[80];
    return cw_error_at(err, CW_REFUSED, NULL, 0, "setting", "there is no setting of this name: %s",
                       cw_shown(name, strlen(name), shown));
}

cw_code cw_nursery_setting(cw_nursery *n, const char *name, char *out, unsigned long size, cw_error *err)
{
    const setting *s = find(name);
    bool found = false;
    if (s == NULL)
        return unknown(name, err);
    cw_copy(out, size, s->value);
    return cw_season_setting(n->db, name, out, size, &found, err);
}

cw_code cw_nursery_number(cw_nursery *n, const char *name, double *out, cw_error *err)
{
    char value[64];
    cw_code code = cw_nursery_setting(n, name, value, sizeof value, err);
    if (code == CW_OK && !cw_parse_real(value, strlen(value), -1e300, 1e300, out))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, name, "the setting is no number: %s", value);
    return code;
}

static cw_code check_value(const setting *s, const char *value, cw_error *err)
{
    cw_value v = { 0 };
    char why[CW_WHY_BYTES];
    size_t n = strlen(value);
    if (cw_utf8_valid(value, n, NULL) && cw_value_parse(&s->holds, value, n, &v))
        return CW_OK;
    return cw_error_at(err, CW_REFUSED, NULL, 0, s->name, "%s", cw_value_why(&s->holds, value, n, why));
}

/* Values are texts, as they are kept. */
static json_t *settings_schema(bool all)
{
    json_t *o = cw_schema_object();
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++)
        cw_schema_member_take(&o, settings[i].name, all,
                              json_pack("{s:s,s:s}", "type", "string", "description", settings[i].meaning));
    return o;
}

static json_t *all_settings(void)
{
    return settings_schema(true);
}

static json_t *some_settings(void)
{
    return settings_schema(false);
}

const cw_shape cw_nursery_settings_shape = { .make = all_settings };
const cw_shape cw_nursery_set_shape = { .make = some_settings };

/* Within the caller's transaction. */
static cw_code set_one(cw_nursery *n, const cw_asker *who, const char *name, const char *value, cw_error *err)
{
    const setting *s = find(name);
    char before[CW_MAX_NAME + 1];
    if (s == NULL)
        return unknown(name, err);
    cw_code code = check_value(s, value, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, name, before, sizeof before, err);
    if (code != CW_OK || strcmp(before, value) == 0)
        return code;
    code = cw_season_set(n->db, name, value, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "set", name, before, value, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, true, true, err);
    return code;
}

/* Are those to be changed as the asker saw them? */
static cw_code still_stand(cw_nursery *n, const cw_asker *who, const char *const *names, size_t count,
                           cw_error *err)
{
    char now[CW_MAX_NAME + 1];
    for (size_t i = 0; i < count; i++) {
        cw_code code = cw_nursery_setting(n, names[i], now, sizeof now, err);
        if (code != CW_OK)
            return code;
        cw_based_text(who, names[i], now);
    }
    return cw_based_hold(who, "the setting", err);
}

cw_code cw_nursery_set_all(cw_nursery *n, const cw_asker *who, const char *const *names,
                           const char *const *values, size_t count, cw_error *err)
{
    if (cw_owner_only(who, "change settings", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = still_stand(n, who, names, count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = set_one(n, who, names[i], values[i], err);
    return cw_work_end(n, code, err);
}

cw_code cw_nursery_set(cw_nursery *n, const cw_asker *who, const char *name, const char *value, cw_error *err)
{
    return cw_nursery_set_all(n, who, &name, &value, 1, err);
}

cw_code cw_nursery_settings(cw_nursery *n, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = { { "setting", CW_TEXT_T, 0 },
                                         { "value", CW_TEXT_T, 0 },
                                         { "default", CW_TEXT_T, 0 },
                                         { "meaning", CW_TEXT_T, 0 } };
    char value[CW_MAX_NAME + 1];
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++) {
        cw_code code = cw_nursery_setting(n, settings[i].name, value, sizeof value, err);
        if (code != CW_OK)
            return code;
        cw_put_text(out, settings[i].name);
        cw_put_text(out, value);
        cw_put_text(out, settings[i].value);
        cw_put_text(out, settings[i].meaning);
    }
    return cw_table_check(out, err);
}
