/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/substituting.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--supply", CW_OPT_WORD, "SUPPLY", "what there is: counted now, or projected for the shipping day", 0,
      0, "counted|projected", false },
    { "--confidence", CW_OPT_REAL, "P", "how sure a projected supply is to be there (default: the setting)",
      0.01, 0.9999, NULL, false },
    { "--forbid", CW_OPT_TEXT, "ORDER/LINE/CODE", "what it would cost not to give this line this substitute",
      0, 0, NULL, false },
    { "--commit", CW_OPT_FLAG, NULL, "make the choice firm", 0, 0, NULL, false },
    { "--digest", CW_OPT_TEXT, "HEX",
      "with --commit: only if nothing changed since the preview with this digest", 0, 0, NULL, false },
    { 0 },
};

static cw_code show(cw_call *call, const cw_substituting *s, cw_error *err)
{
    cw_table t = { 0 };
    cw_substituting_totals sum;
    char extra[24], how[120] = "; proven the best";
    cw_code code = cw_substituting_lines(s, call->show == CW_SHOW_PEOPLE, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    cw_table_free(&t);
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

/* "2031-0006/4/WIZBO"; an order number may hold a slash itself. */
static cw_code forbid(cw_call *call, const cw_substituting *s, cw_error *err)
{
    char order[CW_MAX_CODE + 1], sentence[CW_SUBSTITUTING_SENTENCE];
    const char *text = cw_call_text(call, "--forbid", "");
    const char *code_at = strrchr(text, '/'), *line_at = code_at;
    int64_t line = 0;
    cw_substituting_totals change;
    while (line_at && line_at > text && line_at[-1] != '/')
        line_at--;
    if (!line_at || line_at <= text || (size_t)(line_at - 1 - text) > CW_MAX_CODE ||
        !cw_parse_int(line_at, (size_t)(code_at - line_at), 1, INT32_MAX, &line))
        return cw_error_set(err, CW_USAGE, "--forbid takes ORDER/LINE/CODE, not %.60s", text);
    memcpy(order, text, (size_t)(line_at - 1 - text));
    order[line_at - 1 - text] = '\0';
    cw_code code = cw_substituting_forbid(s, order, (int)line, code_at + 1, &change, sentence, err);
    if (code == CW_OK)
        cw_call_say(call, "%s", sentence);
    return code;
}

static cw_code work(cw_call *call, cw_nursery *n, bool firm, cw_error *err)
{
    cw_substituting *s = NULL;
    cw_substituting_done done = { 0 };
    cw_substituting_ask ask = { strcmp(cw_call_text(call, "--supply", "counted"), "projected") == 0,
                                cw_call_real(call, "--confidence", 0) };
    cw_code code = firm ? cw_substituting_commit(n, &call->who, &ask, cw_call_text(call, "--digest", NULL),
                                                 &done, &s, err)
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
    cw_nursery *n = NULL;
    if (!firm && cw_call_given(call, "--digest"))
        return cw_error_set(err, CW_USAGE, "--digest goes with --commit");
    if (firm && cw_call_given(call, "--forbid"))
        return cw_error_set(err, CW_USAGE, "--forbid only asks what if: it does not go with --commit");
    cw_code code = cw_call_open(call, firm ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = work(call, n, firm, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verb_substitute = {
    "substitute",
    "NURSERY.db",
    "fill shorts and assortments from surplus, within consent",
    "Chooses substitutes for all short lines together, within each buyer's consent: most divisions first, "
    "then the closest in "
    "form, colour and size, then the least extra cost; then fills assortments, with at most so many of one "
    "variety on a line as the setting assortment_spread says (3). What a line's own variety "
    "would still give it "
    "is not short, and nobody's own variety is given away. A line that takes all or nothing, and an order "
    "that "
    "leaves complete or not at all, is filled whole or not. The plan is proven the best there is. Allocate "
    "first: a short "
    "line is filled by its own variety before it is filled by another.",
    "clumpwise substitute season2031.db --supply projected --confidence 0.9",
    options,
    1,
    1,
    run,
};
