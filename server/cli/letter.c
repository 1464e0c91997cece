/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/closing/letter.h"

#include "base/banned.h"

static cw_code show_text(cw_call *call, cw_nursery *n, cw_error *err)
{
    cw_text text = { 0 };
    cw_code code = cw_letter_text(n, &call->who, &text, err);
    cw_sink out = cw_call_output(call);
    if (code == CW_OK)
        code = out.write(out.self, text.data, text.length, err);
    cw_text_free(&text);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table t = { 0 };
    cw_code code = cw_call_open(call, CW_LOOK, &n, err);
    if (code == CW_OK && call->show == CW_SHOW_PEOPLE)
        code = show_text(call, n, err);
    else if (code == CW_OK)
        code = cw_call_show_take(call, cw_letter_rows(n, &call->who, &t, err), &t, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_letter[] = {
    {
        "letter",
        "NURSERY.db",
        "the season in sentences",
        "Tells the season on one page: what was said at each release and what came, what fooled us, what was "
        "asked for, what was lost, what to measure earlier next winter, and what the next season's file will "
        "know. Nobody who bought is named.",
        "clumpwise letter season2031.db --today 2032-06-01",
        (const cw_option[]){ { 0 } },
        1,
        1,
        run,
    },
    { 0 },
};
