/* SPDX-License-Identifier: MIT */
#include "store/book.h"

#include "base/grow.h"
#include "base/limits.h"
#include "base/text.h"
#include "base/texts.h"
#include "columns/book.h"
#include "store/rows.h"
#include "store/season.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

/* An id and where its row stands; ascending by id. */
typedef struct place {
    int64_t id;
    uint32_t index;
} place;

struct cw_book_inside {
    cw_texts texts;
    place *order_of;   /* [orders] */
    place *variety_of; /* [varieties] */
};

typedef struct reader {
    cw_db *db;
    cw_book *b;
    cw_error *err;
    bool no_memory, unordered, damaged;
    size_t at;             /* while promises are read: the line that the last one was for */
    int64_t last;          /* its id */
    size_t picked, pulled; /* the same while what was pulled is read, and the first promise for it */
} reader;

static const char *keep(reader *r, const char *text)
{
    const char *kept = cw_texts_keep(&r->b->inside->texts, text);
    r->no_memory = r->no_memory || r->b->inside->texts.failed;
    return kept;
}

/* Room for one more row, which the caller counts. */
static bool grow(reader *r, void *rows, size_t count, size_t size)
{
    r->no_memory = r->no_memory || cw_grow_item(rows, &count, size) == NULL;
    return !r->no_memory;
}

/* Where an id stands, by first guessing that ids follow each other without gaps, as they nearly always do. */
static uint32_t find(const place *p, size_t n, int64_t id)
{
    if (n == 0 || id < p[0].id)
        return CW_BOOK_NONE;
    size_t guess = (size_t)(id - p[0].id);
    if (guess < n && p[guess].id == id)
        return p[guess].index;
    size_t low = 0, high = n;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (p[middle].id < id)
            low = middle + 1;
        else
            high = middle;
    }
    return low < n && p[low].id == id ? p[low].index : CW_BOOK_NONE;
}

static int by_id(const void *a, const void *b)
{
    int64_t x = ((const place *)a)->id, y = ((const place *)b)->id;
    return (x > y) - (x < y);
}

static cw_code came_well(reader *r, const char *name)
{
    if (r->no_memory)
        return cw_error_memory(r->err);
    if (r->damaged || r->unordered) /* as no sound table gives them */
        return cw_db_damaged(r->err, name);
    return CW_OK;
}

/* Calls take(r, q) for every row of a statement; `of`: its parameter, 0 where it has none. */
static cw_code each(reader *r, const char *name, int64_t of, bool (*take)(reader *r, cw_stmt *q))
{
    cw_stmt *q = cw_db_stmt(r->db, name);
    cw_code code = of ? cw_stmt_start(q, r->err, "i", of) : cw_stmt_start(q, r->err, "");
    while (code == CW_OK && cw_stmt_next(q))
        if (!take(r, q))
            break;
    cw_code end = cw_stmt_end(q, r->err);
    code = code == CW_OK ? end : code;
    return code == CW_OK ? came_well(r, name) : code;
}

/* The same with the rows handed over inside the scan. */
static cw_code scan(reader *r, const char *name, cw_scanned_taker take)
{
    cw_code code = cw_stmt_scan(cw_db_stmt(r->db, name), take, r, r->err);
    return code == CW_OK ? came_well(r, name) : code;
}

/* All merging rests on the order of ids, which a scan of a table gives. */
static bool out_of_order(reader *r)
{
    r->unordered = true;
    return false;
}

static bool cannot_be(reader *r)
{
    r->damaged = true;
    return false;
}

static bool take_variety(reader *r, cw_stmt *q)
{
    cw_book *b = r->b;
    if (!grow(r, &b->variety, b->varieties, sizeof *b->variety))
        return false;
    b->variety[b->varieties++] = (cw_book_variety){
        .id = cw_col_int(q, book_varieties_id),
        .code = keep(r, cw_col_text(q, book_varieties_code)),
        .name = keep(r, cw_col_text(q, book_varieties_name)),
        .form = keep(r, cw_col_text(q, book_varieties_form)),
        .size = keep(r, cw_col_text(q, book_varieties_size)),
        .colour = keep(r, cw_col_text(q, book_varieties_colour)),
        .price = cw_col_int_or(q, book_varieties_price, -1),
        .hold_back = cw_col_int(q, book_varieties_hold_back),
        .reserve = cw_col_int(q, book_varieties_reserve),
        .limit_per_order = cw_col_int(q, book_varieties_limit_per_order),
    };
    return !r->no_memory;
}

