/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_MAP_H
#define CW_BASE_MAP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* From a byte string to a whole number, in memory: codes to row ids, keys seen in a file. Starts zeroed
 * (cw_map m = { 0 }); keys are copied. Not for keys that an enemy chooses by the million: the hash is not
 * keyed. */
typedef struct cw_map {
    struct cw_map_slot *slots;
    size_t used, room;
    char *keys; /* all keys, one behind the other */
    size_t keys_used, keys_room;
} cw_map;

/* The value at `key`, made 0 if the key is new (*is_new tells; may be NULL). NULL without memory. The pointer
 * holds until the next put. */
int64_t *cw_map_put(cw_map *m, const void *key, size_t n, bool *is_new);

/* The value at `key`, or NULL. */
const int64_t *cw_map_get(const cw_map *m, const void *key, size_t n);

void cw_map_clear(cw_map *m); /* empty again; keeps the room if it is small */
void cw_map_free(cw_map *m);

#endif
