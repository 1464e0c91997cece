/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_LYING_H
#define CW_DESK_LYING_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

#include <jansson.h>

/* How does the cellar stand, place by place, today and on the days until shipping, if nothing is done meanwhile?
 *
 * {today, ship, days: [five days from today to the shipping day], rooms: [{room, temp_c, rh, vpd_pa}], places: [...]}. A place has
 * place,room,walk_order,lots,held,clumps,divisions,weeks and for each of the days rot_0 .. rot_4 (share of what lies there that will be
 * rotten as it lies, clumps uncut) and dry_0 .. dry_4 (share of its divisions that will be shrivelled); `weeks`: since what has waited
 * longest there was last known sound, today. Rooms are those with readings, as the last two weeks were. New reference. */
cw_code cw_lying_look(cw_nursery *n, const cw_asker *who, json_t **out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_lying_shape;

/* What if a room were so many points of relative humidity damper (below 0: drier) from today on? One row:
 * room,points,temp_c,rh,vpd_pa,vpd_then,sound,saved : `sound` divisions that are expected of its lots on the shipping day as the room
 * is, and how many more there would be. Only drying is reckoned with: damp air may bring more rot. CW_NOT_FOUND names a room without
 * readings. -20 .. 20 points. */
cw_code cw_lying_damper(cw_nursery *n, const cw_asker *who, const char *room, double points, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_lying_damper_shape;

#endif
