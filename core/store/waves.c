/* SPDX-License-Identifier: MIT */
#include "store/waves.h"

#include "base/text.h"
#include "columns/waves.h"
#include "store/statement_inside.h"

#include "base/banned.h"

static void copy(char *out, size_t size, const char *text)
{
    cw_copy(out, size, text ? text : "");
}

static cw_code ended(cw_stmt *q, cw_code code, cw_error *err)
{
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_waves_add(cw_db *db, cw_week week, cw_instant at, const char *actor, int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "waves.add"), err, "iit", (int64_t)week, at, actor);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_waves_add_stop(cw_db *db, int64_t wave, int64_t stop, int64_t place, int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "waves.add_stop"), err, "iii", wave, stop, place);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_waves_add_parcel(cw_db *db, int64_t wave, int64_t order, int64_t slot, int64_t *id, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "waves.add_parcel"), err, "iii", wave, order, slot);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_waves_add_pick(cw_db *db, const cw_pick_new *p, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.add_pick"), err, "iiiiiiiI", p->wave, p->stop, p->parcel,
                       p->line, p->variety, p->lot, p->quantity, p->slot ? &p->slot : NULL);
}

/* A place that the walk does not visit is added at its end, so that the stops already printed keep their numbers. */
cw_code cw_waves_stop_at(cw_db *db, int64_t wave, int64_t place, int64_t *id, cw_error *err)
{
    bool found = false;
    int64_t last = 0;
    cw_stmt *q = cw_db_stmt(db, "waves.stop_at");
    cw_code code = cw_stmt_one(q, &found, err, "ii", wave, place);
    *id = code == CW_OK && found ? cw_col_int(q, waves_stop_at_id) : 0;
    code = ended(q, code, err);
    if (code != CW_OK || found)
        return code;
    q = cw_db_stmt(db, "waves.last_stop");
    code = cw_stmt_one(q, &found, err, "i", wave);
    last = code == CW_OK ? cw_col_int(q, waves_last_stop_stop) : 0;
    code = ended(q, code, err);
    return code == CW_OK ? cw_waves_add_stop(db, wave, last + 1, place, id, err) : code;
}

cw_code cw_waves_of_week(cw_db *db, cw_week week, int64_t *wave, bool *open, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "waves.of_week");
    cw_code code = cw_stmt_one(q, &found, err, "i", (int64_t)week);
    *wave = code == CW_OK && found ? cw_col_int(q, waves_of_week_id) : 0;
    *open = *wave && cw_col_text(q, waves_of_week_state)[0] == 'o';
    return ended(q, code, err);
}

cw_code cw_waves_one(cw_db *db, int64_t wave, cw_wave_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "waves.one");
    cw_code code = cw_stmt_one(q, &found, err, "i", wave);
    if (code == CW_OK && found) {
        out->week = (cw_week)cw_col_int(q, waves_one_week);
        copy(out->state, sizeof out->state, cw_col_text(q, waves_one_state));
        out->at = cw_col_int(q, waves_one_at);
        copy(out->actor, sizeof out->actor, cw_col_text(q, waves_one_actor));
    }
    code = ended(q, code, err);
    return code == CW_OK && !found ? cw_error_set(err, CW_NOT_FOUND, "there is no wave %lld", (long long)wave)
                                   : code;
}

static void fill_pick(cw_stmt *q, cw_pick_row *out)
{
    out->wave = cw_col_int(q, waves_pick_wave_id);
    out->parcel = cw_col_int(q, waves_pick_parcel_id);
    out->lot = cw_col_int(q, waves_pick_lot_id);
    out->place = cw_col_int(q, waves_pick_place_id);
    out->quantity = cw_col_int(q, waves_pick_quantity);
    out->done = cw_col_text(q, waves_pick_state)[0] == 'd';
    out->taken = cw_col_int(q, waves_pick_taken);
    copy(out->reason, sizeof out->reason, cw_col_text(q, waves_pick_short_reason));
    copy(out->answered_by, sizeof out->answered_by, cw_col_text(q, waves_pick_answered_by));
    out->answered_at = cw_col_int(q, waves_pick_answered_at);
    copy(out->parcel_state, sizeof out->parcel_state, cw_col_text(q, waves_pick_parcel_state));
    copy(out->order_state, sizeof out->order_state, cw_col_text(q, waves_pick_order_state));
    copy(out->order, sizeof out->order, cw_col_text(q, waves_pick_number));
    out->line = (int)cw_col_int(q, waves_pick_line);
    copy(out->lot_code, sizeof out->lot_code, cw_col_text(q, waves_pick_lot));
    copy(out->held, sizeof out->held, cw_col_text(q, waves_pick_held));
    copy(out->variety, sizeof out->variety, cw_col_text(q, waves_pick_variety));
    out->promised = cw_col_int(q, waves_pick_promised);
    out->order_id = cw_col_int(q, waves_pick_order_id);
    out->slot = cw_col_int(q, waves_pick_slot);
    out->week = (cw_week)cw_col_int(q, waves_pick_week);
}

