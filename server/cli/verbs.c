/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/banned.h"

/* The families of verbs, in the order of help: F(x) is the table at the end of cli/x.c. */
#define FAMILIES                                                                                             \
    F(new), F(season), F(next), F(load), F(order), F(allocate), F(substitute), F(serve), F(project),         \
        F(offer), F(dividing), F(keep), F(schedule), F(notices), F(post), F(claims), F(trace), F(names),     \
        F(pick), F(hindsight), F(letter), F(export), F(backup), F(check), F(forget), F(user), F(key)

#define F(name) cw_verbs_##name[]
extern const cw_verb FAMILIES;
#undef F

#define F(name) cw_verbs_##name
static const cw_verb *const families[] = { FAMILIES };
#undef F

const cw_verb *cw_verb_at(size_t place)
{
    for (size_t f = 0; f < sizeof families / sizeof families[0]; f++)
        for (const cw_verb *v = families[f]; v->name; v++)
            if (place-- == 0)
                return v;
    return NULL;
}
