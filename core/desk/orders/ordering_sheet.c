/* SPDX-License-Identifier: MIT */
#include "desk/orders/ordering.h"

#include "base/limits.h"
#include "desk/share/allotting.h"
#include "desk/share/standing_inside.h"
#include "desk/share/substituting_inside.h"
#include "store/allocations.h"
#include "store/orders.h"
#include "store/shipping.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The order on the screen while the buyer is on the phone: what becomes of every line, in sentences. */

static const cw_shape substitutes_shape = { .list = true,
                                            .parts = (const cw_part[]){
                                                { "variety", CW_TEXT_T },
                                                { "name", CW_TEXT_T },
                                                { "quantity", CW_INT_T },
                                                { "sentence", CW_TEXT_T },
                                                { 0 },
                                            } };
static const cw_shape lines_shape = { .list = true,
                                      .parts = (const cw_part[]){
                                          { "line", CW_INT_T },
                                          { "variety", CW_TEXT_T, .null = true },
                                          { "name", CW_TEXT_T, .null = true },
                                          { "assortment", CW_TEXT_T, .null = true },
                                          { "quantity", CW_INT_T },
                                          { "unit_price", CW_MONEY_T },
                                          { "consent", CW_TEXT_T, .words = cw_words_consents },
                                          { "named", CW_TEXT_T, .null = true },
                                          { "all_or_none", CW_BOOL_T },
                                          { "firm", CW_INT_T },
                                          { "own", CW_INT_T },
                                          { "short", CW_INT_T },
                                          { "substitutes", .shape = &substitutes_shape },
                                          { "sentence", CW_TEXT_T },
                                          { 0 },
                                      } };
static const cw_shape head_shape = {
    .parts =
        (const cw_part[]){
            { "order", CW_TEXT_T },
            { "received_at", CW_INSTANT_T },
            { "channel", CW_TEXT_T, .null = true },
            { "tier", CW_TEXT_T },
            { "customer", CW_TEXT_T, .null = true },
            { "email", CW_TEXT_T, .null = true },
            { "name2", CW_TEXT_T, .null = true },
            { "phone", CW_TEXT_T, .null = true },
            { "street", CW_TEXT_T, .null = true },
            { "town", CW_TEXT_T, .null = true },
            { "postcode", CW_TEXT_T, .null = true },
            { "country", CW_TEXT_T, .null = true },
            { "region", CW_TEXT_T, .null = true },
            { "language", CW_TEXT_T, .null = true, .words = cw_words_languages },
            { "zone", CW_TEXT_T, .null = true },
            { "zone_by_range", CW_BOOL_T, .says = "Not said on the order: told by the table of postcodes." },
            { "wish_week", CW_WEEK_T, .null = true },
            { "week", CW_WEEK_T, .null = true },
            { "ship_complete", CW_BOOL_T },
            { "paid", CW_BOOL_T, .null = true, .says = "Null: nobody said." },
            { "kept_unpaid", CW_BOOL_T, .says = "Kept back until it is paid (setting hold_unpaid)." },
            { "state", CW_TEXT_T, .words = cw_words_order_states },
            { "version", CW_INT_T },
            { "replaces", CW_TEXT_T, .null = true },
            { "merged_into", CW_TEXT_T, .null = true, .says = "The order in which its lines stand now." },
            { "blocked", CW_TEXT_T, .null = true },
            { "blocked_overruled", CW_TEXT_T, .null = true },
            { "destination_warning", CW_TEXT_T, .null = true },
            { "frost", CW_TEXT_T, .null = true },
            { "frost_overruled", CW_TEXT_T, .null = true },
            { 0 },
        }
};
const cw_shape cw_ordering_sheet_shape = { .parts = (const cw_part[]){
                                               { "order", .shape = &head_shape },
                                               { "lines", .shape = &lines_shape },
                                               { "events", .shape = &cw_order_events_shape },
                                               { "parcels", .shape = &cw_order_parcels_shape },
                                               { "notices", .shape = &cw_order_notices_shape },
                                               { 0 },
                                           } };

