/* SPDX-License-Identifier: MIT */
#include "desk/share/allotting_inside.h"

#include "base/limits.h"
#include "store/orders.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What each order was worth as asked, and what of it is left after this preview. Assortment lines are not shared here;
 * they count as asked. */
typedef struct worth {
    cw_cents asked, left;
} worth;

static worth *weigh(const cw_allotting *a)
{
    const cw_standing *s = a->standing;
    const cw_book *b = s->book;
    worth *w = calloc(b->orders + 1, sizeof *w);
    for (size_t i = 0; w && i < b->lines; i++) {
        cw_cents money = b->line[i].quantity * b->line[i].unit_price;
        w[b->line[i].order].asked += money;
        w[b->line[i].order].left += b->line[i].variety == CW_BOOK_NONE ? money : 0;
    }
    for (size_t i = 0; w && i < s->lines; i++)
        w[s->line[i].order].left +=
            (s->line[i].firm + cw_allotting_of(a, 0, i)->allocated) * b->line[s->line_in_book[i]].unit_price;
    return w;
}

static const cw_column allotting_below_minimum_columns[] = { { "order", CW_TEXT_T },
                                                             { "customer", CW_TEXT_T, .null = true },
                                                             { "asked", CW_MONEY_T },
                                                             { "left", CW_MONEY_T } };
const cw_shape cw_allotting_below_minimum_shape = CW_ROWS(allotting_below_minimum_columns);

cw_code cw_allotting_below_minimum(cw_nursery *n, const cw_allotting *a, cw_table *out, int64_t *count,
                                   cw_cents *minimum, cw_error *err)
{
    char customer[CW_MAX_NAME + 1];
    double money = 0;
    const cw_book *b = a->standing->book;
    *count = 0;
    if (out)
        cw_table_init(out, allotting_below_minimum_columns, CW_WIDTH(allotting_below_minimum_columns));
    cw_code code = cw_nursery_number(n, "order_minimum", &money, err);
    *minimum = (cw_cents)llround(money * 100);
    if (code != CW_OK || *minimum == 0)
        return code;
    worth *w = weigh(a);
    if (w == NULL)
        return cw_error_memory(err);
    for (size_t o = 0; o < b->orders && code == CW_OK; o++) {
        if (w[o].asked < *minimum || w[o].left >= *minimum)
            continue;
        ++*count;
        if (out == NULL)
            continue;
        code = cw_order_customer(n->db, b->order[o].id, customer, sizeof customer, err);
        cw_put_text(out, b->order[o].number);
        cw_put_text(out, customer);
        cw_put_money(out, w[o].asked);
        cw_put_money(out, w[o].left);
    }
    free(w);
    return code == CW_OK && out ? cw_table_check(out, err) : code;
}
