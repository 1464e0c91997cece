/* SPDX-License-Identifier: MIT */
#ifndef CW_GROW_H
#define CW_GROW_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* An array that grows: is there room for one more item? `array` is the address of the pointer to it; the pointer starts as NULL
 * and *room as 0. Room doubles. False without memory: the array stands as it was. The caller frees it. */
bool cw_grow(void *array, size_t count, size_t *room, size_t size) CW_MUST_CHECK;

/* The same for arrays that keep no room: it is always 16 or the next power of two. Counts the item and returns it, zeroed; NULL
 * without memory. */
void *cw_grow_item(void *array, size_t *count, size_t size) CW_MUST_CHECK;

#endif