typedef struct teller {
    cw_nursery *n;
    const cw_asker *who;
    const cw_order_head *head;
    const cw_order_line *line;
    cw_text sentence;
    json_t *substitutes;
    int64_t own, all, picked, pulling;
    bool own_row, failed;
    cw_promise_why why; /* of the own variety */
    cw_day day;
    char rule[64];
} teller;

static void note_substitute(teller *t, const cw_promise_row *row)
{
    char say[CW_SUB_SENTENCE];
    if (row->quantity == 0)
        return;
    json_t *o = json_pack("{s:s,s:s,s:I,s:s}", "variety", row->code, "name", row->name, "quantity",
                          (json_int_t)row->quantity, "sentence", cw_choice_say(&row->why, say));
    if (o == NULL || json_array_append_new(t->substitutes, o))
        t->failed = true;
}

static void note_promise(void *context, const cw_promise_row *row)
{
    teller *t = context;
    t->all += row->quantity;
    t->picked += row->picked;
    t->pulling += row->pulling;
    if (row->kind != CW_PROMISE_OWN) {
        note_substitute(t, row);
        return;
    }
    t->own_row = true;
    t->own = row->quantity;
    t->why = row->why;
    t->day = cw_asker_day(t->who, row->at);
    cw_copy(t->rule, sizeof t->rule, row->rule);
}

static void add_taken_back(void *context, const cw_taken_back_row *row)
{
    teller *t = context;
    char day[11];
    cw_day_format(cw_asker_day(t->who, row->at), day);
    cw_text_addf(&t->sentence, " On %s %lld %s %s taken back: %s.", day, (long long)row->quantity, row->code,
                 row->quantity == 1 ? "was" : "were", row->why);
}

static cw_code say_own(teller *t, cw_error *err)
{
    cw_share_outcome o;
    int64_t cause_id = 0;
    char cause[CW_MAX_NAME + 1], say[CW_SHARE_SENTENCE], day[11];
    cw_why_unpack(&t->why, &o, &cause_id);
    cw_code code = CW_OK;
    cause[0] = '\0';
    if (cause_id)
        code = cw_order_variety_name(t->n->db, cause_id, cause, sizeof cause, err);
    cw_day_format(t->day, day);
    cw_text_addf(&t->sentence, "On %s by %s: %s", day, t->rule,
                 cw_share_say(&o, cause[0] ? cause : NULL, say));
    if (t->line->quantity != o.need + o.firm)
        cw_text_addf(&t->sentence, " The line was changed since then: it asks %lld now.",
                     (long long)t->line->quantity);
    return code;
}

static void say_rest(teller *t)
{
    const cw_order_line *l = t->line;
    size_t kinds = json_array_size(t->substitutes);
    if (kinds > 0)
        cw_text_addf(&t->sentence, " %lld of other varieties %s.", (long long)(t->all - t->own),
                     l->variety_id ? "come in its place" : "fill the assortment");
    if (t->picked > 0)
        cw_text_addf(&t->sentence, " %lld %s pulled.", (long long)t->picked, t->picked == 1 ? "is" : "are");
    if (t->pulling > 0)
        cw_text_addf(&t->sentence, " %lld %s on an open pick list.", (long long)t->pulling,
                     t->pulling == 1 ? "is" : "are");
}

/* Nothing is decided for this line yet: it came after its variety was shared out, or the sharing is still to come. */
static cw_code say_wait(teller *t, cw_error *err)
{
    bool shared = false;
    int place = 0, of = 0;
    cw_code code = cw_allotting_place(t->n, t->who, t->line->code, t->head->number, t->line->line, &shared,
                                      &place, &of, err);
    if (code == CW_OK && !shared)
        cw_text_add(&t->sentence, "It has not been shared out yet.");
    else if (code == CW_OK && place == 0)
        cw_text_addf(&t->sentence, "It waits for the next sharing of %s.", t->line->code);
    else if (code == CW_OK)
        cw_text_addf(&t->sentence, "It waits for the next sharing of %s: number %d of %d.", t->line->code,
                     place, of);
    return code;
}