cw_code cw_waves_pick(cw_db *db, int64_t pick, bool *found, cw_pick_row *out, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.pick");
    cw_code code = cw_stmt_one(q, found, err, "i", pick);
    if (code == CW_OK && *found)
        fill_pick(q, out);
    return ended(q, code, err);
}

cw_code cw_waves_answer(cw_db *db, int64_t pick, int64_t taken, const char *reason, cw_instant at,
                        const char *actor, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.answer"), err, "iitit", pick, taken, reason, at, actor);
}

cw_code cw_waves_reopen(cw_db *db, int64_t pick, int64_t quantity, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.reopen"), err, "ii", pick, quantity);
}

/* Called after every answer and every undo, so that a wave's state always follows from its picks. */
cw_code cw_waves_settle(cw_db *db, int64_t wave, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.settle"), err, "i", wave);
}

cw_code cw_waves_hold_lot(cw_db *db, int64_t lot, const char *why, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.hold_lot"), err, "it", lot, why);
}

cw_code cw_waves_answered(cw_db *db, int64_t wave, int64_t *count, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "waves.answered_count");
    cw_code code = cw_stmt_one(q, &found, err, "i", wave);
    *count = code == CW_OK ? cw_col_int(q, waves_answered_count_answered) : 0;
    return ended(q, code, err);
}

/* The wave itself stays, as dropped: its number stands on paper that may still lie about. */
cw_code cw_waves_drop(cw_db *db, int64_t wave, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "waves.drop_picks"), err, "i", wave);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "waves.drop_parcels"), err, "i", wave);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "waves.drop"), err, "i", wave) : code;
}

cw_code cw_waves_take_off(cw_db *db, int64_t parcel, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "waves.take_off"), err, "i", parcel);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "waves.drop_empty_parcel"), err, "i", parcel) : code;
}

cw_code cw_waves_stop(cw_db *db, int64_t stop, cw_stop_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "waves.stop");
    cw_code code = cw_stmt_one(q, &found, err, "i", stop);
    if (code == CW_OK && found) {
        out->wave = cw_col_int(q, waves_stop_wave_id);
        out->stop = cw_col_int(q, waves_stop_stop);
        copy(out->taken_by, sizeof out->taken_by, cw_col_text(q, waves_stop_taken_by));
        out->taken_at = cw_col_int(q, waves_stop_taken_at);
        copy(out->wave_state, sizeof out->wave_state, cw_col_text(q, waves_stop_state));
        copy(out->place, sizeof out->place, cw_col_text(q, waves_stop_code));
    }
    code = ended(q, code, err);
    return code == CW_OK && !found ? cw_error_set(err, CW_NOT_FOUND, "there is no stop %lld", (long long)stop)
                                   : code;
}

cw_code cw_waves_take_stop(cw_db *db, int64_t stop, const char *packer, cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.take_stop"), err, "itI", stop, packer, packer ? &at : NULL);
}

static void fill_parcel(cw_stmt *q, cw_parcel_row *out)
{
    out->wave = cw_col_int(q, waves_parcel_wave_id);
    out->order_id = cw_col_int(q, waves_parcel_order_id);
    out->slot = cw_col_int(q, waves_parcel_slot);
    copy(out->state, sizeof out->state, cw_col_text(q, waves_parcel_state));
    copy(out->order, sizeof out->order, cw_col_text(q, waves_parcel_number));
    copy(out->order_state, sizeof out->order_state, cw_col_text(q, waves_parcel_order_state));
    copy(out->country, sizeof out->country, cw_col_text(q, waves_parcel_country));
    copy(out->region, sizeof out->region, cw_col_text(q, waves_parcel_region));
    out->complete = cw_col_int(q, waves_parcel_ship_complete) != 0;
    out->unpaid = cw_col_int(q, waves_parcel_unpaid) != 0;
    out->taken = cw_col_int(q, waves_parcel_taken);
    out->open_picks = cw_col_int(q, waves_parcel_open_picks);
    out->rest = cw_col_int(q, waves_parcel_rest);
    out->others = cw_col_int(q, waves_parcel_others);
    out->unready = cw_col_int(q, waves_parcel_unready);
    copy(out->held, sizeof out->held, cw_col_text(q, waves_parcel_held));
    out->week = (cw_week)cw_col_int(q, waves_parcel_week);
}

