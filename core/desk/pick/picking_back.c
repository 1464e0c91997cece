/* SPDX-License-Identifier: MIT */
/* What lies in a slot and is no longer meant for it, until a packer says that it is back at its place. */
#include <stdio.h>

#include "base/text.h"
#include "desk/pick/picking_inside.h"
#include "store/audit.h"
#include "store/clearing.h"
#include "store/season.h"

#include "base/banned.h"

static cw_code put_back(cw_nursery *n, const cw_asker *who, int64_t id, const char *packer, cw_error *err)
{
    cw_put_back_row row = { .slot = 0 };
    char subject[80], after[120];
    cw_code code = cw_put_back_read(n->db, id, &row, err);
    if (code != CW_OK || row.done_by[0])
        return code;
    code = cw_put_back_done(n->db, id, who->now, packer, err);
    snprintf(subject, sizeof subject, "slot %lld, order %s", (long long)row.slot, row.order);
    snprintf(after, sizeof after, "%lld of %s by %.60s", (long long)row.quantity, row.variety, packer);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "put back", subject, NULL, after, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_picking_put_back(cw_nursery *n, const cw_asker *who, int64_t id, const char *packer, cw_error *err)
{
    cw_code code = cw_packers_only(who, "put divisions back", err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK
               ? cw_work_end(n, put_back(n, who, id, packer && packer[0] ? packer : who->actor, err), err)
               : code;
}
