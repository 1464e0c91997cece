/* SPDX-License-Identifier: MIT */
#include "desk/share/standing_inside.h"

#include "base/digest.h"
#include "base/limits.h"
#include "desk/forecast/forecast_inside.h"
#include "store/allocations.h"
#include "store/season.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define TIERS_FIRST ", tiers first"

cw_code cw_basis_read(cw_nursery *n, bool projected, double confidence, cw_basis *out, cw_error *err)
{
    *out = (cw_basis){ .projected = projected, .confidence = confidence };
    if (!projected)
        return CW_OK;
    if (confidence == 0)
        return cw_nursery_number(n, "confidence", &out->confidence, err);
    if (!(confidence > 0 && confidence < 1))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "confidence", "must lie between 0 and 1: %g",
                           confidence);
    return CW_OK;
}

const char *cw_rule_text(cw_share_rule rule, bool tiers_first)
{
    static const char *const texts[][2] = {
#define CW_SHARE_RULE(id, name, ...) { name, name TIERS_FIRST },
#include "model/share_rules.def"
#undef CW_SHARE_RULE
    };
    _Static_assert(sizeof texts / sizeof texts[0] == CW_SHARE_RULES, "a text for each rule");
    /* Without an award of its own a rule goes by tiers anyway. */
    return texts[rule][tiers_first && !cw_share_rule_in_turn(rule)];
}

cw_code cw_last_rule_read(cw_nursery *n, const char *variety, cw_last_rule *out, cw_error *err)
{
    cw_run_how how = { 0 };
    bool found = false;
    *out = (cw_last_rule){ .rule = CW_SHARE_FIRST_COME };
    cw_code code = variety ? cw_runs_last_of(n->db, variety, &how, &found, err) : CW_OK;
    if (code == CW_OK && !found)
        code = cw_runs_last(n->db, "allocate", &how, &found, err);
    if (code != CW_OK || !found)
        return code;
    cw_share_rule rule = cw_share_rule_of(how.rule, strcspn(how.rule, ","));
    out->rule = rule < CW_SHARE_RULES ? rule : CW_SHARE_FIRST_COME;
    out->tiers_first = strstr(how.rule, TIERS_FIRST) != NULL;
    return CW_OK;
}

cw_code cw_stock_foresee(cw_nursery *n, const cw_asker *who, const cw_basis *basis, cw_promise_of_stock *out,
                         cw_error *err)
{
    int64_t trade;
    *out = (cw_promise_of_stock){ 0 };
    if (!basis->projected)
        return CW_OK;
    cw_code code = cw_season_revision(n->db, &out->revision, &trade, err);
    if (code == CW_OK)
        code = cw_book_variety_ids(n->db, &out->id, &out->count, err);
    if (code != CW_OK)
        return code;
    out->supply = calloc(out->count + 1, sizeof *out->supply);
    if (out->supply == NULL)
        return cw_error_memory(err);
    return cw_forecast_supply(n, who, basis->confidence, out->id, out->count, out->supply, err);
}

void cw_stock_free(cw_promise_of_stock *s)
{
    free(s->id);
    free(s->supply);
    *s = (cw_promise_of_stock){ 0 };
}

static int64_t foreseen(const cw_promise_of_stock *s, int64_t id)
{
    size_t low = 0, high = s->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (s->id[middle] < id)
            low = middle + 1;
        else
            high = middle;
    }
    return low < s->count && s->id[low] == id ? s->supply[low] : 0;
}

static void weigh_stock(cw_standing *s, const cw_promise_of_stock *stock)
{
    for (size_t v = 0; v < s->book->varieties; v++) {
        const cw_book_variety *b = &s->book->variety[v];
        s->there[v] = s->basis.projected ? foreseen(stock, b->id) : b->on_hand;
        s->over[v] = s->there[v] - b->hold_back - b->reserve - b->promised;
        s->free[v] = s->over[v] < 0 ? 0 : s->over[v] > CW_MAX_DIVISIONS ? CW_MAX_DIVISIONS : s->over[v];
    }
}

