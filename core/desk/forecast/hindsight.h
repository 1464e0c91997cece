/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_HINDSIGHT_H
#define CW_DESK_HINDSIGHT_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* What did we say on past days, and what came?
 *
 * For each past day the ledger is read as it stood then, the models are fitted to what was known then, and the sound
 * divisions of "the day that came" are projected: the shipping day, or today if that is earlier. What came is what left
 * sound in between (picked, kept for planting) and what is on hand then. Only what somebody has looked at since the past
 * day is scored, cut, checked or counted: else the projection would be held against its own guess. What rot and drying
 * have done since that look nobody knows, so the scores are means over what it may be, and counted_percent says which
 * share of what came was counted: left sound, or looked at within the last fortnight.
 *
 * A replay reads history that was typed later, too: it is what the program would say now of that day, not what it said.
 * What it said is kept at every release and at months' ends, and scored beside.
 * A variety is held against its projection once
 * none of its clumps is left whole; while some are, its lots count one by one as soon as they are cut. Lots dug after the
 * past day are left out of both sides. */
typedef struct cw_hindsight_ask {
    const cw_day *days; /* past days; none: every 14 days from the first lot on */
    size_t n_days;
} cw_hindsight_ask;

/* as_of,unit,code,expected,p05,p10,p25,p50,p75,p90,p95,came,pit_low,pit_high : a row for each projection; unit is variety
 * or lot. */
cw_code cw_hindsight_rows(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;

/* as_of,projections,expected,came,bias_percent,cover50,cover80,cover90,below05,above95,quantile_loss_percent,crps,counted_percent : a row
 * for each past day, the last one (as_of empty) over all. */
cw_code cw_hindsight_scores(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, cw_table *out,
                            cw_error *err) CW_MUST_CHECK;

/* Keeps what is said on record, once a month: the projection of the month's end, or of today if that is some days ago. Does
 * nothing when it stands, when the file was not there yet, when there is nothing to project, or after shipping. Any role; a write. */
cw_code cw_hindsight_keep(cw_nursery *n, const cw_asker *who, bool *kept, cw_error *err) CW_MUST_CHECK;

/* said_on,why,projections,expected,came,bias_percent,cover50,cover80,cover90,quantile_loss_percent : how what was said at
 * releases and months' ends, as it was said then, held; once the shipping day that it was said of has come. */
cw_code cw_hindsight_said(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* low,high,looked,rotten,lost,held,expected,without,nearer : the owner's word of a usual winter's rot against what this season's
 * checks found; one row once the shipping day has come, none where nothing is said. */
cw_code cw_hindsight_rot(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_hindsight_rot_shape;

/* The page: scores, what was said at the time, reliability (nominal against observed), PIT histogram, and the ten worst with what went wrong. New
 * reference. */
cw_code cw_hindsight_report(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, json_t **out,
                            cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_hindsight_report_shape;

#endif
