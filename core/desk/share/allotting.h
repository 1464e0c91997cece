/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ALLOTTING_H
#define CW_DESK_ALLOTTING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* Who gets how many of a short variety, and what do we say on the phone?
 *
 * A preview shares out, by one rule or by all side by side from one reading of the file, what may be given
 * now:
 *
 *     supply of a variety = there - hold-back - guarantee reserve - promised and not pulled yet,  never below 0
 *     there = divisions on hand (lots that are held back from leaving do not count), or, projected, the
 *             divisions that will be sound on the shipping day at the confidence asked
 *
 * over the lines of open orders: what a line asked less what it is promised (by substitutes too) is what it still
 * wants. Nothing promised is ever taken back by a run. The digest covers all that decides the outcome: the same
 * digest gives the same outcome, byte for byte, and an office that was shown one digest cannot commit another. A preview of one variety
 * has a digest of its own, which does not change with what others ask for: only that variety is made firm on it.
 *
 * One variety is shared as part of the whole, so it shows the same figures alone and among all; making it firm
 * also makes firm the other lines of ship-complete orders that were filled with it, so that such an order is never
 * left half promised. */

#define CW_ALLOTTING_CODE 33 /* a code or an order number, and its end */

/* The names of all rules, parted by bars: "first-come|pro-rata|...". */
extern const char cw_allotting_rule_words[]; /* with a bar before the first */
#define CW_ALLOTTING_RULES (cw_allotting_rule_words + 1)

typedef struct cw_allotting_ask {
    const char *variety; /* code; NULL: all */
    const char *rule;    /* one of CW_ALLOTTING_RULES; NULL: all side by side */
    bool projected;      /* supply: projected, else counted */
    double confidence;   /* 0: the setting's */
    bool tiers_first;
} cw_allotting_ask;

/* The defaults: supply and tiers first from the settings, everything else 0. */
cw_code cw_allotting_default(cw_nursery *n, cw_allotting_ask *out, cw_error *err) CW_MUST_CHECK;

typedef struct cw_allotting cw_allotting;

cw_code cw_allotting_preview(cw_nursery *n, const cw_asker *who, const cw_allotting_ask *ask,
                             cw_allotting **out, cw_error *err) CW_MUST_CHECK;
void cw_allotting_free(cw_allotting *a);
const char *cw_allotting_digest(const cw_allotting *a);

/* One row a variety and rule: variety,name,supply,lines,asked,firm,rule,placed,short,whole,part,none (the last three
 * count the lines that end with all, some and nothing of what they asked). short_only leaves out varieties that have
 * enough for everyone; *enough (may be NULL) counts those. */
