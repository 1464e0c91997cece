/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/buyers/claims.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--order", CW_TEXT_T, "ORDER", "take a claim for this order; with --line, --quantity and --why", 0, 0,
      NULL, false },
    { "--line", CW_INT_T, "LINE", "line of the order", 1, 100000, NULL, false },
    { "--quantity", CW_INT_T, "N", "divisions that failed", 1, 100000, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "what the buyer says", 0, 0, NULL, false },
    { "--claim", CW_INT_T, "CLAIM", "answer this open claim; with --answer", 1, 9e15, NULL, false },
    { "--answer", CW_TEXT_T, "ANSWER", "replace from the reserve, refund, or refuse", 0, 0,
      cw_words_claim_settled, false },
    { "--lot", CW_TEXT_T, "LOT", "replace from this lot (if not given: the one longest in store)", 0, 0, NULL,
      false },
    { "--reply", CW_TEXT_T, "TEXT", "what the buyer is answered; needed when refused", 0, 0, NULL, false },
    { "--open", CW_BOOL_T, NULL, "list only those that nobody has answered", 0, 0, NULL, false },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    bool add = cw_call_given(call, "--order"), answer = cw_call_given(call, "--claim");
    const char *word = cw_call_text(call, "--answer", NULL), *lot = cw_call_text(call, "--lot", NULL);
    const char *reply = cw_call_text(call, "--reply", NULL);
    int64_t id = cw_call_int(call, "--claim", 0);
    if ((add && (answer || !cw_call_given(call, "--line") || !cw_call_given(call, "--quantity"))) ||
        (answer && word == NULL) || (!add && !answer && (word || lot || reply)))
        return cw_error_set(
            err, CW_USAGE,
            "a claim needs --order, --line, --quantity and --why; an answer --claim and --answer");
    cw_code code = cw_call_open(call, add || answer ? CW_WORK : CW_LOOK, &n, err);
    cw_claim_ask ask = { .order = cw_call_text(call, "--order", NULL),
                         .line = (int)cw_call_int(call, "--line", 0),
                         .quantity = cw_call_int(call, "--quantity", 0),
                         .why = cw_call_text(call, "--why", NULL),
                         .answer = word,
                         .lot = lot,
                         .reply = reply };
    if (code == CW_OK && add)
        code = cw_claims_add(n, &call->who, &ask, &id, err);
    else if (code == CW_OK && answer)
        code = cw_claims_answer(n, &call->who, id, word, lot, reply, err);
    if (code == CW_OK)
        code = cw_claims_list(n, &call->who, cw_call_flag(call, "--open") ? "open" : NULL, &t, err);
    code = cw_call_show_take(call, code, &t, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_claims[] = {
    {
        "claims",
        "NURSERY.db",
        "guarantee claims: replaced, refunded or refused",
        "Takes a buyer's claim that divisions failed, and answers it: replaced from a lot of the same "
        "variety (the guarantee reserve is used up first, what is promised to others never; the lot is on "
        "record for a trace), refunded at the price paid, or refused with a reason. Lists the claims, open "
        "ones first.",
        "clumpwise claims season2031.db --order 2031-0042 --line 1 --quantity 1 --why 'no eye' --answer "
        "replace",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
