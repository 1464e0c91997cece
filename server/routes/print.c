/* SPDX-License-Identifier: MIT */
#include "routes/print_inside.h"

#include "base/code128.h"
#include "base/qr.h"
#include "desk/bench/dividing.h"
#include "desk/bench/rota.h"
#include "desk/beds/beds.h"
#include "desk/pack/paper.h"
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

cw_code cw_print_tongue(cw_nursery *n, cw_tongue *out, cw_error *err)
{
    char language[8] = "";
    cw_code code = cw_nursery_setting(n, "language", language, sizeof language, err);
    *out = cw_tongue_of(language, NULL);
    return code;
}

void cw_print_say(cw_text *out, cw_tongue l, const char *open, cw_phrase p, int64_t n, const char *a,
                  const char *close)
{
    cw_text said = CW_TEXT(64 * 1024);
    cw_tongue_say(l, p, n, a, NULL, &said);
    out->failed = out->failed || said.failed;
    element(out, open, said.data ? said.data : "", close);
    cw_text_free(&said);
}

void cw_print_heads(cw_text *out, cw_tongue l, const cw_phrase *heads, size_t count)
{
    for (size_t i = 0; i < count; i++)
        cw_print_say(out, l, "<th>", heads[i], 0, NULL, "</th>");
}

