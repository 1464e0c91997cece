/* SPDX-License-Identifier: MIT */
#include "desk/share/allotting_inside.h"

#include "base/json.h"
#include "base/limits.h"
#include "base/parallel.h"
#include "store/orders.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define ASK_EVERY  512 /* rows: whether the answer is still wanted */
#define AHEAD      12  /* rows whose lines are fetched while others are written */
#define PART_LINES 1024
#define PARTS      16     /* written side by side, then handed on */
#define ROW_BYTES  0x1000 /* no row has so many */

typedef struct turn {
    uint8_t tier;
    cw_instant received_at;
    uint32_t order;
} turn;

static int by_service(const void *pa, const void *pb)
{
    const turn *a = pa, *b = pb;
    if (a->tier != b->tier)
        return (a->tier > b->tier) - (a->tier < b->tier);
    if (a->received_at != b->received_at)
        return (a->received_at > b->received_at) - (a->received_at < b->received_at);
    return (a->order > b->order) - (a->order < b->order);
}

/* first[o] .. first[o + 1]: the lines of order o. They stand by order and line number already. */
static size_t *lines_of_orders(const cw_standing *s)
{
    size_t orders = s->book->orders;
    size_t *first = malloc((orders + 1) * sizeof *first);
    size_t i = 0;
    for (size_t o = 0; first && o <= orders; o++) {
        while (i < s->lines && s->line[i].order < o)
            i++;
        first[o] = i;
    }
    return first;
}

static void deal(const cw_standing *s, uint32_t variety, const turn *t, const size_t *first, size_t *next,
                 uint32_t *serve, size_t *served)
{
    const cw_book *b = s->book;
    for (size_t i = 0; i < s->lines; i++)
        next[s->line[i].variety + 1] += variety == CW_BOOK_NONE || s->line[i].variety == variety;
    for (size_t v = 0; v < b->varieties; v++)
        next[v + 1] += next[v];
    *served = next[b->varieties];
    for (size_t k = 0; k < b->orders; k++)
        for (size_t i = first[t[k].order]; i < first[t[k].order + 1]; i++)
            if (variety == CW_BOOK_NONE || s->line[i].variety == variety)
                serve[next[s->line[i].variety]++] = (uint32_t)i;
}

cw_code cw_standing_serve(const cw_standing *s, uint32_t variety, uint32_t **serve, size_t *served,
                          cw_error *err)
{
    const cw_book *b = s->book;
    turn *t = malloc((b->orders + 1) * sizeof *t);
    size_t *first = lines_of_orders(s);
    size_t *next = calloc(b->varieties + 2, sizeof *next);
    *serve = malloc((s->lines + 1) * sizeof **serve);
    cw_code code = t && first && next && *serve ? CW_OK : cw_error_memory(err);
    if (code == CW_OK) {
        for (size_t o = 0; o < b->orders; o++)
            t[o] = (turn){ s->order[o].tier, s->order[o].received_at, (uint32_t)o };
        qsort(t, b->orders, sizeof *t, by_service);
        deal(s, variety, t, first, next, *serve, served);
    }
    free(t);
    free(first);
    free(next);
    return code;
}

cw_code cw_allotting_serve(const cw_allotting *a, cw_error *err)
{
    /* Made when first needed, and kept: a preview of totals alone never needs it. */
    cw_allotting *own = (cw_allotting *)a;
    return a->serve ? CW_OK : cw_standing_serve(a->standing, a->variety, &own->serve, &own->served, err);
}

size_t cw_allotting_rows(const cw_allotting *a)
{
    size_t lines = 0;
    for (size_t i = 0; i < a->standing->lines; i++)
        lines += a->variety == CW_BOOK_NONE || a->standing->line[i].variety == a->variety;
    return lines * a->rules;
}

/* A line under one rule, as it is told. */
typedef struct told {
    const char *variety, *order, *rule, *reason;
    int32_t line, asked, allocated;
} told;

static told tell(const cw_allotting *a, uint32_t i, size_t rule, char sentence[CW_SHARE_SENTENCE])
{
    const cw_standing *s = a->standing;
    const cw_share_line *l = &s->line[i];
    const cw_share_outcome *o = cw_allotting_of(a, rule, i);
    return (told){ .variety = s->book->variety[l->variety].code,
                   .order = s->book->order[l->order].number,
                   .rule = cw_share_rule_name(a->rule[rule]),
                   .reason = cw_allotting_say(s, o, sentence),
                   .line = l->line,
                   .asked = l->asked,
                   .allocated = l->firm + o->allocated };
}

static void put_row(const told *t, cw_table *out)
{
    cw_put_text(out, t->variety);
    cw_put_text(out, t->order);
    cw_put_int(out, t->line);
    cw_put_int(out, t->asked);
    cw_put_int(out, t->allocated);
    cw_put_int(out, t->asked - t->allocated);
    cw_put_text(out, t->rule);
    cw_put_text(out, t->reason);
}

