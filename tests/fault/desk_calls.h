/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_CALLS_H
#define CW_TESTS_FAULT_DESK_CALLS_H

/* Every function of the desks as a row, on the nursery of support/season.h: what must be done before, and the call, with
 * its answer written as text. For tests that make the n-th something fail below it. Only what stands inside CALL is made
 * to fail. */
#include "support/failing.h"
#include "support/season.h"

#include "base/json.h"
#include "desk/accounts.h"
#include "desk/catalogue.h"
#include "desk/cellar.h"
#include "desk/exporting.h"
#include "desk/forecast.h"
#include "desk/forgetting.h"
#include "desk/hindsight.h"
#include "desk/keeping.h"
#include "desk/offering.h"
#include "desk/tracing.h"

typedef struct work {
    test_nursery t;
    cw_text answer;
    int64_t id;      /* of what `before` made */
    char digest[65]; /* of its token */
} work;

typedef struct desk_call {
    const char *name;
    cw_code (*call)(work *w, cw_error *err);
    void (*before)(work *w); /* may be NULL */
    long most;               /* tries at most, of calls that cost much; 0: the test's own */
    bool random;             /* leaves random bytes in the file */
} desk_call;

#define N   (w->t.n)
#define WHO (&w->t.who)

static cw_code paused(cw_code code)
{
    failing_pause();
    return code;
}
#define CALL(expression) (failing_resume(), paused(expression))

static cw_code say_table(work *w, cw_code code, cw_table *t)
{
    if (code == CW_OK) {
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_table_csv(t, cw_sink_text(&w->answer), &err), &err);
    }
    cw_table_free(t);
    return code;
}

static cw_code say_json(work *w, cw_code code, json_t *o)
{
    if (code == CW_OK) {
        char *text = cw_json_text(o, JSON_SORT_KEYS);
        assert_non_null(text);
        cw_text_add(&w->answer, text);
        free(text);
    }
    json_decref(o);
    return code;
}

#define TABLE(name, ...)                                                                                     \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        cw_table out = { 0 };                                                                                \
        cw_code code = CALL(__VA_ARGS__);                                                                    \
        return say_table(w, code, &out);                                                                     \
    }
#define JSON(name, ...)                                                                                      \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        json_t *out = NULL;                                                                                  \
        cw_code code = CALL(__VA_ARGS__);                                                                    \
        return say_json(w, code, out);                                                                       \
    }
#define NUMBER(name, type, ...)                                                                              \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        type out = 0;                                                                                        \
        cw_code code = CALL(__VA_ARGS__);                                                                    \
        if (code == CW_OK)                                                                                   \
            cw_text_addf(&w->answer, "%.9g", (double)out);                                                   \
        return code;                                                                                         \
    }
#define PLAIN(name, ...)                                                                                     \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        return CALL(__VA_ARGS__);                                                                            \
    }

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
TABLE(changes, cw_forecast_changes(N, WHO, cw_day_from_ymd(2032, 1, 5), &out, err))
TABLE(hindsight_rows, cw_hindsight_rows(N, WHO, &(cw_hindsight_ask){ 0 }, &out, err))
JSON(hindsight_report, cw_hindsight_report(N, WHO, &(cw_hindsight_ask){ 0 }, &out, err))
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
TABLE(curve, cw_offering_curve(N, WHO, &plan_ask, &out, err))
TABLE(release_plan, cw_offering_release(N, WHO, &plan_ask, NULL, 0, "spring list", &out, err))
TABLE(release_hand, cw_offering_release(N, WHO, &plan_ask, by_hand, 2, "by hand", &out, err))
TABLE(releases, cw_offering_releases(N, NULL, &out, err))
TABLE(availability, cw_offering_availability(N, &out, err))
TABLE(asked, cw_offering_asked_by_day(N, "AMB", &out, err))

/* ---- allotting, substituting ---- */
static const cw_allotting_ask three_rules = { 0 };
static const cw_allotting_ask one_variety = { .variety = "AMB", .projected = true, .confidence = 0.8 };
static const cw_allotting_ask pro_rata = { .rule = "pro-rata" };

