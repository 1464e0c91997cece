/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_CHECK_H
#define CW_TESTS_SUPPORT_CHECK_H

/* cmocka with the headers that it needs before it, and a comparison of doubles that prints both values and the
 * tolerance (cmocka's own casts to float). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "base/error.h"

/* |got - want| <= tolerance * max(1, |want|); a NaN never passes. `what` names the row of the table under test. */
void cw_check_near(const char *what, double got, double want, double tolerance);

/* |got - want| <= tolerance * |want|. */
void cw_check_relative(const char *what, double got, double want, double tolerance);

/* The code is CW_OK, else fails with the error's own line. */
void cw_check_ok(cw_code code, const cw_error *err);

#endif
