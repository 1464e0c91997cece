/* SPDX-License-Identifier: MIT */
#include "desk/orders/clearing_inside.h"

#include "base/text.h"
#include "store/clearing.h"
#include "store/orders.h"
#include "store/season.h"
#include "store/waves.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef long long ll;

static const cw_column clearing_lying_columns[] = {
    { "wave", CW_INT_T },
    { "week", CW_WEEK_T },
    { "slot", CW_INT_T },
    { "parcel", CW_INT_T },
    { "what", CW_TEXT_T, .words = cw_words_lying, .says = "On a list, in a parcel that is here, or gone." },
    { "stop", CW_INT_T },
    { "place", CW_TEXT_T, .null = true },
    { "taken_by", CW_TEXT_T, .null = true },
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "quantity", CW_INT_T },
    { "sentence", CW_TEXT_T },
};
const cw_shape cw_clearing_lying_shape = CW_ROWS(clearing_lying_columns);

#define SENTENCE 600

static void say(const cw_lying *l, char out[SENTENCE])
{
    char at[CW_MAX_CODE + 8];
    snprintf(at, sizeof at, "%s", l->place[0] ? l->place : "no place");
    if (strcmp(l->what, "open") == 0)
        snprintf(out, SENTENCE,
                 l->taken_by[0]
                     ? "Wave %lld, stop %lld (%s): %lld of %s come off the list; %.80s works there."
                     : "Wave %lld, stop %lld (%s): %lld of %s come off the list.",
                 (ll)l->wave, (ll)l->stop, at, (ll)l->quantity, l->variety, l->taken_by);
    else if (strcmp(l->what, "taken") == 0)
        snprintf(out, SENTENCE, "Wave %lld, slot %lld: %lld of %s go back to %s (lot %s)%s.", (ll)l->wave,
                 (ll)l->slot, (ll)l->quantity, l->variety, at, l->lot,
                 strcmp(l->parcel_state, "packed") == 0 ? "; its parcel is closed and is opened again" : "");
    else
        snprintf(out, SENTENCE, "Wave %lld, slot %lld: %lld of %s have left and stay.", (ll)l->wave,
                 (ll)l->slot, (ll)l->quantity, l->variety);
}

static void put(cw_table *out, const cw_lying *l)
{
    char sentence[SENTENCE];
    say(l, sentence);
    cw_put_int(out, l->wave);
    cw_put_int(out, l->week);
    cw_put_int(out, l->slot);
    cw_put_int(out, l->parcel);
    cw_put_text(out, l->what);
    cw_put_int(out, l->stop);
    cw_put_text(out, l->place[0] ? l->place : NULL);
    cw_put_text(out, l->taken_by[0] ? l->taken_by : NULL);
    cw_put_text(out, l->lot);
    cw_put_text(out, l->variety);
    cw_put_text(out, l->name);
    cw_put_int(out, l->quantity);
    cw_put_text(out, sentence);
}

cw_code cw_clearing_lying(cw_nursery *n, const cw_asker *who, const char *order, int line, cw_table *out,
                          cw_error *err)
{
    cw_order_head head = { .id = 0 };
    cw_order_line l = { .id = 0 };
    cw_lying *rows = NULL;
    size_t count = 0;
    cw_table_init(out, clearing_lying_columns, CW_WIDTH(clearing_lying_columns));
    cw_code code = cw_office_only(who, "see what a cancellation takes off", err);
    if (code == CW_OK)
        code = line ? cw_order_line_find(n->db, order, line, &head, &l, err)
                    : cw_order_read(n->db, order, &head, err);
    if (code == CW_OK)
        code = cw_lying_read(n->db, head.id, l.id, 0, &rows, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        put(out, &rows[i]);
    free(rows);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* The parcel may be open and empty now; its wave may have nothing left to answer. */
static cw_code after(cw_nursery *n, const cw_lying *l, cw_error *err)
{
    cw_code code = strcmp(l->parcel_state, "packed") == 0 ? cw_waves_unpack(n->db, l->parcel, err) : CW_OK;
    if (code == CW_OK)
        code = cw_lying_parcel(n->db, l->parcel, err);
    return code == CW_OK ? cw_waves_settle(n->db, l->wave, err) : code;
}

cw_code cw_clearing_clear(cw_nursery *n, const cw_asker *who, int64_t order, int64_t line, int64_t variety,
                          const char *because, int64_t *left, cw_error *err)
{
    cw_lying *rows = NULL;
    size_t count = 0, cleared = 0;
    *left = 0;
    cw_code code = cw_lying_read(n->db, order, line, variety, &rows, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        if (strcmp(rows[i].what, "left") == 0) {
            *left += rows[i].quantity;
            continue;
        }
        code = cw_lying_clear(n->db, &rows[i], order, because, who->now, who->actor, err);
        if (code == CW_OK)
            code = after(n, &rows[i], err);
        cleared++;
    }
    free(rows);
    return code == CW_OK && cleared ? cw_season_touch(n->db, true, true, err) : code;
}

cw_code cw_clearing_left(cw_nursery *n, int64_t order, int64_t line, int64_t *left, cw_error *err)
{
    cw_lying *rows = NULL;
    size_t count = 0;
    *left = 0;
    cw_code code = cw_lying_read(n->db, order, line, 0, &rows, &count, err);
    for (size_t i = 0; i < count; i++)
        if (strcmp(rows[i].what, "left") == 0)
            *left += rows[i].quantity;
    free(rows);
    return code;
}