static void write_row(const told *t, cw_writer *out)
{
    cw_write_text(out, t->variety, strlen(t->variety));
    cw_write_text(out, t->order, strlen(t->order));
    cw_write_int(out, t->line);
    cw_write_int(out, t->asked);
    cw_write_int(out, t->allocated);
    cw_write_int(out, t->asked - t->allocated);
    cw_write_text(out, t->rule, strlen(t->rule));
    cw_write_text(out, t->reason, strlen(t->reason));
}

static const cw_column line_columns[] = {
    { "variety", CW_TEXT_T, 0 }, { "order", CW_TEXT_T, 0 },    { "line", CW_INT_T, 0 },
    { "quantity", CW_INT_T, 0 }, { "allocated", CW_INT_T, 0 }, { "short", CW_INT_T, 0 },
    { "rule", CW_TEXT_T, 0 },    { "reason", CW_TEXT_T, 0 },
};
#define LINE_COLUMNS (sizeof line_columns / sizeof line_columns[0])

/* Lines stand in the order in which they are served, which is not that of memory: each is fetched before its order, that before
 * its number. Always in line: the compiler takes a function that only fetches for one that does nothing, and drops the call. */
#define FETCH_LINE(s, i)   __builtin_prefetch(&(s)->line[i])
#define FETCH_ORDER(s, i)  __builtin_prefetch(&(s)->book->order[(s)->line[i].order])
#define FETCH_NUMBER(s, i) __builtin_prefetch((s)->book->order[(s)->line[i].order].number)

