/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/stock/lineage.h"
#include "desk/stock/tracing.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--lot", CW_TEXT_T, "LOT", "who received of this lot", 0, 0, NULL, false },
    { "--order", CW_TEXT_T, "ORDER", "which lots and rows this order came from", 0, 0, NULL, false },
    { "--row", CW_TEXT_T, "ROW", "all that stood in this row of the field", 0, 0, NULL, false },
    { "--tree", CW_BOOL_T, NULL, "what it came from and what came of it, over the years", 0, 0, NULL, false },
    { "--recall", CW_BOOL_T, NULL, "everybody who received of it, or of what descends from it, in one list",
      0, 0, NULL, false },
    { "--season", CW_INT_T, "YEAR", "the lot, row or order is of that season (default: the file's own)", 1900,
      2199, NULL, false },
    { "--past", CW_TEXT_T, "OLD.db", "look into that season's file, too; as often as needed", 0, 0, NULL,
      false, .many = true },
    { "--balance", CW_BOOL_T, NULL, "every variety's way from clumps dug to divisions shipped", 0, 0, NULL,
      false },
    { "--hold", CW_TEXT_T, "REASON", "with --lot: nothing of it may leave any more", 0, 0, NULL, false },
    { "--let-go", CW_BOOL_T, NULL, "with --lot: it may leave again", 0, 0, NULL, false },
    { 0 },
};

enum {
    NODE,
    UNDER,
    SEASON,
    KIND,
    WAY,
    CODE,
    ROW,
    VARIETY,
    NAME,
    WAS,
    DAY,
    QUANTITY,
    SENT,
    SURE,
    HELD,
    FILE_NAME
};

static void add_words(cw_text *out, const cw_table *t, size_t row)
{
    const char *kind = cw_table_text(t, row, KIND), *at = cw_table_text(t, row, ROW);
    bool lot = strcmp(kind, "lot") == 0, known = !cw_table_cell(t, row, DAY)->null;
    int64_t count = cw_table_int(t, row, QUANTITY);
    char day[11] = "";
    if (known)
        cw_day_format((cw_day)cw_table_int(t, row, DAY), day);
    cw_text_addf(out, "%lld  ", (long long)cw_table_int(t, row, SEASON));
    if (lot)
        cw_text_addf(out, "lot %s, ", cw_table_text(t, row, CODE));
    cw_text_addf(out, "%s %s", cw_table_text(t, row, VARIETY), cw_table_text(t, row, NAME));
    if (cw_table_text(t, row, WAS)[0])
        cw_text_addf(out, " (taken for %s first)", cw_table_text(t, row, WAS));
    if (at[0])
        cw_text_addf(out, ", row %s", at);
    if (known && lot)
        cw_text_addf(out, ", %lld clump%s dug on %s", (long long)count, CW_S(count), day);
    else if (known)
        cw_text_addf(out, ", %lld planted on %s", (long long)count, day);
    else
        cw_text_add(out, lot ? ", in a file that is not beside" : ", the lot is not on record");
    if (cw_table_int(t, row, SENT) > 0)
        cw_text_addf(out, ", %lld sent", (long long)cw_table_int(t, row, SENT));
    if (!cw_table_cell(t, row, SURE)->v.i)
        cw_text_add(out, ", may descend: nobody wrote down its lot");
    if (cw_table_text(t, row, HELD)[0])
        cw_text_addf(out, ", held: %s", cw_table_text(t, row, HELD));
    if (strcmp(cw_table_text(t, row, WAY), "asked") == 0)
        cw_text_add(out, "  <- asked for");
}

static cw_code draw(cw_call *call, const cw_table *t, cw_error *err)
{
    cw_text out = CW_TEXT(4 << 20);
    for (size_t row = 0; row < cw_table_rows(t); row++) {
        for (int64_t up = cw_table_int(t, row, UNDER); up > 0; up = cw_table_int(t, (size_t)up - 1, UNDER))
            cw_text_add(&out, "  ");
        add_words(&out, t, row);
        cw_text_add(&out, "\n");
    }
    cw_sink to = cw_call_output(call);
    cw_code code = cw_text_check(&out, err);
    if (code == CW_OK)
        code = to.write(to.self, out.data ? out.data : "", out.length, err);
    cw_text_free(&out);
    return code;
}

