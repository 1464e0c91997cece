/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_DEMO_H
#define CW_TESTS_SUPPORT_DEMO_H

/* The demo season in a nursery file of its own, as of 20 February 2032. */
#include "desk/intake/intake.h"
#include "support/nursery.h"

static inline void test_load(test_nursery *t, const char *const *names, size_t count, const char *folder)
{
    cw_error err = CW_ERROR_NONE;
    cw_intake_file files[20] = { 0 };
    char paths[20][512];
    cw_intake_options options = { 0 };
    cw_table answer = { 0 };
    cw_error_list errors = { NULL, 0, 0 };
    for (size_t i = 0; i < count; i++) {
        snprintf(paths[i], sizeof paths[i], "%s/%s.csv", folder, names[i]);
        files[i].path = paths[i];
    }
    cw_check_ok(cw_intake_load(t->n, &t->who, files, count, &options, &answer, &errors, &err), &err);
    cw_error_list_free(&errors);
    cw_table_free(&answer);
}

static inline void test_demo_make(test_nursery *t)
{
    static const char *const names[] = { "varieties",     "history",   "past_checks", "places",
                                         "lots",          "divisions", "checks",      "counts",
                                         "weighings",     "air",       "zones",       "destinations",
                                         "zone_ranges",   "orders",    "plantings",   "field_rounds",
                                         "past_plantings" };
    test_nursery_make(t);
    t->who.today = cw_day_from_ymd(2032, 2, 20);
    t->who.now = t->who.today * CW_DAY_MS + 43200000;
    test_load(t, names, sizeof names / sizeof names[0], CW_SOURCE_DIR "/scripts/demo-season");
}

#endif
