/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_inside.h"

#include "base/text.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Room for one more item of `size` bytes. */
static cw_code room_for(void **items, size_t count, size_t *room, size_t size, cw_error *err)
{
    if (count < *room)
        return CW_OK;
    size_t more = *room ? *room * 2 : 64;
    void *bigger = realloc(*items, more * size);
    if (bigger == NULL)
        return cw_error_memory(err);
    *items = bigger;
    *room = more;
    return CW_OK;
}

/* The map's values are index + 1; 0 is a code that is not there, or that must be looked up again. */
static cw_code read_variety(cw_codes *c, const char *code, int64_t *slot, cw_error *err)
{
    bool found = false;
    void *items = c->variety;
    cw_code done = room_for(&items, c->variety_count, &c->variety_room, sizeof *c->variety, err);
    c->variety = items;
    if (done != CW_OK)
        return done;
    cw_variety_found was;
    done = cw_intake_find_variety(c->db, code, &found, &was, err);
    if (!found)
        return done;
    if (strcmp(was.code, code) !=
        0) { /* a former one: one state for one variety, whichever of its codes comes */
        int64_t index = -1;
        done = cw_codes_variety(c, was.code, strlen(was.code), &index, err);
        *slot = index + 1;
        return done;
    }
    cw_variety_state *v = &c->variety[c->variety_count++];
    *v = (cw_variety_state){ .id = was.id,
                             .retired = was.retired,
                             .released = was.released,
                             .stands = was.stands,
                             .offered = was.offered,
                             .sold = was.sold,
                             .beyond = was.beyond,
                             .was_sold = was.sold,
                             .was_beyond = was.beyond };
    cw_copy(v->code, sizeof v->code, code);
    *slot = (int64_t)c->variety_count;
    return done;
}

static cw_code read_lot(cw_codes *c, const char *code, int64_t *slot, cw_error *err)
{
    bool found = false;
    void *items = c->lot;
    cw_code done = room_for(&items, c->lot_count, &c->lot_room, sizeof *c->lot, err);
    c->lot = items;
    if (done != CW_OK)
        return done;
    done = cw_intake_find_lot(c->db, code, &found, &c->lot[c->lot_count], err);
    if (found)
        *slot = (int64_t)++c->lot_count;
    return done;
}

static cw_code read_place(cw_codes *c, const char *code, int64_t *slot, cw_error *err)
{
    bool found = false;
    void *items = c->place;
    cw_code done = room_for(&items, c->place_count, &c->place_room, sizeof *c->place, err);
    c->place = items;
    if (done != CW_OK)
        return done;
    done = cw_intake_find_place(c->db, code, &found, &c->place[c->place_count], err);
    if (found)
        *slot = (int64_t)++c->place_count;
    return done;
}

typedef cw_code (*reader)(cw_codes *c, const char *code, int64_t *slot, cw_error *err);

static cw_code look_up(cw_codes *c, cw_map *map, reader read, const char *code, size_t n, int64_t *out,
                       cw_error *err)
{
    char text[CW_MAX_CODE + 1];
    *out = -1;
    if (n == 0 || n > CW_MAX_CODE)
        return CW_OK;
    const int64_t *known = cw_map_get(map, code, n);
    if (known && *known) {
        *out = *known - 1;
        return CW_OK;
    }
    memcpy(text, code, n);
    text[n] = '\0';
    int64_t index = 0;
    cw_code done = cw_behind_wait(c->behind, err);
    if (done == CW_OK)
        done = read(c, text, &index, err);
    if (done != CW_OK || index == 0) /* what is not there is not kept: a shop may ask for anything */
        return done;
    int64_t *slot = cw_map_put(map, code, n, NULL);
    if (slot == NULL)
        return cw_error_memory(err);
    *slot = index;
    *out = index - 1;
    return CW_OK;
}

cw_code cw_codes_variety(cw_codes *c, const char *code, size_t n, int64_t *out, cw_error *err)
{
    return look_up(c, &c->varieties, read_variety, code, n, out, err);
}

cw_code cw_codes_lot(cw_codes *c, const char *code, size_t n, int64_t *out, cw_error *err)
{
    return look_up(c, &c->lots, read_lot, code, n, out, err);
}

cw_code cw_codes_place(cw_codes *c, const char *code, size_t n, int64_t *out, cw_error *err)
{
    return look_up(c, &c->places, read_place, code, n, out, err);
}

cw_code cw_codes_forget(cw_codes *c, cw_kind_id kind, const char *code, bool bad, cw_error *err)
{
    cw_map *map = kind == CW_VARIETIES ? &c->varieties : kind == CW_LOTS ? &c->lots : &c->places;
    int64_t *slot = cw_map_put(map, code, strlen(code), NULL);
    if (slot == NULL)
        return cw_error_memory(err);
    *slot = 0;
    if (!bad)
        return CW_OK;
    void *items = kind == CW_VARIETIES ? (void *)c->variety
                  : kind == CW_LOTS    ? (void *)c->lot
                                       : (void *)c->place;
    cw_code done = CW_OK;
    if (kind == CW_VARIETIES) {
        done = room_for(&items, c->variety_count, &c->variety_room, sizeof *c->variety, err);
        c->variety = items;
        if (done == CW_OK)
            c->variety[c->variety_count] = (cw_variety_state){ 0 };
        *slot = done == CW_OK ? (int64_t)++c->variety_count : 0;
    } else if (kind == CW_LOTS) {
        done = room_for(&items, c->lot_count, &c->lot_room, sizeof *c->lot, err);
        c->lot = items;
        if (done == CW_OK)
            c->lot[c->lot_count] = (cw_lot_found){ 0 };
        *slot = done == CW_OK ? (int64_t)++c->lot_count : 0;
    } else {
        done = room_for(&items, c->place_count, &c->place_room, sizeof *c->place, err);
        c->place = items;
        if (done == CW_OK)
            c->place[c->place_count] = -1;
        *slot = done == CW_OK ? (int64_t)++c->place_count : 0;
    }
    return done;
}

void cw_codes_free(cw_codes *c)
{
    cw_map_free(&c->varieties);
    cw_map_free(&c->lots);
    cw_map_free(&c->places);
    free(c->variety);
    free(c->lot);
    free(c->place);
}
