/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_plain_inside.h"

#include "base/json.h"
#include "store/audit.h"
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

/* Rows that are taken off the record again: what a grid deletes, or a file that was loaded by mistake. Each row is checked as one that
 * is taken in, found, and told of in the audit with all that it held. What stock or buyers hang on is not taken off: a variety is
 * retired, a session or a count undone. */

static bool may_go(cw_kind_id kind)
{
    switch (kind) {
    case CW_PLACES:
    case CW_ZONES:
    case CW_DESTINATIONS:
    case CW_ZONE_RANGES:
    case CW_HISTORY:
    case CW_PAST_CHECKS:
    case CW_PAST_SALES:
    case CW_PAST_ORDERS:
    case CW_WEIGHINGS:
    case CW_AIR:
        return true;
    default:
        return false;
    }
}

cw_code cw_intake_may_take_off(const cw_kind *kind, const char *file, cw_error *err)
{
    cw_kind_id id = (cw_kind_id)(kind - cw_kinds);
    if (may_go(id))
        return CW_OK;
    return cw_error_at(err, CW_REFUSED, file, 0, NULL, "a file takes no %s off the record: %s", kind->one,
                       id == CW_VARIETIES ? "retire it instead"
                       : id == CW_ORDERS  ? "cancel it at the order desk"
                       : id == CW_LOTS    ? "stock hangs on it; a stock-take puts its count right"
                                          : "undo the entry in the cellar");
}

static cw_code check_place(cw_intake *in, cw_row *row, cw_error *err)
{
    bool used = false;
    cw_code code = cw_intake_place_used(in->db, row->is.places.place.t, &used, err);
    if (code == CW_OK && used)
        cw_row_clash(in, row, CW_AT(places, place),
                     "stock has lain at this place, and its history names it: %s; rename it instead",
                     row->is.places.place.t);
    return code;
}

static cw_code tell(cw_intake *in, const cw_row *row, const cw_bind *values, cw_error *err)
{
    json_t *was = json_object();
    char subject[400];
    for (size_t c = 0; c < row->kind->kept; c++)
        cw_json_put_take(&was, row->kind->columns[c].name, cw_row_shown(in, row, c, &values[c]));
    char *text = cw_json_text(was, JSON_COMPACT);
    cw_row_name(in, row, subject);
    cw_code code =
        text ? cw_audit_add(in->db, in->who->now, in->who->actor, "remove", subject, text, NULL, err)
             : cw_error_memory(err);
    free(text);
    json_decref(was);
    return code;
}

cw_code cw_intake_off(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_bind values[CW_MAX_KIND_COLUMNS];
    char name[64];
    if (row->kind == &cw_kinds[CW_AIR] && !row->bad && row->is.air.temp_c.null)
        row->is.air.temp_c = (cw_given){ .i = 0 }; /* room and instant tell the reading */
    cw_code code = row->kind == &cw_kinds[CW_PLACES] && !row->bad ? check_place(in, row, err) : CW_OK;
    if (code != CW_OK || row->bad || row->quiet)
        return code;
    for (size_t c = 0; c < row->kind->kept; c++) {
        values[c] = cw_row_bind(in, &row->kind->columns[c], &row->is.v[c]);
        values[c].name = row->kind->columns[c].name;
    }
    snprintf(name, sizeof name, "kinds.remove_%s", row->kind->name);
    code = cw_record_write(in->db, name, values, row->kind->kept, err);
    if (code == CW_OK && cw_db_changes(in->db) == 0) {
        char key[400];
        cw_row_name(in, row, key);
        cw_row_wrong(in, row, 0, "is not on record: %s", key);
        return CW_OK;
    }
    in->files[in->current].changed += code == CW_OK;
    return code == CW_OK ? tell(in, row, values, err) : code;
}