static void list_lines(cw_standing *s)
{
    const cw_book *b = s->book;
    for (size_t o = 0; o < b->orders; o++)
        s->order[o] = (cw_share_order){ b->order[o].received_at, b->order[o].tier, b->order[o].ship_complete,
                                        b->order[o].blocked };
    for (size_t i = 0; i < b->lines; i++) {
        const cw_book_line *l = &b->line[i];
        if (l->variety == CW_BOOK_NONE || (b->only != CW_BOOK_NONE && l->variety != b->only))
            continue;
        s->line_in_book[s->lines] = (uint32_t)i;
        s->line[s->lines++] =
            (cw_share_line){ l->variety, l->order, l->line, l->quantity, l->firm, l->all_or_none };
    }
}

typedef struct keyed {
    uint64_t key; /* order, line number */
    cw_share_line line;
    uint32_t in_book;
} keyed;

static uint64_t key_of(const cw_share_line *l)
{
    return (uint64_t)l->order << 32 | (uint32_t)l->line;
}

static int by_key(const void *a, const void *b)
{
    uint64_t x = ((const keyed *)a)->key, y = ((const keyed *)b)->key;
    return (x > y) - (x < y);
}

/* Lines by order number, then line number, in whatever order the rows came into the file: so the digest hangs on what
 * is asked and not on how it was loaded. Nearly always they are in that order already. */
static cw_code sort_lines(cw_standing *s, cw_error *err)
{
    size_t i = 1;
    while (i < s->lines && key_of(&s->line[i - 1]) < key_of(&s->line[i]))
        i++;
    if (i >= s->lines)
        return CW_OK;
    keyed *k = malloc(s->lines * sizeof *k);
    if (k == NULL)
        return cw_error_memory(err);
    for (i = 0; i < s->lines; i++)
        k[i] = (keyed){ key_of(&s->line[i]), s->line[i], s->line_in_book[i] };
    qsort(k, s->lines, sizeof *k, by_key);
    for (i = 0; i < s->lines; i++) {
        s->line[i] = k[i].line;
        s->line_in_book[i] = k[i].in_book;
    }
    free(k);
    return CW_OK;
}

static cw_code lay_out(cw_standing *s, const cw_promise_of_stock *stock, cw_error *err)
{
    const cw_book *b = s->book;
    s->there = calloc(b->varieties + 1, sizeof *s->there);
    s->over = calloc(b->varieties + 1, sizeof *s->over);
    s->free = calloc(b->varieties + 1, sizeof *s->free);
    s->order = malloc((b->orders + 1) * sizeof *s->order);
    s->line = malloc((b->lines + 1) * sizeof *s->line);
    s->line_in_book = malloc((b->lines + 1) * sizeof *s->line_in_book);
    if (!s->there || !s->over || !s->free || !s->order || !s->line || !s->line_in_book)
        return cw_error_memory(err);
    weigh_stock(s, stock);
    list_lines(s);
    return sort_lines(s, err);
}

cw_code cw_standing_share(cw_standing *s, cw_error *err)
{
    cw_share_input in = { s->book->varieties, s->book->orders, s->lines, s->free, s->order, s->line };
    return s->share ? CW_OK : cw_share_new(&in, &s->share, err);
}

static bool leaves_complete(const cw_book *b)
{
    for (size_t o = 0; o < b->orders; o++)
        if (b->order[o].ship_complete)
            return true;
    return false;
}

static cw_code read_book(cw_nursery *n, const cw_basis *basis, cw_book **out, cw_error *err)
{
    cw_code code = cw_book_read(n->db, basis->variety, out, err);
    if (code != CW_OK || (*out)->only == CW_BOOK_NONE || !leaves_complete(*out))
        return code;
    cw_book_free(*out);
    return cw_book_read(n->db, NULL, out, err);
}