cw_code cw_allotting_lines(const cw_allotting *a, size_t *at, size_t most, cw_table *out, cw_error *err)
{
    char sentence[CW_SHARE_SENTENCE];
    cw_table_init(out, line_columns, LINE_COLUMNS);
    cw_code code = cw_allotting_serve(a, err);
    size_t end = a->served * a->rules;
    for (size_t k = 0; code == CW_OK && k < most && *at < end; k++, ++*at) {
        told t = tell(a, a->serve[*at / a->rules], *at % a->rules, sentence);
        put_row(&t, out);
    }
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_allotting_variety_lines(const cw_allotting *a, cw_table *out, cw_error *err)
{
    size_t at = 0;
    return cw_allotting_lines(a, &at, SIZE_MAX, out, err);
}

/* So many lines of the queues, under each rule, as bytes. */
typedef struct part {
    size_t from, to;
    cw_text bytes;
    cw_error err;
    cw_code code;
} part;

typedef struct part_group {
    const cw_allotting *a;
    bool json;
    part part[PARTS];
} part_group;

static void write_part(void *context, unsigned worker, size_t i)
{
    part_group *all = context;
    const cw_allotting *a = all->a;
    part *p = &all->part[i];
    char sentence[CW_SHARE_SENTENCE];
    cw_writer w = cw_writer_new(all->json ? CW_AS_JSON : CW_AS_CSV, cw_sink_text(&p->bytes));
    (void)worker;
    p->err = (cw_error)CW_ERROR_NONE;
    p->code = cw_writer_begin_part(&w, line_columns, LINE_COLUMNS, p->from == 0, &p->err);
    for (size_t k = p->from; k < p->to && p->code == CW_OK; k++) {
        if (k + 3 * AHEAD < a->served) {
            FETCH_LINE(a->standing, a->serve[k + 3 * AHEAD]);
            for (size_t r = 0; r < a->rules; r++)
                __builtin_prefetch(cw_allotting_of(a, r, a->serve[k + 3 * AHEAD]));
            FETCH_ORDER(a->standing, a->serve[k + 2 * AHEAD]);
            FETCH_NUMBER(a->standing, a->serve[k + AHEAD]);
        }
        for (size_t r = 0; r < a->rules; r++) {
            told t = tell(a, a->serve[k], r, sentence);
            write_row(&t, &w);
        }
    }
    if (p->code == CW_OK)
        p->code = cw_writer_end_part(&w, &p->err);
    cw_writer_free(&w);
}

/* The next parts from line `at` on, written side by side and handed on in their order. */
static cw_code write_parts(part_group *all, size_t *at, unsigned threads, cw_sink to, cw_error *err)
{
    size_t n = 0;
    cw_code code = CW_OK;
    for (; n < PARTS && *at < all->a->served; n++) {
        part *p = &all->part[n];
        p->from = *at;
        *at = p->to = all->a->served - *at < PART_LINES ? all->a->served : *at + PART_LINES;
        cw_text_clear(&p->bytes);
    }
    cw_parallel_for(threads, n, write_part, all);
    for (size_t i = 0; i < n && code == CW_OK; i++) {
        const part *p = &all->part[i];
        code = p->code == CW_OK ? to.write(to.self, p->bytes.data, p->bytes.length, err) : p->code;
        if (p->code != CW_OK)
            *err = p->err;
    }
    return code;
}

/* A million lines: no more is kept of what was written than a few parts. */
static cw_code write_lines(const cw_allotting *a, bool json, unsigned threads, cw_sink to, cw_error *err)
{
    part_group *all = calloc(1, sizeof *all);
    if (all == NULL)
        return cw_error_memory(err);
    all->a = a;
    all->json = json;
    for (size_t i = 0; i < PARTS; i++)
        all->part[i].bytes = CW_TEXT(PART_LINES * CW_SHARE_RULES * ROW_BYTES);
    cw_code code = cw_allotting_serve(a, err);
    for (size_t at = 0; code == CW_OK && at < a->served;)
        code = write_parts(all, &at, threads, to, err);
    for (size_t i = 0; i < PARTS; i++)
        cw_text_free(&all->part[i].bytes);
    free(all);
    return code;
}

cw_code cw_allotting_write(const cw_allotting *a, bool json, unsigned threads, cw_sink to, cw_error *err)
{
    cw_writer w = cw_writer_new(json ? CW_AS_JSON : CW_AS_CSV, to);
    cw_code code = cw_writer_begin(&w, line_columns, LINE_COLUMNS, err);
    if (code == CW_OK)
        code = write_lines(a, json, threads, to, err);
    if (code == CW_OK)
        code = cw_writer_end(&w, err);
    if (code == CW_OK && json)
        code = to.write(to.self, "\n", 1, err);
    cw_writer_free(&w);
    return code;
}

/* A line as the order desk shows it: what it is, and what each rule gives it. */
#define SHOWN_OWN 8
static size_t shown_columns(const cw_allotting *a, cw_column out[SHOWN_OWN + 2 * CW_SHARE_RULES])
{
    static const cw_column own[SHOWN_OWN] = {
        { "order", CW_TEXT_T },
        { "line", CW_INT_T },
        { "customer", CW_TEXT_T, .null = true },
        { "tier", CW_TEXT_T },
        { "received_at", CW_INSTANT_T },
        { "all_or_none", CW_BOOL_T },
        { "quantity", CW_INT_T },
        { "firm", CW_INT_T },
    };
    memcpy(out, own, sizeof own);
    for (size_t r = 0; r < a->rules; r++) {
        out[SHOWN_OWN + 2 * r] = (cw_column){ cw_share_rule_field(a->rule[r]), CW_INT_T };
        out[SHOWN_OWN + 2 * r + 1] = (cw_column){ cw_share_rule_reason_field(a->rule[r]), CW_TEXT_T };
    }
    return SHOWN_OWN + 2 * a->rules;
}

static cw_code write_shown(cw_nursery *n, const cw_allotting *a, uint32_t i, cw_writer *w, cw_error *err)
{
    const cw_standing *s = a->standing;
    const cw_share_line *l = &s->line[i];
    const cw_book_order *o = &s->book->order[l->order];
    char sentence[CW_SHARE_SENTENCE], room[CW_MAX_NAME + 1];
    const char *customer, *tier = cw_share_tier_name(s->order[l->order].tier);
    cw_code code = cw_allotting_customer(n, o, room, &customer, err);
    if (code != CW_OK)
        return code;
    cw_write_text(w, o->number, strlen(o->number));
    cw_write_int(w, l->line);
    cw_write_text(w, customer, strlen(customer));
    cw_write_text(w, tier, strlen(tier));
    cw_write_int(w, o->received_at);
    cw_write_int(w, l->all_or_none);
    cw_write_int(w, l->asked);
    cw_write_int(w, l->firm);
    for (size_t r = 0; r < a->rules; r++) {
        const cw_share_outcome *x = cw_allotting_of(a, r, i);
        cw_allotting_say(s, x, sentence);
        cw_write_int(w, x->allocated);
        cw_write_text(w, sentence, strlen(sentence));
    }
    return CW_OK;
}

static cw_code write_all_shown(cw_nursery *n, const cw_allotting *a, cw_sink to, cw_error *err)
{
    cw_column columns[SHOWN_OWN + 2 * CW_SHARE_RULES];
    size_t width = shown_columns(a, columns);
    cw_writer w = cw_writer_new(CW_AS_JSON, to);
    cw_code code = cw_allotting_serve(a, err);
    if (code == CW_OK)
        code = cw_writer_begin(&w, columns, width, err);
    for (size_t k = 0; code == CW_OK && k < a->served; k++) {
        code = write_shown(n, a, a->serve[k], &w, err);
        if (code == CW_OK && k % ASK_EVERY == 0)
            code = cw_writer_check(&w, err);
    }
    if (code == CW_OK)
        code = cw_writer_end(&w, err);
    cw_writer_free(&w);
    return code;
}

/* A line has its outcome under each rule. */
static json_t *line_schema(void)
{
    static const cw_part parts[] = {
        { "order", CW_TEXT_T },
        { "line", CW_INT_T },
        { "customer", CW_TEXT_T, .null = true },
        { "tier", CW_TEXT_T, .words = cw_words_tiers },
        { "received_at", CW_INSTANT_T },
        { "all_or_none", CW_BOOL_T },
        { "quantity", CW_INT_T },
        { "firm", CW_INT_T },
        { 0 },
    };
    json_t *o = cw_shape_schema(&(cw_shape){ .parts = parts });
    for (cw_share_rule r = 0; r < CW_SHARE_RULES; r++) {
        cw_schema_member_take(&o, cw_share_rule_field(r), true, cw_type_schema(CW_INT_T, false, NULL));
        cw_schema_member_take(&o, cw_share_rule_reason_field(r), true,
                              cw_type_schema(CW_TEXT_T, false, NULL));
    }
    return o;
}

static const cw_shape lines_shape = { .list = true, .make = line_schema };
/* Of one variety: what there is, and its lines. Of all: how many have enough. */
const cw_shape cw_allotting_document_shape = { .parts = (const cw_part[]){
                                                   { "digest", CW_TEXT_T },
                                                   { "tiers_first", CW_BOOL_T },
                                                   { "totals", .shape = &cw_allotting_totals_shape },
                                                   { "sums", .shape = &cw_allotting_sums_shape },
                                                   { "enough", CW_INT_T, .lack = true },
                                                   { "variety", CW_TEXT_T, .lack = true },
                                                   { "name", CW_TEXT_T, .lack = true },
                                                   { "there", CW_INT_T, .lack = true },
                                                   { "supply", CW_INT_T, .lack = true },
                                                   { "lines", .shape = &lines_shape, .lack = true },
                                                   { 0 },
                                               } };

/* All but the lines. */
static cw_code head_of(const cw_allotting *a, json_t **out, cw_error *err)
{
    bool one = a->variety != CW_BOOK_NONE;
    cw_table totals = { 0 }, sums = { 0 };
    size_t enough = 0;
    *out = NULL;
    cw_code code = cw_allotting_totals(a, !one, &totals, &enough, err);
    if (code == CW_OK)
        code = cw_allotting_sums(a, &sums, err);
    if (code == CW_OK)
        *out = json_pack("{s:s,s:b,s:o,s:o}", "digest", a->digest, "tiers_first", a->tiers_first, "totals",
                         cw_table_to_json(&totals), "sums", cw_table_to_json(&sums));
    cw_table_free(&totals);
    cw_table_free(&sums);
    if (code != CW_OK || *out == NULL)
        return code == CW_OK ? cw_error_memory(err) : code;
    if (!one)
        return json_object_set_new(*out, "enough", json_integer((json_int_t)enough)) ? cw_error_memory(err)
                                                                                     : CW_OK;
    const cw_standing *s = a->standing;
    const cw_book_variety *v = &s->book->variety[a->variety];
    return json_object_set_new(*out, "variety", json_string(v->code)) ||
                   json_object_set_new(*out, "name", json_string(v->name)) ||
                   json_object_set_new(*out, "there", json_integer(s->there[a->variety])) ||
                   json_object_set_new(*out, "supply", json_integer(s->free[a->variety]))
               ? cw_error_memory(err)
               : CW_OK;
}

/* A variety that everybody wants has forty thousand lines: they are handed on as they are told, and stand nowhere whole. */
cw_code cw_allotting_document(cw_nursery *n, const cw_allotting *a, cw_sink to, cw_error *err)
{
    static const char lines[] = ",\"lines\":";
    json_t *head = NULL;
    cw_code code = head_of(a, &head, err);
    char *text = code == CW_OK ? cw_json_text(head, JSON_COMPACT) : NULL;
    json_decref(head);
    if (code == CW_OK && text == NULL)
        code = cw_error_memory(err);
    if (code == CW_OK)
        code = to.write(to.self, text, strlen(text) - 1, err); /* without the brace that ends it */
    free(text);
    if (code == CW_OK && a->variety != CW_BOOK_NONE) {
        code = to.write(to.self, lines, sizeof lines - 1, err);
        if (code == CW_OK)
            code = write_all_shown(n, a, to, err);
    }
    return code == CW_OK ? to.write(to.self, "}", 1, err) : code;
}

cw_code cw_allotting_customer(cw_nursery *n, const cw_book_order *o, char room[CW_MAX_NAME + 1],
                              const char **out, cw_error *err)
{
    *out = o->customer ? o->customer : room;
    return o->customer ? CW_OK : cw_order_customer(n->db, o->id, room, CW_MAX_NAME + 1, err);
}
