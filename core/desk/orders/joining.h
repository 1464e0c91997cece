/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_JOINING_H
#define CW_DESK_JOINING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* The buyer has a second order: is it put into the first, or do both go in one box?
 *
 *   merge     the lines of one stand in the other, with all that they are promised; nothing is refunded, nothing is shared out anew.
 *             The emptied order is cancelled and says where it went. Not when something of it is on a list, nor when it is paid and
 *             the other is not (what is owed back rests on that).
 *   unmerge   the same back, as long as nothing that came from there is on a list.
 *   together  both stay orders. Whatever of them is in one wave lies in one slot, is packed and leaves together: one label, a slip
 *             for each (desk/pack/packing). They must go to one address; in a week that they do not share each goes alone. */

/* The buyer's other open orders, and those that were put into this one: order,customer,week,lines,quantity,same_place,together,
 * pulled,merged. The same buyer: the same e-mail, or the same name at the same postcode. */
cw_code cw_joining_beside(cw_nursery *n, const cw_asker *who, const char *order, cw_table *out,
                          cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_joining_beside_shape;

typedef enum cw_joining_what { CW_MERGE, CW_UNMERGE, CW_TOGETHER, CW_APART } cw_joining_what;

/* `other` is put into `order`, taken out of it again, goes with it, or goes alone again. *tells: what it means, a list of
 * sentences (new reference). */
cw_code cw_joining_set(cw_nursery *n, const cw_asker *who, const char *order, const char *other,
                       cw_joining_what what, json_t **tells, cw_error *err) CW_MUST_CHECK;

#endif
