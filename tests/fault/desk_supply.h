/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_SUPPLY_H
#define CW_TESTS_FAULT_DESK_SUPPLY_H

/* What may be sold: forecast, offering, hindsight, the cellar. */
#include "desk_call.h"

#include "desk/cellar/cellar.h"
#include "desk/field/field.h"
#include "desk/field/left.h"
#include "desk/forecast/forecast.h"
#include "desk/forecast/hindsight.h"
#include "desk/forecast/refining.h"
#include "desk/beds/beds.h"
#include "desk/offer/offering.h"

/* ---- forecast, hindsight, offering ---- */
static const cw_forecast_ask whole = { CW_NO_DAY, CW_NO_DAY, NULL };
static const cw_forecast_ask amber = { CW_NO_DAY, CW_NO_DAY, "AMB" };
static const cw_offering_ask plan_ask = {
    .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
};
static const cw_offering_try tries[] = { { "AMB", 3, 1, 700 } };
static const cw_offering_ask what_if = { .margin = 300,
                                         .short_cost = 900,
                                         .ship = CW_NO_DAY,
                                         .as_of = CW_NO_DAY,
                                         .rot = 1.5,
                                         .tries = tries,
                                         .n_tries = 1 };
static const cw_offering_item by_hand[] = { { "AMB", 50 }, { "CIN", 30 } };

static cw_code project(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_text notes = CW_TEXT(100000);
    cw_code code = CALL(cw_forecast_project(N, WHO, &whole, &out, &notes, err));
    if (code == CW_OK)
        cw_text_addn(&w->answer, notes.data ? notes.data : "", notes.length);
    cw_text_free(&notes);
    return say_table(w, code, &out);
}
JSON(sheet, cw_forecast_sheet(N, WHO, &amber, &out, err))
TABLE(why, cw_forecast_why(N, WHO, &amber, &out, err))
NUMBER(at_least, double, cw_forecast_at_least(N, WHO, &amber, 20, &out, err))
static void stock_is(work *w)
{
    cw_revision now;
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_revision(N, &now, &err), &err);
    w->id = now.stock;
}
static cw_code refine(work *w, cw_error *err)
{
    bool learned = false;
    const cw_refine_want want = { w->id, cw_nursery_season(N)->ship, WHO->today };
    cw_refined *r = cw_refined_new();
    assert_non_null(r);
    cw_forecast_share(N, r);
    cw_code code = CALL(cw_forecast_refine(N, WHO, &want, &learned, err));
    cw_text_add(&w->answer, learned ? "learned" : "not learned");
    cw_forecast_share(N, NULL);
    cw_refined_free(r);
    return code;
}
TABLE(changes, cw_forecast_changes(N, WHO, cw_day_from_ymd(2032, 1, 5), &out, err))
TABLE(hindsight_rows, cw_hindsight_rows(N, WHO, &(cw_hindsight_ask){ 0 }, &out, err))
JSON(hindsight_report, cw_hindsight_report(N, WHO, &(cw_hindsight_ask){ 0 }, &out, err))
TABLE(hindsight_said, cw_hindsight_said(N, WHO, &out, err))
static cw_code hindsight_keep(work *w, cw_error *err)
{
    bool kept = false;
    return CALL(cw_hindsight_keep(N, WHO, &kept, err));
}
TABLE(hindsight_scores, cw_hindsight_scores(N, WHO, &(cw_hindsight_ask){ 0 }, &out, err))
TABLE(plan, cw_offering_plan(N, WHO, &plan_ask, &out, err))
TABLE(plan_if, cw_offering_plan(N, WHO, &what_if, &out, err))
static cw_code desk(work *w, cw_error *err)
{
    cw_table out = { 0 };
    json_t *totals = NULL;
    cw_code code = CALL(cw_offering_desk(N, WHO, &plan_ask, &out, &totals, err));
    code = say_json(w, code, totals);
    return say_table(w, code, &out);
}
static cw_code tries_read(work *w, cw_error *err)
{
    static cw_offering_tries t;
    (void)w;
    return CALL(cw_offering_tries_read("AMB:price:7.50", &t, err));
}
TABLE(curve, cw_offering_curve(N, WHO, &plan_ask, &out, err))
TABLE(measures, cw_offering_measures(N, WHO, &plan_ask, &out, err))
TABLE(release_plan, cw_offering_release(N, WHO, &plan_ask, NULL, 0, "spring list", &out, err))
TABLE(release_hand, cw_offering_release(N, WHO, &plan_ask, by_hand, 2, "by hand", &out, err))
TABLE(ship_preview, cw_offering_ship_preview(N, WHO, cw_day_from_ymd(2032, 5, 3), &out, err))
PLAIN(ship_move, cw_offering_ship_move(N, WHO, cw_day_from_ymd(2032, 5, 3), "late frost", err))
TABLE(releases, cw_offering_releases(N, NULL, &out, err))
TABLE(availability, cw_offering_availability(N, &out, err))
/* Its shipping day has come. */
static const cw_asker *late(const work *w)
{
    static cw_asker who;
    who = w->t.who;
    who.today += 500;
    return &who;
}
TABLE(offering_said, cw_offering_said(N, late(w), &out, err))
TABLE(hindsight_rot, cw_hindsight_rot(N, late(w), &out, err))
TABLE(asked, cw_offering_asked_by_day(N, "AMB", &out, err))