static bool take_on_hand(reader *r, cw_stmt *q)
{
    uint32_t v = find(r->b->inside->variety_of, r->b->varieties, cw_col_int(q, book_on_hand_variety_id));
    if (v != CW_BOOK_NONE)
        r->b->variety[v].on_hand = cw_col_int(q, book_on_hand_divisions);
    return true;
}

static uint8_t tier_of(const char *text)
{
    if (text == NULL || text[0] == '\0' || strcasecmp(text, "retail") == 0)
        return CW_BOOK_RETAIL;
    return strcasecmp(text, "wholesale") == 0 ? CW_BOOK_WHOLESALE : CW_BOOK_OTHER;
}

static bool add_order(reader *r, const cw_book_order *o)
{
    cw_book *b = r->b;
    if (!grow(r, &b->order, b->orders, sizeof *b->order))
        return false;
    b->order[b->orders] = *o;
    b->order[b->orders].number = keep(r, o->number);
    b->order[b->orders++].customer = o->customer ? keep(r, o->customer) : NULL;
    return !r->no_memory;
}

static bool take_order(reader *r, cw_stmt *q)
{
    const cw_book_order o = {
        .id = cw_col_int(q, book_orders_id),
        .number = cw_col_text(q, book_orders_number),
        .received_at = cw_col_int(q, book_orders_received_at),
        .tier = tier_of(cw_col_text(q, book_orders_tier)),
        .ship_complete = cw_col_int(q, book_orders_ship_complete) != 0,
        .blocked = cw_col_int(q, book_orders_blocked) != 0,
    };
    return add_order(r, &o);
}

static bool take_order_of(reader *r, cw_stmt *q)
{
    const cw_book_order o = {
        .id = cw_col_int(q, book_orders_of_id),
        .number = cw_col_text(q, book_orders_of_number),
        .customer = cw_col_text(q, book_orders_of_customer),
        .received_at = cw_col_int(q, book_orders_of_received_at),
        .tier = tier_of(cw_col_text(q, book_orders_of_tier)),
        .ship_complete = cw_col_int(q, book_orders_of_ship_complete) != 0,
        .blocked = cw_col_int(q, book_orders_of_blocked) != 0,
    };
    return add_order(r, &o);
}

typedef struct asked {
    int64_t id, order, variety, line, quantity, price, all_or_none; /* variety 0: an assortment */
} asked;

static bool add_line(reader *r, const asked *a)
{
    cw_book *b = r->b;
    struct cw_book_inside *in = b->inside;
    uint32_t order = find(in->order_of, b->orders, a->order);
    if (order == CW_BOOK_NONE)
        return true; /* of an order that is no longer open */
    if (b->lines > 0 && a->id <= b->line[b->lines - 1].id)
        return out_of_order(r);
    if (!grow(r, &b->line, b->lines, sizeof *b->line))
        return false;
    if (a->line < 0 || a->line > CW_MAX_DIVISIONS || a->quantity < 0 || a->quantity > CW_MAX_DIVISIONS ||
        a->price < 0 || a->price > CW_MAX_CENTS)
        return cannot_be(r);
    cw_book_line *l = &b->line[b->lines++];
    *l = (cw_book_line){
        .id = a->id,
        .unit_price = a->price,
        .order = order,
        .variety = a->variety ? find(in->variety_of, b->varieties, a->variety) : CW_BOOK_NONE,
        .line = (int32_t)a->line,
        .quantity = (int32_t)a->quantity,
        .all_or_none = a->all_or_none != 0,
    };
    if (a->variety && l->variety == CW_BOOK_NONE)
        return cannot_be(r);
    if (l->variety != CW_BOOK_NONE) {
        b->variety[l->variety].asked += b->order[order].blocked ? 0 : l->quantity;
        b->variety[l->variety].wanted += b->order[order].blocked ? 0 : l->quantity;
    }
    return true;
}

static bool take_line(void *context, const cw_scanned *row)
{
    const asked a = { cw_scanned_int(row, 0), cw_scanned_int(row, 1), cw_scanned_int(row, 2),
                      cw_scanned_int(row, 3), cw_scanned_int(row, 4), cw_scanned_int(row, 5),
                      cw_scanned_int(row, 6) };
    return add_line(context, &a);
}

