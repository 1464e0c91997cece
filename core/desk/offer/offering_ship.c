/* SPDX-License-Identifier: MIT */
#include "desk/offer/offering.h"

#include "base/limits.h"
#include "desk/nursery/based_inside.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include <string.h>

#include "base/banned.h"

static cw_code plan_on(cw_nursery *n, const cw_asker *who, cw_day ship, cw_table *out, cw_error *err)
{
    cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = ship, .as_of = CW_NO_DAY };
    return cw_offering_plan(n, who, &ask, out, err);
}

static const cw_column ship_columns[] = {
    { "variety", CW_TEXT_T },
    { "offered", CW_INT_T },
    { "sold", CW_INT_T },
    { "quantity", CW_INT_T, .says = "What could be offered for the shipping day on record." },
    { "quantity_then", CW_INT_T, .says = "What could be offered for the day that is asked about." },
    { "p_short", CW_REAL_T, 4 },
    { "p_short_then", CW_REAL_T, 4 },
};
const cw_shape cw_offering_ship_shape = CW_ROWS(ship_columns);

cw_code cw_offering_ship_preview(cw_nursery *n, const cw_asker *who, cw_day day, cw_table *out, cw_error *err)
{
    enum { VARIETY, OFFERED, SOLD, QUANTITY, P_SHORT, PLAN };
    static const char *const names[PLAN] = { "variety", "offered", "sold", "quantity", "p_short" };
    cw_table now = { 0 }, then = { 0 };
    int c[PLAN];
    cw_table_init(out, ship_columns, sizeof ship_columns / sizeof ship_columns[0]);
    cw_code code = cw_season_check_ship(n->season.season, day, err);
    if (code == CW_OK)
        code = plan_on(n, who, CW_NO_DAY, &now, err);
    if (code == CW_OK)
        code = plan_on(n, who, day, &then, err);
    for (int k = 0; code == CW_OK && k < PLAN; k++)
        c[k] = cw_table_column(&now, names[k]);
    /* Both plans name the varieties of one record in one order. */
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&now) && r < cw_table_rows(&then); r++) {
        cw_put_text(out, cw_table_text(&now, r, (size_t)c[VARIETY]));
        cw_put_int(out, cw_table_int(&now, r, (size_t)c[OFFERED]));
        cw_put_int(out, cw_table_int(&now, r, (size_t)c[SOLD]));
        cw_put_int(out, cw_table_int(&now, r, (size_t)c[QUANTITY]));
        cw_put_int(out, cw_table_int(&then, r, (size_t)c[QUANTITY]));
        cw_put_real(out, cw_table_real(&now, r, (size_t)c[P_SHORT]));
        cw_put_real(out, cw_table_real(&then, r, (size_t)c[P_SHORT]));
    }
    cw_table_free(&now);
    cw_table_free(&then);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static cw_code move(cw_nursery *n, const cw_asker *who, cw_day day, const char *why, cw_error *err)
{
    char before[11], after[CW_MAX_NOTE + 40];
    cw_code code = cw_season_look(n, err);
    if (code != CW_OK)
        return code;
    cw_day_format(n->season.ship, before);
    cw_based_text(who, "day", before);
    code = cw_based_hold(who, "the shipping day", err);
    if (code != CW_OK)
        return code;
    cw_day_format(day, after);
    cw_copy(after + 10, sizeof after - 10, ": ");
    cw_copy(after + 12, sizeof after - 12, why);
    code = cw_season_move_ship(n->db, day, err);
    return code == CW_OK
               ? cw_audit_add(n->db, who->now, who->actor, "move shipping day", "nursery", before, after, err)
               : code;
}

cw_code cw_offering_ship_move(cw_nursery *n, const cw_asker *who, cw_day day, const char *why, cw_error *err)
{
    if (cw_owner_only(who, "move the shipping day", err) != CW_OK)
        return CW_FORBIDDEN;
    if (why == NULL || why[0] == '\0' || strlen(why) > CW_MAX_NOTE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "why",
                           "moving the shipping day needs a reason of at most %d bytes", CW_MAX_NOTE);
    cw_code code = cw_season_check_ship(n->season.season, day, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_work_end(n, move(n, who, day, why, err), err);
    if (code == CW_OK)
        n->season.ship = day;
    return code;
}