/* ---- beds ---- */
static const cw_beds_ask beds_ask = { .places = 30, .keep = -1 };
static const cw_beds_ask beds_amber = { .places = -1, .variety = "AMB", .keep = 5 };
static const cw_beds_item beds_ticked[] = { { "AMB", 7 } };
static cw_code beds_plan(work *w, cw_error *err)
{
    cw_table out = { 0 };
    json_t *beds = NULL;
    cw_code code = CALL(cw_beds_plan(N, WHO, &beds_ask, &out, &beds, err));
    code = say_json(w, code, beds);
    return say_table(w, code, &out);
}
JSON(beds_variety, cw_beds_variety(N, WHO, &beds_amber, &out, err))
static cw_code beds_years(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_text say = CW_TEXT(8000);
    cw_code code = CALL(cw_beds_years(N, WHO, &beds_amber, &out, &say, err));
    cw_text_free(&say);
    return say_table(w, code, &out);
}
static cw_code beds_commit(work *w, cw_error *err)
{
    cw_table out = { 0 };
    int64_t run = 0;
    cw_code code = CALL(cw_beds_commit(N, WHO, &beds_ask, beds_ticked, 1, &run, &out, err));
    return say_table(w, code, &out);
}
static void a_keep_run(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_beds_commit(w->t.n, &w->t.who, &beds_ask, beds_ticked, 1, &w->id, &out, &err), &err);
    cw_table_free(&out);
}
TABLE(beds_undo, cw_beds_undo(N, WHO, w->id, &out, err))
TABLE(beds_runs, cw_beds_runs(N, &out, err))
TABLE(beds_list, cw_beds_list(N, WHO, &out, err))
static const cw_beds_figure beds_said[] = { { "AMB", CW_BEDS_DEMAND, false, 40, 90 } };
PLAIN(beds_say, cw_beds_say(N, WHO, beds_said, 1, err))
static cw_code beds_figures(work *w, cw_error *err)
{
    static cw_beds_figures f;
    (void)w;
    return CALL(cw_beds_figures_read("AMB:demand:40..90", &f, err));
}

