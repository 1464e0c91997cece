/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_ORDERS_H
#define CW_TESTS_FAULT_DESK_ORDERS_H

/* Orders, who gets what, and what buyers are told. */
#include "desk_call.h"

#include "desk/intake/intake.h"
#include "desk/share/arriving.h"
#include "desk/share/allotting.h"
#include "desk/stock/catalogue.h"
#include "desk/buyers/claims.h"
#include "desk/orders/adding.h"
#include "desk/orders/correcting.h"
#include "desk/orders/joining.h"
#include "desk/nursery/past.h"
#include "desk/buyers/forgetting.h"
#include "desk/orders/notices.h"
#include "desk/orders/ordering.h"
#include "desk/orders/rest.h"
#include "desk/share/substituting.h"
#include "desk/stock/merging.h"
#include "desk/stock/naming.h"
#include "desk/stock/splitting.h"
#include "desk/stock/lineage.h"
#include "desk/stock/tracing.h"

/* ---- allotting, substituting ---- */
static const cw_allotting_ask three_rules = { 0 };
static const cw_allotting_ask one_variety = { .variety = "AMB", .projected = true, .confidence = 0.8 };
static const cw_allotting_ask pro_rata = { .rule = "pro-rata" };

static cw_code preview_of_all(work *w, cw_error *err)
{
    cw_allotting *a = NULL;
    cw_table totals = { 0 }, lines = { 0 }, below = { 0 }, changes = { 0 }, sums = { 0 };
    cw_allotting_ask as_set;
    cw_allotting_before before = { 0 };
    size_t same = 0;
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
        code = CALL(cw_allotting_sums(a, &sums, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_default(N, &as_set, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_before_set(&before, "AMB", "1001", 1, "pro-rata", 1, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_changes(a, &before, 1, &changes, &same, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_write(a, true, 0, cw_sink_text(&csv), err));
    if (code == CW_OK) {
        assert_false(csv.failed);
        cw_text_addf(&w->answer, "%s %s", cw_allotting_digest(a), csv.data);
    }
    cw_text_free(&csv);
    code = say_table(w, code, &totals);
    code = say_table(w, code, &lines);
    code = say_table(w, code, &below);
    code = say_table(w, code, &changes);
    code = say_table(w, code, &sums);
    cw_allotting_free(a);
    return code;
}

static cw_code preview_of_one(work *w, cw_error *err)
{
    cw_allotting *a = NULL;
    cw_table lines = { 0 };
    cw_text document = CW_TEXT(1 << 20);
    cw_code code = CALL(cw_allotting_preview(N, WHO, &one_variety, &a, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_variety_lines(a, &lines, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_document(N, a, cw_sink_text(&document), err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%s", document.data);
    cw_text_free(&document);
    code = say_table(w, code, &lines);
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

/* ---- the order desk, tracing, catalogue ---- */
static cw_code find(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_ordering_query q = { .text = "example", .page = 1 };
    bool more = false;
    cw_code code = CALL(cw_ordering_find(N, WHO, &q, &out, &more, err));
    return say_table(w, code, &out);
}
TABLE(buyers, cw_ordering_buyers(N, WHO, "example", &out, err))
JSON(order_sheet, cw_ordering_sheet(N, WHO, "1002", &out, err))
PLAIN(cancel, cw_ordering_cancel(N, WHO, "2001", 0, "changed their mind", err))
static cw_code correction(work *w, cw_error *err)
{
    json_t *tells = NULL;
    cw_correcting_ask ask = {
        .customer = "Ada Otherwise", .country = "CA", .wish_week = "2032-W19", .consent = "none"
    };
    cw_code code = CALL(cw_correcting_set(N, WHO, "1002", &ask, &tells, err));
    return say_json(w, code, tells);
}
PLAIN(change, cw_ordering_change(N, WHO, "1005", 1, 2, "one more", err))
NUMBER(oversell, int64_t, cw_ordering_oversell(N, WHO, "AMB", 5, "late lots", &out, err))
TABLE(trace_lot, cw_tracing_lot(N, WHO, "L1", &out, err))
TABLE(trace_order, cw_tracing_order(N, WHO, "1001", &out, err))
TABLE(past_files, cw_past_files(N, &out, err))
TABLE(lineage_tree, cw_lineage_tree(N, WHO, &(cw_lineage_ask){ .lot = "L1" }, &out, err))
TABLE(lineage_buyers, cw_lineage_buyers(N, WHO, &(cw_lineage_ask){ .order = "1001" }, &out, err))
static cw_code lineage_told(work *w, cw_error *err)
{
    json_t *told = NULL;
    cw_code code = CALL(cw_lineage_told(N, WHO, &(cw_lineage_ask){ .lot = "L1" }, &told, err));
    return say_json(w, code, told);
}
TABLE(balance, cw_tracing_balance(N, WHO, &out, err))
PLAIN(hold_lot, cw_tracing_hold(N, WHO, "M3", "gall", err))
TABLE(rename_variety, cw_naming_rename_variety(N, WHO, "CIN", "CINDER", "a label", true, &out, err))
TABLE(merge_varieties, cw_merging_merge(N, WHO, "CIN", "DOV", "one plant", true, &out, err))
static void cin_is_dov(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_check_ok(cw_merging_merge(N, WHO, "CIN", "DOV", "one plant", true, &out, &err), &err);
    cw_table_free(&out);
}
TABLE(part_varieties, cw_merging_undo(N, WHO, "CIN", "two plants", true, &out, err))
TABLE(merged, cw_merging_all(N, WHO, &out, err))
TABLE(relabel_lot, cw_naming_relabel_lot(N, WHO, "M4", "CIN", "a stake", true, &out, err))
TABLE(split_lot, cw_splitting_lot(N, WHO, &(cw_split){ "M4", "CIN", "M4B", CW_NO_DAY, 1, 2, "a stake" }, true,
                                  &out, err))
TABLE(former_codes, cw_naming_former_codes(N, WHO, &out, err))
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
static cw_code forget_old(work *w, cw_error *err)
{
    cw_asker later = w->t.who;
    cw_table out = { 0 };
    later.today += 400;
    cw_code code = CALL(cw_forgetting(N, &later, &(cw_forget_ask){ .before = later.today }, &out, err));
    return say_table(w, code, &out);
}
static void somebody_is_forgotten(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    order_1001_only(w);
    cw_check_ok(cw_forgetting(N, WHO, &(cw_forget_ask){ .customer = "gus@example.org" }, &out, &err), &err);
    cw_table_free(&out);
}
PLAIN(forget_wipe, cw_forgetting_wipe(N, WHO->now, err))

static void a_run(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_allotting_done done = { 0 };
    cw_allotting *shown = NULL;
    cw_check_ok(cw_allotting_commit(N, WHO, &pro_rata, NULL, &done, &shown, &err), &err);
    cw_allotting_free(shown);
    assert_true(done.placed > 0);
    w->id = done.run;
}
static cw_code undo_run(work *w, cw_error *err)
{
    cw_allotting_undone done = { 0 };
    cw_code code = CALL(cw_allotting_undo(N, WHO, w->id, "a run too many", &done, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld %lld", (long long)done.lines, (long long)done.divisions);
    return code;
}
NUMBER(arriving_mark, int64_t, cw_arriving_mark(N, &out, err))
/* An order of which one line finds enough and the other waits; w->id: the mark before it came. */
static void late_order(work *w)
{
    cw_error err = CW_ERROR_NONE;
    json_t *answer = NULL;
    json_t *order =
        json_pack("{s:s,s:[{s:s,s:i,s:s},{s:s,s:i,s:s}]}", "order", "9001", "lines", "variety", "BRI",
                  "quantity", 1, "unit_price", "8.00", "variety", "DOV", "quantity", 1, "unit_price", "8.00");
    a_run(w);
    leave_to_sell(w);
    cw_check_ok(cw_arriving_mark(N, &w->id, &err), &err);
    assert_true(w->id > 0);
    cw_check_ok(cw_intake_order(N, WHO, order, &answer, &err), &err);
    json_decref(order);
    json_decref(answer);
}
static cw_code arriving(work *w, cw_error *err)
{
    cw_arriving_done done = { 0 };
    json_t *told = json_object();
    assert_non_null(told);
    cw_code code = CALL(cw_arriving_promise(N, WHO, w->id, 1, told, &done, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld %lld %lld ", (long long)done.run, (long long)done.firm,
                     (long long)done.waiting);
    return say_json(w, code, told);
}
static cw_code place_in_queue(work *w, cw_error *err)
{
    bool shared = false;
    int place = 0, of = 0;
    cw_code code = CALL(cw_allotting_place(N, WHO, "BRI", "9001", 1, &shared, &place, &of, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%d %d %d", shared, place, of);
    return code;
}
static cw_code changes_since(work *w, cw_error *err)
{
    cw_allotting *a = NULL;
    cw_table out = { 0 };
    cw_allotting_before before[2];
    size_t same = 0;
    cw_code code = CALL(cw_allotting_before_set(&before[0], "AMB", "1002", 1, "pro-rata", 1, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_before_set(&before[1], "BRI", "2002", 1, "first-come", 9, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_preview(N, WHO, &three_rules, &a, err));
    if (code == CW_OK)
        code = CALL(cw_allotting_changes(a, before, 2, &out, &same, err));
    cw_allotting_free(a);
    cw_text_addf(&w->answer, "%zu ", same);
    return say_table(w, code, &out);
}
TABLE(order_lines, cw_ordering_lines(N, WHO, "1002", &out, err))
PLAIN(ban, cw_substituting_ban(N, WHO, "2002", 1, "DOV", "never", err))
static void banned_dov(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_substituting_ban(N, WHO, "2002", 1, "DOV", "never", &err), &err);
}
TABLE(banned, cw_substituting_banned(N, WHO, &out, err))
PLAIN(permit, cw_substituting_permit(N, WHO, "2002", 1, "DOV", "after all", err))

/* ---- notices, claims ---- */
static cw_code notices_make(work *w, cw_error *err)
{
    cw_notices_made made = { 0 };
    cw_code code = CALL(cw_notices_make(N, WHO, &made, err));
    cw_text_addf(&w->answer, "%lld %lld %lld", (long long)made.made, (long long)made.kept,
                 (long long)made.withdrawn);
    return code;
}
/* A lot is held that a buyer was sent, so that there is something to tell. */
static void a_recall(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_tracing_hold(N, WHO, "L1", "gall", &err), &err);
}
static void due_notices(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_notices_made made = { 0 };
    a_recall(w);
    cw_check_ok(cw_ordering_cancel(N, WHO, "2001", 0, "changed their mind", &err), &err);
    cw_check_ok(cw_nursery_set(N, WHO, "sender", "office@example.org", &err), &err);
    cw_check_ok(cw_notices_make(N, WHO, &made, &err), &err);
    assert_true(made.made > 0);
    w->id = number_of(
        &w->t,
        "SELECT n.id FROM notice n JOIN orders o ON o.id = n.order_id WHERE o.number = '2001' LIMIT 1");
}
TABLE(notices_show, cw_notices_show(N, WHO, "due", CW_NO_DAY, &out, err))
PLAIN(notice_sent, cw_notices_sent(N, WHO, w->id, "by mail, kept", err))
PLAIN(notice_drop, cw_notices_drop(N, WHO, w->id, "told by phone", err))
static cw_code notices_caution(work *w, cw_error *err)
{
    char out[600] = "";
    cw_code code = CALL(cw_notices_caution(N, out, sizeof out, err));
    cw_text_add(&w->answer, code == CW_OK ? out : "");
    return code;
}
TABLE(notices_merge, cw_notices_merge(N, WHO, "due", CW_NO_DAY, &out, err))
static cw_code notice_message(work *w, cw_error *err)
{
    cw_text out = CW_TEXT(1000000);
    cw_code code = CALL(cw_notices_message(N, WHO, w->id, &out, err));
    if (code == CW_OK)
        cw_text_addn(&w->answer, out.data, out.length);
    cw_text_free(&out);
    return code;
}
static cw_code notices_numbers(work *w, cw_error *err)
{
    int64_t *ids = NULL;
    size_t n = 0;
    cw_code code = CALL(cw_notices_numbers(N, "due", CW_NO_DAY, &ids, &n, err));
    for (size_t i = 0; code == CW_OK && i < n; i++)
        cw_text_addf(&w->answer, "%lld ", (long long)ids[i]);
    free(ids);
    return code;
}
TABLE(templates, cw_notices_templates(N, &out, err))
PLAIN(template_set, cw_notices_template_set(N, WHO, "short", NULL, "Order {order}",
                                            "Dear {customer}, {quantity} short.", err))
JSON(template_preview,
     cw_notices_preview(N, WHO, "delay", "de", "{order}", "{promised} {expected}", 0, &out, err))
JSON(notice_preview, cw_notices_preview(N, WHO, "cancelled", NULL, NULL, NULL, w->id, &out, err))
TABLE(rests, cw_rest_list(N, WHO, &out, err))
static const cw_adding_ask one_more = { .variety = "AMB", .quantity = 1, .unit_price = 650 };
JSON(add_line, cw_adding_line(N, WHO, "2001", &one_more, &out, err))
/* Two orders that are one buyer's. */
static void one_buyer(work *w)
{
    cw_error err = CW_ERROR_NONE;
    for (size_t i = 0; i < 2; i++) {
        json_t *tells = NULL;
        const cw_correcting_ask mail = { .email = "ada@example.org",
                                         .street = "",
                                         .town = "",
                                         .postcode = "",
                                         .country = "US",
                                         .region = "",
                                         .paid = "" };
        cw_check_ok(cw_correcting_set(N, WHO, i ? "2002" : "2001", &mail, &tells, &err), &err);
        json_decref(tells);
    }
}
static void one_merged(work *w)
{
    cw_error err = CW_ERROR_NONE;
    json_t *tells = NULL;
    one_buyer(w);
    cw_check_ok(cw_joining_set(N, WHO, "2001", "2002", CW_MERGE, &tells, &err), &err);
    json_decref(tells);
}
TABLE(other_orders, cw_joining_beside(N, WHO, "2001", &out, err))
JSON(merge, cw_joining_set(N, WHO, "2001", "2002", CW_MERGE, &out, err))
JSON(unmerge, cw_joining_set(N, WHO, "2001", "2002", CW_UNMERGE, &out, err))
JSON(together, cw_joining_set(N, WHO, "2001", "2002", CW_TOGETHER, &out, err))
static cw_code rest_close(work *w, cw_error *err)
{
    cw_rest_done done;
    cw_code code = CALL(cw_rest_close(N, WHO, (const char *[]){ "2001" }, 1, "frost", &done, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld", (long long)done.divisions);
    return code;
}
static cw_code rest_settle(work *w, cw_error *err)
{
    cw_rest_settled done = { 0 };
    const cw_rest_item item = { .order = "1002", .line = 1 };
    cw_code code = CALL(cw_rest_settle(N, WHO, &item, 1, "frost", &done, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld %lld", (long long)done.refunded, (long long)done.refund);
    return code;
}
PLAIN(notices_sent, cw_notices_sent_all(N, WHO, &w->id, 1, "merge", err))
TABLE(refunds, cw_notices_refunds(N, WHO, true, &out, err))
static const cw_claim_ask soft = {
    .order = "1001", .line = 1, .quantity = 1, .why = "soft", .answer = "replace"
};
static const cw_claim_ask open_claim = { .order = "1001", .line = 1, .quantity = 1, .why = "soft" };
NUMBER(claim, int64_t, cw_claims_add(N, WHO, &soft, &out, err))
static void a_claim(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_check_ok(cw_claims_add(N, WHO, &open_claim, &w->id, &err), &err);
}
static cw_code claim_parcel(work *w, cw_error *err)
{
    cw_claims_done done;
    cw_claim_ask as = { .why = "frozen", .answer = "refund" };
    cw_code code = CALL(cw_claims_parcel(N, WHO, w->id, &as, &done, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld", (long long)done.divisions);
    return code;
}
static void parcel_that_left(work *w)
{
    w->id = number_of(&w->t, "SELECT MIN(id) FROM parcel WHERE state = 'shipped'");
}
PLAIN(claim_answer, cw_claims_answer(N, WHO, w->id, "refund", NULL, "sorry", err))
TABLE(claims, cw_claims_list(N, WHO, NULL, &out, err))

static const desk_call order_calls[] = {
    ROW(preview_of_all),
    ROW(preview_of_one),
    ROW(allot),
    ROW(take_back),
    AFTER(find_few, hit),
    ROW(shorts_now),
    ROW(waitlist),
    ROW(arriving_mark),
    AFTER(late_order, arriving),
    AFTER(late_order, place_in_queue),
    ROW(runs),
    ROW(substitutes),
    ROW(substitute),
    ROW(find),
    ROW(buyers),
    ROW(order_sheet),
    ROW(cancel),
    ROW(correction),
    ROW(add_line),
    AFTER(one_buyer, other_orders),
    AFTER(one_buyer, merge),
    AFTER(one_merged, unmerge),
    AFTER(one_buyer, together),
    ROW(rests),
    ROW(rest_close),
    ROW(rest_settle),
    AFTER(leave_to_sell, change),
    ROW(oversell),
    ROW(trace_lot),
    ROW(trace_order),
    ROW(past_files),
    ROW(lineage_tree),
    ROW(lineage_buyers),
    ROW(lineage_told),
    ROW(balance),
    ROW(hold_lot),
    ROW(rename_variety),
    ROW(relabel_lot),
    ROW(split_lot),
    ROW(former_codes),
    ROW(merge_varieties),
    AFTER(cin_is_dov, part_varieties),
    ROW(merged),
    ROW(catalogue),
    ROW(catalogue_change),
    ROW(forget_look),
    AFTER(order_1001_only, forget),
    AFTER(order_1001_only, forget_old),
    AFTER(somebody_is_forgotten, forget_wipe),
    AFTER(a_run, undo_run),
    ROW(changes_since),
    ROW(order_lines),
    ROW(ban),
    AFTER(banned_dov, banned),
    AFTER(banned_dov, permit),
    AFTER(a_recall, notices_make),
    AFTER(due_notices, notices_show),
    AFTER(due_notices, notice_sent),
    AFTER(due_notices, notice_drop),
    AFTER(due_notices, notices_sent),
    ROW(notices_caution),
    AFTER(due_notices, notices_merge),
    AFTER(due_notices, notice_message),
    AFTER(due_notices, notices_numbers),
    ROW(templates),
    ROW(template_set),
    ROW(template_preview),
    AFTER(due_notices, notice_preview),
    ROW(refunds),
    ROW(claim),
    AFTER(a_claim, claim_answer),
    AFTER(parcel_that_left, claim_parcel),
    AFTER(a_claim, claims),
};

#endif
