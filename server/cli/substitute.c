/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/share/allotting.h"
#include "desk/share/substituting.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--supply", CW_TEXT_T, "SUPPLY",
      "what there is: counted now, or projected for the shipping day (default: the setting)", 0, 0,
      cw_words_supplies, false },
    { "--confidence", CW_REAL_T, "P", "how sure a projected supply is to be there (default: the setting)",
      0.01, 0.9999, NULL, false },
    { "--forbid", CW_TEXT_T, "ORDER/LINE/CODE", "what it would cost not to give this line this substitute", 0,
      0, NULL, false },
    { "--ban", CW_TEXT_T, "ORDER/LINE/CODE",
      "never give this line this substitute, whatever the buyer allows; needs --why", 0, 0, NULL, false },
    { "--permit", CW_TEXT_T, "ORDER/LINE/CODE", "allow what --ban forbade; needs --why", 0, 0, NULL, false },
    { "--banned", CW_BOOL_T, NULL, "what is forbidden to lines of open orders, by whom and why", 0, 0, NULL,
      false },
    { "--why", CW_TEXT_T, "TEXT", "with --ban and --permit: the reason, kept on record", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL, "make the choice firm", 0, 0, NULL, false },
    { "--digest", CW_TEXT_T, "HEX",
      "with --commit: only if nothing changed since the preview with this digest", 0, 0, NULL, false },
    { 0 },
};

static cw_code show(cw_call *call, const cw_substituting *s, cw_error *err)
{
    cw_table t = { 0 };
    cw_substituting_totals sum;
    char extra[24], how[120] = "; proven the best";
    cw_code code = cw_substituting_lines(s, call->show == CW_SHOW_PEOPLE, &t, err);
    code = cw_call_show_take(call, code, &t, err);
    cw_substituting_total(s, &sum);
    cw_cents_format(sum.extra, extra);
    if (!sum.sound)
        cw_copy(how, sizeof how, "; THE PROOF DOES NOT HOLD, please report it");
    else if (!sum.proven)
        snprintf(
            how, sizeof how,
            "; too many lines take all or nothing to prove it the best: no plan could place more than %lld",
            (long long)sum.at_most);
    if (code == CW_OK)
        cw_call_say(call, "placed %lld of %lld short, distance %lld, extra cost %s%s", (long long)sum.placed,
                    (long long)sum.short_, (long long)sum.distance, extra, how);
    return code;
}

/* A line and a variety: "2031-0006/4/WIZBO"; an order number may hold a slash itself. */
typedef struct named {
    char order[CW_MAX_CODE + 1];
    int line;
    const char *variety; /* the call's */
} named;

static cw_code read_named(const cw_call *call, const char *option, named *out, cw_error *err)
{
    const char *text = cw_call_text(call, option, "");
    const char *code_at = strrchr(text, '/'), *line_at = code_at;
    int64_t line = 0;
    while (line_at && line_at > text && line_at[-1] != '/')
        line_at--;
    if (!line_at || line_at <= text || (size_t)(line_at - 1 - text) > CW_MAX_CODE ||
        !cw_parse_int(line_at, (size_t)(code_at - line_at), 1, INT32_MAX, &line))
        return cw_error_set(err, CW_USAGE, "%s takes ORDER/LINE/CODE, not %.60s", option, text);
    memcpy(out->order, text, (size_t)(line_at - 1 - text));
    out->order[line_at - 1 - text] = '\0';
    out->line = (int)line;
    out->variety = code_at + 1;
    return CW_OK;
}

static cw_code forbid(cw_call *call, const cw_substituting *s, cw_error *err)
{
    char sentence[CW_SUBSTITUTING_SENTENCE];
    cw_substituting_totals change;
    named at;
    cw_code code = read_named(call, "--forbid", &at, err);
    if (code == CW_OK)
        code = cw_substituting_forbid(s, at.order, at.line, at.variety, &change, sentence, err);
    if (code == CW_OK)
        cw_call_say(call, "%s", sentence);
    return code;
}

