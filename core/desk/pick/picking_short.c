/* SPDX-License-Identifier: MIT */
/* What packers found short, and the choices that are left: another lot, a substitute, the money back. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/grow.h"
#include "base/money.h"
#include "base/text.h"
#include "desk/pick/picking_inside.h"
#include "store/audit.h"
#include "store/season.h"

#include "base/banned.h"

typedef long long ll;

/* The free stock of a variety that serves best: where nothing was missing, then enough in one place, then the most at risk. */
static const cw_wave_stock *best(const cw_wave_book *b, int64_t variety, int64_t wanted)
{
    const cw_wave_stock *at = NULL;
    for (size_t i = 0; i < b->stocks; i++) {
        const cw_wave_stock *s = &b->stock[i];
        if (s->variety_id != variety)
            continue;
        bool enough = s->quantity >= wanted, had = at && at->quantity >= wanted;
        if (at == NULL || s->missed < at->missed ||
            (s->missed == at->missed && (enough > had || (enough == had && s->sound < at->sound))))
            at = s;
    }
    return at;
}

static void say(const cw_short_row *r, const cw_wave_stock *other, const char *refund, char out[400])
{
    char lot[160] = "no other lot has any";
    if (other)
        snprintf(lot, sizeof lot,
                 strcmp(r->parcel_state, "open") == 0
                     ? "lot %s has %lld free at %s"
                     : "lot %s has %lld free at %s (its parcel is closed: the next wave takes them)",
                 other->lot, (ll)other->quantity, other->place[0] ? other->place : "no place");
    snprintf(out, 400, "%lld of %s %s in lot %s: %s; %s; or give back %s", (ll)r->missing, r->variety,
             r->reason, r->lot, lot,
             strcmp(r->consent, "none") == 0 ? "the buyer takes no substitute" : "a substitute is allowed",
             refund);
}

typedef struct shorts {
    cw_table *out;
    const cw_wave_book *book;
} shorts;

static void put_short(void *context, const cw_short_row *r)
{
    shorts *s = context;
    char sentence[400], refund[24];
    const cw_wave_stock *other = best(s->book, r->variety_id, r->missing);
    cw_cents money = r->missing * r->unit_price;
    cw_cents_format(money, refund);
    say(r, other, refund, sentence);
    cw_put_int(s->out, r->wave);
    cw_put_text(s->out, r->order);
    cw_put_int(s->out, r->line);
    cw_put_text(s->out, r->customer);
    cw_put_text(s->out, r->variety);
    cw_put_text(s->out, r->name);
    cw_put_int(s->out, r->missing);
    cw_put_text(s->out, r->reason);
    cw_put_text(s->out, r->lot);
    cw_put_text(s->out, r->place);
    cw_put_text(s->out, r->found_by);
    cw_put_int(s->out, r->found_at);
    cw_put_int(s->out, r->parcel);
    cw_put_text(s->out, r->parcel_state);
    cw_put_text(s->out, other ? other->lot : NULL);
    cw_put_text(s->out, other && other->place[0] ? other->place : NULL);
    if (other)
        cw_put_int(s->out, other->quantity);
    else
        cw_put_null(s->out);
    cw_put_text(s->out, r->consent);
    cw_put_money(s->out, money);
    cw_put_text(s->out, sentence);
}

static const cw_column picking_shorts_columns[] = {
    { "wave", CW_INT_T },
    { "order", CW_TEXT_T },
    { "line", CW_INT_T },
    { "customer", CW_TEXT_T, .null = true },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "short", CW_INT_T },
    { "reason", CW_TEXT_T },
    { "lot", CW_TEXT_T },
    { "place", CW_TEXT_T, .null = true },
    { "found_by", CW_TEXT_T },
    { "found_at", CW_INSTANT_T },
    { "parcel", CW_INT_T },
    { "parcel_state", CW_TEXT_T, .words = cw_words_parcel_states },
    { "other_lot", CW_TEXT_T, .null = true },
    { "other_place", CW_TEXT_T, .null = true },
    { "other_free", CW_INT_T, .null = true },
    { "consent", CW_TEXT_T, .words = cw_words_consents },
    { "refund", CW_MONEY_T },
    { "sentence", CW_TEXT_T },
};
const cw_shape cw_picking_shorts_shape = CW_ROWS(picking_shorts_columns);