static cw_code preview_of_all(work *w, cw_error *err)
{
    cw_allotting *a = NULL;
    cw_table totals = { 0 }, lines = { 0 }, below = { 0 };
    cw_text csv = CW_TEXT(1000000);
    size_t enough = 0, at = 0;
    int64_t count = 0;
    cw_cents minimum = 0;
    cw_code code = CALL(cw_allotting_preview(N, WHO, &three_rules, &a, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_totals(a, false, &totals, &enough, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_lines(a, &at, 1000, &lines, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_below_minimum(N, a, &below, &count, &minimum, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_write(a, true, cw_sink_text(&csv), err));
    if (code == CW_OK) {
        assert_false(csv.failed);
        cw_text_addf(&w->answer, "%s %s", cw_allotting_digest(a), csv.data);
    }
    cw_text_free(&csv);
    code = say_table(w, code, &totals);
    code = say_table(w, code, &lines);
    code = say_table(w, code, &below);
    cw_allotting_free(a);
    return code;
}

static cw_code preview_of_one(work *w, cw_error *err)
{
    cw_allotting *a = NULL;
    cw_table lines = { 0 };
    json_t *document = NULL;
    cw_code code = CALL(cw_allotting_preview(N, WHO, &one_variety, &a, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_variety_lines(a, &lines, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_document(N, a, &document, err));
    code = say_table(w, code, &lines);
    code = say_json(w, code, document);
    cw_allotting_free(a);
    return code;
}

static cw_code allot(work *w, cw_error *err)
{
    cw_allotting_done done = { 0 };
    cw_allotting *shown = NULL;
    cw_code code = CALL(cw_allotting_commit(N, WHO, &pro_rata, NULL, &done, &shown, err));
    cw_allotting_free(shown);
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld %lld %s", (long long)done.run, (long long)done.placed, done.digest);
    return code;
}

/* So that promises are hit. */
static void find_few(work *w)
{
    count_lot(&w->t, "L2", "2032-01-30", 2);
}
PLAIN(take_back, cw_allotting_take_back(N, WHO, "1002", 1, "AMB", 1, "soft", err))
TABLE(hit, cw_allotting_hit(N, WHO, NULL, &out, err))
TABLE(shorts_now, cw_allotting_short(N, WHO, NULL, &out, err))
TABLE(waitlist, cw_allotting_waitlist(N, WHO, "BRI", &out, err))
TABLE(runs, cw_allotting_runs(N, WHO, &out, err))

static cw_code substitutes(work *w, cw_error *err)
{
    cw_substituting *s = NULL;
    cw_table lines = { 0 };
    json_t *document = NULL;
    cw_code code = CALL(cw_substituting_preview(N, WHO, &(cw_substituting_ask){ 0 }, &s, err));
    if (code == CW_OK)
        code = CALL(cw_substituting_lines(s, true, &lines, err));
    if (code == CW_OK)
        code = CALL(cw_substituting_document(s, &document, err));
    if (code == CW_OK && cw_table_rows(&lines) > 0) {
        char sentence[CW_SUBSTITUTING_SENTENCE];
        cw_substituting_totals change;
        code = CALL(cw_substituting_forbid(s, cw_table_text(&lines, 0, 0), (int)cw_table_int(&lines, 0, 1),
                                           cw_table_text(&lines, 0, cw_table_column(&lines, "substitute")),
                                           &change, sentence, err));
        if (code == CW_OK)
            cw_text_add(&w->answer, sentence);
    }
    code = say_table(w, code, &lines);
    code = say_json(w, code, document);
    cw_substituting_free(s);
    return code;
}

static cw_code substitute(work *w, cw_error *err)
{
    cw_substituting_done done = { 0 };
    cw_substituting *shown = NULL;
    cw_code code =
        CALL(cw_substituting_commit(N, WHO, &(cw_substituting_ask){ 0 }, NULL, &done, &shown, err));
    cw_substituting_free(shown);
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld %lld", (long long)done.run, (long long)done.totals.placed);
    return code;
}

/* ---- shipping, picking, packing ---- */
TABLE(schedule, cw_shipping_schedule(N, WHO, true, &out, err))
JSON(board, cw_shipping_board(N, WHO, &out, err))
TABLE(breaks, cw_shipping_breaks(N, WHO, "2001", 203220, &out, err))
TABLE(move_week, cw_shipping_move(N, WHO, "2001", 203221, "asked for it", &out, err))
TABLE(hold_zone, cw_shipping_hold(N, WHO, "z7", NULL, 203216, 203217, "frost", &out, err))
TABLE(holds, cw_shipping_holds(N, &out, err))
static void hold_z7(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_shipping_hold(N, WHO, "z7", NULL, 203216, 203217, "frost", &out, &err), &err);
    cw_table_free(&out);
    w->id = number_of(&w->t, "SELECT MAX(id) FROM frost_hold");
}
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
TABLE(pick_list, cw_picking_list(N, 1, &out, err))
TABLE(waves, cw_picking_waves(N, 0, &out, err))
JSON(wave_document, cw_picking_document(N, 1, &out, err))
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
NUMBER(fill, int64_t, cw_picking_fill(N, WHO, w->id, NULL, &out, err))
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
NUMBER(ship, int64_t, cw_packing_ship(N, WHO, w->id, "by road", "T-1", w->t.who.today, &out, err))
TABLE(parcels, cw_packing_list(N, WHO, 0, NULL, &out, err))
static cw_code carrier_file(work *w, cw_error *err)
{
    cw_packing_file f = { 0 };
    cw_code code = CALL(cw_packing_carrier_file(N, 0, &f, err));
    if (code == CW_OK)
        cw_check_ok(cw_table_csv(&f.table, cw_sink_text(&w->answer), err), err);
    cw_packing_file_free(&f);
    return code;
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

/* ---- the order desk, tracing, catalogue ---- */
static cw_code find(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_ordering_query q = { .text = "example", .page = 1 };
    bool more = false;
    cw_code code = CALL(cw_ordering_find(N, WHO, &q, &out, &more, err));
    return say_table(w, code, &out);
}
JSON(order_sheet, cw_ordering_sheet(N, WHO, "1002", &out, err))
PLAIN(cancel, cw_ordering_cancel(N, WHO, "2001", 0, "changed their mind", err))
PLAIN(change, cw_ordering_change(N, WHO, "1005", 1, 2, "one more", err))
static void leave_to_sell(work *w)
{
    cw_error err = CW_ERROR_NONE;
    int64_t left = 0;
    cw_check_ok(cw_ordering_oversell(N, WHO, "BRI", 5, "late lots", &left, &err), &err);
    cw_check_ok(cw_ordering_oversell(N, WHO, "DOV", 5, "late lots", &left, &err), &err);
}
NUMBER(oversell, int64_t, cw_ordering_oversell(N, WHO, "AMB", 5, "late lots", &out, err))
TABLE(trace_lot, cw_tracing_lot(N, WHO, "L1", &out, err))
TABLE(trace_order, cw_tracing_order(N, WHO, "1001", &out, err))
TABLE(balance, cw_tracing_balance(N, WHO, &out, err))
PLAIN(hold_lot, cw_tracing_hold(N, WHO, "M3", "gall", err))
TABLE(catalogue, cw_catalogue_list(N, &out, err))
TABLE(catalogue_change,
      cw_catalogue_change(N, WHO, "CIN", &(cw_catalogue_edit){ 3, 1, 4, 650, -1, 0 }, &out, err))
static void order_1001_only(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_ordering_cancel(N, WHO, "2002", 0, "moved away", &err), &err);
}
TABLE(forget_look,
      cw_forgetting_preview(N, WHO, &(cw_forget_ask){ .customer = "gus@example.org" }, &out, err))
TABLE(forget, cw_forgetting(N, WHO, &(cw_forget_ask){ .customer = "gus@example.org" }, &out, err))

/* ---- intake ---- */
static cw_code load(work *w, cw_error *err)
{
    static const char more[] =
        "order,received_at,line,variety,quantity,unit_price,customer\n"
        "3001,2032-01-24T10:00:00Z,1,AMB,1,6.50,Kim\n3001,2032-01-24T10:00:00Z,2,DOV,1,6.00,Kim\n";
    static const char lots_more[] = "lot,variety,dug_on,clumps,place\nM9,CIN,2031-10-29,6,C1\n";
    cw_intake_file files[] = { { .name = "orders.csv", .bytes = more, .length = sizeof more - 1 },
                               { .name = "lots.csv", .bytes = lots_more, .length = sizeof lots_more - 1 } };
    cw_error_list errors = { NULL, 0, 0 };
    cw_table out = { 0 };
    cw_code code = CALL(cw_intake_load(N, WHO, files, 2, &(cw_intake_options){ 0 }, &out, &errors, err));
    cw_error_list_free(&errors);
    return say_table(w, code, &out);
}
static cw_code order(work *w, cw_error *err)
{
    json_t *answer = NULL;
    json_t *o =
        json_pack("{s:s,s:s,s:[{s:s,s:i,s:s,s:s,s:[s]},{s:s,s:i,s:i}]}", "order", "W1", "customer", "Lou",
                  "lines", "variety", "DOV", "quantity", 1, "unit_price", "6.00", "consent", "named", "named",
                  "CIN", "assortment", "colour=white", "quantity", 1, "unit_price", 5);
    assert_non_null(o);
    cw_code code = CALL(cw_intake_order(N, WHO, o, &answer, err));
    json_decref(o);
    return say_json(w, code, answer);
}

/* ---- exporting, keeping ---- */
TABLE(export_list, cw_exporting_list(&out, err))
static cw_code export_all(work *w, cw_error *err)
{
    cw_table names = { 0 };
    cw_check_ok(cw_exporting_list(&names, err), err);
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&names); i++) {
        cw_table out = { 0 };
        code = CALL(cw_exporting_table(N, WHO, cw_table_text(&names, i, 0), &out, err));
        code = say_table(w, code, &out);
    }
    cw_table_free(&names);
    return code;
}
TABLE(audit, cw_exporting_audit(N, 0, 100, &out, err))

/* What stands beside the file goes with the folder (test_nursery_free). */
static const char *beside(work *w, const char *name, char out[128])
{
    snprintf(out, 128, "%s/%s", w->t.folder, name);
    return out;
}
static cw_code workbook(work *w, cw_error *err)
{
    char path[128];
    return CALL(cw_exporting_workbook(N, WHO, beside(w, "season.xlsx", path), err));
}
static cw_code backup(work *w, cw_error *err)
{
    char path[128];
    cw_code code = CALL(cw_keeping_backup(N, WHO, beside(w, "copy.db", path), err));
    assert_int_equal(access(path, F_OK) == 0, code == CW_OK); /* whole, or not there */
    unlink(path);
    return code;
}
static cw_code check_all(work *w, cw_error *err)
{
    cw_table out = { 0 };
    char last[65] = "";
    cw_code code = CALL(cw_keeping_check(N, &out, last, err));
    if (code == CW_OK)
        assert_int_equal(cw_table_rows(&out), 0);
    cw_text_add(&w->answer, code == CW_OK ? last : "");
    return say_table(w, code, &out);
}
static void a_copy(work *w)
{
    cw_error err = CW_ERROR_NONE;
    char path[128];
    cw_check_ok(cw_keeping_backup(N, WHO, beside(w, "copy.db", path), &err), &err);
}
/* Into a second place, because the nursery itself is open. */
static cw_code restore(work *w, cw_error *err)
{
    char copy[128], path[128];
    beside(w, "again.db", path);
    cw_code code = CALL(cw_keeping_restore(beside(w, "copy.db", copy), path, err));
    assert_int_equal(access(path, F_OK) == 0, code == CW_OK);
    unlink(path);
    return code;
}

/* ---- the nursery itself, people ---- */
static cw_code open_beside(work *w, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_code code = CALL(cw_nursery_open(w->t.path, CW_LOOK, NULL, &n, err));
    cw_nursery_close(n);
    return code;
}
static cw_code make_new(work *w, cw_error *err)
{
    char path[128];
    cw_nursery *n = NULL;
    cw_season s = *cw_nursery_season(N);
    cw_code code = CALL(cw_nursery_new(beside(w, "new.db", path), &s, WHO, &n, err));
    cw_nursery_close(n);
    assert_int_equal(access(path, F_OK) == 0, code == CW_OK); /* no half a file in the way */
    unlink(path);
    return code;
}
static cw_code revision(work *w, cw_error *err)
{
    cw_revision r = { 0 };
    cw_code code = CALL(cw_nursery_revision(N, &r, err));
    cw_text_addf(&w->answer, "%lld %lld", (long long)r.stock, (long long)r.trade);
    return code;
}
PLAIN(set, cw_nursery_set(N, WHO, "confidence", "0.8", err))
NUMBER(setting, double, cw_nursery_number(N, "confidence", &out, err))
TABLE(all_settings, cw_nursery_settings(N, &out, err))
PLAIN(person_add, cw_accounts_add(N, WHO, "Quin", CW_ROLE_OWNER, SEASON_PASSWORD, err))
PLAIN(person_disable, cw_accounts_disable(N, WHO, "Pim", true, err))
PLAIN(password, cw_accounts_password(N, WHO, "Pim", "another long phrase", err))
TABLE(people, cw_accounts_list(N, WHO, &out, err))
TABLE(keys, cw_accounts_keys(N, WHO, &out, err))
static cw_code key_add(work *w, cw_error *err)
{
    char key[CW_TOKEN_TEXT];
    return CALL(cw_accounts_key_add(N, WHO, "till", CW_ROLE_SHOP, CW_NO_DAY, key, err));
}
static cw_code sign_in(work *w, cw_error *err)
{
    cw_identity me = { 0 };
    char token[CW_TOKEN_TEXT] = "";
    cw_code code = CALL(cw_accounts_verify(N, "Pim", SEASON_PASSWORD, &me, err));
    return code == CW_OK ? CALL(cw_accounts_open(N, WHO, &me, token, err)) : code;
}
static void signed_in(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_identity me = { .person = number_of(&w->t, "SELECT id FROM person WHERE name = 'Pim'") };
    char token[CW_TOKEN_TEXT] = "";
    cw_check_ok(cw_accounts_open(N, WHO, &me, token, &err), &err);
    cw_accounts_digest(token, w->digest);
}
static cw_code known(work *w, cw_error *err)
{
    cw_identity me = { 0 };
    bool found = false;
    cw_code code = CALL(cw_accounts_session(N, w->digest, w->t.who.now, &found, &me, err));
    cw_text_addf(&w->answer, "%d %s", found, me.name);
    return code;
}
PLAIN(seen, cw_accounts_seen(N, w->digest, w->t.who.now + 60000, err))
TABLE(sessions, cw_accounts_sessions(N, WHO, w->digest, &out, err))
PLAIN(end_sessions, cw_accounts_end_sessions(N, WHO, NULL, w->digest, err))
PLAIN(sign_out, cw_accounts_close(N, w->digest, err))
PLAIN(expire, cw_accounts_expire(N, w->t.who.now + 100 * CW_DAY_MS, err))

#define ROW(name)                                                                                            \
    {                                                                                                        \
#name, name, NULL, 0, false                                                                          \
    }
#define AFTER(before, name)                                                                                  \
    {                                                                                                        \
#name, name, before, 0, false                                                                        \
    }
static const desk_call desk_calls[] = {
    ROW(project),
    ROW(sheet),
    ROW(why),
    ROW(at_least),
    ROW(changes),
    { "hindsight_rows", hindsight_rows, NULL, 20, false },
    { "hindsight_scores", hindsight_scores, NULL, 20, false },
    { "hindsight_report", hindsight_report, NULL, 20, false },
    ROW(plan),
    ROW(plan_if),
    ROW(desk),
    ROW(curve),
    ROW(release_plan),
    ROW(release_hand),
    ROW(releases),
    ROW(availability),
    ROW(asked),
    ROW(preview_of_all),
    ROW(preview_of_one),
    ROW(allot),
    ROW(take_back),
    AFTER(find_few, hit),
    ROW(shorts_now),
    ROW(waitlist),
    ROW(runs),
    ROW(substitutes),
    ROW(substitute),
    ROW(schedule),
    ROW(board),
    ROW(breaks),
    ROW(move_week),
    ROW(hold_zone),
    AFTER(hold_z7, holds),
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
    ROW(parcels),
    AFTER(packed_1002, carrier_file),
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
    ROW(find),
    ROW(order_sheet),
    ROW(cancel),
    AFTER(leave_to_sell, change),
    ROW(oversell),
    ROW(trace_lot),
    ROW(trace_order),
    ROW(balance),
    ROW(hold_lot),
    ROW(catalogue),
    ROW(catalogue_change),
    ROW(forget_look),
    AFTER(order_1001_only, forget),
    AFTER(leave_to_sell, load),
    AFTER(leave_to_sell, order),
    ROW(export_list),
    { "export_all", export_all, NULL, 40, false },
    ROW(audit),
    { "workbook", workbook, NULL, 20, false },
    { "backup", backup, NULL, 40, false },
    { "check_all", check_all, NULL, 40, false },
    { "restore", restore, a_copy, 40, false },
    { "open_beside", open_beside, NULL, 40, false },
    { "make_new", make_new, NULL, 40, false },
    ROW(revision),
    ROW(set),
    ROW(setting),
    ROW(all_settings),
    { "person_add", person_add, NULL, 8, true },
    { "person_disable", person_disable, NULL, 12, true },
    { "password", password, NULL, 8, true },
    { "people", people, NULL, 12, true },
    { "key_add", key_add, NULL, 12, true },
    ROW(keys),
    { "sign_in", sign_in, NULL, 8, true },
    { "known", known, signed_in, 0, true },
    { "seen", seen, signed_in, 0, true },
    { "sessions", sessions, signed_in, 0, true },
    { "end_sessions", end_sessions, signed_in, 0, true },
    { "sign_out", sign_out, signed_in, 0, true },
    ROW(expire),
};
#define DESK_CALLS (sizeof desk_calls / sizeof desk_calls[0])

#endif
