/* SPDX-License-Identifier: MIT */
#include "desk/closing/carried_inside.h"

#include "base/grow.h"
#include "base/text.h"
#include "desk/forecast/hindsight_inside.h"
#include "store/said.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static double real(const cw_table *t, size_t row, const char *column)
{
    return cw_table_real(t, row, (size_t)cw_table_column(t, column));
}

cw_code cw_carried_said(cw_nursery *n, const cw_asker *who, bool *found, cw_past_said *out, cw_error *err)
{
    const cw_day never = INT32_MAX; /* no past day is replayed: what was said stands on record */
    const cw_hindsight_ask ask = { &never, 1 };
    cw_review review = { 0 };
    cw_table said = { 0 };
    bool spoke = false;
    cw_said last = { 0 };
    *found = false;
    cw_code code = cw_season_look(n, err);
    if (code == CW_OK)
        code = cw_said_last(n->db, NULL, &spoke, &last, err);
    if (code != CW_OK || !spoke || n->season.ship > who->today)
        return code;
    code = cw_review_make(&review, n, who, &ask, err);
    if (code == CW_OK)
        code = cw_review_said(&review, &said, err);
    for (size_t i = cw_table_rows(&said); code == CW_OK && !*found && i-- > 0;) {
        int64_t varieties = cw_table_int(&said, i, (size_t)cw_table_column(&said, "projections"));
        if (varieties == 0)
            continue;
        *found = true;
        *out = (cw_past_said){ .season = n->season.season,
                               .said_on =
                                   (cw_day)cw_table_int(&said, i, (size_t)cw_table_column(&said, "said_on")),
                               .varieties = varieties,
                               .expected = real(&said, i, "expected"),
                               .came = real(&said, i, "came"),
                               .held = real(&said, i, "cover80") * (double)varieties };
        /* A mean over what it may be: a rounding more than all would not be taken. */
        out->held = out->held > (double)varieties ? (double)varieties : out->held;
        cw_copy(out->why, sizeof out->why, cw_table_text(&said, i, (size_t)cw_table_column(&said, "why")));
    }
    cw_table_free(&said);
    cw_review_end(&review);
    return code;
}

void cw_carried_said_words(const cw_past_said *line, char out[160])
{
    char day[24];
    cw_day_words(line->said_on, day);
    snprintf(out, 160, "%s of %s: %lld variet%s, %.1f said, %.1f came, %.1f held", line->why, day,
             (long long)line->varieties, line->varieties == 1 ? "y" : "ies", line->expected, line->came,
             line->held);
}

typedef struct line_of {
    int season;
    bool found;
    cw_past_said line;
} line_of;

static void take_line(void *context, const cw_past_said *line)
{
    line_of *l = context;
    if (line->season == l->season) {
        l->found = true;
        l->line = *line;
    }
}

/* All that may be known of each buyer, in the order of strcmp. */
typedef struct buyers {
    char **buyer;
    size_t count, room;
    bool failed;
    const struct buyers *among; /* NULL: all are kept; else those who are not among them are counted */
    int64_t strange;
} buyers;

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static bool take_buyer(void *context, const char *buyer)
{
    buyers *b = context;
    if (b->among) {
        b->strange += bsearch(&buyer, b->among->buyer, b->among->count, sizeof buyer, by_text) == NULL;
        return true;
    }
    char *copy = strdup(buyer);
    b->failed = copy == NULL || !cw_grow(&b->buyer, b->count, &b->room, sizeof *b->buyer);
    if (b->failed)
        free(copy);
    else
        b->buyer[b->count++] = copy;
    return !b->failed;
}

/* Who is known here from that season or from before it must be known there, and in the same words: whoever was forgotten there must
 * not be remembered here. */
static cw_code strangers(cw_nursery *n, cw_nursery *past, int64_t *count, cw_error *err)
{
    buyers there = { 0 };
    cw_code code = cw_turning_buyers_each(past->db, 0, take_buyer, &there, err);
    if (code == CW_OK && there.failed)
        code = cw_error_memory(err);
    if (code == CW_OK && there.count > 1)
        qsort(there.buyer, there.count, sizeof *there.buyer, by_text);
    buyers here = { .among = &there };
    if (code == CW_OK)
        code = cw_turning_buyers_each(n->db, past->season.season, take_buyer, &here, err);
    for (size_t i = 0; i < there.count; i++)
        free(there.buyer[i]);
    free(there.buyer);
    *count = here.strange;
    return code;
}

cw_code cw_carried_prove(cw_nursery *n, cw_nursery *past, const cw_asker *who, const cw_origin_row *origin,
                         cw_carried_put *put, cw_table *out, long *broken, cw_error *err)
{
    line_of here = { .season = past->season.season }, there = { 0 };
    char was[160] = "none", is[160] = "none";
    int64_t unknown = 0;
    cw_asker then = *who;
    then.today = origin->day; /* as it was closed */
    cw_code code = cw_turning_said_each(n->db, take_line, &here, err);
    if (code == CW_OK && origin->told) {
        code = cw_carried_said(past, &then, &there.found, &there.line, err);
        if (there.found)
            cw_carried_said_words(&there.line, was);
        if (here.found)
            cw_carried_said_words(&here.line, is);
        if (code == CW_OK)
            put(out, "last firm statement", was, is, broken);
    }
    if (code == CW_OK)
        code = strangers(n, past, &unknown, err);
    if (code == CW_OK) {
        snprintf(is, sizeof is, "%lld", (long long)unknown);
        put(out, "known buyers who are not there", "0", is, broken);
    }
    return code;
}
