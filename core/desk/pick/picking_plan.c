/* SPDX-License-Identifier: MIT */
/* Which of the week's orders are pulled now: blocked destinations, frost holds and orders that could not leave whole stay
 * out, with the reason. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "desk/pick/picking_inside.h"

#include "base/banned.h"

static const cw_column note_columns[] = {
    { "what", CW_TEXT_T },
    { "order", CW_TEXT_T },
    { "line", CW_INT_T, .null = true },
    { "variety", CW_TEXT_T, .null = true },
    { "quantity", CW_INT_T, .null = true },
    { "sentence", CW_TEXT_T },
};

const cw_shape cw_picking_notes_shape = CW_ROWS(note_columns);

void cw_wave_plan_free(cw_wave_plan *p)
{
    cw_wave_book_free(&p->book);
    if (p->scheduled)
        cw_shipping_plan_free(&p->schedule);
    free(p->out);
    free(p->skip);
    free(p->waits);
    free(p->slot);
    free(p->pick_slot);
    free(p->line);
    free(p->place);
    free(p->stock);
    cw_walk_free(p->walk);
    cw_table_free(&p->notes);
    memset(p, 0, sizeof *p);
}

static void note(cw_wave_plan *p, const char *what, size_t order, const char *sentence)
{
    cw_put_text(&p->notes, what);
    cw_put_text(&p->notes, p->book.order[order].number);
    cw_put_null(&p->notes);
    cw_put_null(&p->notes);
    cw_put_null(&p->notes);
    cw_put_text(&p->notes, sentence);
}

static void leave_out(cw_wave_plan *p, size_t order, const char *sentence)
{
    p->out[order] = true;
    note(p, "left out", order, sentence);
}

static cw_code room(cw_wave_plan *p, cw_error *err)
{
    size_t orders = p->book.orders + 1, wanteds = p->book.wanteds + 1, stocks = p->book.stocks + 1;
    p->out = calloc(orders, sizeof *p->out);
    p->slot = calloc(orders, sizeof *p->slot);
    p->skip = calloc(wanteds, sizeof *p->skip);
    p->waits = calloc(wanteds, sizeof *p->waits);
    p->line = calloc(wanteds, sizeof *p->line);
    p->place = calloc(stocks, sizeof *p->place);
    p->stock = calloc(2 * stocks, sizeof *p->stock);
    return p->out && p->slot && p->skip && p->waits && p->line && p->place && p->stock ? CW_OK
                                                                                       : cw_error_memory(err);
}

static bool all_have_weeks(const cw_wave_book *b)
{
    for (size_t i = 0; i < b->orders; i++)
        if (b->order[i].week == 0 && !b->order[i].blocked)
            return false;
    return true;
}

/* What waits for the week. When some orders have no week yet, all weeks are read: the schedule that gives them one may
 * move others that are free. */
static cw_code read_book(cw_nursery *n, cw_week week, cw_wave_plan *p, cw_error *err)
{
    cw_code code = cw_wave_book_read(n->db, week, 0, &p->book, err);
    if (code != CW_OK || all_have_weeks(&p->book))
        return code;
    cw_wave_book_free(&p->book);
    return cw_wave_book_read(n->db, 0, 0, &p->book, err);
}

/* The weeks that the schedule would give; they are written with the wave. */
static cw_code give_weeks(cw_nursery *n, const cw_asker *who, cw_wave_plan *p, cw_error *err)
{
    if (all_have_weeks(&p->book))
        return CW_OK;
    p->scheduled = true;
    cw_code code = cw_shipping_plan_make(n, who, &p->schedule, err);
    const cw_ship_book *b = &p->schedule.book;
    for (size_t i = 0; code == CW_OK && i < p->book.orders; i++) {
        size_t low = 0, high = b->orders;
        while (low < high) {
            size_t mid = low + (high - low) / 2;
            if (b->order[mid].id < p->book.order[i].id)
                low = mid + 1;
            else
                high = mid;
        }
        if (low < b->orders && b->order[low].id == p->book.order[i].id &&
            p->schedule.order[low].fix == CW_SCHEDULE_FREE)
            p->book.order[i].week = p->schedule.ship[low].week;
    }
    return code;
}

