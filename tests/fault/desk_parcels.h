/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_PARCELS_H
#define CW_TESTS_FAULT_DESK_PARCELS_H

/* What leaves: weeks, waves, parcels, paper. */
#include "desk_call.h"

#include "desk/intake/brought.h"
#include "desk/intake/intake.h"
#include "desk/orders/clearing.h"
#include "desk/pack/packing.h"
#include "desk/pack/paper.h"
#include "desk/pick/picking.h"
#include "desk/ship/overruling.h"
#include "desk/ship/shipping.h"

/* ---- shipping, picking, packing ---- */
TABLE(schedule, cw_shipping_schedule(N, WHO, true, &out, err))
static cw_code board(work *w, cw_error *err)
{
    cw_text json = CW_TEXT(1 << 20);
    cw_code code = CALL(cw_shipping_board(N, WHO, NULL, cw_sink_text(&json), err));
    if (code == CW_OK)
        cw_text_add(&w->answer, json.data);
    cw_text_free(&json);
    return code;
}
TABLE(breaks, cw_shipping_breaks(N, WHO, "2001", 203220, &out, err))
TABLE(move_week, cw_shipping_move(N, WHO, "2001", 203221, "asked for it", &out, err))
TABLE(hold_zone, cw_shipping_hold(N, WHO, "z7", NULL, 203216, 203217, "frost", &out, err))
TABLE(hold_place, cw_shipping_hold_place(N, WHO, &((cw_hold_place){ "Germany", "", "20", "29", "van" }),
                                         203216, 203217, "storm", &out, err))
TABLE(holds, cw_shipping_holds(N, WHO, &out, err))
static void hold_z7(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_shipping_hold(N, WHO, "z7", NULL, 203216, 203217, "frost", &out, &err), &err);
    cw_table_free(&out);
    w->id = number_of(&w->t, "SELECT MAX(id) FROM frost_hold");
}
TABLE(touched, cw_shipping_touched(N, WHO, 0, &out, err))
PLAIN(overrule, cw_overruling_set(N, WHO, "2001", CW_OVERRULE_FROST, "wrapped well", err))
PLAIN(lift, cw_shipping_lift(N, WHO, w->id, err))

