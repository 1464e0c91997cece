/* SPDX-License-Identifier: MIT */
#include "routes/print_inside.h"

#include "base/code128.h"
#include "base/qr.h"
#include "desk/bench/dividing.h"
#include "desk/bench/rota.h"
#include "desk/closing/letter.h"
#include "desk/offer/beds.h"
#include "desk/ship/paper.h"
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* In dots (print_inside.h). */
#define TAG_QR_DOTS 6
#define BAR_DOTS    2
#define BAR_MOST    640 /* dots that fit a tag's width */
#define PAGE_BYTES  (64 * 1024 * 1024)
#define MOST_LOTS   500

struct print_query {
    int64_t wave;
    const char *lots;
    cw_day cut_on;
};
static const cw_member tags_shape[] = {
    { "wave", CW_INT_T, offsetof(struct print_query, wave), false, 1, 1e15, NULL },
    { "lots", CW_TEXT_T, offsetof(struct print_query, lots), false, 0, 3000, NULL },
    { "cut_on", CW_DAY_T, offsetof(struct print_query, cut_on), false, 0, 0,
      .says = "One for the divisions of each session of that day." },
    { 0 },
};

void cw_print_open(cw_text *out, const char *title, const char *kind)
{
    *out = CW_TEXT(PAGE_BYTES);
    cw_text_add(out, "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>");
    cw_text_add_markup(out, title);
    cw_text_addf(
        out, "</title><link rel=\"stylesheet\" href=\"/print/print.css\"></head><body><main class=\"%s\">",
        kind);
}

cw_code cw_print_close(cw_request *q, cw_text *out, cw_code code, cw_error *err)
{
    cw_text_add(out, "</main></body></html>");
    if (code == CW_OK)
        code = cw_reply_text_take(q, 200, "text/html; charset=utf-8", out, err);
    cw_text_free(out);
    return code;
}

/* Bars for laser scanners, when the text can be set in them and they fit. */
void cw_print_bars(cw_text *out, const char *text)
{
    cw_code128 c;
    if (cw_code128_encode(text, &c, NULL) != CW_OK || cw_code128_modules(&c) * BAR_DOTS > BAR_MOST)
        return;
    if (cw_code128_svg(text, CW_PRINT_DPI, BAR_DOTS, 10, out, NULL) != CW_OK)
        out->failed = true;
}

const char *cw_print_size(const char *text, size_t is_long, size_t is_longer)
{
    size_t length = strlen(text);
    return length > is_longer ? " longer" : length > is_long ? " long" : "";
}

void cw_print_code(cw_text *out, const char *code)
{
    cw_text_addf(out, "<td class=\"code%s\">", cw_print_size(code, 10, 18));
    cw_text_add_markup(out, code);
    cw_text_add(out, "</td>");
}

static void field(cw_text *out, const char *name, const char *value)
{
    if (value[0] == '\0')
        return;
    element(out, "<div><dt>", name, "</dt>");
    cw_text_addf(out, "<dd class=\"whole%s\">", cw_print_size(value, 14, 20));
    cw_text_add_markup(out, value);
    cw_text_add(out, "</dd></div>");
}

void cw_print_kind(cw_text *out, const cw_table *t, size_t row)
{
    static const char *const names[] = { "size", "form", "colour" };
    const char *between = "";
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (cw_table_column(t, names[i]) < 0 || cell(t, row, names[i])[0] == '\0')
            continue;
        cw_text_add(out, between);
        cw_text_add_markup(out, cell(t, row, names[i]));
        between = ", ";
    }
}

static cw_code tag(cw_text *out, const cw_table *t, size_t row, cw_error *err)
{
    const char *code = cell(t, row, "variety");
    char day[24], many[24];
    cw_text_add(out, "<article class=\"tag\"><div class=\"hole\"></div>");
    cw_text_addf(out, "<p class=\"code%s\">", cw_print_size(code, 8, 14));
    cw_text_add_markup(out, code);
    element(out, "</p><p class=\"name\">", cell(t, row, "name"), "</p><p>");
    cw_print_kind(out, t, row);
    cw_text_add(out, "</p><div class=\"both\"><dl>");
    field(out, "Lot", cell(t, row, "lot"));
    field(out, "Row", cell(t, row, "row"));
    field(out, "Room", cell(t, row, "room"));
    field(out, "Place", cell(t, row, "place"));
    if (cw_table_column(t, "cut_on") >= 0) {
        cw_day_words((cw_day)number(t, row, "cut_on"), day);
        field(out, "Cut", day);
        snprintf(many, sizeof many, "%lld", (long long)number(t, row, "divisions"));
        field(out, "Divisions", many);
    }
    cw_text_add(out, "</dl>");
    cw_code status = cw_qr_svg(cell(t, row, "scan"), CW_PRINT_DPI, TAG_QR_DOTS, out, err);
    cw_text_add(out, "</div>");
    cw_print_bars(out, cell(t, row, "scan"));
    if (cell(t, row, "held")[0])
        element(out, "<p class=\"held\">Held, nothing may leave: ", cell(t, row, "held"), "</p>");
    cw_text_add(out, "</article>");
    return status;
}

