/* SPDX-License-Identifier: MIT */
#include "routes/print_inside.h"

#include "desk/pack/paper.h"
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The pick sheet of a wave: whole, or a sheet for each room (an aisle, as places are kept) or each packer. Each page says whose it
 * is, of which wave and week, and how much there is in all; the margin says which page of how many. */
struct walk_query {
    int64_t wave;
    const char *by;
};
static const cw_member walk_shape[] = {
    { "wave", CW_INT_T, offsetof(struct walk_query, wave), true, 1, 1e15, NULL },
    { "by", CW_TEXT_T, offsetof(struct walk_query, by), false, 0, 0, cw_words_walk_papers,
      .says = "A sheet of its own for each room, or for each person who has stops." },
    { 0 },
};

static void stop_row(cw_text *out, cw_tongue l, const cw_table *t, size_t row)
{
    int64_t stop = number(t, row, "stop"), all = 0;
    char number_of[24];
    cw_text said = CW_TEXT(64 * 1024);
    for (size_t i = row; i < cw_table_rows(t) && number(t, i, "stop") == stop; i++)
        all += number(t, i, "quantity");
    snprintf(number_of, sizeof number_of, "%lld", (long long)stop);
    cw_tongue_say(l, CW_PHRASE_WALK_STOP, stop, number_of, cell(t, row, "room"), &said);
    out->failed = out->failed || said.failed;
    element(out, "</tbody><tbody class=\"stop\"><tr class=\"stop\"><th colspan=\"7\">",
            said.data ? said.data : "", "");
    cw_text_free(&said);
    element(out, " <span class=\"code\">",
            cell(t, row, "place")[0] ? cell(t, row, "place") : cw_tongue_phrase(l, CW_PHRASE_WALK_NO_PLACE),
            "</span>");
    snprintf(number_of, sizeof number_of, "%lld", (long long)all);
    cw_print_say(out, l, ", ", CW_PHRASE_WALK_ALL, all, number_of, "");
    if (cell(t, row, "taken_by")[0])
        element(out, " (", cell(t, row, "taken_by"), ")");
    cw_text_add(out, "</th></tr>");
}

/* Why the rest was not there, in a word of cw_words_short_reasons. */
static const char *reason(cw_tongue l, const char *word)
{
    static const struct {
        const char *word;
        cw_phrase says;
    } words[] = { { "rotten", CW_PHRASE_WALK_ROTTEN },
                  { "shrivelled", CW_PHRASE_WALK_SHRIVELLED },
                  { "missing", CW_PHRASE_WALK_MISSING },
                  { "mislabelled", CW_PHRASE_WALK_MISLABELLED } };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(words[i].word, word) == 0)
            return cw_tongue_phrase(l, words[i].says);
    return word;
}

static void walk_row(cw_text *out, cw_tongue l, const cw_table *t, size_t row)
{
    char taken[24];
    bool done = strcmp(cell(t, row, "state"), "done") == 0;
    cw_text_addf(out, "<tr><td class=\"num slot\">%lld</td><td class=\"slot\">&rarr; %lld</td>",
                 (long long)number(t, row, "quantity"), (long long)number(t, row, "slot"));
    cw_print_code(out, cell(t, row, "variety"));
    cw_text_add(out, "<td>");
    cw_text_add_markup(out, cell(t, row, "name"));
    cw_text_add(out, " <span class=\"quiet\">");
    cw_print_kind(out, t, row);
    cw_text_add(out, "</span></td>");
    cw_print_code(out, cell(t, row, "lot"));
    cw_text_addf(out, "<td class=\"whole%s\">", cw_print_size(cell(t, row, "order"), 12, 20));
    cw_text_add_markup(out, cell(t, row, "order"));
    cw_text_addf(out, " / %lld</td><td>", (long long)number(t, row, "line"));
    if (cell(t, row, "held")[0])
        cw_print_say(out, l, "<span class=\"held\">", CW_PHRASE_WALK_HELD, 0, NULL, "</span>");
    else if (done) {
        snprintf(taken, sizeof taken, "%lld", (long long)number(t, row, "taken"));
        cw_print_say(out, l, "", CW_PHRASE_WALK_TAKEN, number(t, row, "taken"), taken, "");
        if (cell(t, row, "reason")[0])
            cw_print_say(out, l, ", ", CW_PHRASE_WALK_REST, 0, reason(l, cell(t, row, "reason")), "");
    } else
        cw_text_add(out, "<span class=\"box\"></span>");
    cw_text_add(out, "</td></tr>");
}

/* Whose sheet a row stands on. */
static const char *sheet_of(const cw_table *t, size_t row, const char *by)
{
    if (strcmp(by, "room") == 0)
        return cell(t, row, "room");
    return strcmp(by, "person") == 0 ? cell(t, row, "taken_by") : "";
}

typedef struct sums {
    long long stops, picks, divisions, parcels;
} sums;

/* Of a sheet: the rows of a stop stand together, those of a parcel do not. False: no memory. */
static bool sum_up(const cw_table *t, const char *by, const char *sheet, sums *out)
{
    sums s = { 0 };
    int64_t stop = -1, most = 0;
    for (size_t i = 0; i < cw_table_rows(t); i++)
        most = number(t, i, "slot") > most ? number(t, i, "slot") : most;
    bool *slots = calloc((size_t)most + 1, sizeof *slots);
    for (size_t i = 0; slots && i < cw_table_rows(t); i++) {
        if (strcmp(sheet_of(t, i, by), sheet) != 0)
            continue;
        bool *slot = &slots[number(t, i, "slot")];
        s.picks++;
        s.divisions += number(t, i, "quantity");
        s.stops += number(t, i, "stop") != stop;
        s.parcels += !*slot;
        *slot = true;
        stop = number(t, i, "stop");
    }
    bool counted = slots != NULL;
    free(slots);
    *out = s;
    return counted;
}

