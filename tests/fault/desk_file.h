/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_FILE_H
#define CW_TESTS_FAULT_DESK_FILE_H

/* The file itself: what comes in and goes out, copies, settings. */
#include "desk_call.h"

#include "desk/closing/closing.h"
#include "desk/closing/closing_desk.h"
#include "desk/closing/letter.h"
#include "desk/nursery/answers.h"
#include "desk/export/exporting.h"
#include "desk/intake/intake.h"
#include "desk/sheets/sheets.h"
#include "desk/today/today.h"
#include "desk/nursery/keeping.h"
#include <sqlite3.h>

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

/* ---- spreadsheets of other makes ---- */
static const char a_sheet[] =
    "Our lots;;;\nSorte;Gerodet;Knollen;Platz;Raum\nAMB;20.10.2031;5;F1;new\n\"Dove "
    "Bell\";21.10.2031;6;F2;new\n";
static const cw_sheets_file sheet_file = { .name = "autumn.csv",
                                           .bytes = a_sheet,
                                           .length = sizeof a_sheet - 1 };
JSON(sheet_look, cw_sheets_look(N, WHO, &sheet_file, NULL, &out, err))
static cw_code sheet_take(work *w, cw_error *err)
{
    json_t *document = NULL;
    cw_table out = { 0 };
    cw_code code =
        CALL(cw_sheets_take(N, WHO, &sheet_file, NULL, &(cw_sheets_options){ 0 }, &out, &document, err));
    json_decref(document);
    return say_table(w, code, &out);
}
static void a_kept_fit(work *w)
{
    cw_error err = CW_ERROR_NONE;
    json_t *document = NULL;
    cw_table out = { 0 };
    cw_check_ok(cw_sheets_take(N, WHO, &sheet_file, NULL, &(cw_sheets_options){ .keep = "autumn" }, &out,
                               &document, &err),
                &err);
    json_decref(document);
    cw_table_free(&out);
}
TABLE(sheet_fits, cw_sheets_fits(N, &out, err))
JSON(sheet_fit, cw_sheets_fit(N, "autumn", &out, err))
static cw_code sheet_answer(work *w, cw_error *err)
{
    json_t *fit = json_pack("{s:s}", "kind", "lots");
    json_t *doubts = json_pack("[{s:s,s:i,s:s},{s:s,s:s},{s:s,s:s},{s:s}]", "what", "rival", "at", 2, "field",
                               "lots.clumps", "what", "missing", "field", "lots.dug_on", "what", "name",
                               "text", "Dove Bel", "what", "dates");
    static const char *const answers[] = { "B", "2031-10-20", "+DOVE", "dmy" };
    assert_true(fit && doubts);
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < 4; i++)
        code = CALL(cw_sheets_answer(fit, json_array_get(doubts, i), answers[i], err));
    json_decref(doubts);
    return say_json(w, code, fit);
}
static cw_code sheet_rename(work *w, cw_error *err)
{
    return CALL(cw_sheets_rename(N, WHO, "autumn", "spring", err));
}
static cw_code sheet_forget(work *w, cw_error *err)
{
    return CALL(cw_sheets_forget(N, WHO, "autumn", err));
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
static cw_code export_written(work *w, cw_error *err)
{
    cw_text csv = CW_TEXT((size_t)1 << 20);
    cw_code code = CALL(cw_exporting_write(N, WHO, "orders", CW_AS_CSV, cw_sink_text(&csv), err));
    if (code == CW_OK)
        cw_text_add(&w->answer, csv.data);
    cw_text_free(&csv);
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

/* ---- the season's end ---- */
static cw_next after(work *w, char path[128])
{
    static const cw_day ever; /* all buyers go along */
    return (cw_next){ .path = beside(w, "next.db", path),
                      .season = 2032,
                      .ship = cw_day_from_ymd(2033, 4, 18),
                      .leave_open = true,
                      .buyers_since = &ever };
}
/* A parcel that waits would keep the season open. */
static void no_parcels(work *w)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open_v2(w->t.path, &raw, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(
            raw,
            "UPDATE pick SET state = 'done', short_reason = 'missing', answered_at = 1, answered_by = "
            "'Marta' WHERE state = 'open';"
            "UPDATE parcel SET state = 'shipped', shipped_on = 22700",
            NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(raw);
}
static cw_code next_season(work *w, cw_error *err)
{
    char path[128];
    cw_next next = after(w, path);
    cw_table out = { 0 };
    cw_code code = CALL(cw_closing_next(N, WHO, &next, false, &out, err));
    assert_int_not_equal(access(path, F_OK), 0);
    return say_table(w, code, &out);
}
static void a_next_season(work *w)
{
    cw_error err = CW_ERROR_NONE;
    char path[128];
    cw_table out = { 0 };
    no_parcels(w);
    cw_next next = after(w, path);
    cw_check_ok(cw_closing_next(N, WHO, &next, true, &out, &err), &err);
    cw_table_free(&out);
}
TABLE(letter, cw_letter_rows(N, WHO, &out, err))
static cw_code letter_text(work *w, cw_error *err)
{
    cw_text text = { 0 };
    cw_code code = CALL(cw_letter_text(N, WHO, &text, err));
    cw_text_addn(&w->answer, text.data ? text.data : "", text.length);
    cw_text_free(&text);
    return code;
}
PLAIN(closed_words, cw_nursery_closed(N, (char[CW_CLOSED_WORDS]){ 0 }, err))
PLAIN(reopen, cw_closing_reopen(N, WHO, "a lot was forgotten", err))
static cw_code closed_state(work *w, cw_error *err)
{
    bool found = false;
    cw_closed c = { 0 };
    cw_code code = CALL(cw_closing_state(N, &found, &c, err));
    cw_text_addf(&w->answer, "%d %d", found, c.season);
    return code;
}
static cw_code prove(work *w, cw_error *err)
{
    char path[128];
    cw_nursery *later = NULL;
    cw_table out = { 0 };
    long broken = 0;
    cw_error own = CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(beside(w, "next.db", path), CW_LOOK, NULL, &later, &own), &own);
    cw_code code = CALL(cw_closing_prove(later, N, WHO, &out, &broken, err));
    cw_nursery_close(later);
    return say_table(w, code, &out);
}

static cw_turning_ask the_turn(void)
{
    return (cw_turning_ask){ 2032, cw_day_from_ymd(2033, 4, 18), true };
}
static cw_code turn_look(work *w, cw_error *err)
{
    const cw_turning_ask ask = the_turn();
    json_t *out = NULL;
    cw_code code = CALL(cw_closing_look(N, WHO, &ask, &out, err));
    return say_json(w, code, out);
}
/* Else the one of the try before would be taken for it. */
static void no_next_file(work *w)
{
    char path[128];
    no_parcels(w);
    unlink(beside(w, "season-2032.db", path));
}
static cw_code turn_make(work *w, cw_error *err)
{
    const cw_turning_ask ask = the_turn();
    json_t *out = NULL;
    cw_code code = CALL(cw_closing_make(N, WHO, &ask, &out, err));
    return say_json(w, code, out);
}
static void a_made_file(work *w)
{
    const cw_turning_ask ask = the_turn();
    cw_error err = CW_ERROR_NONE;
    json_t *out = NULL;
    no_parcels(w);
    cw_check_ok(cw_closing_make(N, WHO, &ask, &out, &err), &err);
    json_decref(out);
}
static cw_code turn_mark(work *w, cw_error *err)
{
    const cw_turning_ask ask = the_turn();
    (void)w;
    return CALL(cw_closing_mark(N, WHO, &ask, err));
}
JSON(turn_told, cw_closing_told(N, &out, err))

/* ---- the nursery itself ---- */
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
static cw_code season_now(work *w, cw_error *err)
{
    cw_season s = { 0 };
    cw_code code = CALL(cw_nursery_season_now(N, &s, err));
    cw_text_addf(&w->answer, "%d %d", s.season, (int)s.ship);
    return code;
}
PLAIN(set, cw_nursery_set(N, WHO, "confidence", "0.8", err))
NUMBER(setting, double, cw_nursery_number(N, "confidence", &out, err))
TABLE(all_settings, cw_nursery_settings(N, &out, err))

static cw_code mended(work *w, const char *kind, const char *text, cw_error *err)
{
    json_t *rows = json_loads(text, 0, NULL);
    cw_error_list errors = { NULL, 0, 0 };
    cw_table out = { 0 };
    assert_non_null(rows);
    cw_code code = CALL(cw_intake_mend(N, WHO, kind, rows, &out, &errors, err));
    cw_error_list_free(&errors);
    json_decref(rows);
    return say_table(w, code, &out);
}
static cw_code mend_history(work *w, cw_error *err)
{
    return mended(
        w, "history",
        "[{\"was\":{\"season\":\"2029\",\"variety\":\"AMB\",\"clumps\":\"20\",\"divisions\":\"90\"}},"
        "{\"now\":{\"season\":\"2030\",\"variety\":\"DOV\",\"clumps\":\"8\",\"divisions\":\"30\"}}]",
        err);
}
static cw_code mend_places(work *w, cw_error *err)
{
    return mended(w, "places",
                  "[{\"was\":{\"place\":\"C1\",\"room\":\"cellar\",\"walk_order\":\"10\"},\"now\":{\"place\":"
                  "\"C2\",\"room\":\"cellar\",\"walk_order\":\"7\"}},"
                  "{\"was\":{\"place\":\"C2\",\"room\":\"cellar\",\"walk_order\":\"20\"},\"now\":{\"place\":"
                  "\"C1\",\"room\":\"cellar\",\"walk_order\":\"8\"}}]",
                  err);
}
static cw_code mend_air(work *w, cw_error *err)
{
    return mended(
        w, "air",
        "[{\"was\":{\"room\":\"cellar\",\"at\":\"2031-12-20T06:00:00Z\",\"temp_c\":\"6\",\"rh\":\"92\"}}]",
        err);
}
static cw_code sample(work *w, cw_error *err)
{
    return CALL(cw_intake_sample(N, WHO, "lots", &w->answer, err));
}
TABLE(today_winter, cw_today_list(N, WHO, "winter", &out, err))
TABLE(today_orders, cw_today_list(N, WHO, "orders", &out, err))
TABLE(today_cellar, cw_today_list(N, WHO, "cellar", &out, err))
TABLE(today_begun, cw_today_begun(N, WHO, &out, err))
TABLE(columns_of_all, cw_intake_columns(NULL, &out, err))
PLAIN(tell, cw_asker_tell(WHO, "reading", 1, 2, err))
static cw_code set_all(work *w, cw_error *err)
{
    static const char *const names[] = { "confidence", "name" }, *const values[] = { "0.8", "Alder Bank" };
    return CALL(cw_nursery_set_all(N, WHO, names, values, 2, err));
}
static cw_code setting_text(work *w, cw_error *err)
{
    char out[CW_MAX_NAME + 1] = "";
    cw_code code = CALL(cw_nursery_setting(N, "timetable", out, sizeof out, err));
    cw_text_add(&w->answer, code == CW_OK ? out : "");
    return code;
}
static cw_code batch(work *w, cw_error *err)
{
    cw_code code = CALL(cw_nursery_batch_begin(N, err));
    if (code != CW_OK)
        return code;
    code = CALL(cw_nursery_set(N, WHO, "confidence", "0.7", err));
    if (code == CW_OK)
        code = CALL(cw_nursery_batch_commit(N, err));
    if (code != CW_OK)
        cw_nursery_batch_drop(N);
    return code;
}

/* ---- answers kept for repeats, keys ---- */
PLAIN(answer_keep, cw_answers_keep(N, "owner:k1", "digest", 201, "{}", w->t.who.now, err))
static void an_answer(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_answers_keep(N, "owner:k1", "digest", 201, "{\"a\":1}", w->t.who.now, &err), &err);
}
static cw_code answer_find(work *w, cw_error *err)
{
    cw_answer a = { .body = NULL };
    bool found = false;
    cw_code code = CALL(cw_answers_find(N, "owner:k1", &found, &a, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%d %s %u %s", found, a.request, a.status, a.body ? a.body : "");
    free(a.body);
    return code;
}
PLAIN(answer_handed, cw_answers_handed(N, WHO, "Pim", "/api/picks", err))
PLAIN(answer_expire, cw_answers_expire(N, w->t.who.now + 100 * CW_DAY_MS, err))
static cw_code any_accounts(work *w, cw_error *err)
{
    bool any = false;
    cw_code code = CALL(cw_accounts_any(N, &any, err));
    cw_text_addf(&w->answer, "%d", any);
    return code;
}
PLAIN(password_worth, cw_accounts_check_password("Pim", SEASON_PASSWORD, err))

static const desk_call file_calls[] = {
    { "next", next_season, no_parcels, 400 },
    ROW(letter),
    ROW(letter_text),
    { "turn_look", turn_look, no_parcels, 400 },
    { "turn_make", turn_make, no_next_file, 400 },
    { "turn_mark", turn_mark, a_made_file, 400 },
    { "turn_told", turn_told },
    { "reopen", reopen, a_next_season },
    { "closed_words", closed_words, a_next_season },
    { "closed_state", closed_state, a_next_season },
    { "prove", prove, a_next_season, 400 },
    AFTER(leave_to_sell, load),
    AFTER(leave_to_sell, order),
    { "sheet_look", sheet_look, NULL, 60, false },
    { "sheet_take", sheet_take, NULL, 60, false },
    { "sheet_look_again", sheet_look, a_kept_fit, 60, false },
    ROW(sheet_answer),
    AFTER(a_kept_fit, sheet_fits),
    AFTER(a_kept_fit, sheet_fit),
    AFTER(a_kept_fit, sheet_rename),
    AFTER(a_kept_fit, sheet_forget),
    ROW(export_list),
    { "export_all", export_all, NULL, 40, false },
    { "export_written", export_written, NULL, 40, false },
    ROW(audit),
    { "workbook", workbook, NULL, 20, false },
    { "backup", backup, NULL, 40, false },
    { "check_all", check_all, NULL, 40, false },
    { "restore", restore, a_copy, 40, false },
    { "open_beside", open_beside, NULL, 40, false },
    { "make_new", make_new, NULL, 40, false },
    ROW(revision),
    ROW(season_now),
    ROW(set),
    ROW(setting),
    ROW(all_settings),
    ROW(columns_of_all),
    ROW(mend_history),
    ROW(mend_places),
    ROW(mend_air),
    ROW(sample),
    ROW(today_winter),
    ROW(today_orders),
    ROW(today_cellar),
    ROW(today_begun),
    ROW(tell),
    ROW(set_all),
    ROW(setting_text),
    ROW(batch),
    ROW(answer_keep),
    AFTER(an_answer, answer_find),
    AFTER(an_answer, answer_expire),
    ROW(answer_handed),
    ROW(any_accounts),
    ROW(password_worth),
};

#endif