cw_code cw_allotting_totals(const cw_allotting *a, bool short_only, cw_table *out, size_t *enough,
                            cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_totals_shape;

/* One row a line and rule: variety,order,line,quantity,allocated,short,rule,reason, by variety, then in order of
 * service, rules side by side. allocated = promised before + by this preview. A season has millions of rows, so they
 * come in pieces: the next piece of up to `most` rows, from *at (0 at first), which is moved on; no rows at the end. */
size_t cw_allotting_rows(const cw_allotting *a);
cw_code cw_allotting_lines(const cw_allotting *a, size_t *at, size_t most, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;

/* What making each rule of the preview firm would do, exactly: rule,lines,placed,short,whole,part,none, a row a rule. lines
 * want something; the last three count lines that end with all, some and nothing of what they asked. Of a preview of one
 * variety the lines of complete orders that are made firm with it count too, `others` divisions of `placed`. */
cw_code cw_allotting_sums(const cw_allotting *a, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_sums_shape;

/* All rows of a preview of one variety at once. */
cw_code cw_allotting_variety_lines(const cw_allotting *a, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* Orders that were worth the nursery's order minimum (setting order_minimum) as they were asked, and fall below it by
 * what this preview leaves short; of the first rule of the preview. order,customer,asked,left in money. `out` may be
 * NULL when only *count is wanted. */
cw_code cw_allotting_below_minimum(cw_nursery *n, const cw_allotting *a, cw_table *out, int64_t *count,
                                   cw_cents *minimum, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_below_minimum_shape;

/* All lines of the preview as CSV or as a JSON array, written piece by piece. */
cw_code cw_allotting_write(const cw_allotting *a, bool json, unsigned threads, cw_sink to,
                           cw_error *err) CW_MUST_CHECK;

/* What changed since an earlier preview (of the same request): lines that would now end with more, with less, that are new
 * in it, or that ask no more. `before` are the earlier preview's lines, in any order; rules that are not in both are left
 * out. variety,order,line,rule,before,now,change,reason, in order of service, those that ask no more at the end; `before`
 * is empty of a new line. *same counts lines and rules with the same end; the reason of a line may have changed even so. */
typedef struct cw_allotting_before {
    char variety[CW_ALLOTTING_CODE], order[CW_ALLOTTING_CODE];
    int64_t line, allocated;
    int rule; /* which of CW_ALLOTTING_RULES, from 0 */
} cw_allotting_before;
cw_code cw_allotting_changes(const cw_allotting *a, const cw_allotting_before *before, size_t n,
                             cw_table *out, size_t *same, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_changes_shape;
/* One line of an earlier preview; CW_REFUSED with the column's name. */
cw_code cw_allotting_before_set(cw_allotting_before *b, const char *variety, const char *order, int64_t line,
                                const char *rule, int64_t allocated, cw_error *err) CW_MUST_CHECK;

/* The preview of one variety as the order desk shows it: {variety,name,there,supply,tiers_first,digest,lines:[{order,line,
 * customer,tier,received_at,all_or_none,quantity,firm,first_come,reason_first_come,...}],totals:[...],sums:[...]}, where first_come and
 * its like are what the line would get beyond what is firm. Without a variety: {digest,tiers_first,enough,totals,sums}, totals
 * of those that are short. */
cw_code cw_allotting_document(cw_nursery *n, const cw_allotting *a, cw_sink to, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_document_shape;

/* Makes the outcome of one rule firm (rule NULL is refused). `digest` (may be NULL) is that of the preview which was
 * shown: CW_CONFLICT if anything that decides has changed since. `shown` (may be NULL) becomes the outcome as it was made
 * firm, to be shown line by line. */
typedef struct cw_allotting_done {
    int64_t run;
    int64_t lines;  /* that wanted something */
    int64_t placed; /* divisions made firm */
    int64_t short_; /* divisions still wanted */
    char digest[65];
} cw_allotting_done;
cw_code cw_allotting_commit(cw_nursery *n, const cw_asker *who, const cw_allotting_ask *ask,
                            const char *digest, cw_allotting_done *out, cw_allotting **shown,
                            cw_error *err) CW_MUST_CHECK;

/* Takes back `quantity` of what a line is promised of a variety, with the reason on record. The only way in which a
 * promise shrinks, besides the buyer's own change. */
cw_code cw_allotting_take_back(cw_nursery *n, const cw_asker *who, const char *order, int line,
                               const char *variety, int64_t quantity, const char *why,
                               cw_error *err) CW_MUST_CHECK;

/* Undoes the last run that was made firm and stands, of allocation or of substitution, whole: every promise is again as the
 * run found it. The run stays on record, with who undid it and why. `run` is the run that is meant: CW_CONFLICT when
 * another was made firm after it, or something rests on it (picks, notices sent, a promise taken back or changed since);
 * CW_NOT_FOUND when no run of that number stands. */
typedef struct cw_allotting_undone {
    int64_t run, lines, divisions; /* lines that lost something; divisions as the run counted them */
} cw_allotting_undone;
cw_code cw_allotting_undo(cw_nursery *n, const cw_asker *who, int64_t run, const char *why,
                          cw_allotting_undone *out, cw_error *err) CW_MUST_CHECK;

/* Stock fell below what is promised: which lines would be hit, least harm first (latest and last tier first; a line
 * that is all or nothing, or of an order that leaves complete or not at all, only when ordinary ones do not
 * suffice). Proposes only. Basis NULL: as the settings say. order,line,variety,customer,firm,would_lose,sentence. */
typedef struct cw_allotting_basis {
    bool projected;
    double confidence; /* 0: the setting's */
} cw_allotting_basis;
cw_code cw_allotting_hit(cw_nursery *n, const cw_asker *who, const cw_allotting_basis *basis, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_hit_shape;

/* Varieties that are short of what is asked, most harm first: variety,name,supply,asked,firm,short,lines,
 * orders,harm. harm = the money of the shorts at the prices paid (mean over what is still wanted). */
cw_code cw_allotting_short(cw_nursery *n, const cw_asker *who, const cw_allotting_basis *basis, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_short_shape;

/* Who waits for a variety, in the order in which single divisions that come free reach them under the rule in force, and
 * what each would get of what is free now: order,line,customer,tier,short,now,consent,sentence. In force is the rule of the
 * last run that shared this variety, else of the last run, else first-come. Lines that take only several at once come
 * last, and their sentence says what they wait for. */
cw_code cw_allotting_waitlist(cw_nursery *n, const cw_asker *who, const char *variety, cw_table *out,
                              cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_waitlist_shape;

/* Where a line stands in that list, for one that came after its variety was shared: *place of *of, 0 when it waits beside the
 * queue or does not wait. *shared: a run that stands has shared the variety; else nothing is looked up. */
cw_code cw_allotting_place(cw_nursery *n, const cw_asker *who, const char *variety, const char *order,
                           int line, bool *shared, int *place, int *of, cw_error *err) CW_MUST_CHECK;

/* Runs that were made firm, the latest first: run,at,actor,what,rule,supply,confidence,lines,placed,digest,
 * undone_at (empty: it stands). */
cw_code cw_allotting_runs(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_allotting_runs_shape;

#endif
