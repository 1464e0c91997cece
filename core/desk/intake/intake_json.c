/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_orders_inside.h"

#include "base/json.h"
#include "base/text.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/shipping.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Orders as JSON. Order and lines fill the row that a line of a CSV file fills, value by value as they are; from there on both are
 * checked and taken by one code. */

/* What stands between two orders: rooms that need not be made again, and the varieties with their offers as they are in the
 * database, so that a line need not look them up. They are good while nobody else has changed such a row, and nothing was
 * taken back, since the last order; the database refuses in any case to sell more than there is (CHECK of offering). */
struct cw_shop {
    cw_intake in;
    cw_taken taken;
    cw_error_list errors;
    cw_row row;
    const json_t *values[CW_MAX_KIND_COLUMNS]; /* of the line and its order, by column */
    cw_text named;                             /* of the line, when they come as a list */
    bool head_bad;                             /* what the order says of itself is wrong */
    uint64_t offer_changes, taken_back;        /* when the varieties were last known to be good */
    cw_instant received;                       /* of an order that does not say when it came */
};

static void shop_free(struct cw_shop *shop)
{
    if (shop == NULL)
        return;
    cw_intake_orders_free(&shop->in);
    cw_codes_free(&shop->in.codes);
    cw_error_list_free(&shop->errors);
    cw_text_free(&shop->named);
    free(shop);
}

static struct cw_shop *shop_open(cw_nursery *n, const cw_asker *who)
{
    struct cw_shop *s = n->shop ? n->shop : calloc(1, sizeof *s);
    if (s == NULL)
        return NULL;
    if (n->shop == NULL) {
        s->row.kind = &cw_kinds[CW_ORDERS];
        s->named = CW_TEXT(CW_MAX_RECORD_BYTES);
        s->in = (cw_intake){ .n = n, .db = n->db, .api = true, .files = &s->taken, .file_count = 1 };
        s->in.codes.db = n->db;
        s->in.errors = &s->errors;
        n->shop = s;
        n->shop_free = shop_free;
    }
    if (s->offer_changes != cw_db_offer_changes(n->db) || s->taken_back != n->taken_back) {
        cw_codes_free(&s->in.codes);
        s->in.codes = (cw_codes){ .db = n->db };
        s->offer_changes = cw_db_offer_changes(n->db);
        s->taken_back = n->taken_back;
    }
    s->in.who = who;
    s->in.sold_out.code = CW_OK;
    s->taken = (cw_taken){ .name = "the shop", .base = "an order", .kind = CW_ORDERS };
    cw_error_list_free(&s->errors);
    cw_intake_orders_clear(&s->in);
    return s;
}

bool cw_order_on_line(size_t c)
{
    return !cw_kinds[CW_ORDERS].columns[c].repeats;
}

/* The column that a member names, or the width of the table. Members mostly stand in the order of the columns, so it is
 * looked for from `after` on. */
static size_t column_of(const cw_kind *k, const char *name, size_t after)
{
    for (size_t i = 0; i < k->width; i++) {
        size_t c = after + i < k->width ? after + i : after + i - k->width;
        if (strcmp(k->columns[c].name, name) == 0)
            return c;
    }
    return k->width;
}

/* Sorts the members of an order, or of one of its lines, into s->values. */
static cw_code take_members(struct cw_shop *s, const json_t *object, bool line, cw_error *err)
{
    const cw_kind *k = s->row.kind;
    const char *name = NULL;
    const json_t *v = NULL;
    char shown[80];
    size_t c = 0;
    long row = line ? s->row.line : 0;
    if (!json_is_object(object))
        return cw_error_at(err, CW_REFUSED, NULL, row, line ? "lines" : NULL, "an object is needed");
    for (size_t i = 0; i < k->width; i++)
        if (cw_order_on_line(i) == line)
            s->values[i] = NULL;
    json_object_foreach((json_t *)(uintptr_t)object, name, v)
    {
        if (!line && strcmp(name, "lines") == 0)
            continue;
        c = column_of(k, name, c < k->width ? c : 0);
        if (c == k->width || cw_order_on_line(c) != line)
            return cw_error_at(err, CW_REFUSED, NULL, row, cw_shown(name, strlen(name), shown),
                               "is not known here");
        s->values[c] = v;
    }
    return CW_OK;
}

