/* SPDX-License-Identifier: MIT */
#include "desk/orders/notices_inside.h"

#include "base/grow.h"
#include "base/json.h"
#include "base/text.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* From what stands in the file to what buyers must be told. The particulars are kept as data (days as ISO 8601 has them, a word for
 * each set phrase): notices_words.c says them in the buyer's language when the letter is written. */

cw_code cw_times_read(cw_nursery *n, cw_times *out, cw_error *err)
{
    char name[32], days[CW_MAX_NAME + 1];
    double ship = 0, refund = 0;
    size_t m = 0;
    *out = (cw_times){ .promised_by = CW_NO_DAY };
    cw_code code = cw_nursery_setting(n, "timetable", name, sizeof name, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "ship_days", &ship, err);
    if (code == CW_OK)
        code = cw_nursery_number(n, "refund_days", &refund, err);
    if (code == CW_OK && !cw_timetable_named(name, (int)ship, (int)refund, &out->table))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "timetable", "there is no timetable of this name: %s",
                           name);
    out->table.holidays = out->holidays;
    if (code == CW_OK)
        code = cw_nursery_setting(n, "holidays", days, sizeof days, err);
    for (const char *d = days; code == CW_OK && *d && out->table.holiday_count < CW_MAX_HOLIDAYS;
         d += m + (d[m] == ' ')) {
        m = strcspn(d, " ");
        if (cw_day_parse(d, m, &out->holidays[out->table.holiday_count]))
            out->table.holiday_count++;
    }
    if (code == CW_OK)
        code = cw_nursery_setting(n, "promised_by", days, sizeof days, err);
    if (code == CW_OK && days[0] && !cw_day_parse(days, strlen(days), &out->promised_by))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "promised_by", "is no day: %s", days);
    return code;
}

typedef struct gathering {
    const cw_season *season;
    const cw_asker *who;
    cw_times times;
    cw_wanted_list *list;
    cw_code code;
    cw_error *err;
    /* a whole order that was cancelled, line by line */
    int64_t cancelled_order;
    cw_cents cancelled_amount;
    cw_day cancelled_on;
    char cancelled_note[CW_MAX_NOTE + 1];
} gathering;

/* Takes the detail; the fact follows as printf. */
static void want(gathering *g, cw_wanted_notice w, json_t *detail, const char *format, ...) CW_PRINTF(4, 5);
static void want(gathering *g, cw_wanted_notice w, json_t *detail, const char *format, ...)
{
    cw_wanted_list *l = g->list;
    va_list args;
    va_start(args, format);
    vsnprintf(w.fact, sizeof w.fact, format, args);
    va_end(args);
    if (g->code == CW_OK && !cw_grow(&l->item, l->count, &l->room, sizeof *l->item))
        g->code = cw_error_memory(g->err);
    w.detail = detail && g->code == CW_OK ? cw_json_text(detail, JSON_COMPACT) : NULL;
    json_decref(detail);
    if (g->code == CW_OK && w.detail == NULL)
        g->code = cw_error_memory(g->err);
    if (g->code == CW_OK)
        l->item[l->count++] = w;
}

static void set(json_t **o, const char *name, const char *value)
{
    cw_json_put_take(o, name, json_string(value ? value : ""));
}

static void set_int(json_t **o, const char *name, int64_t value)
{
    char text[24];
    snprintf(text, sizeof text, "%lld", (long long)value);
    set(o, name, text);
}

static void set_day(json_t **o, const char *name, cw_day day)
{
    char text[11] = "";
    if (day != CW_NO_DAY)
        cw_day_format(day, text);
    set(o, name, text);
}

static void set_money(json_t **o, const char *name, cw_cents amount)
{
    char text[24];
    cw_cents_format(amount, text);
    set(o, name, text);
}

static void say(json_t **o, const char *format, ...) CW_PRINTF(2, 3);
static void say(json_t **o, const char *format, ...)
{
    char text[600], whole[596];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    cw_copy(whole, sizeof whole, text); /* which does not cut inside a character, as printing does */
    set(o, "sentence", whole);
}

