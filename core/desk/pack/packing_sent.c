/* SPDX-License-Identifier: MIT */
/* How a parcel left, and corrections afterwards: number, carrier, day, or that it has not left. */
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "desk/nursery/based_inside.h"
#include "desk/nursery/roles_inside.h"
#include "desk/pack/packing_inside.h"
#include "desk/pick/picking_inside.h"
#include "store/audit.h"
#include "store/season.h"

#include "base/banned.h"

typedef long long ll;

const char *cw_packing_say_sent(const cw_packing_sent *sent, char out[CW_SENT_WORDS])
{
    char day[11];
    bool carrier = sent->carrier && sent->carrier[0], tracking = sent->tracking && sent->tracking[0],
         more = sent->more && sent->more[0];
    cw_day_format(sent->on, day);
    snprintf(out, CW_SENT_WORDS, "%s%s%.100s%s%.100s%s%.300s", day, carrier ? ", " : "",
             carrier ? sent->carrier : "", tracking ? ", " : "", tracking ? sent->tracking : "",
             more ? ", " : "", more ? sent->more : "");
    return out;
}

const char *cw_packing_record_sent(const cw_packing_sent *sent, char out[CW_SENT_WORDS])
{
    cw_packing_sent bare = *sent;
    bool numbered = sent->tracking && sent->tracking[0];
    bare.tracking = numbered ? "numbered" : NULL;
    bare.more = NULL;
    return cw_packing_say_sent(&bare, out);
}

static cw_code twice(const cw_packing_sent *sent, const cw_box_numbers *all, cw_error *err)
{
    char shown[80];
    for (size_t i = 0; i < all->count; i++) {
        bool again = strcmp(all->at[i], sent->tracking) == 0;
        for (size_t k = 0; k < i; k++)
            again = again || strcmp(all->at[i], all->at[k]) == 0;
        if (again)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "more_tracking", "number %s is said of two boxes",
                               cw_shown(all->at[i], strlen(all->at[i]), shown));
    }
    return CW_OK;
}

cw_code cw_packing_numbers(const cw_packing_sent *sent, cw_box_numbers *out, cw_error *err)
{
    char *rest = NULL, shown[80];
    out->count = 0;
    cw_copy(out->text, sizeof out->text, sent->more ? sent->more : "");
    for (char *at = strtok_r(out->text, ",", &rest); at; at = strtok_r(NULL, ",", &rest)) {
        at += strspn(at, " ");
        for (size_t end = strlen(at); end > 0 && at[end - 1] == ' '; at[--end] = '\0')
            ;
        if (at[0] == '\0')
            continue;
        if (out->count == CW_PACKING_MAX_FURTHER || strlen(at) > CW_MAX_NAME)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "more_tracking",
                               "holds at most %d numbers of at most %d bytes: %s", CW_PACKING_MAX_FURTHER,
                               CW_MAX_NAME, cw_shown(at, strlen(at), shown));
        out->at[out->count++] = at;
    }
    if (out->count && (sent->tracking == NULL || sent->tracking[0] == '\0'))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "tracking",
                           "the first box needs a number when the others have one");
    return out->count ? twice(sent, out, err) : CW_OK;
}

cw_code cw_packing_write_sent(cw_nursery *n, int64_t parcel, const cw_packing_sent *sent, bool all,
                              cw_error *err)
{
    cw_box_numbers more;
    cw_code code = cw_packing_numbers(sent, &more, err);
    if (code == CW_OK)
        code =
            cw_waves_ship(n->db, parcel, sent->on, sent->carrier && sent->carrier[0] ? sent->carrier : NULL,
                          sent->tracking && sent->tracking[0] ? sent->tracking : NULL, err);
    if (code == CW_OK && all)
        code = cw_waves_boxes_off(n->db, parcel, (int64_t)more.count + 1, err);
    for (size_t i = 0; i < more.count && code == CW_OK; i++)
        code = cw_waves_box_sent(n->db, parcel, (int64_t)i + 2, more.at[i], err);
    return code;
}

