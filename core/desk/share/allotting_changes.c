/* SPDX-License-Identifier: MIT */
#include "desk/share/allotting_inside.h"

#include "base/limits.h"
#include "base/text.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

_Static_assert(CW_ALLOTTING_CODE > CW_MAX_CODE, "a code must fit");

#define NEW INT64_MIN /* the line was not in the earlier preview */

/* What the earlier preview said of the lines of this one, by rule. */
typedef struct earlier {
    const cw_allotting *a;
    int64_t *allocated[CW_SHARE_RULES]; /* [lines]; NULL: that rule was not previewed then */
    const cw_allotting_before **gone;   /* [gones] lines that ask no more */
    size_t gones;
} earlier;

cw_code cw_allotting_before_set(cw_allotting_before *b, const char *variety, const char *order, int64_t line,
                                const char *rule, int64_t allocated, cw_error *err)
{
    cw_share_rule r;
    cw_code code = cw_rule_read(rule, &r, err);
    if (code != CW_OK)
        return code;
    if (strlen(variety) > CW_MAX_CODE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "variety", "is longer than a code may be");
    if (strlen(order) > CW_MAX_CODE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "order", "is longer than an order number may be");
    *b = (cw_allotting_before){ .line = line, .allocated = allocated, .rule = (int)r };
    cw_copy(b->variety, sizeof b->variety, variety);
    cw_copy(b->order, sizeof b->order, order);
    return CW_OK;
}

/* Index of a line in the standing, or `lines`. Orders stand by number, lines by order and line number. */
static size_t find_line(const cw_standing *s, const char *order, int64_t line)
{
    size_t low = 0, high = s->book->orders;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (strcmp(s->book->order[middle].number, order) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    if (low == s->book->orders || strcmp(s->book->order[low].number, order) != 0)
        return s->lines;
    size_t o = low;
    for (low = 0, high = s->lines; low < high;) {
        size_t middle = low + (high - low) / 2;
        const cw_share_line *l = &s->line[middle];
        if (l->order < o || (l->order == o && l->line < line))
            low = middle + 1;
        else
            high = middle;
    }
    return low < s->lines && s->line[low].order == o && s->line[low].line == line ? low : s->lines;
}

static bool asks(const cw_allotting *a, size_t i, const cw_allotting_before *b)
{
    const cw_standing *s = a->standing;
    return i < s->lines && strcmp(s->book->variety[s->line[i].variety].code, b->variety) == 0;
}

static cw_code remember(earlier *e, const cw_allotting_before *before, size_t n, cw_error *err)
{
    const cw_standing *s = e->a->standing;
    e->gone = malloc((n + 1) * sizeof *e->gone);
    if (e->gone == NULL)
        return cw_error_memory(err);
    for (size_t k = 0; k < n; k++) {
        const cw_allotting_before *b = &before[k];
        if (b->rule < 0 || b->rule >= CW_SHARE_RULES)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "rule", "there is no rule %d", b->rule);
        int64_t **of = &e->allocated[b->rule];
        if (*of == NULL) {
            if ((*of = malloc((s->lines + 1) * sizeof **of)) == NULL)
                return cw_error_memory(err);
            for (size_t i = 0; i < s->lines; i++)
                (*of)[i] = NEW;
        }
        size_t i = find_line(s, b->order, b->line);
        if (asks(e->a, i, b))
            (*of)[i] = b->allocated;
        else
            e->gone[e->gones++] = b;
    }
    return CW_OK;
}

static void put_change(cw_table *out, const cw_allotting *a, size_t i, size_t rule, int64_t before)
{
    const cw_standing *s = a->standing;
    const cw_share_line *l = &s->line[i];
    const cw_share_outcome *o = cw_allotting_of(a, rule, i);
    char sentence[CW_SHARE_SENTENCE];
    int64_t now = l->firm + o->allocated;
    cw_put_text(out, s->book->variety[l->variety].code);
    cw_put_text(out, s->book->order[l->order].number);
    cw_put_int(out, l->line);
    cw_put_text(out, cw_share_rule_name(a->rule[rule]));
    if (before == NEW)
        cw_put_null(out);
    else
        cw_put_int(out, before);
    cw_put_int(out, now);
    cw_put_int(out, now - (before == NEW ? 0 : before));
    cw_put_text(out, cw_allotting_say(s, o, sentence));
}

static void put_gone(cw_table *out, const cw_allotting_before *b)
{
    cw_put_text(out, b->variety);
    cw_put_text(out, b->order);
    cw_put_int(out, b->line);
    cw_put_text(out, cw_share_rule_name((cw_share_rule)b->rule));
    cw_put_int(out, b->allocated);
    cw_put_int(out, 0);
    cw_put_int(out, -b->allocated);
    cw_put_text(out, "The line asks for this variety no more.");
}

static bool is_run(const cw_allotting *a, int rule)
{
    for (size_t r = 0; r < a->rules; r++)
        if ((int)a->rule[r] == rule)
            return true;
    return false;
}

static const cw_column allotting_changes_columns[] = {
    { "variety", CW_TEXT_T },
    { "order", CW_TEXT_T },
    { "line", CW_INT_T },
    { "rule", CW_TEXT_T },
    { "before", CW_INT_T, .null = true },
    { "now", CW_INT_T },
    { "change", CW_INT_T },
    { "reason", CW_TEXT_T },
};
const cw_shape cw_allotting_changes_shape = CW_ROWS(allotting_changes_columns);

cw_code cw_allotting_changes(const cw_allotting *a, const cw_allotting_before *before, size_t n,
                             cw_table *out, size_t *same, cw_error *err)
{
    earlier e = { .a = a };
    const cw_standing *s = a->standing;
    cw_table_init(out, allotting_changes_columns, CW_WIDTH(allotting_changes_columns));
    *same = 0;
    cw_code code = remember(&e, before, n, err);
    if (code == CW_OK)
        code = cw_allotting_serve(a, err);
    for (size_t k = 0; k < a->served && code == CW_OK; k++)
        for (size_t r = 0; r < a->rules; r++) {
            const int64_t *was = e.allocated[a->rule[r]];
            size_t i = a->serve[k];
            if (was == NULL)
                continue;
            if (was[i] == s->line[i].firm + cw_allotting_of(a, r, i)->allocated)
                ++*same;
            else
                put_change(out, a, i, r, was[i]);
        }
    for (size_t k = 0; k < e.gones && code == CW_OK; k++)
        if (is_run(a, e.gone[k]->rule))
            put_gone(out, e.gone[k]);
    for (size_t r = 0; r < CW_SHARE_RULES; r++)
        free(e.allocated[r]);
    free(e.gone);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
