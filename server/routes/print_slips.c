/* SPDX-License-Identifier: MIT */
#include "routes/print_inside.h"

#include "base/tongue.h"
#include "base/qr.h"
#include "desk/pack/paper.h"
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* What goes out in a parcel: packing slips and division labels. */
#define LABEL_DOTS  4 /* 3 for texts that need a larger code */
#define MOST_LABELS 12000

struct print_query {
    int64_t wave;
    const char *by;
};
static const cw_member wave_shape[] = {
    { "wave", CW_INT_T, offsetof(struct print_query, wave), true, 1, 1e15, NULL }, { 0 }
};
static const cw_member slips_shape[] = {
    { "wave", CW_INT_T, offsetof(struct print_query, wave), true, 1, 1e15, NULL },
    { "by", CW_TEXT_T, offsetof(struct print_query, by), false, 0, 0, cw_words_slip_orders,
      .says = "As the walk completes the parcels (what is meant when it is not said), or by slot." },
    { 0 },
};

/* A slip is the buyer's to read: its words and its day are in the buyer's language. */
typedef struct slip {
    cw_tongue letter;
    const char *nursery;
    char day[CW_TONGUE_DAY];
} slip;

/* A phrase as markup between two stretches of it. */
static void phrase(cw_text *out, const slip *s, const char *open, cw_phrase p, int64_t n, const char *a,
                   const char *close)
{
    cw_print_say(out, s->letter, open, p, n, a, close);
}

static void slip_to(cw_text *out, const slip *s, const cw_table *t, size_t row)
{
    static const char *const lines[] = { "name2", "street" };
    element(out, "<header><div><h1>", s->nursery, "</h1><p class=\"to\">");
    if (cell(t, row, "customer")[0])
        cw_text_add_markup(out, cell(t, row, "customer"));
    else
        phrase(out, s, "", CW_PHRASE_SLIP_NO_NAME, 0, NULL, "");
    cw_text_add(out, "<br>");
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        if (cell(t, row, lines[i])[0])
            element(out, "", cell(t, row, lines[i]), "<br>");
    element(out, "", cell(t, row, "postcode"), " ");
    element(out, "", cell(t, row, "town"), " ");
    element(out, "", cell(t, row, "region"), " ");
    cw_text_add_markup(out, cell(t, row, "country"));
}

static void slip_head(cw_text *out, const slip *s, const cw_table *t, size_t row)
{
    static const cw_phrase heads[] = { CW_PHRASE_SLIP_DIVISIONS, CW_PHRASE_SLIP_CODE, CW_PHRASE_SLIP_VARIETY,
                                       CW_PHRASE_SLIP_LOT };
    char parcel[24], scan[25];
    element(out, "<section class=\"slip\" lang=\"", cw_tongue_language(s->letter), "\">");
    slip_to(out, s, t, row);
    if (cell(t, row, "slots")[0])
        element(out, "</p></div><div><p class=\"big many\">", cell(t, row, "slots"), "</p>");
    else
        cw_text_addf(out, "</p></div><div><p class=\"big\">%lld</p>", (long long)number(t, row, "slot"));
    phrase(out, s, "<p>", CW_PHRASE_SLIP_ORDER, 0, NULL, " <span class=\"code\">");
    element(out, "", cell(t, row, "order"), "</span></p>");
    snprintf(parcel, sizeof parcel, "%lld", (long long)number(t, row, "parcel"));
    phrase(out, s, "<p>", CW_PHRASE_SLIP_PARCEL, 0, parcel, "</p>");
    if (cell(t, row, "joined")[0])
        phrase(out, s, "<p class=\"joined\">", CW_PHRASE_SLIP_JOINED, 0, cell(t, row, "joined"), "</p>");
    snprintf(scan, sizeof scan, "P%s", parcel); /* the page of parcels on their way out knows it by this */
    cw_print_bars(out, scan);
    element(out, "<p>", s->day, "</p></div></header><table><thead><tr>");
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++)
        phrase(out, s, "<th>", heads[i], 0, NULL, "</th>");
    cw_text_add(out, "</tr></thead><tbody>");
}

