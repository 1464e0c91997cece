/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_HINDSIGHT_H
#define CW_DESK_HINDSIGHT_H

#include "base/table.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* What did we say on past days, and what came?
 *
 * For each past day the ledger is read as it stood then, the models are fitted to what was known then, and the sound
 * divisions of "the day that came" are projected: the shipping day, or today if that is earlier. What came is what is on
 * hand then, less the rot and drying that the projection of that very day expects in what nobody has looked at since, plus
 * what left sound in between (picked, kept for planting). A variety is held against its projection once
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

/* as_of,projections,expected,came,bias_percent,cover50,cover80,cover90,below05,above95,quantile_loss_percent,crps : a row
 * for each past day, the last one (as_of empty) over all. */
cw_code cw_hindsight_scores(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, cw_table *out,
                            cw_error *err) CW_MUST_CHECK;

/* The page: scores, reliability (nominal against observed), PIT histogram, and the ten worst with what went wrong. New
 * reference. */
cw_code cw_hindsight_report(cw_nursery *n, const cw_asker *who, const cw_hindsight_ask *ask, json_t **out,
                            cw_error *err) CW_MUST_CHECK;

#endif
