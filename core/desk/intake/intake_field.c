/* SPDX-License-Identifier: MIT */
/* Rows of the field: what was set out, walks, and lots that were dug of a planting. */
#include "desk/intake/intake_inside.h"

#include "base/grow.h"
#include "desk/stock/planting_inside.h"
#include "store/ledger.h"
#include <string.h>

#include "base/banned.h"

typedef struct cw_touched {
    int64_t planting;
    int file;
    long line;
} cw_touched;

/* The row that said something of the planting last stands for it. Rows of one planting mostly follow each other. */
static cw_code touch(cw_intake *in, const cw_row *row, int64_t planting, cw_error *err)
{
    cw_touched *last = in->touched_count ? &in->touched[in->touched_count - 1] : NULL;
    if (last == NULL || last->planting != planting) {
        if (!cw_grow(&in->touched, in->touched_count, &in->touched_room, sizeof *in->touched))
            return cw_error_memory(err);
        last = &in->touched[in->touched_count++];
    }
    *last = (cw_touched){ planting, in->current, row->line };
    return CW_OK;
}

/* A refusal goes to the row; only trouble with the machine ends the load. */
static cw_code told(cw_intake *in, cw_row *row, int column, cw_code code, const cw_error *why, cw_error *err)
{
    if (code == CW_OK || cw_row_failed(in, row, column, code, why))
        return CW_OK;
    return cw_error_set(err, code, "%s", why->text);
}

cw_code cw_intake_planted(cw_intake *in, cw_row *row, cw_error *err)
{
    int64_t id = in->last_id;
    cw_code code = row->is.plantings.row.null ? CW_OK : cw_field_link_lots(in->db, id, err);
    return code == CW_OK ? touch(in, row, id, err) : code;
}

cw_code cw_intake_planting_changed(cw_intake *in, cw_row *row, cw_error *err)
{
    const cw_plantings_row *p = &row->is.plantings;
    cw_planting_row at;
    if (p->row.null)
        return CW_OK; /* nothing was seen or dug of what has no row */
    cw_code code = cw_planting_of(in->n, p->row.t, in->codes.variety[p->variety.i].id, &at, err);
    return code == CW_OK ? touch(in, row, at.id, err) : code;
}

cw_code cw_intake_dug(cw_intake *in, cw_row *row, int64_t lot, cw_error *err)
{
    const cw_lots_row *l = &row->is.lots;
    const cw_movement m = { .at = in->who->now,
                            .day = (cw_day)l->dug_on.i,
                            .actor = in->who->actor,
                            .lot = lot,
                            .place = l->place.i,
                            .clumps = l->clumps.i,
                            .reason = "dug",
                            .cause = "lot",
                            .cause_id = lot };
    cw_planting_row at;
    cw_error why = CW_ERROR_NONE;
    bool found = false;
    cw_code code = cw_ledger_add(in->db, &m, err);
    if (code != CW_OK || l->row.null || l->clumps.i + l->culled.i == 0)
        return code;
    code = cw_planting_of_lot(in->n, l->row.t, in->codes.variety[l->variety.i].id, &found, &at, &why);
    if (code != CW_OK || !found)
        return told(in, row, CW_AT(lots, variety), code, &why, err);
    code = cw_field_link_lot(in->db, lot, at.id, err);
    return code == CW_OK ? touch(in, row, at.id, err) : code;
}

/* What came into store is taken back by counter-entries and entered as it should have been. */
cw_code cw_intake_lot_put_right(cw_intake *in, cw_row *row, const cw_bind *values, cw_error *err)
{
    const char *tag = row->is.lots.lot.t;
    int64_t at = -1;
    bool untouched = false;
    cw_error raw = CW_ERROR_NONE;
    cw_code code = cw_codes_lot(&in->codes, tag, strlen(tag), &at, err);
    int64_t lot = code == CW_OK && at >= 0 ? in->codes.lot[at].id : 0;
    if (code == CW_OK)
        code = cw_field_untouched(in->db, lot, &untouched, err);
    if (code != CW_OK)
        return code;
    if (!untouched) {
        cw_row_clash(
            in, row, CW_AT(lots, lot),
            "something was done with lot %s since it was dug: a stock-take puts its count right, its own "
            "page its variety",
            tag);
        return CW_OK;
    }
    code = cw_ledger_reverse(in->db, "lot", lot, in->who->now, in->who->actor, "typed wrong", &raw);
    if (code != CW_OK && code != CW_NOT_FOUND) /* not found: all of it was culled, nothing came into store */
        return told(in, row, CW_AT(lots, clumps), code, &raw, err);
    code = cw_record_write(in->db, "kinds.update_lots", values, row->kind->kept, err);
    return code == CW_OK ? cw_intake_dug(in, row, lot, err) : code;
}

cw_code cw_intake_round(cw_intake *in, cw_row *row, cw_error *err)
{
    const cw_field_rounds_row *r = &row->is.field_rounds;
    cw_planting_row at;
    cw_error why = CW_ERROR_NONE;
    int64_t variety = r->variety.null ? 0 : in->codes.variety[r->variety.i].id;
    cw_code code = cw_planting_of(in->n, r->row.t, variety, &at, &why);
    if (code == CW_OK && r->rogued.i > r->alive.i)
        code = cw_error_at(&why, CW_REFUSED, NULL, 0, "rogued",
                           "more plants taken out than were alive (%lld): %lld", (long long)r->alive.i,
                           (long long)r->rogued.i);
    if (code != CW_OK)
        return told(in, row,
                    strcmp(why.column, "rogued") == 0 ? CW_AT(field_rounds, rogued)
                                                      : CW_AT(field_rounds, row),
                    code, &why, err);
    code = cw_field_add_round(in->db,
                              &(cw_round_row){ .planting = at.id,
                                               .day = (cw_day)r->seen_on.i,
                                               .alive = r->alive.i,
                                               .rogued = r->rogued.i,
                                               .reason = r->reason.null ? NULL : r->reason.t,
                                               .at = in->who->now,
                                               .actor = in->who->actor },
                              &in->last_id, err);
    in->files[in->current].made += code == CW_OK;
    return code == CW_OK ? touch(in, row, at.id, err) : code;
}

cw_code cw_intake_field_end(cw_intake *in, cw_error *err)
{
    for (size_t i = 0; i < in->touched_count; i++) {
        const cw_touched *t = &in->touched[i];
        cw_error why = CW_ERROR_NONE, e = CW_ERROR_NONE;
        cw_code code = cw_planting_check(in->n, t->planting, NULL, &why);
        if (code == CW_MACHINE)
            return cw_error_set(err, code, "%s", why.text);
        if (code == CW_OK)
            continue;
        cw_error_at(&e, code, in->files[t->file].base, t->line, why.column, "%s", why.text);
        cw_error_list_add(in->errors, &e);
    }
    return CW_OK;
}
