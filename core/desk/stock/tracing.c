/* SPDX-License-Identifier: MIT */
#include "desk/stock/tracing.h"

#include "desk/nursery/based_inside.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/tracing.h"

#include "base/banned.h"

const cw_shape cw_tracing_shape = { .of = &cw_trace_shape };
const cw_shape cw_tracing_balance_shape = { .of = &cw_trace_balance_shape };

cw_code cw_tracing_lot(cw_nursery *n, const cw_asker *who, const char *lot, cw_table *out, cw_error *err)
{
    cw_code code = cw_trace_lot(n->db, lot, out, err);
    cw_people_hide(who, out);
    return code;
}

cw_code cw_tracing_order(cw_nursery *n, const cw_asker *who, const char *order, cw_table *out, cw_error *err)
{
    cw_code code = cw_trace_order(n->db, order, out, err);
    cw_people_hide(who, out);
    return code;
}

cw_code cw_tracing_balance(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    (void)who;
    return cw_trace_balance(n->db, out, err);
}

cw_code cw_tracing_hold(cw_nursery *n, const cw_asker *who, const char *lot, const char *why, cw_error *err)
{
    char held[CW_MAX_NAME + 1];
    if (cw_people_only(who, "hold a lot back", err) != CW_OK)
        return CW_FORBIDDEN;
    if (why == NULL && cw_office_only(who, "let a lot that is held go", err) != CW_OK)
        return CW_FORBIDDEN;
    if (why && why[0] == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, 0, "why", "holding a lot back needs a reason");
    cw_code code =
        cw_work_begin_after(n, err); /* a recall's notices rest on the hold, whenever the row is found sick */
    if (code != CW_OK)
        return code;
    code = cw_trace_held(n->db, lot, held, err);
    if (code == CW_OK) {
        cw_based_text(who, "held", held);
        code = cw_based_hold(who, "the hold on the lot", err);
    }
    if (code == CW_OK)
        code = cw_trace_hold(n->db, lot, why, cw_of_office(who), err);
    if (code == CW_OK)
        code =
            cw_audit_add(n->db, who->now, who->actor, why ? "hold lot" : "let lot go", lot, NULL, why, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, true, true, err);
    return cw_work_end(n, code, err);
}
