/* SPDX-License-Identifier: MIT */
/* Vapour pressure, deficit and mass loss against published tables and worked values. */
#include "support/check.h"

#include "model/air.h"
#include "model/shrink.h"

#include <math.h>
#include <stdio.h>

/* IAPWS R7-97(2012), table 35: check values of the region 4 equation (printed in MPa to nine digits). */
static void test_if97(void **state)
{
    (void)state;
    cw_check_relative("300 K", cw_air_saturation_pa(300 - 273.15), 0.353658941e4, 2e-9);
    cw_check_relative("500 K", cw_air_saturation_pa(500 - 273.15), 0.263889776e7, 2e-9);
    cw_check_relative("600 K", cw_air_saturation_pa(600 - 273.15), 0.123443146e8, 4e-9);
}

/* CRC Handbook of Chemistry and Physics, 73rd ed. (1992-93): vapour pressure of water, Pa, 0 .. 30 C. The
 * CRC's own scale and formula differ from IF97 by up to 0.03 %. */
static void test_crc_table(void **state)
{
    (void)state;
    static const double pa[] = { 611.29, 657.16, 706.05, 758.13, 813.59, 872.60, 935.37, 1002.1,
                                 1073.0, 1148.2, 1228.1, 1312.9, 1402.7, 1497.9, 1598.8, 1705.6,
                                 1818.5, 1938.0, 2064.4, 2197.8, 2338.8, 2487.7, 2644.7, 2810.4,
                                 2985.0, 3169.0, 3362.9, 3567.0, 3781.8, 4007.8, 4245.5 };
    for (int t = 0; t <= 30; t++)
        cw_check_relative("CRC", cw_air_saturation_pa(t), pa[t], 3.5e-4);
    /* ASHRAE Fundamentals 2017, chapter 1, table 3; it states 300 ppm for its formula. */
    cw_check_relative("ASHRAE 5 C", cw_air_saturation_pa(5), 872.6, 3e-4);
    cw_check_relative("ASHRAE 25 C", cw_air_saturation_pa(25), 3169.7, 3e-4);
    cw_check_relative("ASHRAE 50 C", cw_air_saturation_pa(50), 12351.3, 3e-4);
    cw_check_relative("ASHRAE 100 C", cw_air_saturation_pa(100), 101418.0, 3e-4);
}

/* VPD = ps(t) (1 - RH / 100), computed with the python package iapws 1.5.2 (IF97). */
static void test_worked_deficits(void **state)
{
    (void)state;
    static const struct {
        double t, rh, pa;
    } rows[] = { { 4, 95, 40.677469 },   { 5, 90, 87.257486 },   { 5, 85, 130.886229 },
                 { 7, 90, 100.208680 },  { 7, 80, 200.417361 },  { 10, 85, 184.227580 },
                 { 10, 70, 368.455161 }, { 20, 50, 1169.607383 } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        cw_check_relative("VPD", cw_air_vpd_pa(rows[i].t, rows[i].rh), rows[i].pa, 1e-8);
    /* FAO-56, chapter 3, example 5 prints 0.91 kPa: mean of two saturation pressures less the actual one. */
    double es = 0.5 * (cw_air_saturation_pa(18) + cw_air_saturation_pa(25));
    double ea = 0.5 * (cw_air_saturation_pa(18) * 0.82 + cw_air_saturation_pa(25) * 0.54);
    cw_check_near("FAO-56", (es - ea) / 1000, 0.91, 0.005);
}

/* Exponential mass loss at a transpiration coefficient in ng/(kg s Pa), worked by hand with IF97 deficits;
 * arithmetic only (the coefficients themselves are from memory). */
static void test_worked_losses(void **state)
{
    (void)state;
    static const struct {
        double k, t, rh, days, loss;
    } rows[] = { { 25, 5, 90, 30, 0.00563833 },   { 25, 5, 90, 150, 0.02787553 },
                 { 25, 7, 85, 150, 0.04753452 },  { 207, 5, 90, 150, 0.20870735 },
                 { 207, 7, 85, 150, 0.33185345 }, { 469, 5, 90, 30, 0.10064226 },
                 { 1207, 5, 90, 30, 0.23889875 }, { 1207, 7, 85, 150, 0.90475516 },
                 { 1930, 7, 85, 150, 0.97671043 } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double pa_days = cw_air_vpd_pa(rows[i].t, rows[i].rh) * rows[i].days;
        cw_check_near("loss", cw_shrink_loss(rows[i].k * 1e-12 * 86400, pa_days), rows[i].loss, 1e-8);
    }
    /* Days to 10 % for a sugar beet at 5 C, 90 %: 67.514. */
    double k = 207e-12 * 86400;
    cw_check_relative("days to 10 %", -log(0.9) / (k * cw_air_vpd_pa(5, 90)), 67.514, 1e-5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_if97),
        cmocka_unit_test(test_crc_table),
        cmocka_unit_test(test_worked_deficits),
        cmocka_unit_test(test_worked_losses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
