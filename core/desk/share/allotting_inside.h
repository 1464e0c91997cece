/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ALLOTTING_INSIDE_H
#define CW_DESK_ALLOTTING_INSIDE_H

/* For allotting*.c only. */
#include "base/limits.h"
#include "desk/share/standing_inside.h"

struct cw_allotting {
    cw_standing *standing;
    uint32_t variety; /* only this one; CW_BOOK_NONE: all */
    bool tiers_first;
    size_t rules; /* how many were run */
    cw_share_rule rule[CW_SHARE_RULES];
    cw_share_outcome *outcome[CW_SHARE_RULES]; /* [rules][lines], or, where `at` is, [rules][what it tells] */
    /* [lines] where a line's outcomes stand, 0 for lines that one variety's preview does not tell of; NULL: at i */
    uint32_t *at;
    uint32_t *serve; /* [served] indices of lines, by variety, then in order of service */
    size_t served;
    char digest[65];
};

/* The outcome of line i under the preview's rule r. Of one variety's preview of several rules only its lines are kept, and those of
 * orders that leave complete with one of them; any other line's says that it wants nothing. */
static inline const cw_share_outcome *cw_allotting_of(const cw_allotting *a, size_t r, size_t i)
{
    return &a->outcome[r][a->at ? a->at[i] : i];
}

/* Shares out what the standing holds, which is taken (also on failure). */
cw_code cw_allotting_share_take(cw_standing *s, const cw_allotting_ask *ask, cw_allotting **out,
                                cw_error *err) CW_MUST_CHECK;

/* Which rule a word names. */
cw_code cw_rule_read(const char *word, cw_share_rule *out, cw_error *err) CW_MUST_CHECK;

/* The outcome of line i (index into standing->line) as a sentence. */
const char *cw_allotting_say(const cw_standing *s, const cw_share_outcome *o, char out[CW_SHARE_SENTENCE]);

/* What making rule r of the preview firm means. meant(i): line i gets a row. */
typedef struct cw_allotting_sum {
    int64_t lines, placed, short_; /* lines that want something */
    int64_t whole, part, none;     /* lines by how they end */
    int64_t others;                /* of placed, of other varieties than the one asked */
} cw_allotting_sum;
bool *cw_allotting_whole(const cw_allotting *a, size_t r); /* NULL without memory */
bool cw_allotting_meant(const cw_allotting *a, size_t r, const bool *whole, size_t i);
cw_code cw_allotting_add_up(const cw_allotting *a, size_t r, cw_allotting_sum *out,
                            cw_error *err) CW_MUST_CHECK;

/* A buyer's name, "" for none: the book's where it was read, else the file's, put into `room`. */
cw_code cw_allotting_customer(cw_nursery *n, const cw_book_order *o, char room[CW_MAX_NAME + 1],
                              const char **out, cw_error *err) CW_MUST_CHECK;

/* Makes a->serve if it is not there yet. */
cw_code cw_allotting_serve(const cw_allotting *a, cw_error *err) CW_MUST_CHECK;

/* serve[]: the lines, by variety, then in order of service. */
cw_code cw_standing_serve(const cw_standing *s, uint32_t variety, uint32_t **serve, size_t *served,
                          cw_error *err) CW_MUST_CHECK;

#endif
