/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_orders_inside.h"

#include "store/orders.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Order lines: one row is one line, the order's own columns repeat. The same path serves CSV and the shop's orders. */

/* Bytes of a line's assortment, consent and named at most. */
#define LINE_TEXTS (CW_MAX_NAME + (CW_MAX_CODE + 1) * CW_MAX_NAMED + 16)

static struct cw_order_desk *desk_of(cw_intake *in, cw_error *err)
{
    if (in->orders == NULL) {
        in->orders = calloc(1, sizeof *in->orders);
        if (in->orders) {
            in->orders->texts = in->orders->texts_before = CW_TEXT(CW_MAX_RECORD_BYTES);
            in->orders->line_texts = CW_TEXT(CW_MAX_LINES_PER_ORDER * LINE_TEXTS);
        } else {
            cw_error_memory(err);
        }
    }
    return in->orders;
}

void cw_intake_orders_clear(cw_intake *in)
{
    if (in->orders == NULL)
        return;
    in->orders->number[0] = '\0';
    in->orders->waiting_count = in->orders->order_count = in->orders->seen_count = 0;
    cw_text_clear(&in->orders->line_texts);
    cw_map_clear(&in->orders->known);
}

void cw_intake_orders_free(cw_intake *in)
{
    if (in->orders == NULL)
        return;
    cw_text_free(&in->orders->texts);
    cw_text_free(&in->orders->texts_before);
    cw_text_free(&in->orders->line_texts);
    free(in->orders->waiting);
    free(in->orders->orders);
    free(in->orders->seen);
    cw_map_free(&in->orders->known);
    free(in->orders);
    in->orders = NULL;
}

int cw_head_next(int column)
{
    const cw_kind *k = &cw_kinds[CW_ORDERS];
    for (int c = column + 1; c < (int)k->width; c++)
        if (k->columns[c].repeats)
            return c;
    return -1;
}

static bool is_text(int c)
{
    return cw_column_text(&cw_kinds[CW_ORDERS].columns[c]);
}

static bool same(int c, const cw_given *a, const cw_given *b)
{
    if (a->null != b->null)
        return false;
    if (a->null)
        return true;
    return is_text(c) ? strcmp(a->t, b->t) == 0 : a->i == b->i;
}

/* Keeps the head's values beyond the row they came with. A row that is silent on a column has the text of the head before, which
 * stays for as long as this one. */
static cw_code keep_head(struct cw_order_desk *d, const cw_given *v, cw_error *err)
{
    size_t offsets[CW_MAX_KIND_COLUMNS] = { 0 };
    cw_text before = d->texts;
    d->texts = d->texts_before;
    d->texts_before = before;
    cw_text_clear(&d->texts);
    for (int c = cw_head_next(AT(order)); c >= 0; c = cw_head_next(c)) {
        d->head.v[c] = v[c];
        if (!is_text(c) || v[c].null)
            continue;
        offsets[c] = d->texts.length;
        cw_text_addn(&d->texts, v[c].t, strlen(v[c].t) + 1);
    }
    for (int c = cw_head_next(AT(order)); c >= 0; c = cw_head_next(c))
        if (is_text(c) && !d->head.v[c].null && d->texts.data)
            d->head.v[c].t = d->texts.data + offsets[c];
    return cw_text_check(&d->texts, err);
}

static cw_bind bind_of(int c, const cw_given *v)
{
    const char *name = cw_kinds[CW_ORDERS].columns[c].name;
    if (v->null)
        return (cw_bind){ .type = 'n', .name = name };
    return is_text(c) ? (cw_bind){ .type = 't', .t = v->t, .name = name }
                      : (cw_bind){ .type = 'i', .i = v->i, .name = name };
}

cw_code cw_head_write(cw_db *db, const char *statement, cw_bind key, const cw_given *v, cw_error *err)
{
    cw_bind values[CW_MAX_KIND_COLUMNS + 1] = { key };
    size_t n = 1;
    for (int c = cw_head_next(AT(order)); c >= 0; c = cw_head_next(c))
        values[n++] = bind_of(c, &v[c]);
    return cw_record_write(db, statement, values, n, err);
}

/* Reads the head on record into the desk; *found tells whether there is one. */
static cw_code read_head(cw_intake *in, struct cw_order_desk *d, const char *number, bool *found,
                         cw_error *err)
{
    cw_given head[CW_MAX_KIND_COLUMNS] = { 0 };
    cw_bind key = { .type = 't', .t = number, .name = "order" };
    cw_bind was[CW_MAX_KIND_COLUMNS + 2] = { { .type = 'i', .name = "id" },
                                             { .type = 't', .name = "state" } };
    cw_text texts = CW_TEXT(CW_MAX_RECORD_BYTES);
    size_t n = 2;
    *found = false;
    for (int c = cw_head_next(AT(order)); c >= 0; c = cw_head_next(c))
        was[n++] = (cw_bind){ .type = is_text(c) ? 't' : 'i', .name = cw_kinds[CW_ORDERS].columns[c].name };
    cw_code code = cw_behind_orders(in->behind, err);
    if (code == CW_OK)
        code = cw_record_find(in->db, "intake.order", &key, 1, was, n, &texts, found, err);
    if (code == CW_OK && *found) {
        d->id = was[0].i;
        d->closed = strcmp(was[1].t, "open") != 0;
        n = 2;
        for (int c = cw_head_next(AT(order)); c >= 0; c = cw_head_next(c), n++)
            head[c] = (cw_given){ .null = was[n].type == 'n', .i = was[n].i, .t = was[n].t };
        code = keep_head(d, head, err);
    }
    cw_text_free(&texts);
    return code;
}

