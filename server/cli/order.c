/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/limits.h"
#include "desk/share/allotting.h"
#include "desk/orders/clearing.h"
#include "desk/orders/correcting.h"
#include "desk/orders/ordering.h"
#include "desk/ship/overruling.h"
#include <string.h>

#include "base/banned.h"

/* The order desk on the command line. */
static const cw_option options[] = {
    { "--line", CW_INT_T, "N", "the line (cancel: without it the whole order)", 1, 1000000, NULL, false },
    { "--quantity", CW_INT_T, "N", "how many", -CW_MAX_DIVISIONS, CW_MAX_DIVISIONS, NULL, false },
    { "--variety", CW_TEXT_T, "CODE", "the variety to take back, or to find orders of", 0, 0, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "the reason, for the record; every change needs one", 0, 0, NULL, false },
    { "--rule", CW_TEXT_T, "RULE",
      "overrule, heed: what keeps the order back, where it goes (the owner's alone) or a frost hold", 0, 0,
      cw_words_overruled_rules, false },
    { "--state", CW_TEXT_T, "STATE", "find: only orders in this state", 0, 0, cw_words_order_states, false },
    { "--page", CW_INT_T, "N", "find: the page, of 50 orders", 1, 1000000, NULL, false },
    { "--supply", CW_TEXT_T, "SUPPLY", "short, hit: what there is (default: the setting)", 0, 0,
      cw_words_supplies, false },
    { "--confidence", CW_REAL_T, "P", "how sure a projected supply is to be there (default: the setting)",
      0.01, 0.9999, NULL, false },
    { 0 },
};

static cw_code find_orders(cw_call *call, cw_nursery *n, const char *text, cw_error *err)
{
    cw_table t = { 0 };
    bool more = false;
    cw_ordering_query q = { .text = text,
                            .variety = cw_call_text(call, "--variety", NULL),
                            .state = cw_call_text(call, "--state", NULL),
                            .page = cw_call_int(call, "--page", 1) };
    cw_code code = cw_call_show_take(call, cw_ordering_find(n, &call->who, &q, &t, &more, err), &t, err);
    if (code == CW_OK && more)
        cw_call_say(call, "more orders follow: --page %lld", (long long)q.page + 1);
    return code;
}

static cw_code show_order(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    cw_table t = { 0 };
    json_t *sheet = NULL;
    if (call->show != CW_SHOW_JSON)
        return cw_call_show_take(call, cw_ordering_lines(n, &call->who, order, &t, err), &t, err);
    cw_code code = cw_ordering_sheet(n, &call->who, order, &sheet, err);
    if (code == CW_OK)
        code = cw_call_show_json(call, sheet, err);
    json_decref(sheet);
    return code;
}

static cw_code cancel(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    cw_table lying = { 0 };
    int line = (int)cw_call_int(call, "--line", 0);
    cw_code code = cw_clearing_lying(n, &call->who, order, line, &lying, err);
    if (code == CW_OK)
        code = cw_ordering_cancel(n, &call->who, order, line, cw_call_text(call, "--why", ""), err);
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&lying); i++)
        cw_call_say(call, "%s", cw_table_text(&lying, i, cw_table_column(&lying, "sentence")));
    cw_table_free(&lying);
    return code == CW_OK ? show_order(call, n, order, err) : code;
}

/* The options that an action cannot do without. */
static cw_code need(const cw_call *call, const char *const *names, cw_error *err)
{
    for (; *names; names++)
        if (!cw_call_given(call, *names))
            return cw_error_set(err, CW_USAGE, "this needs %s", *names);
    return CW_OK;
}

static cw_code change(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    static const char *const needs[] = { "--line", "--quantity", "--why", NULL };
    cw_code code = need(call, needs, err);
    if (code == CW_OK)
        code = cw_ordering_change(n, &call->who, order, (int)cw_call_int(call, "--line", 0),
                                  cw_call_int(call, "--quantity", 0), cw_call_text(call, "--why", ""), err);
    return code == CW_OK ? show_order(call, n, order, err) : code;
}

static cw_code take_back(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    static const char *const needs[] = { "--line", "--variety", "--quantity", "--why", NULL };
    cw_code code = need(call, needs, err);
    if (code == CW_OK)
        code = cw_allotting_take_back(n, &call->who, order, (int)cw_call_int(call, "--line", 0),
                                      cw_call_text(call, "--variety", ""), cw_call_int(call, "--quantity", 0),
                                      cw_call_text(call, "--why", ""), err);
    return code == CW_OK ? show_order(call, n, order, err) : code;
}

static cw_code oversell(cw_call *call, cw_nursery *n, const char *variety, cw_error *err)
{
    static const char *const needs[] = { "--quantity", "--why", NULL };
    int64_t left = 0;
    cw_code code = need(call, needs, err);
    if (code == CW_OK)
        code = cw_ordering_oversell(n, &call->who, variety, cw_call_int(call, "--quantity", 0),
                                    cw_call_text(call, "--why", ""), &left, err);
    if (code == CW_OK)
        cw_call_say(call, "%lld of %s may still be sold", (long long)left, variety);
    return code;
}