/* A list of codes as one text. */
static cw_code join(struct cw_shop *s, const json_t *list, cw_error *err)
{
    const json_t *item = NULL;
    size_t i = 0;
    cw_text_clear(&s->named);
    json_array_foreach((json_t *)(uintptr_t)list, i, item)
        cw_text_addf(&s->named, "%s%s", i ? " " : "", json_string_value(item));
    if (s->named.starved)
        return cw_error_memory(err);
    if (s->named.failed)
        return cw_error_at(err, CW_REFUSED, NULL, s->row.line, "named", "is longer than %d bytes",
                           CW_MAX_RECORD_BYTES);
    return CW_OK;
}

/* What the sender says of a column. */
static cw_code saying_of(struct cw_shop *s, size_t c, const json_t *v, cw_saying *out, cw_error *err)
{
    cw_value number = { 0 };
    cw_code code = cw_order_value_check(c, v, s->row.line, err);
    *out = (cw_saying){ .t = "" };
    if (code == CW_OK && json_is_string(v))
        *out = (cw_saying){ .t = json_string_value(v), .n = json_string_length(v) };
    else if (code == CW_OK && json_is_array(v)) {
        code = join(s, v, err);
        *out = (cw_saying){ .t = s->named.data ? s->named.data : "", .n = s->named.length };
    } else if (code == CW_OK && cw_value_from_json(&s->row.kind->columns[c].holds, v, &number))
        *out = (cw_saying){ .i = number.i };
    return code;
}

/* The columns of the order, or of the line, into the row. */
static cw_code say_columns(struct cw_shop *s, bool line, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t c = 0; c < s->row.kind->width && code == CW_OK; c++) {
        const json_t *v = s->values[c];
        cw_saying said = { .i = c == AT(line) ? s->row.line : s->received };
        if (cw_order_on_line(c) != line)
            continue;
        if (v)
            code = saying_of(s, c, v, &said, err);
        /* A line's place is its number, and an order came now, unless the shop says otherwise. */
        bool known = v || c == AT(line) || c == AT(received_at);
        if (code == CW_OK)
            code = cw_row_say(&s->in, &s->row, c, known ? &said : NULL, err);
    }
    return code;
}

/* One line with its order as a row; of the first line also what the order says of itself. */
static cw_code read_line(struct cw_shop *s, cw_error *err)
{
    cw_code code = CW_OK;
    bool first = s->row.line == 1;
    cw_row_begin(&s->row);
    if (first) {
        code = say_columns(s, false, err);
        s->head_bad = s->row.bad;
        /* An order that is on record keeps the instant that it came at, unless the shop says one. */
        s->row.is.orders.received_at.absent = s->values[AT(received_at)] == NULL;
    }
    s->row.all_repeat = !first;
    s->row.bad = s->head_bad;
    if (code == CW_OK)
        code = say_columns(s, true, err);
    return code == CW_OK ? cw_intake_line(&s->in, &s->row, err) : code;
}

static cw_code take_lines(struct cw_shop *s, const json_t *order, cw_error *err)
{
    const json_t *lines = json_object_get(order, "lines"), *line = NULL;
    cw_code code = take_members(s, order, false, err);
    size_t i = 0;
    if (code == CW_OK && (json_array_size(lines) == 0 || json_array_size(lines) > CW_MAX_LINES_PER_ORDER))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "lines", "must be a list of 1 to %d lines",
                           CW_MAX_LINES_PER_ORDER);
    json_array_foreach((json_t *)(uintptr_t)lines, i, line)
    {
        s->row.line = (long)i + 1;
        if (code == CW_OK)
            code = take_members(s, line, true, err);
        if (code == CW_OK)
            code = read_line(s, err);
    }
    return code;
}

/* All that the order writes. */
static cw_code write_order(cw_intake *in, const json_t *order, cw_error *err)
{
    char subject[64], after[64];
    const char *number = json_string_value(json_object_get(order, "order"));
    snprintf(subject, sizeof subject, "order %s", number ? number : "");
    snprintf(after, sizeof after, "%ld lines", in->files[0].made);
    cw_code code = cw_intake_orders_write(in, err);
    if (code == CW_OK)
        code = cw_intake_sold(in, err);
    if (code == CW_OK)
        code = cw_audit_add(in->db, in->who->now, in->who->actor, "order", subject, NULL, after, err);
    if (code == CW_OK)
        code = cw_season_touch(in->db, false, true, err);
    return code;
}

