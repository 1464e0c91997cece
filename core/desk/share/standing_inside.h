/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_STANDING_INSIDE_H
#define CW_DESK_STANDING_INSIDE_H

/* For files of core/desk: what there is to give and who still waits for it, on one moment of the file. */
#include "desk/share/allotting.h"
#include "desk/nursery/nursery_inside.h"
#include "model/share.h"
#include "store/book.h"

/* What the caller of a desk asked for, made whole: the confidence it did not name is the setting's. */
typedef struct cw_basis {
    bool projected;
    double confidence;   /* used when projected */
    const char *variety; /* who waits for this one alone (code); NULL: for all */
} cw_basis;
cw_code cw_basis_read(cw_nursery *n, bool projected, double confidence, cw_basis *out,
                      cw_error *err) CW_MUST_CHECK;

/* How shares were last made firm: first-come until there is such a run. */
typedef struct cw_last_rule {
    cw_share_rule rule;
    bool tiers_first;
} cw_last_rule;
/* With a variety (code): of the last run that shared it, if any did. */
cw_code cw_last_rule_read(cw_nursery *n, const char *variety, cw_last_rule *out, cw_error *err) CW_MUST_CHECK;

/* What a run writes down as its rule: "pro-rata", "pro-rata, tiers first". */
const char *cw_rule_text(cw_share_rule rule, bool tiers_first);

typedef struct cw_standing {
    cw_basis basis;
    cw_book *book;
    int64_t *there; /* [book varieties] divisions counted, or projected for the shipping day */
    int64_t *over;  /* [book varieties] there - hold-back - reserve - promised; negative: promises are hit */
    int64_t *free;  /* [book varieties] over, never below 0 */
    cw_share_order *order;  /* [book orders] */
    cw_share_line *line;    /* [lines] lines that name a variety */
    uint32_t *line_in_book; /* [lines] */
    size_t lines;
    cw_share *share; /* once cw_standing_share was called: lists do without it */
} cw_standing;

/* Projected supply has to be asked for before a transaction begins: it reads the file in one of its own. */
typedef struct cw_promise_of_stock {
    int64_t revision; /* of the stock that it rests on */
    size_t count;
    int64_t *id, *supply; /* variety ids ascending, and their supply */
} cw_promise_of_stock;
cw_code cw_stock_foresee(cw_nursery *n, const cw_asker *who, const cw_basis *basis, cw_promise_of_stock *out,
                         cw_error *err) CW_MUST_CHECK;
void cw_stock_free(cw_promise_of_stock *s);

/* Reads inside the caller's transaction. Of one variety only its lines are read, unless one is of an order that leaves complete:
 * then what it gets hangs on other varieties, and they are all read (book->only tells which). CW_CONFLICT if the stock changed since it was foreseen. */
cw_code cw_standing_read(cw_nursery *n, const cw_basis *basis, const cw_promise_of_stock *stock,
                         cw_standing **out, cw_error *err) CW_MUST_CHECK;

/* Both, in a read transaction of its own, tried again if the stock changed in between. `inside` (which takes the
 * standing) is called before the transaction ends, for what else must be read on the same moment. */
cw_code cw_standing_with(cw_nursery *n, const cw_asker *who, const cw_basis *basis,
                         cw_code (*inside)(void *context, cw_standing *s, cw_error *err), void *context,
                         cw_error *err) CW_MUST_CHECK;
cw_code cw_standing_look(cw_nursery *n, const cw_asker *who, const cw_basis *basis, cw_standing **out,
                         cw_error *err) CW_MUST_CHECK;
void cw_standing_free(cw_standing *s);

/* Makes s->share, from which rules are run, if it is not there yet. */
cw_code cw_standing_share(cw_standing *s, cw_error *err) CW_MUST_CHECK;

/* The same inside a piece of work (cw_work_begin .. cw_work_end), for what is made firm on what was read: `inside`, which
 * takes the standing, decides and writes; on failure nothing is written. */
cw_code cw_standing_work(cw_nursery *n, const cw_asker *who, const cw_basis *basis,
                         cw_code (*inside)(void *context, cw_standing *s, cw_error *err), void *context,
                         cw_error *err) CW_MUST_CHECK;

/* SHA-256 over everything that decides who gets what: supplies, orders, lines, what is firm. Of one variety's lines alone what others
 * ask for is not in it, so a preview of it stands while they are sold. */
void cw_standing_digest(const cw_standing *s, char hex[65]);

/* An outcome of sharing in the numbers that a promise keeps, and back. */
struct cw_promise_why;
void cw_why_pack(const cw_share_outcome *o, int64_t cause_variety_id, struct cw_promise_why *out);
void cw_why_unpack(const struct cw_promise_why *w, cw_share_outcome *o, int64_t *cause_variety_id);

#endif
