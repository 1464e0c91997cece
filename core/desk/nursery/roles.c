/* SPDX-License-Identifier: MIT */
#include "desk/nursery/roles_inside.h"

#include "base/table.h"

#include "base/banned.h"

bool cw_of_office(const cw_asker *who)
{
    return who->role == CW_ROLE_OWNER || who->role == CW_ROLE_OFFICE;
}

static cw_code only(bool may, const char *whom, const char *what, cw_error *err)
{
    return may ? CW_OK : cw_error_set(err, CW_FORBIDDEN, "only %s may %s", whom, what);
}

cw_code cw_owner_only(const cw_asker *who, const char *what, cw_error *err)
{
    return only(who->role == CW_ROLE_OWNER, "the owner", what, err);
}

cw_code cw_office_only(const cw_asker *who, const char *what, cw_error *err)
{
    return only(cw_of_office(who), "the office or the owner", what, err);
}

cw_code cw_packers_only(const cw_asker *who, const char *what, cw_error *err)
{
    return only(cw_of_office(who) || who->role == CW_ROLE_PACKER, "packers, the office or the owner", what,
                err);
}

cw_code cw_people_only(const cw_asker *who, const char *what, cw_error *err)
{
    return only(who->role != CW_ROLE_SHOP && who->role != CW_ROLE_NONE, "people of the nursery", what, err);
}

/* Only the office needs to know who buys. A packer reads name and postcode on the slip and in the carrier's file, which are
 * made for that (desk/pack/paper, desk/pack/packing), and nowhere else. */
void cw_people_hide(const cw_asker *who, cw_table *t)
{
    static const char *const names[] = {
        "customer", "name2", "email", "phone", "street", "town", "postcode"
    };
    if (cw_of_office(who))
        return;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        int c = cw_table_column(t, names[i]);
        for (size_t r = 0; c >= 0 && r < cw_table_rows(t); r++)
            t->cells[r * t->width + (size_t)c].null = true;
    }
}
