/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_INTAKE_PLAIN_INSIDE_H
#define CW_DESK_INTAKE_PLAIN_INSIDE_H

/* What a row of a kind is to the record: shared by intake_plain.c, which puts rows in, and intake_off.c, which takes them off. */
#include "desk/intake/intake_inside.h"

#include <jansson.h>

/* The row's value as a statement takes it; as a document shows it; the row's key in words ("reading Cellar 2032-01-02T06:00:00Z"). */
cw_bind cw_row_bind(const cw_intake *in, const cw_kind_column *k, const cw_given *v);
json_t *cw_row_shown(const cw_intake *in, const cw_row *row, size_t c, const cw_bind *v);
void cw_row_name(const cw_intake *in, const cw_row *row, char out[400]);

#endif