static bool take_line_of(reader *r, cw_stmt *q)
{
    const asked a = { cw_col_int(q, book_lines_of_id),         cw_col_int(q, book_lines_of_order_id),
                      cw_col_int(q, book_lines_of_variety_id), cw_col_int(q, book_lines_of_line),
                      cw_col_int(q, book_lines_of_quantity),   cw_col_int(q, book_lines_of_unit_price),
                      cw_col_int(q, book_lines_of_all_or_none) };
    return add_line(r, &a);
}

/* Index of the line with this id, at or after `from`; the lines are ascending, and so are the ids that ask.
 */
static size_t line_at(const cw_book *b, size_t from, int64_t id)
{
    while (from < b->lines && b->line[from].id < id)
        from++;
    return from;
}

static bool add_firm(reader *r, int64_t id, int64_t variety, int64_t quantity)
{
    cw_book *b = r->b;
    if (id < r->last)
        return out_of_order(r);
    r->last = id;
    r->at = line_at(b, r->at, id);
    if (r->at == b->lines || b->line[r->at].id != id)
        return true;
    if (!grow(r, &b->firm, b->firms, sizeof *b->firm))
        return false;
    cw_book_firm *f = &b->firm[b->firms++];
    f->line = (uint32_t)r->at;
    f->variety = find(b->inside->variety_of, b->varieties, variety);
    if (f->variety == CW_BOOK_NONE || quantity < 0 || quantity > CW_MAX_DIVISIONS)
        return cannot_be(r);
    f->quantity = (int32_t)quantity;
    f->picked = 0;
    cw_book_line *l = &b->line[r->at];
    l->firm += f->quantity;
    b->variety[f->variety].promised += f->quantity;
    if (l->variety != CW_BOOK_NONE && b->order[l->order].blocked)
        b->variety[l->variety].asked += f->quantity;
    else if (l->variety != CW_BOOK_NONE)
        b->variety[l->variety].wanted -= f->quantity;
    return true;
}

static bool take_firm(void *context, const cw_scanned *row)
{
    return add_firm(context, cw_scanned_int(row, 0), cw_scanned_int(row, 1), cw_scanned_int(row, 2));
}

static bool take_firm_of(reader *r, cw_stmt *q)
{
    return add_firm(r, cw_col_int(q, book_firm_of_line_id), cw_col_int(q, book_firm_of_variety_id),
                    cw_col_int(q, book_firm_of_quantity));
}

/* What was pulled is no longer on hand, so it is no longer to come out of what is there. Ascending by line as promises are;
 * r->pulled: the first promise that is not of an earlier line. */
static bool add_picked(reader *r, int64_t id, int64_t variety, int64_t taken)
{
    cw_book *b = r->b;
    r->picked = line_at(b, r->picked, id);
    if (r->picked == b->lines || b->line[r->picked].id != id)
        return true;
    while (r->pulled < b->firms && b->firm[r->pulled].line < r->picked)
        r->pulled++;
    uint32_t v = find(b->inside->variety_of, b->varieties, variety);
    for (size_t k = r->pulled; k < b->firms && b->firm[k].line == r->picked; k++) {
        cw_book_firm *f = &b->firm[k];
        if (f->variety != v)
            continue;
        f->picked = taken < f->quantity ? (int32_t)taken : f->quantity;
        b->variety[v].promised -= f->picked;
    }
    return true;
}

static bool take_picked(reader *r, cw_stmt *q)
{
    return add_picked(r, cw_col_int(q, book_picked_line_id), cw_col_int(q, book_picked_variety_id),
                      cw_col_int(q, book_picked_pulled));
}

static bool take_picked_of(reader *r, cw_stmt *q)
{
    return add_picked(r, cw_col_int(q, book_picked_of_line_id), cw_col_int(q, book_picked_of_variety_id),
                      cw_col_int(q, book_picked_of_pulled));
}

static int by_number(const void *a, const void *b)
{
    return strcmp(((const cw_book_order *)a)->number, ((const cw_book_order *)b)->number);
}