static cw_day friday(cw_week week)
{
    return cw_week_monday(week) + 4;
}

static cw_day later(cw_day a, cw_day b)
{
    return a > b ? a : b;
}

static cw_day promised_day(const gathering *g, const cw_open_order *o)
{
    cw_day zone = o->zone_week ? friday(o->zone_week) : CW_NO_DAY;
    if (o->told_day != CW_NO_DAY)
        return o->told_day;
    if (o->wish_week)
        return later(friday(o->wish_week), zone);
    if (g->times.promised_by != CW_NO_DAY)
        return g->times.promised_by;
    cw_day received = cw_asker_day(g->who, o->received_at);
    return later(cw_timetable_ship_by(&g->times.table, received, CW_NO_DAY),
                 zone != CW_NO_DAY ? zone : friday(cw_week_of(g->season->ship)));
}

static void set_silence(json_t **o, const cw_delay_rule *r)
{
    bool cancels = r->silence == CW_SILENCE_CANCELS;
    set(o, "silence", cancels ? "cancels" : r->silence == CW_SILENCE_CONSENTS ? "consents" : "");
    set_day(o, "refund_by", cancels ? r->refund_by : CW_NO_DAY);
}

static void take_order(void *context, const cw_open_order *o)
{
    gathering *g = context;
    cw_day promised = promised_day(g, o), expected = o->ship_week ? friday(o->ship_week) : CW_NO_DAY;
    char was[11], is[11] = "unknown";
    if (expected != CW_NO_DAY && expected < g->who->today)
        expected = CW_NO_DAY; /* the week passed and it is still here */
    if (expected == CW_NO_DAY ? g->who->today <= promised : expected <= promised)
        return;
    cw_delay_rule r = cw_timetable_delay(&g->times.table, promised, expected, o->told);
    json_t *d = json_object();
    cw_day_format(promised, was);
    if (expected != CW_NO_DAY) {
        cw_day_format(expected, is);
        cw_json_put_take(&d, "expected_day", json_integer(expected));
    }
    set_day(&d, "promised", promised);
    set(&d, "expected", is);
    set_day(&d, "cancelled_on", r.cancelled_on);
    set_silence(&d, &r);
    set(&d, "source", r.source);
    say(&d, "to leave by %s, now expected by %s; %s (%s)", was, is,
        r.silence == CW_SILENCE_CONSENTS  ? "silence is consent"
        : r.silence == CW_SILENCE_CANCELS ? "silence cancels the order"
                                          : "silence settles nothing",
        r.source);
    cw_wanted_notice w = { .order_id = o->id, .kind = "delay", .due_on = r.notice_by };
    want(g, w, d, "delay:order%lld:%s:%s", (long long)o->id, was, is);
}

static const char *label(const cw_lacking_line *r)
{
    return r->name ? r->name : r->code ? r->code : "";
}

static void want_short(gathering *g, const cw_lacking_line *r, int64_t lacking)
{
    cw_day refund_by = cw_timetable_refund_by(&g->times.table, g->who->today), due = refund_by;
    json_t *d = json_object();
    if (r->ship_week && strcmp(r->state, "open") == 0 && friday(r->ship_week) - 7 < due)
        due = friday(r->ship_week) - 7;
    set(&d, "variety", label(r));
    set(&d, "code", r->code);
    set_int(&d, "asked", r->asked);
    set_int(&d, "promised", r->got);
    set_int(&d, "quantity", lacking);
    set_money(&d, "amount", lacking * r->unit_price);
    set_day(&d, "refund_by", refund_by);
    say(&d, "%lld of %s asked, %lld %s, %lld short and nothing more to come", (long long)r->asked, label(r),
        (long long)r->got, strcmp(r->state, "shipped") == 0 ? "sent" : "promised", (long long)lacking);
    cw_wanted_notice w = {
        .order_id = r->order_id, .line_id = r->line_id, .kind = "short", .due_on = later(due, g->who->today)
    };
    want(g, w, d, "short:line%lld:%lld", (long long)r->line_id, (long long)lacking);
}

