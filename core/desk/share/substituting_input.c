/* SPDX-License-Identifier: MIT */
#include "desk/share/substituting_inside.h"

#include "base/digest.h"
#include "base/grow.h"
#include "base/limits.h"
#include "store/naming.h"
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

/* Names of forms and colours as numbers, in order of appearance (varieties stand by code, so it is always the same).
 * Letters' case does not matter. A name that no variety has gets a number too, which then matches nothing. */
typedef struct names {
    const char **name;
    size_t count, room;
} names;

static cw_code number_of(names *n, const char *name, size_t length, int32_t *out, cw_error *err)
{
    *out = CW_SUB_UNKNOWN;
    if (length == 0)
        return CW_OK;
    for (size_t i = 0; i < n->count; i++)
        if (strlen(n->name[i]) == length && strncasecmp(n->name[i], name, length) == 0) {
            *out = (int32_t)i;
            return CW_OK;
        }
    if (!cw_grow(&n->name, n->count, &n->room, sizeof *n->name))
        return cw_error_memory(err);
    *out = (int32_t)n->count;
    n->name[n->count++] = name;
    return CW_OK;
}

static int32_t size_of(const char *name, size_t length)
{
    static const char *const sizes[] = { "small", "medium", "large", "giant" };
    for (int32_t i = 0; i < 4; i++)
        if (strlen(sizes[i]) == length && strncasecmp(sizes[i], name, length) == 0)
            return i;
    return CW_SUB_UNKNOWN;
}

typedef struct builder {
    cw_nursery *n;
    cw_substituting *s;
    names forms, colours;
    size_t item_room, named_room;
    bool *ready;  /* [orders] leaves complete or not at all, and all its named lines are promised */
    bool *short_; /* [orders] has a short line */
    cw_sub_item *filling;
    cw_code code;
    cw_error *err;
} builder;