/* A notice is made in the file of the season that sent: somebody who reads the list of all years must be told so. */
static void say_how(cw_call *call, const cw_table *t)
{
    int notice = cw_table_column(t, "notice");
    for (size_t row = 0; row < cw_table_rows(t); row++)
        if (t->cells[row * t->width + (size_t)notice].null) {
            cw_call_say(
                call,
                "where there is no notice yet: hold the lot in its own season's file ('clumpwise trace FILE "
                "--lot "
                "LOT --hold WHY'), then 'clumpwise notices FILE' makes one; a closed season takes both");
            return;
        }
}

static cw_code over_years(cw_call *call, cw_nursery *n, const cw_lineage_ask *ask, cw_error *err)
{
    cw_table t = { 0 };
    bool buyers = cw_call_flag(call, "--recall");
    cw_code code = cw_call_past(call, n, err);
    if (code == CW_OK)
        code = buyers ? cw_lineage_buyers(n, &call->who, ask, &t, err)
                      : cw_lineage_tree(n, &call->who, ask, &t, err);
    if (code == CW_OK)
        code = !buyers && call->show == CW_SHOW_PEOPLE ? draw(call, &t, err) : cw_call_show(call, &t, err);
    if (code == CW_OK && buyers && cw_table_rows(&t) == 0)
        cw_call_say(call, "nobody has received of it, or of what descends from it in the files given");
    else if (code == CW_OK && buyers)
        say_how(call, &t);
    cw_table_free(&t);
    return code;
}

static cw_code one_season(cw_call *call, cw_nursery *n, const cw_lineage_ask *ask, cw_error *err)
{
    cw_table t = { 0 };
    bool balance = cw_call_flag(call, "--balance");
    cw_code code = balance    ? cw_tracing_balance(n, &call->who, &t, err)
                   : ask->lot ? cw_tracing_lot(n, &call->who, ask->lot, &t, err)
                              : cw_tracing_order(n, &call->who, ask->order, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && !balance && cw_table_rows(&t) == 0)
        cw_call_say(call,
                    ask->lot ? "nothing of lot %s has been picked" : "nothing of order %s has been picked",
                    ask->lot ? ask->lot : ask->order);
    cw_table_free(&t);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    const cw_lineage_ask ask = { cw_call_text(call, "--lot", NULL), cw_call_text(call, "--row", NULL),
                                 cw_call_text(call, "--order", NULL), (int)cw_call_int(call, "--season", 0) };
    const char *hold = cw_call_text(call, "--hold", NULL);
    bool let_go = cw_call_flag(call, "--let-go"), balance = cw_call_flag(call, "--balance");
    bool years = cw_call_flag(call, "--tree") || cw_call_flag(call, "--recall");
    if ((ask.lot != NULL) + (ask.row != NULL) + (ask.order != NULL) + balance != 1)
        return cw_error_set(err, CW_USAGE, "name a lot, a row, or an order, or ask for the balance");
    if (cw_call_flag(call, "--tree") && cw_call_flag(call, "--recall"))
        return cw_error_set(err, CW_USAGE, "--tree and --recall: choose one");
    if (!years && (ask.row || ask.season || call->manies))
        return cw_error_set(err, CW_USAGE, "--row, --season and --past go with --tree or --recall");
    if (years && balance)
        return cw_error_set(err, CW_USAGE, "--tree and --recall go with a lot, a row or an order");
    if ((hold || let_go) && (ask.lot == NULL || years || (hold && let_go)))
        return cw_error_set(err, CW_USAGE, "--hold or --let-go goes with --lot");
    cw_code code = cw_call_open(call, hold || let_go ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK && (hold || let_go))
        code = cw_tracing_hold(n, &call->who, ask.lot, hold, err);
    if (code == CW_OK)
        code = years ? over_years(call, n, &ask, err) : one_season(call, n, &ask, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_trace[] = {
    {
        "trace",
        "NURSERY.db",
        "lot to orders and parcels, order back to rows",
        "Follows a lot to every order, parcel and buyer that received of it, or an order back to the lots "
        "and rows that it came from, for a mislabelled or sick row. --balance tells every variety's way from "
        "clumps dug to divisions shipped. --hold keeps what is left of a lot in the cellar. --tree and "
        "--recall follow it over the years: to the row that it was dug of, the lot that was planted there, "
        "and whatever was dug and planted since. Name the files of past seasons by --past. What nobody wrote "
        "down is followed by its variety, and marked as not sure.",
        "clumpwise trace season2032.db --past season2031.db --row R14 --recall",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