#define LATE 203220
static const cw_picking_ask late_week = { .week = LATE };
static cw_code wave_preview(work *w, cw_error *err)
{
    cw_table picks = { 0 }, notes = { 0 };
    cw_code code = CALL(cw_picking_preview(N, WHO, &late_week, &picks, &notes, err));
    code = say_table(w, code, &picks);
    return say_table(w, code, &notes);
}
static cw_code wave_make_late(work *w, cw_error *err)
{
    cw_table notes = { 0 };
    int64_t wave = 0;
    cw_code code = CALL(cw_picking_make(N, WHO, &late_week, &wave, &notes, err));
    cw_text_addf(&w->answer, "%lld", (long long)wave);
    return say_table(w, code, &notes);
}
static void late_wave(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_table notes = { 0 };
    cw_check_ok(cw_picking_make(N, WHO, &late_week, &w->id, &notes, &err), &err);
    cw_table_free(&notes);
}
PLAIN(wave_drop, cw_picking_drop(N, WHO, w->id, "made too early", err))
static cw_code wave_of_week(work *w, cw_error *err)
{
    int64_t wave = 0;
    bool open = false;
    cw_code code = CALL(cw_picking_of_week(N, WEEK, &wave, &open, err));
    cw_text_addf(&w->answer, "%lld %d", (long long)wave, open);
    return code;
}
TABLE(pick_list, cw_picking_list(N, WHO, 1, &out, err))
TABLE(waves, cw_picking_waves(N, WHO, 0, &out, err))
JSON(wave_document, cw_picking_document(N, WHO, 1, &out, err))
PLAIN(stop_take, cw_picking_take(N, WHO, w->id, "Marta", err))
PLAIN(stop_release, cw_picking_release(N, WHO, w->id, "Marta", err))
static void an_open_stop(work *w)
{
    w->id = number_of(&w->t, "SELECT stop_id FROM pick WHERE state = 'open' ORDER BY id LIMIT 1");
}
static void a_taken_stop(work *w)
{
    cw_error err = CW_ERROR_NONE;
    an_open_stop(w);
    cw_check_ok(cw_picking_take(N, WHO, w->id, "Marta", &err), &err);
}
TABLE(stretches, cw_picking_stretches(N, 1, 2, &out, err))
static cw_code answers(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_picking_answer a[] = {
        { .key = "k1", .pick = w->id, .taken = 3, .reason = "missing", .at = CW_NO_INSTANT },
        { .key = "k2",
          .pick = pick_of(&w->t, "1001", 1),
          .taken = 1,
          .reason = "rotten",
          .at = CW_NO_INSTANT },
    };
    cw_code code = CALL(cw_picking_answer_all(N, WHO, a, 2, &out, err));
    return say_table(w, code, &out);
}
static void pick_of_1004(work *w)
{
    w->id = pick_of(&w->t, "1004", 1);
}
static void pick_of_1002(work *w)
{
    w->id = pick_of(&w->t, "1002", 1);
}
PLAIN(pick_undo, cw_picking_undo(N, WHO, w->id, "wrong row", err))
TABLE(shorts, cw_picking_shorts(N, WHO, 0, &out, err))
NUMBER(fill, int64_t, cw_picking_fill(N, WHO, w->id, &(cw_picking_from){ NULL, NULL }, &out, err))
static void parcel_of_1002(work *w)
{
    w->id = parcel_of(&w->t, "1002");
}
static const cw_packing_count two = { .count = 2, .weight_g = 500 };
PLAIN(pack_parcel, cw_packing_pack(N, WHO, w->id, &two, err))
static void packed_1002(work *w)
{
    cw_error err = CW_ERROR_NONE;
    parcel_of_1002(w);
    cw_check_ok(cw_packing_pack(N, WHO, w->id, &two, &err), &err);
}
PLAIN(unpack, cw_packing_unpack(N, WHO, w->id, "wet label", err))
NUMBER(ship, int64_t,
       cw_packing_ship(N, WHO, w->id, &(cw_packing_sent){ "by road", "T-1", false, w->t.who.today }, &out,
                       err))
static void sent_1002(work *w)
{
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    packed_1002(w);
    cw_check_ok(cw_packing_ship(N, WHO, w->id, &(cw_packing_sent){ "by road", "T-1", false, w->t.who.today },
                                &rest, &err),
                &err);
}
PLAIN(correct, cw_packing_correct(N, WHO, w->id, &(cw_packing_sent){ NULL, "T-2", false, CW_NO_DAY },
                                  "typed wrong", err))
PLAIN(unship, cw_packing_unship(N, WHO, w->id, "stood in the hall", err))
/* What a carrier gives back, and a file of holds: taken, and taken back. */
static cw_code load_file(work *w, const char *name, const char *text, cw_error *err)
{
    const cw_intake_file f = { .name = name, .bytes = text, .length = strlen(text) };
    cw_error_list errors = { NULL, 0, 0 };
    cw_table out = { 0 };
    cw_code code = CALL(cw_intake_load(N, WHO, &f, 1, &(cw_intake_options){ 0 }, &out, &errors, err));
    cw_error_list_free(&errors);
    return say_table(w, code, &out);
}
static cw_code carrier_back(work *w, cw_error *err)
{
    return load_file(w, "tracking.csv", "order,tracking,carrier\n1002,T-1,van\n1002,T-2,\n", err);
}
static cw_code holds_come(work *w, cw_error *err)
{
    return load_file(w, "holds.csv",
                     "zone,country,first_week,last_week\nz7,,2032-W16,2032-W17\n,US,2032-W16,2032-W17\n",
                     err);
}
static void carrier_came(work *w)
{
    cw_error err = CW_ERROR_NONE;
    packed_1002(w);
    cw_check_ok(carrier_back(w, &err), &err);
}
static void numbered_1002(work *w)
{
    cw_error err = CW_ERROR_NONE;
    sent_1002(w);
    cw_check_ok(load_file(w, "tracking.csv", "order,tracking\n1002,T-1\n1002,T-2\n", &err), &err);
}
static void holds_came(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(holds_come(w, &err), &err);
}
PLAIN(brought_back, cw_brought_take_back(N, WHO, 1, "wrong day", err))
static cw_code numbers_back(work *w, cw_error *err)
{
    return brought_back(w, err);
}
static cw_code holds_back(work *w, cw_error *err)
{
    return brought_back(w, err);
}
TABLE(brought_files, cw_brought_files(N, &out, err))
TABLE(parcels, cw_packing_list(N, WHO, 0, NULL, &out, err))
static cw_code carrier_file(work *w, cw_error *err)
{
    cw_packing_file f = { 0 };
    cw_code code = CALL(cw_packing_carrier_file(N, WHO, 0, &f, err));
    if (code == CW_OK)
        cw_check_ok(cw_table_csv(&f.table, cw_sink_text(&w->answer), err), err);
    cw_packing_file_free(&f);
    return code;
}

