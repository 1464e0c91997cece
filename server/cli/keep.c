/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/text.h"
#include "desk/beds/beds.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--beds", CW_INT_T, "N", "places for plants in the beds (default: the settings)", 0, 1000000, NULL,
      false },
    { "--variety", CW_TEXT_T, "CODE", "this variety only", 0, 0, NULL, false },
    { "--why", CW_TEXT_T, "CODE", "the years that follow for a variety, and why", 0, 0, NULL, false },
    { "--keep", CW_INT_T, "K", "with --why: if so many are kept; with --commit --variety: so many", 0,
      10000000, NULL, false },
    { "--try", CW_TEXT_T, "CODE:FIELD:VALUE,...",
      "what if demand (40..90), growth, cost, least, price or reserve of a variety were another; nothing is "
      "written",
      0, 0, NULL, false },
    { "--say", CW_TEXT_T, "CODE:FIELD:VALUE,...",
      "for the record: your own demand, growth, cost or least of a variety; an empty value goes back to what "
      "is "
      "learned",
      0, 0, NULL, false },
    { "--list", CW_BOOL_T, NULL, "what is to be planted, by the row it came from", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL, "write the figures as hold-back, on record", 0, 0, NULL, false },
    { "--undo", CW_INT_T, "RUN", "take such a writing back", 1, 1e15, NULL, false },
    { "--runs", CW_BOOL_T, NULL, "what was written when, and by whom", 0, 0, NULL, false },
    { 0 },
};

static void say_beds(cw_call *call, const cw_table *t, const json_t *beds)
{
    size_t wanting = (size_t)json_integer_value(json_object_get(beds, "wanting"));
    const json_t *places = json_object_get(beds, "places");
    double planted = json_number_value(json_object_get(beds, "planted"));
    if (json_is_integer(places))
        cw_call_say(call, "beds: %.0f of %lld places, a place more would earn %s", planted,
                    (long long)json_integer_value(places), json_string_value(json_object_get(beds, "price")));
    else
        cw_call_say(call,
                    "beds: %.0f places; nobody said how many there are (--beds, or the setting beds_places)",
                    planted);
    if (wanting > 0)
        cw_call_say(call, "without a figure: %zu of %zu; see the column needs (--say CODE:demand:40..90)",
                    wanting, cw_table_rows(t));
}

static cw_code plan(cw_call *call, cw_nursery *n, const cw_beds_ask *ask, cw_error *err)
{
    cw_table t = { 0 };
    json_t *beds = NULL;
    cw_code code = cw_beds_plan(n, &call->who, ask, &t, &beds, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && ask->variety == NULL)
        say_beds(call, &t, beds);
    json_decref(beds);
    cw_table_free(&t);
    return code;
}

static cw_code why(cw_call *call, cw_nursery *n, cw_beds_ask *ask, cw_error *err)
{
    cw_table t = { 0 };
    cw_text say = CW_TEXT(8000);
    ask->variety = cw_call_text(call, "--why", NULL);
    cw_code code = cw_beds_years(n, &call->who, ask, &t, &say, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    for (char *rest = NULL, *line = say.data ? strtok_r(say.data, "\n", &rest) : NULL; code == CW_OK && line;
         line = strtok_r(NULL, "\n", &rest))
        cw_call_say(call, "%s", line);
    cw_text_free(&say);
    cw_table_free(&t);
    return code;
}

static cw_code commit(cw_call *call, cw_nursery *n, const cw_beds_ask *ask, cw_error *err)
{
    cw_table t = { 0 };
    int64_t run = 0;
    cw_beds_ask all = *ask;
    const cw_beds_item item = { ask->variety, cw_call_int(call, "--keep", -1) };
    all.variety = NULL; /* together with the others, for the beds are theirs, too */
    cw_code code = cw_beds_commit(n, &call->who, &all, &item, ask->variety != NULL, &run, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK && run > 0)
        cw_call_say(call, "%zu %s another hold-back; --undo %lld takes it back", cw_table_rows(&t),
                    cw_table_rows(&t) == 1 ? "variety has" : "varieties have", (long long)run);
    else if (code == CW_OK)
        cw_call_say(call, "every hold-back is on record so already");
    cw_table_free(&t);
    return code;
}

static cw_code list(cw_call *call, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = CW_OK;
    if (cw_call_given(call, "--undo"))
        code = cw_beds_undo(n, &call->who, cw_call_int(call, "--undo", 0), &t, err);
    else if (cw_call_flag(call, "--list"))
        code = cw_beds_list(n, &call->who, &t, err);
    else
        code = cw_beds_runs(n, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    cw_table_free(&t);
    return code;
}

/* What is asked for is one thing: nobody who asks why should find that all hold-backs were written. */
static cw_code one_of(cw_call *call, cw_error *err)
{
    static const char *const acts[] = { "--commit", "--undo", "--why", "--list", "--runs" };
    const char *first = NULL;
    for (size_t i = 0; i < sizeof acts / sizeof acts[0]; i++) {
        if (!cw_call_given(call, acts[i]))
            continue;
        if (first)
            return cw_error_set(err, CW_USAGE, "%s and %s do not go together", first, acts[i]);
        first = acts[i];
    }
    return CW_OK;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    bool writes =
        cw_call_flag(call, "--commit") || cw_call_given(call, "--undo") || cw_call_given(call, "--say");
    cw_beds_figures *tries = calloc(1, sizeof *tries), *said = calloc(1, sizeof *said);
    cw_code code = tries && said ? one_of(call, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_beds_figures_read(cw_call_text(call, "--try", ""), tries, err);
    if (code == CW_OK)
        code = cw_beds_figures_read(cw_call_text(call, "--say", ""), said, err);
    cw_beds_ask ask = { .brief = true,
                        .places = cw_call_int(call, "--beds", -1),
                        .variety = cw_call_text(call, "--variety", NULL),
                        .keep = cw_call_int(call, "--keep", -1),
                        .tries = tries ? tries->item : NULL,
                        .n_tries = tries ? tries->count : 0 };
    if (code == CW_OK)
        code = cw_call_open(call, writes ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK && said->count > 0)
        code = cw_beds_say(n, &call->who, said->item, said->count, err);
    if (code == CW_OK && cw_call_flag(call, "--commit"))
        code = commit(call, n, &ask, err);
    else if (code == CW_OK &&
             (cw_call_given(call, "--undo") || cw_call_flag(call, "--list") || cw_call_flag(call, "--runs")))
        code = list(call, n, err);
    else if (code == CW_OK && cw_call_given(call, "--why"))
        code = why(call, n, &ask, err);
    else if (code == CW_OK)
        code = plan(call, n, &ask, err);
    cw_nursery_close(n);
    free(tries);
    free(said);
    return code;
}

const cw_verb cw_verbs_keep[] = {
    {
        "keep",
        "NURSERY.db",
        "how many to keep for planting",
        "Proposes for each variety how many divisions to keep for the beds: one more kept is a sale lost now "
        "and several divisions next spring. Tells the range within which it makes next to no difference, "
        "what the hold-back on record loses against it, what a plant gives, what is asked for, and what one "
        "more place in the beds would earn. --commit writes the figures as hold-back, on record; --undo "
        "takes that back. Your own figure of a variety is said with --say and stays until it is said "
        "otherwise.",
        "clumpwise keep season2031.db --beds 4000 --commit --today 2032-02-20",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
