/* SPDX-License-Identifier: MIT */
#include "desk/ship/shipping_one_inside.h"

#include "desk/ship/shipping_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static size_t index_of(const cw_shipping_plan *p, int64_t order_id)
{
    size_t i = 0;
    while (i < p->book.orders && p->book.order[i].id != order_id)
        i++;
    return i;
}

/* Its week stands: what does it break? */
static cw_code say_breaks(const cw_shipping_plan *p, size_t i, cw_text *says, cw_error *err)
{
    cw_schedule_break breaks[CW_SCHEDULE_RULES];
    char name[9];
    const cw_ship_order *o = &p->book.order[i];
    cw_week *week = calloc(p->book.orders + 1, sizeof *week);
    if (week == NULL)
        return cw_error_memory(err);
    for (size_t k = 0; k < p->book.orders; k++)
        week[k] = p->book.order[k].week;
    size_t count = cw_schedule_check_move(&p->schedule, week, i, o->week, breaks);
    cw_week_format(o->week, name);
    for (size_t k = 0; k < count; k++)
        if (breaks[k].rule < CW_RULE_CAPACITY) { /* zone, wish, holds */
            cw_text_add(says, says->length ? "\n" : "");
            cw_text_addf(says, "It stays in week %s, as it is %s: %s", name,
                         o->shipped   ? "gone"
                         : o->in_wave ? "in a wave"
                                      : "pinned there",
                         breaks[k].sentence);
        }
    free(week);
    return CW_OK;
}

static cw_code set_week(cw_nursery *n, const cw_asker *who, const cw_shipping_plan *p, size_t i,
                        cw_text *says, cw_error *err)
{
    const cw_ship_order *o = &p->book.order[i];
    char before[9] = "", after[9] = "", sentence[CW_SCHEDULE_SENTENCE];
    cw_week_format(o->week, before);
    if (p->ship[i].week)
        cw_week_format(p->ship[i].week, after);
    cw_schedule_say(&p->schedule, i, &p->ship[i], sentence);
    cw_text_add(says, says->length ? "\n" : "");
    cw_text_addf(says, "It was to leave in week %s. %s", before, sentence);
    cw_code code = cw_ship_set_week(n->db, o->id, p->ship[i].week, (int)p->ship[i].why, false, err);
    return code == CW_OK ? cw_ship_event(n->db, o->id, who->now, who->actor, before, after, NULL, err) : code;
}

cw_code cw_shipping_again(cw_nursery *n, const cw_asker *who, int64_t order_id, cw_text *says, cw_error *err)
{
    cw_shipping_plan p;
    cw_code code = cw_shipping_plan_make(n, who, &p, err);
    size_t i = code == CW_OK ? index_of(&p, order_id) : 0;
    if (code == CW_OK && i < p.book.orders && p.book.order[i].week != 0) {
        if (p.order[i].fix != CW_SCHEDULE_FREE)
            code = say_breaks(&p, i, says, err);
        else if (p.ship[i].week != p.book.order[i].week)
            code = set_week(n, who, &p, i, says, err);
    }
    cw_shipping_plan_free(&p);
    return code == CW_OK ? cw_text_check(says, err) : code;
}
