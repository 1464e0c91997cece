/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_HTTP_OFFERED_H
#define CW_TESTS_HTTP_OFFERED_H

/* A nursery, not yet served, that offers so many of its two varieties BALL and STAR; nobody has its file open. */
#include "serving.h"

#include "desk/intake/intake.h"
#include "desk/offer/offering.h"

static inline void serving_make_offered(serving *s, int64_t ball, int64_t star)
{
    static const char csv[] = "code,name,price\nBALL,Small Ball,5.00\nSTAR,White Star,6.00\n";
    const cw_offering_item items[] = { { "BALL", ball }, { "STAR", star } };
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    cw_intake_file file = { .name = "varieties.csv", .bytes = csv, .length = sizeof csv - 1 };
    cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY
    };
    serving_make(s, false);
    cw_check_ok(cw_intake_load(s->t.n, &s->t.who, &file, 1, &(cw_intake_options){ 0 }, &t, &errors, &err),
                &err);
    cw_table_free(&t);
    cw_check_ok(cw_offering_release(s->t.n, &s->t.who, &ask, items, 2, "test", &t, &err), &err);
    cw_table_free(&t);
    cw_nursery_close(s->t.n);
    s->t.n = NULL;
}

#endif