cw_code cw_standing_read(cw_nursery *n, const cw_basis *basis, const cw_promise_of_stock *stock,
                         cw_standing **out, cw_error *err)
{
    *out = NULL;
    cw_standing *s = calloc(1, sizeof *s);
    if (s == NULL)
        return cw_error_memory(err);
    s->basis = *basis;
    cw_code code = read_book(n, basis, &s->book, err);
    if (code == CW_OK && basis->projected && s->book->stock_revision != stock->revision)
        code = cw_error_set(err, CW_CONFLICT, "the stock changed while it was being projected; try again");
    if (code == CW_OK)
        code = lay_out(s, stock, err);
    if (code != CW_OK) {
        cw_standing_free(s);
        return code;
    }
    *out = s;
    return CW_OK;
}

typedef cw_code (*inside_look)(void *context, cw_standing *s, cw_error *err);

static cw_code look_once(cw_nursery *n, const cw_asker *who, const cw_basis *basis, inside_look inside,
                         void *context, bool *again, cw_error *err)
{
    cw_promise_of_stock stock;
    cw_standing *s = NULL;
    bool own = !cw_db_in_transaction(n->db);
    cw_code code = cw_stock_foresee(n, who, basis, &stock, err);
    if (code == CW_OK && own)
        code = cw_db_begin_read(n->db, err);
    if (code == CW_OK) {
        code = cw_standing_read(n, basis, &stock, &s, err);
        *again = code == CW_CONFLICT;
    }
    if (code == CW_OK)
        code = inside(context, s, err);
    if (own)
        cw_db_rollback(n->db);
    cw_stock_free(&stock);
    return code;
}

cw_code cw_standing_with(cw_nursery *n, const cw_asker *who, const cw_basis *basis, inside_look inside,
                         void *context, cw_error *err)
{
    cw_error why = CW_ERROR_NONE;
    bool again = true;
    cw_code code = CW_OK;
    for (int tries = 0; tries < 3 && again; tries++) {
        again = false;
        why = (cw_error)CW_ERROR_NONE;
        code = look_once(n, who, basis, inside, context, &again, &why);
    }
    if (code != CW_OK && err && err->code == CW_OK)
        *err = why;
    return code;
}

cw_code cw_standing_work(cw_nursery *n, const cw_asker *who, const cw_basis *basis, inside_look inside,
                         void *context, cw_error *err)
{
    cw_promise_of_stock stock;
    cw_standing *s = NULL;
    cw_code code = cw_stock_foresee(n, who, basis, &stock, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code == CW_OK) {
        code = cw_asker_tell(who, "reading the orders", 0, 0, err);
        if (code == CW_OK)
            code = cw_standing_read(n, basis, &stock, &s, err);
        if (code == CW_OK)
            code = inside(context, s, err);
        code = cw_work_end(n, code, err);
    }
    cw_stock_free(&stock);
    return code;
}

static cw_code keep_standing(void *context, cw_standing *s, cw_error *err)
{
    (void)err;
    *(cw_standing **)context = s;
    return CW_OK;
}

cw_code cw_standing_look(cw_nursery *n, const cw_asker *who, const cw_basis *basis, cw_standing **out,
                         cw_error *err)
{
    *out = NULL;
    return cw_standing_with(n, who, basis, keep_standing, out, err);
}

void cw_standing_free(cw_standing *s)
{
    if (s == NULL)
        return;
    cw_share_free(s->share);
    cw_book_free(s->book);
    free(s->there);
    free(s->over);
    free(s->free);
    free(s->order);
    free(s->line);
    free(s->line_in_book);
    free(s);
}

/* Little-endian words into a block that is hashed when it is full: a million lines are 24 MB to hash. */
typedef struct hasher {
    cw_digest digest;
    uint8_t bytes[6144];
    size_t used;
} hasher;

static void put(hasher *h, uint64_t v, size_t n)
{
    for (size_t i = 0; i < n; i++)
        h->bytes[h->used++] = (uint8_t)(v >> (8 * i));
    if (h->used > sizeof h->bytes - 64) {
        cw_digest_add(&h->digest, h->bytes, h->used);
        h->used = 0;
    }
}