static cw_code read_lots(const char *list, char text[3001], const char *lots[MOST_LOTS], size_t *count,
                         cw_error *err)
{
    char *rest = NULL;
    *count = 0;
    cw_copy(text, 3001, list ? list : "");
    for (char *p = strtok_r(text, ",", &rest); p; p = strtok_r(NULL, ",", &rest)) {
        if (*count == MOST_LOTS)
            return cw_error_at(err, CW_USAGE, NULL, 0, "lots", "must name at most %d lots", MOST_LOTS);
        lots[(*count)++] = p;
    }
    return CW_OK;
}

const cw_contract cw_contract_print_tags = {
    .says = "Crate tags to print: of all lots in store, of some, of those of a wave, or of a day's dividing "
            "sessions.",
    .query = tags_shape,
    .type = "text/html; charset=utf-8",
};

cw_code cw_route_print_tags(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct print_query in = { .cut_on = CW_NO_DAY };
    char text[3001];
    const char *lots[MOST_LOTS];
    size_t count = 0;
    cw_table t = { 0 };
    cw_text out;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = read_lots(in.lots, text, lots, &count, err);
    if (code == CW_OK && in.cut_on != CW_NO_DAY)
        code = cw_paper_cut_tags(n, in.cut_on, lots, count, &t, err);
    else if (code == CW_OK)
        code = cw_paper_tags(n, in.wave, lots, count, &t, err);
    cw_print_open(&out, "Crate tags", "tags");
    if (code == CW_OK && in.cut_on != CW_NO_DAY && cw_table_rows(&t) == 0)
        cw_text_add(&out, "<p>Nothing was cut on that day.</p>");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        code = tag(&out, &t, i, err);
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

/* Common practice, no source. */
static const char bench_care[] = "<p class=\"care\">Take care: keep blades clean and closed when carried, "
                                 "cut away from the hand, wear gloves; a mask where "
                                 "there is mould or dust of sulphur or fungicide; wet floors; heavy crates "
                                 "are lifted by two. The rules of your place and the "
                                 "labels of what you use come first.</p>";

/* One of the day's lists, in walking order, with room to write down what came of it. */
static void bench_list(cw_text *out, const cw_table *t, const char *step, const char *heads,
                       const char *blanks)
{
    size_t rows = 0;
    for (size_t i = 0; i < cw_table_rows(t); i++) {
        if (number(t, i, "day") != number(t, 0, "day") || strcmp(cell(t, i, "step"), step) != 0)
            continue;
        if (rows++ == 0)
            cw_text_addf(out,
                         "<table><thead><tr><th>Place</th><th>Lot</th><th>Code</th><th>Clumps</"
                         "th><th>Minutes</th>%s</tr>"
                         "</thead><tbody>",
                         heads);
        cw_text_add(out, "<tr>");
        cw_print_code(out, cell(t, i, "place"));
        cw_print_code(out, cell(t, i, "lot"));
        cw_print_code(out, cell(t, i, "variety"));
        cw_text_addf(out, "<td>%lld</td><td>%lld</td>%s</tr>", (long long)number(t, i, "clumps"),
                     (long long)number(t, i, "minutes"), blanks);
    }
    cw_text_add(out, rows ? "</tbody></table>" : "<p>Nothing.</p>");
}

const cw_contract cw_contract_print_bench = {
    .says = "The next day's wash list and cutting list to print.",
    .type = "text/html; charset=utf-8",
};

cw_code cw_route_print_bench(cw_request *q, cw_nursery *n, cw_error *err)
{
    const cw_bench_ask ask = { CW_NO_DAY, 0 };
    cw_table t = { 0 };
    cw_text out;
    char day[24];
    cw_code code = cw_bench_plan(n, cw_request_asker(q), &ask, &t, NULL, err);
    cw_print_open(&out, "Cutting room", "walk");
    if (code == CW_OK && cw_table_rows(&t) == 0) {
        cw_text_add(&out, "<h1>Cutting room</h1><p>Nothing is to be washed or cut.</p>");
    } else if (code == CW_OK) {
        cw_day_words((cw_day)number(&t, 0, "day"), day);
        element(&out, "<h1>To cut, ", day, "</h1>");
        bench_list(&out, &t, "cut", "<th>Rotten</th><th>Saleable</th><th>Blind</th><th>Took</th>",
                   "<td></td><td></td><td></td><td></td>");
        element(&out, "<h1>To wash, ", day, "</h1>");
        bench_list(&out, &t, "wash", "<th>Done</th>", "<td></td>");
        cw_text_add(&out, bench_care);
    }
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

const cw_contract cw_contract_print_rota = {
    .says = "This week's check rota to print.",
    .type = "text/html; charset=utf-8",
};

cw_code cw_route_print_rota(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_text out;
    char day[24];
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_rota_list(n, cw_request_asker(q), -1, &t, NULL, err);
    cw_day_words(cw_request_asker(q)->today, day);
    cw_print_open(&out, "Check rota", "walk");
    element(&out, "<h1>Crates to open, ", day, "</h1>");
    if (code == CW_OK && cw_table_rows(&t) == 0)
        cw_text_add(&out, "<p>Nothing is worth opening this week.</p>");
    else if (code == CW_OK)
        cw_text_add(&out, "<table><thead><tr><th>Place</th><th>Lot</th><th>Code</th><th>Variety</th><th>Look "
                          "at</th><th>Of</th><th>Rotten</th><th>Shrivelled</th></tr></thead><tbody>");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        cw_text_add(&out, "<tr>");
        cw_print_code(&out, cell(&t, i, "place"));
        cw_print_code(&out, cell(&t, i, "lot"));
        cw_print_code(&out, cell(&t, i, "variety"));
        element(&out, "<td>", cell(&t, i, "name"), "</td>");
        cw_text_addf(&out, "<td>%lld</td><td>%lld %ss</td><td></td><td></td></tr>",
                     (long long)number(&t, i, "look"), (long long)number(&t, i, "there"),
                     cell(&t, i, "stage"));
    }
    if (code == CW_OK && cw_table_rows(&t) > 0)
        cw_text_add(&out, "</tbody></table>");
    cw_text_add(&out, bench_care);
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

const cw_contract cw_contract_print_planting = {
    .says = "The planting list, in the order of the rows that it was dug from, to print.",
    .type = "text/html; charset=utf-8",
};

cw_code cw_route_print_planting(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_text out;
    int64_t plants = 0;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_beds_list(n, cw_request_asker(q), &t, err);
    cw_print_open(&out, "Planting list", "planting");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        plants += number(&t, i, "plants");
    cw_text_addf(&out,
                 "<h1>Planting list</h1><p>Plants: %lld. Varieties: %zu. One variety at a time, never mixed; "
                 "the code on every label.</p>",
                 (long long)plants, code == CW_OK ? cw_table_rows(&t) : 0);
    cw_text_add(&out,
                "<table><thead><tr><th>Row it came from</th><th>Code</th><th>Variety</th><th>Plants</th>"
                "<th>Places</th><th>Set on</th><th>Row now</th></tr></thead><tbody>");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        element(&out, "<tr><td>", cell(&t, i, "row"), "</td>");
        element(&out, "<td class=\"code\">", cell(&t, i, "variety"), "</td>");
        element(&out, "<td>", cell(&t, i, "name"), "</td>");
        cw_text_addf(&out, "<td>%lld</td><td>%lld to %lld</td><td></td><td></td></tr>",
                     (long long)number(&t, i, "plants"), (long long)number(&t, i, "from"),
                     (long long)number(&t, i, "to"));
    }
    cw_text_add(&out, "</tbody></table>");
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

const cw_contract cw_contract_print_letter = {
    .says = "The season in sentences, to print.",
    .type = "text/html; charset=utf-8",
};

cw_code cw_route_print_letter(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_text out;
    const char *last = "";
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_letter_rows(n, cw_request_asker(q), &t, err);
    cw_print_open(&out, "The season's letter", "letter");
    cw_text_addf(&out, "<h1>The season of %d</h1>", cw_nursery_season(n)->season);
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        const char *part = cell(&t, i, "part");
        if (strcmp(part, last) != 0 && i > 0)
            element(&out, "<h2>", cw_letter_title(part), "</h2>");
        last = part;
        element(&out, "<p>", cell(&t, i, "sentence"), "</p>");
    }
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}