/* Puts orders in order of their numbers (they often are) and notes where each id went. */
static cw_code place_orders(reader *r)
{
    cw_book *b = r->b;
    size_t n = b->orders;
    bool sorted = true;
    for (size_t i = 1; i < n && sorted; i++)
        sorted = strcmp(b->order[i - 1].number, b->order[i].number) < 0;
    if (!sorted)
        qsort(b->order, n, sizeof *b->order, by_number);
    place *p = b->inside->order_of = malloc((n + 1) * sizeof *p);
    if (p == NULL)
        return cw_error_memory(r->err);
    for (size_t i = 0; i < n; i++)
        p[i] = (place){ b->order[i].id, (uint32_t)i };
    if (!sorted)
        qsort(p, n, sizeof *p, by_id);
    return CW_OK;
}

static cw_code place_varieties(reader *r)
{
    cw_book *b = r->b;
    place *p = b->inside->variety_of = malloc((b->varieties + 1) * sizeof *p);
    if (p == NULL)
        return cw_error_memory(r->err);
    for (size_t i = 0; i < b->varieties; i++)
        p[i] = (place){ b->variety[i].id, (uint32_t)i };
    qsort(p, b->varieties, sizeof *p, by_id);
    return CW_OK;
}

static cw_code read_varieties(reader *r)
{
    cw_book *b = r->b;
    cw_code code = cw_season_revision(r->db, &b->stock_revision, &b->trade_revision, r->err);
    if (code == CW_OK)
        code = each(r, "book.varieties", 0, take_variety);
    if (code == CW_OK)
        code = place_varieties(r);
    return code == CW_OK ? each(r, "book.on_hand", 0, take_on_hand) : code;
}

static cw_code read_all(reader *r)
{
    cw_code code = each(r, "book.orders", 0, take_order);
    if (code == CW_OK)
        code = place_orders(r);
    if (code == CW_OK)
        code = scan(r, "book.lines", take_line);
    if (code == CW_OK)
        code = scan(r, "book.firm", take_firm);
    return code == CW_OK ? each(r, "book.picked", 0, take_picked) : code;
}

static cw_code read_of(reader *r, int64_t variety)
{
    cw_code code = each(r, "book.orders_of", variety, take_order_of);
    if (code == CW_OK)
        code = place_orders(r);
    if (code == CW_OK)
        code = each(r, "book.lines_of", variety, take_line_of);
    if (code == CW_OK)
        code = each(r, "book.firm_of", variety, take_firm_of);
    return code == CW_OK ? each(r, "book.picked_of", variety, take_picked_of) : code;
}

cw_code cw_book_read(cw_db *db, const char *variety, cw_book **out, cw_error *err)
{
    *out = NULL;
    cw_book *b = calloc(1, sizeof *b);
    if (b == NULL || (b->inside = calloc(1, sizeof *b->inside)) == NULL) {
        free(b);
        return cw_error_memory(err);
    }
    reader r = { .db = db, .b = b, .err = err, .last = INT64_MIN };
    cw_code code = read_varieties(&r);
    b->only = code == CW_OK && variety ? cw_book_variety_of(b, variety) : CW_BOOK_NONE;
    if (code == CW_OK)
        code = b->only == CW_BOOK_NONE ? read_all(&r) : read_of(&r, b->variety[b->only].id);
    if (code != CW_OK) {
        cw_book_free(b);
        return code;
    }
    *out = b;
    return CW_OK;
}

void cw_book_free(cw_book *b)
{
    if (b == NULL)
        return;
    cw_texts_free(&b->inside->texts);
    free(b->inside->order_of);
    free(b->inside->variety_of);
    free(b->inside);
    free(b->variety);
    free(b->order);
    free(b->line);
    free(b->firm);
    free(b);
}

cw_code cw_book_variety_ids(cw_db *db, int64_t **ids, size_t *count, cw_error *err)
{
    return cw_rows_ids(db, "book.variety_ids", ids, count, err, "");
}

uint32_t cw_book_variety_of(const cw_book *b, const char *code)
{
    size_t low = 0, high = b->varieties;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int c = strcmp(b->variety[middle].code, code);
        if (c == 0)
            return (uint32_t)middle;
        if (c < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return CW_BOOK_NONE;
}

cw_code cw_book_wish_read(cw_db *db, int64_t line_id, void (*take)(void *context, const cw_book_wish *w),
                          void *context, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "book.wishes");
    bool found = false;
    cw_code code = cw_stmt_one(q, &found, err, "i", line_id);
    if (code == CW_OK && found) {
        cw_book_wish w = { cw_col_text(q, book_wishes_consent), cw_col_text(q, book_wishes_named),
                           cw_col_text(q, book_wishes_assortment) };
        take(context, &w);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}