void cw_standing_digest(const cw_standing *s, char hex[65])
{
    const cw_book *b = s->book;
    hasher h = { .used = 0 };
    cw_digest_init(&h.digest);
    cw_digest_add_int(&h.digest, (int64_t)b->varieties);
    for (size_t v = 0; v < b->varieties; v++) {
        if (b->only != CW_BOOK_NONE && v != b->only)
            continue;
        cw_digest_add_text(&h.digest, b->variety[v].code);
        cw_digest_add_int(&h.digest, s->free[v]);
    }
    cw_digest_add_int(&h.digest, (int64_t)b->orders);
    for (size_t o = 0; o < b->orders; o++)
        cw_digest_add(&h.digest, b->order[o].number, strlen(b->order[o].number) + 1);
    for (size_t o = 0; o < b->orders; o++) {
        put(&h, (uint64_t)s->order[o].received_at, 8);
        put(&h, s->order[o].tier | (s->order[o].ship_complete ? 4u : 0u) | (s->order[o].barred ? 8u : 0u), 1);
    }
    for (size_t i = 0; i < s->lines; i++) {
        const cw_share_line *l = &s->line[i];
        put(&h, l->variety | (uint64_t)l->order << 32, 8);
        put(&h, (uint32_t)l->line | (uint64_t)(uint32_t)l->asked << 32, 8);
        put(&h, (uint32_t)l->firm | (l->all_or_none ? 1u << 31 : 0u), 4);
    }
    cw_digest_add(&h.digest, h.bytes, h.used);
    cw_digest_end(&h.digest, hex);
}

/* reason = code | rule << 8 | tier << 12 | tiers first << 16 | (id of the variety that stood in the way) << 20
 * n1 = allocated | need << 20 | firm << 40   (a line's quantity is at most 100,000)
 * n2 = claimed for rules that tell it, else place | lines << 32;   n3 = part;   n4 = supply.
 * A line that gets all it wants needs no more than n1. */
_Static_assert(CW_SHARE_REASONS <= 1 << 8 && CW_SHARE_RULES <= 1 << 4 && CW_TIERS <= 1 << 4,
               "a kept reason has these bits");
_Static_assert((int)CW_BOOK_WHOLESALE == (int)CW_TIER_WHOLESALE && (int)CW_BOOK_OTHER == (int)CW_TIER_OTHER,
               "tiers of the book are the model's");
void cw_why_pack(const cw_share_outcome *o, int64_t cause_variety_id, cw_promise_why *out)
{
    *out = (cw_promise_why){ .reason =
                                 o->reason | o->rule << 8 | o->tier << 12 | (o->tiers_first ? 1 << 16 : 0) };
    out->n[0] = o->allocated | (int64_t)o->need << 20 | (int64_t)o->firm << 40;
    if (o->reason == CW_SHARE_FULL || o->reason == CW_SHARE_HELD)
        return;
    out->reason |= cause_variety_id << 20;
    out->n[1] = cw_share_rule_claims(o->rule) ? o->claimed : o->place | (int64_t)o->lines << 32;
    out->n[2] = o->part;
    out->n[3] = o->supply;
}

void cw_why_unpack(const cw_promise_why *w, cw_share_outcome *o, int64_t *cause_variety_id)
{
    const int64_t quantity = (1 << 20) - 1;
    *o = (cw_share_outcome){
        .reason = (uint8_t)(w->reason & 0xFF),
        .rule = (uint8_t)(w->reason >> 8 & 0xF),
        .tier = (uint8_t)(w->reason >> 12 & 0xF),
        .tiers_first = (w->reason >> 16 & 1) != 0,
        .allocated = (int32_t)(w->n[0] & quantity),
        .need = (int32_t)(w->n[0] >> 20 & quantity),
        .firm = (int32_t)(w->n[0] >> 40 & quantity),
        .part = (int32_t)w->n[2],
        .supply = w->n[3],
        .cause = -1,
    };
    *cause_variety_id = w->reason >> 20;
    if (cw_share_rule_claims(o->rule)) {
        o->claimed = w->n[1];
    } else {
        o->place = (int32_t)(w->n[1] & 0x7FFFFFFF);
        o->lines = (int32_t)(w->n[1] >> 32);
    }
}
