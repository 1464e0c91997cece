/* SPDX-License-Identifier: MIT */
/* What a projection rests on, in sentences: defaults in use, gaps in readings that were bridged, and what sets this nursery's
 * data apart where it changes figures. */
#include "desk/forecast/forecast_inside.h"

#include <math.h>

#include "base/banned.h"

#define TOLD 1.25 /* times: a difference smaller than this is not worth a sentence */

static void defaults(const cw_forecast *f, cw_text *notes)
{
    if (!cw_rate_informed(f->learned.rate))
        cw_text_addf(notes,
                     "No dividing session is on record: the division rate is the stated default (%.0f a "
                     "clump, wide).\n",
                     CW_RATE_DEFAULT);
    bool own = f->data->rot_own.high > 0;
    if (!cw_rot_informed(f->learned.rot, CW_ROT_CLUMP))
        cw_text_add(notes, own ? "No check of clumps is on record: their rot rests on what you said.\n"
                               : "No check of clumps is on record: their rot is the stated default.\n");
    if (!cw_rot_informed(f->learned.rot, CW_ROT_DIVISION))
        cw_text_add(notes, own ? "No check of divisions is on record: their rot rests on what you said.\n"
                               : "No check of divisions is on record: their rot is the stated default.\n");
    if (f->data->beds > 0 && !cw_establish_informed(f->establish))
        cw_text_add(
            notes,
            "No planting of a past season is on record: how many plants are dug sound is the setting's "
            "estimate.\n");
    if (f->learned.shrink->crates == 0)
        cw_text_add(notes, "No crate was weighed twice: the rate of drying is the stated default.\n");
    if (f->learned.shrink->inspected == 0)
        cw_text_add(notes,
                    "No check counted shrivelled divisions: the shrivel limit is the stated default.\n");
    if (f->data->snapshot->rooms == 0)
        cw_text_addf(notes, "No air reading is on record: rooms are taken at %.0f Pa.\n", CW_AIR_DEFAULT_PA);
    else if (f->data->flagged_hours > 0)
        cw_text_addf(
            notes, "The air readings have gaps: up to %.0f hours of a room are carried at its recent mean.\n",
            f->data->flagged_hours);
}

static void cutting(const cw_forecast *f, cw_text *notes)
{
    double order = cw_rate_report(f->learned.rate)->hyper.tilt[CW_RATE_ORDER];
    const double *dead = cw_rate_dead(f->learned.rate);
    double most = 0;
    if (order > log(TOLD) / 2)
        cw_text_addf(
            notes,
            "The best clumps of a lot are cut first: its second half gives %.0f %% less a clump than its "
            "first, and what is left is taken so.\n",
            -100 * expm1(-order));
    for (size_t l = 0; dead && l < f->data->lots; l++)
        most = dead[l] < 0.5 && dead[l] > most ? dead[l] : most;
    if (most >= 0.01)
        cw_text_addf(
            notes, "Some lots have given nothing at all: each that is whole may, with a chance of %.0f %%.\n",
            100 * most);
}

/* A room by its number among those that lots name. */
static const char *room_name(const cw_forecast *f, int room)
{
    for (size_t l = 0; l < f->data->lots; l++)
        if (f->data->lot_place[l] == room)
            return f->data->snapshot->lot[l].room;
    return "";
}

static void rot(const cw_forecast *f, cw_rot_stage stage, const char *things, cw_text *notes)
{
    const double *tilt = cw_rot_report(f->learned.rot, stage)->hyper.tilt;
    double why = exp(tilt[CW_ROT_TILT_UNTOLD]), suspicion = exp(tilt[CW_ROT_TILT_SUSPICION]);
    double age = exp(tilt[CW_TILT_AGE] * log(3)); /* hazard at 15 weeks against that at 5 */
    if (age > TOLD || age < 1 / TOLD)
        cw_text_addf(notes, "At 15 weeks %s rot %.1f times as fast as at 5.\n", things, age);
    if (why > TOLD || why < 1 / TOLD)
        cw_text_addf(
            notes,
            "Checks without a reason find %.1f times the rot of %s that was found by looking at all: "
            "they count for that much less.\n",
            why, things);
    if (tilt[CW_ROT_TILT_SUSPICION] != 0 && suspicion > TOLD)
        cw_text_addf(
            notes,
            "Checks on suspicion find %.1f times the rot of %s that is elsewhere: they count for that much "
            "less.\n",
            suspicion, things);
    for (int k = 0; k < CW_ROT_ROOMS; k++) {
        double room = exp(tilt[CW_ROT_TILT_ROOM + k]);
        if (room > TOLD || room < 1 / TOLD)
            cw_text_addf(notes, "In %s %s rot %.1f times as fast as is usual this season.\n", room_name(f, k),
                         things, room);
    }
}

void cw_forecast_notes(const cw_forecast *f, cw_text *notes)
{
    defaults(f, notes);
    cutting(f, notes);
    rot(f, CW_ROT_CLUMP, "clumps", notes);
    rot(f, CW_ROT_DIVISION, "divisions", notes);
}
