/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PAPER_H
#define CW_DESK_PAPER_H

#include "base/table.h"
#include "desk/nursery/nursery.h"

#include <stddef.h>

/* What stands on crate tags, pick sheets, packing slips and division labels? How it looks is the server's
 * (server/routes/print.c).
 *
 * Codes carry what a scan needs: a crate tag "LOT PLACE", a division label "LOT VARIETY". The lot comes first in both, so
 * that one scanner setting reads either. */

/* A tag for each lot at each place where it lies, in walking order: lot,variety,name,form,size,colour,row,place,room,
 * divisions,clumps,held,scan. Of the lots named (CW_NOT_FOUND names one that lies nowhere), else of a wave's lots, else
 * (wave 0) of all. */
cw_code cw_paper_tags(cw_nursery *n, int64_t wave, const char *const *lots, size_t count, cw_table *out,
                      cw_error *err) CW_MUST_CHECK;

/* The same for the divisions of each session of a day, with `cut_on`: divisions are those of the session, the place is where it put
 * them. Of the lots named (CW_NOT_FOUND names one of which nothing was cut), else of all. */
cw_code cw_paper_cut_tags(cw_nursery *n, cw_day cut_on, const char *const *lots, size_t count, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;

/* stop,room,place,lot,variety,name,form,colour,quantity,order,line,slot,state,taken,reason,held,taken_by,week, in
 * walking order. */
cw_code cw_paper_walk(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out,
                      cw_error *err) CW_MUST_CHECK;

/* One row a line and variety of a parcel, by slot, or (by_walk) as the walk completes them: parcel,slot,state,order,customer,name2,street,town,postcode,country,region,language,line,variety,
 * name,quantity,lots,instead_of,assortment,slots,joined; slots: all of a parcel that lies in several, joined: other orders in its box. */
cw_code cw_paper_slips(cw_nursery *n, int64_t wave, bool by_walk, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* What became of the divisions of each parcel's order that are in no parcel of it, one row a line, by slot:
 * parcel,line_id,line,name,follows (promised), waits (not promised, and more may come), refunded (cancelled, or short for good). */
cw_code cw_paper_rest(cw_nursery *n, int64_t wave, cw_table *out, cw_error *err) CW_MUST_CHECK;

/* One row a pick, in walking order: variety,name,form,colour,lot,quantity,scan,slot,order; a label is printed for each division. */
cw_code cw_paper_labels(cw_nursery *n, int64_t wave, cw_table *out, cw_error *err) CW_MUST_CHECK;

#endif