static void parcel_of_1004(work *w)
{
    w->id = parcel_of(&w->t, "1004");
}
PLAIN(take_off, cw_picking_take_off(N, WHO, w->id, "leaves another week", err))

/* ---- what is called off while it lies there ---- */
TABLE(lying, cw_clearing_lying(N, WHO, "1002", 0, &out, err))
PLAIN(call_off, cw_ordering_cancel(N, WHO, "1002", 0, "moves house", err))
static void called_off(work *w)
{
    cw_error err = CW_ERROR_NONE;
    packed_1002(w);
    cw_check_ok(cw_ordering_cancel(N, WHO, "1002", 0, "moves house", &err), &err);
    w->id = number_of(&w->t, "SELECT MIN(id) FROM put_back");
}
PLAIN(back_again, cw_picking_put_back(N, WHO, w->id, "Marta", err))

/* ---- paper ---- */
static const char *const two_lots[] = { "L2", "M3" };
TABLE(paper_tags, cw_paper_tags(N, 0, two_lots, 2, &out, err))
TABLE(paper_cut_tags, cw_paper_cut_tags(N, cw_day_from_ymd(2031, 12, 5), NULL, 0, &out, err))
TABLE(paper_wave_tags, cw_paper_tags(N, 1, NULL, 0, &out, err))
TABLE(paper_walk, cw_paper_walk(N, WHO, 1, &out, err))
TABLE(paper_slips, cw_paper_slips(N, 1, true, &out, err))
TABLE(paper_rest, cw_paper_rest(N, 1, &out, err))
TABLE(paper_labels, cw_paper_labels(N, 1, &out, err))

static const desk_call parcel_calls[] = {
    ROW(schedule),
    ROW(board),
    ROW(breaks),
    ROW(move_week),
    ROW(hold_zone),
    ROW(hold_place),
    AFTER(hold_z7, holds),
    AFTER(hold_z7, touched),
    AFTER(hold_z7, overrule),
    AFTER(hold_z7, lift),
    ROW(wave_preview),
    ROW(wave_make_late),
    AFTER(late_wave, wave_drop),
    ROW(wave_of_week),
    ROW(pick_list),
    ROW(waves),
    ROW(wave_document),
    AFTER(an_open_stop, stop_take),
    AFTER(a_taken_stop, stop_release),
    ROW(stretches),
    AFTER(pick_of_1004, answers),
    AFTER(pick_of_1002, pick_undo),
    ROW(shorts),
    AFTER(parcel_of_1002, fill),
    AFTER(parcel_of_1002, pack_parcel),
    AFTER(packed_1002, unpack),
    AFTER(packed_1002, ship),
    AFTER(sent_1002, correct),
    AFTER(sent_1002, unship),
    AFTER(packed_1002, carrier_back),
    ROW(holds_come),
    AFTER(carrier_came, brought_back),
    AFTER(numbered_1002, numbers_back),
    AFTER(holds_came, holds_back),
    AFTER(carrier_came, brought_files),
    ROW(parcels),
    AFTER(packed_1002, carrier_file),
    AFTER(parcel_of_1004, take_off),
    AFTER(packed_1002, lying),
    AFTER(packed_1002, call_off),
    AFTER(called_off, back_again),
    ROW(paper_tags),
    ROW(paper_cut_tags),
    ROW(paper_wave_tags),
    ROW(paper_walk),
    ROW(paper_slips),
    ROW(paper_rest),
    ROW(paper_labels),
};

#endif
