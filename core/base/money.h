/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_MONEY_H
#define CW_BASE_MONEY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Money is a whole number of hundredths of the nursery's currency. */
typedef int64_t cw_cents;

/* "12", "12.5", "12.50"; at most two decimals, never negative, at most CW_MAX_CENTS. */
bool cw_cents_parse(const char *s, size_t n, cw_cents *out);

/* "12.50"; a negative amount gets a minus. */
void cw_cents_format(cw_cents v, char out[24]);

#endif