cw_code cw_order_was_first(cw_intake *in, const struct cw_order_desk *d, int64_t line, int c,
                           const cw_given *v, bool *was, cw_error *err)
{
    char number[24];
    const char *text = is_text(c) ? v->t : number;
    *was = false;
    if (d->is_new)
        return CW_OK;
    snprintf(number, sizeof number, "%lld", (long long)v->i);
    return cw_intake_was_first(in->db, d->id, line, cw_kinds[CW_ORDERS].columns[c].name,
                               v->null ? NULL : text, was, err);
}

/* That an order is paid, or that it is not when nobody had said so, is news and no change of what was said. It is kept for the
 * moment at which the row is found good. Nothing said, or "not paid" of an order that is paid (an older file), says nothing. */
static bool paid_is_news(const cw_intake *in, struct cw_order_desk *d, const cw_given *v)
{
    const cw_given *had = &d->head.v[AT(paid)];
    bool older = v->null || (!had->null && had->i && !v->i && !in->options.changes);
    bool news = !v->null && (had->null || (!had->i && v->i));
    if (news)
        d->pays = v->i ? 2 : 1;
    return older || news;
}

static cw_code write_paid(cw_intake *in, struct cw_order_desk *d, cw_error *err)
{
    int64_t paid = d->pays - 1;
    cw_given *had = &d->head.v[AT(paid)];
    d->pays = 0;
    cw_code code = cw_intake_order_paid(in->db, d->id, paid, err);
    if (code == CW_OK)
        code = cw_order_event_add(in->db,
                                  &(cw_order_event){ .order_id = d->id,
                                                     .at = in->who->now,
                                                     .actor = in->who->actor,
                                                     .kind = "paid",
                                                     .before = had->null ? NULL : "no",
                                                     .after = paid ? "yes" : "no" },
                                  err);
    had->null = false;
    had->i = paid;
    d->changed = true;
    in->files[in->current].changed++;
    return code;
}

/* The row's head against the order's: absent columns say nothing, and neither does what the office has put right since. *column
 * is the first that differs, -1 if none does. */
static cw_code compare_head(cw_intake *in, struct cw_order_desk *d, cw_row *row, int *column, cw_error *err)
{
    cw_code code = CW_OK;
    *column = -1;
    for (int c = cw_head_next(AT(order)); c >= 0 && code == CW_OK; c = cw_head_next(c)) {
        cw_given *v = &row->is.v[c];
        bool stale = v->absent || (c == AT(paid) && !d->is_new && paid_is_news(in, d, v));
        bool first = false;
        if (!v->absent && !same(c, v, &d->head.v[c]))
            code = cw_order_was_first(in, d, 0, c, v, &first, err);
        if (first && c == AT(paid))
            d->pays = 0;
        stale = stale || first;
        if (stale)
            *v = d->head.v[c];
        else if (*column < 0 && !same(c, v, &d->head.v[c]))
            *column = c;
    }
    return code;
}

const char *cw_order_advice(const cw_intake *in)
{
    return in->api ? "" : "; --changes lets a file change it";
}

static cw_code change_head(cw_intake *in, struct cw_order_desk *d, cw_row *row, int column, cw_error *err)
{
    const char *name = row->kind->columns[column].name;
    if (!in->options.changes) {
        cw_row_clash(in, row, column, "order %s is on record with another %s%s", d->number, name,
                     cw_order_advice(in));
        return CW_OK;
    }
    cw_code code = cw_head_write(in->db, "intake.order_change",
                                 (cw_bind){ .type = 'i', .i = d->id, .name = "id" }, row->is.v, err);
    if (code == CW_OK)
        code = cw_order_event_add(in->db,
                                  &(cw_order_event){ .order_id = d->id,
                                                     .at = in->who->now,
                                                     .actor = in->who->actor,
                                                     .kind = "changed",
                                                     .note = name },
                                  err);
    d->changed = true;
    in->files[in->current].changed++;
    return code == CW_OK ? keep_head(d, row->is.v, err) : code;
}

/* The head that waits. */
static cw_code add_head(cw_intake *in, struct cw_order_desk *d, cw_error *err)
{
    d->head_waits = false;
    if (in->behind)
        return cw_behind_order(in->behind, d->number, &d->head, &d->id, err);
    cw_code code = cw_head_write(in->db, "intake.order_add",
                                 (cw_bind){ .type = 't', .t = d->number, .name = "order" }, d->head.v, err);
    d->id = cw_db_last_id(in->db);
    return code;
}

