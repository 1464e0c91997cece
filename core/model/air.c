/* SPDX-License-Identifier: MIT */
#include "model/air.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define HOUR_MS 3600000.0

double cw_air_saturation_pa(double temp_c)
{
    /* IAPWS R7-97(2012), table 34; the equation gives MPa. */
    static const double n[] = { 0.11670521452767e4,  -0.72421316703206e6, -0.17073846940092e2,
                                0.12020824702470e5,  -0.32325550322333e7, 0.14915108613530e2,
                                -0.48232657361591e4, 0.40511340542057e6,  -0.23855557567849,
                                0.65017534844798e3 };
    double kelvin = temp_c + 273.15, t = kelvin + n[8] / (kelvin - n[9]);
    double a = t * t + n[0] * t + n[1];
    double b = n[2] * t * t + n[3] * t + n[4];
    double c = n[5] * t * t + n[6] * t + n[7];
    double root = 2.0 * c / (-b + sqrt(b * b - 4.0 * a * c));
    return 1e6 * root * root * root * root;
}

double cw_air_vpd_pa(double temp_c, double rh_percent)
{
    return cw_air_saturation_pa(temp_c) * (1.0 - fmin(fmax(rh_percent, 0.0), 100.0) / 100.0);
}

typedef struct point {
    cw_instant at;
    double pa;       /* VPD */
    double sum;      /* Pa ms since the first reading, gaps carried */
    double measured; /* ms of it that are measured */
    double area;     /* Pa ms of it that are measured */
} point;

struct cw_air_room {
    size_t points;
    double recent_pa; /* carried ahead */
    double early_pa;  /* carried back before the first reading */
    point point[];
};

static int by_instant(const void *a, const void *b)
{
    const point *x = a, *y = b;
    if (x->at != y->at)
        return x->at < y->at ? -1 : 1;
    return (x->pa > y->pa) -
           (x->pa < y->pa); /* a fixed order for equal instants: sums do not depend on the input's */
}

/* One point for each instant: the mean of the readings at it. */
static size_t merge(point *p, size_t n)
{
    size_t out = 0;
    for (size_t i = 0; i < n;) {
        double sum = 0.0;
        size_t from = i;
        for (; i < n && p[i].at == p[from].at; i++)
            sum += p[i].pa;
        p[out] = (point){ .at = p[from].at, .pa = sum / (double)(i - from) };
        out++;
    }
    return out;
}

/* Measured mean over the points from..to; the plain mean of the readings where they span no measured time. */
static double mean_between(const point *p, size_t from, size_t to)
{
    double span = p[to].measured - p[from].measured;
    if (span > 0.0)
        return (p[to].area - p[from].area) / span;
    double sum = 0.0;
    for (size_t i = from; i <= to; i++)
        sum += p[i].pa;
    return sum / (double)(to - from + 1);
}

/* First point within the recent days before p[to]. */
static size_t recent_from(const point *p, size_t to, size_t at_least)
{
    while (at_least < to && p[to].at - p[at_least].at > CW_AIR_RECENT_DAYS * CW_DAY_MS)
        at_least++;
    return at_least;
}

static bool is_gap(const point *a, const point *b)
{
    return (double)(b->at - a->at) > CW_AIR_GAP_HOURS * HOUR_MS;
}

static void sum_up(cw_air_room *r)
{
    point *p = r->point;
    size_t start = 0; /* of the recent window: only moves forward */
    for (size_t i = 1; i < r->points; i++) {
        double ms = (double)(p[i].at - p[i - 1].at);
        p[i].measured = p[i - 1].measured;
        p[i].area = p[i - 1].area;
        if (is_gap(&p[i - 1], &p[i])) {
            start = recent_from(p, i - 1, start);
            p[i].sum = p[i - 1].sum + ms * mean_between(p, start, i - 1);
        } else {
            double area = 0.5 * (p[i].pa + p[i - 1].pa) * ms;
            p[i].measured += ms;
            p[i].area += area;
            p[i].sum = p[i - 1].sum + area;
        }
    }
    size_t last = r->points - 1, early = 0;
    while (early < last && p[early + 1].at - p[0].at <= CW_AIR_RECENT_DAYS * CW_DAY_MS)
        early++;
    r->recent_pa = mean_between(p, recent_from(p, last, 0), last);
    r->early_pa = mean_between(p, 0, early);
}

