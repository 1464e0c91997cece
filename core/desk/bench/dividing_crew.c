/* SPDX-License-Identifier: MIT */
#include "desk/bench/dividing_inside.h"
#include "desk/bench/lying_inside.h"

#include "base/grow.h"
#include "model/minutes.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What the plan rests on beside the forecast: settings, whole lots, crew and calendar, minutes. */

#define MOST_DAYS 200 /* calendar days that a plan looks ahead, at most */

/* Room for one item more of a list of the bench's. */
static bool room_for(cw_bench *b, void *list, size_t count, size_t *room, size_t size)
{
    b->no_memory = b->no_memory || !cw_grow(list, count, room, size);
    return !b->no_memory;
}

static void take_lot(void *context, const cw_whole_lot *row)
{
    cw_bench *b = context;
    const cw_forecast_data *d = b->forecast->data;
    size_t low = cw_lying_lot(d, row->id);
    if (low == CW_NONE || d->lot_clumps[low] <= 0 || d->lot_variety[low] == CW_NONE)
        return;
    if (row->held) {
        b->held++;
        return;
    }
    if (!room_for(b, &b->lot, b->lots, &b->lot_room, sizeof *b->lot))
        return;
    cw_bench_lot *l = &b->lot[b->lots++];
    *l = (cw_bench_lot){ .lot = low,
                         .variety = d->lot_variety[low],
                         .id = row->id,
                         .clumps = d->lot_clumps[low],
                         .walk_order = row->walk_order,
                         .kept_day = row->kept_day };
    cw_copy(l->kept_why, sizeof l->kept_why, row->kept_why);
    cw_copy(l->place, sizeof l->place, row->place);
    cw_copy(l->room, sizeof l->room, row->room);
}

static void take_promised(void *context, const cw_promised_row *row)
{
    cw_bench *b = context;
    if (room_for(b, &b->promised, b->promises, &b->promise_room, sizeof *b->promised))
        b->promised[b->promises++] = *row;
}

static void take_crew(void *context, const cw_crew_row *row)
{
    cw_bench *b = context;
    if (room_for(b, &b->crew, b->crews, &b->crew_room, sizeof *b->crew))
        b->crew[b->crews++] = *row;
}

static cw_code settings(cw_nursery *n, cw_bench *b, cw_error *err)
{
    const struct {
        const char *name;
        double *to;
    } wanted[] = {
        { "confidence", &b->confidence },
        { "margin_share", &b->margin_share },
        { "short_cost_share", &b->short_share },
        { "cutters", &b->cutters },
        { "washers", &b->washers },
        { "bench_hours", &b->hours },
        { "work_days", &b->work_days },
        { "cut_minutes", &b->cut_minutes },
        { "wash_minutes", &b->wash_minutes },
        { "cut_lead_days", &b->lead_days },
        { "release_every", &b->release_days },
    };
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < sizeof wanted / sizeof wanted[0]; i++)
        code = cw_nursery_number(n, wanted[i].name, wanted[i].to, err);
    return code;
}

/* Varieties without a price count as one of the mean price; where none has one, as one unit of money. */
static void prices(cw_bench *b)
{
    const cw_snapshot *s = b->forecast->data->snapshot;
    double sum = 0, n = 0;
    for (size_t v = 0; v < s->varieties; v++)
        if (s->variety[v].price > 0) {
            sum += (double)s->variety[v].price;
            n++;
        }
    b->priced = n > 0;
    b->price = n > 0 ? sum / n : 100;
}

cw_code cw_bench_read(cw_nursery *n, const cw_asker *who, cw_bench *b, cw_error *err)
{
    cw_code code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &b->forecast, err);
    if (code == CW_OK)
        code = cw_plan_demand(n, b->forecast, &b->demand, err);
    if (code == CW_OK)
        code = settings(n, b, err);
    if (code == CW_OK)
        code = cw_whole_lots(n->db, take_lot, b, err);
    if (code == CW_OK)
        code = cw_promised_weeks(n->db, take_promised, b, err);
    if (code == CW_OK)
        code = cw_crew_days(n->db, take_crew, b, err);
    if (code == CW_OK)
        code = cw_last_release(n->db, &b->released, err);
    if (code == CW_OK && b->no_memory)
        code = cw_error_memory(err);
    if (code == CW_OK) {
        b->ship = b->forecast->data->ship;
        prices(b);
    }
    return code;
}