/* ---- cellar ---- */
static cw_cellar_entry entry_of(const char *lot)
{
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot;
    return e;
}
static cw_code divide(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_cellar_entry e = entry_of("M1");
    e.clumps = 4;
    e.saleable = 17;
    e.rotten = 1;
    e.place = "C2";
    cw_code code = CALL(cw_cellar_divide(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static cw_code check(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_cellar_entry e = entry_of("M3");
    e.stage = "division";
    e.inspected = 20;
    e.rotten = 2;
    e.shrivelled = 1;
    cw_code code = CALL(cw_cellar_check(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static cw_code count(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_cellar_entry e = entry_of("M4");
    e.stage = "division";
    e.count = 13;
    cw_code code = CALL(cw_cellar_count(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static cw_code move(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_cellar_entry e = entry_of("M4");
    e.divisions = 5;
    e.place = "C3";
    e.to = "C1";
    cw_code code = CALL(cw_cellar_move(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static cw_code enter(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_cellar_entry e = entry_of("M4");
    e.divisions = 2;
    e.reason = "planted";
    e.note = "mother stock";
    cw_code code = CALL(cw_cellar_enter(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static void a_dividing(work *w)
{
    w->id = number_of(&w->t, "SELECT MAX(id) FROM dividing");
}
TABLE(undo, cw_cellar_undo(N, WHO, "dividing", w->id, "wrong lot", &out, err))
TABLE(lots, cw_cellar_lots(N, NULL, &out, err))
JSON(lot, cw_cellar_lot(N, "M3", &out, err))
TABLE(places, cw_cellar_places(N, &out, err))
TABLE(movements, cw_cellar_movements(N, cw_day_from_ymd(2031, 10, 1), w->t.who.today, &out, err))
JSON(air, cw_cellar_air(N, NULL, &out, err))

/* ---- the field ---- */
static void a_planting(work *w)
{
    load_text(&w->t, "plantings.csv",
              "row,variety,plants,planted_on\nR8,AMB,50,2031-05-10\n,BRI,6,2031-05-11\n");
    w->id = number_of(&w->t, "SELECT id FROM planting WHERE row IS NULL AND entry_id IS NULL");
}
static cw_field_entry field_entry(const char *row)
{
    cw_field_entry e = CW_FIELD_ENTRY;
    e.row = row;
    e.variety = "AMB";
    e.alive = 45;
    e.rogued = 1;
    e.clumps = 30;
    e.culled = 2;
    e.plants = 40;
    e.done = "yes";
    return e;
}
static cw_code field_walk(work *w, cw_error *err)
{
    cw_table out = { 0 };
    const cw_field_entry e = field_entry("R8");
    cw_code code = CALL(cw_field_walk(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static cw_code field_dig(work *w, cw_error *err)
{
    cw_table out = { 0 };
    const cw_field_entry e = field_entry("R8");
    cw_code code = CALL(cw_field_dig(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static cw_code field_plant(work *w, cw_error *err)
{
    cw_table out = { 0 };
    const cw_field_entry e = field_entry("R9");
    cw_code code = CALL(cw_field_plant(N, WHO, &e, &out, err));
    return say_table(w, code, &out);
}
static void a_lot_of_the_field(work *w)
{
    a_planting(w);
    load_text(&w->t, "lots.csv", "lot,variety,dug_on,clumps,row\nR8-1,AMB,2031-10-20,30,R8\n");
    w->id = number_of(&w->t, "SELECT id FROM lot WHERE code = 'R8-1'");
}
TABLE(field_name, cw_field_name_row(N, WHO, w->id, "R7", &out, err))
TABLE(field_take, cw_field_take_row(N, WHO, "R8", NULL, true, &out, err))
TABLE(field_undo, cw_field_undo(N, WHO, "dug", w->id, "wrong row", &out, err))
TABLE(field_rows, cw_field_rows(N, &out, err))
TABLE(field_dug, cw_field_dug(N, cw_day_from_ymd(2031, 10, 1), &out, err))
TABLE(left_list, cw_left_list(N, &out, err))
TABLE(left_planted, cw_left_planted(N, &out, err))
static const cw_left_item left_items[] = { { "M4", "B1", 2, 3, 1 } };
TABLE(left_enter, cw_left_enter(N, WHO, CW_NO_DAY, left_items, 1, &out, err))

static const desk_call supply_calls[] = {
    ROW(project),
    ROW(sheet),
    ROW(why),
    ROW(at_least),
    AFTER(stock_is, refine),
    ROW(changes),
    { "hindsight_rows", hindsight_rows, NULL, 20, false },
    { "hindsight_said", hindsight_said, NULL, 20, false },
    { "hindsight_keep", hindsight_keep, NULL, 20, false },
    { "hindsight_scores", hindsight_scores, NULL, 20, false },
    { "hindsight_report", hindsight_report, NULL, 20, false },
    ROW(plan),
    ROW(plan_if),
    ROW(desk),
    ROW(tries_read),
    ROW(curve),
    ROW(release_plan),
    ROW(release_hand),
    ROW(measures),
    ROW(ship_preview),
    ROW(ship_move),
    ROW(releases),
    ROW(offering_said),
    { "hindsight_rot", hindsight_rot, NULL, 20, false },
    ROW(beds_plan),
    ROW(beds_variety),
    ROW(beds_years),
    ROW(beds_commit),
    AFTER(a_keep_run, beds_undo),
    ROW(beds_runs),
    ROW(beds_list),
    ROW(beds_say),
    ROW(beds_figures),
    ROW(availability),
    ROW(asked),
    ROW(divide),
    ROW(check),
    ROW(count),
    ROW(move),
    ROW(enter),
    AFTER(a_dividing, undo),
    ROW(lots),
    ROW(lot),
    ROW(places),
    ROW(movements),
    ROW(air),
    AFTER(a_planting, field_walk),
    AFTER(a_planting, field_dig),
    AFTER(a_planting, field_plant),
    AFTER(a_planting, field_name),
    AFTER(a_planting, field_take),
    AFTER(a_lot_of_the_field, field_undo),
    AFTER(a_lot_of_the_field, field_rows),
    AFTER(a_lot_of_the_field, field_dug),
    ROW(left_list),
    ROW(left_planted),
    ROW(left_enter),
};

#endif
