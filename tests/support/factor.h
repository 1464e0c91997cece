/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_FACTOR_H
#define CW_TESTS_SUPPORT_FACTOR_H

/* What the telephone of somebody who has a second factor shows: read from the file, where the secret stands. */
#include "support/nursery.h"

#include "desk/people/factor.h"
#include "store/factor.h"
#include "store/people.h"

/* The code `steps` after the test's clock. */
static inline void test_factor_code(test_nursery *t, const char *name, int steps,
                                    char out[CW_TOTP_DIGITS + 1])
{
    cw_error err = CW_ERROR_NONE;
    cw_person_row person;
    cw_factor_row row;
    unsigned char secret[CW_TOTP_SECRET];
    bool found = false;
    cw_check_ok(cw_people_find(t->n->db, name, &found, &person, &err), &err);
    assert_true(found);
    cw_check_ok(cw_factor_row_find(t->n->db, person.id, &found, &row, &err), &err);
    assert_true(found);
    for (size_t i = 0; i < sizeof secret; i++) {
        char two[3] = { row.secret[2 * i], row.secret[2 * i + 1], '\0' };
        secret[i] = (unsigned char)strtoul(two, NULL, 16);
    }
    assert_true(cw_totp_at(secret, cw_totp_step(t->who.clock) + steps, out));
}

#endif