cw_code cw_packing_day_right(const cw_asker *who, cw_day on, cw_error *err)
{
    char day[11];
    if (on == CW_NO_DAY || on <= who->today)
        return CW_OK;
    cw_day_format(on, day);
    return cw_error_at(err, CW_REFUSED, NULL, 0, "shipped_on", "must not lie in the future: %s", day);
}

static cw_code one_free(cw_nursery *n, int64_t order, const char *number, cw_error *err)
{
    cw_sent_row other = { .order = "" };
    char day[11], shown[80];
    bool found = false;
    cw_code code = cw_waves_sent_under(n->db, number, order, &found, &other, err);
    if (code != CW_OK || !found)
        return code;
    cw_day_format(other.on, day);
    return cw_error_at(
        err, CW_CONFLICT, NULL, 0, "tracking",
        "number %s stands on the parcel of order %s already, which left on %s: look which is right, or "
        "say that both went under it",
        cw_shown(number, strlen(number), shown), other.order, day);
}

static bool stands(const cw_box_numbers *all, const char *first, const char *number)
{
    bool is = first && strcmp(first, number) == 0;
    for (size_t i = 0; i < all->count; i++)
        is = is || strcmp(all->at[i], number) == 0;
    return is;
}

cw_code cw_packing_number_free(cw_nursery *n, int64_t order, const cw_packing_sent *sent,
                               const cw_packing_sent *was, cw_error *err)
{
    cw_box_numbers more, before = { .count = 0 };
    if (sent->shared || sent->tracking == NULL || sent->tracking[0] == '\0')
        return CW_OK;
    cw_code code = cw_packing_numbers(sent, &more, err);
    if (code == CW_OK && was)
        code = cw_packing_numbers(was, &before, err);
    if (code == CW_OK && !stands(&before, was ? was->tracking : NULL, sent->tracking))
        code = one_free(n, order, sent->tracking, err);
    for (size_t i = 0; i < more.count && code == CW_OK; i++)
        if (!stands(&before, was ? was->tracking : NULL, more.at[i]))
            code = one_free(n, order, more.at[i], err);
    return code;
}

/* The parcel as it left; CW_CONFLICT if it has not. */
static cw_code left(cw_nursery *n, int64_t parcel, cw_parcel_row *p, cw_sent_row *was, cw_error *err)
{
    cw_code code = cw_waves_parcel(n->db, parcel, p, err);
    if (code == CW_OK && strcmp(p->state, "shipped") != 0)
        return cw_error_set(err, CW_CONFLICT, "parcel %lld of order %s has not left", (ll)parcel, p->order);
    return code == CW_OK ? cw_waves_sent(n->db, parcel, was, err) : code;
}

/* The reason and the numbers stand with the order, where they can be removed; the audit cannot be changed. `now` is NULL where the
 * parcel is packed again. */