cw_code cw_picking_shorts(cw_nursery *n, const cw_asker *who, int64_t wave, cw_table *out, cw_error *err)
{
    cw_wave_book book;
    cw_table_init(out, picking_shorts_columns, CW_WIDTH(picking_shorts_columns));
    cw_code code = cw_wave_book_read(n->db, 0, -1, &book, err); /* no order: the stock alone */
    if (code == CW_OK) {
        shorts s = { out, &book };
        code = cw_waves_shorts(n->db, wave, put_short, &s, err);
        cw_wave_book_free(&book);
    }
    cw_people_hide(who, out);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* Places that the wave visits anyway. */
typedef struct visited {
    char (*place)[CW_MAX_CODE + 1];
    size_t count, room;
    bool failed;
} visited;

static void note_visit(void *context, const cw_stop_listed *row)
{
    visited *v = context;
    v->failed = v->failed || !cw_grow(&v->place, v->count, &v->room, sizeof *v->place);
    if (!v->failed)
        cw_copy(v->place[v->count++], sizeof v->place[0], row->place);
}

static bool visits(const visited *v, const char *place)
{
    for (size_t i = 0; i < v->count; i++)
        if (strcmp(v->place[i], place) == 0)
            return true;
    return false;
}

/* The next stock to take from: where nothing was missing, a place on the walk before others, then the most at risk; NULL if
 * nothing is free. */
static cw_wave_stock *next_stock(const cw_wave_book *b, const visited *v, int64_t variety,
                                 const cw_picking_from *from)
{
    cw_wave_stock *at = NULL;
    bool at_visited = false;
    for (size_t i = 0; i < b->stocks; i++) {
        cw_wave_stock *s = &b->stock[i];
        if (s->variety_id != variety || s->quantity == 0 || (from->lot && strcmp(from->lot, s->lot) != 0) ||
            (from->place && strcmp(from->place, s->place) != 0))
            continue;
        bool visit = visits(v, s->place);
        if (at == NULL || s->missed < at->missed ||
            (s->missed == at->missed &&
             (visit > at_visited || (visit == at_visited && s->sound < at->sound)))) {
            at = s;
            at_visited = visit;
        }
    }
    return at;
}

static cw_code fill_line(cw_nursery *n, const cw_wave_book *b, const visited *v, const cw_wave_wanted *w,
                         int64_t wave, int64_t parcel, const cw_picking_from *from, int64_t *added,
                         cw_error *err)
{
    int64_t left = w->quantity;
    cw_code code = CW_OK;
    while (left > 0 && code == CW_OK) {
        cw_wave_stock *s = next_stock(b, v, w->variety_id, from);
        cw_pick_new row = { .wave = wave, .parcel = parcel, .line = w->line_id, .variety = w->variety_id };
        if (s == NULL)
            break;
        row.lot = s->lot_id;
        row.quantity = left < s->quantity ? left : s->quantity;
        code = cw_waves_stop_at(n->db, wave, s->place_id, &row.stop, err);
        if (code == CW_OK)
            code = cw_waves_add_pick(n->db, &row, err);
        s->quantity -= row.quantity;
        left -= row.quantity;
        *added += row.quantity;
    }
    return code;
}

cw_code cw_picking_fill_in(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_picking_from *from,
                           int64_t *added, cw_error *err)
{
    cw_parcel_row row;
    cw_wave_book book = { 0 };
    visited v = { 0 };
    char subject[40], after[120], why[301];
    bool frost = false;
    cw_week now = cw_week_of(who->today);
    cw_code code = cw_waves_parcel(n->db, parcel, &row, err);
    if (code == CW_OK && strcmp(row.state, "open") != 0)
        code =
            cw_error_set(err, CW_CONFLICT, "parcel %lld of order %s is %s", (ll)parcel, row.order, row.state);
    if (code == CW_OK)
        code = cw_ship_frost(n->db, row.order_id, row.week > now ? row.week : now, 0, &frost, why, err);
    if (code == CW_OK && frost)
        code = cw_error_set(err, CW_CONFLICT, "order %s is under a %s", row.order, why);
    if (code == CW_OK)
        code = cw_wave_book_read(n->db, 0, row.order_id, &book, err);
    if (code == CW_OK)
        code = cw_waves_stops(n->db, row.wave, note_visit, &v, err);
    if (code == CW_OK && v.failed)
        code = cw_error_memory(err);
    for (size_t i = 0; i < book.wanteds && code == CW_OK; i++)
        code = fill_line(n, &book, &v, &book.wanted[i], row.wave, parcel, from, added, err);
    if (code == CW_OK && *added == 0)
        code = cw_error_set(err, CW_CONFLICT,
                            book.wanteds ? "nothing that order %s still waits for is free%s%s%s%s"
                                         : "order %s waits for nothing that is promised%s%s%s%s",
                            row.order, from->lot ? " in lot " : "", from->lot ? from->lot : "",
                            from->place ? " at " : "", from->place ? from->place : "");
    if (code == CW_OK)
        code = cw_waves_settle(n->db, row.wave, err);
    snprintf(subject, sizeof subject, "parcel %lld", (ll)parcel);
    snprintf(after, sizeof after, "%lld division%s more for order %s", (ll)*added, CW_S(*added), row.order);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "add picks", subject, NULL, after, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    cw_wave_book_free(&book);
    free(v.place);
    return code;
}

cw_code cw_picking_fill(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_picking_from *from,
                        int64_t *added, cw_error *err)
{
    *added = 0;
    if (cw_packers_only(who, "add picks", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, cw_picking_fill_in(n, who, parcel, from, added, err), err) : code;
}
