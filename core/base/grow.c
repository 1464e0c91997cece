/* SPDX-License-Identifier: MIT */
#include "base/grow.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define FIRST_ROOM 16

/* The pointer is read and written as bytes: C does not let a pointer to one type be changed as one to another. By realloc, not
 * reallocarray: the tests of failing memory count that one. */
static void *resize(void *array, size_t room, size_t size)
{
    void *items = NULL;
    if (room > SIZE_MAX / size)
        return NULL;
    memcpy(&items, array, sizeof items);
    items = realloc(items, room * size);
    if (items)
        memcpy(array, &items, sizeof items);
    return items;
}

bool cw_grow(void *array, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return true;
    size_t more = *room ? 2 * *room : FIRST_ROOM;
    if (resize(array, more, size) == NULL)
        return false;
    *room = more;
    return true;
}

void *cw_grow_item(void *array, size_t *count, size_t size)
{
    void *items = NULL;
    bool full = *count == 0 || (*count >= FIRST_ROOM && (*count & (*count - 1)) == 0);
    if (full && resize(array, *count ? 2 * *count : FIRST_ROOM, size) == NULL)
        return NULL;
    memcpy(&items, array, sizeof items);
    return memset((char *)items + (*count)++ * size, 0, size);
}