static cw_code record(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_parcel_row *p,
                      const cw_packing_sent *old, const cw_packing_sent *now, const char *why, cw_error *err)
{
    const char *action = now ? "parcel put right" : "parcel not left";
    char subject[40], before[CW_SENT_WORDS], after[CW_SENT_WORDS] = "packed", change[2 * CW_SENT_WORDS + 8];
    if (now)
        cw_packing_say_sent(now, after);
    snprintf(subject, sizeof subject, "parcel %lld", (ll)parcel);
    snprintf(change, sizeof change, "%s (was %s)", after, cw_packing_say_sent(old, before));
    cw_code code = cw_waves_event(n->db, p->order_id, who->now, who->actor, action, change, why, err);
    if (now)
        cw_packing_record_sent(now, after);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, action, subject, cw_packing_record_sent(old, before),
                            after, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code sent_still(const cw_asker *who, const cw_sent_row *was, cw_error *err)
{
    char on[11];
    cw_day_format(was->on, on);
    cw_based_text(who, "carrier", was->carrier);
    cw_based_text(who, "tracking", was->tracking);
    cw_based_text(who, "more_tracking", was->more);
    cw_based_text(who, "shipped_on", on);
    return cw_based_hold(who, "how the parcel left", err);
}

static cw_code correct_one(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_sent *sent,
                           const char *why, cw_error *err)
{
    cw_parcel_row p = { 0 };
    cw_sent_row was = { .order = "" };
    char before[CW_SENT_WORDS];
    cw_code code = left(n, parcel, &p, &was, err);
    cw_packing_sent old = { .carrier = was.carrier,
                            .tracking = was.tracking,
                            .on = was.on,
                            .more = was.more },
                    now = old;
    if (code != CW_OK)
        return code;
    now.shared = sent->shared;
    now.carrier = sent->carrier ? sent->carrier : now.carrier;
    now.tracking = sent->tracking ? sent->tracking : now.tracking;
    now.on = sent->on != CW_NO_DAY ? sent->on : now.on;
    now.more = sent->more ? sent->more : now.more;
    code = sent_still(who, &was, err);
    if (code != CW_OK)
        return code;
    cw_packing_sent written = now;
    written.more = sent->more; /* not said: each box keeps its own */
    if (strcmp(now.carrier, old.carrier) == 0 && strcmp(now.tracking, old.tracking) == 0 &&
        strcmp(now.more, old.more) == 0 && now.on == old.on)
        return cw_error_set(err, CW_REFUSED, "nothing is changed: the parcel of order %s left so: %s",
                            p.order, cw_packing_say_sent(&old, before));
    code = cw_packing_number_free(n, p.order_id, &now, &old, err);
    if (code == CW_OK)
        code = cw_packing_write_sent(n, parcel, &written, sent->more != NULL, err);
    return code == CW_OK ? record(n, who, parcel, &p, &old, &now, why, err) : code;
}

static cw_code unship_one(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why, cw_error *err)
{
    cw_parcel_row p = { 0 };
    cw_sent_row was = { .order = "" };
    cw_code code = left(n, parcel, &p, &was, err);
    if (code == CW_OK && was.claims > 0)
        return cw_error_set(err, CW_CONFLICT,
                            "the buyer of order %s has claimed on what arrived, so the parcel has left",
                            p.order);
    if (code == CW_OK)
        code = sent_still(who, &was, err);
    if (code == CW_OK)
        code = cw_waves_unship(n->db, parcel, p.order_id, err);
    if (code != CW_OK)
        return code;
    cw_packing_sent old = {
        .carrier = was.carrier, .tracking = was.tracking, .on = was.on, .more = was.more
    };
    return record(n, who, parcel, &p, &old, NULL, why, err);
}

/* The whole box. */
cw_code cw_packing_correct_inside(cw_nursery *n, const cw_asker *who, int64_t parcel,
                                  const cw_packing_sent *sent, const char *why, cw_error *err)
{
    int64_t ids[CW_SLOT_PARCELS];
    size_t count = 0;
    cw_packing_sent as = *sent;
    cw_code code = cw_packing_in_slot(n, parcel, ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        code = correct_one(n, who, ids[i], &as, why, err);
        as.shared = true; /* the others in the box have the number from the first */
    }
    return code;
}

cw_code cw_packing_unship_inside(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why,
                                 cw_error *err)
{
    int64_t ids[CW_SLOT_PARCELS];
    size_t count = 0;
    cw_code code = cw_packing_in_slot(n, parcel, ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = unship_one(n, who, ids[i], why, err);
    return code;
}

static cw_code why_given(const char *why, cw_error *err)
{
    return why && why[0] ? CW_OK : cw_error_at(err, CW_REFUSED, NULL, 0, "why", "say why it is put right");
}

cw_code cw_packing_correct(cw_nursery *n, const cw_asker *who, int64_t parcel, const cw_packing_sent *sent,
                           const char *why, cw_error *err)
{
    cw_code code = cw_office_only(who, "put right how a parcel left", err);
    if (code == CW_OK)
        code = why_given(why, err);
    if (code == CW_OK)
        code = cw_packing_day_right(who, sent->on, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, cw_packing_correct_inside(n, who, parcel, sent, why, err), err)
                         : code;
}

cw_code cw_packing_unship(cw_nursery *n, const cw_asker *who, int64_t parcel, const char *why, cw_error *err)
{
    cw_code code = cw_office_only(who, "say that a parcel has not left", err);
    if (code == CW_OK)
        code = why_given(why, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    return code == CW_OK ? cw_work_end(n, cw_packing_unship_inside(n, who, parcel, why, err), err) : code;
}
