/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_ROLES_INSIDE_H
#define CW_DESK_ROLES_INSIDE_H

#include "desk/nursery/nursery.h"

/* Who may do what? The one place where a desk function asks. `what` ends the sentence "only the owner may ...": a verb and
 * what it is done to. CW_OK, or CW_FORBIDDEN with that sentence. Routes have roles of their own (the tables in server/routes);
 * these hold for the command line, for programs and for routes alike. */
cw_code cw_owner_only(const cw_asker *who, const char *what, cw_error *err) CW_MUST_CHECK;
cw_code cw_office_only(const cw_asker *who, const char *what, cw_error *err) CW_MUST_CHECK; /* or the owner */
/* Or office, owner. */
cw_code cw_packers_only(const cw_asker *who, const char *what, cw_error *err) CW_MUST_CHECK;
cw_code cw_people_only(const cw_asker *who, const char *what, cw_error *err) CW_MUST_CHECK; /* no program */

bool cw_of_office(const cw_asker *who); /* the owner is, too */

/* Empties the columns that tell who buys, and where they live, unless the asker is of the office. */
void cw_people_hide(const cw_asker *who, cw_table *t);

#endif
