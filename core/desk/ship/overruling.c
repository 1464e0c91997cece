/* SPDX-License-Identifier: MIT */
#include "desk/ship/overruling.h"

#include "desk/nursery/nursery_inside.h"
#include "desk/nursery/roles_inside.h"
#include "store/audit.h"
#include "store/orders.h"
#include "store/season.h"
#include "store/shipping.h"
#include <string.h>

#include "base/banned.h"

static cw_code set(cw_nursery *n, const cw_asker *who, const char *number, cw_overrule rule, const char *why,
                   cw_error *err)
{
    cw_order_head head = { .id = 0 };
    bool place = rule == CW_OVERRULE_DESTINATION;
    const char *what = place ? "destination" : "frost hold";
    cw_code code = cw_order_read(n->db, number, &head, err);
    if (code == CW_OK && strcmp(head.state, "open") != 0)
        return cw_error_set(err, CW_CONFLICT, "order %s is %s", head.number, head.state);
    if (code == CW_OK && place)
        code = cw_ship_overrule(n->db, head.id, who->now, who->actor, why, err);
    else if (code == CW_OK)
        code = cw_ship_overrule_frost(n->db, head.id, 0, who->now, who->actor, why, err);
    if (code == CW_OK && cw_db_changes(n->db) == 0)
        code = cw_error_set(err, CW_CONFLICT,
                            why ? "no %s keeps order %s back" : "no %s is overruled for order %s", what,
                            head.number);
    cw_order_event e = { head.id, 0, who->now, who->actor, why ? "overruled" : "heeded", NULL, what, why };
    if (code == CW_OK)
        code = cw_order_event_add(n->db, &e, err);
    if (code ==
        CW_OK) /* the reason stands with the order, where it can be removed; the audit cannot be changed */
        code = cw_audit_add(n->db, who->now, who->actor, why ? "overrule" : "heed", head.number, NULL, what,
                            err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_overruling_set(cw_nursery *n, const cw_asker *who, const char *order, cw_overrule rule,
                          const char *why, cw_error *err)
{
    cw_code code = rule == CW_OVERRULE_DESTINATION ? cw_owner_only(who, "overrule the destination table", err)
                                                   : cw_office_only(who, "overrule frost holds", err);
    if (code == CW_OK && why && why[0] == '\0')
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "why", "overruling a rule needs a reason");
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, set(n, who, order, rule, why, err), err) : code;
}