/* Why nothing may be sent where the order goes, "" when something may, so that the order's taker can say so at once. */
static cw_code look_where(const cw_intake *in, char out[400], cw_error *err)
{
    char rule[8], note[301];
    const cw_given *country = &in->orders->head.orders.country, *region = &in->orders->head.orders.region;
    out[0] = '\0';
    if (country->null || country->t == NULL)
        return CW_OK;
    const char *where = region->null ? NULL : region->t;
    cw_code code = cw_ship_destination(in->db, country->t, where, rule, note, err);
    if (code == CW_OK && strcmp(rule, "block") == 0)
        snprintf(out, 400, "nothing may be sent to %s%s%.60s%s%s%s", country->t, where ? " " : "",
                 where ? where : "", note[0] ? " (" : "", note, note[0] ? ")" : "");
    return code;
}

static json_t *outcome(const cw_intake *in, const json_t *order, const char *blocked, cw_code code)
{
    const json_t *number = json_object_get(order, "order");
    json_t *o = json_object();
    cw_json_put_take(&o, "order",
                     json_is_string(number) ? json_string(json_string_value(number)) : json_null());
    cw_json_put_take(&o, "taken", json_boolean(code == CW_OK));
    if (code == CW_OK) {
        cw_json_put_take(&o, "lines", json_integer(in->files[0].made + in->files[0].unchanged));
        cw_json_put_take(&o, "known", json_boolean(in->files[0].made == 0));
        cw_json_put_take(&o, "blocked", blocked[0] ? json_string(blocked) : json_null());
    } else if (in->sold_out.code != CW_OK) {
        cw_json_put_take(&o, "line", json_integer(in->sold_out_line));
        cw_json_put_take(&o, "variety", json_string(in->codes.variety[in->sold_out_variety].code));
        cw_json_put_take(&o, "left", json_integer(in->sold_out_left));
    }
    return o;
}

/* Now, but after all that are on record: who comes later is served later, also when the clock was set back meanwhile. An order
 * dated more than a day ahead is a wrong date, not a clock set back, and must not drag the others along. */
static cw_code look_when(struct cw_shop *s, cw_error *err)
{
    cw_instant now = s->in.who->now, last = 0;
    cw_code code = cw_intake_order_latest(s->in.db, now + CW_DAY_MS, &last, err);
    s->received = last >= now ? last + 1 : now;
    return code;
}

/* Reads the order and holds it against the record; nothing is written yet. */
static cw_code check_order(struct cw_shop *s, const json_t *order, cw_error *err)
{
    cw_code code = take_lines(s, order, err);
    if (code != CW_OK || s->errors.count == 0)
        return code;
    if (s->errors.kept == 0)
        return cw_error_memory(err);
    *err = s->errors.items[0];
    return err->code;
}

cw_code cw_intake_order(cw_nursery *n, const cw_asker *who, const json_t *order, json_t **answer,
                        cw_error *err)
{
    *answer = NULL;
    struct cw_shop *s = shop_open(n, who);
    if (s == NULL)
        return cw_error_memory(err);
    char blocked[400] = "";
    cw_code code = look_when(s, err);
    if (code == CW_OK)
        code = check_order(s, order, err);
    if (code == CW_OK)
        code = look_where(&s->in, blocked, err);
    /* Before the writing: what was taken must not be answered as an error because there was no room for the answer. */
    if (code == CW_OK || code == CW_CONFLICT) {
        *answer = outcome(&s->in, order, blocked, code);
        if (*answer == NULL) {
            *err = (cw_error)CW_ERROR_NONE;
            code = cw_error_memory(err);
        }
    }
    if (code == CW_OK && (s->taken.made > 0 || cw_intake_orders_paid(&s->in))) {
        code = cw_work_begin_sure(n, err);
        if (code == CW_OK)
            code = cw_work_end(n, write_order(&s->in, order, err), err);
        if (code != CW_OK) {
            json_decref(*answer);
            *answer = NULL;
        }
    }
    if (code != CW_OK)
        cw_intake_unsold(&s->in);
    /* What was read is good until somebody else writes. After a write that failed it is looked up again. */
    if (code == CW_OK)
        s->offer_changes = cw_db_offer_changes(n->db);
    return code;
}
