/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_PAST_H
#define CW_DESK_PAST_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* Which files of past seasons lie beside the open one, to be looked into? They are opened for reading only, and closed with the
 * nursery. Lineage, recall and known buyers use them; nothing is ever written into them from here. */
#define CW_MAX_PAST 40

/* CW_REFUSED: the file is of this season or a later one, of a season that another one beside is of, or not the file that this one
 * was made from (the digest of what it taught differs); of an older program (the text says which verb brings it up to date). */
cw_code cw_past_open(cw_nursery *n, const char *path, cw_error *err) CW_MUST_CHECK;

/* season,file,ship,closed: this season's file first, then the past ones, newest first. */
cw_code cw_past_files(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_past_files_shape;

#endif
