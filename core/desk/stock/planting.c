/* SPDX-License-Identifier: MIT */
#include "desk/stock/planting_inside.h"

#include "base/grow.h"
#include "base/text.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef long long ll;

typedef struct search {
    int64_t variety; /* 0: any */
    size_t found, others;
    cw_planting_row at;
    char names[200]; /* of all varieties in the row */
} search;

static void look(void *context, const cw_planting_row *p)
{
    search *s = context;
    size_t used = strlen(s->names);
    snprintf(s->names + used, sizeof s->names - used, "%s%s", used ? ", " : "", p->variety);
    if (s->variety != 0 && p->variety_id != s->variety) {
        s->others++;
        return;
    }
    s->found++;
    s->at = *p;
}

static cw_code find(cw_nursery *n, const char *row, int64_t variety, search *s, cw_error *err)
{
    *s = (search){ .variety = variety };
    return cw_field_in_row(n->db, row, look, s, err);
}

cw_code cw_planting_of(cw_nursery *n, const char *row, int64_t variety, cw_planting_row *out, cw_error *err)
{
    search s;
    char shown[80];
    cw_code code = find(n, row, variety, &s, err);
    if (code != CW_OK)
        return code;
    if (s.found > 1)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "variety",
                           "row %.32s holds several varieties (%.150s); say which", row, s.names);
    if (s.found == 0 && s.others > 0)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "variety",
                           "row %.32s is planted with %.150s; a stretch of another variety in it needs a "
                           "planting of its own",
                           row, s.names);
    if (s.found == 0)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "row", "nothing is on record as planted in row %s",
                           cw_shown(row, strlen(row), shown));
    *out = s.at;
    return CW_OK;
}

cw_code cw_planting_of_lot(cw_nursery *n, const char *row, int64_t variety, bool *found, cw_planting_row *out,
                           cw_error *err)
{
    search s;
    *found = false;
    cw_code code = find(n, row, variety, &s, err);
    if (code != CW_OK || s.found + s.others == 0)
        return code;
    code = cw_planting_of(n, row, variety, out, err);
    *found = code == CW_OK;
    return code;
}

typedef struct events {
    cw_stand_event *at;
    size_t n, room;
    bool failed;
} events;

static void put(void *context, bool dug, int64_t id, cw_day day, int64_t a, int64_t b)
{
    events *e = context;
    if (!cw_grow(&e->at, e->n, &e->room, sizeof *e->at)) {
        e->failed = true;
        return;
    }
    e->at[e->n++] = (cw_stand_event){ .day = day,
                                      .dug = dug,
                                      .alive = dug ? 0 : a,
                                      .rogued = dug ? 0 : b,
                                      .clumps = dug ? a : 0,
                                      .culled = dug ? b : 0,
                                      .id = id };
}

/* Why an event cannot be, with what stood before it. */
static cw_code broken(const cw_planting_row *p, const cw_stand *before, const cw_stand_event *e,
                      cw_error *err)
{
    char day[11];
    int64_t gone = before->dug + before->culled + before->rogued;
    cw_day_format(e->day, day);
    if (e->dug)
        return cw_error_at(
            err, CW_CONFLICT, NULL, 0, "clumps",
            "of row %.32s stood %lld plant%s on %s (%lld set out, %lld dug, culled or taken out, %lld "
            "not found alive): %lld cannot be dug; if more stand, enter a walk of the row first",
            p->row, (ll)before->standing, CW_S(before->standing), day, (ll)before->plants, (ll)gone,
            (ll)before->dead, (ll)(e->clumps + e->culled));
    if (e->rogued > e->alive)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "rogued",
                           "more plants taken out than were alive (%lld): %lld", (ll)e->alive, (ll)e->rogued);
    return cw_error_at(err, CW_CONFLICT, NULL, 0, "alive",
                       "row %.32s had %lld plants, %lld of them dug, culled or taken out before %s: %lld "
                       "cannot be alive",
                       p->row, (ll)before->plants, (ll)gone, day, (ll)e->alive);
}

cw_code cw_planting_check(cw_nursery *n, int64_t planting, cw_stand *out, cw_error *err)
{
    cw_stand stand;
    cw_planting_row p = { 0 };
    events e = { 0 };
    bool found = false;
    cw_code code = cw_field_planting(n->db, planting, &found, &p, err);
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "planting", "there is no such planting: %lld",
                           (ll)planting);
    if (code == CW_OK)
        code = cw_field_events(n->db, planting, put, &e, err);
    if (code == CW_OK && e.failed)
        code = cw_error_memory(err);
    if (code == CW_OK) {
        cw_stand_sort(e.at, e.n);
        size_t at = cw_stand_play(p.plants, e.at, e.n, &stand);
        if (at < e.n)
            code = broken(&p, &stand, &e.at[at], err);
        else if (e.n > 0 && e.at[0].day < p.planted_on)
            code = cw_error_at(err, CW_CONFLICT, NULL, 0, e.at[0].dug ? "dug_on" : "seen_on",
                               "lies before row %.32s was planted", p.row);
    }
    if (code == CW_OK && out)
        *out = stand;
    free(e.at);
    return code;
}
