/* SPDX-License-Identifier: MIT */
#include "model/share_inside.h"

#include "base/text.h"
#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const char *const tier_names[] = { "wholesale", "retail", "other" };
_Static_assert(sizeof tier_names / sizeof tier_names[0] == CW_TIERS, "a name for each tier");

const char *cw_share_tier_name(cw_share_tier tier)
{
    return tier < CW_TIERS ? tier_names[tier] : "?";
}

/* "2 of the 5 asked can be given", with what is firm already. */
static size_t outcome_text(const cw_share_outcome *o, char *out, size_t size)
{
    int asked = o->need + o->firm;
    if (o->allocated == 0 && o->firm > 0)
        return cw_say(out, size, "The %d already promised of the %d asked stay; no more can be added now",
                      o->firm, asked);
    if (o->allocated == 0)
        return asked == 1 ? cw_say(out, size, "The one asked cannot be promised now")
                          : cw_say(out, size, "None of the %d asked can be promised now", asked);
    if (o->firm > 0)
        return cw_say(out, size, "%d can be added to the %d already promised, which makes %d of the %d asked",
                      o->allocated, o->firm, o->firm + o->allocated, asked);
    if (o->allocated == asked)
        return cw_say(out, size,
                      asked == 1 ? "The one asked can be promised" : "All %d asked can be promised", asked);
    return cw_say(out, size, "%d of the %d asked can be promised", o->allocated, asked);
}

static void queue_text(const cw_share_outcome *o, char *out, size_t size)
{
    if (o->supply == 0)
        cw_say(out, size, ": there is nothing left to share out at present.");
    else if (o->reason == CW_SHARE_RAN_OUT)
        cw_say(out, size, ": it is number %d of %d in the queue, and all %lld went to orders before it.",
               o->place, o->lines, (long long)o->supply);
    else
        cw_say(out, size, ": it is number %d of %d in the queue, and %d %s left when its turn came.",
               o->place, o->lines, o->part, o->part == 1 ? "was" : "were");
}

static void whole_text(const cw_share_outcome *o, const char *cause, char *out, size_t size)
{
    const char *name = cause ? cause : "another variety";
    if (o->reason == CW_SHARE_WHOLE_LATER)
        cw_say(out, size, ": it was all or nothing, and enough stayed over once the others had theirs.");
    else if (o->reason == CW_SHARE_NOT_COMPLETE)
        cw_say(out, size,
               ": the order is to leave complete or not at all, and there is not enough of %s for it.", name);
    else
        cw_say(out, size,
               ": the line is all or nothing, and only %d of the %d still wanted could have been given.",
               o->part, o->need);
}

const char *cw_share_say(const cw_share_outcome *o, const char *cause, char out[CW_SHARE_SENTENCE])
{
    if (o->reason == CW_SHARE_HELD) {
        cw_say(out, CW_SHARE_SENTENCE,
               o->firm == 0 ? "Nothing is asked on this line." : "All %d asked are promised already.",
               o->firm);
        return out;
    }
    if (o->reason == CW_SHARE_BARRED) {
        cw_say(out, CW_SHARE_SENTENCE,
               "Nothing is promised%s: nothing may be sent where the order goes, unless the owner "
               "overrules that.",
               o->firm > 0 ? " beyond what was" : "");
        return out;
    }
    size_t used = outcome_text(o, out, CW_SHARE_SENTENCE);
    char *rest = out + used;
    size_t room = CW_SHARE_SENTENCE - used;
    switch ((cw_share_reason)o->reason) {
    case CW_SHARE_LAST_OF_IT:
    case CW_SHARE_RAN_OUT:
        queue_text(o, rest, room);
        break;
    case CW_SHARE_EXACT:
    case CW_SHARE_ROUNDED_UP:
    case CW_SHARE_ROUNDED_DOWN:
    case CW_SHARE_LEVEL:
    case CW_SHARE_LEVEL_ONE_MORE:
    case CW_SHARE_OVER_LEVEL:
    case CW_SHARE_BY_RULE:
        if (o->rule < CW_SHARE_RULES && cw_share_method_of(o->rule)->say)
            cw_share_method_of(o->rule)->say(o, rest, room);
        else
            cw_say(rest, room, ".");
        break;
    case CW_SHARE_NOT_WHOLE:
    case CW_SHARE_NOT_COMPLETE:
    case CW_SHARE_WHOLE_LATER:
        whole_text(o, cause, rest, room);
        break;
    case CW_SHARE_HELD:
    case CW_SHARE_BARRED:
    case CW_SHARE_FULL:
    case CW_SHARE_REASONS:
        cw_say(rest, room, ".");
        break;
    }
    return out;
}

/* A firm line, ready to be put in order of harm. */
typedef struct firm_line {
    bool whole; /* breaking it breaks an all-or-none line or a complete order */
    uint8_t tier;
    cw_instant received_at;
    uint32_t order;
    int32_t number;
    size_t index;
} firm_line;

#define COMPARE(a, b) (((a) > (b)) - ((a) < (b)))

/* First hit first: ordinary before whole, later tier first, later received, later number. */
static int by_harm(const void *pa, const void *pb)
{
    const firm_line *a = pa, *b = pb;
    if (a->whole != b->whole)
        return COMPARE(a->whole, b->whole);
    if (a->tier != b->tier)
        return COMPARE(b->tier, a->tier);
    if (a->received_at != b->received_at)
        return COMPARE(b->received_at, a->received_at);
    if (a->order != b->order)
        return COMPARE(b->order, a->order);
    return COMPARE(b->number, a->number);
}

cw_code cw_share_hit(const cw_share_order *order, size_t orders, const cw_share_line *line, size_t lines,
                     int64_t over, int32_t *take, int64_t *found, cw_error *err)
{
    *found = 0;
    firm_line *f = malloc((lines + 1) * sizeof *f);
    if (!f)
        return cw_error_memory(err);
    for (size_t i = 0; i < lines; i++) {
        assert(line[i].order < orders);
        const cw_share_order *o = &order[line[i].order];
        f[i] = (firm_line){
            line[i].all_or_none || o->ship_complete, o->tier, o->received_at, line[i].order, line[i].line, i
        };
        take[i] = 0;
    }
    if (lines > 0)
        qsort(f, lines, sizeof *f, by_harm);
    (void)orders;
    for (size_t k = 0; k < lines && *found < over; k++) {
        const cw_share_line *l = &line[f[k].index];
        int64_t part = over - *found < l->firm && !l->all_or_none ? over - *found : l->firm;
        take[f[k].index] = (int32_t)part;
        *found += part;
    }
    free(f);
    return CW_OK;
}