static cw_code tell(teller *t, cw_error *err)
{
    cw_code code = cw_promises_each(t->n->db, t->line->id, note_promise, t, err);
    if (code != CW_OK)
        return code;
    if (t->line->quantity == 0)
        cw_text_add(&t->sentence, "This line was cancelled; nothing is asked on it any more.");
    else if (t->own_row)
        code = say_own(t, err);
    else if (!t->line->variety_id && t->all == 0)
        cw_text_add(&t->sentence,
                    "The assortment has not been filled yet; it is filled last, from what is left.");
    else if (t->all == 0)
        code = say_wait(t, err);
    say_rest(t);
    if (code == CW_OK)
        code = cw_taken_back_each(t->n->db, t->line->id, add_taken_back, t, err);
    if (code == CW_OK)
        code = cw_text_check(&t->sentence, err);
    return code == CW_OK && t->failed ? cw_error_memory(err) : code;
}

static cw_code put_line(cw_nursery *n, const cw_asker *who, const cw_order_head *head, const cw_order_line *l,
                        json_t *lines, cw_error *err)
{
    char price[24];
    teller t = { .n = n,
                 .who = who,
                 .head = head,
                 .line = l,
                 .sentence = CW_TEXT(64 * 1024),
                 .substitutes = json_array() };
    cw_code code = t.substitutes ? tell(&t, err) : cw_error_memory(err);
    cw_cents_format(l->unit_price, price);
    if (code == CW_OK) {
        const char *sentence = t.sentence.data ? t.sentence.data : "";
        json_t *row = json_pack(
            "{s:i,s:s?,s:s?,s:s?,s:I,s:s,s:s,s:s?,s:b,s:I,s:I,s:I,s:O,s:s}", "line", l->line, "variety",
            l->variety_id ? l->code : NULL, "name", l->variety_id ? l->name : NULL, "assortment",
            l->assortment[0] ? l->assortment : NULL, "quantity", (json_int_t)l->quantity, "unit_price", price,
            "consent", l->consent, "named", l->named[0] ? l->named : NULL, "all_or_none", l->all_or_none,
            "firm", (json_int_t)t.all, "own", (json_int_t)t.own, "short", (json_int_t)(l->quantity - t.all),
            "substitutes", t.substitutes, "sentence", sentence[0] == ' ' ? sentence + 1 : sentence);
        if (row == NULL || json_array_append_new(lines, row))
            code = cw_error_memory(err);
    }
    json_decref(t.substitutes);
    cw_text_free(&t.sentence);
    return code;
}

static const char *or_null(const char *text)
{
    return text[0] ? text : NULL;
}

/* What keeps the order back, in words, and what of it was overruled: the office sees it before April. */
static cw_code set_gates(cw_nursery *n, const cw_order_head *h, json_t *head, cw_error *err)
{
    cw_ship_gates g;
    cw_code code = cw_ship_gates_read(n->db, h->id, &g, err);
    if (code != CW_OK)
        return code;
    json_t *more = json_pack("{s:s?,s:s?,s:s?,s:s?,s:s?}", "blocked", or_null(g.blocked), "blocked_overruled",
                             or_null(g.blocked_overruled), "destination_warning", or_null(g.warning), "frost",
                             or_null(g.frost), "frost_overruled", or_null(g.frost_overruled));
    if (more == NULL || json_object_update(head, more))
        code = cw_error_memory(err);
    json_decref(more);
    return code;
}

static json_t *head_json(const cw_order_head *h)
{
    char at[25], wish[9] = "", week[9] = "";
    cw_instant_format(h->received_at, at);
    if (h->wish_week)
        cw_week_format(h->wish_week, wish);
    if (h->ship_week)
        cw_week_format(h->ship_week, week);
    return json_pack("{s:s,s:s,s:s?,s:s,s:s?,s:s?,s:s?,s:s?,s:s?,s:s?,s:s?,s:s?,s:s?,s:s?,s:s?,s:b,s:s?,s:s?,"
                     "s:b,s:o,s:b,s:s,s:I,s:s?,s:s?}",
                     "order", h->number, "received_at", at, "channel", or_null(h->channel), "tier", h->tier,
                     "customer", or_null(h->customer), "email", or_null(h->email), "name2", or_null(h->name2),
                     "phone", or_null(h->phone), "street", or_null(h->street), "town", or_null(h->town),
                     "postcode", or_null(h->postcode), "country", or_null(h->country), "region",
                     or_null(h->region), "language", or_null(h->language), "zone", or_null(h->zone),
                     "zone_by_range", h->zone_by_range, "wish_week", or_null(wish), "week", or_null(week),
                     "ship_complete", h->ship_complete, "paid",
                     h->paid < 0 ? json_null() : json_boolean(h->paid), "kept_unpaid", h->kept_unpaid,
                     "state", h->state, "version", (json_int_t)h->version, "replaces", or_null(h->replaces),
                     "merged_into", or_null(h->merged_into));
}

