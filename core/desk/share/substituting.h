/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SUBSTITUTING_H
#define CW_DESK_SUBSTITUTING_H

#include "base/money.h"
#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* What may stand in for what is short, within each buyer's consent, and what fills the assortments?
 *
 * short = what a line asked, less what it is promised, less what its own variety would still give it now by the rule of
 *         the last allocation run (first-come when there was none). So a line that waits for its own variety while that is
 *         there is not short, whether or not its share has been made firm.
 * surplus of a variety = there - hold-back - guarantee reserve - promised - all that open lines still want of it: nobody's
 *         own is given away.
 *
 * Chosen for all lines together: most divisions, then the least distance, then the least extra cost; assortments after all
 * lines that name a variety, at most `assortment_spread` (a setting) of one variety on a line. The plan is solved to proven
 * optimality, and the proof is checked here before anything is shown.
 *
 * All or nothing: a line that takes all or nothing gets all of what is short by substitutes or none. An order that leaves
 * complete or not at all, and was passed over because a variety of it is short, is completed by substitutes for all its
 * short lines or gets none; when it is, the lines that their own varieties can fill are promised with them, so that it is
 * never left half promised. Its assortments are filled, whole, once its named lines are promised. That is part of the
 * choice itself (model/substitute), which is proven the best; only if there are too many such lines in each other's way
 * is a plan shown as not proven, with the most that any plan could place. */
typedef struct cw_substituting_ask {
    bool projected;    /* supply: projected, else counted */
    double confidence; /* 0: the setting's */
} cw_substituting_ask;

typedef struct cw_substituting_totals {
    int64_t lines;    /* short lines, assortments counted */
    int64_t short_;   /* divisions they miss */
    int64_t placed;   /* of them, by substitutes */
    int64_t distance; /* sum over divisions */
    cw_cents extra;   /* sum over divisions */
    int64_t named_placed, assortment_placed;
    /* no plan could place more; the same as `placed` unless too many lines take all or nothing */
    int64_t at_most;
    bool sound;  /* the proof, of the plan or of that bound, holds */
    bool proven; /* sound, and no plan is better by the measure */
} cw_substituting_totals;

typedef struct cw_substituting cw_substituting; /* the asker must live as long */
cw_code cw_substituting_preview(cw_nursery *n, const cw_asker *who, const cw_substituting_ask *ask,
                                cw_substituting **out, cw_error *err) CW_MUST_CHECK;
void cw_substituting_free(cw_substituting *s);
const char *cw_substituting_digest(const cw_substituting *s);
void cw_substituting_total(const cw_substituting *s, cw_substituting_totals *out);

/* order,line,short,substitute,quantity,distance,extra_cost (the last two per division); explained: also wanted, consent and
 * a sentence, for people. */
cw_code cw_substituting_lines(const cw_substituting *s, bool explained, cw_table *out,
                              cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_substituting_lines_shape;

/* {lines_short,short,placed,at_most,distance,extra_cost,assortment_spread,digest,proven,lines:[...]}. */
cw_code cw_substituting_document(const cw_substituting *s, json_t **out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_substituting_document_shape;

/* What would it cost to forbid this choice? Chooses again without it. CW_NOT_FOUND if the plan has no such choice. */
#define CW_SUBSTITUTING_SENTENCE 300
cw_code cw_substituting_forbid(const cw_substituting *s, const char *order, int line, const char *variety,
                               cw_substituting_totals *change, char sentence[CW_SUBSTITUTING_SENTENCE],
                               cw_error *err) CW_MUST_CHECK;

/* The office forbids a line this variety, even where the buyer allows it; and allows it again. Both with a reason, as
 * an event of the order. What is forbidden is left out of every later plan. */
cw_code cw_substituting_ban(cw_nursery *n, const cw_asker *who, const char *order, int line,
                            const char *variety, const char *why, cw_error *err) CW_MUST_CHECK;
cw_code cw_substituting_permit(cw_nursery *n, const cw_asker *who, const char *order, int line,
                               const char *variety, const char *why, cw_error *err) CW_MUST_CHECK;

/* What is forbidden to lines of open orders: order,line,wanted,substitute,at,actor,why. */
cw_code cw_substituting_banned(cw_nursery *n, const cw_asker *who, cw_table *out,
                               cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_substituting_banned_shape;

/* Makes the plan firm. `digest` and `shown` as in desk/share/allotting. */
typedef struct cw_substituting_done {
    int64_t run;
    cw_substituting_totals totals;
    char digest[65];
} cw_substituting_done;
cw_code cw_substituting_commit(cw_nursery *n, const cw_asker *who, const cw_substituting_ask *ask,
                               const char *digest, cw_substituting_done *out, cw_substituting **shown,
                               cw_error *err) CW_MUST_CHECK;

#endif