static cw_code say_paid(cw_call *call, cw_nursery *n, const char *order, const char *word, cw_error *err)
{
    json_t *tells = NULL, *one;
    size_t i;
    cw_correcting_ask ask = { .paid = word, .why = cw_call_text(call, "--why", NULL) };
    cw_code code = cw_correcting_set(n, &call->who, order, &ask, &tells, err);
    json_array_foreach(tells, i, one) cw_call_say(call, "%s", json_string_value(one));
    json_decref(tells);
    return code == CW_OK ? show_order(call, n, order, err) : code;
}

static cw_code paid(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    return say_paid(call, n, order, "yes", err);
}

static cw_code unpaid(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    return say_paid(call, n, order, "no", err);
}

static cw_overrule rule_of(const cw_call *call)
{
    return strcmp(cw_call_text(call, "--rule", ""), "frost") == 0 ? CW_OVERRULE_FROST
                                                                  : CW_OVERRULE_DESTINATION;
}

static cw_code overrule(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    static const char *const needs[] = { "--rule", "--why", NULL };
    cw_code code = need(call, needs, err);
    if (code == CW_OK)
        code = cw_overruling_set(n, &call->who, order, rule_of(call), cw_call_text(call, "--why", ""), err);
    if (code == CW_OK)
        cw_call_say(call, "order %s may go now in spite of %s", order,
                    rule_of(call) == CW_OVERRULE_FROST ? "its frost holds" : "where it goes");
    return code;
}

static cw_code heed(cw_call *call, cw_nursery *n, const char *order, cw_error *err)
{
    static const char *const needs[] = { "--rule", NULL };
    cw_code code = need(call, needs, err);
    if (code == CW_OK)
        code = cw_overruling_set(n, &call->who, order, rule_of(call), NULL, err);
    if (code == CW_OK)
        cw_call_say(call, "order %s is kept back again by %s", order,
                    rule_of(call) == CW_OVERRULE_FROST ? "its frost holds" : "where it goes");
    return code;
}

/* The supply that was asked for; NULL: as the settings say. */
static const cw_allotting_basis *basis_of(const cw_call *call, cw_allotting_basis *out)
{
    *out = (cw_allotting_basis){ strcmp(cw_call_text(call, "--supply", "counted"), "projected") == 0,
                                 cw_call_real(call, "--confidence", 0) };
    return cw_call_given(call, "--supply") ? out : NULL;
}

static cw_code list_short(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_table t = { 0 };
    cw_allotting_basis basis;
    (void)name;
    return cw_call_show_take(call, cw_allotting_short(n, &call->who, basis_of(call, &basis), &t, err), &t,
                             err);
}

static cw_code list_hit(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_table t = { 0 };
    cw_allotting_basis basis;
    (void)name;
    return cw_call_show_take(call, cw_allotting_hit(n, &call->who, basis_of(call, &basis), &t, err), &t, err);
}

static cw_code list_waiting(cw_call *call, cw_nursery *n, const char *variety, cw_error *err)
{
    cw_table t = { 0 };
    return cw_call_show_take(call, cw_allotting_waitlist(n, &call->who, variety, &t, err), &t, err);
}

static cw_code list_runs(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_table t = { 0 };
    (void)name;
    return cw_call_show_take(call, cw_allotting_runs(n, &call->who, &t, err), &t, err);
}

static const cw_action actions[] = {
    { "find", 1, CW_LOOK, find_orders },
    { "show", 1, CW_LOOK, show_order },
    { "cancel", 1, CW_WORK, cancel },
    { "change", 1, CW_WORK, change },
    { "take-back", 1, CW_WORK, take_back },
    { "oversell", 1, CW_WORK, oversell },
    { "paid", 1, CW_WORK, paid },
    { "unpaid", 1, CW_WORK, unpaid },
    { "overrule", 1, CW_WORK, overrule },
    { "heed", 1, CW_WORK, heed },
    { "short", 0, CW_LOOK, list_short },
    { "hit", 0, CW_LOOK, list_hit },
    { "waiting", 1, CW_LOOK, list_waiting },
    { "runs", 0, CW_LOOK, list_runs },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    return cw_call_action(
        call, actions,
        "order does: find TEXT, show ORDER, cancel ORDER, change ORDER, take-back ORDER, "
        "oversell CODE, paid ORDER, unpaid ORDER, overrule ORDER, heed ORDER, short, hit, waiting CODE, runs",
        err);
}

const cw_verb cw_verbs_order[] = {
    {
        "order",
        "NURSERY.db find TEXT|show ORDER|cancel ORDER|change ORDER|take-back ORDER|oversell CODE|paid "
        "ORDER|unpaid ORDER|overrule ORDER|heed ORDER|short|hit|waiting CODE|runs",
        "the order desk: find, tell, change, who is short, who is next",
        "Finds an order by number, name, e-mail or postcode; shows what becomes of each of its lines, in a "
        "sentence; cancels an order or a line, changes what a line asks, takes back a promise, lets the "
        "owner allow more to be sold than is offered, all with a reason on record; says that an order is "
        "paid, or is not. 'overrule' lets one order go in spite of a frost hold, or (the owner alone) of a "
        "blocked destination, 'heed' takes that back. 'short' lists the varieties that are short, most harm "
        "first; 'hit' the promises that stock no longer covers, least harm first; 'waiting' who is next for "
        "a variety; 'runs' what was made firm.",
        "clumpwise order season2031.db cancel 2031-0002 --line 2 --why 'changed her mind'",
        options,
        2,
        3,
        run,
    },
    { 0 },
};