static cw_code set_varieties(builder *b)
{
    cw_substituting *s = b->s;
    const cw_standing *t = s->standing;
    s->variety = calloc(t->book->varieties + 1, sizeof *s->variety);
    if (s->variety == NULL)
        return cw_error_memory(b->err);
    for (size_t v = 0; v < t->book->varieties; v++) {
        const cw_book_variety *x = &t->book->variety[v];
        cw_sub_variety *out = &s->variety[v];
        int64_t surplus = t->free[v] - x->wanted;
        *out = (cw_sub_variety){ .price = x->price,
                                 .surplus = surplus > 0 ? (int32_t)surplus : 0,
                                 .limit_per_order = (int32_t)x->limit_per_order };
        out->class.size = size_of(x->size, strlen(x->size));
        cw_code code = number_of(&b->forms, x->form, strlen(x->form), &out->class.form, b->err);
        if (code == CW_OK)
            code = number_of(&b->colours, x->colour, strlen(x->colour), &out->class.colour, b->err);
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}

/* Orders that leave complete or not at all are ready for their assortments when nothing else is missing. */
static cw_code set_orders(builder *b)
{
    const cw_standing *t = b->s->standing;
    b->ready = calloc(t->book->orders + 1, sizeof *b->ready);
    b->short_ = calloc(t->book->orders + 1, sizeof *b->short_);
    if (!b->ready || !b->short_)
        return cw_error_memory(b->err);
    for (size_t o = 0; o < t->book->orders; o++)
        b->ready[o] = t->order[o].ship_complete;
    for (size_t i = 0; i < t->lines; i++)
        if (t->line[i].firm < t->line[i].asked)
            b->ready[t->line[i].order] = false;
    return CW_OK;
}

static cw_code add_item(builder *b, uint32_t in_book, int32_t missing, bool complete)
{
    cw_substituting *s = b->s;
    const cw_book_line *l = &s->standing->book->line[in_book];
    if (!cw_grow(&s->item, s->items, &b->item_room, sizeof *s->item))
        return cw_error_memory(b->err);
    s->item[s->items++] = (cw_sub_item){
        .line = { .order = l->order,
                  .line = l->line,
                  .wanted = l->variety == CW_BOOK_NONE ? CW_SUB_NONE_WANTED : l->variety,
                  .missing = missing,
                  .paid = l->unit_price,
                  .consent = l->variety == CW_BOOK_NONE ? CW_CONSENT_ASSORTMENT : CW_CONSENT_NONE,
                  .class = { CW_SUB_UNKNOWN, CW_SUB_UNKNOWN, CW_SUB_UNKNOWN },
                  .spread = l->variety == CW_BOOK_NONE ? s->spread : 0 },
        .in_book = in_book,
        .short_ = missing,
        .whole = l->all_or_none || complete,
        .complete = complete,
    };
    b->short_[l->order] = true;
    return CW_OK;
}

static cw_code list_short(builder *b)
{
    const cw_standing *t = b->s->standing;
    cw_code code = CW_OK;
    for (size_t i = 0; i < t->lines && code == CW_OK; i++) {
        const cw_book_variety *v = &t->book->variety[t->line[i].variety];
        int32_t missing = t->line[i].asked - t->line[i].firm - b->s->own[i].allocated;
        bool complete = t->order[t->line[i].order].ship_complete;
        if (t->order[t->line[i].order].barred)
            continue;
        if (missing > 0 && complete && v->wanted <= t->free[t->line[i].variety])
            b->s->with[b->s->withs++] = (uint32_t)i; /* enough for all: not what keeps the order back */
        else if (missing > 0)
            code = add_item(b, t->line_in_book[i], missing, complete);
    }
    for (size_t i = 0; i < t->book->lines && code == CW_OK; i++) {
        const cw_book_line *l = &t->book->line[i];
        bool complete = t->order[l->order].ship_complete;
        if (l->variety == CW_BOOK_NONE && l->quantity > l->firm && !t->order[l->order].barred &&
            (!complete || b->ready[l->order]))
            code = add_item(b, (uint32_t)i, l->quantity - l->firm, complete);
    }
    return code;
}

static int by_place(const void *pa, const void *pb)
{
    const cw_sub_line *a = &((const cw_sub_item *)pa)->line, *b = &((const cw_sub_item *)pb)->line;
    if (a->order != b->order)
        return (a->order > b->order) - (a->order < b->order);
    return (a->line > b->line) - (a->line < b->line);
}

/* A buyer's wish stands as it was typed: the variety may have another code by now. */
static cw_code variety_named(builder *b, const char *typed, uint32_t *out)
{
    cw_named_variety v = { 0 };
    bool found = false;
    *out = cw_book_variety_of(b->s->standing->book, typed);
    if (*out != CW_BOOK_NONE)
        return CW_OK;
    cw_code code = cw_naming_variety(b->n->db, typed, &found, &v, b->err);
    if (code == CW_OK && found)
        *out = cw_book_variety_of(b->s->standing->book, v.code);
    return code;
}

/* "AMB CIN": the buyer's list, best first. */
static cw_code read_named(builder *b, const char *codes)
{
    cw_substituting *s = b->s;
    cw_sub_line *l = &b->filling->line;
    char code[CW_MAX_CODE + 1];
    l->named_first = (uint32_t)s->in.named_total;
    while (codes && *codes) {
        size_t n = strcspn(codes, " ");
        if (n > 0 && n <= CW_MAX_CODE) {
            memcpy(code, codes, n);
            code[n] = '\0';
            uint32_t v = CW_BOOK_NONE;
            cw_code found = variety_named(b, code, &v);
            if (found != CW_OK)
                return found;
            if (!cw_grow(&s->named, s->in.named_total, &b->named_room, sizeof *s->named))
                return cw_error_memory(b->err);
            if (v != CW_BOOK_NONE) {
                s->named[s->in.named_total++] = v;
                l->named_count++;
            }
        }
        codes += n;
        codes += strspn(codes, " ");
    }
    return CW_OK;
}

/* "colour=dark red form=ball": a word without '=' goes on with the value before it. */
static cw_code read_class(builder *b, const char *words)
{
    cw_sub_class *class = &b->filling->line.class;
    cw_code code = CW_OK;
    const char *at = words;
    while (code == CW_OK && *at) {
        const char *equals = strchr(at, '=');
        if (equals == NULL)
            break;
        const char *value = equals + 1, *end = value + strlen(value), *next = strchr(value, '=');
        if (next) {
            end = next;
            while (end > value && end[-1] != ' ')
                end--;
        }
        size_t n = (size_t)(end - value);
        while (n > 0 && value[n - 1] == ' ')
            n--;
        if (strncasecmp(at, "form=", 5) == 0)
            code = number_of(&b->forms, value, n, &class->form, b->err);
        else if (strncasecmp(at, "colour=", 7) == 0)
            code = number_of(&b->colours, value, n, &class->colour, b->err);
        else if (strncasecmp(at, "size=", 5) == 0)
            class->size = size_of(value, n);
        at = end;
    }
    return code;
}

static void take_wish(void *context, const cw_book_wish *w)
{
    builder *b = context;
    cw_sub_item *item = b->filling;
    if (w->assortment) {
        item->assortment = b->s->texts.length;
        cw_text_addn(&b->s->texts, w->assortment, strlen(w->assortment) + 1);
        return;
    }
    if (strcmp(w->consent, "same") == 0)
        item->line.consent = CW_CONSENT_SAME;
    else if (strcmp(w->consent, "any") == 0)
        item->line.consent = CW_CONSENT_ANY;
    else if (strcmp(w->consent, "named") == 0) {
        item->line.consent = CW_CONSENT_NAMED;
        b->code = read_named(b, w->named);
    }
}

static cw_code read_wishes(builder *b)
{
    cw_substituting *s = b->s;
    for (size_t k = 0; k < s->items; k++) {
        b->filling = &s->item[k];
        b->code = CW_OK;
        cw_code code =
            cw_book_wish_read(b->n->db, s->standing->book->line[s->item[k].in_book].id, take_wish, b, b->err);
        if (code != CW_OK || b->code != CW_OK)
            return code != CW_OK ? code : b->code;
    }
    cw_code code = cw_text_check(&s->texts, b->err);
    /* Classes only now: their names point into the texts, which no longer move. */
    for (size_t k = 0; k < s->items && code == CW_OK; k++) {
        b->filling = &s->item[k];
        if (s->item[k].line.consent == CW_CONSENT_ASSORTMENT)
            code = read_class(b, s->texts.data + s->item[k].assortment);
    }
    return code;
}

/* What orders with short lines already hold: their assortment lines must not get it a second time. */
static cw_code list_held(builder *b)
{
    cw_substituting *s = b->s;
    const cw_standing *t = s->standing;
    const cw_book *book = t->book;
    s->held = malloc((book->firms + t->lines + 1) * sizeof *s->held);
    s->ban = malloc((book->firms + 1) * sizeof *s->ban);
    if (!s->held || !s->ban)
        return cw_error_memory(b->err);
    for (size_t k = 0; k < book->firms; k++) {
        const cw_book_firm *f = &book->firm[k];
        const cw_book_line *l = &book->line[f->line];
        if (!b->short_[l->order])
            continue;
        s->held[s->in.helds++] =
            (cw_sub_held){ l->order, f->variety, l->variety == f->variety ? 0 : f->quantity };
        if (l->variety == CW_BOOK_NONE && s->item_of[f->line] != CW_BOOK_NONE)
            s->ban[s->in.bans++] = (cw_sub_ban){ s->item_of[f->line], f->variety };
    }
    for (size_t k = 0; k < s->withs; k++)
        if (b->short_[t->line[s->with[k]].order])
            s->held[s->in.helds++] =
                (cw_sub_held){ t->line[s->with[k]].order, t->line[s->with[k]].variety, 0 };
    for (size_t i = 0; i < t->lines; i++)
        if (s->own[i].allocated > 0 && b->short_[t->line[i].order])
            s->held[s->in.helds++] = (cw_sub_held){ t->line[i].order, t->line[i].variety, 0 };
    return CW_OK;
}

static cw_code list_banned(builder *b)
{
    return cw_substituting_list_banned(b->n, b->s, b->err);
}

static cw_code index_items(builder *b)
{
    cw_substituting *s = b->s;
    size_t lines = s->standing->book->lines;
    if (s->items > 0)
        qsort(s->item, s->items, sizeof *s->item, by_place);
    s->item_of = malloc((lines + 1) * sizeof *s->item_of);
    if (s->item_of == NULL)
        return cw_error_memory(b->err);
    for (size_t i = 0; i < lines; i++)
        s->item_of[i] = CW_BOOK_NONE;
    for (size_t k = 0; k < s->items; k++)
        s->item_of[s->item[k].in_book] = (uint32_t)k;
    return CW_OK;
}

/* All further inputs, beside those that the standing's digest covers. */
static void make_digest(cw_substituting *s)
{
    cw_digest d;
    char standing[65];
    cw_standing_digest(s->standing, standing);
    cw_digest_init(&d);
    cw_digest_add_text(&d, standing);
    for (size_t v = 0; v < s->standing->book->varieties; v++) {
        const cw_sub_variety *x = &s->variety[v];
        const int64_t n[] = { x->class.form, x->class.colour, x->class.size,
                              x->price,      x->surplus,      x->limit_per_order };
        for (size_t i = 0; i < sizeof n / sizeof n[0]; i++)
            cw_digest_add_int(&d, n[i]);
    }
    for (size_t k = 0; k < s->items; k++) {
        const cw_sub_line *l = &s->item[k].line;
        const int64_t n[] = { l->order,       l->line,       l->missing,       l->paid,
                              l->consent,     l->class.form, l->class.colour,  l->class.size,
                              l->named_count, l->spread,     s->item[k].whole, s->item[k].complete };
        for (size_t i = 0; i < sizeof n / sizeof n[0]; i++)
            cw_digest_add_int(&d, n[i]);
        for (uint32_t i = 0; i < l->named_count; i++)
            cw_digest_add_int(&d, s->named[l->named_first + i]);
    }
    for (size_t k = 0; k < s->in.bans; k++) {
        cw_digest_add_int(&d, s->ban[k].line);
        cw_digest_add_int(&d, s->ban[k].variety);
    }
    cw_digest_end(&d, s->digest);
}

static cw_code lay_out(builder *b)
{
    cw_substituting *s = b->s;
    s->line = malloc((s->items + 1) * sizeof *s->line);
    if (s->line == NULL)
        return cw_error_memory(b->err);
    for (size_t k = 0, first = 0; k < s->items; k++) {
        s->line[k] = s->item[k].line;
        first = s->line[k].order == s->line[first].order ? first : k;
        if (s->item[k].whole) /* an order that leaves complete is one; else each line alone */
            s->line[k].unit = (uint32_t)(s->item[k].complete ? first : k) + 1;
    }
    s->in.varieties = s->standing->book->varieties;
    s->in.variety = s->variety;
    s->in.lines = s->items;
    s->in.line = s->line;
    s->in.held = s->held;
    s->in.named = s->named;
    s->in.ban = s->ban;
    make_digest(s);
    return CW_OK;
}

static cw_code share_own(builder *b)
{
    cw_substituting *s = b->s;
    cw_last_rule last;
    double spread = 0;
    cw_code code = cw_last_rule_read(b->n, NULL, &last, b->err);
    if (code == CW_OK)
        code = cw_nursery_number(b->n, "assortment_spread", &spread, b->err);
    s->spread = (int32_t)spread;
    s->own = malloc((s->standing->lines + 1) * sizeof *s->own);
    s->with = malloc((s->standing->lines + 1) * sizeof *s->with);
    if (code == CW_OK && (s->own == NULL || s->with == NULL))
        code = cw_error_memory(b->err);
    if (code == CW_OK)
        code = cw_standing_share(s->standing, b->err);
    return code == CW_OK ? cw_share_run(s->standing->share, last.rule, last.tiers_first, s->own, NULL, b->err)
                         : code;
}

cw_code cw_substituting_read_take(cw_nursery *n, cw_standing *standing, cw_substituting **out, cw_error *err)
{
    static cw_code (*const steps[])(builder * b) = { share_own,  set_varieties, set_orders,
                                                     list_short, index_items,   read_wishes,
                                                     list_held,  list_banned,   lay_out };
    cw_substituting *s = calloc(1, sizeof *s);
    *out = NULL;
    if (s == NULL) {
        cw_standing_free(standing);
        return cw_error_memory(err);
    }
    s->standing = standing;
    s->texts = CW_TEXT((size_t)1 << 30);
    builder b = { .n = n, .s = s, .err = err };
    cw_code code = CW_OK;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0] && code == CW_OK; i++)
        code = steps[i](&b);
    free(b.forms.name);
    free(b.colours.name);
    free(b.ready);
    free(b.short_);
    if (code != CW_OK) {
        cw_substituting_free(s);
        return code;
    }
    *out = s;
    return CW_OK;
}
