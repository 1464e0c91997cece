/* SPDX-License-Identifier: MIT */
/* What carriers give back: tracking numbers, by parcel or order. */
#include "desk/pack/returned_inside.h"

#include "base/text.h"
#include "store/audit.h"
#include "store/season.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static cw_code by_its_number(cw_nursery *n, const char *order, const char *parcel, int64_t *id, cw_error *err)
{
    char shown[80];
    cw_parcel_row p = { 0 };
    cw_error why = CW_ERROR_NONE;
    const char *digits = parcel[0] == 'P' || parcel[0] == 'p' ? parcel + 1 : parcel;
    cw_shown(parcel, strlen(parcel), shown);
    if (!cw_parse_int(digits, strlen(digits), 1, INT64_MAX / 2, id))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "parcel",
                           "is no parcel's number, as slips have it (P12): %s", shown);
    cw_code code = cw_waves_parcel(n->db, *id, &p, &why);
    if (code == CW_NOT_FOUND)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "parcel", "there is no parcel of this number: %s",
                           shown);
    if (code != CW_OK)
        return cw_error_set(err, code, "%s", why.text);
    if (order[0] && strcmp(order, p.order) != 0)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "parcel", "parcel %s is of order %s, not of %s", shown,
                           p.order, order);
    return CW_OK;
}

/* Of an order's parcels the one that the carrier can mean; 0: none, or several. */
static int64_t meant(const cw_brought_may *may, size_t count, size_t *closed)
{
    int64_t packed = 0, bare = 0;
    size_t bares = 0;
    *closed = 0;
    for (size_t i = 0; i < count; i++) {
        if (may[i].has)
            return may[i].parcel;
        if (strcmp(may[i].state, "packed") == 0) {
            packed = may[i].parcel;
            (*closed)++;
        } else if (strcmp(may[i].state, "shipped") == 0 && !may[i].numbered) {
            bare = may[i].parcel;
            bares++;
        }
    }
    if (*closed == 1)
        return packed;
    if (*closed == 0 && bares == 1)
        return bare;
    *closed += *closed == 0 ? bares : 0;
    return 0;
}

cw_code cw_returned_parcel(cw_nursery *n, const char *order, const char *parcel, const char *number,
                           int64_t *id, cw_error *err)
{
    cw_brought_may may[CW_BROUGHT_MAY];
    char shown[80];
    size_t count = 0, several = 0;
    bool known = false;
    if (parcel[0])
        return by_its_number(n, order, parcel, id, err);
    if (order[0] == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, 0, "order", "is needed, unless the parcel is named");
    cw_shown(order, strlen(order), shown);
    cw_code code = cw_brought_parcels_of(n->db, order, number, may, &count, &known, err);
    if (code != CW_OK)
        return code;
    if (!known)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "order", "there is no order of this number: %s",
                           shown);
    *id = meant(may, count, &several);
    if (*id == 0 && several > 1)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "order",
                           "order %s has %zu parcels that this may be: name the parcel", shown, several);
    /* One that has left under another number is looked at below, so that both numbers are told. */
    if (*id == 0 && count == 1)
        *id = may[0].parcel;
    return *id ? CW_OK
               : cw_error_at(err, CW_CONFLICT, NULL, 0, "order",
                             "no parcel of order %s is closed, so none can have left", shown);
}

/* Blanks and capitals make no other number. */
static bool same_number(const char *a, const char *b)
{
    for (;;) {
        a += strspn(a, " ");
        b += strspn(b, " ");
        if (toupper((unsigned char)*a) != toupper((unsigned char)*b))
            return false;
        if (*a == '\0')
            return true;
        a++;
        b++;
    }
}

static bool holds_number(const char *const *list, size_t count, const char *number)
{
    for (size_t i = 0; i < count; i++)
        if (same_number(list[i], number))
            return true;
    return false;
}

