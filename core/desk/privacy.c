/* SPDX-License-Identifier: MIT */
#include "desk/nursery_inside.h"

#include "base/banned.h"

/* Who buys is the office's business. Who packs reads the name and the postcode on the slip and the carrier's file, which are
 * made for that (desk/paper, desk/packing), and nowhere else. */
void cw_people_hide(const cw_asker *who, cw_table *t)
{
    static const char *const names[] = { "customer", "email", "postcode" };
    if (who->role == CW_ROLE_OWNER || who->role == CW_ROLE_OFFICE)
        return;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        int c = cw_table_column(t, names[i]);
        for (size_t r = 0; c >= 0 && r < cw_table_rows(t); r++)
            t->cells[r * t->width + (size_t)c].null = true;
    }
}
