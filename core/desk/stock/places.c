/* SPDX-License-Identifier: MIT */
#include "desk/stock/places.h"

#include "base/value.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/nursery/roles_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/stock.h"
#include <string.h>

#include "base/banned.h"

static cw_code rename_place(cw_nursery *n, const cw_asker *who, const char *from, const char *to,
                            cw_error *err)
{
    char shown[80];
    bool is_there = false, taken = false;
    cw_code code = cw_stock_place_known(n->db, from, &is_there, err);
    if (code == CW_OK)
        code = cw_stock_place_known(n->db, to, &taken, err);
    if (code != CW_OK)
        return code;
    if (!is_there)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "place", "there is no such place: %s",
                           cw_shown(from, strlen(from), shown));
    if (taken)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "to", "another place has this code: %s",
                           cw_shown(to, strlen(to), shown));
    code = cw_stock_place_rename(n->db, from, to, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "rename place", from, from, to, err);
    return code == CW_OK ? cw_season_touch(n->db, true, false, err) : code;
}

cw_code cw_places_rename(cw_nursery *n, const cw_asker *who, const char *from, const char *to, cw_error *err)
{
    static const cw_holds holds = { .type = CW_CODE_T };
    cw_value value;
    char why[CW_WHY_BYTES];
    if (cw_office_only(who, "rename a place", err) != CW_OK)
        return CW_FORBIDDEN;
    if (!cw_value_parse(&holds, to, strlen(to), &value))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "to", "%s", cw_value_why(&holds, to, strlen(to), why));
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, rename_place(n, who, from, to, err), err) : code;
}
