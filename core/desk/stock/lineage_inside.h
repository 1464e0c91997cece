/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_LINEAGE_INSIDE_H
#define CW_DESK_LINEAGE_INSIDE_H

/* The tree behind desk/stock/lineage: followed by lineage.c, told by lineage_tell.c. */
#include "desk/nursery/past_inside.h"
#include "desk/stock/lineage.h"
#include "store/lineage.h"

typedef enum cw_kind_of_kin { CW_KIN_LOT, CW_KIN_PLANTING, CW_KIN_VARIETY } cw_kind_of_kin;
typedef enum cw_kin_way { CW_KIN_ASKED, CW_KIN_FROM, CW_KIN_CAME } cw_kin_way;

typedef struct cw_relative {
    cw_kin is;
    cw_kind_of_kin kind;
    cw_kin_way way;
    int season;
    size_t file;  /* cw_past_at; SIZE_MAX: that season's file is not beside */
    size_t under; /* index of what it descends from; SIZE_MAX: nothing that is known */
    bool sure;    /* somebody wrote it down, all the way */
    bool followed, guessed;
} cw_relative;

typedef struct cw_family {
    cw_nursery *n;
    cw_relative *of;
    size_t count, room;
    bool failed, too_many; /* no memory; more than can be told */
    cw_relative next;      /* what is the same of all rows that are being taken */
} cw_family;

/* Free in any case. */
cw_code cw_family_find(cw_nursery *n, const cw_lineage_ask *ask, cw_family *out, cw_error *err) CW_MUST_CHECK;
void cw_family_free(cw_family *f);

#endif