static cw_code touch(cw_intake *in, struct cw_order_desk *d, cw_error *err)
{
    d->changed = false;
    return cw_order_raise_version(in->db, d->id, err);
}

static cw_code new_order(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err)
{
    if (row->bad) {
        d->number[0] = '\0'; /* its next line begins it */
        return CW_OK;
    }
    d->is_new = d->head_waits = true;
    cw_code code = keep_head(d, row->is.v, err);
    return code == CW_OK && !in->api ? add_head(in, d, err) : code;
}

bool cw_intake_orders_paid(const cw_intake *in)
{
    return in->orders && in->orders->pays;
}

cw_code cw_intake_orders_write(cw_intake *in, cw_error *err)
{
    struct cw_order_desk *d = in->orders;
    cw_code code = d && d->head_waits ? add_head(in, d, err) : CW_OK;
    if (code == CW_OK && d && d->pays)
        code = write_paid(in, d, err);
    for (size_t i = 0; d && i < d->waiting_count && code == CW_OK; i++)
        code = cw_line_write(in, d, &d->waiting[i], err);
    return code == CW_OK && d && d->changed ? touch(in, d, err) : code;
}

/* The items, with room for one more; NULL without memory. */
static void *room_for(void *items, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return items;
    size_t more = *room ? 2 * *room : 64;
    void *bigger = realloc(items, more * size);
    if (bigger)
        *room = more;
    return bigger;
}

/* Another order than that of the row before. */
static cw_code turn_to(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err)
{
    bool first = false, found = false;
    const char *number = row->is.orders.order.t;
    int64_t *known = cw_map_put(&d->known, number, strlen(number), &first);
    cw_order_known *orders = room_for(d->orders, d->order_count, &d->order_room, sizeof *d->orders);
    d->orders = orders ? orders : d->orders;
    if (known == NULL || orders == NULL)
        return cw_error_memory(err);
    if (first) {
        d->orders[d->order_count] = (cw_order_known){ .is_new = false };
        *known = (int64_t)d->order_count++;
    }
    d->order = (size_t)*known;
    cw_copy(d->number, sizeof d->number, number);
    d->is_new = d->closed = d->changed = d->head_waits = false;
    d->pays = 0;
    d->lines = 0;
    cw_code code = first && in->behind ? CW_OK : read_head(in, d, number, &found, err);
    if (code == CW_OK && !found)
        code = new_order(in, d, row, err);
    else if (d->orders[d->order].is_new)
        d->is_new = true;
    d->orders[d->order].is_new = d->is_new;
    return code;
}

/* Is the line new in this file? Otherwise the row is recorded as a duplicate. */
static cw_code once(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err)
{
    cw_order_known *o = &d->orders[d->order];
    int64_t line = row->is.orders.line.i;
    for (int64_t at = line <= o->highest ? o->last : 0; at; at = d->seen[at - 1].before)
        if (d->seen[at - 1].line == line) {
            cw_row_wrong(in, row, AT(order),
                         "this %s stands twice in the file, first on line %lld: %s line %lld", row->kind->one,
                         (long long)d->seen[at - 1].row, row->is.orders.order.t, (long long)line);
            return CW_OK;
        }
    cw_line_seen *seen = room_for(d->seen, d->seen_count, &d->seen_room, sizeof *d->seen);
    if (seen == NULL)
        return cw_error_memory(err);
    d->seen = seen;
    d->seen[d->seen_count++] = (cw_line_seen){ line, row->line, o->last };
    o->last = (int64_t)d->seen_count;
    o->highest = line > o->highest ? line : o->highest;
    return CW_OK;
}

cw_code cw_intake_line(cw_intake *in, cw_row *row, cw_error *err)
{
    struct cw_order_desk *d = desk_of(in, err);
    int column = -1;
    if (d == NULL)
        return CW_MACHINE;
    cw_code code = cw_line_check(in, row, err);
    if (code != CW_OK || row->is.orders.order.t == NULL)
        return code;
    if (strcmp(d->number, row->is.orders.order.t) != 0)
        code = turn_to(in, d, row, err);
    if (code == CW_OK && !row->is.orders.line.null)
        code = once(in, d, row, err);
    if (code != CW_OK || row->bad || row->quiet)
        return code;
    if (!row->all_repeat || d->lines == 0)
        code = compare_head(in, d, row, &column, err);
    d->lines++;
    if (code != CW_OK)
        return code;
    if (column >= 0 && d->is_new)
        cw_row_wrong(in, row, column, "differs from the other lines of order %s", d->number);
    else if (column >= 0)
        code = change_head(in, d, row, column, err);
    if (code == CW_OK && d->pays && !row->bad && !in->api)
        code = write_paid(in, d, err);
    if (code == CW_OK && !row->bad)
        code = cw_line_take(in, d, row, err);
    return code == CW_OK && d->changed ? touch(in, d, err) : code;
}
