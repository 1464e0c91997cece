/* SPDX-License-Identifier: MIT */
#include "routes/print_inside.h"

#include "desk/ship/paper.h"
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

static void stop_row(cw_text *out, const cw_table *t, size_t row)
{
    int64_t stop = number(t, row, "stop"), all = 0;
    for (size_t i = row; i < cw_table_rows(t) && number(t, i, "stop") == stop; i++)
        all += number(t, i, "quantity");
    cw_text_addf(out, "</tbody><tbody class=\"stop\"><tr class=\"stop\"><th colspan=\"7\">Stop %lld: ",
                 (long long)stop);
    cw_text_add_markup(out, cell(t, row, "room"));
    element(out, " <span class=\"code\">", cell(t, row, "place")[0] ? cell(t, row, "place") : "no place",
            "</span>");
    cw_text_addf(out, ", %lld in all", (long long)all);
    if (cell(t, row, "taken_by")[0])
        element(out, " (", cell(t, row, "taken_by"), ")");
    cw_text_add(out, "</th></tr>");
}

static void walk_row(cw_text *out, const cw_table *t, size_t row)
{
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
        element(out, "<span class=\"held\">", "held: leave it", "</span>");
    else if (done) {
        cw_text_addf(out, "%lld taken", (long long)number(t, row, "taken"));
        element(out, cell(t, row, "reason")[0] ? ", rest " : "", cell(t, row, "reason"), "");
    } else
        cw_text_add(out, "<span class=\"box\"></span>");
    cw_text_add(out, "</td></tr>");
}

/* Common practice, no source. */
static const char care[] = "<p class=\"care\">Take care: wet floors; heavy crates are lifted by two or with "
                           "a truck; gloves, and a mask where "
                           "there is mould or dust of sulphur or fungicide; knives and loppers closed when "
                           "carried. What smells or is soft stays "
                           "behind: write down how many and why. The rules of your place and the labels of "
                           "what you use come before this list. Where plants may be sent is "
                           "for the plant-health authority to decide.</p>";

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

static void sheet_head(cw_text *out, const cw_table *t, const char *by, const char *sheet, int64_t wave,
                       cw_day today)
{
    sums s;
    char week[9] = "", day[24];
    if (!sum_up(t, by, sheet, &s))
        out->failed = true;
    if (cw_table_rows(t))
        cw_week_format((cw_week)number(t, 0, "week"), week);
    cw_day_words(today, day);
    cw_text_addf(out, "<section><table><thead><tr class=\"about\"><th colspan=\"7\">Wave %lld",
                 (long long)wave);
    element(out, week[0] ? ", " : "", week, "");
    if (strcmp(by, "room") == 0)
        element(out, ", ", sheet[0] ? sheet : "no room", "");
    else if (strcmp(by, "person") == 0)
        element(out, ", ", sheet[0] ? sheet : "nobody yet", "");
    element(out, ", printed ", day, "");
    cw_text_addf(out, ": %lld stop%s, %lld pick%s, %lld division%s, %lld parcel%s</th></tr>", s.stops,
                 CW_S(s.stops), s.picks, CW_S(s.picks), s.divisions, CW_S(s.divisions), s.parcels,
                 CW_S(s.parcels));
    cw_text_add(out,
                "<tr><th>Take</th><th>Slot</th><th>Code</th><th>Variety</th><th>Lot</th><th>Order / line</th>"
                "<th>Done</th></tr></thead><tbody>");
}

static void one_sheet(cw_text *out, const cw_table *t, const char *by, size_t first, int64_t wave,
                      cw_day today)
{
    const char *sheet = cw_table_rows(t) ? sheet_of(t, first, by) : "";
    int64_t stop = -1;
    sheet_head(out, t, by, sheet, wave, today);
    for (size_t i = first; i < cw_table_rows(t); i++) {
        if (strcmp(sheet_of(t, i, by), sheet) != 0)
            continue;
        if (number(t, i, "stop") != stop)
            stop_row(out, t, i);
        stop = number(t, i, "stop");
        walk_row(out, t, i);
    }
    /* In the table, so that a page with nothing else on it has the head, too. */
    cw_text_add(out, "</tbody><tbody><tr><td colspan=\"7\">");
    cw_text_add(out, care);
    cw_text_add(out, "</td></tr></tbody></table></section>");
}

const cw_contract cw_contract_print_walk = {
    .says = "The pick sheet of a wave to print.",
    .query = walk_shape,
    .type = "text/html; charset=utf-8",
};

cw_code cw_route_print_walk(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct walk_query in = { 0, "wave" };
    cw_day today = cw_request_asker(q)->today;
    cw_table t = { 0 };
    cw_text out;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_paper_walk(n, cw_request_asker(q), in.wave, &t, err);
    cw_print_open(&out, "Pick sheet", "walk picks");
    if (code == CW_OK && cw_table_rows(&t) == 0)
        one_sheet(&out, &t, in.by, 0, in.wave, today);
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
        one_sheet(&out, &t, in.by, i, in.wave, today);
    }
    free(seen);
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}
