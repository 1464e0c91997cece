/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_orders_inside.h"

#include "store/orders.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What one order line does: it is new, the same as on record, or a change; and what is sold with it. */

/* Words like "colour=pink form=formal decorative": keys colour, form and size, each once; a word without '='
 * goes on with the value before it. */
static void check_assortment(cw_intake *in, cw_row *row, const char *text)
{
    static const char *const keys[] = { "colour", "form", "size" };
    bool seen[3] = { false, false, false }, any = false;
    for (const char *w = text; *w;) {
        size_t n = strcspn(w, " "), eq = strcspn(w, "="), k = 0;
        if (n > 0 && eq < n) {
            while (k < 3 && (strlen(keys[k]) != eq || memcmp(keys[k], w, eq) != 0))
                k++;
            if (k == 3 || seen[k] || eq + 1 == n) {
                cw_row_wrong(in, row, AT(assortment),
                             "must be words like colour=pink form=ball (colour, form, size, each once): %s",
                             text);
                return;
            }
            seen[k] = any = true;
        } else if (n > 0 && !any) {
            cw_row_wrong(in, row, AT(assortment), "must be words like colour=pink form=ball: %s", text);
            return;
        }
        w += n + (w[n] == ' ');
    }
}

static cw_code check_named(cw_intake *in, cw_row *row, const char *text, cw_error *err)
{
    int count = 0;
    for (const char *w = text; *w;) {
        size_t n = strcspn(w, " ");
        int64_t index = 0;
        char shown[80];
        cw_code code = n ? cw_codes_variety(&in->codes, w, n, &index, err) : CW_OK;
        if (code != CW_OK)
            return code;
        if (index < 0)
            cw_row_wrong(in, row, AT(named), "there is no variety of this code: %s", cw_shown(w, n, shown));
        count += n > 0;
        w += n + (w[n] == ' ');
    }
    if (count > CW_MAX_NAMED)
        cw_row_wrong(in, row, AT(named), "at most %d substitutes may be named: %d", CW_MAX_NAMED, count);
    return CW_OK;
}

cw_code cw_line_check(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_orders_row *v = &row->is.orders;
    if (v->tier.null)
        v->tier = (cw_given){ .t = "retail", .absent = v->tier.absent };
    if (v->consent.null)
        v->consent = (cw_given){ .t = "none", .absent = v->consent.absent };
    if (v->variety.null && v->assortment.null && !row->bad)
        cw_row_wrong(in, row, AT(variety), "a line needs a variety, or an assortment in words");
    if (!v->variety.null && !v->assortment.null)
        cw_row_wrong(in, row, AT(assortment),
                     "a line asks for a variety or for an assortment, not for both: %s", v->assortment.t);
    if (!v->assortment.null && v->assortment.t)
        check_assortment(in, row, v->assortment.t);
    if (v->email.t && !v->email.null && strchr(v->email.t, '@') == NULL)
        cw_row_wrong(in, row, AT(email), "is no address: %s", v->email.t);
    if (!row->bad && v->quantity.i * v->unit_price.i > CW_MAX_CENTS)
        cw_row_wrong(in, row, AT(unit_price), "the line is worth more than %lld in all", CW_MAX_CENTS / 100);
    bool by_name = v->consent.t && strcmp(v->consent.t, "named") == 0;
    if (by_name && v->named.null)
        cw_row_wrong(in, row, AT(named), "consent to named substitutes needs their codes");
    if (!by_name && !v->named.null)
        cw_row_wrong(in, row, AT(named), "substitutes are named, but consent is %s: %s",
                     v->consent.t ? v->consent.t : "wrong", v->named.t);
    return v->named.null || v->named.t == NULL ? CW_OK : check_named(in, row, v->named.t, err);
}

/* Adds to what is sold of a variety, and notes that the database is to be told. */
static void move(cw_codes *c, int64_t index, int64_t more)
{
    cw_variety_state *v = &c->variety[index];
    v->sold += more;
    if (v->listed)
        return;
    v->listed = true;
    v->next = c->moved;
    c->moved = index + 1;
}

