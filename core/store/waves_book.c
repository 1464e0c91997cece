/* SPDX-License-Identifier: MIT */
#include "store/waves.h"

#include "base/grow.h"
#include "base/text.h"
#include "columns/waves.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void copy(char *out, size_t size, const char *text)
{
    cw_copy(out, size, text ? text : "");
}

static bool take_order(cw_stmt *q, cw_wave_book *b)
{
    cw_wave_order *o = cw_grow_item(&b->order, &b->orders, sizeof *o);
    if (o == NULL)
        return false;
    o->id = cw_col_int(q, waves_wanted_id);
    copy(o->number, sizeof o->number, cw_col_text(q, waves_wanted_number));
    copy(o->customer, sizeof o->customer, cw_col_text(q, waves_wanted_customer));
    copy(o->country, sizeof o->country, cw_col_text(q, waves_wanted_country));
    copy(o->region, sizeof o->region, cw_col_text(q, waves_wanted_region));
    copy(o->zone, sizeof o->zone, cw_col_text(q, waves_wanted_zone));
    o->week = (cw_week)cw_col_int(q, waves_wanted_ship_week);
    o->pinned = cw_col_int(q, waves_wanted_pinned) != 0;
    o->complete = cw_col_int(q, waves_wanted_ship_complete) != 0;
    o->missing = cw_col_int(q, waves_wanted_missing);
    o->blocked = cw_col_int(q, waves_wanted_blocked) != 0;
    o->unpaid = cw_col_int(q, waves_wanted_unpaid) != 0;
    return true;
}

static bool take_wanted(cw_stmt *q, cw_wave_book *b)
{
    if (b->orders == 0 || b->order[b->orders - 1].id != cw_col_int(q, waves_wanted_id))
        if (!take_order(q, b))
            return false;
    cw_wave_wanted *w = cw_grow_item(&b->wanted, &b->wanteds, sizeof *w);
    if (w == NULL)
        return false;
    w->order = b->orders - 1;
    w->line_id = cw_col_int(q, waves_wanted_line_id);
    w->line = (int)cw_col_int(q, waves_wanted_line);
    w->all_or_none = cw_col_int(q, waves_wanted_all_or_none) != 0;
    w->variety_id = cw_col_int(q, waves_wanted_variety_id);
    copy(w->variety, sizeof w->variety, cw_col_text(q, waves_wanted_code));
    w->quantity = cw_col_int(q, waves_wanted_waits);
    w->lot = cw_col_int(q, waves_wanted_lot);
    return true;
}

static bool take_stock(cw_stmt *q, cw_wave_book *b)
{
    cw_wave_stock *s = cw_grow_item(&b->stock, &b->stocks, sizeof *s);
    if (s == NULL)
        return false;
    s->lot_id = cw_col_int(q, waves_stock_lot_id);
    copy(s->lot, sizeof s->lot, cw_col_text(q, waves_stock_lot));
    s->variety_id = cw_col_int(q, waves_stock_variety_id);
    s->place_id = cw_col_int(q, waves_stock_place_id);
    copy(s->place, sizeof s->place, cw_col_text(q, waves_stock_place));
    s->walk_order = (int)cw_col_int(q, waves_stock_walk_order);
    s->quantity = cw_col_int(q, waves_stock_quantity);
    s->sound = (cw_day)cw_col_int(q, waves_stock_sound);
    s->missed = cw_col_int(q, waves_stock_missed) != 0;
    return true;
}

static cw_code finish(cw_stmt *q, cw_code code, bool room, cw_error *err)
{
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && !room)
        return cw_error_memory(err);
    return code == CW_OK ? end : code;
}

cw_code cw_wave_book_read(cw_db *db, cw_week week, int64_t order_id, cw_wave_book *out, cw_error *err)
{
    bool room = true;
    int64_t wanted_week = week;
    *out = (cw_wave_book){ 0 };
    cw_stmt *q = cw_db_stmt(db, "waves.wanted");
    cw_code code = cw_stmt_start(q, err, "II", week ? &wanted_week : NULL, order_id ? &order_id : NULL);
    while (code == CW_OK && room && cw_stmt_next(q))
        room = take_wanted(q, out);
    code = finish(q, code, room, err);
    if (code == CW_OK) {
        q = cw_db_stmt(db, "waves.stock");
        code = cw_stmt_start(q, err, "");
        while (code == CW_OK && room && cw_stmt_next(q))
            room = take_stock(q, out);
        code = finish(q, code, room, err);
    }
    if (code != CW_OK)
        cw_wave_book_free(out);
    return code;
}

void cw_wave_book_free(cw_wave_book *b)
{
    free(b->order);
    free(b->wanted);
    free(b->stock);
    *b = (cw_wave_book){ 0 };
}