/* What a sheet is of: the wave, its week, the room or the person, the day. */
static void sheet_name(cw_text *out, cw_tongue l, const cw_table *t, const char *by, const char *sheet,
                       int64_t wave, cw_day today)
{
    char week[9] = "", text[CW_TONGUE_DAY];
    if (cw_table_rows(t))
        cw_week_format((cw_week)number(t, 0, "week"), week);
    snprintf(text, sizeof text, "%lld", (long long)wave);
    cw_print_say(out, l, "<section><table><thead><tr class=\"about\"><th colspan=\"7\">", CW_PHRASE_WALK_WAVE,
                 wave, text, "");
    element(out, week[0] ? ", " : "", week, "");
    if (strcmp(by, "room") == 0)
        element(out, ", ", sheet[0] ? sheet : cw_tongue_phrase(l, CW_PHRASE_WALK_NO_ROOM), "");
    else if (strcmp(by, "person") == 0)
        element(out, ", ", sheet[0] ? sheet : cw_tongue_phrase(l, CW_PHRASE_WALK_NOBODY), "");
    cw_tongue_day(l, today, text);
    cw_print_say(out, l, ", ", CW_PHRASE_WALK_PRINTED, 0, text, ": ");
}

static void sheet_head(cw_text *out, cw_tongue l, const cw_table *t, const char *by, const char *sheet,
                       int64_t wave, cw_day today)
{
    static const cw_phrase heads[] = { CW_PHRASE_HEAD_TAKE,    CW_PHRASE_HEAD_SLOT, CW_PHRASE_SLIP_CODE,
                                       CW_PHRASE_SLIP_VARIETY, CW_PHRASE_SLIP_LOT,  CW_PHRASE_HEAD_LINE,
                                       CW_PHRASE_HEAD_DONE };
    static const cw_phrase counts[] = { CW_PHRASE_STOPS, CW_PHRASE_PICKS, CW_PHRASE_DIVISIONS,
                                        CW_PHRASE_PARCELS };
    sums s;
    if (!sum_up(t, by, sheet, &s))
        out->failed = true;
    const long long of[] = { s.stops, s.picks, s.divisions, s.parcels };
    sheet_name(out, l, t, by, sheet, wave, today);
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        char text[24];
        snprintf(text, sizeof text, "%lld", of[i]);
        cw_print_say(out, l, i ? ", " : "", counts[i], of[i], text, "");
    }
    cw_text_add(out, "</th></tr><tr>");
    cw_print_heads(out, l, heads, sizeof heads / sizeof heads[0]);
    cw_text_add(out, "</tr></thead><tbody>");
}

static void one_sheet(cw_text *out, cw_tongue l, const cw_table *t, const char *by, size_t first,
                      int64_t wave, cw_day today)
{
    const char *sheet = cw_table_rows(t) ? sheet_of(t, first, by) : "";
    int64_t stop = -1;
    sheet_head(out, l, t, by, sheet, wave, today);
    for (size_t i = first; i < cw_table_rows(t); i++) {
        if (strcmp(sheet_of(t, i, by), sheet) != 0)
            continue;
        if (number(t, i, "stop") != stop)
            stop_row(out, l, t, i);
        stop = number(t, i, "stop");
        walk_row(out, l, t, i);
    }
    /* In the table, so that a page with nothing else on it has the head, too. */
    cw_print_say(out, l, "</tbody><tbody><tr><td colspan=\"7\"><p class=\"care\">", CW_PHRASE_CARE_WALK, 0,
                 NULL, "</p></td></tr></tbody></table></section>");
}

static const cw_contract contract_print_walk = {
    .says = "The pick sheet of a wave to print.",
    .query = walk_shape,
    .type = "text/html; charset=utf-8",
};

static cw_code route_print_walk(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct walk_query in = { 0, "wave" };
    cw_day today = cw_request_asker(q)->today;
    cw_table t = { 0 };
    cw_tongue l = { 0 };
    cw_text out;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_paper_walk(n, cw_request_asker(q), in.wave, &t, err);
    if (code == CW_OK)
        code = cw_print_tongue(n, &l, err);
    cw_print_open(&out, l, CW_PHRASE_PAPER_WALK, "walk picks");
    if (code == CW_OK && cw_table_rows(&t) == 0)
        one_sheet(&out, l, &t, in.by, 0, in.wave, today);
    const char **seen = calloc(cw_table_rows(&t) + 1, sizeof *seen);
    size_t sheets = 0;
    if (seen == NULL)
        code = cw_error_memory(err);
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        const char *sheet = sheet_of(&t, i, in.by);
        size_t k = 0;
        while (k < sheets && strcmp(seen[k], sheet) != 0)
            k++;
        if (k < sheets)
            continue;
        seen[sheets++] = sheet;
        one_sheet(&out, l, &t, in.by, i, in.wave, today);
    }
    free(seen);
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

const cw_route cw_routes_print_walk[] = {
    CW_ROUTE(GET, "/print/walk", LOOK, STAFF, CW_NO_BODY, print_walk),
    { 0 },
};
