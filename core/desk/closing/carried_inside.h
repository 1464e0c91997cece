/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_CARRIED_INSIDE_H
#define CW_DESK_CARRIED_INSIDE_H

/* What goes along into the next season's file beside the models' rows: how what we said last held, and buyers whom the owner wants to
 * know again. Read and written here, and proved against the season's own file. */
#include "base/table.h"
#include "desk/nursery/nursery.h"
#include "store/turning.h"

/* The last firm statement of the season of which it can be told by `who`'s day what came; *found false: there is none, or the
 * shipping day is still to come. */
cw_code cw_carried_said(cw_nursery *n, const cw_asker *who, bool *found, cw_past_said *out,
                        cw_error *err) CW_MUST_CHECK;

/* "release of 3 March 2032: 45 varieties, 920.0 said, 880.0 came, 37.0 held" */
void cw_carried_said_words(const cw_past_said *line, char out[160]);

/* The season's own file against a later one: its line, and each known buyer. Rows part,past,here,agree by `put`. */
typedef void cw_carried_put(cw_table *out, const char *part, const char *past, const char *here,
                            long *broken);
cw_code cw_carried_prove(cw_nursery *n, cw_nursery *past, const cw_asker *who, const cw_origin_row *origin,
                         cw_carried_put *put, cw_table *out, long *broken, cw_error *err) CW_MUST_CHECK;

#endif