/* "L1, L2": a line may end between two lots, never inside of one. */
static void slip_lots(cw_text *out, const char *lots)
{
    for (const char *end = lots; end; lots = end + 2) {
        char lot[4 * CW_MAX_CODE];
        end = strstr(lots, ", ");
        snprintf(lot, sizeof lot, "%.*s", end ? (int)(end - lots) : (int)sizeof lot - 1, lots);
        cw_text_addf(out, "<span class=\"code%s\">", cw_print_size(lot, 10, 18));
        element(out, "", lot, end ? "</span>, " : "</span>");
    }
}

static void slip_row(cw_text *out, const slip *s, const cw_table *t, size_t row)
{
    cw_text_addf(out, "<tr><td class=\"num\">%lld</td>", (long long)number(t, row, "quantity"));
    cw_print_code(out, cell(t, row, "variety"));
    cw_text_add(out, "<td>");
    cw_text_add_markup(out, cell(t, row, "name"));
    if (cell(t, row, "instead_of")[0])
        phrase(out, s, " <span class=\"quiet\">", CW_PHRASE_SLIP_INSTEAD, 0, cell(t, row, "instead_of"),
               "</span>");
    if (cell(t, row, "assortment")[0])
        phrase(out, s, " <span class=\"quiet\">", CW_PHRASE_SLIP_CHOICE, 0, cell(t, row, "assortment"),
               "</span>");
    cw_text_add(out, "</td><td>");
    slip_lots(out, cell(t, row, "lots"));
    cw_text_add(out, "</td></tr>");
}

/* "2 x Amber Lantern, 1 x Briar Song" of what stands in the column for this parcel. */
static void slip_rest(cw_text *out, const slip *s, const cw_table *rest, int64_t parcel, const char *column,
                      cw_phrase p)
{
    cw_text list = CW_TEXT(64 * 1024);
    for (size_t i = 0; i < cw_table_rows(rest); i++) {
        if (number(rest, i, "parcel") != parcel || number(rest, i, column) <= 0)
            continue;
        cw_text_addf(&list, "%s%lld \u00d7 ", list.length ? ", " : "", (long long)number(rest, i, column));
        cw_text_add(&list, cell(rest, i, "name"));
    }
    out->failed = out->failed || list.failed;
    if (list.length)
        phrase(out, s, "<p class=\"later\">", p, 0, list.data, "</p>");
    cw_text_free(&list);
}

static void slip_foot(cw_text *out, const slip *s, const cw_table *t, size_t row, const cw_table *rest,
                      int64_t all)
{
    int64_t parcel = number(t, row, "parcel");
    char count[24];
    snprintf(count, sizeof count, "%lld", (long long)all);
    phrase(out, s, "</tbody></table><p>", CW_PHRASE_SLIP_COUNT, all, count, "</p>");
    slip_rest(out, s, rest, parcel, "follows", CW_PHRASE_SLIP_FOLLOWS);
    slip_rest(out, s, rest, parcel, "waits", CW_PHRASE_SLIP_WAITS);
    slip_rest(out, s, rest, parcel, "refunded", CW_PHRASE_SLIP_REFUNDED);
    cw_text_add(out, "</section>");
}

static const cw_contract contract_print_slips = {
    .says = "Packing slips of a wave to print, one a parcel, each in its buyer's language.",
    .query = slips_shape,
    .type = "text/html; charset=utf-8",
};

static cw_code route_print_slips(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct print_query in = { 0, "walk" };
    char nursery[CW_MAX_NAME + 1] = "", language[8] = "";
    slip s = { .nursery = nursery };
    cw_table t = { 0 }, rest = { 0 };
    cw_text out;
    int64_t all = 0;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_paper_slips(n, in.wave, strcmp(in.by, "walk") == 0, &t, err);
    if (code == CW_OK)
        code = cw_paper_rest(n, in.wave, &rest, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "name", nursery, sizeof nursery, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "language", language, sizeof language, err);
    cw_print_open(&out, cw_tongue_of(language, NULL), CW_PHRASE_PAPER_SLIPS, "slips");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        bool first = i == 0 || number(&t, i, "parcel") != number(&t, i - 1, "parcel");
        bool last = i + 1 == cw_table_rows(&t) || number(&t, i, "parcel") != number(&t, i + 1, "parcel");
        if (first) {
            s.letter = cw_tongue_of(cell(&t, i, "language")[0] ? cell(&t, i, "language") : language,
                                    cell(&t, i, "country"));
            cw_tongue_day(s.letter, cw_request_asker(q)->today, s.day);
            slip_head(&out, &s, &t, i);
        }
        all = number(&t, i, "quantity") + (first ? 0 : all);
        slip_row(&out, &s, &t, i);
        if (last)
            slip_foot(&out, &s, &t, i, &rest, all);
    }
    cw_table_free(&t);
    cw_table_free(&rest);
    return cw_print_close(q, &out, code, err);
}