/* Of a variety (name), or all of an order (NULL). */
static void want_cancelled(gathering *g, int64_t order, int64_t line, const char *name, const char *note,
                           cw_cents amount, cw_day on, int64_t count)
{
    cw_day refund_by = cw_timetable_refund_by(&g->times.table, on);
    json_t *d = json_object();
    char money[24];
    cw_cents_format(amount, money);
    set(&d, "what", name ? "part" : "all");
    if (name) {
        set(&d, "variety", name);
        set_int(&d, "quantity", count);
    }
    set_day(&d, "cancelled", on);
    set(&d, "reason", note);
    set_money(&d, "amount", amount);
    set_day(&d, "refund_by", refund_by);
    if (name)
        say(&d, "%lld of %s cancelled, %s to go back", (long long)count, name, money);
    else
        say(&d, "All cancelled, %s to go back", money);
    cw_wanted_notice w = { .order_id = order, .line_id = line, .kind = "cancelled", .due_on = refund_by };
    if (line)
        want(g, w, d, "cancelled:line%lld:%lld", (long long)line, (long long)count);
    else
        want(g, w, d, "cancelled:order%lld", (long long)order);
}

/* Lines come order by order: the cancelled order before this row is whole. */
static void end_cancelled(gathering *g)
{
    if (g->cancelled_order)
        want_cancelled(g, g->cancelled_order, 0, NULL, g->cancelled_note, g->cancelled_amount,
                       g->cancelled_on, 0);
    g->cancelled_order = 0;
}

static void note_cancelled(gathering *g, const cw_lacking_line *r, int64_t gone)
{
    cw_day on = r->changed_at == CW_NO_INSTANT ? g->who->today : cw_asker_day(g->who, r->changed_at);
    if (strcmp(r->state, "cancelled") != 0) {
        want_cancelled(g, r->order_id, r->line_id, label(r), r->note, gone * r->unit_price, on, gone);
        return;
    }
    if (g->cancelled_order == 0) {
        g->cancelled_order = r->order_id;
        g->cancelled_amount = 0;
        g->cancelled_on = on;
        cw_copy(g->cancelled_note, sizeof g->cancelled_note, r->note ? r->note : "");
    }
    g->cancelled_amount += gone * r->unit_price;
    g->cancelled_on = later(g->cancelled_on, on);
}

static void want_refund(gathering *g, const cw_lacking_line *r, int64_t gone, int64_t lacking)
{
    cw_cents owed = (gone + lacking) * r->unit_price, left = owed - r->sent - r->dropped;
    cw_day began = lacking == 0 && r->changed_at != CW_NO_INSTANT ? cw_asker_day(g->who, r->changed_at)
                   : strcmp(r->state, "shipped") == 0 && r->shipped_on != CW_NO_DAY ? r->shipped_on
                                                                                    : g->who->today;
    cw_day by = cw_timetable_refund_by(&g->times.table, began);
    char money[24];
    if (left <= 0)
        return;
    json_t *d = json_object();
    cw_cents_format(left, money);
    set(&d, "variety", label(r));
    set(&d, "code", r->code);
    set_int(&d, "quantity", gone + lacking);
    set(&d, "why", lacking == 0 ? "cancelled" : gone == 0 ? "undelivered" : "both");
    set_day(&d, "refund_by", by);
    say(&d, "%s owed for %lld of %s (%lld cancelled, %lld not delivered)", money, (long long)(gone + lacking),
        label(r), (long long)gone, (long long)lacking);
    cw_wanted_notice w = {
        .order_id = r->order_id, .line_id = r->line_id, .kind = "refund", .due_on = by, .amount = left
    };
    want(g, w, d, "refund:line%lld:%lld", (long long)r->line_id, (long long)owed);
}

static void take_line(void *context, const cw_lacking_line *r)
{
    gathering *g = context;
    int64_t gone = r->peak - r->asked, lacking = cw_lacking_short(r);
    if (g->cancelled_order != r->order_id)
        end_cancelled(g);
    if (lacking > 0)
        want_short(g, r, lacking);
    if (gone > 0)
        note_cancelled(g, r, gone);
    if (gone + lacking > 0)
        want_refund(g, r, gone, lacking);
}

