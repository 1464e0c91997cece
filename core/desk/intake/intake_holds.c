/* SPDX-License-Identifier: MIT */
/* Rows of holds: of a zone, an order, a place or a carrier; from a weather or plant-health file, too. */
#include "desk/intake/intake_inside.h"

#include "desk/intake/intake_plain_inside.h"
#include "desk/ship/shipping_inside.h"
#include "store/audit.h"
#include "store/brought.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Rows of a spreadsheet come as "tracking of manifest.csv": its owner knows it by its own name. */
const char *cw_intake_file_name(const cw_intake *in)
{
    const cw_taken *file = &in->files[in->current];
    const char *kind = cw_kinds[file->kind].name;
    size_t n = strlen(kind);
    return strncmp(file->base, kind, n) == 0 && strncmp(file->base + n, " of ", 4) == 0 ? file->base + n + 4
                                                                                        : file->base;
}

cw_code cw_intake_brought(cw_intake *in, int64_t *brought, cw_error *err)
{
    cw_taken *file = &in->files[in->current];
    cw_code code = CW_OK;
    if (file->brought == 0)
        code = cw_brought_add(in->db, cw_kinds[file->kind].name, cw_intake_file_name(in), in->who->now,
                              in->who->actor, &file->brought, err);
    *brought = file->brought;
    return code;
}

static cw_code read_names(cw_intake *in, cw_row *row, cw_error *err)
{
    const cw_holds_row *h = &row->is.holds;
    bool zone = false;
    cw_code code = cw_ship_hold_names(in->db, h->order.t, h->zone.t, &in->held_order, &zone, err);
    if (code == CW_OK && h->zone.t[0] && !zone)
        cw_row_wrong(in, row, CW_AT(holds, zone), "the zone table has no zone %s", h->zone.t);
    if (code == CW_OK && h->order.t[0] && in->held_order == 0)
        cw_row_wrong(in, row, CW_AT(holds, order), "there is no open order %s", h->order.t);
    return code;
}

static void read_place(cw_intake *in, cw_row *row)
{
    cw_holds_row *h = &row->is.holds;
    const cw_hold_place place = { h->country.t, h->region.t, h->postcode_from.t, h->postcode_to.t,
                                  h->carrier.t };
    cw_error why = CW_ERROR_NONE;
    if (cw_shipping_place_read(&place, &in->held, &why) != CW_OK) {
        cw_row_wrong(in, row,
                     strcmp(why.column, "country") == 0 ? CW_AT(holds, country) : CW_AT(holds, postcode_to),
                     "%s", why.text);
        return;
    }
    h->postcode_from.t = in->held.from;
    h->postcode_to.t = in->held.to;
}

cw_code cw_intake_hold_read(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_holds_row *h = &row->is.holds;
    bool place =
        h->country.t[0] || h->region.t[0] || h->postcode_from.t[0] || h->postcode_to.t[0] || h->carrier.t[0];
    in->held = (cw_ship_held_place){ .country = "" };
    in->held_order = 0;
    if ((h->zone.t[0] != 0) + (h->order.t[0] != 0) + place != 1) {
        cw_row_wrong(in, row, -1, "a hold names a zone, an order, or a place or carrier, one of them");
        return CW_OK;
    }
    if (h->last_week.i < h->first_week.i) {
        cw_row_wrong(in, row, CW_AT(holds, last_week), "must not come before the first week of the hold");
        return CW_OK;
    }
    if (!place)
        return read_names(in, row, err);
    read_place(in, row);
    return CW_OK;
}

cw_code cw_intake_hold_set(cw_intake *in, cw_row *row, cw_error *err)
{
    const cw_holds_row *h = &row->is.holds;
    const cw_week first = (cw_week)h->first_week.i, last = (cw_week)h->last_week.i;
    const char *why = h->why.null ? NULL : h->why.t;
    bool named = h->zone.t[0] || h->order.t[0];
    char subject[400];
    int64_t brought = 0, id = 0;
    cw_code code = cw_intake_brought(in, &brought, err);
    if (code == CW_OK)
        code = named ? cw_ship_hold_add(in->db, h->zone.t[0] ? h->zone.t : NULL, in->held_order, first, last,
                                        why, in->who->now, in->who->actor, brought, &id, err)
                     : cw_ship_hold_place(in->db, &in->held, first, last, why, in->who->now, in->who->actor,
                                          brought, err);
    in->files[in->current].made += code == CW_OK;
    cw_row_name(in, row, subject);
    return code == CW_OK ? cw_audit_add(in->db, in->who->now, in->who->actor, "hold", subject, NULL, why, err)
                         : code;
}