/* Forbids a substitute on record, or permits it again. */
static cw_code decide(cw_call *call, bool ban, cw_error *err)
{
    const char *why = cw_call_text(call, "--why", NULL);
    cw_nursery *n = NULL;
    named at;
    cw_code code = read_named(call, ban ? "--ban" : "--permit", &at, err);
    if (code == CW_OK)
        code = cw_call_open(call, CW_WORK, &n, err);
    if (code == CW_OK)
        code = ban ? cw_substituting_ban(n, &call->who, at.order, at.line, at.variety, why, err)
                   : cw_substituting_permit(n, &call->who, at.order, at.line, at.variety, why, err);
    if (code == CW_OK)
        cw_call_say(call,
                    ban ? "order %s line %d gets no %s from now on" : "order %s line %d may get %s again",
                    at.order, at.line, at.variety);
    cw_nursery_close(n);
    return code;
}

static cw_code show_banned(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    cw_code code = cw_call_open(call, CW_LOOK, &n, err);
    if (code == CW_OK)
        code = cw_substituting_banned(n, &call->who, &t, err);
    code = cw_call_show_take(call, code, &t, err);
    cw_nursery_close(n);
    return code;
}

static cw_code work(cw_call *call, cw_nursery *n, bool firm, cw_error *err)
{
    cw_substituting *s = NULL;
    cw_substituting_done done = { 0 };
    cw_allotting_ask set;
    cw_code code = cw_allotting_default(n, &set, err);
    if (cw_call_given(call, "--supply"))
        set.projected = strcmp(cw_call_text(call, "--supply", ""), "projected") == 0;
    cw_substituting_ask ask = { set.projected, cw_call_real(call, "--confidence", 0) };
    if (code == CW_OK)
        code = firm ? cw_substituting_commit(n, &call->who, &ask, cw_call_text(call, "--digest", NULL), &done,
                                             &s, err)
                    : cw_substituting_preview(n, &call->who, &ask, &s, err);
    if (code == CW_OK)
        code = show(call, s, err);
    if (code == CW_OK && cw_call_given(call, "--forbid"))
        code = forbid(call, s, err);
    if (code == CW_OK && firm)
        cw_call_say(call, "run %lld: made firm; digest %s", (long long)done.run, done.digest);
    else if (code == CW_OK)
        cw_call_say(call, "a preview: nothing was made firm; digest %s", cw_substituting_digest(s));
    cw_substituting_free(s);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    bool firm = cw_call_flag(call, "--commit");
    bool ban = cw_call_given(call, "--ban"), permit = cw_call_given(call, "--permit");
    bool banned = cw_call_flag(call, "--banned");
    cw_nursery *n = NULL;
    if (ban + permit + banned + firm + cw_call_given(call, "--forbid") > 1)
        return cw_error_set(err, CW_USAGE,
                            "--commit, --forbid, --ban, --permit and --banned do not go together: ask one");
    if ((ban || permit) != cw_call_given(call, "--why"))
        return cw_error_set(err, CW_USAGE,
                            "--ban and --permit need --why, the reason; --why goes with them only");
    if (!firm && cw_call_given(call, "--digest"))
        return cw_error_set(err, CW_USAGE, "--digest goes with --commit");
    if (ban || permit)
        return decide(call, ban, err);
    if (banned)
        return show_banned(call, err);
    cw_code code = cw_call_open(call, firm ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = work(call, n, firm, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_substitute[] = {
    {
        "substitute",
        "NURSERY.db",
        "fill shorts and assortments from surplus, within consent",
        "Chooses substitutes for all short lines together, within each buyer's consent: most divisions "
        "first, then the closest in form, colour and size, then the least extra cost; then fills "
        "assortments, with at most so many of one variety on a line as the setting assortment_spread says "
        "(3). What a line's own variety would still give it is not short, and nobody's own variety is given "
        "away. A line that takes all or nothing, and an order that leaves complete or not at all, is filled "
        "whole or not. The plan is proven the best there is. Allocate first: a short line is filled by its "
        "own variety before it is filled by another. --forbid only asks what it would cost; --ban forbids a "
        "substitute on record, and every later plan leaves it out until --permit.",
        "clumpwise substitute season2031.db --supply projected --confidence 0.9",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