static cw_code chosen_only(cw_wave_plan *p, const cw_picking_ask *ask, cw_error *err)
{
    char shown[80], week[9];
    cw_week_format(ask->week, week);
    if (ask->orders == NULL)
        return CW_OK;
    for (size_t i = 0; i < p->book.orders; i++) {
        bool in = false;
        for (size_t k = 0; k < ask->count; k++)
            in = in || strcmp(ask->orders[k], p->book.order[i].number) == 0;
        p->out[i] = p->out[i] || !in;
    }
    for (size_t k = 0; k < ask->count; k++) {
        bool there = false;
        for (size_t i = 0; i < p->book.orders; i++)
            there = there || (!p->out[i] && strcmp(ask->orders[k], p->book.order[i].number) == 0);
        if (!there)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "orders",
                               "nothing promised waits for order %s in week %s",
                               cw_shown(ask->orders[k], strlen(ask->orders[k]), shown), week);
    }
    return CW_OK;
}

static cw_code gates(cw_nursery *n, const cw_asker *who, cw_wave_plan *p, cw_week week, cw_error *err)
{
    cw_code code = CW_OK;
    cw_week now = cw_week_of(who->today); /* a wave of a past week leaves now */
    for (size_t i = 0; code == CW_OK && i < p->book.orders; i++) {
        const cw_wave_order *o = &p->book.order[i];
        cw_ship_place to = { 0 };
        char sentence[640];
        char why[301];
        bool held = false;
        if (p->out[i])
            continue;
        code = cw_ship_order_destination(n->db, o->id, &to, err);
        if (code == CW_OK)
            code = cw_ship_frost(n->db, o->id, now > week ? now : week, 0, &held, why, err);
        if (code != CW_OK)
            break;
        if (strcmp(to.rule, "block") == 0) {
            snprintf(sentence, sizeof sentence, "nothing may be sent to %s%s%s: %s; " CW_AUTHORITY,
                     o->country, o->region[0] ? " " : "", o->region,
                     to.note[0] ? to.note : "the destination table blocks it");
            leave_out(p, i, sentence);
        } else if (held) {
            snprintf(sentence, sizeof sentence, "under a %s", why);
            leave_out(p, i, sentence);
        } else if (o->unpaid) {
            leave_out(p, i, "is not paid, and nothing leaves unpaid");
        } else if (o->complete && o->missing > 0) {
            snprintf(sentence, sizeof sentence,
                     "leaves whole or not at all, and %lld division%s not promised yet",
                     (long long)o->missing, o->missing == 1 ? " is" : "s are");
            leave_out(p, i, sentence);
        } else if (strcmp(to.rule, "warn") == 0) {
            snprintf(sentence, sizeof sentence, "goes to %s%s%s: %s; " CW_AUTHORITY, o->country,
                     o->region[0] ? " " : "", o->region,
                     to.note[0] ? to.note : "the destination table warns");
            note(p, "warned", i, sentence);
        }
    }
    return code;
}

/* Shorts of the last walk into `waits`; true if something had to leave so that the walk must be planned anew. */
static bool leave_whole(cw_wave_plan *p)
{
    bool again = false;
    for (size_t i = 0; i < p->book.wanteds; i++)
        if (!p->skip[i])
            p->waits[i] = 0;
    for (size_t k = 0; k < p->walk->short_count; k++) {
        size_t i = p->line[p->walk->shorts[k].line];
        const cw_wave_wanted *w = &p->book.wanted[i];
        p->waits[i] = p->walk->shorts[k].quantity;
        if (p->book.order[w->order].complete && !p->out[w->order]) {
            char sentence[200];
            snprintf(sentence, sizeof sentence, "leaves whole or not at all, and %lld of %s are not there",
                     (long long)p->waits[i], w->variety);
            leave_out(p, w->order, sentence);
            again = true;
        } else if (w->all_or_none && !p->skip[i]) {
            for (size_t j = 0; j < p->book.wanteds; j++) {
                if (p->book.wanted[j].line_id != w->line_id)
                    continue;
                p->skip[j] = true;
                p->waits[j] = p->book.wanted[j].quantity;
            }
            again = true;
        }
    }
    return again;
}

static void note_waits(cw_wave_plan *p)
{
    for (size_t i = 0; i < p->book.wanteds; i++) {
        const cw_wave_wanted *w = &p->book.wanted[i];
        char sentence[200];
        if (p->out[w->order] || p->waits[i] == 0)
            continue;
        snprintf(sentence, sizeof sentence, "promised and not there yet: %lld of %s%s",
                 (long long)p->waits[i], w->variety, p->skip[i] ? "; the line takes all or nothing" : "");
        cw_put_text(&p->notes, "waits");
        cw_put_text(&p->notes, p->book.order[w->order].number);
        cw_put_int(&p->notes, w->line);
        cw_put_text(&p->notes, w->variety);
        cw_put_int(&p->notes, p->waits[i]);
        cw_put_text(&p->notes, sentence);
    }
}