void cw_print_open(cw_text *out, cw_tongue l, cw_phrase title, const char *kind)
{
    *out = CW_TEXT(PAGE_BYTES);
    element(out, "<!doctype html><html lang=\"", cw_tongue_language(l),
            "\"><head><meta charset=\"utf-8\"><title>");
    cw_text_add_markup(out, cw_tongue_phrase(l, title));
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

static void field(cw_text *out, cw_tongue l, cw_phrase name, const char *value)
{
    if (value[0] == '\0')
        return;
    cw_print_say(out, l, "<div><dt>", name, 0, NULL, "</dt>");
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

static cw_code tag(cw_text *out, cw_tongue l, const cw_table *t, size_t row, cw_error *err)
{
    const char *code = cell(t, row, "variety");
    char day[CW_TONGUE_DAY], many[24];
    cw_text_add(out, "<article class=\"tag\"><div class=\"hole\"></div>");
    cw_text_addf(out, "<p class=\"code%s\">", cw_print_size(code, 8, 14));
    cw_text_add_markup(out, code);
    element(out, "</p><p class=\"name\">", cell(t, row, "name"), "</p><p>");
    cw_print_kind(out, t, row);
    cw_text_add(out, "</p><div class=\"both\"><dl>");
    field(out, l, CW_PHRASE_SLIP_LOT, cell(t, row, "lot"));
    field(out, l, CW_PHRASE_HEAD_ROW, cell(t, row, "row"));
    field(out, l, CW_PHRASE_HEAD_ROOM, cell(t, row, "room"));
    field(out, l, CW_PHRASE_HEAD_PLACE, cell(t, row, "place"));
    if (cw_table_column(t, "cut_on") >= 0) {
        cw_tongue_day(l, (cw_day)number(t, row, "cut_on"), day);
        field(out, l, CW_PHRASE_HEAD_CUT, day);
        snprintf(many, sizeof many, "%lld", (long long)number(t, row, "divisions"));
        field(out, l, CW_PHRASE_SLIP_DIVISIONS, many);
    }
    cw_text_add(out, "</dl>");
    cw_code status = cw_qr_svg(cell(t, row, "scan"), CW_PRINT_DPI, TAG_QR_DOTS, out, err);
    cw_text_add(out, "</div>");
    cw_print_bars(out, cell(t, row, "scan"));
    if (cell(t, row, "held")[0])
        cw_print_say(out, l, "<p class=\"held\">", CW_PHRASE_TAG_HELD, 0, cell(t, row, "held"), "</p>");
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

static const cw_contract contract_print_tags = {
    .says = "Crate tags to print: of all lots in store, of some, of those of a wave, or of a day's dividing "
            "sessions.",
    .query = tags_shape,
    .type = "text/html; charset=utf-8",
};

static cw_code route_print_tags(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct print_query in = { .cut_on = CW_NO_DAY };
    char text[3001];
    const char *lots[MOST_LOTS];
    size_t count = 0;
    cw_table t = { 0 };
    cw_tongue l = { 0 };
    cw_text out;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = read_lots(in.lots, text, lots, &count, err);
    if (code == CW_OK && in.cut_on != CW_NO_DAY)
        code = cw_paper_cut_tags(n, in.cut_on, lots, count, &t, err);
    else if (code == CW_OK)
        code = cw_paper_tags(n, in.wave, lots, count, &t, err);
    if (code == CW_OK)
        code = cw_print_tongue(n, &l, err);
    cw_print_open(&out, l, CW_PHRASE_PAPER_TAGS, "tags");
    if (code == CW_OK && in.cut_on != CW_NO_DAY && cw_table_rows(&t) == 0)
        cw_print_say(&out, l, "<p>", CW_PHRASE_TAG_NONE, 0, NULL, "</p>");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        code = tag(&out, l, &t, i, err);
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

/* One of the day's lists, in walking order, with room to write down what came of it. */
static void bench_list(cw_text *out, cw_tongue l, const cw_table *t, const char *step, const cw_phrase *blank,
                       size_t blanks)
{
    static const cw_phrase heads[] = { CW_PHRASE_HEAD_PLACE, CW_PHRASE_SLIP_LOT, CW_PHRASE_SLIP_CODE,
                                       CW_PHRASE_HEAD_CLUMPS, CW_PHRASE_HEAD_MINUTES };
    size_t rows = 0;
    for (size_t i = 0; i < cw_table_rows(t); i++) {
        if (number(t, i, "day") != number(t, 0, "day") || strcmp(cell(t, i, "step"), step) != 0)
            continue;
        if (rows++ == 0) {
            cw_text_add(out, "<table><thead><tr>");
            cw_print_heads(out, l, heads, sizeof heads / sizeof heads[0]);
            cw_print_heads(out, l, blank, blanks);
            cw_text_add(out, "</tr></thead><tbody>");
        }
        cw_text_add(out, "<tr>");
        cw_print_code(out, cell(t, i, "place"));
        cw_print_code(out, cell(t, i, "lot"));
        cw_print_code(out, cell(t, i, "variety"));
        cw_text_addf(out, "<td>%lld</td><td>%lld</td>", (long long)number(t, i, "clumps"),
                     (long long)number(t, i, "minutes"));
        for (size_t b = 0; b < blanks; b++)
            cw_text_add(out, "<td></td>");
        cw_text_add(out, "</tr>");
    }
    if (rows)
        cw_text_add(out, "</tbody></table>");
    else
        cw_print_say(out, l, "<p>", CW_PHRASE_BENCH_NOTHING, 0, NULL, "</p>");
}

static const cw_contract contract_print_bench = {
    .says = "The next day's wash list and cutting list to print.",
    .type = "text/html; charset=utf-8",
};

static cw_code route_print_bench(cw_request *q, cw_nursery *n, cw_error *err)
{
    static const cw_phrase came[] = { CW_PHRASE_HEAD_ROTTEN, CW_PHRASE_HEAD_SALEABLE, CW_PHRASE_HEAD_BLIND,
                                      CW_PHRASE_HEAD_TOOK };
    static const cw_phrase done[] = { CW_PHRASE_HEAD_DONE };
    const cw_bench_ask ask = { CW_NO_DAY, 0 };
    cw_table t = { 0 };
    cw_tongue l = { 0 };
    cw_text out;
    char day[CW_TONGUE_DAY];
    cw_code code = cw_bench_plan(n, cw_request_asker(q), &ask, &t, NULL, err);
    if (code == CW_OK)
        code = cw_print_tongue(n, &l, err);
    cw_print_open(&out, l, CW_PHRASE_PAPER_BENCH, "walk");
    if (code == CW_OK && cw_table_rows(&t) == 0) {
        cw_print_say(&out, l, "<h1>", CW_PHRASE_PAPER_BENCH, 0, NULL, "</h1>");
        cw_print_say(&out, l, "<p>", CW_PHRASE_BENCH_NONE, 0, NULL, "</p>");
    } else if (code == CW_OK) {
        cw_tongue_day(l, (cw_day)number(&t, 0, "day"), day);
        cw_print_say(&out, l, "<h1>", CW_PHRASE_BENCH_CUT, 0, day, "</h1>");
        bench_list(&out, l, &t, "cut", came, sizeof came / sizeof came[0]);
        cw_print_say(&out, l, "<h1>", CW_PHRASE_BENCH_WASH, 0, day, "</h1>");
        bench_list(&out, l, &t, "wash", done, 1);
        cw_print_say(&out, l, "<p class=\"care\">", CW_PHRASE_CARE_BENCH, 0, NULL, "</p>");
    }
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

static const cw_contract contract_print_rota = {
    .says = "This week's check rota to print.",
    .type = "text/html; charset=utf-8",
};

static void rota_row(cw_text *out, cw_tongue l, const cw_table *t, size_t row)
{
    char there[24];
    cw_text_add(out, "<tr>");
    cw_print_code(out, cell(t, row, "place"));
    cw_print_code(out, cell(t, row, "lot"));
    cw_print_code(out, cell(t, row, "variety"));
    element(out, "<td>", cell(t, row, "name"), "</td>");
    cw_text_addf(out, "<td>%lld</td>", (long long)number(t, row, "look"));
    snprintf(there, sizeof there, "%lld", (long long)number(t, row, "there"));
    cw_print_say(out, l, "<td>",
                 strcmp(cell(t, row, "stage"), "clump") == 0 ? CW_PHRASE_CLUMPS : CW_PHRASE_DIVISIONS,
                 number(t, row, "there"), there, "</td><td></td><td></td></tr>");
}

static cw_code route_print_rota(cw_request *q, cw_nursery *n, cw_error *err)
{
    static const cw_phrase heads[] = { CW_PHRASE_HEAD_PLACE,   CW_PHRASE_SLIP_LOT,       CW_PHRASE_SLIP_CODE,
                                       CW_PHRASE_SLIP_VARIETY, CW_PHRASE_HEAD_LOOK,      CW_PHRASE_HEAD_OF,
                                       CW_PHRASE_HEAD_ROTTEN,  CW_PHRASE_HEAD_SHRIVELLED };
    cw_table t = { 0 };
    cw_tongue l = { 0 };
    cw_text out;
    char day[CW_TONGUE_DAY];
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_rota_list(n, cw_request_asker(q), -1, &t, NULL, err);
    if (code == CW_OK)
        code = cw_print_tongue(n, &l, err);
    cw_tongue_day(l, cw_request_asker(q)->today, day);
    cw_print_open(&out, l, CW_PHRASE_PAPER_ROTA, "walk");
    cw_print_say(&out, l, "<h1>", CW_PHRASE_ROTA_OPEN, 0, day, "</h1>");
    if (code == CW_OK && cw_table_rows(&t) == 0) {
        cw_print_say(&out, l, "<p>", CW_PHRASE_ROTA_NONE, 0, NULL, "</p>");
    } else if (code == CW_OK) {
        cw_text_add(&out, "<table><thead><tr>");
        cw_print_heads(&out, l, heads, sizeof heads / sizeof heads[0]);
        cw_text_add(&out, "</tr></thead><tbody>");
    }
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        rota_row(&out, l, &t, i);
    if (code == CW_OK && cw_table_rows(&t) > 0)
        cw_text_add(&out, "</tbody></table>");
    cw_print_say(&out, l, "<p class=\"care\">", CW_PHRASE_CARE_BENCH, 0, NULL, "</p>");
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

static const cw_contract contract_print_planting = {
    .says = "The planting list, in the order of the rows that it was dug from, to print.",
    .type = "text/html; charset=utf-8",
};

/* A phrase of two numbers. */
static void say_two(cw_text *out, cw_tongue l, const char *open, cw_phrase p, int64_t a, int64_t b,
                    const char *close)
{
    char one[24], two[24];
    cw_text said = CW_TEXT(1024);
    snprintf(one, sizeof one, "%lld", (long long)a);
    snprintf(two, sizeof two, "%lld", (long long)b);
    cw_tongue_say(l, p, a, one, two, &said);
    out->failed = out->failed || said.failed;
    element(out, open, said.data ? said.data : "", close);
    cw_text_free(&said);
}

static cw_code route_print_planting(cw_request *q, cw_nursery *n, cw_error *err)
{
    static const cw_phrase heads[] = { CW_PHRASE_HEAD_FROM_ROW, CW_PHRASE_SLIP_CODE,   CW_PHRASE_SLIP_VARIETY,
                                       CW_PHRASE_HEAD_PLANTS,   CW_PHRASE_HEAD_PLACES, CW_PHRASE_HEAD_SET,
                                       CW_PHRASE_HEAD_ROW_NOW };
    cw_table t = { 0 };
    cw_tongue l = { 0 };
    cw_text out;
    int64_t plants = 0;
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_beds_list(n, cw_request_asker(q), &t, err);
    if (code == CW_OK)
        code = cw_print_tongue(n, &l, err);
    cw_print_open(&out, l, CW_PHRASE_PAPER_PLANTING, "planting");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        plants += number(&t, i, "plants");
    cw_print_say(&out, l, "<h1>", CW_PHRASE_PAPER_PLANTING, 0, NULL, "</h1>");
    say_two(&out, l, "<p>", CW_PHRASE_PLANTING_ABOUT, plants, code == CW_OK ? (int64_t)cw_table_rows(&t) : 0,
            "</p><table><thead><tr>");
    cw_print_heads(&out, l, heads, sizeof heads / sizeof heads[0]);
    cw_text_add(&out, "</tr></thead><tbody>");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        element(&out, "<tr><td>", cell(&t, i, "row"), "</td>");
        element(&out, "<td class=\"code\">", cell(&t, i, "variety"), "</td>");
        element(&out, "<td>", cell(&t, i, "name"), "</td>");
        cw_text_addf(&out, "<td>%lld</td>", (long long)number(&t, i, "plants"));
        say_two(&out, l, "<td>", CW_PHRASE_FROM_TO, number(&t, i, "from"), number(&t, i, "to"),
                "</td><td></td><td></td></tr>");
    }
    cw_text_add(&out, "</tbody></table>");
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

const cw_route cw_routes_print[] = {
    CW_ROUTE(GET, "/print/tags", LOOK, STAFF, CW_NO_BODY, print_tags),
    CW_ROUTE(GET, "/print/bench", LOOK, STAFF, CW_NO_BODY, print_bench),
    CW_ROUTE(GET, "/print/rota", LOOK, STAFF, CW_NO_BODY, print_rota),
    CW_ROUTE(GET, "/print/planting", LOOK, OFFICE, CW_NO_BODY, print_planting),
    { 0 },
};
