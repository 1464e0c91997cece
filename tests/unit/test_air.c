/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "model/air.h"

#include <math.h>

#define HOUR 3600000LL

static void test_steady_room(void **state)
{
    (void)state;
    cw_air_reading r[11];
    cw_error err = CW_ERROR_NONE;
    cw_air_room *room = NULL;
    for (int i = 0; i < 11; i++) /* given backwards: any order will do */
        r[i] = (cw_air_reading){ (10 - i) * 24 * HOUR, 5, 90 };
    cw_check_ok(cw_air_room_new(r, 11, &room, &err), &err);
    cw_air_integral a = cw_air_between(room, 0, 240 * HOUR);
    cw_check_near("ten days", a.pa_days, 872.574861, 1e-6); /* 10 x 87.257486 Pa */
    cw_check_near("measured", a.measured_hours, 240, 1e-12);
    cw_check_near("flagged", a.flagged_hours + a.ahead_hours, 0, 1e-12);
    a = cw_air_between(room, 36 * HOUR, 60 * HOUR);
    cw_check_near("a day between readings", a.pa_days, 87.257486, 1e-7);
    cw_air_room_free(room);
}

/* A straight line of VPD between two readings: the integral is the trapezoid, and its parts add up. */
static void test_trapezoid(void **state)
{
    (void)state;
    cw_air_reading r[] = { { 0, 5, 90 }, { 48 * HOUR, 5, 80 } };
    cw_error err = CW_ERROR_NONE;
    cw_air_room *room = NULL;
    cw_check_ok(cw_air_room_new(r, 2, &room, &err), &err);
    double es = cw_air_saturation_pa(5);
    cw_check_near("whole", cw_air_between(room, 0, 48 * HOUR).pa_days, es * 0.15 * 2, 1e-9);
    cw_check_near("first half", cw_air_between(room, 0, 24 * HOUR).pa_days, es * 0.125, 1e-9);
    double sum = 0.0;
    for (int i = 0; i < 16; i++)
        sum += cw_air_between(room, i * 3 * HOUR, (i + 1) * 3 * HOUR).pa_days;
    cw_check_near("in pieces", sum, es * 0.3, 1e-9);
    cw_air_room_free(room);
}

static void test_gap_is_flagged_not_bridged(void **state)
{
    (void)state;
    /* four days at 90 %, a gap of ten days, then one reading at 50 %: the gap goes on at the mean before it */
    cw_air_reading r[] = {
        { 0, 5, 90 }, { 48 * HOUR, 5, 90 }, { 96 * HOUR, 5, 90 }, { 336 * HOUR, 5, 50 }, { 348 * HOUR, 5, 50 }
    };
    cw_error err = CW_ERROR_NONE;
    cw_air_room *room = NULL;
    cw_check_ok(cw_air_room_new(r, 5, &room, &err), &err);
    cw_air_integral a = cw_air_between(room, 96 * HOUR, 336 * HOUR);
    cw_check_near("gap", a.pa_days, 10 * 87.257486, 1e-7);
    cw_check_near("flagged hours", a.flagged_hours, 240, 1e-12);
    cw_check_near("measured hours", a.measured_hours, 0, 1e-12);
    /* before the first reading, and after the last */
    a = cw_air_between(room, -24 * HOUR, 0);
    cw_check_near("before", a.flagged_hours, 24, 1e-12);
    a = cw_air_between(room, 348 * HOUR, 372 * HOUR);
    cw_check_near("ahead", a.ahead_hours, 24, 1e-12);
    cw_check_near("carried at the recent mean", a.pa_days, cw_air_recent_pa(room), 1e-9);
    cw_air_room_free(room);
}

static void test_room_never_measured(void **state)
{
    (void)state;
    cw_air_integral a = cw_air_between(NULL, 0, 48 * HOUR);
    cw_check_near("default", a.pa_days, 2 * CW_AIR_DEFAULT_PA, 1e-12);
    cw_check_near("flagged", a.flagged_hours, 48, 1e-12);
}

static void test_saturated_and_doubled(void **state)
{
    (void)state;
    cw_check_near("saturated", cw_air_vpd_pa(6, 100), 0, 1e-12);
    cw_check_near("a sensor above 100 %", cw_air_vpd_pa(6, 103), 0, 1e-12);
    assert_true(cw_air_saturation_pa(-10) > 200 && cw_air_saturation_pa(-10) < 300);
    cw_air_reading r[] = { { 0, 5, 90 }, { 0, 5, 80 }, { 24 * HOUR, 5, 85 } };
    cw_error err = CW_ERROR_NONE;
    cw_air_room *room = NULL;
    cw_check_ok(cw_air_room_new(r, 3, &room, &err), &err);
    cw_check_near("two at one instant: their mean", cw_air_between(room, 0, 24 * HOUR).pa_days,
                  cw_air_saturation_pa(5) * 0.15, 1e-9);
    cw_air_room_free(room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_steady_room),
        cmocka_unit_test(test_trapezoid),
        cmocka_unit_test(test_gap_is_flagged_not_bridged),
        cmocka_unit_test(test_room_never_measured),
        cmocka_unit_test(test_saturated_and_doubled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