/* ---- the calendar ---- */

/* Monday is 0; 1970-01-01 was a Thursday. */
static int weekday(cw_day day)
{
    return (int)((((int64_t)day + 3) % 7 + 7) % 7);
}

static bool in_days(const char *days, cw_day day)
{
    char text[11];
    cw_day_format(day, text);
    return strstr(days, text) != NULL;
}

/* Who is there: as somebody said of that day, else by the settings, holidays and days of the week off. */
static cw_crew_row crew_of(const cw_bench *b, const char *holidays, cw_day day)
{
    for (size_t i = 0; i < b->crews; i++)
        if (b->crew[i].day == day)
            return b->crew[i];
    if (weekday(day) >= (int)b->work_days || in_days(holidays, day))
        return (cw_crew_row){ .day = day };
    return (cw_crew_row){ day, (int64_t)b->cutters, (int64_t)b->washers, b->hours };
}

cw_code cw_bench_days(cw_nursery *n, cw_bench *b, cw_error *err)
{
    char holidays[CW_MAX_NAME + 1];
    cw_day before = CW_NO_DAY;
    int64_t before_minutes = 0;
    cw_code code = cw_nursery_setting(n, "holidays", holidays, sizeof holidays, err);
    /* from a week earlier, to know on which day the first lots are washed */
    for (cw_day day = b->from - 14; code == CW_OK && day < b->ship && day < b->from + MOST_DAYS; day++) {
        cw_crew_row c = crew_of(b, holidays, day);
        int64_t wash = (int64_t)((double)c.washers * c.hours * 60);
        if (day >= b->from && (c.cutters > 0 && c.hours > 0)) {
            if (!room_for(b, &b->day, b->days, &b->day_room, sizeof *b->day))
                return cw_error_memory(err);
            b->day[b->days++] = (cw_bench_day){ day, before, c.cutters, c.washers, c.hours, before_minutes };
        }
        if (c.hours > 0 && (c.cutters > 0 || c.washers > 0)) {
            before = day;
            before_minutes = wash;
        }
    }
    return code;
}

/* ---- minutes ---- */

typedef struct timing {
    const cw_forecast_data *data;
    cw_bench *b;
    cw_minutes_session *session;
    size_t sessions, room;
} timing;

static void take_session(void *context, const cw_timed_session *row)
{
    timing *t = context;
    size_t v = cw_forecast_data_by_id(t->data, row->variety);
    if (room_for(t->b, &t->session, t->sessions, &t->room, sizeof *t->session) && v != CW_NONE)
        t->session[t->sessions++] =
            (cw_minutes_session){ v, row->clumps, (double)row->minutes * (double)row->people };
}

cw_code cw_bench_minutes(cw_nursery *n, cw_bench *b, cw_error *err)
{
    timing t = { .data = b->forecast->data, .b = b };
    cw_minutes m = { 0 };
    cw_code code = cw_timed_sessions(n->db, take_session, &t, err);
    if (code == CW_OK && b->no_memory)
        code = cw_error_memory(err);
    if (code == CW_OK)
        code = cw_minutes_learn(t.session, t.sessions, b->forecast->data->varieties, b->cut_minutes, &m, err);
    for (size_t l = 0; code == CW_OK && l < b->lots; l++) {
        double clumps = (double)b->lot[l].clumps;
        b->model_lot[l].cut_minutes =
            (int64_t)fmin(CW_DIVIDING_MINUTES, fmax(1, ceil(clumps * m.variety[b->lot[l].variety])));
        b->model_lot[l].wash_minutes = (int64_t)fmin(CW_DIVIDING_MINUTES, ceil(clumps * b->wash_minutes));
    }
    b->timed = m.sessions;
    cw_minutes_free(&m);
    free(t.session);
    return code;
}
