/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/grow.h"
#include "base/text.h"
#include "desk/share/allotting.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--rule", CW_TEXT_T, "RULE", "how to share (default: all rules side by side)", 0, 0, CW_ALLOTTING_RULES,
      false },
    { "--supply", CW_TEXT_T, "SUPPLY",
      "what there is: counted now, or projected for the shipping day (default: the setting)", 0, 0,
      cw_words_supplies, false },
    { "--confidence", CW_REAL_T, "P", "how sure a projected supply is to be there (default: the setting)",
      0.01, 0.9999, NULL, false },
    { "--variety", CW_TEXT_T, "CODE", "only this variety", 0, 0, NULL, false },
    { "--tiers-first", CW_BOOL_T, NULL,
      "every rule serves wholesale before retail before others (default: the setting)", 0, 0, NULL, false },
    { "--since", CW_TEXT_T, "FILE",
      "only what changed since an earlier preview, kept as CSV by the same call with --csv", 0, 0, NULL,
      false },
    { "--small", CW_BOOL_T, NULL,
      "the orders that the shorts of a --rule would bring below the order minimum", 0, 0, NULL, false },
    { "--commit", CW_BOOL_T, NULL, "make the outcome firm; needs --rule", 0, 0, NULL, false },
    { "--digest", CW_TEXT_T, "HEX",
      "with --commit: only if nothing changed since the preview with this digest", 0, 0, NULL, false },
    { "--undo", CW_INT_T, "RUN",
      "take back the last run that was made firm, of substitution too, whole; needs --why", 1, 1e15, NULL,
      false },
    { "--why", CW_TEXT_T, "TEXT", "with --undo: the reason, kept on record", 0, 0, NULL, false },
    { 0 },
};

static cw_code asked(const cw_call *call, cw_nursery *n, cw_allotting_ask *ask, cw_error *err)
{
    cw_code code = cw_allotting_default(n, ask, err);
    ask->variety = cw_call_text(call, "--variety", NULL);
    ask->rule = cw_call_text(call, "--rule", NULL);
    if (cw_call_given(call, "--supply"))
        ask->projected = strcmp(cw_call_text(call, "--supply", ""), "projected") == 0;
    ask->confidence = cw_call_real(call, "--confidence", 0);
    ask->tiers_first = ask->tiers_first || cw_call_flag(call, "--tiers-first");
    return code;
}

static cw_code show(cw_call *call, const cw_allotting *a, cw_error *err)
{
    size_t enough = 0;
    cw_table t = { 0 };
    if (call->show != CW_SHOW_PEOPLE)
        return cw_allotting_write(a, call->show == CW_SHOW_JSON, 0, cw_call_output(call), err);
    cw_code code = cw_call_given(call, "--variety") ? cw_allotting_variety_lines(a, &t, err)
                                                    : cw_allotting_totals(a, true, &t, &enough, err);
    code = cw_call_show_take(call, code, &t, err);
    if (code == CW_OK && !cw_call_given(call, "--variety"))
        cw_call_say(call, "%zu %s enough for all who ask and %s not shown", enough,
                    enough == 1 ? "variety has" : "varieties have", enough == 1 ? "is" : "are");
    return code;
}

enum { VARIETY, ORDER, LINE, ALLOCATED, RULE, COLUMNS };

static const char *field(const cw_csv *c, int column, char out[CW_ALLOTTING_CODE])
{
    const cw_field *f = &cw_csv_fields(c)[column];
    size_t n = f->n < CW_ALLOTTING_CODE - 1 ? f->n : CW_ALLOTTING_CODE - 1;
    memcpy(out, f->s, n);
    out[n] = '\0';
    return out;
}