cw_code cw_waves_parcel(cw_db *db, int64_t parcel, cw_parcel_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "waves.parcel");
    cw_code code = cw_stmt_one(q, &found, err, "i", parcel);
    if (code == CW_OK && found)
        fill_parcel(q, out);
    code = ended(q, code, err);
    return code == CW_OK && !found
               ? cw_error_set(err, CW_NOT_FOUND, "there is no parcel %lld", (long long)parcel)
               : code;
}

cw_code cw_waves_pack(cw_db *db, int64_t parcel, int64_t weight_g, cw_instant at, const char *actor,
                      cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.pack"), err, "iIit", parcel, weight_g ? &weight_g : NULL, at,
                       actor);
}

cw_code cw_waves_unpack(cw_db *db, int64_t parcel, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "waves.unpack"), err, "i", parcel);
    return code == CW_OK ? cw_waves_boxes_off(db, parcel, 1, err) : code;
}

cw_code cw_waves_box_packed(cw_db *db, int64_t parcel, int64_t number, int64_t weight_g, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.box_packed"), err, "iiI", parcel, number,
                       weight_g ? &weight_g : NULL);
}

cw_code cw_waves_box_sent(cw_db *db, int64_t parcel, int64_t number, const char *tracking, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.box_sent"), err, "iit", parcel, number, tracking);
}

cw_code cw_waves_boxes_off(cw_db *db, int64_t parcel, int64_t last, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.boxes_off"), err, "ii", parcel, last);
}

cw_code cw_waves_boxes_unsent(cw_db *db, int64_t parcel, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.boxes_unsent"), err, "i", parcel);
}

cw_code cw_waves_ship(cw_db *db, int64_t parcel, cw_day on, const char *carrier, const char *tracking,
                      cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.ship"), err, "iitt", parcel, (int64_t)on, carrier, tracking);
}

static void fill_sent(cw_stmt *q, cw_sent_row *out)
{
    copy(out->order, sizeof out->order, cw_col_text(q, waves_sent_number));
    copy(out->carrier, sizeof out->carrier, cw_col_text(q, waves_sent_carrier));
    copy(out->tracking, sizeof out->tracking, cw_col_text(q, waves_sent_tracking));
    copy(out->more, sizeof out->more, cw_col_text(q, waves_sent_more));
    out->on = (cw_day)cw_col_int(q, waves_sent_shipped_on);
    out->claims = cw_col_int(q, waves_sent_claims);
    out->boxes = cw_col_int(q, waves_sent_boxes);
}

cw_code cw_waves_sent(cw_db *db, int64_t parcel, cw_sent_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "waves.sent");
    cw_code code = cw_stmt_one(q, &found, err, "i", parcel);
    if (code == CW_OK && found)
        fill_sent(q, out);
    return ended(q, code, err);
}

cw_code cw_waves_sent_under(cw_db *db, const char *tracking, int64_t order, bool *found, cw_sent_row *out,
                            cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "waves.sent_under");
    cw_code code = cw_stmt_one(q, found, err, "ti", tracking, order);
    if (code == CW_OK && *found)
        fill_sent(q, out);
    return ended(q, code, err);
}

cw_code cw_waves_unship(cw_db *db, int64_t parcel, int64_t order, cw_error *err)
{
    cw_code code = cw_stmt_run(cw_db_stmt(db, "waves.unship"), err, "i", parcel);
    if (code == CW_OK)
        code = cw_waves_boxes_unsent(db, parcel, err);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "waves.order_open"), err, "i", order) : code;
}

cw_code cw_waves_order_shipped(cw_db *db, int64_t order, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.order_shipped"), err, "i", order);
}

cw_code cw_waves_event(cw_db *db, int64_t order, cw_instant at, const char *actor, const char *kind,
                       const char *after, const char *note, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "waves.order_event"), err, "iitttt", order, at, actor, kind, after,
                       note);
}
