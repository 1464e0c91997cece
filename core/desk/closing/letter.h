/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_LETTER_H
#define CW_DESK_LETTER_H

#include "base/shape.h"
#include "base/text.h"
#include "desk/nursery/nursery.h"

/* How did the season go, in one page of sentences?
 *
 * What was said at each release and month's end, and what came; where the ranges of 8 in 10 held; which varieties fooled us and
 * what did it (divisions per clump, rot, drying, or a store that kept better than expected); what was offered against what was
 * asked; what was lost where, in divisions and at the catalogue's prices; what to measure earlier next winter; what the next
 * season's file will know. Nobody who bought is named. Before the shipping day the letter tells how far the season has come.
 *
 * A variety fooled us when what came lies outside the range of 8 in 10 that was said of it at the first release (with none on
 * record: that the program would say now of eight weeks before shipping). Clumps lost count as the divisions that their variety
 * gave per clump. */

/* part,sentence : the parts in the letter's order. Any role; only read. */
cw_code cw_letter_rows(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_letter_rows_shape;

/* The same as plain text, folded. The caller frees it, also after an error. */
cw_code cw_letter_text(cw_nursery *n, const cw_asker *who, cw_text *out, cw_error *err) CW_MUST_CHECK;

#endif