static void take_substitute(void *context, const cw_substituted *r)
{
    gathering *g = context;
    cw_day due = friday(r->ship_week ? r->ship_week : cw_week_of(g->season->ship)) - 7;
    json_t *d = json_object();
    due = later(due, g->who->today);
    set(&d, "variety", r->wanted);
    set(&d, "substitute", r->name);
    set(&d, "code", r->code);
    set_int(&d, "quantity", r->quantity);
    set_day(&d, "due", due);
    say(&d, "%lld of %s in place of %s", (long long)r->quantity, r->name, r->wanted);
    cw_wanted_notice w = {
        .order_id = r->order_id, .line_id = r->line_id, .kind = "substitute", .due_on = due
    };
    want(g, w, d, "substitute:line%lld:variety%lld:%lld", (long long)r->line_id, (long long)r->variety_id,
         (long long)r->quantity);
}

static void take_recall(void *context, const cw_recalled *r)
{
    gathering *g = context;
    json_t *d = json_object();
    set(&d, "variety", r->name);
    set(&d, "lot", r->lot);
    set(&d, "row", r->row);
    set(&d, "reason", r->why);
    set_int(&d, "quantity", r->quantity);
    say(&d, "received %lld of %s from lot %s, which is held: %s", (long long)r->quantity, r->name, r->lot,
        r->why);
    cw_wanted_notice w = {
        .order_id = r->order_id, .line_id = r->line_id, .kind = "recall", .due_on = g->who->today
    };
    want(g, w, d, "recall:line%lld:lot%lld:%lld", (long long)r->line_id, (long long)r->lot_id,
         (long long)r->quantity);
}

static void take_claim(void *context, const cw_claim_refund *r)
{
    gathering *g = context;
    cw_day by = cw_timetable_refund_by(&g->times.table, cw_asker_day(g->who, r->at));
    char money[24];
    if (r->amount == 0)
        return;
    json_t *d = json_object();
    cw_cents_format(r->amount, money);
    set(&d, "variety", r->name);
    set(&d, "code", r->code);
    set_int(&d, "quantity", r->quantity);
    set(&d, "why", "failed");
    set_day(&d, "refund_by", by);
    say(&d, "%s owed for %lld of %s under the guarantee", money, (long long)r->quantity, r->name);
    cw_wanted_notice w = {
        .order_id = r->order_id, .line_id = r->line_id, .kind = "refund", .due_on = by, .amount = r->amount
    };
    want(g, w, d, "refund:claim:%lld", (long long)r->claim_id);
}

cw_code cw_notices_gather(cw_nursery *n, const cw_asker *who, cw_wanted_list *out, cw_error *err)
{
    gathering *g = calloc(1, sizeof *g);
    *out = (cw_wanted_list){ NULL, 0, 0 };
    if (g == NULL)
        return cw_error_memory(err);
    g->season = &n->season;
    g->who = who;
    g->list = out;
    g->err = err;
    cw_code code = cw_season_look(n, err);
    if (code == CW_OK)
        code = cw_times_read(n, &g->times, err);
    if (code == CW_OK)
        code = cw_notices_orders(n->db, take_order, g, err);
    if (code == CW_OK)
        code = cw_notices_lines(n->db, take_line, g, err);
    end_cancelled(g);
    if (code == CW_OK)
        code = cw_notices_substitutes(n->db, take_substitute, g, err);
    if (code == CW_OK)
        code = cw_notices_recalls(n->db, take_recall, g, err);
    if (code == CW_OK)
        code = cw_notices_claims(n->db, take_claim, g, err);
    if (code == CW_OK)
        code = g->code;
    free(g);
    if (code != CW_OK)
        cw_wanted_free(out);
    return code;
}

void cw_wanted_free(cw_wanted_list *w)
{
    for (size_t i = 0; i < w->count; i++)
        free(w->item[i].detail);
    free(w->item);
    *w = (cw_wanted_list){ NULL, 0, 0 };
}