/* "T-2, T-3" of all but the first. */
static void join(const char *const *list, size_t count, char out[CW_PACKING_MAX_MORE + 1])
{
    size_t n = 0;
    out[0] = '\0';
    for (size_t i = 1; i < count && n < CW_PACKING_MAX_MORE; i++)
        n += (size_t)snprintf(out + n, CW_PACKING_MAX_MORE + 1 - n, "%s%s", i > 1 ? ", " : "", list[i]);
}

static cw_code put_down(cw_nursery *n, int64_t parcel, const cw_sent_row *was, bool sent,
                        const cw_returned *r, cw_error *err)
{
    cw_sent_row is = { .order = "" };
    cw_brought_parcel row = { .parcel = parcel, .sent = sent, .on = CW_NO_DAY };
    int64_t brought = 0;
    cw_code code = cw_waves_sent(n->db, parcel, &is, err);
    if (code == CW_OK)
        code = r->brought(r->context, &brought, err);
    if (code != CW_OK)
        return code;
    if (!sent) {
        cw_copy(row.carrier, sizeof row.carrier, was->carrier);
        cw_copy(row.tracking, sizeof row.tracking, was->tracking);
        cw_copy(row.more, sizeof row.more, was->more);
        row.on = was->on;
    }
    const cw_packing_sent as = {
        .carrier = is.carrier, .tracking = is.tracking, .on = is.on, .more = is.more
    };
    cw_packing_say_sent(&as, row.said);
    return cw_brought_add_parcel(n->db, brought, &row, err);
}

static cw_code send(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_returned *r, cw_error *err)
{
    char more[CW_PACKING_MAX_MORE + 1];
    int64_t rest = 0;
    join(r->number, r->count, more);
    const cw_packing_sent sent = { .carrier = r->carrier,
                                   .tracking = r->number[0],
                                   .on = r->on == CW_NO_DAY ? who->today : r->on,
                                   .more = more };
    cw_code code = cw_packing_ship_inside(n, who, parcel, &sent, &rest, err);
    return code == CW_OK ? put_down(n, parcel, NULL, true, r, err) : code;
}

/* A parcel that has left: numbers on record, and those of the file that are not. */
typedef struct merged {
    const char *number[2 * (CW_PACKING_MAX_FURTHER + 1)];
    size_t count, before;
    /* the file has a number that is not on record; the record has one that the file has not */
    bool fresh, other;
} merged;

static void merge(const cw_sent_row *was, const cw_box_numbers *more, const cw_returned *r, merged *m)
{
    *m = (merged){ .count = 0 };
    if (was->tracking[0])
        m->number[m->count++] = was->tracking;
    for (size_t i = 0; i < more->count; i++)
        m->number[m->count++] = more->at[i];
    m->before = m->count;
    for (size_t i = 0; i < m->before; i++)
        m->other = m->other || !holds_number(r->number, r->count, m->number[i]);
    for (size_t i = 0; i < r->count; i++)
        if (!holds_number(m->number, m->before, r->number[i])) {
            m->number[m->count++] = r->number[i];
            m->fresh = true;
        }
}

static cw_code add_numbers(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_sent_row *was,
                           const merged *m, const cw_returned *r, cw_error *err)
{
    char more[CW_PACKING_MAX_MORE + 1], why[CW_MAX_NOTE + 1];
    join(m->number, m->count, more);
    snprintf(why, sizeof why, "the carrier's file %.200s", r->file);
    const cw_packing_sent now = { .carrier = was->carrier[0] ? NULL : r->carrier,
                                  .tracking = m->number[0],
                                  .on = CW_NO_DAY,
                                  .more = more[0] ? more : NULL };
    cw_code code = cw_packing_correct_inside(n, who, parcel, &now, why, err);
    return code == CW_OK ? put_down(n, parcel, was, false, r, err) : code;
}

