/* SPDX-License-Identifier: MIT */
/* Several packers in one wave: who works at which stop, and stretches of equal work. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/grow.h"
#include "base/text.h"
#include "desk/pick/picking_inside.h"
#include "store/season.h"

#include "base/banned.h"

/* Seconds, a guess (no source): walking to a place and finding the crate, turning to a slot, taking one. They only share
 * the work out. */
static const cw_walk_pace pace = { 20, 6, 1 };

static cw_code take(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer, cw_error *err)
{
    cw_stop_row row;
    cw_code code = cw_waves_stop(n->db, stop, &row, err);
    if (code != CW_OK)
        return code;
    if (strcmp(row.wave_state, "open") != 0)
        return cw_error_set(err, CW_CONFLICT, "wave %lld is %s", (long long)row.wave, row.wave_state);
    if (strcmp(row.taken_by, packer) == 0)
        return CW_OK;
    if (row.taken_by[0])
        return cw_error_set(err, CW_CONFLICT, "%s works at stop %lld (%s)", row.taken_by, (long long)row.stop,
                            row.place[0] ? row.place : "no place");
    code = cw_waves_take_stop(n->db, stop, packer, who->now, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code release(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer, cw_error *err)
{
    cw_stop_row row;
    bool office = cw_of_office(who);
    cw_code code = cw_waves_stop(n->db, stop, &row, err);
    if (code != CW_OK || row.taken_by[0] == '\0')
        return code;
    if (!office && strcmp(row.taken_by, packer) != 0)
        return cw_error_set(err, CW_CONFLICT, "%s works at this stop; they or the office can give it back",
                            row.taken_by);
    code = cw_waves_take_stop(n->db, stop, NULL, who->now, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code as_work(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer,
                       cw_code (*work)(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer,
                                       cw_error *err),
                       cw_error *err)
{
    if (cw_packers_only(who, "work at stops", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, work(n, who, stop, packer && packer[0] ? packer : who->actor, err), err);
}

cw_code cw_picking_take(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer, cw_error *err)
{
    return as_work(n, who, stop, packer, take, err);
}

cw_code cw_picking_release(cw_nursery *n, const cw_asker *who, int64_t stop, const char *packer,
                           cw_error *err)
{
    return as_work(n, who, stop, packer, release, err);
}

typedef struct stops {
    cw_stop *stop;
    int64_t *number;
    size_t count, stop_room, number_room;
    bool failed;
} stops;

static void take_stop(void *context, const cw_stop_listed *row)
{
    stops *s = context;
    if (row->open == 0 || s->failed) /* nothing is open there */
        return;
    s->failed = !cw_grow(&s->stop, s->count, &s->stop_room, sizeof *s->stop) ||
                !cw_grow(&s->number, s->count, &s->number_room, sizeof *s->number);
    if (s->failed)
        return;
    s->number[s->count] = row->stop;
    s->stop[s->count++] = (cw_stop){ .pick_count = (size_t)row->picks, .quantity = row->quantity };
}

static void put_stretch(cw_table *out, const stops *s, size_t packer, size_t from, size_t to)
{
    int64_t picks = 0, divisions = 0;
    for (size_t i = from; i < to; i++) {
        picks += (int64_t)s->stop[i].pick_count;
        divisions += s->stop[i].quantity;
    }
    cw_put_int(out, (int64_t)packer + 1);
    if (from < to) {
        cw_put_int(out, s->number[from]);
        cw_put_int(out, s->number[to - 1]);
    } else {
        cw_put_null(out);
        cw_put_null(out);
    }
    cw_put_int(out, (int64_t)(to - from));
    cw_put_int(out, picks);
    cw_put_int(out, divisions);
}

static const cw_column picking_stretches_columns[] = {
    { "packer", CW_INT_T },
    { "first_stop", CW_INT_T, .null = true },
    { "last_stop", CW_INT_T, .null = true },
    { "stops", CW_INT_T },
    { "picks", CW_INT_T },
    { "divisions", CW_INT_T },
};
const cw_shape cw_picking_stretches_shape = CW_ROWS(picking_stretches_columns);

cw_code cw_picking_stretches(cw_nursery *n, int64_t wave, size_t packers, cw_table *out, cw_error *err)
{
    cw_wave_row row;
    stops s = { 0 };
    size_t first[CW_WALK_MAX_PACKERS + 1];
    cw_table_init(out, picking_stretches_columns, CW_WIDTH(picking_stretches_columns));
    if (packers < 1 || packers > CW_WALK_MAX_PACKERS)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "packers", "must be 1 to %d: %zu", CW_WALK_MAX_PACKERS,
                           packers);
    cw_code code = cw_waves_one(n->db, wave, &row, err);
    if (code == CW_OK)
        code = cw_waves_stops(n->db, wave, take_stop, &s, err);
    if (code == CW_OK && s.failed)
        code = cw_error_memory(err);
    if (code == CW_OK) {
        cw_walk walk = { .stops = s.stop, .stop_count = s.count };
        code = cw_walk_share(&walk, pace, packers, first, err);
    }
    for (size_t k = 0; code == CW_OK && k < packers; k++)
        put_stretch(out, &s, k, first[k], first[k + 1]);
    free(s.stop);
    free(s.number);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
