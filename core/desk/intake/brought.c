/* SPDX-License-Identifier: MIT */
#include "desk/intake/brought.h"

#include "desk/nursery/roles_inside.h"
#include "desk/pack/returned_inside.h"
#include "desk/ship/shipping_inside.h"
#include "store/audit.h"
#include "store/brought.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

const cw_shape cw_brought_files_shape = { .of = &cw_brought_list_shape };

cw_code cw_brought_files(cw_nursery *n, cw_table *out, cw_error *err)
{
    return cw_brought_list(n->db, out, err);
}

static cw_code parcels_back(cw_nursery *n, const cw_asker *who, int64_t brought, const char *why,
                            cw_error *err)
{
    cw_brought_parcel *parcel = NULL;
    size_t count = 0;
    cw_code code = cw_brought_parcels(n->db, brought, &parcel, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = cw_returned_undo(n, who, &parcel[i], why, err);
    free(parcel);
    return code;
}

static cw_code holds_back(cw_nursery *n, const cw_asker *who, int64_t brought, cw_error *err)
{
    int64_t *hold = NULL;
    size_t count = 0;
    cw_code code = cw_brought_holds(n->db, brought, &hold, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = cw_ship_hold_lift(n->db, hold[i], err);
    free(hold);
    return code == CW_OK ? cw_shipping_level(n, who, err) : code;
}

static cw_code take_back(cw_nursery *n, const cw_asker *who, int64_t brought, const char *why, cw_error *err)
{
    cw_brought_row row;
    cw_code code = cw_brought_one(n->db, brought, &row, err);
    if (code == CW_OK && row.undone)
        return cw_error_set(err, CW_CONFLICT, "the file %s was taken back already", row.name);
    if (code == CW_OK)
        code = strcmp(row.kind, "holds") == 0 ? holds_back(n, who, brought, err)
                                              : parcels_back(n, who, brought, why, err);
    if (code == CW_OK)
        code = cw_brought_undo(n->db, brought, who->now, who->actor, why, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "file taken back", row.name, row.kind, why, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_brought_take_back(cw_nursery *n, const cw_asker *who, int64_t brought, const char *why,
                             cw_error *err)
{
    cw_code code = cw_office_only(who, "take a file back", err);
    if (code == CW_OK && (why == NULL || why[0] == '\0'))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "why", "say why the file is taken back");
    if (code == CW_OK)
        code = cw_season_look(n, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, take_back(n, who, brought, why, err), err) : code;
}