cw_code cw_air_room_new(const cw_air_reading *reading, size_t readings, cw_air_room **out, cw_error *err)
{
    *out = NULL;
    if (readings == 0)
        return CW_OK;
    cw_air_room *r = malloc(sizeof *r + readings * sizeof(point));
    if (r == NULL)
        return cw_error_memory(err);
    for (size_t i = 0; i < readings; i++)
        r->point[i] =
            (point){ .at = reading[i].at, .pa = cw_air_vpd_pa(reading[i].temp_c, reading[i].rh_percent) };
    qsort(r->point, readings, sizeof(point), by_instant);
    r->points = merge(r->point, readings);
    sum_up(r);
    *out = r;
    return CW_OK;
}

void cw_air_room_free(cw_air_room *r)
{
    free(r);
}

double cw_air_recent_pa(const cw_air_room *r)
{
    return r == NULL ? CW_AIR_DEFAULT_PA : r->recent_pa;
}

/* Running sums at any instant within the readings. */
static void at_instant(const cw_air_room *r, cw_instant t, double *sum, double *measured)
{
    const point *p = r->point;
    size_t low = 0, high = r->points - 1; /* p[low].at <= t <= p[high].at */
    while (high - low > 1) {
        size_t mid = (low + high) / 2;
        if (p[mid].at <= t)
            low = mid;
        else
            high = mid;
    }
    *sum = p[low].sum;
    *measured = p[low].measured;
    if (t == p[low].at)
        return;
    double ms = (double)(t - p[low].at), whole = (double)(p[high].at - p[low].at);
    if (is_gap(&p[low], &p[high])) {
        *sum += (p[high].sum - p[low].sum) * ms / whole;
        return;
    }
    double pa = p[low].pa + (p[high].pa - p[low].pa) * ms / whole;
    *sum += 0.5 * (p[low].pa + pa) * ms;
    *measured += ms;
}

cw_air_integral cw_air_between(const cw_air_room *r, cw_instant from, cw_instant to)
{
    assert(from <= to);
    cw_air_integral out = { 0 };
    if (r == NULL) {
        out.pa_days = CW_AIR_DEFAULT_PA * (double)(to - from) / CW_DAY_MS;
        out.flagged_hours = (double)(to - from) / HOUR_MS;
        return out;
    }
    cw_instant first = r->point[0].at, last = r->point[r->points - 1].at;
    double pa_ms = 0.0;
    if (from < first) {
        double ms = (double)((to < first ? to : first) - from);
        pa_ms += ms * r->early_pa;
        out.flagged_hours += ms / HOUR_MS;
    }
    if (to > last) {
        double ms = (double)(to - (from > last ? from : last));
        pa_ms += ms * r->recent_pa;
        out.ahead_hours += ms / HOUR_MS;
    }
    cw_instant a = from > first ? from : first, b = to < last ? to : last;
    if (a < b) {
        double sum_a = 0, sum_b = 0, measured_a = 0, measured_b = 0;
        at_instant(r, a, &sum_a, &measured_a);
        at_instant(r, b, &sum_b, &measured_b);
        pa_ms += sum_b - sum_a;
        out.measured_hours = (measured_b - measured_a) / HOUR_MS;
        out.flagged_hours += ((double)(b - a) - (measured_b - measured_a)) / HOUR_MS;
    }
    out.pa_days = pa_ms / CW_DAY_MS;
    return out;
}