/* Adds to what is sold of a variety, within the offer. False: refused and recorded, nothing added. */
static bool sell(cw_intake *in, cw_row *row, int64_t index, int64_t more)
{
    cw_variety_state *v = &in->codes.variety[index];
    int64_t over = v->sold + more - v->offered - v->beyond;
    if (more > 0 && over > 0 && (in->api || (v->released && !in->options.oversell))) {
        int64_t left = v->released ? v->offered + v->beyond - v->sold : 0;
        cw_error e = CW_ERROR_NONE;
        if (in->api && in->sold_out.code == CW_OK) {
            in->sold_out_line = row->is.orders.line.i;
            in->sold_out_variety = index;
            in->sold_out_left = left > 0 ? left : 0;
        }
        if (v->released)
            cw_error_at(&e, CW_CONFLICT, row->file, row->line, "quantity",
                        "only %lld of %s are left (%lld offered, %lld sold), %lld cannot be sold",
                        (long long)(left > 0 ? left : 0), v->code, (long long)v->offered, (long long)v->sold,
                        (long long)more);
        else
            cw_error_at(&e, CW_CONFLICT, row->file, row->line, "quantity",
                        "%s is not on offer yet: 0 left, %lld asked", v->code, (long long)more);
        if (in->sold_out.code == CW_OK)
            in->sold_out = e;
        cw_error_list_add(in->errors, &e);
        row->bad = true;
        return false;
    }
    if (more > 0 && over > 0)
        v->beyond += over;
    move(&in->codes, index, more);
    return true;
}

size_t cw_line_text(cw_text *texts, const char *t)
{
    if (texts->length == 0)
        cw_text_addc(texts, '\0');
    size_t at = texts->length;
    cw_text_addn(texts, t, strlen(t) + 1);
    return at;
}

static size_t keep_text(cw_text *texts, const cw_given *v)
{
    return v->null ? 0 : cw_line_text(texts, v->t);
}

static const char *kept_text(const cw_text *texts, size_t at)
{
    return at ? texts->data + at : NULL;
}

cw_line_row cw_line_row_of(const cw_line_waiting *l, const cw_text *texts)
{
    return (cw_line_row){ .variety = l->variety ? &l->variety : NULL,
                          .assortment = kept_text(texts, l->assortment),
                          .quantity = l->quantity,
                          .price = l->price,
                          .consent = kept_text(texts, l->consent),
                          .named = kept_text(texts, l->named),
                          .all_or_none = l->all_or_none };
}

cw_code cw_line_write(cw_intake *in, struct cw_order_desk *d, const cw_line_waiting *l, cw_error *err)
{
    int64_t line = 0;
    cw_line_row row = cw_line_row_of(l, &d->line_texts);
    cw_code code = cw_intake_line_add(in->db, d->id, l->line, &row, &line, err);
    if (code == CW_OK && !d->is_new) {
        char after[64];
        snprintf(after, sizeof after, "line %lld, %lld asked", (long long)l->line, (long long)l->quantity);
        code = cw_order_event_add(in->db,
                                  &(cw_order_event){ .order_id = d->id,
                                                     .line_id = line,
                                                     .at = in->who->now,
                                                     .actor = in->who->actor,
                                                     .kind = "added",
                                                     .after = after },
                                  err);
        d->changed = true;
    }
    return code;
}

static cw_code keep_line(struct cw_order_desk *d, const cw_line_waiting *l, cw_error *err)
{
    if (d->waiting_count == d->waiting_room) {
        size_t room = d->waiting_room ? 2 * d->waiting_room : 16;
        cw_line_waiting *more = realloc(d->waiting, room * sizeof *more);
        if (more == NULL)
            return cw_error_memory(err);
        d->waiting = more;
        d->waiting_room = room;
    }
    d->waiting[d->waiting_count++] = *l;
    return CW_OK;
}

static cw_code add_line(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err)
{
    const cw_orders_row *v = &row->is.orders;
    const cw_variety_state *variety = v->variety.null ? NULL : &in->codes.variety[v->variety.i];
    if (d->closed)
        cw_row_clash(in, row, AT(order), "is cancelled or shipped, no line can be added: %s", d->number);
    else if (variety && variety->retired)
        cw_row_wrong(in, row, AT(variety), "the variety is retired and is not sold: %s", variety->code);
    if (row->bad || (variety && !sell(in, row, v->variety.i, v->quantity.i)))
        return CW_OK;
    in->files[in->current].made++;
    cw_text *texts = in->behind ? cw_behind_texts(in->behind) : &d->line_texts;
    if (!in->api && !in->behind)
        cw_text_clear(texts);
    cw_line_waiting l = { .order = d->id,
                          .line = v->line.i,
                          .variety = variety ? variety->id : 0,
                          .quantity = v->quantity.i,
                          .price = v->unit_price.i,
                          .all_or_none = v->all_or_none.i,
                          .assortment = keep_text(texts, &v->assortment),
                          .consent = keep_text(texts, &v->consent),
                          .named = keep_text(texts, &v->named) };
    if (in->behind)
        return cw_behind_line(in->behind, &l, err);
    cw_code code = cw_text_check(texts, err);
    if (code != CW_OK)
        return code;
    return in->api ? keep_line(d, &l, err) : cw_line_write(in, d, &l, err);
}

