/* SPDX-License-Identifier: MIT */
#include "desk/tracing.h"

#include "desk/nursery_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/tracing.h"

#include "base/banned.h"

static bool sees_people(const cw_asker *who)
{
    return who->role == CW_ROLE_OWNER || who->role == CW_ROLE_OFFICE;
}

static void blank_people(cw_table *t)
{
    static const char *const names[] = { "customer", "email", "postcode" };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        int c = cw_table_column(t, names[i]);
        for (size_t r = 0; c >= 0 && r < cw_table_rows(t); r++)
            t->cells[r * t->width + (size_t)c].null = true;
    }
}

cw_code cw_tracing_lot(cw_nursery *n, const cw_asker *who, const char *lot, cw_table *out, cw_error *err)
{
    cw_code code = cw_trace_lot(n->db, lot, out, err);
    if (code == CW_OK && !sees_people(who))
        blank_people(out);
    return code;
}

cw_code cw_tracing_order(cw_nursery *n, const cw_asker *who, const char *order, cw_table *out, cw_error *err)
{
    cw_code code = cw_trace_order(n->db, order, out, err);
    if (code == CW_OK && !sees_people(who))
        blank_people(out);
    return code;
}

cw_code cw_tracing_balance(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    (void)who;
    return cw_trace_balance(n->db, out, err);
}

cw_code cw_tracing_hold(cw_nursery *n, const cw_asker *who, const char *lot, const char *why, cw_error *err)
{
    if (who->role == CW_ROLE_SHOP || who->role == CW_ROLE_NONE)
        return cw_error_set(err, CW_FORBIDDEN, "only people of the nursery hold a lot back");
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_trace_hold(n->db, lot, why, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, why ? "hold lot" : "let lot go", lot, NULL, why, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, true, true, err);
    return cw_work_end(n, code, err);
}
