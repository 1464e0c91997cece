/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_BOOK_H
#define CW_STORE_BOOK_H

#include "base/day.h"
#include "base/money.h"
#include "store/db.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What is asked, what is promised, and what is there? The whole order book in one reading, for decisions over all lines
 * together. Only open orders, and of them the lines that ask for something.
 *
 * A million lines must come out of the file in a third of a second, so the rows are read as bare scans in the
 * order of their ids and joined here by merging. Everything is owned by the book; the caller may sort
 * nothing. */

#define CW_BOOK_NONE UINT32_MAX

typedef enum cw_book_tier { CW_BOOK_WHOLESALE, CW_BOOK_RETAIL, CW_BOOK_OTHER } cw_book_tier;

typedef struct cw_book_variety {
    int64_t id;
    const char *code, *name, *form, *size, *colour; /* never NULL, "" when not known */
    cw_cents price;                                 /* -1 when not known */
    int64_t hold_back, reserve;
    int64_t limit_per_order; /* 0: none */
    int64_t on_hand;         /* divisions of lots that are not held back from leaving */
    int64_t promised;        /* firm in open orders and not pulled yet, substitutes counted */
    int64_t asked;           /* by lines of open orders; of a blocked one only what is firm */
    int64_t wanted;          /* of that, not firm yet by any variety */
} cw_book_variety;

typedef struct cw_book_order {
    int64_t id;
    const char *number;
    const char *customer; /* "" for none; read with one variety alone, else NULL */
    cw_instant received_at;
    uint8_t tier; /* cw_book_tier; an empty tier is retail */
    bool ship_complete;
    bool blocked; /* nothing may be sent to it, and the owner has not overruled that */
} cw_book_order;

typedef struct cw_book_line {
    int64_t id;
    cw_cents unit_price;
    uint32_t order;   /* index into orders */
    uint32_t variety; /* index into varieties; CW_BOOK_NONE: an assortment */
    int32_t line;
    int32_t quantity; /* asked, > 0 */
    int32_t firm;     /* promised so far, by whatever variety; 0 .. quantity */
    bool all_or_none;
} cw_book_line;

/* One firm promise: so many of a variety for a line. */
typedef struct cw_book_firm {
    uint32_t line, variety; /* indices */
    int32_t quantity;       /* > 0 */
    int32_t picked;         /* of that, pulled from store already */
} cw_book_firm;

typedef struct cw_book {
    uint32_t only; /* index of the variety whose lines were read; CW_BOOK_NONE: all */
    int64_t stock_revision, trade_revision;
    size_t varieties, orders, lines, firms;
    cw_book_variety *variety; /* by code */
    cw_book_order *order;     /* by number, byte by byte */
    cw_book_line *line;       /* by id */
    cw_book_firm *firm;       /* by line, variety id */
    struct cw_book_inside *inside;
} cw_book;

/* Reads inside the caller's transaction if there is one, so that what is decided is decided on one moment. With a variety (code):
 * only the lines that ask for it or are promised some of it; then promised, asked and wanted are right of this variety alone. All
 * lines where there is no such variety. */
cw_code cw_book_read(cw_db *db, const char *variety, cw_book **out, cw_error *err) CW_MUST_CHECK;
void cw_book_free(cw_book *b);

/* Row ids of all varieties, ascending; `*ids` is to be freed. */
cw_code cw_book_variety_ids(cw_db *db, int64_t **ids, size_t *count, cw_error *err) CW_MUST_CHECK;

/* Index of a variety by its code; CW_BOOK_NONE if there is none. */
uint32_t cw_book_variety_of(const cw_book *b, const char *code);

/* What a line's buyer lets the nursery do instead. Texts are borrowed until the next call. */
typedef struct cw_book_wish {
    const char *consent;    /* none, same, any, named */
    const char *named;      /* codes parted by spaces; NULL */
    const char *assortment; /* "colour=pink form=ball"; NULL */
} cw_book_wish;
cw_code cw_book_wish_read(cw_db *db, int64_t line_id, void (*take)(void *context, const cw_book_wish *w),
                          void *context, cw_error *err) CW_MUST_CHECK;

#endif