/* Sets a table as a member; the table is freed. */
static cw_code set_table_take(json_t *o, const char *name, cw_code code, cw_table *t, cw_error *err)
{
    if (code == CW_OK && json_object_set_new(o, name, cw_table_to_json(t)))
        code = cw_error_memory(err);
    cw_table_free(t);
    return code;
}

static cw_code fill_sheet(cw_nursery *n, const cw_asker *who, const cw_order_head *head, json_t *sheet,
                          cw_error *err)
{
    cw_order_line *lines = NULL;
    size_t count = 0;
    cw_table t = { 0 };
    json_t *rows = json_array();
    cw_code code = rows ? cw_order_lines(n->db, head->id, &lines, &count, err) : cw_error_memory(err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = put_line(n, who, head, &lines[i], rows, err);
    free(lines);
    json_t *own = code == CW_OK ? head_json(head) : NULL;
    if (code == CW_OK)
        code = own ? set_gates(n, head, own, err) : cw_error_memory(err);
    if (code == CW_OK && (json_object_set(sheet, "order", own) || json_object_set(sheet, "lines", rows)))
        code = cw_error_memory(err);
    json_decref(own);
    json_decref(rows);
    if (code == CW_OK)
        code = set_table_take(sheet, "events", cw_order_events(n->db, head->id, &t, err), &t, err);
    if (code == CW_OK)
        code = set_table_take(sheet, "parcels", cw_order_parcels(n->db, head->id, &t, err), &t, err);
    if (code == CW_OK)
        code = set_table_take(sheet, "notices", cw_order_notices(n->db, head->id, &t, err), &t, err);
    return code;
}

cw_code cw_ordering_sheet(cw_nursery *n, const cw_asker *who, const char *order, json_t **out, cw_error *err)
{
    cw_order_head head;
    bool own = !cw_db_in_transaction(n->db);
    json_t *sheet = json_object();
    *out = NULL;
    cw_code code = sheet ? CW_OK : cw_error_memory(err);
    if (code == CW_OK && own)
        code = cw_db_begin_read(n->db, err); /* one moment for all parts */
    if (code == CW_OK)
        code = cw_order_read(n->db, order, &head, err);
    if (code == CW_OK)
        code = fill_sheet(n, who, &head, sheet, err);
    if (own)
        cw_db_rollback(n->db);
    if (code == CW_OK)
        *out = json_incref(sheet);
    json_decref(sheet);
    return code;
}

cw_code cw_ordering_lines(cw_nursery *n, const cw_asker *who, const char *order, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = { { "line", CW_INT_T, 0 },     { "variety", CW_TEXT_T, 0 },
                                         { "quantity", CW_INT_T, 0 }, { "unit_price", CW_TEXT_T, 0 },
                                         { "firm", CW_INT_T, 0 },     { "short", CW_INT_T, 0 },
                                         { "sentence", CW_TEXT_T, 0 } };
    json_t *sheet = NULL, *line;
    size_t i;
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    cw_code code = cw_ordering_sheet(n, who, order, &sheet, err);
    json_array_foreach(json_object_get(sheet, "lines"), i, line)
    {
        const char *variety = json_string_value(json_object_get(line, "variety"));
        cw_put_int(out, json_integer_value(json_object_get(line, "line")));
        cw_put_text(out, variety ? variety : json_string_value(json_object_get(line, "assortment")));
        cw_put_int(out, json_integer_value(json_object_get(line, "quantity")));
        cw_put_text(out, json_string_value(json_object_get(line, "unit_price")));
        cw_put_int(out, json_integer_value(json_object_get(line, "firm")));
        cw_put_int(out, json_integer_value(json_object_get(line, "short")));
        cw_put_text(out, json_string_value(json_object_get(line, "sentence")));
    }
    json_decref(sheet);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