static cw_code read_before(const cw_csv *c, const int map[COLUMNS], cw_allotting_before *b, cw_error *err)
{
    char variety[CW_ALLOTTING_CODE], order[CW_ALLOTTING_CODE], rule[CW_ALLOTTING_CODE];
    int64_t number[2];
    for (int k = 0; k < 2; k++) {
        const cw_field *f = &cw_csv_fields(c)[map[LINE + k]];
        if (!cw_parse_int(f->s, f->n, 0, INT32_MAX, &number[k]))
            return cw_error_at(err, CW_REFUSED, cw_csv_name(c), cw_csv_line(c), k ? "allocated" : "line",
                               "is not a whole number: %.*s", (int)(f->n < 40 ? f->n : 40), f->s);
    }
    cw_code code = cw_allotting_before_set(b, field(c, map[VARIETY], variety), field(c, map[ORDER], order),
                                           number[0], field(c, map[RULE], rule), number[1], err);
    if (code != CW_OK && err->row == 0) {
        cw_copy(err->file, sizeof err->file, cw_csv_name(c));
        err->row = cw_csv_line(c);
    }
    return code;
}

/* The lines of an earlier preview, as --csv wrote them. */
static cw_code read_earlier(const char *path, cw_allotting_before **out, size_t *count, cw_error *err)
{
    static const cw_csv_column columns[COLUMNS] = {
        { "variety", true }, { "order", true }, { "line", true }, { "allocated", true }, { "rule", true },
    };
    int map[COLUMNS];
    cw_csv *c = NULL;
    size_t room = 0;
    bool more = true;
    cw_code code = cw_csv_open(path, &c, err);
    if (code == CW_OK)
        code = cw_csv_header(c, columns, COLUMNS, true, map, err);
    while (code == CW_OK && (code = cw_csv_next(c, &more, err)) == CW_OK && more) {
        if (!cw_grow(out, *count, &room, sizeof **out)) {
            code = cw_error_memory(err);
            break;
        }
        code = read_before(c, map, &(*out)[(*count)++], err);
    }
    cw_csv_close(c);
    return code;
}

static cw_code show_changes(cw_call *call, const cw_allotting *a, cw_error *err)
{
    cw_table t = { 0 };
    cw_allotting_before *before = NULL;
    size_t count = 0, same = 0;
    cw_code code = read_earlier(cw_call_text(call, "--since", ""), &before, &count, err);
    if (code == CW_OK)
        code = cw_allotting_changes(a, before, count, &t, &same, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    if (code == CW_OK)
        cw_call_say(call, "changed outcomes: %zu; as they were: %zu", cw_table_rows(&t), same);
    cw_table_free(&t);
    free(before);
    return code;
}

static cw_code show_small(cw_call *call, cw_nursery *n, const cw_allotting *a, cw_error *err)
{
    cw_table t = { 0 };
    int64_t count = 0;
    cw_cents minimum = 0;
    cw_code code = cw_allotting_below_minimum(n, a, &t, &count, &minimum, err);
    return cw_call_show_take(call, code, &t, err);
}

/* What --commit would do. */
static cw_code say_sums(cw_call *call, const cw_allotting *a, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_allotting_sums(a, &t, err);
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&t); r++)
        cw_call_say(call, "%s would place %lld division%s on %lld line%s, %lld still short",
                    cw_table_text(&t, r, 0), (long long)cw_table_int(&t, r, 2), CW_S(cw_table_int(&t, r, 2)),
                    (long long)cw_table_int(&t, r, 1),
                    cw_table_int(&t, r, 1) == 1 ? " that waits" : "s that wait",
                    (long long)cw_table_int(&t, r, 3));
    cw_table_free(&t);
    return code;
}

static cw_code preview(cw_call *call, cw_nursery *n, const cw_allotting_ask *ask, cw_error *err)
{
    cw_allotting *a = NULL;
    int64_t flagged = 0;
    cw_cents minimum = 0;
    char amount[24];
    cw_code code = cw_allotting_preview(n, &call->who, ask, &a, err);
    if (code == CW_OK)
        code = cw_call_given(call, "--since")  ? show_changes(call, a, err)
               : cw_call_flag(call, "--small") ? show_small(call, n, a, err)
                                               : show(call, a, err);
    if (code == CW_OK && ask->rule)
        code = cw_allotting_below_minimum(n, a, NULL, &flagged, &minimum, err);
    if (code == CW_OK && flagged > 0) {
        cw_cents_format(minimum, amount);
        cw_call_say(call, "%lld order%s would fall below the order minimum of %s", (long long)flagged,
                    CW_S(flagged), amount);
    }
    if (code == CW_OK)
        code = say_sums(call, a, err);
    if (code == CW_OK)
        cw_call_say(call, "a preview: nothing was made firm; digest %s", cw_allotting_digest(a));
    cw_allotting_free(a);
    return code;
}