static const char *text_of(const cw_given *v)
{
    return v->null ? "" : v->t;
}

/* The first column in which the row differs from the line as it was first asked, -1 if none does. */
static int differs(cw_intake *in, const cw_row *row, const cw_line_found *l)
{
    const cw_orders_row *v = &row->is.orders;
    const char *variety = v->variety.null ? "" : in->codes.variety[v->variety.i].code;
    if (strcmp(variety, l->variety) != 0)
        return AT(variety);
    if (strcmp(text_of(&v->assortment), l->assortment) != 0)
        return AT(assortment);
    if (v->quantity.i != l->quantity && v->quantity.i != l->first_asked)
        return AT(quantity);
    if (v->unit_price.i != l->price)
        return AT(unit_price);
    if (!v->consent.absent && strcmp(text_of(&v->consent), l->consent) != 0)
        return AT(consent);
    if (!v->named.absent && strcmp(text_of(&v->named), l->named) != 0)
        return AT(named);
    if (!v->all_or_none.absent && v->all_or_none.i != l->all_or_none)
        return AT(all_or_none);
    return -1;
}

static void line_words(const cw_line_found *l, char out[256])
{
    char price[24];
    cw_cents_format(l->price, price);
    snprintf(out, 256, "%lld of %.60s at %s, consent %s%s", (long long)l->quantity,
             l->variety[0] ? l->variety : l->assortment, price, l->consent,
             l->all_or_none ? ", all or none" : "");
}

/* The line as the file wants it; columns that it lacks stay. */
static void wanted(cw_intake *in, const cw_row *row, const cw_line_found *had, cw_line_found *want)
{
    const cw_orders_row *v = &row->is.orders;
    *want = *had;
    cw_copy(want->variety, sizeof want->variety, v->variety.null ? "" : in->codes.variety[v->variety.i].code);
    cw_copy(want->assortment, sizeof want->assortment, text_of(&v->assortment));
    want->quantity = v->quantity.i;
    want->price = v->unit_price.i;
    if (!v->consent.absent)
        cw_copy(want->consent, sizeof want->consent, v->consent.t);
    if (!v->consent.absent || !v->named.absent)
        cw_copy(want->named, sizeof want->named, text_of(&v->named));
    if (!v->all_or_none.absent)
        want->all_or_none = v->all_or_none.i;
}

static cw_code move_sold(cw_intake *in, cw_row *row, const cw_line_found *had, cw_error *err)
{
    const cw_orders_row *v = &row->is.orders;
    int64_t old = -1;
    cw_code code = cw_codes_variety(&in->codes, had->variety, strlen(had->variety), &old, err);
    if (code == CW_OK && old >= 0)
        move(&in->codes, old, -had->quantity);
    if (code == CW_OK && !v->variety.null && !sell(in, row, v->variety.i, v->quantity.i) && old >= 0)
        move(&in->codes, old, had->quantity);
    return code;
}

static cw_code change_line(cw_intake *in, struct cw_order_desk *d, cw_row *row, const cw_line_found *had,
                           int column, cw_error *err)
{
    cw_line_found want;
    char before[256], after[256];
    wanted(in, row, had, &want);
    bool other = strcmp(want.variety, had->variety) != 0 || strcmp(want.assortment, had->assortment) != 0;
    if (!in->options.changes)
        cw_row_clash(in, row, column, "line %lld of order %s is on record with another %s%s",
                     (long long)row->is.orders.line.i, d->number, row->kind->columns[column].name,
                     cw_order_advice(in));
    else if (d->closed)
        cw_row_clash(in, row, AT(order), "is cancelled or shipped and cannot be changed: %s", d->number);
    else if (had->promised > (other ? 0 : want.quantity))
        cw_row_clash(in, row, column,
                     "already promised: %lld, to line %lld of order %s; take that back first",
                     (long long)had->promised, (long long)row->is.orders.line.i, d->number);
    else if (had->instead > 0 && (strcmp(want.consent, had->consent) != 0 ||
                                  strcmp(want.named, had->named) != 0 || want.price > had->price))
        cw_row_clash(
            in, row, column,
            "promised of another variety, as it allowed: %lld, to line %lld of order %s; take that back "
            "first",
            (long long)had->instead, (long long)row->is.orders.line.i, d->number);
    else if (want.all_or_none && had->promised > 0 && had->promised < want.quantity)
        cw_row_clash(
            in, row, column,
            "promised in part: %lld, to line %lld of order %s, which would be all or nothing; take that "
            "back first",
            (long long)had->promised, (long long)row->is.orders.line.i, d->number);
    if (row->bad)
        return CW_OK;
    cw_code code = move_sold(in, row, had, err);
    if (code != CW_OK || row->bad)
        return code;
    if (other)
        code = cw_intake_line_unshare(in->db, had->id, err);
    if (code != CW_OK)
        return code;
    const int64_t *variety =
        row->is.orders.variety.null ? NULL : &in->codes.variety[row->is.orders.variety.i].id;
    cw_line_row now = { .variety = variety,
                        .assortment = want.assortment[0] ? want.assortment : NULL,
                        .quantity = want.quantity,
                        .price = want.price,
                        .consent = want.consent,
                        .named = want.named[0] ? want.named : NULL,
                        .all_or_none = want.all_or_none };
    code = cw_intake_line_change(in->db, had->id, &now, err);
    line_words(had, before);
    line_words(&want, after);
    if (code == CW_OK)
        code = cw_order_event_add(in->db,
                                  &(cw_order_event){ .order_id = d->id,
                                                     .line_id = had->id,
                                                     .at = in->who->now,
                                                     .actor = in->who->actor,
                                                     .kind = "changed",
                                                     .before = before,
                                                     .after = after,
                                                     .note = in->files[in->current].base },
                                  err);
    d->changed = true;
    in->files[in->current].changed++;
    return code;
}

