/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_plain_inside.h"

#include "base/json.h"
#include "store/audit.h"
#include "store/field.h"
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

/* Rows that are taken off the record again: what a grid deletes. Each row is checked as one that
 * is taken in, found, and told of in the audit with all that it held. What stock or buyers hang on is not taken off: a variety is
 * retired, a session or a count undone. */

/* Why rows of the kind stay; NULL: they may go. */
static const char *why_kept(cw_kind_id kind)
{
    switch (kind) {
    case CW_VARIETIES:
        return "retire it instead";
    case CW_LOTS:
        return "stock hangs on it; a stock-take puts its count right";
    case CW_ORDERS:
        return "cancel it at the order desk";
    case CW_DIVISIONS:
    case CW_CHECKS:
    case CW_COUNTS:
        return "undo the entry in the cellar";
    default:
        return NULL;
    }
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

/* Walks and lots hang on a row; what is left is the bare note that it was planted. */
static cw_code check_planting(cw_intake *in, cw_row *row, cw_error *err)
{
    const cw_plantings_row *p = &row->is.plantings;
    bool used = false;
    if (p->row.null)
        return CW_OK;
    cw_code code = cw_field_planting_used(in->db, p->row.t, in->codes.variety[p->variety.i].id, &used, err);
    if (code == CW_OK && used)
        cw_row_clash(in, row, CW_AT(plantings, row),
                     "walks were made or lots were dug of this row, and hang on it: %s", p->row.t);
    return code;
}

static cw_code check_used(cw_intake *in, cw_row *row, cw_error *err)
{
    if (row->kind == &cw_kinds[CW_PLACES])
        return check_place(in, row, err);
    return row->kind == &cw_kinds[CW_PLANTINGS] ? check_planting(in, row, err) : CW_OK;
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
    const char *why = why_kept((cw_kind_id)(row->kind - cw_kinds));
    if (why)
        cw_row_wrong(in, row, -1, "a %s is not taken off the record: %s", row->kind->one, why);
    cw_code code = row->bad || row->quiet ? CW_OK : check_used(in, row, err);
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
        cw_row_clash(in, row, 0, "is not on record any more: %s", key);
        return CW_OK;
    }
    in->files[in->current].changed += code == CW_OK;
    return code == CW_OK ? tell(in, row, values, err) : code;
}