/* The code is the costly part, and one lot's are alike: `made` keeps the last one. */
typedef struct made {
    const char *scan;
    cw_text code;
} made;

static cw_code label_code(made *m, const char *scan, cw_error *err)
{
    if (m->scan && strcmp(m->scan, scan) == 0)
        return CW_OK;
    cw_text_free(&m->code);
    *m = (made){ scan, CW_TEXT(256 * 1024) };
    cw_code code =
        cw_qr_svg(scan, CW_PRINT_DPI, strlen(scan) > 40 ? LABEL_DOTS - 1 : LABEL_DOTS, &m->code, err);
    return code == CW_OK ? cw_text_check(&m->code, err) : code;
}

/* The labels of one pick are all alike: in the nursery's language, whoever buys; with the slot and the order that they go to. */
static cw_code labels(cw_text *out, const slip *s, const cw_table *t, size_t row, made *m, cw_error *err)
{
    const char *name = cell(t, row, "name"), *code = cell(t, row, "variety"), *order = cell(t, row, "order");
    cw_text one = CW_TEXT(256 * 1024);
    cw_code status = label_code(m, cell(t, row, "scan"), err);
    cw_text_add(&one, "<article class=\"label\">");
    if (status == CW_OK)
        cw_text_addn(&one, m->code.data, m->code.length);
    cw_text_addf(&one, "<div><p class=\"name%s\">", strlen(name) > 60 ? " long" : "");
    cw_text_add_markup(&one, name);
    cw_text_addf(&one, "</p><p class=\"code%s\">", cw_print_size(code, 12, 20));
    cw_text_add_markup(&one, code);
    cw_text_addf(&one, "</p><p class=\"quiet whole%s\">", cw_print_size(cell(t, row, "lot"), 14, 22));
    phrase(&one, s, "", CW_PHRASE_LABEL_LOT, 0, cell(t, row, "lot"), "</p>");
    cw_text_addf(&one, "<p class=\"goes whole%s\"><b>%lld</b> ", cw_print_size(order, 14, 22),
                 (long long)number(t, row, "slot"));
    element(&one, "", order, "</p></div></article>");
    if (status == CW_OK)
        status = cw_text_check(&one, err);
    for (int64_t i = 0; status == CW_OK && i < number(t, row, "quantity"); i++)
        cw_text_addn(out, one.data, one.length);
    cw_text_free(&one);
    return status;
}

static const cw_contract contract_print_labels = {
    .says = "Division labels of a wave to print, in walking order, each with its slot and order.",
    .query = wave_shape,
    .type = "text/html; charset=utf-8",
};

static cw_code route_print_labels(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct print_query in = { 0, NULL };
    char language[8] = "";
    slip s = { .nursery = "" };
    made m = { 0 };
    cw_table t = { 0 };
    cw_text out;
    int64_t all = 0;
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_paper_labels(n, in.wave, &t, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "language", language, sizeof language, err);
    s.letter = cw_tongue_of(language, NULL);
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        all += number(&t, i, "quantity");
    if (all > MOST_LABELS)
        code = cw_error_set(err, CW_REFUSED,
                            "wave %lld has %lld divisions; at most %d labels are printed at once: make "
                            "smaller waves",
                            (long long)in.wave, (long long)all, MOST_LABELS);
    cw_print_open(&out, s.letter, CW_PHRASE_PAPER_LABELS, "labels");
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        code = labels(&out, &s, &t, i, &m, err);
    cw_text_free(&m.code);
    cw_table_free(&t);
    return cw_print_close(q, &out, code, err);
}

const cw_route cw_routes_print_slips[] = {
    CW_ROUTE(GET, "/print/slips", LOOK, PACK, CW_NO_BODY, print_slips),
    CW_ROUTE(GET, "/print/labels", LOOK, STAFF, CW_NO_BODY, print_labels),
    { 0 },
};
