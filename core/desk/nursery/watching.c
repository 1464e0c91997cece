/* SPDX-License-Identifier: MIT */
#include "desk/nursery/watching.h"

#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"

#include "base/banned.h"

cw_code cw_watching_unusual(cw_nursery *n, const cw_asker *who, const char *what, cw_error *err)
{
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, cw_audit_add(n->db, who->now, who->actor, "held back", what, NULL, NULL, err), err);
}