cw_code cw_returned_take(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_returned *r,
                         cw_returned_fate *fate, cw_error *err)
{
    cw_parcel_row p = { 0 };
    cw_sent_row was = { .order = "" };
    cw_box_numbers more;
    merged m;
    *fate = CW_RETURNED_KNOWN;
    cw_code code = cw_waves_parcel(n->db, parcel, &p, err);
    if (code != CW_OK)
        return code;
    if (strcmp(p.state, "shipped") != 0) {
        *fate = CW_RETURNED_SENT;
        return send(n, who, parcel, r, err);
    }
    code = cw_waves_sent(n->db, parcel, &was, err);
    const cw_packing_sent old = {
        .carrier = was.carrier, .tracking = was.tracking, .on = was.on, .more = was.more
    };
    if (code == CW_OK)
        code = cw_packing_numbers(&old, &more, err);
    if (code != CW_OK)
        return code;
    merge(&was, &more, r, &m);
    if (!m.fresh)
        return CW_OK;
    if (m.other && m.count > (size_t)was.boxes)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "tracking",
                           "the parcel of order %s left under %s, and the file says %s: look which is right",
                           p.order, m.number[0], m.number[m.before]);
    *fate = CW_RETURNED_NUMBERED;
    return add_numbers(n, who, parcel, &was, &m, r, err);
}

/* It had left before the file came: its numbers as they were. */
static cw_code numbers_off(cw_nursery *n, const cw_asker *who, const cw_brought_parcel *p,
                           const cw_parcel_row *row, const char *why, cw_error *err)
{
    char subject[40], is[CW_SENT_WORDS], was[CW_SENT_WORDS];
    cw_sent_row now = { .order = "" };
    const cw_packing_sent old = {
        .carrier = p->carrier, .tracking = p->tracking, .on = p->on, .more = p->more
    };
    cw_code code = cw_waves_sent(n->db, p->parcel, &now, err);
    const cw_packing_sent before = { .carrier = now.carrier, .tracking = now.tracking, .on = now.on };
    if (code == CW_OK)
        code = cw_waves_boxes_unsent(n->db, p->parcel, err);
    if (code == CW_OK)
        code = cw_packing_write_sent(n, p->parcel, &old, false, err);
    snprintf(subject, sizeof subject, "parcel %lld", (long long)p->parcel);
    if (code == CW_OK)
        code = cw_waves_event(n->db, row->order_id, who->now, who->actor, "parcel put right",
                              cw_packing_say_sent(&old, was), why, err);
    return code == CW_OK
               ? cw_audit_add(n->db, who->now, who->actor, "parcel put right", subject,
                              cw_packing_record_sent(&before, is), cw_packing_record_sent(&old, was), err)
               : code;
}

/* What lay in one box has it from the same file. */
static cw_code box_numbers_off(cw_nursery *n, const cw_asker *who, const cw_brought_parcel *p,
                               const char *why, cw_error *err)
{
    int64_t ids[CW_SLOT_PARCELS];
    size_t count = 0;
    cw_parcel_row row = { 0 };
    cw_brought_parcel of = *p;
    cw_code code = cw_packing_in_slot(n, p->parcel, ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        of.parcel = ids[i];
        code = cw_waves_parcel(n->db, ids[i], &row, err);
        if (code == CW_OK)
            code = numbers_off(n, who, &of, &row, why, err);
    }
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_returned_undo(cw_nursery *n, const cw_asker *who, const cw_brought_parcel *p, const char *why,
                         cw_error *err)
{
    cw_parcel_row row = { 0 };
    cw_sent_row is = { .order = "" };
    char now[CW_SENT_WORDS];
    cw_code code = cw_waves_parcel(n->db, p->parcel, &row, err);
    if (code == CW_OK)
        code = cw_waves_sent(n->db, p->parcel, &is, err);
    if (code != CW_OK)
        return code;
    const cw_packing_sent as = {
        .carrier = is.carrier, .tracking = is.tracking, .on = is.on, .more = is.more
    };
    if (strcmp(row.state, "shipped") != 0 || strcmp(cw_packing_say_sent(&as, now), p->said) != 0)
        return cw_error_set(
            err, CW_CONFLICT,
            "the parcel of order %s was put right since the file came: put it right by itself", row.order);
    return p->sent ? cw_packing_unship_inside(n, who, p->parcel, why, err)
                   : box_numbers_off(n, who, p, why, err);
}
