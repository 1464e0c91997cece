/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include <math.h>

static void compare(const char *what, double got, double want, double allowed)
{
    if (!(fabs(got - want) <= allowed))
        fail_msg("%s: got %.15g, want %.15g, allowed difference %.3g", what, got, want, allowed);
}

void cw_check_near(const char *what, double got, double want, double tolerance)
{
    compare(what, got, want, tolerance * fmax(1, fabs(want)));
}

void cw_check_relative(const char *what, double got, double want, double tolerance)
{
    compare(what, got, want, tolerance * fabs(want));
}

void cw_check_ok(cw_code code, const cw_error *err)
{
    if (code != CW_OK) {
        char line[1600];
        cw_error_line(err, line, sizeof line);
        fail_msg("%s", line);
    }
}