static cw_code commit(cw_call *call, cw_nursery *n, const cw_allotting_ask *ask, cw_error *err)
{
    cw_allotting *a = NULL;
    cw_allotting_done done = { 0 };
    cw_code code =
        cw_allotting_commit(n, &call->who, ask, cw_call_text(call, "--digest", NULL), &done, &a, err);
    if (code == CW_OK)
        code = show(call, a, err);
    cw_allotting_free(a);
    if (code == CW_OK)
        cw_call_say(call, "run %lld: %lld division%s made firm for %lld line%s, %lld still short; digest %s",
                    (long long)done.run, (long long)done.placed, CW_S(done.placed), (long long)done.lines,
                    CW_S(done.lines), (long long)done.short_, done.digest);
    return code;
}

static cw_code undo(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_allotting_undone done = { 0 };
    cw_code code = cw_call_open(call, CW_WORK, &n, err);
    if (code == CW_OK)
        code = cw_allotting_undo(n, &call->who, cw_call_int(call, "--undo", 0),
                                 cw_call_text(call, "--why", ""), &done, err);
    if (code == CW_OK)
        cw_call_say(call, "run %lld undone: %lld division%s taken back from %lld line%s", (long long)done.run,
                    (long long)done.divisions, CW_S(done.divisions), (long long)done.lines, CW_S(done.lines));
    cw_nursery_close(n);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    bool firm = cw_call_flag(call, "--commit");
    cw_nursery *n = NULL;
    cw_allotting_ask ask = { .rule = cw_call_text(call, "--rule", NULL) };
    if (cw_call_given(call, "--undo") != cw_call_given(call, "--why") ||
        (firm && cw_call_given(call, "--undo")))
        return cw_error_set(err, CW_USAGE, "--undo goes with --why, the reason, and not with --commit");
    if (cw_call_given(call, "--undo"))
        return undo(call, err);
    if (firm && ask.rule == NULL)
        return cw_error_set(err, CW_USAGE, "--commit needs --rule: say which rule is made firm");
    if (cw_call_flag(call, "--small") && (ask.rule == NULL || firm || cw_call_given(call, "--since")))
        return cw_error_set(err, CW_USAGE,
                            "--small goes with --rule, and neither with --commit nor with --since");
    if (firm && cw_call_given(call, "--since"))
        return cw_error_set(err, CW_USAGE, "--since looks at a preview: it does not go with --commit");
    if (!firm && cw_call_given(call, "--digest"))
        return cw_error_set(err, CW_USAGE, "--digest goes with --commit");
    cw_code code = cw_call_open(call, firm ? CW_WORK : CW_LOOK, &n, err);
    if (code == CW_OK)
        code = asked(call, n, &ask, err);
    if (code == CW_OK)
        code = firm ? commit(call, n, &ask, err) : preview(call, n, &ask, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_allocate[] = {
    {
        "allocate",
        "NURSERY.db",
        "share out short varieties, with a reason for every line",
        "Shares out what may be promised now: what is there (counted, or projected at a confidence) less "
        "hold-back, guarantee reserve and what is promised already. Without --rule all rules are previewed "
        "side by side; for people the varieties that are short, with --csv or --json every line. --commit "
        "makes the outcome of one rule firm: later runs share out only what is added and never take back. "
        "--since tells which lines would end otherwise than in a preview that was kept as CSV. --undo takes "
        "back the last run as long as nothing rests on it: picks, notices sent, a later run. The digest "
        "names the inputs: the same inputs give the same outcome.",
        "clumpwise allocate season2031.db --rule pro-rata --variety WIZBO --csv",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