/* In how many slots does what is pulled for each order lie? A slot holds so many divisions (0: any), and what is pulled at once is not
 * parted. Until the slots have numbers, pick_slot says in which one of its order's, from 0. */
static cw_code count_slots(cw_wave_plan *p, int64_t holds, cw_error *err)
{
    int64_t *filled = calloc(p->book.orders + 1, sizeof *filled);
    p->pick_slot = calloc(p->walk->pick_count + 1, sizeof *p->pick_slot);
    for (size_t k = 0; filled && p->pick_slot && k < p->walk->pick_count; k++) {
        const cw_pick *pick = &p->walk->picks[k];
        size_t order = p->book.wanted[p->line[pick->line]].order;
        bool full = holds > 0 && filled[order] > 0 && filled[order] + pick->quantity > holds;
        if (p->slot[order] == 0 || full) {
            p->slot[order]++;
            filled[order] = 0;
        }
        filled[order] += pick->quantity;
        p->pick_slot[k] = p->slot[order] - 1;
    }
    cw_code code = filled && p->pick_slot ? CW_OK : cw_error_memory(err);
    free(filled);
    return code;
}

/* Orders of which something is pulled get slots 1, 2, ... in order of service; a big one as many as it fills, side by side. */
static cw_code give_slots(cw_nursery *n, cw_wave_plan *p, cw_error *err)
{
    int64_t next = 1;
    double holds = 0;
    cw_code code = cw_nursery_number(n, "divisions_per_slot", &holds, err);
    if (code == CW_OK)
        code = count_slots(p, (int64_t)holds, err);
    for (size_t i = 0; i < p->book.orders && code == CW_OK; i++) {
        int64_t slots = p->slot[i];
        p->slot[i] = slots ? next : 0;
        next += slots;
    }
    for (size_t k = 0; k < p->walk->pick_count && code == CW_OK; k++)
        if (p->pick_slot[k])
            p->pick_slot[k] += p->slot[p->book.wanted[p->line[p->walk->picks[k].line]].order];
    return code;
}

static cw_code nothing(const cw_wave_plan *p, cw_week week, cw_error *err)
{
    char name[9];
    cw_week_format(week, name);
    if (cw_table_rows(&p->notes) > 0)
        return cw_error_set(err, CW_REFUSED, "nothing can be pulled for week %s: order %s: %s%s", name,
                            cw_table_text(&p->notes, 0, 1), cw_table_text(&p->notes, 0, 5),
                            cw_table_rows(&p->notes) > 1 ? " (and others)" : "");
    return cw_error_set(err, CW_REFUSED,
                        "nothing promised waits for week %s: allocate first (allocate --commit), or look at "
                        "another week (schedule)",
                        name);
}

cw_code cw_wave_plan_make(cw_nursery *n, const cw_asker *who, const cw_picking_ask *ask, cw_wave_plan *p,
                          cw_error *err)
{
    memset(p, 0, sizeof *p);
    cw_table_init(&p->notes, note_columns, sizeof note_columns / sizeof note_columns[0]);
    cw_code code = read_book(n, ask->week, p, err);
    if (code == CW_OK)
        code = room(p, err);
    if (code == CW_OK)
        code = give_weeks(n, who, p, err);
    size_t in = 0;
    for (size_t i = 0; code == CW_OK && i < p->book.orders; i++) {
        const cw_wave_order *o = &p->book.order[i];
        p->out[i] = o->week != ask->week;
        in += !p->out[i];
    }
    for (size_t i = 0; in > 0 && i < p->book.orders;
         i++) /* blocked and without a week: told of, and left out */
        p->out[i] = p->out[i] && !(p->book.order[i].blocked && p->book.order[i].week == 0);
    if (code == CW_OK && in > 0)
        code = chosen_only(p, ask, err);
    if (code == CW_OK)
        code = gates(n, who, p, ask->week, err);
    do {
        if (code == CW_OK)
            code = cw_wave_plan_walk(p, who->today, err);
    } while (code == CW_OK && leave_whole(p));
    if (code != CW_OK)
        return code;
    note_waits(p);
    code = give_slots(n, p, err);
    if (code != CW_OK)
        return code;
    if (p->walk->pick_count == 0)
        return nothing(p, ask->week, err);
    return cw_table_check(&p->notes, err);
}