/* What the buyer allowed at first says nothing once the office has put it right. */
static cw_code consent_as_first(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err)
{
    cw_orders_row *v = &row->is.orders;
    bool consent = v->consent.absent, named = v->named.absent;
    cw_code code = CW_OK;
    if (!consent)
        code = cw_order_was_first(in, d, v->line.i, AT(consent), &v->consent, &consent, err);
    if (code == CW_OK && !named)
        code = cw_order_was_first(in, d, v->line.i, AT(named), &v->named, &named, err);
    if (code == CW_OK && consent && named)
        v->consent.absent = v->named.absent = true;
    return code;
}

cw_code cw_line_take(cw_intake *in, struct cw_order_desk *d, cw_row *row, cw_error *err)
{
    cw_line_found had;
    bool found = false;
    cw_code code =
        d->is_new ? CW_OK : cw_intake_find_line(in->db, d->id, row->is.orders.line.i, &found, &had, err);
    if (code != CW_OK)
        return code;
    if (!found)
        return add_line(in, d, row, err);
    int column = differs(in, row, &had);
    if (column == AT(consent) || column == AT(named)) {
        code = consent_as_first(in, d, row, err);
        column = code == CW_OK ? differs(in, row, &had) : -1;
    }
    if (code != CW_OK)
        return code;
    if (column >= 0)
        return change_line(in, d, row, &had, column, err);
    in->files[in->current].unchanged++;
    return CW_OK;
}

static cw_code record_leave(cw_intake *in, const cw_variety_state *v, cw_error *err)
{
    char why[400];
    if (v->beyond == v->was_beyond)
        return CW_OK;
    if (v->released)
        snprintf(why, sizeof why, "%s", in->options.oversell);
    else
        snprintf(why, sizeof why, "taken before a release, from %s", in->files[in->current].base);
    return cw_intake_oversell_add(in->db, v->id, in->who->now, in->who->actor, v->beyond - v->was_beyond, why,
                                  err);
}

static cw_code write_sold(cw_intake *in, cw_variety_state *v, cw_error *err)
{
    if (v->sold == v->was_sold && v->beyond == v->was_beyond)
        return CW_OK;
    cw_code code =
        cw_intake_sold_by(in->db, v->id, v->stands, v->sold - v->was_sold, v->beyond - v->was_beyond, err);
    if (code == CW_OK)
        code = record_leave(in, v, err);
    if (code != CW_OK) {
        v->sold = v->was_sold;
        v->beyond = v->was_beyond;
        return code;
    }
    v->stands = true;
    v->was_sold = v->sold;
    v->was_beyond = v->beyond;
    return CW_OK;
}

/* Takes the next variety off the list of those that more or less is sold of; NULL when there is none. */
static cw_variety_state *next_moved(cw_codes *c)
{
    if (c->moved == 0)
        return NULL;
    cw_variety_state *v = &c->variety[c->moved - 1];
    c->moved = v->next;
    v->listed = false;
    return v;
}

cw_code cw_intake_sold(cw_intake *in, cw_error *err)
{
    cw_code code = CW_OK;
    cw_variety_state *v = NULL;
    while (code == CW_OK && (v = next_moved(&in->codes)) != NULL)
        code = write_sold(in, v, err);
    return code;
}

void cw_intake_unsold(cw_intake *in)
{
    cw_variety_state *v = NULL;
    while ((v = next_moved(&in->codes)) != NULL) {
        v->sold = v->was_sold;
        v->beyond = v->was_beyond;
    }
}
